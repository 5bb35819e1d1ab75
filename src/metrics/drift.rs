//! Trend of the flow on the plateau.
//!
//! - measures: the trend of the flow, as when the kettle empties or the arm tires.
//! - formula: slope of the least-squares line of flow against time on the plateau.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives.
//! - valid when: the plateau is long compared with the period of oscillations; a period as long as the plateau
//!   is taken for drift, and the sd includes it.
//! - reference: least squares, NIST StRD (Norris, in `math::line`).

use crate::math::line::line;
use crate::metrics::curve::Curve;

/// Slope of the flow on the plateau, g/s2.
pub(super) fn drift_g_per_s2(curve: &Curve) -> Option<f64> {
    let flow = curve.plateau()?;
    let time: Vec<f64> = (0..flow.len()).map(|k| k as f64 * curve.step_s()).collect();
    line(&time, flow).map(|l| l.slope)
}
