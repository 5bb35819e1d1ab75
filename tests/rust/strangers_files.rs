//! Files as other people have them, all invented: what stands around the samples, how a clock is written, and in whose
//! words.

pub(crate) const TIME_S: [f64; 6] = [0.0, 0.5, 1.0, 1.5, 2.0, 2.5];
pub(crate) const WATER_G: [f64; 6] = [0.0, 0.4, 2.4, 5.1, 7.9, 10.6];
pub(crate) const CUP_G: [f64; 6] = [0.0, 0.0, 0.0, 0.3, 1.2, 2.4];

/// A file and what it holds: whether the cup was weighed, and a part of a note that must be there (or none).
pub(crate) struct Foreign {
    pub(crate) name: &'static str,
    pub(crate) bytes: Vec<u8>,
    pub(crate) cup: bool,
    pub(crate) note: &'static str,
}

fn of(name: &'static str, note: &'static str, text: impl Into<String>) -> Foreign {
    let text: String = text.into();
    Foreign { name, bytes: text.into_bytes(), cup: false, note }
}

pub(crate) fn both(name: &'static str, note: &'static str, text: impl Into<String>) -> Foreign {
    Foreign { cup: true, ..of(name, note, text) }
}

/// The six samples: a line each from the number of the sample, its time, water and cup.
pub(crate) fn lines(line: impl Fn(usize, f64, f64, f64) -> String) -> String {
    (0..6).map(|i| line(i, TIME_S[i], WATER_G[i], CUP_G[i]) + "\n").collect()
}

pub(crate) fn plain(separator: &str) -> String {
    lines(|_, t, w, c| format!("{t:.1}{separator}{w:.1}{separator}{c:.1}"))
}

/// A file with a header in one language: names of time, water and cup, units in brackets.
fn language(name: &'static str, time: &str, water: &str, cup: &str) -> Foreign {
    both(name, "", format!("{time} (s),{water} (g),{cup} (g)\n{}", plain(",")))
}

fn clock(name: &'static str, form: impl Fn(usize, f64) -> String) -> Foreign {
    of(name, "", format!("time,weight (g)\n{}", lines(|i, t, w, _| format!("{},{w:.1}", form(i, t)))))
}

fn around() -> Vec<Foreign> {
    let data = plain(",");
    let semicolons = plain(";").replace('.', ",");
    let tail = "\nTotal,10.6,2.4\n";
    vec![
        both(
            "lines above the header",
            "1",
            format!("Lantern Yard log book\nkettle,Broadlip\n\ntime_s,water_g,cup_g\n{data}"),
        ),
        both(
            "nine lines above",
            "",
            format!("{}time_s,water_g,cup_g\n{data}", "Export of the Lantern Yard\n".repeat(9)),
        ),
        both("a total at the end", "Total", format!("time_s,water_g,cup_g\n{data}{tail}")),
        both(
            "a total without a stamp",
            "Total",
            format!("time_s,water_g,cup_g,remark\n{data},10.6,2.4,Total\n"),
        ),
        both(
            "a second header in the middle",
            "time_s,water_g",
            format!("time_s,water_g,cup_g\n{}", data.replace("1.5,", "time_s,water_g,cup_g\n1.5,")),
        ),
        both("sep=, first", "sep=,", format!("sep=,\ntime_s,water_g,cup_g\n{data}")),
        both("sep=; first", "sep=;", format!("sep=;\r\ntime_s;water_g;cup_g\r\n{semicolons}")),
        both("a rule below the header", "---", format!("time_s,water_g,cup_g\n---,---,---\n{data}")),
        both("units below, lines above", "", format!("Brew 7\ntime,water,cup\ns,g,g\n{data}")),
        both("end of file in words", "end of log", format!("time_s,water_g,cup_g\n{data}end of log\n")),
        of(
            "two equal columns",
            "weight_g",
            format!("time_s,water_g,weight_g\n{}", lines(|_, t, w, _| format!("{t},{w},{w}"))),
        ),
        both(
            "trailing separators",
            "",
            format!("time_s,water_g,cup_g,,\n{}", lines(|_, t, w, c| format!("{t},{w},{c},,"))),
        ),
        both(
            "trailing separators in the data alone",
            "",
            format!("time_s,water_g,cup_g\n{}", lines(|_, t, w, c| format!("{t},{w},{c},"))),
        ),
        both(
            "quoted",
            "",
            format!(
                "\"time_s\",\"water_g\",\"cup_g\"\n{}",
                lines(|_, t, w, c| format!("\"{t}\",\"{w}\",\"{c}\""))
            ),
        ),
        both(
            "a text with separators above",
            "",
            format!("Made by, Ada, for; Bo\nMorning, 93 C\ntime_s,water_g,cup_g\n{data}"),
        ),
    ]
}

fn bytes() -> Vec<Foreign> {
    let text = format!("time_s\twater_g\tcup_g\r\n{}", plain("\t").replace('\n', "\r\n"));
    let little = text.encode_utf16().flat_map(u16::to_le_bytes);
    let big = text.encode_utf16().flat_map(u16::to_be_bytes);
    let german = format!("Zeit (s);Wasser (g);Getr\u{e4}nk (g)\n{}", plain(";").replace('.', ","));
    let latin = german.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
    let file = |name, bytes| Foreign { name, bytes, cup: true, note: "" };
    vec![
        both("a byte order mark", "", format!("\u{feff}{text}")),
        file("UTF-16, low byte first", [0xff, 0xfe].into_iter().chain(little).collect()),
        file("UTF-16, high byte first", [0xfe, 0xff].into_iter().chain(big).collect()),
        file("ISO 8859-1", latin),
        both("CR LF and a total", "Summe", format!("{text}Summe\t10.6\t2.4\r\n")),
        both(
            "CR alone and a line above",
            "Brew",
            format!("Brew 3\n{text}").replace("\r\n", "\n").replace('\n', "\r"),
        ),
    ]
}

fn numbers() -> Vec<Foreign> {
    let cells = |name, f: fn(usize, f64, f64) -> String| {
        of(name, "", format!("time;weight\n{}", lines(|i, t, w, _| f(i, t, w))))
    };
    let many = |header: &str, f: fn(f64) -> String| {
        format!("{header}\n{}", lines(|_, t, w, _| format!("{t:.1};{}", f(w))))
    };
    vec![
        cells("units in the cells", |_, t, w| format!("{t:.1} s;{w:.1} g")),
        cells("units stuck to the numbers", |_, t, w| format!("{t:.1}s;{w:.1}g")),
        cells("ms and kg in the cells", |_, t, w| format!("{:.0} ms;{:.4} kg", t * 1e3, w / 1e3)),
        cells("units and decimal commas", |_, t, w| format!("{t:.1} s;{w:.1} g").replace('.', ",")),
        of(
            "a minus sign of print",
            "",
            many("time_s;water_g", |w| format!("{w:.1}").replace("0.0", "\u{2212}0.0")),
        ),
        of("a plus sign", "", many("time_s;water_g", |w| format!("+{w:.1}"))),
        of("decimal comma, tabs, a line above", "", {
            format!(
                "Brew\n{}",
                many("time_s;water_g", |w| format!("{w:.1}")).replace('.', ",").replace(';', "\t")
            )
        }),
        of("decimal comma in quotes, a line above", "", {
            let rows = lines(|_, t, w, _| {
                format!("\"{t:.1}\",\"{w:.1}\"").replace('.', ",").replace("\",,\"", "\",\"")
            });
            format!("Brew\ntime_s,water_g\n{rows}")
        }),
    ]
}

/// Thousands: a kettle's own scale, in steps of 500 g so that each way of writing occurs.
pub(crate) const HEAVY_G: [f64; 6] = [0.5, 500.5, 1000.5, 1500.0, 2000.0, 2500.25];

pub(crate) fn thousands() -> Vec<(&'static str, String)> {
    let cells = |signs: [&str; 2]| {
        let cells = ["0.5", "500.5", "1,000.5", "1,500.0", "2,000.0", "2,500.25"];
        cells.map(|cell| cell.replace('.', "P").replace(',', signs[0]).replace('P', signs[1]))
    };
    let file = |signs, t: fn(f64) -> String| {
        let cells = cells(signs);
        let rows: String = (0..6).map(|i| format!("{};\"{}\"\n", t(TIME_S[i]), cells[i])).collect();
        format!("time_s;weight_g\n{rows}")
    };
    let point = |t: f64| format!("{t:.1}");
    let comma = |t: f64| format!("{t:.1}").replace('.', ",");
    vec![
        ("1,000.5", file([",", "."], point)),
        ("1.000,5", file([".", ","], comma)),
        ("1 000,5", file([" ", ","], comma)),
        ("1 000,5 with a narrow blank", file(["\u{202f}", ","], comma)),
        ("1'000.5", file(["'", "."], point)),
    ]
}

fn clocks() -> Vec<Foreign> {
    let date = |t: f64| format!("2041-05-04T09:30:{t:04.1}");
    vec![
        clock("m:ss.s", |_, t| format!("0:{t:04.1}")),
        clock("mm:ss.s", |_, t| format!("00:{t:04.1}")),
        clock("h:mm:ss.s", |_, t| format!("0:00:{t:04.1}")),
        clock("time of day", |_, t| format!("09:30:{:04.1}", t + 10.0)),
        clock("time of day across the hour", |_, t| {
            let s = 3599.0 + t;
            format!("{:02}:{:02}:{:04.1}", 9 + (s / 3600.0) as u8, (s % 3600.0 / 60.0) as u8, s % 60.0)
        }),
        clock("time of day across midnight", |_, t| {
            let s = 86399.0 + t;
            let of_day = s % 86400.0;
            format!(
                "{:02}:{:02}:{:04.1}",
                (of_day / 3600.0) as u8,
                (of_day % 3600.0 / 60.0) as u8,
                of_day % 60.0
            )
        }),
        clock("time of day with AM", |_, t| format!("9:30:{:04.1} AM", t)),
        clock("milliseconds behind a third colon", |_, t| {
            format!("09:30:{:02}:{:03}", t as u8, (t * 1e3) as u32 % 1000)
        }),
        clock("a fraction behind a comma", |_, t| {
            format!("\"00:{}\"", format!("{t:04.1}").replace('.', ","))
        }),
        clock("ISO 8601, and a header in the middle", move |i, t| {
            if i == 3 { format!("time,weight (g)\n{}", date(t)) } else { date(t) }
        }),
        clock("day first, with dots", |_, t| format!("04.05.2041 09:30:{t:04.1}")),
        clock("month first, with strokes", |_, t| format!("5/4/2041 9:30:{t:04.1} AM")),
        clock("year first, with strokes", |_, t| format!("2041/05/04 09:30:{t:04.1}")),
        clock("seconds since 1970", |_, t| format!("{:.1}", 2_251_359_000.0 + t)),
        clock("milliseconds since 1970", |_, t| format!("{:.0}", (2_251_359_000.0 + t) * 1e3)),
        clock("microseconds since 1970", |_, t| format!("{:.0}", (2_251_359_000.0 + t) * 1e6)),
        of("date and time in two columns", "", {
            let rows = lines(|_, t, w, _| format!("04/05/2041,09:30:{t:04.1},{w:.1}"));
            format!("Date,Time,Weight (g)\n{rows}")
        }),
        of("units of a clock in its header", "", {
            let rows = lines(|_, t, w, _| format!("00:{t:04.1},{w:.1}"));
            format!("Time (mm:ss),Weight (g)\n{rows}")
        }),
    ]
}

fn languages() -> Vec<Foreign> {
    vec![
        language("English", "elapsed time", "water weight", "cup weight"),
        language("German", "Zeit", "Wassermenge", "Tasse"),
        language("French", "Temps", "Poids de l'eau", "Tasse"),
        language("Spanish", "Tiempo", "Peso del agua", "Taza"),
        language("Italian", "Tempo", "Peso acqua", "Tazza"),
        language("Portuguese", "Tempo", "\u{c1}gua", "X\u{ed}cara"),
        language("Dutch", "Tijd", "Gewicht water", "Kopje"),
        language("Japanese", "\u{6642}\u{9593}", "\u{6ce8}\u{6e6f}\u{91cf}", "\u{62bd}\u{51fa}\u{91cf}"),
        language("Korean", "\u{c2dc}\u{ac04}", "\u{bb3c} \u{bb34}\u{ac8c}", "\u{cd94}\u{cd9c}\u{b7c9}"),
        language("Chinese", "\u{65f6}\u{95f4}", "\u{6ce8}\u{6c34}\u{91cf}", "\u{676f}"),
        both("units in other words", "", {
            format!("Zeit [Sekunden];Gewicht [Gramm];Kanne [Gramm]\n{}", plain(";").replace('.', ","))
        }),
    ]
}

/// Files of a second round, made when those above were read.
fn second() -> Vec<Foreign> {
    let d = plain;
    let dc = |separator: &str| plain(separator).replace('.', ",");
    vec![
        both("two numbers above", "", format!("Dose,15.0,g\nRatio,15,250\ntime_s,water_g,cup_g\n{}", d(","))),
        both("three numbers above", "", format!("15.0,250,93\ntime_s,water_g,cup_g\n{}", d(","))),
        both("blanks, line above", "", format!("Lantern Yard\ntime_s water_g cup_g\n{}", d(" "))),
        both("means below", "", format!("time_s,water_g,cup_g\n{}Mean,4.4,0.65\nMax,10.6,2.4\n", d(","))),
        both(
            "units row again mid",
            "",
            format!("time;water;cup\ns;g;g\n{}", d(";").replace("1.5;", "time;water;cup\ns;g;g\n1.5;")),
        ),
        both(
            "quotes with commas",
            "",
            format!(
                "note,time_s,water_g,cup_g\n{}Total,,10.6,2.4\n",
                lines(|_, t, w, c| format!("\"a, b\",{t},{w},{c}"))
            ),
        ),
        both(
            "sum at end, only text",
            "",
            format!("Zeit (s);Wasser (g);Tasse (g)\n{}Summe: 10,6 g\n", dc(";")),
        ),
        both(
            "hash header",
            "",
            format!("#,Time (s),Water (g),Cup (g)\n{}", lines(|i, t, w, c| format!("{i},{t},{w},{c}"))),
        ),
        both(
            "index col german",
            "",
            format!("Nr.;Zeit (s);Wasser (g);Tasse (g)\n{}", lines(|i, t, w, c| format!("{i};{t};{w};{c}"))),
        ),
        both(
            "flow col",
            "",
            format!(
                "Time (s),Water (g),Cup (g),Flow rate (g/s)\n{}End\n",
                lines(|_, t, w, c| format!("{t},{w},{c},0.5"))
            ),
        ),
        both(
            "temp col",
            "",
            format!(
                "Zeit,Wassertemperatur,Wasser,Tasse\n{}",
                lines(|_, t, w, c| format!("{t} s,93,{w} g,{c} g"))
            ),
        ),
        both(
            "header with line break",
            "",
            format!("\"Time\n(s)\",\"Water\n(g)\",Cup (g)\n{}Total,1,2\n", d(",")),
        ),
        both(
            "brackets clock",
            "",
            format!(
                "Time [mm:ss.s],Water [g],Cup [g]\n{}",
                lines(|_, t, w, c| format!("00:{t:04.1},{w},{c}"))
            ),
        ),
        both(
            "bar table",
            "",
            format!(
                "| time_s | water_g | cup_g |\n|---|---|---|\n{}",
                lines(|_, t, w, c| format!("| {t} | {w} | {c} |"))
            ),
        ),
        both(
            "dup header cols",
            "",
            format!("time_s,time_s,water_g,cup_g\n{}", lines(|_, t, w, c| format!("{t},{t},{w},{c}"))),
        ),
        both("blank cells as cup before", "", format!("Export\ntime_s,water_g,cup_g\n{}", d(","))),
        both(
            "apostrophe text",
            "",
            format!("time_s,water_g,cup_g\n{}", lines(|_, t, w, c| format!("'{t},'{w},'{c}"))),
        ),
        both(
            "nbsp unit",
            "",
            format!(
                "time_s;water_g;cup_g\n{}",
                lines(|_, t, w, c| format!("{t}\u{a0}s;{w}\u{a0}g;{c}\u{a0}g"))
            ),
        ),
        both(
            "full-width header",
            "",
            format!("時間（秒），重量\n時間（秒）,水（g）,カップ（g）\n{}", d(",")),
        ),
        both(
            "key value above with semicolon",
            "",
            format!(
                "Date;2041-05-04\nStart;09:30:00\nDose;15,0 g\n\nZeit [s];Wasser [g];Tasse [g]\n{}",
                dc(";")
            ),
        ),
        both(
            "tabs + trailing spaces",
            "",
            format!(
                "Log\n time_s \t water_g \t cup_g \n{}",
                lines(|_, t, w, c| format!(" {t} \t {w} \t {c} "))
            ),
        ),
        both(
            "scientific",
            "",
            format!("Log\ntime_s,water_g,cup_g\n{}", lines(|_, t, w, c| format!("{t:e},{w:e},{c:e}"))),
        ),
        both(
            "iso with Z and units",
            "",
            format!(
                "time,water,cup\n{}",
                lines(|_, t, w, c| format!("2041-05-04T09:30:{t:04.1}Z,{w} g,{c} g"))
            ),
        ),
        both(
            "epoch decimal comma",
            "",
            format!(
                "time;water (g);cup (g)\n{}",
                lines(|_, t, w, c| format!("{:.1};{w:.1};{c:.1}", 2251359000.0 + t).replace('.', ","))
            ),
        ),
    ]
}

pub(crate) fn all() -> Vec<Foreign> {
    [around(), bytes(), numbers(), clocks(), languages(), second()].into_iter().flatten().collect()
}
