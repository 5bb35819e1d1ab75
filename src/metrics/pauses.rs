//! Interruptions in a pour.
//!
//! - measures: number and total time of interruptions in a pour; longer ones separate pours and are rests.
//! - formula: stretches between start and end with less than `pause_flow_g_per_s`: their number and their total
//!   time.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives; a pause must contain some samples: at 10 Hz one of 0.2 s is
//!   missed.
//! - valid when: `pause_flow_g_per_s` is the flow that defines a pour in `segment`.
//! - reference: definitions of this library.

use crate::metrics::curve::Curve;

fn stopped(curve: &Curve, below_g_per_s: f64) -> impl Iterator<Item = bool> {
    curve.pour().iter().map(move |q| *q < below_g_per_s)
}

/// Number of pauses.
pub(super) fn number(curve: &Curve, below_g_per_s: f64) -> f64 {
    let after = stopped(curve, below_g_per_s).skip(1);
    stopped(curve, below_g_per_s).zip(after).filter(|(a, b)| !a && *b).count() as f64
}

/// Time without water, s.
pub(super) fn time_s(curve: &Curve, below_g_per_s: f64) -> f64 {
    stopped(curve, below_g_per_s).filter(|s| *s).count() as f64 * curve.step_s()
}
