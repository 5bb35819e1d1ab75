//! In: the truth, and the pours that were found. Out: a [`Score`]: what was missed, what was made up, and how far off
//! the rest is.
//!
//! Method: a detected pour and a true pour are matched if they overlap. The matching is one to one, by decreasing
//! overlap (intersection over union). Unmatched pours are missed or false.

use crate::estimate::Estimate;
use crate::rows::rows;
use crate::segment::pour::Pour;
use crate::simulate::truth::{TruePour, Truth};
use serde::{Deserialize, Serialize};

rows! { $
/// Errors of one quantity, found less true, with the sd that was stated for each.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Errors {
    /// Found less true, in the unit of the quantity.
    pub error: Vec<f64>,
    /// The sd stated beside each, in the unit of the quantity.
    pub sd: Vec<f64>,
}
}

impl Errors {
    fn push(&mut self, found: Estimate, truth: f64) {
        self.error.push(found.value - truth);
        self.sd.push(found.sd);
    }

    fn mean(&self, of: impl Fn(f64) -> f64) -> f64 {
        self.error.iter().map(|&e| of(e)).sum::<f64>() / self.error.len() as f64
    }

    /// Mean of the errors, in the unit of the quantity; NaN if there is none.
    #[must_use]
    pub fn bias(&self) -> f64 {
        self.mean(|e| e)
    }

    /// Mean absolute error, in the unit of the quantity; NaN if there is none.
    #[must_use]
    pub fn mean_absolute(&self) -> f64 {
        self.mean(f64::abs)
    }

    /// Root of the mean square error, in the unit of the quantity; NaN if there is none.
    #[must_use]
    pub fn rms(&self) -> f64 {
        self.mean(|e| e * e).sqrt()
    }

    /// Share of the errors that lie within two stated sd, 0 to 1; NaN if there is none.
    #[must_use]
    pub fn within_2_sd(&self) -> f64 {
        let covered = self.error.iter().zip(&self.sd).filter(|(e, sd)| e.abs() <= 2.0 * *sd).count();
        covered as f64 / self.error.len() as f64
    }

    fn merge(&mut self, other: Self) {
        self.error.extend(other.error);
        self.sd.extend(other.sd);
    }
}

rows! { $
/// How near the found pours of one brew, or of many, are to the true ones.
///
/// The errors are those of all pairs that belong together, the bad ones too. The k-th errors of all quantities belong to
/// the same pour; only pours with half-edges have errors of these.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Score {
    /// Brews scored.
    pub brews: usize,
    /// Pours that there were.
    pub true_pours: usize,
    /// Pours that were found.
    pub found_pours: usize,
    /// Errors of the start, s.
    pub start_s: Errors,
    /// Errors of the end, s.
    pub end_s: Errors,
    /// Errors of the half-rise, s; of pours that have one.
    pub half_rise_s: Errors,
    /// Errors of the half-fall, s; of pours that have one.
    pub half_fall_s: Errors,
    /// Errors of the mass, g.
    pub mass_g: Errors,
    /// Errors of the mean flow, g/s.
    pub mean_flow_g_per_s: Errors,
    /// Errors of the flow at the stamps within true pours, g/s; empty unless a whole brew was scored.
    ///
    /// Filled by [`Score::add_flow`].
    pub flow_g_per_s: Errors,
}
}

impl Score {
    /// Matched pairs.
    #[must_use]
    pub fn matched(&self) -> usize {
        self.start_s.error.len()
    }

    /// True pours without a matched detected pour.
    #[must_use]
    pub fn missed(&self) -> usize {
        self.true_pours - self.matched()
    }

    /// Detected pours without a matched true pour.
    #[must_use]
    pub fn false_pours(&self) -> usize {
        self.found_pours - self.matched()
    }

    fn f1(&self, tolerance_s: f64, first: &Errors, last: &Errors) -> f64 {
        let near = |e: &f64| e.abs() <= tolerance_s;
        let hits = first.error.iter().zip(&last.error).filter(|(a, b)| near(a) && near(b)).count();
        2.0 * hits as f64 / (self.true_pours + self.found_pours) as f64
    }

    /// F1 of the pours. A pour counts as detected if start and end both lie within the tolerance; NaN without any
    /// pour.
    #[must_use]
    pub fn f1_edges(&self, tolerance_s: f64) -> f64 {
        self.f1(tolerance_s, &self.start_s, &self.end_s)
    }

    /// F1 of the pours. A pour counts as detected if half-rise and half-fall both lie within the tolerance; NaN
    /// without any pour.
    #[must_use]
    pub fn f1_halves(&self, tolerance_s: f64) -> f64 {
        self.f1(tolerance_s, &self.half_rise_s, &self.half_fall_s)
    }

    /// Mean absolute error of starts and ends together, s.
    #[must_use]
    pub fn edge_error_s(&self) -> f64 {
        0.5 * (self.start_s.mean_absolute() + self.end_s.mean_absolute())
    }

    /// Mean absolute error of half-rises and half-falls together, s.
    #[must_use]
    pub fn half_error_s(&self) -> f64 {
        0.5 * (self.half_rise_s.mean_absolute() + self.half_fall_s.mean_absolute())
    }

    /// Adds the errors of an estimated flow: `flow_g_per_s` and its sd, each for the row of the log in `log_index`.
    /// Rows outside the true pours do not count.
    pub fn add_flow(&mut self, truth: &Truth, log_index: &[usize], flow_g_per_s: &[f64], sd_g_per_s: &[f64]) {
        for ((&row, &flow), &sd) in log_index.iter().zip(flow_g_per_s).zip(sd_g_per_s) {
            let (Some(&t), Some(&true_flow)) = (truth.time_s.get(row), truth.flow_g_per_s.get(row)) else {
                continue;
            };
            if truth.pours.iter().any(|p| (p.start_s..=p.end_s).contains(&t)) {
                self.flow_g_per_s.push(Estimate::new(flow, sd), true_flow);
            }
        }
    }

    /// Adds the score of other brews.
    pub fn merge(&mut self, other: Self) {
        self.brews += other.brews;
        self.true_pours += other.true_pours;
        self.found_pours += other.found_pours;
        self.start_s.merge(other.start_s);
        self.end_s.merge(other.end_s);
        self.half_rise_s.merge(other.half_rise_s);
        self.half_fall_s.merge(other.half_fall_s);
        self.mass_g.merge(other.mass_g);
        self.mean_flow_g_per_s.merge(other.mean_flow_g_per_s);
        self.flow_g_per_s.merge(other.flow_g_per_s);
    }
}

/// Scores the detected pours against the truth.
///
/// ```
/// use pourline::{Level, Options, Score, analyze, score, simulate};
/// let (log, truth) = simulate(&Level::Clean.recipe(), 1)?;
/// let brew = analyze(&log, &Options::default())?;
/// let found: Score = score(&truth, &brew.segments.pours);
/// assert_eq!((found.missed(), found.false_pours()), (0, 0));
/// assert!(found.edge_error_s() < 0.2);
/// # Ok::<(), pourline::Error>(())
/// ```
#[must_use]
pub fn score(truth: &Truth, pours: &[Pour]) -> Score {
    let (true_pours, found_pours) = (truth.pours.len(), pours.len());
    let mut score = Score { brews: 1, true_pours, found_pours, ..Score::default() };
    for (t, f) in pairs(&truth.pours, pours) {
        let (t, f) = (&truth.pours[t], &pours[f]);
        score.start_s.push(f.start_s, t.start_s);
        score.end_s.push(f.end_s, t.end_s);
        if let (Ok(rise_s), Ok(fall_s)) = (&f.half_rise_s, &f.half_fall_s) {
            score.half_rise_s.push(*rise_s, t.half_rise_s);
            score.half_fall_s.push(*fall_s, t.half_fall_s);
        }
        score.mass_g.push(f.mass_g, t.mass_g);
        score.mean_flow_g_per_s.push(f.mean_flow_g_per_s, t.mean_flow_g_per_s);
    }
    score
}

/// Matched pairs of true and detected pours, as indices.
fn pairs(truth: &[TruePour], found: &[Pour]) -> Vec<(usize, usize)> {
    let mut overlaps: Vec<(f64, usize, usize)> = Vec::new();
    for (t, a) in truth.iter().enumerate() {
        for (f, b) in found.iter().enumerate() {
            let common = a.end_s.min(b.end_s.value) - a.start_s.max(b.start_s.value);
            let whole = a.end_s.max(b.end_s.value) - a.start_s.min(b.start_s.value);
            // Also false if an edge is not a number.
            if common > 0.0 && (b.end_s.value - b.start_s.value) > 0.0 {
                overlaps.push((common / whole, t, f));
            }
        }
    }
    overlaps.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, t, f) in overlaps {
        if pairs.iter().all(|p| p.0 != t && p.1 != f) {
            pairs.push((t, f));
        }
    }
    pairs.sort_unstable();
    pairs
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(start: f64, end: f64) -> Pour {
        let at = |value| Estimate::new(value, 0.1);
        Pour {
            start_s: at(start),
            end_s: at(end),
            half_rise_s: Ok(at(start + 0.2)),
            half_fall_s: Ok(at(end - 0.2)),
            mass_g: at(5.0 * (end - start)),
            mean_flow_g_per_s: at(5.0),
            duration_s: at(end - start),
            flow_regimes: Vec::new(),
        }
    }

    fn truth(pours: &[(f64, f64)]) -> Truth {
        let pour = |&(start_s, end_s): &(f64, f64)| TruePour {
            start_s,
            end_s,
            half_rise_s: start_s + 0.2,
            half_fall_s: end_s - 0.2,
            mass_g: 5.0 * (end_s - start_s),
            mean_flow_g_per_s: 5.0,
            median_flow_g_per_s: 5.0,
            plateau_start_s: start_s + 0.4,
            plateau_end_s: end_s - 0.4,
            plateau_flow_g_per_s: 5.0,
            flow_cv: 0.0,
        };
        Truth { pours: pours.iter().map(pour).collect(), ..Truth::default() }
    }

    #[test]
    fn the_truth_itself_scores_without_error() {
        let s = score(&truth(&[(1.0, 5.0), (20.0, 30.0)]), &[found(1.0, 5.0), found(20.0, 30.0)]);
        assert_eq!((s.matched(), s.missed(), s.false_pours()), (2, 0, 0));
        assert_eq!((s.f1_edges(0.0), s.f1_halves(0.0), s.edge_error_s()), (1.0, 1.0, 0.0));
        assert_eq!(s.mass_g.within_2_sd(), 1.0);
    }

    #[test]
    fn without_detections_all_are_missed_and_a_rinse_is_false() {
        let s = score(&truth(&[(10.0, 15.0)]), &[found(1.0, 5.0)]);
        assert_eq!((s.matched(), s.missed(), s.false_pours()), (0, 1, 1));
        assert_eq!(s.f1_edges(0.3), 0.0);
        assert!(s.edge_error_s().is_nan());
        assert_eq!(score(&truth(&[(1.0, 2.0)]), &[]).f1_edges(9.0), 0.0);
    }

    #[test]
    fn one_of_two_pieces_is_false_and_two_joined_miss_one() {
        let s = score(&truth(&[(1.0, 9.0)]), &[found(1.0, 3.0), found(4.0, 9.0)]);
        assert_eq!((s.matched(), s.missed(), s.false_pours()), (1, 0, 1));
        assert!((s.start_s.bias() - 3.0).abs() < 1e-12, "the larger piece is the pour");
        let s = score(&truth(&[(1.0, 3.0), (4.0, 9.0)]), &[found(1.0, 9.0)]);
        assert_eq!((s.matched(), s.missed(), s.false_pours()), (1, 1, 0));
    }

    #[test]
    fn both_edges_must_be_within_the_tolerance_and_f1_counts_both_sides() {
        let t = truth(&[(1.0, 5.0), (20.0, 30.0), (40.0, 50.0)]);
        let s = score(&t, &[found(1.1, 5.0), found(20.0, 30.6)]);
        // One hit of three true and two found: 2/(3 + 2).
        assert!((s.f1_edges(0.3) - 0.4).abs() < 1e-12);
        assert!((s.edge_error_s() - (0.05 + 0.3) / 2.0).abs() < 1e-12);
        assert!((s.end_s.within_2_sd() - 0.5).abs() < 1e-12);
        let mut all = s.clone();
        all.merge(s);
        assert_eq!((all.brews, all.missed()), (2, 2));
        assert!((all.f1_edges(0.3) - 0.4).abs() < 1e-12);
    }

    #[test]
    fn a_pour_without_numbers_is_false() {
        let s = score(&truth(&[(1.0, 5.0)]), &[found(f64::NAN, 5.0), found(5.0, 1.0)]);
        assert_eq!((s.matched(), s.missed(), s.false_pours()), (0, 1, 2));
    }

    #[test]
    fn flow_counts_within_pours_only() {
        let mut t = truth(&[(1.0, 3.0)]);
        t.time_s = vec![0.0, 1.0, 2.0, 4.0];
        t.flow_g_per_s = vec![0.0, 5.0, 5.0, 0.0];
        let mut s = score(&t, &[]);
        s.add_flow(&t, &[0, 2, 1, 3], &[9.0, 6.0, 5.0, 9.0], &[1.0; 4]);
        assert_eq!(s.flow_g_per_s.error, [1.0, 0.0]);
    }

    #[test]
    fn pours_that_overlap_are_matched_and_those_that_touch_are_not() {
        let matched = |end_s: f64| score(&truth(&[(5.0, 9.0)]), &[found(1.0, end_s)]).matched();
        assert_eq!([4.9, 5.0, 5.1].map(matched), [0, 0, 1]);
        assert_eq!(score(&truth(&[(5.0, 5.5)]), &[found(5.0, 5.5)]).matched(), 1, "however short");
    }
}
