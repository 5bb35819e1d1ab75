//! In: the landmarks of several curves. Out: their mean, and for each curve the map from the mean axis to its own:
//! linear between landmarks, a shift outside of them (landmark registration, Kneip and Gasser 1992, Ann. Statist. 20,
//! 1266).

use crate::study::profile::curve::{Curve, LandmarkKind, Mark};
use crate::study::profile::options::Align;

/// Landmarks closer than this, in the unit of the axis, are not distinguishable: the map between them would distort
/// the curve.
const NEAREST: f64 = 0.02;

#[derive(Debug)]
pub(super) struct Alignment {
    pub(super) on: Align,
    /// Reason for another alignment than the requested one.
    pub(super) note: Option<String>,
    /// One row per landmark: its pour, its mean, and its position in each curve. Strictly increasing.
    pub(super) landmarks: Vec<(LandmarkKind, usize)>,
    pub(super) mean: Vec<f64>,
    pub(super) own: Vec<Vec<f64>>,
    /// Ends of the longest and the shortest curve, on the aligned axis.
    pub(super) last_end: f64,
    pub(super) first_end: f64,
}

impl Alignment {
    pub(super) fn new(curves: &[Curve], asked: Align) -> Self {
        if asked == Align::Start {
            return Self::on_start(curves, None);
        }
        let counts = || curves.iter().map(|c| c.pours);
        let (fewest, most) = (counts().min().unwrap_or(0), counts().max().unwrap_or(0));
        if fewest != most {
            let why =
                format!("the brews have {fewest} to {most} pours: they are aligned on the first start only");
            return Self::on_start(curves, Some(why));
        }
        let Some(kept) = distinct(curves) else {
            let why = "the landmarks of a brew are too close together: the brews are aligned on the first start only";
            return Self::on_start(curves, Some(why.into()));
        };
        let own: Vec<Vec<f64>> =
            curves.iter().map(|c| kept.iter().map(|&k| c.marks[k].at.value).collect()).collect();
        let n = curves.len() as f64;
        let mean: Vec<f64> = (0..kept.len()).map(|k| own.iter().map(|o| o[k]).sum::<f64>() / n).collect();
        let landmarks = kept.iter().map(|&k| (curves[0].marks[k].kind, curves[0].marks[k].pour)).collect();
        let end = |pick: fn(f64, f64) -> f64, from: f64| {
            let back = curves.iter().zip(&own).map(|(c, own)| along(own, &mean, c.end()));
            back.fold(from, pick)
        };
        let (last_end, first_end) = (end(f64::max, f64::NEG_INFINITY), end(f64::min, f64::INFINITY));
        Self { on: Align::Landmarks, note: None, landmarks, own, last_end, first_end, mean }
    }

    fn on_start(curves: &[Curve], note: Option<String>) -> Self {
        let last_end = curves.iter().map(Curve::end).fold(f64::NEG_INFINITY, f64::max);
        let first_end = curves.iter().map(Curve::end).fold(f64::INFINITY, f64::min);
        let own = vec![Vec::new(); curves.len()];
        Self { on: Align::Start, note, landmarks: Vec::new(), mean: Vec::new(), own, last_end, first_end }
    }

    /// Position on the axis of one curve for a position on the mean axis.
    pub(super) fn own_place(&self, curve: usize, x: f64) -> f64 {
        along(&self.mean, &self.own[curve], x)
    }
}

/// The landmarks that are distinct in every curve. Of two close ones the edge is dropped: its sd is larger than that
/// of a half-rise or half-fall. None if those overlap.
fn distinct(curves: &[Curve]) -> Option<Vec<usize>> {
    let marks = &curves[0].marks;
    if curves.iter().any(|c| c.marks.len() != marks.len()) {
        return None;
    }
    let apart =
        |a: usize, b: usize| curves.iter().all(|c| c.marks[b].at.value - c.marks[a].at.value >= NEAREST);
    let half = |mark: &Mark| matches!(mark.kind, LandmarkKind::HalfRise | LandmarkKind::HalfFall);
    let sure: Vec<usize> = (0..marks.len()).filter(|&k| half(&marks[k])).collect();
    if !sure.windows(2).all(|pair| apart(pair[0], pair[1])) {
        return None;
    }
    let mut kept: Vec<usize> = Vec::with_capacity(marks.len());
    for k in 0..marks.len() {
        let next = sure.iter().find(|&&s| s > k);
        let fits = kept.last().is_none_or(|&last| apart(last, k)) && next.is_none_or(|&s| apart(k, s));
        if sure.contains(&k) || fits {
            kept.push(k);
        }
    }
    Some(kept)
}

/// Piecewise linear map from positions `from` to positions `to`, a shift outside of them.
pub(super) fn along(from: &[f64], to: &[f64], x: f64) -> f64 {
    let n = from.len();
    if n == 0 {
        return x;
    }
    match from.partition_point(|&f| f <= x) {
        0 => x + (to[0] - from[0]),
        k if k == n => x + (to[n - 1] - from[n - 1]),
        k => to[k - 1] + (x - from[k - 1]) * (to[k] - to[k - 1]) / (from[k] - from[k - 1]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_map_is_linear_between_landmarks_and_a_shift_outside() {
        // 2 to 6 is stretched to 3 to 11, two for one.
        let (from, to) = ([2.0, 6.0], [3.0, 11.0]);
        for (x, expected) in [(0.0, 1.0), (2.0, 3.0), (3.0, 5.0), (6.0, 11.0), (7.0, 12.0)] {
            assert_eq!(along(&from, &to, x), expected);
        }
        assert_eq!(along(&[], &[], 4.0), 4.0);
        assert_eq!(along(&[1.0], &[3.0], 4.0), 6.0);
    }
}
