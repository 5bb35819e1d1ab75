//! Formats, units, stamps and names that a log may come in.

use pourline::log::{Stamps, choose};
use pourline::{Log, MassUnit, Meta, ReadOptions, TimeUnit};
use proptest::prelude::*;

fn read_with(text: impl AsRef<[u8]>, options: &ReadOptions) -> Log {
    Log::read_bytes(text.as_ref(), options, Meta::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn read(text: impl AsRef<[u8]>) -> Log {
    read_with(text, &ReadOptions::default())
}

fn by_number() -> ReadOptions {
    ReadOptions {
        time: Some("1".into()),
        water: Some("2".into()),
        time_unit: Some(TimeUnit::S),
        mass_unit: Some(MassUnit::G),
        ..ReadOptions::default()
    }
}

/// Time 0, 0.1, 0.2 s; water 0, 0.4, 1.1 g.
fn is_the_example(log: &Log) {
    assert_eq!(log.time_s(), [0.0, 0.1, 0.2]);
    assert_eq!(log.water_g(), Some(&[0.0, 0.4, 1.1][..]));
    assert_eq!(log.beverage_g(), None);
}

#[test]
fn comma_semicolon_tab_bar_and_blanks_are_found() {
    for separator in [",", ";", "\t", "|", "  ", " ,  ", " | "] {
        let text = "time_s@water_g\n0.0@0.0\n0.1@0.4\n0.2@1.1\n".replace('@', separator);
        is_the_example(&read(text));
    }
    is_the_example(&read(
        "  time (s)   water (g)\n     0.0         0.0\n     0.1         0.4\n     0.2  1.1\n",
    ));
}

#[test]
fn decimal_commas_are_read_beside_semicolons_tabs_bars_blanks_and_in_quotes() {
    for separator in [";", "\t", "|", "  "] {
        let text = "time_s@water_g\n0,0@0,0\n0,1@0,4\n0,2@1,1\n".replace('@', separator);
        is_the_example(&read(&text));
        let (_, data) = text.split_once('\n').unwrap();
        is_the_example(&read_with(data, &by_number()));
    }
    is_the_example(&read("time_s,water_g\n\"0,0\",\"0,0\"\n\"0,1\",\"0,4\"\n\"0,2\",\"1,1\"\n"));
    let three_digits = read("time_s;water_g\n0,000;999,125\n0,100;1000,250\n0,200;1000\n");
    assert_eq!(three_digits.water_g(), Some(&[999.125, 1000.25, 1000.0][..]));
}

#[test]
fn line_ends_a_byte_order_mark_and_blank_lines_make_no_difference() {
    let text = "time_s,water_g\n0,0\n0.1,0.4\n0.2,1.1\n";
    for end in ["\n", "\r\n", "\r", "\n\n", "\r\n\r\n"] {
        let text = text.replace('\n', end);
        is_the_example(&read(&text));
        is_the_example(&read(text.trim_end()));
        is_the_example(&read(format!("\u{feff}{text}")));
    }
}

#[test]
fn quoted_fields_and_columns_that_are_not_asked_for_are_passed_over() {
    let text = "\"note, or not\",\"time_s\",temperature_c,\"water_g\",flow_g_per_s\n\
                \"a \"\"b\"\", c\",0,93.5,0,x\n\"over\ntwo lines\",0.1,,0.4,\n,\"0.2\",hot,\"1.1\"\n";
    is_the_example(&read(text));
}

#[test]
fn a_file_without_a_header_is_read_by_number() {
    is_the_example(&read_with("0,0\n0.1,0.4\n0.2,1.1\n", &by_number()));
    is_the_example(&read_with("0,0,a remark\n0.1,0.4,\n0.2,1.1,\n", &by_number()));
    is_the_example(&read_with("when,how much,2031\n0,0,a\n0.1,0.4,b\n0.2,1.1,c\n", &by_number()));
    let options =
        ReadOptions { time: Some("3".into()), water: None, beverage: Some("1".into()), ..by_number() };
    let log = read_with("0,7,0\n0.4,7,0.1\n1.1,7,0.2\n", &options);
    assert_eq!(log.beverage_g(), Some(&[0.0, 0.4, 1.1][..]));
    assert_eq!(log.time_s(), [0.0, 0.1, 0.2]);
}

#[test]
fn a_header_behind_a_comment_sign_and_a_row_of_units_are_understood() {
    is_the_example(&read("# time_s water_g\n0.0 0.0\n0.1 0.4\n0.2 1.1\n"));
    let with_note = "# made up: yes, it is\n0,0\n0.1,0.4\n0.2,1.1\n";
    let error = Log::read_bytes(with_note.as_bytes(), &ReadOptions::default(), Meta::default()).unwrap_err();
    assert!(error.to_string().contains("2 columns without a header"), "{error}");
    is_the_example(&read("time;water;note\n[ms];kg;\n0;0;\n100;0.0004;\n200;0.0011;\n"));
}

#[test]
fn units_are_taken_from_the_header() {
    for (time, water, row) in [
        ("time_s", "water_g", "2.5,4"),
        ("t [s]", "mass (mg)", "2.5,4000"),
        ("time_ms", "water_kg", "2500,0.004"),
        ("Elapsed Time (us)", "Total Weight (g)", "2500000,4"),
        ("elapsed (\u{b5}s)", "poured_g", "2500000,4"),
        ("timestamp_ns", "mass/g", "2500000000,4"),
        ("time (min)", "water mass g", "0.041666666666666664,4"),
        ("seconds", "grams", "2.5,4"),
    ] {
        let log = read(format!("{time},{water}\n0,0\n{row}\n0,5\n"));
        assert_eq!((log.time_s()[1], log.water_g().unwrap()[1]), (2.5, 4.0), "{time}, {water}");
    }
}

#[test]
fn an_ounce_is_28_349523125_g() {
    // International avoirdupois ounce, agreement of 1959; NIST Handbook 44, Appendix C: exact.
    let log = read("time_s,weight (oz)\n0,0\n1,1\n2,16\n");
    assert_eq!(
        log.water_g(),
        Some(&[0.0, 28.349_523_125, 453.592_37][..]),
        "16 oz are the pound of 453.59237 g"
    );
}

#[test]
fn milliseconds_are_the_same_numbers_as_their_seconds() {
    let ms: String = (0..10_000).map(|i| format!("{i},0\n")).collect();
    let s: String = (0..10_000).map(|i| format!("{}.{:03},0\n", i / 1000, i % 1000)).collect();
    assert_eq!(
        read(format!("time_ms,water_g\n{ms}")).time_s(),
        read(format!("time_s,water_g\n{s}")).time_s()
    );
}

#[test]
fn units_are_taken_from_the_arguments_and_from_notes() {
    let options = ReadOptions {
        time_unit: Some(TimeUnit::Ms),
        mass_unit: Some(MassUnit::Kg),
        ..ReadOptions::default()
    };
    is_the_example(&read_with("time,weight\n0,0\n100,0.0004\n200,0.0011\n", &options));
    is_the_example(&read("# time_unit: ms\n# mass_unit = kg\ntime,weight\n0,0\n100,0.0004\n200,0.0011\n"));
    // By its number a column is taken without the unit in its name.
    let options = ReadOptions { time_unit: Some(TimeUnit::S), ..by_number() };
    is_the_example(&read_with("time_ms,water_kg\n0,0\n0.1,0.4\n0.2,1.1\n", &options));
}

#[test]
fn dates_and_times_become_seconds_since_the_first() {
    for (a, b, c) in [
        ("2031-05-04T09:30:00Z", "2031-05-04T09:30:00.25Z", "2031-05-04T11:30:01+02:00"),
        ("2031-05-04T09:30:00", "2031-05-04T09:30:00.250", "2031-05-04T09:30:01"),
        ("2031-05-04 09:30:00", "2031-05-04 09:30:00.250000", "2031-05-04 09:30:01"),
        ("2031-05-04T09:30:00+05:30", "2031-05-04T09:30:00.25+05:30", "2031-05-04T04:00:01Z"),
        // The last second of a leap February, across midnight.
        ("2028-02-28T23:59:59.5Z", "2028-02-28T23:59:59.75Z", "2028-02-29T00:00:00.5Z"),
    ] {
        let log = read(format!("timestamp,water_g\n{a},0\n{b},0.4\n{c},1.1\n"));
        assert_eq!(log.time_s(), [0.0, 0.25, 1.0], "{a}");
        assert_eq!(log.meta.started_at.as_deref(), Some(a));
        let log = read(format!(
            "{{\"timestamp\":\"{a}\",\"water_g\":0}}\n{{\"timestamp\":\"{b}\",\"water_g\":1}}\n{{\"timestamp\":\"{c}\",\"water_g\":2}}\n"
        ));
        assert_eq!(log.time_s(), [0.0, 0.25, 1.0], "{a}");
    }
    // A leap year has 366 days of 86400 s (ISO 8601-1:2019, Gregorian calendar).
    let log = read("datetime;water_g\n2028-01-01T00:00:00;0\n2028-07-01T00:00:00;1\n2029-01-01T00:00:00;2\n");
    assert_eq!(log.time_s()[2], 366.0 * 86_400.0);
}

#[test]
fn stamps_out_of_order_pass_as_they_are() {
    let log = read("time_s,water_g\n0,0\n0.2,1.1\n0.1,0.4\n0.1,0.4\n");
    assert_eq!(log.time_s(), [0.0, 0.2, 0.1, 0.1]);
    let log =
        read("timestamp,water_g\n2031-05-04T09:30:01Z,1\n2031-05-04T09:30:00Z,0\n2031-05-04T09:30:02Z,2\n");
    assert_eq!(log.time_s(), [0.0, -1.0, 1.0]);
}

#[test]
fn json_comes_in_lines_in_an_array_or_as_columns() {
    let rows = [
        r#"{"time_s": 0, "water_g": 0, "note": {"a": [1]}}"#,
        r#"{"water_g": 0.4, "time_s": 0.1}"#,
        r#"{"time_s": "0.2", "water_g": 1.1}"#,
    ];
    is_the_example(&read(rows.join("\n")));
    is_the_example(&read(rows.join("\r\n\r\n")));
    is_the_example(&read(format!("[\n{}\n]", rows.join(",\n"))));
    is_the_example(&read(r#"{"time_s": [0, 0.1, 0.2], "water_g": [0, 0.4, 1.1], "note": "x"}"#));
    let pretty = "{\n  \"dose_g\": 15,\n  \"time_s\": [0, 0.1, 0.2],\n  \"water_g\": [0, 0.4, 1.1]\n}\n";
    is_the_example(&read(pretty));
    assert_eq!(read(pretty).meta.dose_g, Some(15.0));
}

#[test]
fn a_key_that_comes_late_is_a_column_all_the_same() {
    let options = ReadOptions { missing: pourline::Missing::Flag, ..ReadOptions::default() };
    let text: String = (0..6)
        .map(|i| {
            let cup = if i < 2 { String::new() } else { format!(",\"cup_g\":{i}") };
            format!("{{\"time_s\":{i},\"water_g\":{i}{cup}}}\n")
        })
        .collect();
    let log = read_with(text, &options);
    let cup = log.beverage_g().unwrap();
    assert!(cup[..2].iter().all(|m| m.is_nan()));
    assert_eq!(cup[2..], [2.0, 3.0, 4.0, 5.0]);
}

#[test]
fn names_are_found_in_either_case_and_both_channels_are_read() {
    for (time, water, beverage) in [
        ("time_s", "water_g", "beverage_g"),
        ("Time (s)", "Weight (g)", "Cup (g)"),
        ("T [s]", "POURED MASS [G]", "Server Weight [g]"),
        ("elapsed_s", "scale_weight g", "carafe_g"),
    ] {
        let log = read(format!("{time},{water},{beverage}\n0,0,0\n1,5,1\n2,9,3\n"));
        assert_eq!(log.water_g(), Some(&[0.0, 5.0, 9.0][..]), "{water}");
        assert_eq!(log.beverage_g(), Some(&[0.0, 1.0, 3.0][..]), "{beverage}");
    }
}

#[test]
fn an_argument_settles_which_of_two_columns_is_meant() {
    let text = "timestamp,time_s,mass_g,water_g\n2031-05-04T09:30:00,0,9,0\n2031-05-04T09:30:01,0.1,9,0.4\n\
                2031-05-04T09:30:02,0.2,9,1.1\n";
    let options =
        ReadOptions { time: Some("time_s".into()), water: Some("water_g".into()), ..ReadOptions::default() };
    is_the_example(&read_with(text, &options));
}

#[test]
fn a_weight_column_without_a_single_reading_was_not_weighed() {
    is_the_example(&read("time_s,water_g,beverage_g\n0,0,\n0.1,0.4,\n0.2,1.1,\n"));
}

#[test]
fn notes_fill_the_metadata_and_the_callers_word_wins() {
    let text = "# An invented brew at the Lantern Yard roastery\n# dose_g: 15\n#tds_pct = 1.38\n# kettle: Broadlip: long neck\n\
                # factors.day: 3\n# exported: yesterday\ntime_s,water_g\n0,0\n0.1,0.4\n0.2,1.1\n# note: poured in a hurry\n";
    let own = Meta { dose_g: Some(16.0), person: Some("Ottoline".into()), ..Meta::default() };
    let log = Log::read_bytes(text.as_bytes(), &ReadOptions::default(), own).unwrap();
    is_the_example(&log);
    let expected = Meta {
        dose_g: Some(16.0),
        tds_pct: Some(1.38),
        kettle: Some("Broadlip: long neck".into()),
        person: Some("Ottoline".into()),
        note: Some("poured in a hurry".into()),
        factors: [("day".to_string(), "3".to_string())].into(),
        ..Meta::default()
    };
    assert_eq!(log.meta, expected);
}

#[test]
fn a_brew_without_a_name_gets_that_of_its_file() {
    let path = std::env::temp_dir().join(format!("pourline reads logs {}.csv", std::process::id()));
    std::fs::write(&path, "time_s,water_g\n0,0\n0.1,0.4\n0.2,1.1\n").unwrap();
    let log = Log::read(&path, &ReadOptions::default(), Meta::default()).unwrap();
    std::fs::remove_file(&path).unwrap();
    is_the_example(&log);
    assert_eq!(log.meta.name.as_deref(), path.file_stem().unwrap().to_str());
}

#[test]
fn columns_of_a_table_go_by_the_same_rules_as_a_file() {
    let options = ReadOptions::default();
    let chosen = choose(&["note", "cup_kg", "time_ms"], &options).unwrap();
    assert_eq!((chosen.time.index, chosen.time.unit), (2, Some(TimeUnit::Ms)));
    assert_eq!(chosen.water, None);
    assert_eq!(chosen.beverage.as_ref().map(|p| (p.index, p.unit)), Some((1, Some(MassUnit::Kg))));
    let stamps = Stamps::Numbers(vec![0.0, 100.0, 250.0]);
    let beverage = Some(vec![0.0, 0.001, 0.0025]);
    let log = Log::from_columns(&chosen, stamps, None, beverage, &options, Meta::default()).unwrap();
    assert_eq!(log.time_s(), [0.0, 0.1, 0.25]);
    assert_eq!(log.beverage_g(), Some(&[0.0, 1.0, 2.5][..]));

    let texts = ["2031-05-04T09:30:00Z", "2031-05-04T09:30:00.5Z", "2031-05-04T09:30:02Z"];
    let chosen = choose(&["t", "water_g"], &options).unwrap();
    let stamps = Stamps::Texts(texts.map(String::from).to_vec());
    let log =
        Log::from_columns(&chosen, stamps, Some(vec![0.0; 3]), None, &options, Meta::default()).unwrap();
    assert_eq!(log.time_s(), [0.0, 0.5, 2.0]);
    assert_eq!(log.meta.started_at.as_deref(), Some(texts[0]));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        let _ = Log::read_bytes(&bytes, &ReadOptions::default(), Meta::default());
        let _ = Log::read_bytes(&bytes, &by_number(), Meta::default());
    }

    #[test]
    fn no_text_of_the_signs_that_matter_makes_it_panic(
        header in prop_oneof![Just(""), Just("time_s,water_g\n"), Just("t;weight (oz)\n"), Just("time_s water_g\n")],
        text in r#"[0-9.,;|\t \n\r"'#:=eE+\-{}\[\]()nagskTZ]{0,300}"#,
    ) {
        let text = format!("{header}{text}");
        for options in [ReadOptions::default(), by_number()] {
            if let Ok(log) = Log::read_bytes(text.as_bytes(), &options, Meta::default()) {
                prop_assert!(log.time_s().iter().all(|t| t.is_finite()));
                prop_assert!(log.water_g().is_none_or(|w| w.len() == log.len() && w.iter().all(|m| m.is_finite())));
            }
        }
    }

    /// A number that is written with all its digits is read back as that very number (IEEE 754, by the standard
    /// library's own parser), in CSV and in JSON.
    #[test]
    fn numbers_are_read_exactly(masses in prop::collection::vec(-1e7_f64..1e7, 3..50)) {
        let csv: String = masses.iter().enumerate().map(|(i, m)| format!("{i},{m:?}\n")).collect();
        let log = read(format!("time_s,water_g\n{csv}"));
        prop_assert_eq!(log.water_g().unwrap(), &masses[..]);
        let json: String =
            masses.iter().enumerate().map(|(i, m)| format!("{{\"time_s\":{i},\"water_g\":{m:?}}}\n")).collect();
        let log = read(json);
        prop_assert_eq!(log.water_g().unwrap(), &masses[..]);
        let comma = format!("time_s;water_g\n0,5;0,5\n{}", csv.replace(',', ";").replace('.', ","));
        // `{:?}` of an integer ends in .0, so that every mass has its comma.
        let log = read(comma);
        prop_assert_eq!(&log.water_g().unwrap()[1..], &masses[..]);
    }

    /// Lines of plain numbers are read by a short way, which ends where lines end in CR: there every line goes by the
    /// full rules.
    #[test]
    fn plain_lines_are_read_as_by_the_full_rules(
        lines in prop::collection::vec(
            prop_oneof![
                8 => (0..9999_u32, -99.0_f64..99.0, 0..99_u8).prop_map(|(t, w, c)| format!("{t}.{c},{w:.2},x,{c}")),
                1 => Just(String::new()),
                1 => "[-+]?[0-9]{0,18}[.]?[0-9]{0,9},[-+ ]?[0-9.e]{0,6},[#\"a ]{0,2},(7|nan| 8 |1,5|-0|)",
                1 => Just("# dose_g: 15".into()),
            ],
            3..40,
        ),
        header in prop_oneof![Just("time_s,water_g,remark,cup_g"), Just("s,g,remark,unit")],
    ) {
        let options = ReadOptions { beverage: Some("4".into()), mass_unit: Some(MassUnit::G), ..ReadOptions::default() };
        let read = |end: &str| {
            let text = format!("{header}{end}{}{end}", lines.join(end));
            Log::read_bytes(text.as_bytes(), &options, Meta::default())
        };
        let (short, full) = (read("\n"), read("\r"));
        prop_assert_eq!(format!("{short:?}"), format!("{full:?}"));
        prop_assert_eq!(format!("{:?}", read("\r\n")), format!("{short:?}"));
    }

    /// Fields in quotes against the reader of the crate `csv`, which follows RFC 4180.
    #[test]
    fn quoted_fields_are_parted_as_rfc_4180_has_it(
        notes in prop::collection::vec("[a-z\", \n;]{0,12}", 3..8),
        masses in prop::collection::vec(0.0_f64..1e3, 8),
    ) {
        let mut writer = csv::Writer::from_writer(Vec::new());
        writer.write_record(["note", "time_s", "remark", "water_g"]).unwrap();
        for (i, note) in notes.iter().enumerate() {
            writer.write_record([note, &i.to_string(), note, &format!("{:?}", masses[i])]).unwrap();
        }
        let log = read(writer.into_inner().unwrap());
        prop_assert_eq!(log.water_g().unwrap(), &masses[..notes.len()]);
    }
}
