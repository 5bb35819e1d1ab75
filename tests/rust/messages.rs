//! Errors that quote an untrusted text: short, and without control characters.

use pourline::{Log, Meta, ReadOptions};

#[test]
fn a_message_is_short_and_steers_no_terminal() {
    // ECMA-48: ESC and the C1 controls steer; Unicode annex 9: U+202E turns the direction of reading.
    let second = |name: &str| {
        let options = ReadOptions { water: Some("2".into()), ..ReadOptions::default() };
        let text = format!("time_s,{name}\n0,0\n1,x\n");
        Log::read_bytes(text.as_bytes(), &options, Meta::default()).unwrap_err()
    };
    let said = second("a\u{9b}\u{202e}b (g)").to_string();
    assert!(said.starts_with("column a\\u{9b}\\u{202e}b (g), row 2"), "{said}");
    let said = pourline::Labels::from_json(r#"{"\u001b[31m": 1}"#).unwrap_err().to_string();
    assert!(said.contains("unknown field `\\u{1b}[31m`"), "{said}");
    let key = "k".repeat(100_000);
    for error in [
        second(&key),
        pourline::Labels::from_json(&format!("{{\"{key}\": 1}}")).unwrap_err(),
        pourline::Plan::parse(&format!("{} = 1", &key[..60_000])).unwrap_err(),
    ] {
        let said = error.to_string();
        assert!(said.len() < 1600 && said.contains("kkkk") && said.ends_with("..."), "{said}");
    }
}

#[test]
fn a_plan_that_is_no_plan_by_its_size_is_refused() {
    let error = pourline::Plan::parse(&"#".repeat(70_000)).unwrap_err();
    assert!(error.kind() == "format" && error.to_string().contains("more than 64 KiB"), "{error}");
    let error = pourline::Plan::parse(&format!("{}a = 1", "a.".repeat(1001))).unwrap_err();
    assert!(error.kind() == "format" && error.to_string().contains("more than 1000 dots"), "{error}");
    // So many pours with a dot in each number are still a plan.
    let pour = |k: u32| format!("[[pour]]\nstart_s = {k}.0\nmass_g = 0.5\n");
    assert_eq!(pourline::Plan::parse(&(0..500).map(pour).collect::<String>()).unwrap().pours().len(), 500);
}
