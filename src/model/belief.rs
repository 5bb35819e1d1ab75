//! In: the legs of a window. Out: innovations and their variances (Kalman filter).

use crate::model::burst::Burst;
use crate::model::hand::{Cell, FLOW, Hand};
use crate::model::kept::Kept;
use crate::model::lanes::{Belief, Cells, Row};
use crate::model::leap::Leap;
use crate::model::pack::Pack;
use crate::model::window::{Sink, Still, Window};

/// Innovations and their variances.
pub(crate) type Seen<const K: usize> = Vec<(Pack<K>, Pack<K>)>;

/// Transitions of cells, and of several at once.
pub(crate) struct Transitions<const K: usize> {
    cells: [Cell; K],
    one: Cells<K>,
    leaps: Vec<Option<Leap<K>>>,
}

impl<const K: usize> Transitions<K> {
    pub(crate) fn new(hands: [&Hand; K], grid_s: f64) -> Self {
        let cells = hands.map(|h| h.cell(grid_s));
        Self { cells, one: Cells::new(&cells), leaps: Vec::new() }
    }

    pub(crate) fn one(&self) -> &Cells<K> {
        &self.one
    }

    /// Several cells as one.
    pub(crate) fn leap(&mut self, hands: [&Hand; K], n: usize) -> &Leap<K> {
        if self.leaps.len() <= n {
            self.leaps.resize(n + 1, None);
        }
        let (cells, one) = (&self.cells, &self.one);
        self.leaps[n].get_or_insert_with(|| {
            let whole = std::array::from_fn(|l| hands[l].cell(cells[l].length_s * n as f64));
            Leap::new(one, Cells::new(&whole), n, hands[0].bends())
        })
    }
}

struct Filter<'a, const K: usize> {
    belief: Belief<K>,
    hands: [&'a Hand; K],
    cells: &'a mut Transitions<K>,
    seen: &'a mut Seen<K>,
}

impl<const K: usize> Sink<K> for Filter<'_, K> {
    fn begin(&mut self, _: f64, prior: &[Pack<K>; FLOW], change: Pack<K>, scale: f64, changes: bool) {
        self.belief.begin(prior, change, scale, changes);
    }

    fn end(&mut self) {
        self.belief.end();
    }

    fn read(&mut self, mass_g: f64, var: Pack<K>) {
        let innovation = self.belief.read(mass_g, var);
        self.seen.push(innovation);
    }

    fn read_within(&mut self, row: &Row<K>, keeps: [Pack<K>; 2], mass_g: f64, var: Pack<K>) {
        let innovation = self.belief.read_within(row, keeps, mass_g, var);
        self.seen.push(innovation);
    }

    fn deposit(&mut self, row: &Row<K>) {
        self.belief.deposit(row, self.cells.one());
    }

    fn flow(&mut self) {
        self.belief.flow(self.cells.one());
    }

    fn leap(&mut self, cells: usize, position: Pack<K>, by: Pack<K>) {
        self.belief.leap(self.cells.leap(self.hands, cells), position, by);
    }

    fn merge(&mut self, var: Pack<K>, changes: bool) {
        self.belief.merge(var, changes);
    }

    fn rest(&mut self, kept: &Kept<K>, zero_g2: f64) {
        self.belief.rest(kept, Pack::all(zero_g2));
    }
}

/// Filters for some sets of parameters that differ little.
pub(crate) struct Filters<'a, const K: usize> {
    hands: [&'a Hand; K],
    cells: Transitions<K>,
}

impl<'a, const K: usize> Filters<'a, K> {
    pub(crate) fn new(hands: [&'a Hand; K], grid_s: f64) -> Self {
        Self { hands, cells: Transitions::new(hands, grid_s) }
    }

    /// One leg's innovations and their variances; the state after it.
    pub(crate) fn leg(
        &mut self,
        w: &Window,
        k: usize,
        bursts: &[&Burst; K],
        still: &Still<K>,
        seen: &mut Seen<K>,
    ) -> Still<K> {
        let hands = self.hands;
        let belief = Belief::new(still.x, still.p, hands[0].bends());
        let mut filter = Filter { belief, hands, cells: &mut self.cells, seen };
        let time_s = w.walk(k, bursts, &hands, still.time_s, &mut filter);
        let (x, p) = filter.belief.still();
        Still { time_s, x, p }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::hand::{CHANGE, LEVEL, LINE, LOAD, N, Passage, READING, SLOW, SPEED, States};

    const GRID_S: f64 = 0.035;
    /// Bends of a first-order lag, of two lags, of an average, of a response that overshoots.
    const BENDS: [f64; 4] = [0.0, 0.3, 2.0 / 3.0, 3.0];

    fn hands(bend: f64) -> [Hand; 2] {
        let first = Hand {
            delay_s: 0.16,
            bend,
            lead_s: 0.1,
            noise_sd_g: 0.06,
            stamp_sd_s: 0.001,
            zero_g2_per_s: 1e-3,
            line: 0.1,
            slow: 0.05,
            slow_s: 1.5,
            quick: 0.04,
            quick_s: 0.2,
            beat: 0.08,
            beat_hz: 0.9,
            beat_s: 8.0,
        };
        [first, Hand { delay_s: 0.25, slow: 0.2, beat_hz: 2.0, ..first }]
    }

    fn begun(hands: &[Hand; 2], changes: bool) -> Belief<2> {
        let zero = Pack::ZERO;
        let p = [25.0, 25.0, 25.0, 0.0, 0.0, 0.01].map(Pack::all);
        let bends = hands[0].bends();
        let p = if bends { p } else { [p[0], p[1], p[2], zero, zero, zero] };
        let mut out = Belief::new([3.0, 3.0, 0.0].map(Pack::all), p, bends);
        out.rest(&Kept::of(|l| hands[l].passage(0.1)), Pack::all(1e-4));
        let priors = [hands[0].prior_var(6.0), hands[1].prior_var(6.0)];
        out.begin(
            &std::array::from_fn(|i| Pack([priors[0][i], priors[1][i]])),
            Pack::all(13.0),
            6.0,
            changes,
        );
        out
    }

    fn row(line: f64) -> Row<2> {
        Row { level: Pack([1.0, 0.8]), line: Pack::all(line), change: Pack::all(0.3) }
    }

    fn agree(a: &Belief<2>, b: &Belief<2>) {
        for i in (0..N).filter(|&i| i != CHANGE) {
            for l in 0..2 {
                let sd = |i: usize| a.p[i][i].0[l].sqrt();
                assert!((a.x[i].0[l] - b.x[i].0[l]).abs() <= 1e-9 * sd(i), "state {i}");
                for j in (0..=i).filter(|&j| j != CHANGE) {
                    let off = (a.p[i][j].0[l] - b.p[i][j].0[l]).abs();
                    assert!(off <= 1e-9 * sd(i) * sd(j), "{i} {j}: {off}");
                }
            }
        }
    }

    #[test]
    fn cells_done_at_once_are_the_same_as_one_by_one() {
        for bend in BENDS {
            cells_at_once(&hands(bend));
        }
    }

    fn cells_at_once(hands: &[Hand; 2]) {
        let mut cells = Transitions::new(hands.each_ref(), GRID_S);
        let whole = |line: f64| Row { level: Pack::all(1.0), line: Pack::all(line), change: Pack::ZERO };
        let (mut one, mut all) = (begun(hands, false), begun(hands, false));
        for n in [2, 3, 29] {
            for k in 0..n {
                one.deposit(&whole(-0.4 + 0.01 * k as f64), cells.one());
                one.flow(cells.one());
            }
            all.leap(cells.leap(hands.each_ref(), n), Pack::all(-0.4), Pack::all(0.01));
            for belief in [&mut one, &mut all] {
                let keeps = [0.9, 0.05].map(Pack::all);
                belief.read_within(&row(0.1).scaled(Pack::all(0.01)), keeps, 4.0, Pack::all(0.004));
            }
            agree(&one, &all);
        }
    }

    /// A dense matrix from what is done with a state.
    fn matrix(mut of: impl FnMut(&mut States<1>)) -> [[f64; N]; N] {
        let columns: [States<1>; N] = std::array::from_fn(|j| {
            let mut x = [Pack::ZERO; N];
            x[j] = Pack::all(1.0);
            of(&mut x);
            x
        });
        std::array::from_fn(|i| std::array::from_fn(|j| columns[j][i].0[0]))
    }

    #[test]
    fn the_filter_is_that_of_full_matrices() {
        for bend in BENDS {
            as_full_matrices(&hands(bend));
        }
    }

    fn as_full_matrices(hands: &[Hand; 2]) {
        // x = F x, P = F P F' + Q; v = P h, f = h' v + r, x += v nu / f, P -= v v' / f (Kalman, A new approach to
        // linear filtering and prediction problems, Journal of Basic Engineering 82, 1960; from memory).
        let cells = Transitions::new(hands.each_ref(), GRID_S);
        let start = begun(hands, true);
        for l in 0..2 {
            let cell = hands[l].cell(GRID_S);
            let (mut one, mut x) = (begun(hands, true), start.x.map(|x| x.0[l]));
            let full = |b: &Belief<2>, i: usize, j: usize| b.p[i.max(j)][i.min(j)].0[l];
            let mut p: [[f64; N]; N] = std::array::from_fn(|i| std::array::from_fn(|j| full(&one, i, j)));
            let h = |row: &Row<2>| {
                let mut h = [0.0; N];
                for k in [LEVEL, SLOW, 4, 5] {
                    h[k] = row.level.0[l];
                }
                (h[LINE], h[CHANGE]) = (row.line.0[l], row.change.0[l]);
                h
            };
            for k in 0..12 {
                let c = h(&row(0.1 * f64::from(k)));
                let f = matrix(|x| {
                    let flow: f64 = c.iter().zip(x.iter()).map(|(c, x)| c * x.0[0]).sum();
                    let [m, h, s] = [LOAD, READING, SPEED].map(|i| x[i].0[0]);
                    let Passage { keeps: [[a, e], [c, k]], gains } = cell.passage;
                    x[LOAD] = Pack([m + cell.length_s * flow]);
                    x[READING] = Pack([a * h + (1.0 - a) * m + e * s + gains[0] * flow]);
                    x[SPEED] = Pack([c * (h - m) + k * s + gains[1] * flow]);
                    cell.step(x);
                });
                let mut q = matrix(|x| {
                    let r = std::mem::replace(x, [Pack::ZERO; N]);
                    cell.add_noise_times(&r, 6.0, x);
                });
                q[LOAD][LOAD] = cell.zero_g2;
                let times = |a: &[[f64; N]; N], b: &dyn Fn(usize, usize) -> f64| -> [[f64; N]; N] {
                    std::array::from_fn(|i| std::array::from_fn(|j| (0..N).map(|k| a[i][k] * b(k, j)).sum()))
                };
                let fp = times(&f, &|i, j| p[i][j]);
                p = times(&fp, &|i, j| f[j][i]);
                (0..N).for_each(|i| (0..N).for_each(|j| p[i][j] += q[i][j]));
                x = std::array::from_fn(|i| (0..N).map(|j| f[i][j] * x[j]).sum());
                one.deposit(&row(0.1 * f64::from(k)), cells.one());
                one.flow(cells.one());
                let within = row(0.2).scaled(Pack::all(0.01));
                let mut h = h(&within);
                let keeps = if hands[0].bends() { [0.7, 0.04] } else { [0.7, 0.0] };
                (h[LOAD], h[READING], h[SPEED]) = (0.3, 0.7, keeps[1]);
                let v: [f64; N] = std::array::from_fn(|i| (0..N).map(|j| p[i][j] * h[j]).sum());
                let var = (0..N).map(|i| h[i] * v[i]).sum::<f64>() + 0.004;
                let nu = 4.0 - (0..N).map(|i| h[i] * x[i]).sum::<f64>();
                (0..N).for_each(|i| x[i] += v[i] * nu / var);
                (0..N).for_each(|i| (0..N).for_each(|j| p[i][j] -= v[i] * v[j] / var));
                let seen = one.read_within(&within, keeps.map(Pack::all), 4.0, Pack::all(0.004));
                assert!((seen.0.0[l] - nu).abs() < 1e-9 && (seen.1.0[l] / var - 1.0).abs() < 1e-9);
            }
            for i in (0..N).filter(|&i| p[i][i] > 0.0) {
                assert!((one.x[i].0[l] - x[i]).abs() < 1e-9 * p[i][i].sqrt(), "state {i}");
                for j in 0..=i {
                    let off = (full(&one, i, j) - p[i][j]).abs();
                    assert!(off < 1e-9 * (p[i][i] * p[j][j]).sqrt(), "{i} {j}: {off}");
                }
            }
        }
    }
}
