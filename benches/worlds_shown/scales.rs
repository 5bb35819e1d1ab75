//! One line per kind of scale, each under hands that are level, slope, wobble and step.

use super::bars::Figure;
use super::calibrated::{self, Calibrated};
use crate::judged::{Judged, SCORED, judge_with};
use crate::worlds::{Kind, Put, Scale, Setting, kinds, log, scales};
use pourline::{EventKind, Options};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

const HANDS: [&str; 4] = ["level", "falling", "beat_06", "step"];
const HALVES: [&str; 2] = ["half_rise_s", "half_fall_s"];
const OTHERS: [&str; 3] = ["start_s", "end_s", "mass_g"];

/// What a kind of scale must meet at 10 readings a second: mean absolute error of half-edges, s, if nothing is known of
/// the scale, and if it was calibrated; of the mass, g.
struct Bar {
    name: &'static str,
    half_s: f64,
    calibrated_s: f64,
    mass_g: Option<f64>,
}

const fn bar(name: &'static str, half_s: f64, calibrated_s: f64) -> Bar {
    Bar { name, half_s, calibrated_s, mass_g: None }
}

const BARS: [Bar; 10] = [
    bar("lag", 0.025, 0.016),
    bar("two_lags", 0.045, 0.018),
    bar("average_03", 0.035, 0.018),
    bar("average_06", 0.03, 0.018),
    bar("average_1", 0.03, 0.018),
    bar("lag_average_5hz", 0.05, 0.02),
    bar("overshoot", 0.025, 0.018),
    bar("quick_slow", 0.03, 0.02),
    Bar { mass_g: Some(0.08), ..bar("held", 0.04, 0.02) },
    Bar { mass_g: Some(0.06), ..bar("followed_zero", f64::NAN, f64::NAN) },
];
/// With a stream that presses, any response.
const HALF_UNDER_FORCE_S: f64 = 0.06;
/// A step in the load of the log shows the response: half-edges are off by no more than this times those of a
/// calibrated scale.
const BY_STEP: f64 = 1.5;
/// Kinds that do what is a fault of the log: an event or a warning of it is true.
const FAULTY: [&str; 3] = ["unsigned", "counter", "drift"];
/// Kinds that make fewer values than the log has rows: that their stamps are replaced is true.
const SLOW: [&str; 2] = ["slow_converter", "average_updates"];

/// Errors of some numbers.
#[derive(Default)]
pub struct Errors {
    /// Error and stated sd.
    pub all: Vec<(f64, f64)>,
}

impl Errors {
    pub fn mean(&self, of: impl Fn(&(f64, f64)) -> f64) -> f64 {
        self.all.iter().map(of).sum::<f64>() / self.all.len() as f64
    }

    pub fn absolute(&self) -> f64 {
        self.mean(|e| e.0.abs())
    }

    pub fn bias(&self) -> f64 {
        self.mean(|e| e.0)
    }

    pub fn rms(&self) -> f64 {
        self.mean(|e| e.0 * e.0).sqrt()
    }

    pub fn sd_over_rms(&self) -> f64 {
        self.mean(|e| e.1) / self.rms()
    }

    pub fn within(&self, sds: f64) -> f64 {
        self.mean(|e| f64::from(u8::from(e.0.abs() <= sds * e.1)))
    }
}

/// All figures of one kind of scale.
struct Tally {
    name: &'static str,
    logs: usize,
    pours: usize,
    missed: usize,
    extra: usize,
    errors: BTreeMap<&'static str, Errors>,
    halves: Errors,
    others: Errors,
    /// Shares of all numbers but `flow_cv`: beyond 4 sd, and those of them whose pour no warning and no event names.
    beyond: f64,
    silent: f64,
    /// Per log.
    warnings: f64,
    events: f64,
    /// Share of the logs with a warning or an event that no fault of the log explains.
    groundless: f64,
    kinds: BTreeMap<String, usize>,
    says: BTreeMap<String, (usize, String)>,
    calibrations: calibrated::Tally,
}

impl Tally {
    fn new(scale: &Scale, put: Option<Put>, judged: &[(Judged, Option<Calibrated>)]) -> Self {
        let calibrations = calibrated::Tally::new(judged.iter().filter_map(|(_, c)| c.as_ref()));
        let judged: Vec<&Judged> = judged.iter().map(|(judged, _)| judged).collect();
        let mut errors: BTreeMap<&'static str, Errors> = BTreeMap::new();
        let (mut halves, mut others) = (Errors::default(), Errors::default());
        let (mut numbers, mut beyond, mut silent) = (0.0, 0.0, 0.0);
        for row in judged.iter().flat_map(|j| &j.rows) {
            for (name, number) in SCORED.iter().zip(&row.numbers).filter(|(name, _)| **name != "flow_cv") {
                let Some((truth, found)) = number.truth.zip(number.found) else { continue };
                let error = (found.value - truth, found.sd);
                errors.entry(name).or_default().all.push(error);
                if HALVES.contains(name) {
                    halves.all.push(error);
                } else if OTHERS.contains(name) {
                    others.all.push(error);
                }
                let far = error.0.abs() > 4.0 * error.1;
                numbers += 1.0;
                beyond += f64::from(u8::from(far));
                silent += f64::from(u8::from(far && !row.named));
            }
        }
        let sum = |of: fn(&Judged) -> usize| judged.iter().map(|j| of(j)).sum::<usize>();
        let logs = judged.len() as f64;
        let put_on = |e: &EventKind| {
            put.is_some() && matches!(e, EventKind::Placed | EventKind::Zeroing | EventKind::Preparation)
        };
        let is_true = |e: &EventKind| put_on(e) || (SLOW.contains(&scale.name) && *e == EventKind::Retimed);
        let groundless =
            |j: &&&Judged| !j.warnings.is_empty() || !j.events.iter().all(is_true) || j.refused.is_some();
        let mut kinds = BTreeMap::new();
        judged.iter().flat_map(|j| &j.events).for_each(|e| *kinds.entry(format!("{e:?}")).or_default() += 1);
        let mut says: BTreeMap<String, (usize, String)> = BTreeMap::new();
        for text in judged.iter().flat_map(|j| j.warnings.iter().chain(&j.refused)) {
            // The pours that it names, and the figures, differ from log to log.
            let bare = text.rsplit(") ").next().unwrap_or(text).replace(|c: char| !c.is_alphabetic(), "");
            says.entry(bare.chars().take(24).collect()).or_insert_with(|| (0, text.clone())).0 += 1;
        }
        Self {
            name: scale.name,
            logs: judged.len(),
            pours: sum(|j| j.rows.len() + j.missed),
            missed: sum(|j| j.missed),
            extra: sum(|j| j.extra),
            errors,
            halves,
            others,
            beyond: beyond / numbers,
            silent: silent / numbers,
            warnings: sum(|j| j.warnings.len()) as f64 / logs,
            events: sum(|j| j.events.len()) as f64 / logs,
            groundless: judged.iter().filter(groundless).count() as f64 / logs,
            kinds,
            says,
            calibrations,
        }
    }

    fn sd_over_rms(&self, name: &str) -> String {
        format!("{:.2}", self.errors.get(name).map_or(f64::NAN, Errors::sd_over_rms))
    }

    fn absolute(&self, name: &str) -> f64 {
        self.errors.get(name).map_or(f64::NAN, Errors::absolute)
    }
}

/// The hands of the tables: a mix, or those that are selected.
pub fn hands(selected: Option<impl Fn(&&Kind) -> bool>) -> Vec<&'static Kind> {
    match selected {
        Some(wanted) => kinds().iter().filter(wanted).collect(),
        None => kinds().iter().filter(|kind| HANDS.contains(&kind.name)).collect(),
    }
}

/// Prints the tables and bars of one rate; if asked, the scale of each log is calibrated before. Returns how many bars
/// are missed, each kind of scale by itself.
pub fn judged(hands: &[&Kind], setting: &Setting, calibrate: bool, seeds: Range<u64>) -> usize {
    let logs: Vec<(&Kind, u64)> =
        hands.iter().flat_map(|kind| seeds.clone().map(move |seed| (*kind, seed))).collect();
    let tallies: Vec<Tally> = scales()
        .iter()
        .filter(|scale| setting.scale.is_none_or(|only| only.name == scale.name))
        .map(|scale| {
            let setting = Setting { scale: Some(scale), ..setting.clone() };
            let one = |&(kind, seed): &(&Kind, u64)| {
                let made = log(kind, &setting, seed);
                let calibrated = calibrate.then(|| Calibrated::new(&made, &setting, seed));
                let options = calibrated.as_ref().map_or_else(Options::default, |c| c.options.clone());
                (judge_with(&made, &options, seed), calibrated)
            };
            Tally::new(scale, setting.put, &logs.par_iter().map(one).collect::<Vec<_>>())
        })
        .collect();
    table(setting, calibrate, &tallies);
    println!();
    let figures = bars(setting, calibrate, &tallies);
    figures.iter().for_each(|figure| println!("{}", figure.says()));
    figures.iter().map(Figure::missed).sum()
}

/// Head and cells.
type Column = (&'static str, fn(&Tally) -> String);

const COLUMNS: [Column; 20] = [
    ("logs", |t| t.logs.to_string()),
    ("pours", |t| t.pours.to_string()),
    ("missed", |t| t.missed.to_string()),
    ("made up", |t| t.extra.to_string()),
    ("half", |t| format!("{:.4}", t.halves.absolute())),
    ("bias", |t| format!("{:.4}", t.halves.bias())),
    ("rms", |t| format!("{:.4}", t.halves.rms())),
    ("start", |t| format!("{:.3}", t.absolute("start_s"))),
    ("end", |t| format!("{:.3}", t.absolute("end_s"))),
    ("mass", |t| format!("{:.3}", t.absolute("mass_g"))),
    ("flow", |t| format!("{:.3}", t.absolute("mean_flow_g_per_s"))),
    ("half%", |t| format!("{:.1}", 100.0 * t.halves.within(2.0))),
    ("rest%", |t| format!("{:.1}", 100.0 * t.others.within(2.0))),
    (">4sd%", |t| format!("{:.1}", 100.0 * t.beyond)),
    ("silent%", |t| format!("{:.1}", 100.0 * t.silent)),
    ("warns", |t| format!("{:.2}", t.warnings)),
    ("events", |t| format!("{:.2}", t.events)),
    ("s sd", |t| t.sd_over_rms("start_s")),
    ("e sd", |t| t.sd_over_rms("end_s")),
    ("m sd", |t| t.sd_over_rms("mass_g")),
];

fn table(setting: &Setting, calibrate: bool, tallies: &[Tally]) {
    let more = setting.put.map_or(String::new(), |put| format!(", {put:?} put on").to_lowercase())
        + &setting.around.map_or(String::new(), |around| format!(", {around:?}").to_lowercase());
    let stream = if setting.force == Some(true) { "the stream presses" } else { "the stream does not press" };
    let more = more + if calibrate { ", the scale is calibrated" } else { "" };
    println!("\n## {} readings a second, {stream}{more}\n", setting.rate_hz);
    println!(
        "half, start, end s, mass g, flow g/s: mean absolute errors; bias, rms: of half-edges, s. half%, rest%: truth \
         within 2 sd,\nhalf-edges, and start, end and mass. >4sd%, silent%: of all numbers. warns, events: per log. \
         s, e, m sd: mean sd over\nrms error of start, end, mass."
    );
    let heads: String = COLUMNS.iter().map(|(head, _)| format!("{head:>8}")).collect();
    println!("{:16}{heads}", "");
    for t in tallies {
        let cells: String = COLUMNS.iter().map(|(_, of)| format!("{:>8}", of(t))).collect();
        println!("{:16}{cells}", t.name);
    }
    println!();
    if calibrate {
        let of: Vec<_> = tallies.iter().map(|t| (t.name, &t.calibrations)).collect();
        calibrated::table(&of);
    }
    for t in tallies.iter().filter(|t| !t.kinds.is_empty()) {
        let kinds: Vec<String> = t.kinds.iter().map(|(kind, n)| format!("{kind} {n}")).collect();
        println!("events in {}: {}", t.name, kinds.join(", "));
    }
    for t in tallies {
        for (logs, text) in t.says.values() {
            println!("warned {logs} times in {}: {text}", t.name);
        }
    }
}

fn bars(setting: &Setting, calibrate: bool, tallies: &[Tally]) -> Vec<Figure> {
    let figure = |name: &str, at_least: bool, of: &dyn Fn(&Tally) -> Option<(f64, f64)>| {
        // A kind of which every pour is missed has no errors: it misses the bar of missed pours.
        let known = tallies.iter().filter_map(|t| of(t).map(|(value, bar)| (t.name, value, bar)));
        Figure::new(name, at_least, known.filter(|(_, value, _)| !value.is_nan()).collect())
    };
    let of = |t: &Tally| BARS.iter().find(|b| b.name == t.name);
    let half = |t: &Tally| {
        let bar = of(t).filter(|b| b.half_s.is_finite())?;
        Some(match setting {
            Setting { force: Some(true), .. } => HALF_UNDER_FORCE_S,
            _ if calibrate => bar.calibrated_s,
            Setting { put: Some(_), .. } => BY_STEP * bar.calibrated_s,
            _ => bar.half_s,
        })
    };
    let mut all = Vec::new();
    if setting.rate_hz == 10.0 {
        all.push(figure("half-edges, mean absolute error s", false, &|t| {
            half(t).map(|bar| (t.halves.absolute(), bar))
        }));
        all.push(figure("mass, mean absolute error g", false, &|t| {
            of(t).and_then(|b| b.mass_g).map(|bar| (t.absolute("mass_g"), bar))
        }));
    }
    if calibrate {
        let of = |t: &Tally, figure: fn(&Errors) -> f64, bar| Some((figure(&t.calibrations.delays), bar));
        all.push(figure("delay: truth within 2 sd", true, &|t| of(t, |e| e.within(2.0), 0.88)));
        all.push(figure("delay: mean sd over rms error", false, &|t| of(t, Errors::sd_over_rms, 1.5)));
        all.push(figure("calibrations refused, share", false, &|t| Some((t.calibrations.refused(), 0.03))));
    }
    all.push(figure("half-edges: truth within 2 sd", true, &|t| Some((t.halves.within(2.0), 0.9))));
    all.push(figure("start, end, mass: truth within 2 sd", true, &|t| Some((t.others.within(2.0), 0.88))));
    for name in OTHERS {
        all.push(figure(&format!("{name}: mean sd over rms error"), false, &|t| {
            Some((t.errors.get(name)?.sd_over_rms(), 1.5))
        }));
    }
    all.push(figure("numbers beyond 4 sd, share", false, &|t| Some((t.beyond, 0.02))));
    all.push(figure("numbers beyond 4 sd in silence, share", false, &|t| Some((t.silent, 0.005))));
    all.push(figure("logs with a groundless warning or event, share", false, &|t| {
        let faulty = FAULTY.contains(&t.name) || setting.around.is_some();
        (!faulty).then_some((t.groundless, 0.02))
    }));
    all.push(figure("pours missed", false, &|t| Some((t.missed as f64, 0.0))));
    all.push(figure("pours made up", false, &|t| Some((t.extra as f64, 0.0))));
    all
}
