//! Parameters of the flow model of a log: edges of each window, and hyperparameters that all windows share.

use crate::model::burst::Burst;
use serde::{Deserialize, Serialize};

/// Number of shared parameters.
pub(crate) const SHARED: usize = 14;
/// Logarithms, but for the lead.
pub(crate) const DELAY_S: usize = 0;
pub(crate) const LEAD_S: usize = 1;
pub(super) const NOISE: usize = 2;
pub(super) const STAMP: usize = 3;
pub(super) const LINE: usize = 4;
pub(super) const SLOW: usize = 5;
pub(super) const SLOW_S: usize = 6;
pub(super) const QUICK: usize = 7;
pub(super) const QUICK_S: usize = 8;
pub(super) const BEAT: usize = 9;
pub(super) const BEAT_HZ: usize = 10;
/// Medians of rise and fall: they do not enter the readings.
pub(super) const RISE: usize = 11;
pub(super) const FALL: usize = 12;
/// The bend of the scale's response; far below for a first-order lag.
pub(crate) const BEND: usize = 13;

pub(crate) type Shared = [f64; SHARED];

/// Parameters of a log, on the scale on which they are normal; and the bursts of each window.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Parameters {
    pub shared: Shared,
    pub bursts: Vec<Vec<Burst>>,
    /// Length of an average of the display that ramps may stand for, s.
    #[serde(default)]
    pub average_s: f64,
    /// How much earlier its edges are then, s.
    #[serde(default)]
    pub earlier_s: f64,
}

/// Number of local parameters of a burst without changes.
pub(super) const EDGES: usize = 6;

pub(super) fn locals(b: &Burst) -> usize {
    EDGES + 2 * b.changes.len()
}

/// Limit of a local parameter's step, if that of a logarithm is `most`: an instant, in s, has less.
pub(super) fn limit(k: usize, most: f64) -> f64 {
    let is_instant = k == 0 || k == 3 || (k >= EDGES && k.is_multiple_of(2));
    if is_instant { 0.3 * most } else { most }
}

pub(super) fn shift(b: &mut Burst, k: usize, by: f64) {
    match k {
        0 => b.rise.at_s += by,
        1 => b.rise.ramp_s *= by.exp(),
        2 => b.rise.skew += by,
        3 => b.fall.at_s += by,
        4 => b.fall.ramp_s *= by.exp(),
        5 => b.fall.skew += by,
        k if k % 2 == 0 => b.changes[(k - EDGES) / 2].at_s += by,
        k => b.changes[(k - EDGES) / 2].ramp_s *= by.exp(),
    }
}

/// Least distance of a change from the rise or the change before it, and of the fall from the last one, s.
const APART_S: f64 = 0.15;
const FROM_FALL_S: f64 = 0.1;
/// Longest ramp, s, and largest skewness.
const MOST_RAMP_S: f64 = 6.0;
const MOST_SKEW: f64 = 4.0;

/// Whether the edges of a burst are in order.
fn in_order(b: &Burst) -> bool {
    let mut from = b.rise.at_s;
    for c in &b.changes {
        if c.at_s < from + APART_S {
            return false;
        }
        from = c.at_s;
    }
    b.rise.end_s() < b.fall.end_s()
        && b.rise.start_s() < b.fall.start_s()
        && b.fall.at_s > from + FROM_FALL_S
        && [b.rise, b.fall].iter().all(|edge| edge.ramp_s < MOST_RAMP_S && edge.skew.abs() < MOST_SKEW)
}

/// If lag or lead change, the instants move so that the reading hardly does.
pub(super) fn compensate(bursts: &mut [Burst], k: usize, delay_s: f64, by: f64) {
    let shift_s = match k {
        DELAY_S => -delay_s * (by.exp() - 1.0),
        LEAD_S => by,
        _ => return,
    };
    for b in bursts {
        b.rise.at_s += shift_s;
        b.fall.at_s += shift_s;
        b.changes.iter_mut().for_each(|c| c.at_s += shift_s);
    }
}

/// No step of the own parameters.
pub(super) fn still(q: &Parameters) -> Vec<Vec<f64>> {
    q.bursts.iter().map(|b| vec![0.0; b.iter().map(locals).sum()]).collect()
}

/// Shares of a window's own step that are tried: the largest after which its edges are in order is taken.
const SHARES: [f64; 4] = [1.0, 0.5, 0.2, 0.0];

/// Parameters after a step, and the share of its own step that each window took.
pub(super) fn moved(q: &Parameters, shared: &Shared, own: &[Vec<f64>], most: f64) -> (Parameters, Vec<f64>) {
    let mut out = q.clone();
    for (k, by) in shared.iter().enumerate() {
        let by = by.clamp(-most, most);
        let delay_s = out.shared[DELAY_S].exp();
        out.shared[k] += by;
        for bursts in &mut out.bursts {
            compensate(bursts, k, delay_s, by);
        }
    }
    let taken = out.bursts.iter_mut().zip(own).map(|(bursts, by)| {
        let (share, moved) = SHARES
            .iter()
            .map(|&share| (share, moved_window(bursts, by, share, most)))
            .find(|(_, moved)| bursts_in_order(moved))
            .unwrap_or_else(|| (0.0, bursts.clone()));
        *bursts = moved;
        share
    });
    let taken = taken.collect();
    (out, taken)
}

/// The bursts of a window after a share of its own step.
fn moved_window(bursts: &[Burst], by: &[f64], share: f64, most: f64) -> Vec<Burst> {
    let mut by = by.iter();
    let mut moved = bursts.to_vec();
    for b in &mut moved {
        for (k, by) in (0..locals(b)).zip(&mut by) {
            let cap = limit(k, most);
            shift(b, k, share * by.clamp(-cap, cap));
        }
    }
    moved
}

/// Whether the bursts of a window are in order.
pub(super) fn bursts_in_order(bursts: &[Burst]) -> bool {
    bursts.iter().all(in_order) && bursts.windows(2).all(|two| two[0].fall.at_s < two[1].rise.at_s)
}
