//! What injected faults do to results: shared by the test and the table.
//!
//! In: a kind of fault, a strength, a seed. Out: a [`Verdict`] on the log that holds it, beside the same brew without
//! it.
//!
//! A number is *changed* if it lies more than `SDS` of its own sd from the truth, while that of the same brew
//! without the fault does not, and if the fault moved it by more than its sd: a number that lay nearly as far off
//! without it was not changed by it. So is a pour that was missed or made up, and a log that is not one whole brew. A
//! change is *told* by an event at the place as the result states it, since no one who reads it knows the true one (an
//! event elsewhere does not count), by a warning that names the matter or, for the numbers of a pour, that pour, by an
//! error, or by a reason in place of a number. What is changed and not told is *silent*.

pub mod after;
mod kinds;

pub use kinds::{Kind, kinds, none};

use crate::matched::pairs;
use pourline::simulate::TruePour;
use pourline::{
    Brew, Channel, Error, Estimate, Event, EventKind, Log, Maybe, Options, Pour, Recipe, Truth, analyze,
    simulate,
};

/// Sd beyond which a number is wrong.
pub const SDS: f64 = 4.0;
/// An event this near to an edge is at it, s.
const NEAR_S: f64 = 1.0;

/// A log with a fault in it, and what is true of it.
pub struct Made {
    /// The log, or why there is none.
    pub log: Result<Log, Error>,
    /// What was poured, in the log's own stamps.
    pub pours: Vec<Expected>,
    /// Water, beverage and retention of the brew; none if the log is not of one complete brew.
    pub whole: [Option<f64>; 3],
    /// Whether the fault must be reported even if every number is correct.
    pub must: Must,
}

/// A pour that was truly poured.
pub struct Expected {
    pub start_s: f64,
    pub end_s: f64,
    pub mass_g: f64,
    /// Its place in the brew without the fault, if it has one.
    pub twin: Option<usize>,
    /// Whether it may as well not be found: a clock ran through it, or hardly any of it is in the log.
    pub optional: bool,
}

/// What a fault makes of the whole log.
#[derive(Clone, Copy)]
pub enum Must {
    /// Nothing but the numbers.
    Nothing,
    /// A warning must name it, or an error.
    Warning,
    /// An event must lie between these two instants, or a warning name it.
    Between(f64, f64),
    /// A warning must name it if pours were detected on both sides of this instant.
    CautionIfAcross(f64),
}

/// One number of the result that was compared: error, and sd as stated.
#[derive(Clone, Copy)]
pub struct Off {
    pub error: f64,
    pub sd: f64,
}

impl Off {
    fn of(found: &Maybe, truth: Option<f64>) -> Option<Self> {
        let found = found.as_ref().ok()?;
        Some(Self { error: found.value - truth?, sd: found.sd })
    }

    /// A number that there is not.
    const NONE: Self = Self { error: f64::NAN, sd: f64::NAN };

    /// Whether the fault made it wrong, compared with the twin's number.
    fn is_changed(self, twin: Option<Self>) -> bool {
        let by_it = |twin: Self| !twin.is_wrong() && (self.error - twin.error).abs() > self.sd;
        self.is_wrong() && twin.is_none_or(by_it)
    }

    fn is_wrong(self) -> bool {
        // A number that is none is wrong too.
        self.error.is_nan() || self.sd.is_nan() || self.error.abs() > SDS * self.sd
    }
}

/// What became of one log.
#[derive(Default)]
pub struct Verdict {
    pub pours: usize,
    pub missed: usize,
    pub invented: usize,
    pub edges_s: Vec<Off>,
    pub masses_g: Vec<Off>,
    /// Water, beverage and retention.
    pub whole: [Option<Off>; 3],
    /// Whether anything listed reports the fault, at any place.
    pub flagged: bool,
    /// The reports of the fault: kinds of events, warnings, errors.
    pub told: Vec<String>,
    /// The changed numbers, reported or not.
    pub changed: Vec<String>,
    /// The changed numbers that were not reported.
    pub silent: Vec<String>,
    /// All warnings on the log as a whole.
    pub warnings: Vec<String>,
}

/// The same brew without the fault.
pub struct Twin {
    pub truth: Truth,
    /// Start, end and mass of each pour, and water, beverage and retention; unused if there is no such number.
    pours: Vec<[Off; 3]>,
    whole: Vec<Off>,
}

impl Twin {
    /// A twin that excuses nothing.
    pub fn blind(truth: &Truth) -> Self {
        Self { truth: truth.clone(), pours: Vec::new(), whole: Vec::new() }
    }

    pub fn new(recipe: &Recipe, seed: u64) -> Self {
        let (log, truth) = simulate(recipe, seed).expect("the recipe is sound");
        let made = Made::of(log, &truth, &truth);
        let brew =
            analyze(made.log.as_ref().expect("it was simulated"), &Options::default()).expect("a whole log");
        let pairs = same(&made.pours, &brew.segments.pours);
        let pours = (0..made.pours.len()).map(|k| match pairs.iter().find(|p| p.0 == k) {
            Some(&(k, f)) => offs(&made.pours[k], &brew.segments.pours[f]),
            None => [Off::NONE; 3],
        });
        let whole = whole(&brew, &made.whole).map(|off| off.unwrap_or(Off::NONE));
        Self { pours: pours.collect(), whole: whole.to_vec(), truth }
    }
}

impl Made {
    /// A log whose pours are those of a truth, numbered as in the twin; what is true of it otherwise.
    pub fn of(log: Log, truth: &Truth, twin: &Truth) -> Self {
        let same = truth.pours.len() == twin.pours.len();
        let last = |v: &[f64]| v.last().copied();
        let (water, beverage) = (last(&truth.water_g), last(&truth.beverage_g));
        let kept = water.zip(beverage).map(|(w, b)| (w - b) / truth.dose_g);
        Self {
            log: Ok(log),
            pours: (0..).zip(&truth.pours).map(|(k, p)| Expected::of(p, same.then_some(k))).collect(),
            whole: [water, beverage, kept],
            must: Must::Nothing,
        }
    }
}

impl Expected {
    pub fn of(pour: &TruePour, twin: Option<usize>) -> Self {
        let TruePour { start_s, end_s, mass_g, .. } = *pour;
        Self { start_s, end_s, mass_g, twin, optional: false }
    }
}

fn offs(truth: &Expected, found: &Pour) -> [Off; 3] {
    let off = |e: Estimate, truth: f64| Off { error: e.value - truth, sd: e.sd };
    [off(found.start_s, truth.start_s), off(found.end_s, truth.end_s), off(found.mass_g, truth.mass_g)]
}

fn whole(brew: &Brew, truth: &[Option<f64>; 3]) -> [Option<Off>; 3] {
    let found = [&brew.water_g, &brew.beverage_g, &brew.bed.retention_g_per_g];
    std::array::from_fn(|k| Off::of(found[k], truth[k]))
}

/// Pairs of true and found pours, the largest share of overlap first.
fn same(truth: &[Expected], found: &[Pour]) -> Vec<(usize, usize)> {
    let truth: Vec<(f64, f64)> = truth.iter().map(|p| (p.start_s, p.end_s)).collect();
    let found: Vec<(f64, f64)> = found.iter().map(|p| (p.start_s.value, p.end_s.value)).collect();
    pairs(&truth, &found)
}

/// All warnings of a brew.
pub fn warnings(brew: &Brew) -> Vec<String> {
    brew.warnings.iter().chain(&brew.bed.warnings).chain(&brew.extraction.warnings).cloned().collect()
}

/// Warnings on the log as a whole that are false; a drifting zero is a true one.
pub fn false_cautions(brew: &Brew, truth: &Truth) -> Vec<String> {
    let drifts = truth.events.iter().any(|e| e.kind == EventKind::Drift && e.channel == Channel::Water);
    let of_the_zero = |warning: &String| warning.starts_with("the zero of the water's scale");
    brew.warnings.iter().filter(|c| !(drifts && of_the_zero(c))).cloned().collect()
}

/// What a fault of this kind did to one log.
pub fn judge(kind: &Kind, made: &Made, twin: &Twin) -> Verdict {
    let mut v = Verdict { pours: made.pours.iter().filter(|p| !p.optional).count(), ..Verdict::default() };
    let brew = match &made.log {
        Ok(log) => analyze(log, &Options::default()),
        Err(error) => Err(error.clone()),
    };
    let brew = match brew {
        Ok(brew) => brew,
        Err(error) => {
            v.flagged = true;
            v.changed.push("refused".into());
            v.told.push(format!("error `{}`", error.kind()));
            return v;
        }
    };
    let all = warnings(&brew);
    let reason: Vec<String> =
        brew.bed.retention_g_per_g.as_ref().err().map(ToString::to_string).into_iter().collect();
    for (source, texts) in [("warning", &all), ("reason", &reason)] {
        let named = |word: &&&str| texts.iter().any(|text| text.contains(**word));
        v.told.extend(kind.words.iter().find(named).map(|word| format!("{source} “{word}”")));
    }
    let mut told = Told {
        events: &brew.trace.events,
        kind,
        cautioned: !v.told.is_empty(),
        warnings: &brew.warnings,
        kinds: Vec::new(),
    };
    v.flagged = told.between(f64::NEG_INFINITY, f64::INFINITY);
    told.kinds.clear();
    pours(&mut v, made, twin, &brew.segments.pours, &mut told);
    v.whole = whole(&brew, &made.whole);
    for (k, name) in ["water", "beverage", "retention"].into_iter().enumerate() {
        if v.whole[k].is_some_and(|off| off.is_changed(twin.whole.get(k).copied())) {
            let told = told.between(f64::NEG_INFINITY, f64::INFINITY);
            v.note(name.into(), told);
        }
    }
    let across = |at: f64| {
        let after = brew.segments.pours.iter().filter(|p| p.start_s.value > at).count();
        after > 0 && after < brew.segments.pours.len()
    };
    match made.must {
        Must::Nothing => {}
        Must::Warning => v.note("log as a whole".into(), told.cautioned),
        Must::Between(from_s, to_s) => {
            let told = told.between(from_s, to_s);
            v.note("log as a whole".into(), told);
        }
        Must::CautionIfAcross(at_s) if across(at_s) => v.note("log as a whole".into(), told.cautioned),
        Must::CautionIfAcross(_) => {}
    }
    v.told.append(&mut told.kinds);
    v.told.sort();
    v.told.dedup();
    v.warnings = all;
    v
}

fn pours(v: &mut Verdict, made: &Made, twin: &Twin, found: &[Pour], told: &mut Told) {
    let pairs = same(&made.pours, found);
    for (k, truth) in made.pours.iter().enumerate() {
        let Some(&(_, f)) = pairs.iter().find(|p| p.0 == k) else {
            if !truth.optional {
                v.missed += 1;
                let told = told.between(truth.start_s - NEAR_S, truth.end_s + NEAR_S);
                v.note("pour missed".into(), told);
            }
            continue;
        };
        if truth.optional {
            continue;
        }
        let [start, end, mass] = offs(truth, &found[f]);
        v.edges_s.extend([start, end]);
        v.masses_g.push(mass);
        let before = truth.twin.and_then(|k| twin.pours.get(k));
        let at = |e: Estimate| (e.value - NEAR_S, e.value + NEAR_S);
        let places = [at(found[f].start_s), at(found[f].end_s), rests(found, f)];
        for (k, (off, name)) in [start, end, mass].into_iter().zip(["start", "end", "mass"]).enumerate() {
            if off.is_changed(before.map(|before| before[k])) {
                let told = told.of_pour(&found[f], places[k]);
                v.note(name.into(), told);
            }
        }
    }
    for (f, pour) in found.iter().enumerate() {
        if pairs.iter().all(|p| p.1 != f) {
            v.invented += 1;
            let told = told.of_pour(pour, (pour.start_s.value - NEAR_S, pour.end_s.value + NEAR_S));
            v.note("pour made up".into(), told);
        }
    }
}

/// From the end of the pour before to the start of the pour after: a mass is the difference of these two levels.
fn rests(found: &[Pour], f: usize) -> (f64, f64) {
    let before = f.checked_sub(1).map_or(f64::NEG_INFINITY, |f| found[f].end_s.value);
    (before - NEAR_S, found.get(f + 1).map_or(f64::INFINITY, |p| p.start_s.value) + NEAR_S)
}

impl Verdict {
    fn note(&mut self, what: String, told: bool) {
        if !told {
            self.silent.push(what.clone());
        }
        self.changed.push(what);
    }
}

/// The reports of the fault in the result.
struct Told<'a> {
    events: &'a [Event],
    kind: &'a Kind,
    cautioned: bool,
    warnings: &'a [String],
    /// Kinds of the events that reported something.
    kinds: Vec<String>,
}

impl Told<'_> {
    /// Whether something tells that a number of this pour, read at that place, is off: a warning that names the pour as
    /// the result states it does too.
    fn of_pour(&mut self, pour: &Pour, (from_s, to_s): (f64, f64)) -> bool {
        let named = format!("({:.1} to {:.1} s)", pour.start_s.value, pour.end_s.value);
        let names = |warning: &&String| warning.contains("fit the pour model") && warning.contains(&named);
        let doubted = self.warnings.iter().any(|warning| names(&warning));
        self.kinds.extend(doubted.then(|| "warning of that pour".into()));
        self.between(from_s, to_s) || doubted
    }

    /// Whether the fault is reported between two instants.
    fn between(&mut self, from_s: f64, to_s: f64) -> bool {
        // An event of the whole log reports one place only if the fault is of that kind.
        let local = |e: &&Event| {
            let whole = matches!(e.kind, EventKind::Drift | EventKind::Reordered);
            !whole || self.kind.everywhere.contains(&e.kind)
        };
        let here = |e: &&Event| e.start_s <= to_s && e.end_s >= from_s;
        let found: Vec<String> = self
            .events
            .iter()
            .filter(local)
            .filter(here)
            .map(|e| format!("{:?}", e.kind).to_lowercase())
            .collect();
        let any = !found.is_empty();
        self.kinds.extend(found);
        any || self.cautioned
    }
}
