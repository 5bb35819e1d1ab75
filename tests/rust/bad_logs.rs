//! Bad input: a clear error with its kind, the row, the column, the value and the rule; never a panic, a hang or a
//! silent NaN.

use pourline::{Error, Log, MassUnit, Meta, Missing, ReadOptions};

fn read(text: impl AsRef<[u8]>) -> pourline::Result<Log> {
    Log::read_bytes(text.as_ref(), &ReadOptions::default(), Meta::default())
}

#[track_caller]
fn fails(text: impl AsRef<[u8]>) -> Error {
    read(text).expect_err("this must be refused")
}

#[track_caller]
fn says(error: &Error, kind: &str, message: &str) {
    assert_eq!(error.kind(), kind, "{error}");
    assert!(error.to_string().contains(message), "{message:?} is not in {:?}", error.to_string());
}

fn arrays(time_s: &[f64], water_g: &[f64]) -> pourline::Result<Log> {
    Log::new(time_s.to_vec(), Some(water_g.to_vec()), None, Meta::default())
}

fn file(name: &str, bytes: &[u8]) -> std::path::PathBuf {
    let path = std::env::temp_dir().join(format!("pourline_bad_logs_{}_{name}", std::process::id()));
    std::fs::write(&path, bytes).unwrap();
    path
}

#[test]
fn an_empty_file_is_called_empty_by_its_path() {
    let path = file("empty.csv", b"");
    let error = Log::read(&path, &ReadOptions::default(), Meta::default()).unwrap_err();
    assert_eq!(error, Error::Empty { what: path.display().to_string() });
    std::fs::remove_file(path).unwrap();
}

#[test]
fn a_file_of_blank_lines_and_comments_is_empty() {
    says(&fails("\n\n# nothing here\n   \n"), "empty", "holds no samples");
}

#[test]
fn a_header_without_rows_is_empty() {
    says(&fails("time_s,water_g\n"), "empty", "holds no samples");
    says(&fails("time_s,water_g\n\n,\n"), "empty", "holds no samples");
}

#[test]
fn one_row_is_too_short() {
    assert_eq!(fails("time_s,water_g\n0,0\n"), Error::TooShort { samples: 1, needed: 3 });
    assert_eq!(arrays(&[0.0], &[0.0]).unwrap_err(), Error::TooShort { samples: 1, needed: 3 });
}

#[test]
fn empty_arrays_are_empty() {
    assert_eq!(arrays(&[], &[]).unwrap_err(), Error::Empty { what: "time_s".into() });
}

#[test]
fn a_log_without_a_weight_is_refused() {
    says(
        &Log::new(vec![0.0, 1.0, 2.0], None, None, Meta::default()).unwrap_err(),
        "column",
        "water_g, beverage_g or both",
    );
    says(&fails("time_s,flow\n0,1\n"), "column", "water=\"...\" or beverage=\"...\"");
}

#[test]
fn text_in_a_number_is_named_by_row_and_column_and_cut_at_80_characters() {
    let text = format!("time_s,weight (g)\n0,0\n0.1,{}\n0.2,1\n", "é".repeat(200));
    let expected = Error::NotANumber { column: "weight (g)".into(), row: 2, text: "é".repeat(80) };
    assert_eq!(fails(text), expected);
    says(
        &fails("time_s,water_g\n0,0\nsoon,1\n"),
        "not_a_number",
        "column time_s, row 2: \"soon\" is not a number",
    );
    says(&fails("time_s,water_g\n0,0\n1,0x10\n"), "not_a_number", "0x10");
    says(&fails("time_s,water_g\n0,0\n1,12 g\n"), "not_a_number", "12 g");
    says(&fails("time_s,water_g\n0,g\n1,12\n"), "not_a_number", "row 1: \"g\"");
}

#[test]
fn a_byte_that_is_no_utf8_in_a_number_is_shown_and_not_read() {
    says(&fails(b"time_s,water_g\n0,0\n1,1\xb75\n"), "not_a_number", "column water_g, row 2");
}

#[test]
fn a_missing_reading_is_refused_with_its_row_or_flagged_when_asked() {
    for cell in ["", "nan", "NaN", "NA", "n/a", "null", "None"] {
        let text = format!("time_s,weight (g)\n0,0\n1,{cell}\n2,3\n3,4\n");
        let error = fails(&text);
        assert!(
            matches!(&error, Error::NotFinite { column, row: 2, value } if column == "weight (g)" && value.is_nan()),
            "{cell:?}: {error:?}"
        );
        says(&error, "not_finite", "missing=\"flag\"");

        let options = ReadOptions { missing: Missing::Flag, ..ReadOptions::default() };
        let log = Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap();
        assert!(log.water_g().unwrap()[1].is_nan());
        assert_eq!(log.water_g().unwrap()[2], 3.0);
    }
}

#[test]
fn a_missing_stamp_is_always_refused() {
    for missing in [Missing::Refuse, Missing::Flag] {
        let options = ReadOptions { missing, ..ReadOptions::default() };
        for text in ["time_s,water_g\n0,0\n,1\n2,2\n", "{\"time_s\":0,\"water_g\":1}\n{\"water_g\":1}\n"] {
            let error = Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap_err();
            assert!(
                matches!(&error, Error::NotFinite { column, row: 2, .. } if column == "time_s"),
                "{error:?}"
            );
        }
    }
}

#[test]
fn an_infinity_is_always_refused() {
    let log = |v: f64, missing| {
        Log::with_missing(
            vec![0.0, 1.0, 2.0, 3.0],
            Some(vec![0.0, 1.0, v, 3.0]),
            None,
            Meta::default(),
            missing,
        )
    };
    for missing in [Missing::Refuse, Missing::Flag] {
        for v in [f64::INFINITY, f64::NEG_INFINITY] {
            let error = log(v, missing).unwrap_err();
            assert_eq!(error, Error::NotFinite { column: "water_g".into(), row: 3, value: v });
            says(&error, "not_finite", "inf is not a finite number");
        }
    }
    assert_eq!(log(f64::NAN, Missing::Refuse).unwrap_err().kind(), "not_finite");
    assert!(log(f64::NAN, Missing::Flag).is_ok());
    says(&fails("time_s,water_g\n0,0\n1,-inf\n2,2\n"), "not_finite", "row 2");
    // More than the largest f64 is infinite to the standard library.
    says(&fails("time_s,water_g\n0,0\n1,1e309\n2,2\n"), "not_finite", "row 2");
    says(&fails("{\"time_s\":0,\"water_g\":1}\n{\"time_s\":1,\"water_g\":1e400}\n"), "format", "row 2");
}

#[test]
fn a_channel_without_a_reading_is_empty_and_one_with_two_is_too_short() {
    let flagged = |water_g| {
        let time_s = vec![0.0, 1.0, 2.0, 3.0];
        Log::with_missing(time_s, Some(water_g), None, Meta::default(), Missing::Flag).unwrap_err()
    };
    assert_eq!(flagged(vec![f64::NAN; 4]), Error::Empty { what: "water_g".into() });
    assert_eq!(flagged(vec![1.0, f64::NAN, f64::NAN, 1.0]), Error::TooShort { samples: 2, needed: 3 });
}

#[test]
fn stamps_that_are_all_equal_are_refused() {
    let expected = Error::Time { row: 2, value_s: 5.0, rule: "all stamps are equal" };
    assert_eq!(arrays(&[5.0; 4], &[0.0, 1.0, 2.0, 3.0]).unwrap_err(), expected);
    assert_eq!(fails("time_s,water_g\n5,0\n5,1\n5,2\n"), expected);
}

#[test]
fn time_that_runs_backwards_throughout_is_refused_where_it_begins_to() {
    let rule = "time runs backwards throughout: the log is upside down, sort its rows by time";
    let expected = Error::Time { row: 3, value_s: 2.0, rule };
    assert_eq!(arrays(&[3.0, 3.0, 2.0, 1.0], &[0.0; 4]).unwrap_err(), expected);
    assert_eq!(fails("time_s,water_g\n3,0\n3,0\n2,0\n1,0\n"), expected);
    assert!(
        arrays(&[3.0, 1.0, 2.0], &[0.0; 3]).is_ok(),
        "one step forward is out of order, not backwards throughout"
    );
}

#[test]
fn a_value_of_1e308_is_out_of_range_in_either_column() {
    let error = arrays(&[0.0, 1.0, 2.0], &[0.0, 1e308, 0.0]).unwrap_err();
    assert!(
        matches!(&error, Error::OutOfRange { name, value, row: 2, .. } if name == "water_g" && *value == 1e308),
        "{error:?}"
    );
    says(&error, "out_of_range", "it must lie between -1e7 and 1e7 g");
    says(&arrays(&[0.0, 1.0, -1e308], &[0.0; 3]).unwrap_err(), "out_of_range", "time_s, row 3");
    says(&fails("time_s,water_kg\n0,0\n1,1e308\n2,0\n"), "not_finite", "row 2");
}

#[test]
fn milliseconds_since_1970_that_are_called_seconds_are_out_of_range() {
    says(
        &fails("time_s,water_g\n1932000000000,0\n1932000000100,1\n1932000000200,2\n"),
        "out_of_range",
        "time_s, row 1",
    );
}

#[test]
fn columns_of_unequal_length_are_named() {
    let expected = Error::UnequalLength { column: "water_g".into(), found: 2, expected: 3 };
    assert_eq!(arrays(&[0.0, 1.0, 2.0], &[0.0, 1.0]).unwrap_err(), expected);
    assert_eq!(fails("{\"time_s\": [0, 1, 2], \"water_g\": [0, 1]}"), expected);
}

#[test]
fn a_row_that_is_cut_off_or_torn_apart_is_named() {
    let error = fails("time_s,water_g\n0,0\n0.1\n");
    assert!(matches!(error, Error::Format { row: 2, .. }), "{error:?}");
    says(
        &fails("time_s,water_g\n0,0\n0,1,0,5\n"),
        "format",
        "row 2: 4 fields, but the first line has 2; a decimal comma",
    );
}

#[test]
fn decimal_points_and_decimal_commas_in_one_file_are_refused() {
    says(
        &fails("time_s;water_g\n0,0;0\n0,1;0.4\n"),
        "format",
        "row 2: a decimal point in row 2 and a decimal comma in row 1",
    );
    says(&fails("time_s;water_g\n0;0\n1;1.234,5\n"), "not_a_number", "row 2");
}

#[test]
fn commas_that_may_part_off_thousands_are_not_read_as_decimals() {
    says(
        &fails("time_s;water_g\n0;999\n1;1,000\n2;1,001\n"),
        "format",
        "row 2: every comma is followed by three digits",
    );
}

#[test]
fn a_column_that_names_no_unit_needs_the_argument() {
    let error = fails("time,weight\n0,0\n1,1\n2,2\n");
    assert!(matches!(&error, Error::Argument { name, .. } if name == "time_unit"), "{error:?}");
    says(&error, "argument", "column \"time\" states no unit; give one of: s, ms, us, ns or min");
    says(&fails("time_s,weight\n0,0\n1,1\n2,2\n"), "argument", "mass_unit: column \"weight\" states no unit");
}

#[test]
fn a_unit_that_is_stated_in_two_ways_is_refused() {
    let options = ReadOptions { mass_unit: Some(MassUnit::G), ..ReadOptions::default() };
    let error = Log::read_bytes(b"time_s,water_kg\n0,0\n1,1\n2,2\n", &options, Meta::default()).unwrap_err();
    says(&error, "argument", "column \"water_kg\" states kg but g was requested");
}

#[test]
fn an_unknown_unit_is_refused() {
    says(
        &"stone".parse::<MassUnit>().unwrap_err(),
        "argument",
        "\"stone\" is not a known unit; it must be g, kg, mg or oz",
    );
    says(&"drop".parse::<Missing>().unwrap_err(), "argument", "\"drop\" is neither");
}

#[test]
fn two_columns_for_one_part_are_listed_with_the_argument_that_settles_it() {
    let error = fails("time_s,water_g,weight_g\n0,0,0\n");
    says(&error, "column", "\"water_g\", \"weight_g\" could all be water: choose one with water=\"...\"");
    says(&fails("timestamp,time_s,water_g\n0,0,0\n"), "column", "choose one with time=\"...\"");
    says(&fails("{\"time_s\":0,\"water_g\":1,\"water_g\":2}\n"), "column", "\"water_g\" is twice");
}

#[test]
fn an_argument_that_names_no_column_is_refused_with_the_columns_there_are() {
    let ask = |water: &str, text: &str| {
        let options = ReadOptions { water: Some(water.into()), ..ReadOptions::default() };
        Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap_err()
    };
    let text = "time_s,a,a\n0,0,0\n";
    says(&ask("b", text), "column", "water=\"b\" names no column; there are \"time_s\", \"a\", \"a\"");
    says(&ask("4", text), "column", "water=\"4\" names no column");
    says(&ask("0", text), "column", "water=\"0\" names no column");
    says(&ask("a", text), "column", "two columns are called \"a\"; give water as a number from 1 to 3");
    says(&ask("time_s", text), "column", "no time among the columns");
}

#[test]
fn a_file_without_a_header_needs_the_columns_by_number() {
    says(&fails("0,0\n0.1,0.4\n0.2,1.1\n"), "column", "2 columns without a header: choose them by number");
}

#[test]
fn a_million_columns_are_refused_before_they_are_read() {
    let header: String = (0..1_000_000).map(|i| format!("c{i},")).collect();
    says(&fails(header), "column", "columns in its first 1 MiB");
    says(&fails(format!("time_s{}", ",a".repeat(5000))), "column", "5001 columns");
    let keys: String = (0..5000).map(|i| format!("\"c{i}\":0,")).collect();
    says(&fails(format!("{{{keys}\"time_s\":0}}\n")), "column", "4096 keys");
}

#[test]
fn an_endless_line_is_refused_after_its_first_mebibyte() {
    // A line of 2 GB from a source that makes it as it goes is a unit test of the line reader.
    says(&fails("1".repeat(3 << 20)), "format", "line 1 is longer than 1 MiB");
    says(
        &fails(format!("time_s,water_g\n0,{}\n", "1".repeat(3 << 20))),
        "format",
        "line 2 is longer than 1 MiB",
    );
    says(
        &fails(format!("{{\"time_s\":0,\"water_g\":1}}\n{{\"a\":\"{}\"}}\n", "x".repeat(3 << 20))),
        "format",
        "line 2 is longer",
    );
    says(&fails(format!("[{}", "1,".repeat(20 << 20))), "format", "JSON beyond 16 MiB must be in lines");
}

#[test]
fn a_quote_that_is_never_closed_is_named_by_its_line() {
    says(
        &fails("time_s,water_g,note\n0,0,\"a\n1,1,b\n2,2,c\n"),
        "format",
        "line 2 opens a quote that is not closed",
    );
    let many = format!("time_s,water_g,note\n0,0,\"a\n{}", "1,1,\"\"\n".repeat(1_000_000));
    says(&fails(many), "format", "line 2 opens a quote");
}

#[test]
fn a_binary_file_is_refused_by_what_it_seems_to_be() {
    for (bytes, message) in [
        (&b"PAR1\x15\x04"[..], "Parquet or Arrow"),
        (b"ARROW1\0\0", "Parquet or Arrow"),
        (b"\x1f\x8b\x08\0", "unpack it first"),
        (b"PK\x03\x04\x14\0", "save the sheet as CSV"),
        (b"\xff\xfet\0i\0m\0e", "no whole text in UTF-16"),
        (b"t\0i\0m\0e\0", "UTF-16"),
        (b"\x7fELF\x02\x01\x01\0", "binary file"),
    ] {
        says(&fails(bytes), "format", message);
    }
}

#[test]
fn a_nul_byte_far_down_is_named_by_its_line() {
    let mut text = String::from("time_s,water_g\n");
    (0..20_000).for_each(|i| text.push_str(&format!("{i},0\n")));
    text.push_str("20000,\0\n");
    says(&fails(text), "format", "line 20002 holds a NUL byte");
}

#[test]
fn a_directory_a_device_and_a_file_that_is_not_there_are_refused() {
    let open =
        |path: &std::path::Path| Log::read(path, &ReadOptions::default(), Meta::default()).unwrap_err();
    says(&open(&std::env::temp_dir()), "io", "this is a directory");
    says(&open(std::path::Path::new("no such file.csv")), "io", "no such file.csv");
    #[cfg(unix)]
    says(&open(std::path::Path::new("/dev/zero")), "io", "not a regular file");
}

#[test]
fn broken_json_is_named_by_its_row() {
    says(
        &fails("{\"time_s\":0,\"water_g\":1}\n{\"time_s\":1,\"water_g\"\n"),
        "format",
        "row 2: this is not JSON",
    );
    says(&fails("{\"time_s\":0,\"water_g\":1}\n\n[1]\n"), "format", "row 3: this is not a JSON object");
    says(
        &fails("{\"time_s\":0,\"water_g\":1}\n{\"time_s\":1,\"water_g\":true}\n"),
        "not_a_number",
        "row 2: \"true\"",
    );
    says(&fails("["), "format", "this is not JSON");
    says(&fails("[]"), "empty", "");
    says(&fails("[".repeat(100_000)), "format", "recursion limit");
}

#[test]
fn a_stamp_that_cannot_be_read_is_named() {
    let text = "timestamp,water_g\n2031-05-04T09:30:00Z,0\n2031-13-04T09:30:01Z,1\n";
    let expected =
        Error::NotANumber { column: "timestamp".into(), row: 2, text: "2031-13-04T09:30:01Z".into() };
    assert_eq!(fails(text), expected);
    let mixed = "timestamp,water_g\n2031-05-04T09:30:00Z,0\n2031-05-04T09:30:01,1\n";
    says(&fails(mixed), "not_a_number", "row 2");
    let mixed = "timestamp,water_g\n2031-05-04T09:30:00,0\n2031-05-04T09:30:01+02:00,1\n";
    says(&fails(mixed), "not_a_number", "row 2");
    says(&fails("time_s,water_g\n0,0\n2031-05-04T09:30:01,1\n"), "not_a_number", "row 2");
}

#[test]
fn a_row_is_counted_by_the_lines_below_the_header_left_out_or_not() {
    let text = "# made up\n\ntime_s,water_g\n0,0\n\n# a comment\n1,1\n,\n2,x\n";
    says(&fails(text), "not_a_number", "row 6");
    // Found only once the whole log is there, and still by its line.
    says(&fails("time_s,water_g\n0,0\n\n1,\n2,2\n"), "not_finite", "row 3");
}

#[test]
fn metadata_outside_its_range_is_named() {
    let log = |meta| arrays_with(meta).map(|_| ());
    let m = Meta::default;
    for (meta, name, value) in [
        (Meta { tds_pct: Some(100.5), ..m() }, "tds_pct", 100.5),
        (Meta { tds_pct: Some(0.0), ..m() }, "tds_pct", 0.0),
        (Meta { tds_sd_pct: Some(-0.1), ..m() }, "tds_sd_pct", -0.1),
        (Meta { dose_g: Some(-15.0), ..m() }, "dose_g", -15.0),
        (Meta { dose_g: Some(f64::INFINITY), ..m() }, "dose_g", f64::INFINITY),
        (Meta { dose_sd_g: Some(-1.0), ..m() }, "dose_sd_g", -1.0),
        (Meta { water_c: Some(300.0), ..m() }, "water_c", 300.0),
    ] {
        let error = log(meta).unwrap_err();
        assert!(
            matches!(&error, Error::OutOfRange { name: n, value: v, row: 0, .. } if n == name && *v == value),
            "{error:?}"
        );
        says(&error, "out_of_range", "it must be");
    }
    assert_eq!(log(Meta { dose_g: Some(f64::NAN), ..m() }).unwrap_err().kind(), "out_of_range");
    let commented = "# tds_pct: 130\ntime_s,water_g\n0,0\n1,1\n2,2\n";
    says(&fails(commented), "out_of_range", "tds_pct is 130: it must be above 0 and at most 100 %");
}

fn arrays_with(meta: Meta) -> pourline::Result<Log> {
    Log::new(vec![0.0, 1.0, 2.0], Some(vec![0.0, 1.0, 2.0]), None, meta)
}

#[test]
fn a_dose_that_is_missing_or_0_is_taken() {
    for dose_g in [None, Some(0.0)] {
        assert!(
            arrays_with(Meta { dose_g, ..Meta::default() }).is_ok(),
            "the yield is undefined, the rest still runs"
        );
    }
}

#[test]
fn a_note_that_is_no_number_or_is_there_twice_is_refused() {
    says(&fails("# dose_g: fifteen\ntime_s,water_g\n0,0\n"), "format", "the note dose_g holds \"fifteen\"");
    says(
        &fails("# dose_g: 15\n# dose_g: 16\ntime_s,water_g\n0,0\n"),
        "format",
        "the note dose_g is there twice",
    );
    says(&fails(b"# person: J\xf6\ntime_s,water_g\n0,0\n"), "format", "the note person is not UTF-8 text");
}
