//! Files as other people have them are read right, and say what was left out. The expected samples are known by
//! arithmetic, ISO 8601 and RFC 4180.

use crate::strangers_files::{CUP_G, Foreign, HEAVY_G, TIME_S, WATER_G, all, lines, plain, thousands};
use pourline::{Log, Meta, ReadOptions};
use proptest::prelude::*;

fn read(bytes: &[u8]) -> pourline::Result<Log> {
    Log::read_bytes(bytes, &ReadOptions::default(), Meta::default())
}

/// Whether values agree: an epoch in microseconds resolves no more than 1e-6 s.
fn same(found: Option<&[f64]>, expected: &[f64]) -> bool {
    found.is_some_and(|found| {
        found.len() == expected.len() && found.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-6)
    })
}

fn fault(file: &Foreign) -> Option<String> {
    let log = match read(&file.bytes) {
        Ok(log) => log,
        Err(error) => return Some(format!("refused: {error}")),
    };
    let cup = if file.cup { same(log.beverage_g(), &CUP_G) } else { log.beverage_g().is_none() };
    let start = log.time_s()[0];
    let time_s: Vec<f64> = log.time_s().iter().map(|t| t - start).collect();
    (!(same(Some(&time_s), &TIME_S) && same(log.water_g(), &WATER_G) && cup))
        .then(|| format!("wrong: {log:?}"))
}

#[test]
fn each_file_of_another_person_is_read_right_and_says_what_was_left_out() {
    let faults: Vec<String> =
        all().iter().filter_map(|file| Some(format!("{}: {}", file.name, fault(file)?))).collect();
    assert!(faults.is_empty(), "{} of {}:\n{}", faults.len(), all().len(), faults.join("\n"));
    for file in all() {
        let notes = read(&file.bytes).unwrap().notes().join("; ");
        assert!(notes.contains(file.note), "{}: {:?} is not in {notes:?}", file.name, file.note);
    }
}

/// A total in another spelling than the samples says nothing of their decimal sign.
#[test]
fn a_line_without_a_sample_shows_no_decimal_sign() {
    let text = format!("Lantern Yard\ntime_s;water_g;cup_g\n{}Summe;10,6;2,4\n", plain(";"));
    assert!(same(read(text.as_bytes()).unwrap().water_g(), &WATER_G));
}

#[test]
fn thousands_are_read_if_the_file_shows_which_sign_is_which() {
    for (name, text) in thousands() {
        let log = read(text.as_bytes()).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert!(same(log.water_g(), &HEAVY_G), "{name}: {log:?}");
    }
}

/// 2251359000 s after 1970-01-01 are 26057 days and 34200 s, which is 2041-05-05T09:30:00Z: 71 years of 365 days, 18
/// leap days (1972 to 2040) and 124 days (ISO 8601-1:2019).
#[test]
fn a_count_since_1970_is_a_date() {
    assert_eq!((71 * 365 + 18 + 124) * 86_400 + 34_200, 2_251_359_000_i64);
    for (factor, unit) in [(1.0, "s"), (1e3, "ms"), (1e6, "us")] {
        let row = |i: u32| format!("{:.0},{i}\n", (2_251_359_000.0 + f64::from(i)) * factor);
        let log = read(format!("t,weight (g)\n{}", (0..4).map(row).collect::<String>()).as_bytes()).unwrap();
        assert_eq!(log.time_s(), [0.0, 1.0, 2.0, 3.0]);
        assert_eq!(log.meta.started_at.as_deref(), Some("2041-05-05T09:30:00Z"));
        assert!(log.notes()[0].contains(&format!("read as {unit} since 1970")), "{:?}", log.notes());
    }
}

#[test]
fn a_unit_that_is_stated_is_not_overruled_by_a_count_since_1970() {
    let log = read(b"time_s,water_g\n2251359000,0\n2251359001,1\n2251359002,2\n").unwrap();
    assert_eq!(log.time_s()[0], 2_251_359_000.0);
    assert!(log.notes().is_empty());
}

#[track_caller]
fn refused(text: &str, kind: &str, said: &str) {
    let error = read(text.as_bytes()).expect_err("this must be refused");
    assert_eq!(error.kind(), kind, "{error}");
    assert!(error.to_string().contains(said), "{said:?} is not in {error}");
}

#[test]
fn what_begins_as_a_sample_and_cannot_be_read_is_never_skipped() {
    let data = plain(",");
    let with = |line: &str| format!("Lantern Yard\ntime_s,water_g,cup_g\n{data}{line}\n");
    assert!(read(with("").as_bytes()).is_ok());
    for (line, said) in [
        ("3.0,1x,2", "column water_g, row 7: \"1x\" is not a number"),
        ("3.0,,2", "column water_g, row 7: no reading"),
        ("3.0", "row 7: 1 fields, but most lines have 3"),
        ("3..0,1,2", "column time_s, row 7: \"3..0\" is not a number"),
        (",10,2", "column time_s, row 7: no reading"),
        ("3.0,1,2,3", "row 7: 4 fields, but most lines have 3"),
        ("9:30,10,2", "column time_s, row 7: \"9:30\" is not a number"),
        ("3.0,\"1,5\",2", "points and commas could both be the decimal sign"),
    ] {
        let error = read(with(line).as_bytes()).unwrap_err().to_string();
        assert!(error.contains(said), "{line}: {said:?} is not in {error:?}");
    }
}

/// 5 minutes at 1 Hz: 60 lines for each minute.
#[test]
fn hours_and_minutes_are_no_stamps() {
    let row = |s: u32| format!("09:{:02},{s}\n", 30 + s / 60);
    let text = format!("time,weight (g)\n{}", (0..300).map(row).collect::<String>());
    refused(&text, "format", "stamps such as \"09:30\" stay the same over 60 lines, like hours and minutes");
}

/// Two columns may be the time: the file does not state which one counts.
#[test]
fn a_clock_beside_an_elapsed_time_needs_the_argument() {
    let rows = lines(|_, t, w, _| format!("09:30:{t:04.1};{t};{w}"));
    let text = format!("Uhrzeit;Zeit (s);Wasser (g)\n{rows}");
    refused(&text, "column", "\"Uhrzeit\", \"Zeit (s)\" could all be time: choose one with time=\"...\"");
    let options = ReadOptions { time: Some("Zeit (s)".into()), ..ReadOptions::default() };
    let log = Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap();
    assert!(same(Some(log.time_s()), &TIME_S) && same(log.water_g(), &WATER_G), "{log:?}");
}

#[test]
fn a_second_header_above_a_time_that_starts_again_is_two_logs() {
    let one = format!("time_s,water_g,cup_g\n{}", plain(","));
    refused(&format!("{one}{one}"), "format", "line 8 repeats the header and time starts again below it");
}

#[test]
fn a_text_between_most_lines_is_no_log() {
    let data = plain(",").replace('\n', "\nremark\nremark\n");
    assert!(read(format!("time_s,water_g,cup_g\n{data}").as_bytes()).is_err());
}

#[test]
fn a_unit_that_changes_between_cells_is_refused() {
    let text = "time;weight\n0 s;0 g\n1 s;900 g\n2 s;1 kg\n3 s;2 kg\n";
    refused(text, "format", "row 3: the unit in the cells changes from g to kg");
    refused("time_s;weight\n0;0 g\n1;1\n2;2 g\n3;3 g\n", "format", "changes from g to none");
    refused("time_ms;weight\n0 s;0 g\n1 s;1 g\n2 s;2 g\n", "argument", "states ms but s was requested");
}

/// By arithmetic: 300 lines of 100 ms are 29.9 s, and 299 x 0.6 g are 179.4 g.
#[test]
fn one_error_names_all_that_is_missing_with_a_guess_and_its_reason() {
    let rows = |separator: &str| -> String {
        (0..300).map(|i| format!("{}{separator}{:.1}\n", i * 100, f64::from(i) * 0.6)).collect()
    };
    let guess = "perhaps time=\"1\" (column 1 rises in every line), time_unit=\"ms\" (it then lasts 30 s), \
                 water=\"2\" (column 2 spans the most, 179.4), mass_unit=\"g\" (it then spans 179 g)";
    refused(
        &rows(","),
        "column",
        &format!(
            "2 columns without a header: choose them by number, such as time=\"1\", water=\"2\"; {guess}"
        ),
    );
    refused(&format!("when,how much\n{}", rows(",")), "column", "no time and no weight among the columns");
    refused(&format!("when,how much\n{}", rows(",")), "column", guess);
    refused(
        &format!("time,weight\n{}", rows(",")),
        "argument",
        "column \"time\" states no unit; give one of: s, ms, us, ns or min; perhaps time_unit=\"ms\": the log then lasts 30 s; \
         mass_unit: column \"weight\" states no unit; give one of: g, kg, mg or oz; perhaps mass_unit=\"g\": the weight then spans 179 g",
    );
}

#[test]
fn a_file_without_a_header_is_read_by_number_with_lines_around_it() {
    let options = ReadOptions {
        time: Some("1".into()),
        water: Some("2".into()),
        time_unit: Some(pourline::TimeUnit::S),
        mass_unit: Some(pourline::MassUnit::G),
        ..ReadOptions::default()
    };
    let text = format!("Lantern Yard\n\n{}Total;10.6;2.4\n", plain(";"));
    let log = Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap();
    assert!(same(Some(log.time_s()), &TIME_S) && same(log.water_g(), &WATER_G), "{log:?}");
    assert_eq!(
        log.notes(),
        [
            "line 1 (\"Lantern Yard\") holds no sample and was skipped",
            "line 9 (\"Total;10.6;2.4\") holds no sample and was skipped",
        ]
    );
}

#[test]
fn a_brew_lists_how_its_file_was_read() {
    let text = format!("time_s,water_g,cup_g\n{}Total,10.6,2.4\n", plain(","));
    let brew = pourline::analyze(&read(text.as_bytes()).unwrap(), &pourline::Options::default()).unwrap();
    assert_eq!(brew.notes, ["line 8 (\"Total,10.6,2.4\") holds no sample and was skipped"]);
    let said = "From the file: line 8 (\"Total,10.6,2.4\") holds no sample and was skipped.";
    let printed = brew.to_string();
    assert!(printed.split_whitespace().collect::<Vec<_>>().join(" ").ends_with(said), "{printed}");
    assert!(brew.warnings.iter().all(|warning| !warning.contains("line 8")));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    /// Lines around the samples of a log, and between them, change no sample. No unit begins with Q: a line of units
    /// below the header would contradict it.
    #[test]
    fn lines_without_a_sample_change_no_sample(
        above in prop::collection::vec("[A-Za-z][A-Za-z :;.]{0,20}", 0..6),
        between in "Q[a-z]{0,9}(,[a-z]{0,5}){0,2}",
        at in 0..6_usize,
    ) {
        let rows: Vec<String> = plain(",").lines().map(String::from).collect();
        let (head, tail) = rows.split_at(at);
        let lines = [above.clone(), vec!["time_s,water_g,cup_g".into()], head.to_vec(), vec![between], tail.to_vec()];
        let log = read(lines.concat().join("\n").as_bytes()).unwrap();
        prop_assert!(same(Some(log.time_s()), &TIME_S) && same(log.water_g(), &WATER_G), "{:?}", log);
        prop_assert!(!log.notes().is_empty());
    }

    #[test]
    fn no_text_of_the_signs_that_matter_makes_the_survey_panic(
        header in prop_oneof![Just("sep=;\n"), Just("a\ntime_s,water_g\n"), Just("Zeit;Gewicht (g)\n"), Just("x\n")],
        text in "([0-9:.,;'gsk \u{a0}\u{2212}AMPT/#\"-]{0,12}\n){0,30}",
    ) {
        if let Ok(log) = read(format!("{header}{text}").as_bytes()) {
            prop_assert!(log.time_s().iter().all(|t| t.is_finite()));
            prop_assert!(log.water_g().is_none_or(|w| w.len() == log.len() && w.iter().all(|m| m.is_finite())));
        }
    }
}
