//! What must hold of the result of any log, whatever the hand and the rate; `tests/worlds` has the hands.

use crate::errors::meets;
use crate::judged::{self, INVARIANTS, Judged, judge};
use crate::worlds::{Hand, Kind, Ramps, Random, Setting, Shape, kinds, log, shaped};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::sync::OnceLock;

const RATES_HZ: [f64; 5] = [10.0, 5.0, 2.0, 1.0, 50.0];
/// Logs of the fast tests: each kind once, the rates in turn.
const FEW: u64 = 52;
/// Unless RANDOM_LOGS says how many.
const MANY: u64 = 1_250;
/// Pours that may be missed or made up, of all.
const WRONG: f64 = 0.001;
/// Logs without a fault that may carry a warning.
const WARNED: f64 = 0.01;

/// One log and what is broken in its result.
struct Tried {
    log: String,
    broken: Vec<(&'static str, String)>,
    warnings: Vec<String>,
    refused: Option<String>,
    pours: usize,
    /// Pours that are missed, and made up.
    wrong: [usize; 2],
}

/// Random logs over all kinds and rates.
fn tried(logs: std::ops::Range<u64>) -> Vec<Tried> {
    logs.into_par_iter()
        .map(|seed| {
            let kind = &kinds()[(seed % kinds().len() as u64) as usize];
            // A step of the rate after each round of kinds, so that every kind meets every rate.
            let turn = seed + seed / kinds().len() as u64;
            let rate_hz = RATES_HZ[(turn % RATES_HZ.len() as u64) as usize];
            let made = log(kind, &Setting { rate_hz, ..Setting::default() }, seed);
            let name = format!("{} at {rate_hz} Hz, seed {seed}", kind.name);
            let Judged { missed, extra, warnings, broken, refused, .. } = judge(&made, seed);
            let pours = made.pours.len();
            Tried { log: name, broken, warnings, refused, pours, wrong: [missed, extra] }
        })
        .collect()
}

/// The fast logs, analysed once for all tests.
fn few() -> &'static [Tried] {
    static FEW_TRIED: OnceLock<Vec<Tried>> = OnceLock::new();
    FEW_TRIED.get_or_init(|| tried(0..FEW))
}

/// The logs that break an invariant: how many, and the first few.
fn breaks(tried: &[Tried], name: &str) -> Option<String> {
    let found: Vec<String> = tried
        .iter()
        .filter_map(|t| Some(format!("{}: {}", t.log, t.broken.iter().find(|b| b.0 == name)?.1)))
        .collect();
    let first = found.iter().take(5).fold(String::new(), |text, line| text + "\n    " + line);
    (!found.is_empty())
        .then(|| format!("{name}: broken in {} of {} logs, such as{first}", found.len(), tried.len()))
}

fn holds(name: &str) {
    let says = breaks(few(), name);
    assert!(says.is_none(), "{}", says.unwrap_or_default());
}

#[test]
fn the_plateau_lies_between_the_least_flow_and_the_peak() {
    holds(judged::MINIMUM_PLATEAU_PEAK);
}

#[test]
fn the_mean_flow_is_at_most_the_peak() {
    holds(judged::MEAN_PEAK);
}

#[test]
fn the_flow_of_a_pour_adds_up_to_its_mass() {
    holds(judged::INTEGRAL);
}

#[test]
fn the_bound_of_unevenness_lies_above_it() {
    holds(judged::BOUND);
}

#[test]
fn the_edges_of_a_pour_are_in_order() {
    holds(judged::ORDER);
    holds(judged::APART);
}

#[test]
fn shares_lie_between_0_and_100_percent() {
    holds(judged::SHARES);
}

#[test]
fn every_number_is_finite_and_has_an_sd() {
    holds(judged::NUMBERS);
}

#[test]
fn a_log_of_any_hand_is_analysed() {
    let refused: Vec<_> = few().iter().filter_map(|t| Some((&t.log, t.refused.as_ref()?))).collect();
    assert!(refused.is_empty(), "{refused:#?}");
}

#[test]
fn every_pour_is_detected_once() {
    let wrong: Vec<_> = few()
        .iter()
        .filter(|t| t.wrong != [0, 0])
        .map(|t| format!("{}: missed, made up {:?}", t.log, t.wrong))
        .collect();
    assert!(wrong.is_empty(), "{wrong:#?}");
}

/// One pour whose flow grows from 4 to 8 g/s in 14 s, opened and closed at once.
fn line(_: &mut Random) -> Hand {
    let ramps = Ramps { open: (0.02, Shape::Linear), close: (0.02, Shape::Linear) };
    shaped(14.0, &ramps, |u, _| 4.0 + 4.0 * u)
}

/// 84 g at 6 g/s; the truth is worked out by hand in the tests of the worlds.
#[test]
fn a_flow_from_4_to_8_is_6_without_noise() {
    static LINE: Kind = Kind { pours: (1, 1), ..Kind::new("line", line) };
    let exact =
        Setting { noise_sd_g: 0.0, step_g: 0.0, lag_s: Some(0.1), force: Some(false), ..Setting::default() };
    let judged = judge(&log(&LINE, &exact, 2), 2);
    let row = &judged.rows[0];
    let off = |name: &str| {
        let k = judged::SCORED.iter().position(|n| *n == name).expect("a scored number");
        let number = &row.numbers[k];
        (number.truth.expect("it has one"), number.found.as_ref().map_or(f64::NAN, |f| f.value))
    };
    let says: Vec<String> = [
        ("mean_flow_g_per_s", 0.01),
        ("plateau_flow_g_per_s", 0.005),
        ("peak_flow_g_per_s", 0.04),
        ("flow_cv", 0.018 / 0.178),
    ]
    .into_iter()
    .map(|(name, share)| (name, share, off(name)))
    .filter(|(_, share, (truth, found))| found.is_nan() || (found - truth).abs() > share * truth)
    .map(|(name, _, (truth, found))| format!("{name} is {truth:.3}, found {found:.3}"))
    .collect();
    assert!(says.is_empty() && judged.warnings.is_empty(), "{says:?}, {:?}", judged.warnings);
}

/// In so few logs not one may carry a warning: at 1 % of all logs, two of them would in one of 10 such sets.
#[test]
fn hardly_any_log_without_a_fault_carries_a_warning() {
    let warned: Vec<_> =
        few().iter().filter(|t| !t.warnings.is_empty()).map(|t| (&t.log, &t.warnings)).collect();
    assert!(warned.len() <= 1, "{} of {FEW} logs: {warned:#?}", warned.len());
}

#[test]
#[ignore = "slow"]
fn invariants_hold_in_random_logs_by_the_thousand() {
    let many = std::env::var("RANDOM_LOGS").ok().and_then(|n| n.parse().ok()).unwrap_or(MANY);
    let tried = tried(FEW..FEW + many);
    let says: Vec<String> = INVARIANTS.iter().filter_map(|name| breaks(&tried, name)).collect();
    println!("{}", says.join("\n"));
    let broken = tried.iter().filter(|t| !t.broken.is_empty()).count();
    meets("logs that break an invariant", &[broken as f64], ..=0.0);
    let refused: Vec<&str> = tried.iter().filter_map(|t| t.refused.as_deref()).collect();
    assert!(refused.is_empty(), "{} logs were refused, such as: {}", refused.len(), refused[0]);
    let [missed, extra] = [0, 1].map(|k| tried.iter().map(|t| t.wrong[k]).sum::<usize>());
    let pours = tried.iter().map(|t| t.pours).sum::<usize>();
    println!("{missed} of {pours} pours are missed, and {extra} are made up");
    meets("pours missed or made up, share", &[(missed + extra) as f64 / pours as f64], ..=WRONG);
    let warned = tried.iter().filter(|t| !t.warnings.is_empty()).count();
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for t in tried.iter().filter(|t| !t.warnings.is_empty()) {
        *kinds.entry(t.log.split(" at ").next().unwrap_or_default()).or_default() += 1;
    }
    println!("{warned} of {} logs without a fault carry a warning: {kinds:?}", tried.len());
    meets("logs with a warning, share", &[warned as f64 / tried.len() as f64], ..=WARNED);
}

/// What is compared with the truth is what the truth has: a pour that is not detected is missed, and one that is
/// detected twice is extra.
#[test]
fn a_judged_log_has_each_pour_once() {
    let level = &kinds()[0];
    let mut made = log(level, &Setting::default(), 8);
    let Judged { rows, missed, extra, .. } = judge(&made, 8);
    assert_eq!((rows.len(), missed, extra), (made.pours.len(), 0, 0));
    made.pours.pop();
    let fewer = judge(&made, 8);
    assert_eq!((fewer.rows.len(), fewer.missed, fewer.extra), (made.pours.len(), 0, 1));
    // The mass of a level pour at 10 Hz is known to a tenth of a gram or so.
    let mass = &rows[0].numbers[4];
    assert!((mass.truth.unwrap() - mass.found.unwrap().value).abs() < 0.5);
}
