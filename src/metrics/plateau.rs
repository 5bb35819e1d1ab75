//! Flow on the plateau, and the share of the pour near it.
//!
//! - measures: the sustained flow, and the share of the pour in which it is sustained.
//! - formula: mean over time of the flow on the plateau; share of the pour's time at which the flow is within
//!   `near` of that mean.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives.
//! - valid when: the pour lasts longer than its ramps.
//! - reference: definitions of this library.

use crate::metrics::curve::Curve;

/// Mean over time of the flow on the plateau, g/s.
pub(super) fn flow_g_per_s(curve: &Curve) -> Option<f64> {
    let plateau = curve.plateau();
    (!plateau.is_empty()).then(|| plateau.iter().sum::<f64>() / plateau.len() as f64)
}

/// Share of the pour's time within `near` of the plateau flow, percent.
pub(super) fn near_pct(curve: &Curve, near: f64) -> Option<f64> {
    let level = flow_g_per_s(curve)?;
    let is_near = |q: &&f64| (**q - level).abs() <= near * level;
    Some(100.0 * curve.pour().iter().filter(is_near).count() as f64 / curve.pour().len() as f64)
}
