//! A flow curve on an even grid, and the definitions that are applied to it.

use std::ops::Range;
use std::sync::Arc;

/// True flow is averaged over this time, s.
const AVERAGE_S: f64 = 0.1;

/// The flow of some neighbouring bursts.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Curve {
    /// Start of the first cell, s.
    pub from_s: f64,
    /// Length of a cell, s.
    pub step_s: f64,
    /// Mean flow of each cell, g/s. A part of a curve shares the cells of the whole.
    cells: Arc<[f64]>,
    /// Flow at the middle of each cell, averaged over 0.1 s, g/s.
    flow: Arc<[f64]>,
    /// The cells of this part.
    part: Range<usize>,
}

impl Curve {
    /// A curve from the flow of its cells; flow below 0 counts as none.
    pub(crate) fn new(from_s: f64, step_s: f64, mut cells: Vec<f64>) -> Self {
        cells.iter_mut().for_each(|q| *q = q.max(0.0));
        let part = 0..cells.len();
        let averages = averaged(&cells, step_s);
        let cells: Arc<[f64]> = cells.into();
        let flow = averages.map_or_else(|| cells.clone(), Arc::from);
        Self { from_s, step_s, cells, flow, part }
    }

    /// Mean flow of each cell, g/s.
    pub(crate) fn cells(&self) -> &[f64] {
        &self.cells[self.part.clone()]
    }

    /// Flow at the middle of each cell, averaged over 0.1 s, g/s.
    fn flow(&self) -> &[f64] {
        &self.flow[self.part.clone()]
    }

    /// End of the last cell, s.
    pub(crate) fn to_s(&self) -> f64 {
        self.from_s + self.step_s * self.part.len() as f64
    }

    /// Start of the first cell and end of the last one, s.
    pub(crate) fn span_s(&self) -> (f64, f64) {
        (self.from_s, self.to_s())
    }

    /// Middle of a cell, s.
    fn at_s(&self, place: f64) -> f64 {
        self.from_s + self.step_s * (place + 0.5)
    }

    /// Instant about which the water arrives, s: the mean of the instants, by their flow.
    pub(crate) fn middle_s(&self) -> f64 {
        let (sum, moment) = self
            .cells()
            .iter()
            .enumerate()
            .fold((0.0, 0.0), |(sum, moment), (k, q)| (sum + q, moment + q * self.at_s(k as f64)));
        if sum > 0.0 { moment / sum } else { f64::midpoint(self.from_s, self.to_s()) }
    }

    /// Place of an instant among the middles of the cells.
    fn place(&self, t_s: f64) -> f64 {
        (t_s - self.from_s) / self.step_s - 0.5
    }

    /// The part of the curve within an interval, to whole cells.
    pub(crate) fn cut(&self, (from_s, to_s): (f64, f64)) -> Self {
        let inner = self.inner((from_s, to_s));
        let part = self.part.start + inner.start..self.part.start + inner.end;
        Self { from_s: self.from_s + self.step_s * inner.start as f64, part, ..self.clone() }
    }

    /// First and last instant at which the flow passes a level; None if it is never above.
    pub(crate) fn passages(&self, level: f64) -> Option<(f64, f64)> {
        let q = self.flow();
        let first = q.iter().position(|f| *f > level)?;
        let last = q.iter().rposition(|f| *f > level)?;
        let share = |low: f64, high: f64| (level - low) / (high - low);
        let from = match first.checked_sub(1) {
            Some(before) => before as f64 + share(q[before], q[first]),
            None => -0.5,
        };
        let to =
            q.get(last + 1).map_or(last as f64 + 0.5, |after| last as f64 + 1.0 - share(*after, q[last]));
        Some((self.at_s(from), self.at_s(to)))
    }

    /// Water that arrives between two instants, g.
    pub(crate) fn water_g(&self, from_s: f64, to_s: f64) -> f64 {
        let edge = |t: f64| ((t - self.from_s) / self.step_s).clamp(0.0, self.cells().len() as f64);
        let (from, to) = (edge(from_s), edge(to_s));
        if to <= from {
            return 0.0;
        }
        let (first, last) = (from as usize, (to.ceil() as usize).min(self.cells().len()));
        let whole: f64 = self.cells()[first..last].iter().sum();
        let before = (from - first as f64) * self.cells()[first];
        let after = (last as f64 - to) * self.cells()[last - 1];
        (whole - before - after) * self.step_s
    }

    /// Flow between two instants, at the middles of the cells.
    pub(crate) fn between(&self, (from_s, to_s): (f64, f64)) -> &[f64] {
        &self.flow()[self.inner((from_s, to_s))]
    }

    /// The cells whose middles lie between two instants.
    fn inner(&self, (from_s, to_s): (f64, f64)) -> Range<usize> {
        let n = self.part.len();
        let first = (self.place(from_s).ceil().max(0.0) as usize).min(n);
        first..((self.place(to_s).floor() + 1.0).max(0.0) as usize).clamp(first, n)
    }

    /// Instant of the highest flow, s, and that flow; None if the curve is empty.
    pub(crate) fn peak(&self) -> Option<(f64, f64)> {
        let high = |a: (usize, f64), b: (usize, &f64)| if *b.1 > a.1 { (b.0, *b.1) } else { a };
        let (k, flow) = self.flow().iter().enumerate().fold((0, f64::NEG_INFINITY), high);
        (!self.flow().is_empty()).then(|| (self.at_s(k as f64), flow))
    }

    /// Flow at an instant, g/s; 0 outside.
    pub(crate) fn flow_at(&self, t_s: f64) -> f64 {
        let place = self.place(t_s);
        let low = place.floor();
        let get = |k: f64| if k >= 0.0 { self.flow().get(k as usize).copied().unwrap_or(0.0) } else { 0.0 };
        get(low) + (place - low) * (get(low + 1.0) - get(low))
    }

    /// Stretches of the flow above a level, those closer than `pause_s` joined.
    pub(crate) fn stretches(&self, level: f64, pause_s: f64) -> Vec<(f64, f64)> {
        let mut out: Vec<(f64, f64)> = Vec::new();
        let mut k = 0;
        while k < self.flow().len() {
            let run = self.flow()[k..].iter().take_while(|q| **q > level).count();
            if run > 0 {
                let here = self.edges(k, k + run - 1, level);
                match out.last_mut() {
                    Some(last) if here.0 - last.1 < pause_s => last.1 = here.1,
                    _ => out.push(here),
                }
            }
            k += run + 1;
        }
        out
    }

    /// Passages of the level at the ends of a run of cells above it.
    fn edges(&self, first: usize, last: usize, level: f64) -> (f64, f64) {
        let q = self.flow();
        let share = |low: f64, high: f64| (level - low) / (high - low);
        let from = first.checked_sub(1).map_or(-0.5, |b| b as f64 + share(q[b], q[first]));
        let to =
            q.get(last + 1).map_or(last as f64 + 0.5, |after| last as f64 + 1.0 - share(*after, q[last]));
        (self.at_s(from), self.at_s(to))
    }
}

/// Mean over 0.1 s about the middle of each cell, if a cell is shorter than that; no water arrives outside.
fn averaged(cells: &[f64], step_s: f64) -> Option<Vec<f64>> {
    let half = 0.5 * AVERAGE_S / step_s;
    if half <= 0.5 {
        return None;
    }
    // Whole cells on each side, and the fraction of the next one.
    let whole = (half - 0.5).max(0.0).floor();
    let part = (half - 0.5 - whole).max(0.0);
    let whole = whole as usize;
    let get = |k: Option<usize>| k.and_then(|k| cells.get(k)).copied().unwrap_or(0.0);
    let width = 1.0 + 2.0 * whole as f64 + 2.0 * part;
    let average = |k: usize| {
        let inner: f64 = (1..=whole).map(|j| get(k.checked_sub(j)) + get(Some(k + j))).sum();
        let outer = get(k.checked_sub(whole + 1)) + get(Some(k + whole + 1));
        (cells[k] + inner + part * outer) / width
    };
    Some((0..cells.len()).map(average).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A trapezoid from 4 to 8 g/s in 14 s, on cells of 0.02 s, with 1 s of rest on each side.
    fn rising() -> Curve {
        let flow = |k: usize| {
            let t = 0.02 * (k as f64 + 0.5) - 1.0;
            if (0.0..14.0).contains(&t) { 4.0 + 4.0 * t / 14.0 } else { 0.0 }
        };
        Curve::new(-1.0, 0.02, (0..800).map(flow).collect())
    }

    #[test]
    fn water_peak_and_passages_are_those_of_arithmetic() {
        let curve = rising();
        // (4 + 8) / 2 * 14 = 84 g; half of it by half of the time is (4 + 6) / 2 * 7 = 35 g.
        assert!((curve.water_g(-1.0, 15.0) - 84.0).abs() < 1e-9);
        assert!((curve.water_g(0.0, 7.0) - 35.0).abs() < 1e-9);
        // The mean over 0.1 s at the highest: 8 - 4/14 * 0.05.
        let (at_s, peak) = curve.peak().unwrap();
        assert!((peak - (8.0 - 0.2 / 14.0)).abs() < 1e-3 && (at_s - 13.95).abs() < 0.02, "{at_s} {peak}");
        // The average passes 0.5 g/s of 4 after 1/8 of 0.1 s, counted from 0.05 s before the first water.
        let (start, end) = curve.passages(0.5).unwrap();
        assert!(
            (start + 0.05 - 0.0125).abs() < 1e-3 && (end - 14.05 + 0.1 / 16.0).abs() < 1e-3,
            "{start} {end}"
        );
        assert_eq!(curve.stretches(0.5, 1.0).len(), 1);
        assert!((curve.flow_at(7.0) - 6.0).abs() < 1e-9);
        // The integral of t (4 + 4 t / 14) over 84 g: (4 14^2 / 2 + 4 14^2 / 3) / 84.
        assert!((curve.middle_s() - 70.0 / 9.0).abs() < 1e-3);
        assert!(curve.flow_at(-5.0).abs() < 1e-12);
    }

    #[test]
    fn stretches_closer_than_a_pause_are_one() {
        let mut cells = vec![5.0; 400];
        cells[100..140].fill(0.0);
        let curve = Curve::new(0.0, 0.02, cells);
        assert_eq!(curve.stretches(0.5, 1.0).len(), 1);
        assert_eq!(curve.stretches(0.5, 0.5).len(), 2);
    }
}
