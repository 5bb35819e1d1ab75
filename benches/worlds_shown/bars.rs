//! The bars, each held by every kind of hand by itself.

use super::Tally;
use crate::judged::SCORED;
use crate::worlds::Opening;

/// Kinds with fewer values than this are not judged.
const LEAST: usize = 20;

/// One bar: its worst kind.
pub struct Figure {
    name: String,
    bar: f64,
    at_least: bool,
    /// Kinds that have a value, and that meet the bar.
    judged: usize,
    met: usize,
    worst: Option<(&'static str, f64)>,
}

impl Figure {
    /// Kinds that miss the bar.
    pub fn missed(&self) -> usize {
        self.judged - self.met
    }

    pub fn met(&self) -> bool {
        self.met == self.judged
    }

    pub fn says(&self) -> String {
        let Self { name, bar, judged, met, .. } = self;
        let sign = if self.at_least { ">=" } else { "<=" };
        let worst =
            self.worst.map_or("no kind has it".into(), |(kind, value)| format!("worst {value:.4} in {kind}"));
        let mark = if self.judged == 0 {
            "-"
        } else if self.met() {
            "met"
        } else {
            "MISSED"
        };
        format!("{mark:7} {name:58} {sign} {bar:<6} {met:2} of {judged:2} kinds, {worst}")
    }

    fn of(name: &str, at_least: bool, tallies: &[Tally], of: impl Fn(&Tally) -> Option<(f64, f64)>) -> Self {
        let known = tallies.iter().filter_map(|t| of(t).map(|(value, bar)| (t.name, value, bar))).collect();
        Self::new(name, at_least, known)
    }

    /// From the values of the kinds, each with its bar.
    pub fn new(name: &str, at_least: bool, known: Vec<(&'static str, f64, f64)>) -> Self {
        // The worst by what it lacks, in units of the bar.
        let lacks = |value: f64, bar: f64| (if at_least { bar - value } else { value - bar }) / bar.max(1e-9);
        let meets = |value: f64, bar: f64| if at_least { value >= bar } else { value <= bar };
        let worst = known.iter().max_by(|a, b| lacks(a.1, a.2).total_cmp(&lacks(b.1, b.2)));
        Self {
            name: name.into(),
            bar: worst.map_or(f64::NAN, |w| w.2),
            at_least,
            judged: known.len(),
            met: known.iter().filter(|(_, value, bar)| meets(*value, *bar)).count(),
            worst: worst.map(|w| (w.0, w.1)),
        }
    }
}

/// All bars of a rate.
pub fn all(tallies: &[Tally], rate_hz: f64) -> Vec<Figure> {
    let mut all = Vec::new();
    if rate_hz == 10.0 {
        all.extend(errors(tallies));
        all.extend(coverage(tallies));
        all.extend(defined(tallies));
    }
    if rate_hz == 1.0 {
        all.push(Figure::of("flow_cv, mean absolute error", false, tallies, |t| {
            let e = t.error("flow_cv");
            (e.n >= LEAST).then_some((e.absolute, 0.05))
        }));
    }
    all.extend(unevenness(tallies, rate_hz));
    let count = |name: &str, of: fn(&Tally) -> usize| {
        Figure::of(name, false, tallies, move |t| Some((of(t) as f64, 0.0)))
    };
    all.push(count("pours missed", |t| t.missed));
    all.push(count("pours made up", |t| t.extra));
    all.push(count("logs refused", |t| t.refused));
    all.push(count("peak below mean", |t| t.peak_below_mean));
    all.push(count("logs with a broken invariant", |t| t.broken_logs));
    all.push(Figure::of("logs with a warning, share", false, tallies, |t| {
        Some((t.warned as f64 / t.logs as f64, 0.01))
    }));
    all
}

fn errors(tallies: &[Tally]) -> Vec<Figure> {
    let error = |name: &'static str, says: &str, bar: fn(&Tally) -> Option<f64>| {
        Figure::of(says, false, tallies, move |t| {
            let e = t.error(name);
            bar(t).filter(|_| e.n >= LEAST).map(|bar| (e.absolute, bar))
        })
    };
    let edge = |t: &Tally| (t.opening != Opening::Longest).then_some(0.045);
    let half = |t: &Tally| (t.opening != Opening::Longest).then_some(0.02);
    vec![
        error("plateau_flow_g_per_s", "plateau flow, mean absolute error %", |t| {
            Some(if t.name == "exponential" { 2.0 } else { 0.5 })
        }),
        error("peak_flow_g_per_s", "peak flow, mean absolute error %", |t| {
            Some(if t.name == "fine" { 5.0 } else { 4.0 })
        }),
        error("mean_flow_g_per_s", "mean flow, mean absolute error %", |_| Some(1.0)),
        error("flow_cv", "flow_cv, mean absolute error", |_| Some(0.018)),
        error("start_s", "start, mean absolute error s", edge),
        error("end_s", "end, mean absolute error s", edge),
        error("half_rise_s", "half-rise, mean absolute error s", half),
        error("half_fall_s", "half-fall, mean absolute error s", half),
    ]
}

fn coverage(tallies: &[Tally]) -> Vec<Figure> {
    let mut all = Vec::new();
    for name in SCORED.into_iter().filter(|name| *name != "flow_cv") {
        all.push(Figure::of(&format!("{name}: truth within 2 sd"), true, tallies, |t| {
            let edge = name.ends_with("_s") && !name.ends_with("per_s");
            let bar = if edge && t.opening != Opening::Usual { 0.85 } else { 0.88 };
            let e = t.error(name);
            (e.n >= LEAST).then_some((e.within_2_sd, bar))
        }));
    }
    all.push(Figure::of("flow_cv: truth within its 95 % interval", true, tallies, |t| {
        (t.error("flow_cv").n >= LEAST).then_some((t.cv_interval, 0.88))
    }));
    for name in
        ["start_s", "end_s", "mass_g", "mean_flow_g_per_s", "plateau_flow_g_per_s", "peak_flow_g_per_s"]
    {
        all.push(Figure::of(&format!("{name}: mean sd over rms error"), false, tallies, |t| {
            let e = t.error(name);
            (e.n >= LEAST && e.rms_pct > 0.2).then_some((e.sd_over_rms, 1.8))
        }));
    }
    for name in ["plateau_flow_g_per_s", "mass_g"] {
        all.push(Figure::of(&format!("{name}: mean error over mean sd"), false, tallies, |t| {
            let e = t.error(name);
            (e.n >= LEAST).then_some((e.bias_in_sd.abs(), 0.25))
        }));
    }
    all
}

fn unevenness(tallies: &[Tally], rate_hz: f64) -> Vec<Figure> {
    let mut all = vec![Figure::of("97.5 % bound of flow_cv holds", true, tallies, |t| {
        (t.error("flow_cv").n >= LEAST && t.bound_holds.is_finite()).then_some((t.bound_holds, 0.95))
    })];
    if [5.0, 10.0, 50.0].contains(&rate_hz) {
        all.push(Figure::of("mean error of flow_cv of .04 and more, share of it", false, tallies, |t| {
            let judged = t.error("flow_cv").n >= LEAST && t.cv_true >= 0.04;
            judged.then(|| ((t.cv_bias / t.cv_true).abs(), 0.1))
        }));
    }
    if rate_hz == 10.0 {
        all.push(Figure::of("flow_cv of .06 and more is resolved", true, tallies, |t| {
            (t.resolvable >= LEAST).then_some((t.resolved, 0.8))
        }));
    }
    all
}

fn defined(tallies: &[Tally]) -> Vec<Figure> {
    vec![
        Figure::of("each metric defined, pours of 6 s and more", true, tallies, |t| {
            (t.long >= LEAST).then_some((t.least_defined.0, 0.97))
        }),
        Figure::of("level pours with a change of flow, share", false, tallies, |t| {
            let level = ["level", "single", "short_rests"].contains(&t.name);
            let changes = t.false_changes.filter(|_| level)?;
            Some((changes as f64 / (t.pours - t.missed) as f64, 0.02))
        }),
    ]
}
