//! In: the flow of a pour on an even grid. Out: its level crossings, and the pour, its median and its plateau
//! by their definitions.

use crate::math::robust::median;
use crate::metrics::options::MetricsOptions;

/// A flow curve on an even grid.
#[derive(Debug, Clone)]
pub(super) struct Curve {
    start_s: f64,
    step_s: f64,
    flow_g_per_s: Vec<f64>,
    /// First and last instant at which water arrives, s.
    pub pour_s: (f64, f64),
    /// Median over time of the flow between them, g/s.
    pub median_g_per_s: f64,
    /// First and last instant of the plateau, s.
    pub plateau_s: (f64, f64),
}

impl Curve {
    /// None if no water arrives.
    pub(super) fn new(start_s: f64, step_s: f64, flow_g_per_s: Vec<f64>, o: &MetricsOptions) -> Option<Self> {
        let none = (start_s, start_s);
        let mut curve =
            Self { start_s, step_s, flow_g_per_s, pour_s: none, median_g_per_s: 0.0, plateau_s: none };
        curve.pour_s = curve.hull(o.pause_flow_g_per_s)?;
        curve.median_g_per_s = median(&mut curve.between(curve.pour_s).to_vec());
        curve.plateau_s = curve.hull(o.plateau * curve.median_g_per_s)?;
        Some(curve)
    }

    /// Flow in the pour.
    pub(super) fn pour(&self) -> &[f64] {
        self.between(self.pour_s)
    }

    /// Flow on the plateau.
    pub(super) fn plateau(&self) -> &[f64] {
        self.between(self.plateau_s)
    }

    /// Step between the instants, s.
    pub(super) fn step_s(&self) -> f64 {
        self.step_s
    }

    /// First and last instant at which the flow is at least `level`, s.
    pub(super) fn hull(&self, level: f64) -> Option<(f64, f64)> {
        let q = &self.flow_g_per_s;
        let first = q.iter().position(|f| *f >= level)?;
        let last = q.iter().rposition(|f| *f >= level)?;
        let between = |low: f64, high: f64| if high > low { (level - low) / (high - low) } else { 0.0 };
        let from = if first > 0 { first as f64 - 1.0 + between(q[first - 1], q[first]) } else { 0.0 };
        let to = q.get(last + 1).map_or(last as f64, |after| last as f64 + 1.0 - between(*after, q[last]));
        Some((self.start_s + self.step_s * from, self.start_s + self.step_s * to))
    }

    /// Instant of the highest flow, s, and that flow.
    pub(super) fn peak(&self) -> (f64, f64) {
        let high = |a: (usize, f64), b: (usize, &f64)| if *b.1 > a.1 { (b.0, *b.1) } else { a };
        let (k, flow) = self.flow_g_per_s.iter().enumerate().fold((0, f64::NEG_INFINITY), high);
        (self.start_s + self.step_s * k as f64, flow)
    }

    /// First and last flow, g/s.
    pub(super) fn ends(&self) -> (f64, f64) {
        let flow = |q: Option<&f64>| q.copied().unwrap_or(0.0);
        (flow(self.flow_g_per_s.first()), flow(self.flow_g_per_s.last()))
    }

    fn between(&self, (from_s, to_s): (f64, f64)) -> &[f64] {
        let n = self.flow_g_per_s.len();
        let index = |t: f64| ((t - self.start_s) / self.step_s).max(0.0);
        let from = (index(from_s).ceil() as usize).min(n);
        let to = (index(to_s).floor() as usize + 1).clamp(from, n);
        &self.flow_g_per_s[from..to]
    }
}
