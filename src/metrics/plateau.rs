//! Flow on the plateau, and the share of its time near that flow.
//!
//! - measures: the sustained flow, and the share of the plateau in which it is sustained.
//! - formula: mean over time of the flow on the plateau, from 0.5 s after half-rise to 0.5 s before half-fall; share of
//!   the plateau's time at which the flow is within `near` of that mean.
//! - needs: flow curves of the posterior.
//! - minimum samples: 8 while water arrives.
//! - valid when: the plateau lasts 1 s.
//! - reference: definitions of this library.

use crate::metrics::curve::Curve;

/// Share of the plateau's time within `near` of the plateau flow, percent.
pub(super) fn near_pct(curve: &Curve, near: f64) -> Option<f64> {
    let (level, plateau) = (curve.plateau_g_per_s()?, curve.plateau()?);
    let is_near = |q: &&f64| (**q - level).abs() <= near * level;
    Some(100.0 * plateau.iter().filter(is_near).count() as f64 / plateau.len() as f64)
}
