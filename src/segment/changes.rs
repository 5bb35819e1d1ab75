//! In: the posterior mode without changes of the level within a burst. Out: the mode with those that the readings
//! support.
//!
//! A shift of the level at each cell is tested by the smoother's adjoint, which takes one pass backward (de Jong and
//! Penzer, Diagnosing shocks in time series, Journal of the American Statistical Association 93, 1998; not checked).
//! For the test the flow's processes are small, since they would otherwise hold the shift. All edges and
//! hyperparameters are fitted again with the candidates, and those with little evidence are dropped.

use crate::model::burst::{Burst, Change};
use crate::model::hand::CHANGE_SD;
use crate::model::recorded::record;
use crate::model::window::Window;
use crate::segment::mode::{Mode, mode};
use crate::segment::parameters::Parameters;
use crate::segment::priors::{Priors, hand};

/// Log Bayes factor of a candidate, and of a change that is kept.
const CANDIDATE: f64 = 6.0;
const KEPT: f64 = 5.0;
/// Gain of the log marginal likelihood per change.
const GAIN: f64 = 3.0;
/// Largest number of changes in a burst.
const MOST: usize = 3;
/// Relative sd of the flow's processes in the test.
const SMALL: f64 = 0.02;
/// Distance of a change from an edge, and from another change, s.
const FROM_EDGE_S: f64 = 0.2;
const APART_S: f64 = 0.4;
/// Length of a change at the start of its fit, s.
const RAMP_S: f64 = 0.1;
/// Most iterations of a fit with candidates.
const ITERATIONS: usize = 20;

/// The mode with the changes that the readings support.
pub(super) fn with_changes(windows: &[Window], start: Mode, p: &Priors) -> Mode {
    let mut best = start;
    for _ in 0..MOST {
        let Some(tried) = candidates(windows, &best.q, p) else { break };
        let Some(fitted) = mode(windows, tried, p, ITERATIONS) else { break };
        let (q, dropped) = supported(windows, &fitted.q, p);
        let more = count(&q).saturating_sub(count(&best.q));
        if more == 0 {
            break;
        }
        let fitted = if dropped { mode(windows, q, p, ITERATIONS) } else { Some(fitted) };
        match fitted {
            Some(fitted) if fitted.evidence > best.evidence + GAIN * more as f64 => best = fitted,
            _ => break,
        }
    }
    best
}

fn count(q: &Parameters) -> usize {
    q.bursts.iter().flatten().map(|b| b.changes.len()).sum()
}

/// The parameters with the likeliest further change of each burst; None if there is no candidate.
fn candidates(windows: &[Window], q: &Parameters, p: &Priors) -> Option<Parameters> {
    let mut small = hand(&q.shared, p);
    for sd in [&mut small.slow, &mut small.quick, &mut small.beat] {
        *sd = sd.min(SMALL);
    }
    let (mut out, mut found) = (q.clone(), false);
    for (w, bursts) in windows.iter().zip(&mut out.bursts) {
        let recorded = record(w, bursts, &small);
        let shifts = recorded.shifts(CHANGE_SD);
        for ((burst, shifts), (from_s, _)) in bursts.iter_mut().zip(&shifts).zip(recorded.places()) {
            let cells =
                shifts.cells.iter().enumerate().map(|(i, gain)| (from_s + w.grid_s * i as f64, *gain));
            let best = cells
                .filter(|(at_s, _)| may_change(burst, *at_s))
                .fold((0.0, CANDIDATE), |best, cell| if cell.1 > best.1 { cell } else { best });
            if best.1 > CANDIDATE && burst.changes.len() < MOST {
                burst.changes.push(Change { at_s: best.0, ramp_s: RAMP_S });
                burst.changes.sort_by(|a, b| a.at_s.total_cmp(&b.at_s));
                found = true;
            }
        }
    }
    found.then_some(out)
}

fn may_change(burst: &Burst, at_s: f64) -> bool {
    at_s > burst.rise.end_s() + FROM_EDGE_S
        && at_s < burst.fall.start_s() - FROM_EDGE_S
        && burst.changes.iter().all(|c| (c.at_s - at_s).abs() > APART_S)
}

/// The parameters without the changes that have little evidence, and whether there were any.
fn supported(windows: &[Window], q: &Parameters, p: &Priors) -> (Parameters, bool) {
    let hand = hand(&q.shared, p);
    let (mut out, mut dropped) = (q.clone(), false);
    for (w, bursts) in windows.iter().zip(&mut out.bursts) {
        let shifts = record(w, bursts, &hand).shifts(CHANGE_SD);
        for (burst, shifts) in bursts.iter_mut().zip(shifts) {
            let before = burst.changes.len();
            let mut evidence = shifts.changes.iter();
            burst.changes.retain(|_| evidence.next().is_none_or(|gain| *gain > KEPT));
            dropped |= burst.changes.len() < before;
        }
    }
    (out, dropped)
}
