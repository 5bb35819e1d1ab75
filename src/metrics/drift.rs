//! Whether the flow grows or falls on the plateau.
//!
//! - measures: the tilt of the flow as the kettle empties or the arm tires.
//! - formula: slope of the least-squares line of flow against time on the plateau.
//! - needs: drawn flows.
//! - minimum samples: 8 while water arrives.
//! - valid when: the plateau is long beside the hand's beats; a beat that fits once into it passes for drift, and its sd says so.
//! - reference: least squares, NIST StRD (Norris, in `math::line`).

use crate::math::line::line;
use crate::metrics::curve::Curve;

/// Slope of the flow on the plateau, g/s2.
pub(super) fn drift_g_per_s2(curve: &Curve) -> Option<f64> {
    let flow = curve.plateau();
    let time: Vec<f64> = (0..flow.len()).map(|k| k as f64 * curve.step_s()).collect();
    line(&time, flow).map(|l| l.slope)
}
