//! In: the legs of a window. Out: innovations and their variances (Kalman filter).

use crate::model::burst::Burst;
use crate::model::hand::{Cell, FLOW, Hand};
use crate::model::lanes::{Belief, Cells, Leap, Row};
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
            Leap::new(one, Cells::new(&whole), n)
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

    fn read_within(&mut self, row: &Row<K>, decay: Pack<K>, mass_g: f64, var: Pack<K>) {
        let innovation = self.belief.read_within(row, decay, mass_g, var);
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

    fn rest(&mut self, decay: Pack<K>, zero_g2: f64) {
        self.belief.rest(decay, Pack::all(zero_g2));
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
        let mut filter =
            Filter { belief: Belief::new(still.x, still.p), hands, cells: &mut self.cells, seen };
        let time_s = w.walk(k, bursts, &hands, still.time_s, &mut filter);
        let (x, p) = filter.belief.still();
        Still { time_s, x, p }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::hand::{CHANGE, LEVEL, LINE, LOAD, N, READING, SLOW, States};

    const GRID_S: f64 = 0.035;

    fn hands() -> [Hand; 2] {
        let first = Hand {
            tau_s: 0.16,
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
        [first, Hand { tau_s: 0.25, slow: 0.2, beat_hz: 2.0, ..first }]
    }

    fn begun(hands: &[Hand; 2], changes: bool) -> Belief<2> {
        let mut out = Belief::new([Pack::all(3.0); 2], [Pack::all(25.0); 3]);
        out.rest(Pack::all(0.6), Pack::all(1e-4));
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

    fn agree(a: &Belief<2>, b: &Belief<2>, n: usize) {
        for i in 0..n {
            for l in 0..2 {
                let sd = |i: usize| a.p[i][i].0[l].sqrt();
                assert!((a.x[i].0[l] - b.x[i].0[l]).abs() < 1e-9 * sd(i), "state {i}");
                for j in 0..=i {
                    let off = (a.p[i][j].0[l] - b.p[i][j].0[l]).abs();
                    assert!(off < 1e-9 * sd(i) * sd(j), "{i} {j}: {off}");
                }
            }
        }
    }

    #[test]
    fn cells_done_at_once_are_the_same_as_one_by_one() {
        let hands = hands();
        let mut cells = Transitions::new(hands.each_ref(), GRID_S);
        let whole = |line: f64| Row { level: Pack::all(1.0), line: Pack::all(line), change: Pack::ZERO };
        let (mut one, mut all) = (begun(&hands, false), begun(&hands, false));
        for n in [2, 3, 29] {
            for k in 0..n {
                one.deposit(&whole(-0.4 + 0.01 * k as f64), cells.one());
                one.flow(cells.one());
            }
            all.leap(cells.leap(hands.each_ref(), n), Pack::all(-0.4), Pack::all(0.01));
            for belief in [&mut one, &mut all] {
                belief.read_within(&row(0.1).scaled(Pack::all(0.01)), Pack::all(0.9), 4.0, Pack::all(0.004));
            }
            agree(&one, &all, CHANGE);
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
        // x = F x, P = F P F' + Q; v = P h, f = h' v + r, x += v nu / f, P -= v v' / f (Kalman, A new approach to
        // linear filtering and prediction problems, Journal of Basic Engineering 82, 1960; from memory).
        let hands = hands();
        let cells = Transitions::new(hands.each_ref(), GRID_S);
        let start = begun(&hands, true);
        for l in 0..2 {
            let cell = hands[l].cell(GRID_S);
            let (mut one, mut x) = (begun(&hands, true), start.x.map(|x| x.0[l]));
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
                    let (m, h) = (x[LOAD].0[0], x[READING].0[0]);
                    x[LOAD] = Pack([m + cell.length_s * flow]);
                    x[READING] = Pack([cell.decay * h + (1.0 - cell.decay) * m + cell.gain_s * flow]);
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
                (h[LOAD], h[READING]) = (0.3, 0.7);
                let v: [f64; N] = std::array::from_fn(|i| (0..N).map(|j| p[i][j] * h[j]).sum());
                let var = (0..N).map(|i| h[i] * v[i]).sum::<f64>() + 0.004;
                let nu = 4.0 - (0..N).map(|i| h[i] * x[i]).sum::<f64>();
                (0..N).for_each(|i| x[i] += v[i] * nu / var);
                (0..N).for_each(|i| (0..N).for_each(|j| p[i][j] -= v[i] * v[j] / var));
                let seen = one.read_within(&within, Pack::all(0.7), 4.0, Pack::all(0.004));
                assert!((seen.0.0[l] - nu).abs() < 1e-9 && (seen.1.0[l] / var - 1.0).abs() < 1e-9);
            }
            for i in 0..N {
                assert!((one.x[i].0[l] - x[i]).abs() < 1e-9 * p[i][i].sqrt(), "state {i}");
                for j in 0..=i {
                    let off = (full(&one, i, j) - p[i][j]).abs();
                    assert!(off < 1e-9 * (p[i][i] * p[j][j]).sqrt(), "{i} {j}: {off}");
                }
            }
        }
    }
}
