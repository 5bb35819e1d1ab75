//! In: a flow curve of a pour. Out: the pour, its half-edges and its plateau by their definitions.

use crate::metrics::options::MetricsOptions;
use crate::segment::curve;

/// The flow of one pour on an even grid.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    curve: curve::Curve,
    /// First and last instant at which water arrives, s.
    pub pour_s: (f64, f64),
    /// Mass over duration, g/s.
    pub mean_g_per_s: f64,
    /// First and last instant of the plateau, s; None if it is shorter than 1 s.
    pub plateau_s: Option<(f64, f64)>,
}

/// Shortest plateau, s.
const SHORTEST_S: f64 = 1.0;

impl Curve {
    /// None if no water arrives.
    pub(super) fn new(curve: curve::Curve, o: &MetricsOptions) -> Option<Self> {
        let pour_s = curve.passages(o.pause_flow_g_per_s)?;
        let mean_g_per_s = curve.water_g(pour_s.0, pour_s.1) / (pour_s.1 - pour_s.0);
        let half = (0.5 * mean_g_per_s).max(o.pause_flow_g_per_s);
        let plateau_s = curve
            .passages(half)
            .map(|(rise_s, fall_s)| (rise_s + o.plateau_inset_s, fall_s - o.plateau_inset_s))
            .filter(|(from_s, to_s)| to_s - from_s >= SHORTEST_S);
        Some(Self { curve, pour_s, mean_g_per_s, plateau_s })
    }

    /// Flow in the pour.
    pub(super) fn pour(&self) -> &[f64] {
        self.curve.between(self.pour_s)
    }

    /// Flow on the plateau; None if there is none.
    pub(super) fn plateau(&self) -> Option<&[f64]> {
        self.plateau_s.map(|span_s| self.curve.between(span_s)).filter(|flow| !flow.is_empty())
    }

    /// Water on the plateau over its duration, g/s.
    pub(super) fn plateau_g_per_s(&self) -> Option<f64> {
        self.plateau_s.map(|(from_s, to_s)| self.curve.water_g(from_s, to_s) / (to_s - from_s))
    }

    /// Water between two instants, g.
    pub(super) fn water_g(&self, from_s: f64, to_s: f64) -> f64 {
        self.curve.water_g(from_s, to_s)
    }

    /// Flow at an instant, g/s.
    pub(super) fn flow_at(&self, t_s: f64) -> f64 {
        self.curve.flow_at(t_s)
    }

    /// Length of a cell, s.
    pub(super) fn step_s(&self) -> f64 {
        self.curve.step_s
    }

    /// First and last instant at which the flow passes a level, s.
    pub(super) fn passages(&self, level: f64) -> Option<(f64, f64)> {
        self.curve.passages(level)
    }

    /// Stretches of the pour with more flow than a level, s.
    pub(super) fn stretches(&self, level: f64) -> Vec<(f64, f64)> {
        self.curve.cut(self.pour_s).stretches(level, 0.0)
    }

    /// Instant of the highest flow, s, and that flow.
    pub(super) fn peak(&self) -> Option<(f64, f64)> {
        self.curve.peak()
    }
}
