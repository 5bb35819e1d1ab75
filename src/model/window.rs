//! In: readings and the bursts that explain them. Out: what happens to the states, in order of time.
//!
//! The flow lives on an even grid of cells. Within a cell it is that of the cell's middle, so that the error of the
//! grid is of second order. Readings lie anywhere in a cell. The grid does not move with the edges, so that the
//! likelihood is smooth in them.

use crate::model::burst::{Burst, Shape};
use crate::model::hand::{CHANGE_SD, FLOW, Hand};
use crate::model::kept::Kept;
use crate::model::lanes::Row;
use crate::model::pack::Pack;

/// Prior variance of the first reading, g2.
const BASE_VAR_G2: f64 = 25.0;

/// Readings of some neighbouring bursts. Each burst has a leg of them.
#[derive(Debug, Clone)]
pub(crate) struct Window<'a> {
    pub time_s: &'a [f64],
    pub mass_g: &'a [f64],
    /// Length of a cell, s.
    pub grid_s: f64,
    /// Index of the first reading of each leg.
    pub legs: Vec<usize>,
    /// Load before the first burst, g.
    pub base_g: f64,
}

/// What is done with the states along a leg, in order of time.
pub(crate) trait Sink<const K: usize> {
    /// A burst begins at an instant: prior variances of the flow's states and of a change, the scale of its flow, and
    /// whether its level changes.
    fn begin(&mut self, at_s: f64, prior: &[Pack<K>; FLOW], change: Pack<K>, scale: f64, changes: bool);
    /// It ends.
    fn end(&mut self);
    /// A reading, and the variance of its noise.
    fn read(&mut self, mass_g: f64, var: Pack<K>);
    /// A reading within a cell: the row of the flow times its gain, and what is kept of reading and speed since the cell's
    /// start.
    fn read_within(&mut self, row: &Row<K>, keeps: [Pack<K>; 2], mass_g: f64, var: Pack<K>);
    /// The water of one cell.
    fn deposit(&mut self, row: &Row<K>);
    /// The flow from one cell to the next.
    fn flow(&mut self);
    /// The same for some whole cells: their number, the position of the first, and from each to the next one.
    fn leap(&mut self, cells: usize, position: Pack<K>, by: Pack<K>);
    /// A change of the level is complete: prior variance of the next one, and whether there is one.
    fn merge(&mut self, var: Pack<K>, changes: bool);
    /// No water for a time: passage of the reading, process noise of the zero.
    fn rest(&mut self, kept: &Kept<K>, zero_g2: f64);
}

/// Passage over the latest time step: stamps are mostly even.
struct Passages<'a, const K: usize> {
    hands: [&'a Hand; K],
    dt_s: f64,
    kept: Kept<K>,
}

/// Most cells that are done at once.
pub(crate) const MOST_CELLS: usize = 32;

/// Times that differ by less than this are the same, s.
const SAME_S: f64 = 1e-12;

impl<const K: usize> Passages<'_, K> {
    fn over(&mut self, dt_s: f64) -> &Kept<K> {
        if (dt_s - self.dt_s).abs() > SAME_S {
            self.dt_s = dt_s;
            let scale = |h: &Hand| [h.delay_s, h.bend, h.lead_s].map(f64::to_bits);
            let first = self.hands[0];
            let passage = first.passage(dt_s);
            self.kept = Kept::of(|k| {
                let hand = self.hands[k];
                if scale(hand) == scale(first) { passage } else { hand.passage(dt_s) }
            });
        }
        &self.kept
    }
}

/// Load, reading and its speed between two legs.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Still<const K: usize> {
    pub time_s: f64,
    pub x: [Pack<K>; 3],
    /// Lower triangle of their covariance.
    pub p: [Pack<K>; 6],
}

impl Still<1> {
    pub(crate) fn of_both(&self) -> Still<2> {
        let both = |value: Pack<1>| Pack::all(value.0[0]);
        Still { time_s: self.time_s, x: self.x.map(both), p: self.p.map(both) }
    }
}

impl Window<'_> {
    pub(crate) fn leg(&self, k: usize) -> std::ops::Range<usize> {
        self.legs[k]..self.legs.get(k + 1).copied().unwrap_or(self.time_s.len())
    }

    pub(crate) fn first<const K: usize>(&self) -> Still<K> {
        let (base, var) = (Pack::all(self.base_g), Pack::all(BASE_VAR_G2));
        let zero = Pack::ZERO;
        Still { time_s: self.time_s[0], x: [base, base, zero], p: [var, var, var, zero, zero, zero] }
    }

    /// Goes along one leg from an instant on, for bursts that differ little; returns the instant of its end. Cells
    /// before the start of a burst or after its end change nothing, so that the cells are those of all of them.
    pub(crate) fn walk<const K: usize>(
        &self,
        k: usize,
        bursts: &[&Burst; K],
        hands: &[&Hand; K],
        from_s: f64,
        sink: &mut impl Sink<K>,
    ) -> f64 {
        let readings = self.leg(k);
        let d = self.grid_s;
        let shapes = bursts.map(Shape::new);
        let zero_g2_per_s = hands[0].zero_g2_per_s;
        let noise_var = Pack::of(|l| hands[l].noise_sd_g * hands[l].noise_sd_g);
        let scale = bursts[0].scale_g_per_s;
        let stamp = Pack::of(|l| scale * hands[l].stamp_sd_s);
        let mut passages = Passages { hands: *hands, dt_s: f64::INFINITY, kept: Kept::NONE };
        let least = |of: &dyn Fn(&Shape) -> f64| shapes.iter().map(of).fold(f64::INFINITY, f64::min);
        let most = |of: &dyn Fn(&Shape) -> f64| shapes.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        // A burst starts after the one before has ended.
        let index = |t: f64| (t - self.time_s[0]) / d;
        let first = index(least(&|s| s.start_s)).floor().max(index(from_s).ceil());
        let n_cells = (index(most(&|s| s.end_s)).floor() - first).max(0.0) as usize + 1;
        let begin_s = self.time_s[0] + first * d;
        // Between these all of the flow arrives.
        let (full_s, falls_s) = (most(&|s| s.full_s), least(&|s| s.falls_s));
        let mut now_s = from_s;
        let mut i = readings.start;
        while i < readings.end && self.time_s[i] < begin_s {
            rest(self.time_s[i], &mut now_s, zero_g2_per_s, &mut passages, sink);
            sink.read(self.mass_g[i], noise_var);
            i += 1;
        }
        rest(begin_s, &mut now_s, zero_g2_per_s, &mut passages, sink);
        let priors: [[f64; FLOW]; K] = std::array::from_fn(|l| hands[l].prior_var(scale));
        let change_var = Pack::all((CHANGE_SD * scale).powi(2));
        let n_changes = bursts[0].changes.len();
        let mut change = 0;
        sink.begin(
            begin_s,
            &std::array::from_fn(|j| Pack::of(|l| priors[l][j])),
            change_var,
            scale,
            n_changes > 0,
        );
        let mut cell = 0;
        while cell < n_cells {
            let at_s = begin_s + d * cell as f64;
            let end_s = at_s + d;
            let whole = at_s >= full_s && end_s <= falls_s;
            let position = Pack::of(|l| shapes[l].position(at_s + 0.5 * d));
            let row = |to_s: f64| {
                let level = if whole { Pack::all(1.0) } else { Pack::of(|l| shapes[l].fraction(at_s, to_s)) };
                let share = |l: usize| bursts[l].changes.get(change).map_or(0.0, |c| c.share(at_s, to_s));
                let change = if change < n_changes { level * Pack::of(share) } else { Pack::ZERO };
                Row { level, line: level * position, change }
            };
            let water = row(end_s);
            while i < readings.end && self.time_s[i] < end_s {
                let dt = self.time_s[i] - at_s;
                let by_stamp = stamp * water.level;
                let var = noise_var + by_stamp * by_stamp;
                if dt > 1e-9 {
                    let kept = passages.over(dt);
                    let within = row(at_s + dt).scaled(kept.gains[0]);
                    sink.read_within(&within, kept.keeps[0], self.mass_g[i], var);
                } else {
                    sink.read(self.mass_g[i], var);
                }
                i += 1;
            }
            if whole && change == n_changes {
                let next_s = self.time_s[..readings.end].get(i).map_or(f64::INFINITY, |t| t.min(falls_s));
                let after = |n: usize| begin_s + d * (cell + n) as f64 + d <= next_s;
                let n = (1..MOST_CELLS).find(|n| !after(*n)).unwrap_or(MOST_CELLS);
                if n > 1 && cell + n < n_cells {
                    sink.leap(n, position, Pack::of(|l| shapes[l].position_by(d)));
                    cell += n;
                    continue;
                }
            }
            sink.deposit(&water);
            if cell + 1 < n_cells {
                sink.flow();
                let done = |b: &&Burst| b.changes.get(change).is_some_and(|c| c.end_s() < end_s);
                if change < n_changes && bursts.iter().all(done) {
                    change += 1;
                    sink.merge(change_var, change < n_changes);
                }
            }
            cell += 1;
        }
        sink.end();
        now_s = begin_s + d * n_cells as f64;
        while i < readings.end {
            rest(self.time_s[i], &mut now_s, zero_g2_per_s, &mut passages, sink);
            sink.read(self.mass_g[i], noise_var);
            i += 1;
        }
        now_s
    }
}

/// No water until an instant.
fn rest<const K: usize>(
    to_s: f64,
    now_s: &mut f64,
    zero_g2_per_s: f64,
    passages: &mut Passages<K>,
    sink: &mut impl Sink<K>,
) {
    let dt = to_s - *now_s;
    if dt > 0.0 {
        sink.rest(passages.over(dt), zero_g2_per_s * dt);
        *now_s = to_s;
    }
}
