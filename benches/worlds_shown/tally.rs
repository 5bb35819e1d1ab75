//! In: judged logs of one kind. Out: its figures.

use crate::judged::{Judged, Row, SCORED};
use crate::worlds::{Kind, Opening};
use std::collections::BTreeMap;

/// Numbers whose errors count in percent of the truth.
const IN_PERCENT: [&str; 4] = ["mass_g", "mean_flow_g_per_s", "plateau_flow_g_per_s", "peak_flow_g_per_s"];

/// Errors of one number over all pours of a kind that have it, in truth and in the result.
#[derive(Debug, Clone, Copy, Default)]
pub struct Errors {
    pub n: usize,
    /// Mean absolute error: in percent for mass and flow, otherwise in the unit.
    pub absolute: f64,
    /// Mean error over mean sd.
    pub bias_in_sd: f64,
    pub within_2_sd: f64,
    /// Mean sd over the root mean square of the error.
    pub sd_over_rms: f64,
    /// Root mean square of the error, percent of the truth.
    pub rms_pct: f64,
}

/// All figures of one kind at one rate.
pub struct Tally {
    pub name: &'static str,
    pub opening: Opening,
    pub logs: usize,
    pub pours: usize,
    pub missed: usize,
    pub extra: usize,
    /// As in `SCORED`.
    pub errors: Vec<Errors>,
    /// Pours with a true and a stated `flow_cv`.
    pub cv_true: f64,
    pub cv_bias: f64,
    pub cv_interval: f64,
    /// Share of pours with a plateau whose bound is defined, share of these that it holds, and its median beyond 1.5
    /// times the truth + .02.
    pub bound_defined: f64,
    pub bound_holds: f64,
    pub bound_excess: f64,
    /// Pours with a true flow_cv of .06 and more that the log can resolve, and share that is called resolved.
    pub resolvable: usize,
    pub resolved: f64,
    /// Pours of 6 s and more, the metric that is most often undefined, its share of defined, and its first reason.
    pub long: usize,
    pub least_defined: (f64, &'static str, String),
    pub peak_below_mean: usize,
    /// Pours with more than one regime of flow; None if none are stated.
    pub false_changes: Option<usize>,
    pub broken_logs: usize,
    pub broken: BTreeMap<&'static str, (usize, String)>,
    pub warned: usize,
    /// Warnings by what they say, numbers aside: logs, and the first of them.
    pub warnings: BTreeMap<String, (usize, String)>,
    pub refused: usize,
}

/// The place of a number in `SCORED`.
fn of_number(name: &str) -> usize {
    SCORED.iter().position(|n| *n == name).expect("a scored number")
}

impl Tally {
    pub fn new(kind: &Kind, judged: &[Judged]) -> Self {
        let rows: Vec<&Row> = judged.iter().flat_map(|j| &j.rows).collect();
        let sum = |of: fn(&Judged) -> usize| judged.iter().map(of).sum::<usize>();
        let missed = sum(|j| j.missed);
        let mut broken: BTreeMap<&'static str, (usize, String)> = BTreeMap::new();
        for (name, says) in judged.iter().flat_map(|j| &j.broken) {
            broken.entry(name).or_insert_with(|| (0, says.clone())).0 += 1;
        }
        let mut warnings: BTreeMap<String, (usize, String)> = BTreeMap::new();
        for says in judged.iter().flat_map(|j| &j.warnings) {
            // The pours that it names, and the figures, differ from log to log.
            let bare = says.rsplit(") ").next().unwrap_or(says).replace(|c: char| !c.is_alphabetic(), "");
            warnings.entry(bare.chars().take(24).collect()).or_insert_with(|| (0, says.clone())).0 += 1;
        }
        let cv = of_number("flow_cv");
        let with_cv: Vec<(&Row, f64)> =
            rows.iter().filter_map(|r| Some((*r, r.numbers[cv].truth?))).collect();
        let cvs: Vec<(&Row, f64, f64, f64)> = with_cv
            .iter()
            .filter_map(|(r, truth)| r.numbers[cv].found.map(|f| (*r, *truth, f.value, f.sd)))
            .collect();
        let bounds: Vec<(f64, f64)> =
            with_cv.iter().filter_map(|(r, truth)| Some((*truth, r.cv_upper?))).collect();
        let holds_cv = |(r, truth, value, sd): &(&Row, f64, f64, f64)| {
            let least = if r.cv_resolved { value - 1.96 * sd } else { 0.0 };
            *truth >= least && r.cv_upper.is_some_and(|upper| *truth <= upper)
        };
        let resolvable: Vec<&&Row> =
            rows.iter().filter(|r| r.cv_resolvable.is_some_and(|cv| cv >= 0.06)).collect();
        let long: Vec<&&Row> = rows.iter().filter(|r| r.long).collect();
        let changes = rows.iter().filter_map(|r| r.regimes).collect::<Vec<_>>();
        Self {
            name: kind.name,
            opening: kind.opening,
            logs: judged.len(),
            pours: rows.len() + missed,
            missed,
            extra: sum(|j| j.extra),
            errors: (0..SCORED.len()).map(|k| Errors::of(&rows, k)).collect(),
            cv_true: mean(cvs.iter().map(|c| c.1)),
            cv_bias: mean(cvs.iter().map(|c| c.2 - c.1)),
            cv_interval: share(cvs.iter().map(holds_cv)),
            bound_defined: share(with_cv.iter().map(|(r, _)| r.cv_upper.is_some())),
            bound_holds: share(bounds.iter().map(|(truth, upper)| upper >= truth)),
            bound_excess: median(bounds.iter().map(|(truth, upper)| upper - 1.5 * truth - 0.02).collect()),
            resolvable: resolvable.len(),
            resolved: share(resolvable.iter().map(|r| r.cv_resolved)),
            long: long.len(),
            least_defined: least_defined(&long),
            peak_below_mean: rows.iter().filter(|r| r.peak_below_mean).count(),
            false_changes: (!changes.is_empty()).then(|| changes.iter().filter(|&&n| n > 1).count()),
            broken_logs: judged.iter().filter(|j| !j.broken.is_empty()).count(),
            broken,
            warned: judged.iter().filter(|j| !j.warnings.is_empty()).count(),
            warnings,
            refused: judged.iter().filter(|j| j.refused.is_some()).count(),
        }
    }

    pub fn error(&self, name: &str) -> &Errors {
        &self.errors[of_number(name)]
    }
}

impl Errors {
    fn of(rows: &[&Row], k: usize) -> Self {
        let known: Vec<(f64, f64, f64)> = rows
            .iter()
            .map(|r| &r.numbers[k])
            .filter_map(|n| n.truth.zip(n.found).map(|(truth, found)| (truth, found.value - truth, found.sd)))
            .collect();
        let rms = mean(known.iter().map(|k| k.1 * k.1)).sqrt();
        let sd = mean(known.iter().map(|k| k.2));
        let percent = IN_PERCENT.contains(&SCORED[k]);
        Self {
            n: known.len(),
            absolute: mean(known.iter().map(|k| if percent { 100.0 * (k.1 / k.0).abs() } else { k.1.abs() })),
            bias_in_sd: mean(known.iter().map(|k| k.1)) / sd,
            within_2_sd: share(known.iter().map(|k| k.1.abs() <= 2.0 * k.2)),
            sd_over_rms: sd / rms,
            rms_pct: 100.0 * mean(known.iter().map(|k| (k.1 / k.0).powi(2))).sqrt(),
        }
    }
}

/// The metric of long pours that is most often undefined.
fn least_defined(long: &[&&Row]) -> (f64, &'static str, String) {
    let mut counts: BTreeMap<&'static str, (usize, String)> = BTreeMap::new();
    for (name, why) in long.iter().flat_map(|r| &r.undefined) {
        counts.entry(name).or_insert_with(|| (0, why.clone())).0 += 1;
    }
    let most = counts.into_iter().max_by_key(|(_, (n, _))| *n);
    most.map_or((1.0, "", String::new()), |(name, (n, why))| (1.0 - n as f64 / long.len() as f64, name, why))
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut n) = (0.0, 0.0);
    for value in values {
        sum += value;
        n += 1.0;
    }
    sum / n
}

fn share(values: impl Iterator<Item = bool>) -> f64 {
    mean(values.map(|yes| f64::from(u8::from(yes))))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
}
