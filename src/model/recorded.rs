//! In: a window and its bursts. Out: the posterior of the flow: mean, draws, evidence for changes of its level.

use crate::model::belief::Transitions;
use crate::model::burst::Burst;
use crate::model::hand::{
    BEAT, CHANGE, Cell, FLOW, Hand, LEVEL, LINE, LOAD, N, Passage, QUICK, READING, SLOW, SPEED, States, pass,
    pass_back,
};
use crate::model::kept::Kept;
use crate::model::lanes::{Belief, Innovation, Row};
use crate::model::pack::Pack;
use crate::model::window::{Sink, Still, Window};

/// One operation on the states.
enum Op {
    /// A burst begins: its index.
    Begin(usize),
    End,
    /// A reading: the row of the flow, what is kept of reading and speed, mass, variance of its noise.
    Observe {
        row: Row<1>,
        keeps: [f64; 2],
        mass_g: f64,
        var: f64,
    },
    Deposit(Row<1>),
    Flow,
    /// Prior variance of the next change.
    Merge(f64),
    /// What is kept of reading and speed, process noise of the zero.
    Rest([[f64; 2]; 2], f64),
}

/// A burst at its start.
struct Begun {
    at_s: f64,
    prior: [f64; FLOW],
    change_var: f64,
    scale: f64,
}

/// The operations of all legs with the filter's results, from which curves are drawn.
pub(crate) struct Recorded {
    ops: Vec<Op>,
    begun: Vec<Begun>,
    /// Innovation, variance and gain of each observation.
    seen: Vec<(f64, f64, [f64; N])>,
    cell: Cell,
    first: Still<1>,
}

struct Recorder<'a> {
    belief: Belief<1>,
    hand: &'a Hand,
    cells: Transitions<1>,
    out: Recorded,
}

impl Recorder<'_> {
    fn seen(&mut self, (nu, f): Innovation<1>) {
        self.out.seen.push((nu.0[0], f.0[0], self.belief.gain.map(|g| g.0[0])));
    }
}

const NONE: Row<1> = Row { level: Pack::ZERO, line: Pack::ZERO, change: Pack::ZERO };

impl Sink<1> for Recorder<'_> {
    fn begin(&mut self, at_s: f64, prior: &[Pack<1>; FLOW], change: Pack<1>, scale: f64, changes: bool) {
        self.belief.begin(prior, change, scale, changes);
        let begun = Begun { at_s, prior: prior.map(|p| p.0[0]), change_var: change.0[0], scale };
        self.out.ops.push(Op::Begin(self.out.begun.len()));
        self.out.begun.push(begun);
    }

    fn end(&mut self) {
        self.belief.end();
        self.out.ops.push(Op::End);
    }

    fn read(&mut self, mass_g: f64, var: Pack<1>) {
        let innovation = self.belief.read(mass_g, var);
        self.seen(innovation);
        self.out.ops.push(Op::Observe { row: NONE, keeps: [1.0, 0.0], mass_g, var: var.0[0] });
    }

    fn read_within(&mut self, row: &Row<1>, keeps: [Pack<1>; 2], mass_g: f64, var: Pack<1>) {
        let innovation = self.belief.read_within(row, keeps, mass_g, var);
        self.seen(innovation);
        self.out.ops.push(Op::Observe { row: *row, keeps: keeps.map(|k| k.0[0]), mass_g, var: var.0[0] });
    }

    fn deposit(&mut self, row: &Row<1>) {
        self.belief.deposit(row, self.cells.one());
        self.out.ops.push(Op::Deposit(*row));
    }

    fn flow(&mut self) {
        self.belief.flow(self.cells.one());
        self.out.ops.push(Op::Flow);
    }

    fn leap(&mut self, cells: usize, position: Pack<1>, by: Pack<1>) {
        self.belief.leap(self.cells.leap([self.hand], cells), position, by);
        for k in 0..cells {
            let line = position + by * k as f64;
            self.out.ops.push(Op::Deposit(Row { level: Pack::all(1.0), line, change: Pack::ZERO }));
            self.out.ops.push(Op::Flow);
        }
    }

    fn merge(&mut self, var: Pack<1>, changes: bool) {
        self.belief.merge(var, changes);
        self.out.ops.push(Op::Merge(var.0[0]));
    }

    fn rest(&mut self, kept: &Kept<1>, zero_g2: f64) {
        self.belief.rest(kept, Pack::all(zero_g2));
        self.out.ops.push(Op::Rest(kept.keeps.map(|row| row.map(|k| k.0[0])), zero_g2));
    }
}

pub(crate) fn record(window: &Window, bursts: &[Burst], hand: &Hand) -> Recorded {
    let first = window.first();
    let cell = hand.cell(window.grid_s);
    let mut recorder = Recorder {
        belief: Belief::new(first.x, first.p, hand.bends()),
        hand,
        cells: Transitions::new([hand], window.grid_s),
        out: Recorded { ops: Vec::new(), begun: Vec::new(), seen: Vec::new(), cell, first },
    };
    recorder.out.seen.reserve(window.time_s.len());
    let mut now_s = first.time_s;
    for (k, burst) in bursts.iter().enumerate() {
        now_s = window.walk(k, &[burst], &[hand], now_s, &mut recorder);
    }
    recorder.out
}

impl Row<1> {
    fn along<const K: usize>(&self, x: &States<K>) -> Pack<K> {
        let level = x[LEVEL] + x[SLOW] + x[QUICK] + x[BEAT];
        level * self.level.0[0] + x[LINE] * self.line.0[0] + x[CHANGE] * self.change.0[0]
    }

    /// Adds the row times a number to an adjoint state.
    fn add_to<const K: usize>(&self, r: &mut States<K>, by: Pack<K>) {
        let level = by * self.level.0[0];
        for k in [LEVEL, SLOW, QUICK, BEAT] {
            r[k] += level;
        }
        r[LINE] += by * self.line.0[0];
        r[CHANGE] += by * self.change.0[0];
    }
}

/// What a reading shows of the states.
fn shown<const K: usize>(row: &Row<1>, [a, e]: [f64; 2], x: &States<K>) -> Pack<K> {
    row.along(x) + x[LOAD] * (1.0 - a) + x[READING] * a + x[SPEED] * e
}

fn shown_back<const K: usize>(row: &Row<1>, [a, e]: [f64; 2], r: &mut States<K>, by: Pack<K>) {
    row.add_to(r, by);
    r[LOAD] += by * (1.0 - a);
    r[READING] += by * a;
    r[SPEED] += by * e;
}

fn dot<const K: usize>(gain: &[f64; N], r: &States<K>) -> Pack<K> {
    gain.iter().zip(r).fold(Pack::ZERO, |sum, (g, r)| sum + *r * *g)
}

fn fall_silent<const K: usize>(x: &mut States<K>) {
    x[..FLOW].fill(Pack::ZERO);
    x[CHANGE] = Pack::ZERO;
}

fn apply_mean<const K: usize>(x: &mut States<K>, op: &Op, cell: &Cell) {
    match op {
        Op::Deposit(row) => {
            let flow = row.along(x);
            deposit_mean(x, flow, cell);
        }
        Op::Flow => cell.step(x),
        Op::Rest(keeps, _) => pass(x, *keeps),
        Op::Begin(..) | Op::End => fall_silent(x),
        Op::Merge(_) => {
            x[LEVEL] += x[CHANGE];
            x[CHANGE] = Pack::ZERO;
        }
        Op::Observe { .. } => {}
    }
}

fn deposit_mean<const K: usize>(x: &mut States<K>, flow: Pack<K>, cell: &Cell) {
    let Passage { keeps, gains } = cell.passage;
    pass(x, keeps);
    x[LOAD] += flow * cell.length_s;
    x[READING] += flow * gains[0];
    x[SPEED] += flow * gains[1];
}

impl Recorded {
    /// The adjoint state before each operation, last first (fast state smoother; Durbin and Koopman 2012, 4.6.2, not
    /// checked), that after the last operation first of all; and what weighs on each observation, last first.
    fn backward<const K: usize>(&self, nu: &[Pack<K>], r: &mut Vec<States<K>>, u: &mut Vec<Pack<K>>) {
        let mut now = [Pack::ZERO; N];
        let mut seen = self.seen.iter().zip(nu).rev();
        for op in self.ops.iter().rev() {
            r.push(now);
            if let Op::Observe { row, keeps, .. } = op {
                let Some(((_, f, gain), nu)) = seen.next() else { continue };
                let weight = *nu * f.recip() - dot(gain, &now);
                shown_back(row, *keeps, &mut now, weight);
                u.push(weight);
            } else {
                self.adjoint(op, &mut now);
            }
        }
        r.push(now);
    }

    /// The flow of each cell under innovations; `prior` is 1 for the curves that have the prior mean, and 0 for others.
    fn smoothed<const K: usize>(&self, nu: &[Pack<K>], prior: Pack<K>) -> Vec<Pack<K>> {
        let (mut r, mut u) = (Vec::with_capacity(self.ops.len() + 1), Vec::with_capacity(self.seen.len()));
        self.backward(nu, &mut r, &mut u);
        let mut back = r.iter().rev();
        let r0 = back.next().copied().unwrap_or([Pack::ZERO; N]);
        // The speed is 0 at first.
        let [mm, mh, hh, ..] = self.first.p.map(|p| p.0[0]);
        let mut x = [Pack::ZERO; N];
        x[LOAD] = r0[LOAD] * mm + r0[READING] * mh + prior * self.first.x[0].0[0];
        x[READING] = r0[LOAD] * mh + r0[READING] * hh + prior * self.first.x[1].0[0];
        let mut scale = 0.0;
        let mut curve = Vec::new();
        for (op, r) in self.ops.iter().zip(back) {
            if let Op::Deposit(row) = op {
                let flow = row.along(&x);
                curve.push(flow);
                deposit_mean(&mut x, flow, &self.cell);
                x[LOAD] += r[LOAD] * self.cell.zero_g2;
                continue;
            }
            apply_mean(&mut x, op, &self.cell);
            match op {
                Op::Begin(k) => {
                    let begun = &self.begun[*k];
                    scale = begun.scale;
                    for i in 0..FLOW {
                        x[i] = r[i] * begun.prior[i];
                    }
                    x[CHANGE] = r[CHANGE] * begun.change_var;
                    x[LEVEL] += prior * scale;
                }
                Op::Merge(var) => x[CHANGE] = r[CHANGE] * *var,
                Op::Flow => self.cell.add_noise_times(r, scale, &mut x),
                Op::Rest(_, zero) => x[LOAD] += r[LOAD] * *zero,
                _ => {}
            }
        }
        curve
    }

    /// Instant of the first cell of each burst, and the number of its cells.
    pub(crate) fn places(&self) -> Vec<(f64, usize)> {
        let mut out: Vec<(f64, usize)> = Vec::new();
        for op in &self.ops {
            match (op, out.last_mut()) {
                (Op::Begin(k), _) => out.push((self.begun[*k].at_s, 0)),
                (Op::Deposit(_), Some((_, n))) => *n += 1,
                _ => {}
            }
        }
        out
    }

    /// The posterior mean of the flow of each cell.
    pub(crate) fn mean(&self) -> Vec<f64> {
        let nu: Vec<Pack<1>> = self.seen.iter().map(|s| Pack([s.0])).collect();
        self.smoothed(&nu, Pack([1.0])).into_iter().map(|flow| flow.0[0]).collect()
    }

    /// Normalised innovations with the instants of their readings.
    pub(crate) fn normalised(&self) -> impl Iterator<Item = f64> {
        self.seen.iter().map(|(nu, f, _)| nu / f.sqrt())
    }

    /// Log densities of the readings, each given those before it, up to a constant.
    pub(crate) fn log_densities(&self) -> impl Iterator<Item = f64> {
        self.seen.iter().map(|(nu, f, _)| -0.5 * (nu * nu / f + f.ln()))
    }

    /// The readings that the posterior mean explains, from the readings themselves (smoothed disturbances; Durbin and
    /// Koopman 2012, 4.5, not checked).
    pub(crate) fn explained(&self) -> Vec<f64> {
        let nu: Vec<Pack<1>> = self.seen.iter().map(|s| Pack([s.0])).collect();
        let (mut r, mut u) = (Vec::new(), Vec::new());
        self.backward(&nu, &mut r, &mut u);
        let read = |op: &Op| match op {
            Op::Observe { mass_g, var, .. } => Some((*mass_g, *var)),
            _ => None,
        };
        self.ops
            .iter()
            .filter_map(read)
            .zip(u.iter().rev())
            .map(|((mass_g, var), u)| mass_g - var * u.0[0])
            .collect()
    }

    /// Normalised innovations, by the filter's gains, of other readings: those of a flow, given for each cell in g/s
    /// before it is multiplied by the fraction that arrives, and an error of each reading, g. Least squares on them is
    /// generalised least squares on the readings (Durbin and Koopman 2012, 6.2.3, not checked).
    pub(crate) fn whitened<const K: usize>(
        &self,
        flow: impl Fn(usize) -> [f64; K],
        error_g: impl Fn(usize) -> [f64; K],
    ) -> Vec<[f64; K]> {
        let mut out = Vec::with_capacity(self.seen.len());
        let mut seen = self.seen.iter();
        // The state under the flow less the filter's prediction of it.
        let mut e: States<K> = [Pack::ZERO; N];
        let (mut now, mut cell) = (Pack::ZERO, 0);
        for op in &self.ops {
            if let Op::Observe { row, keeps, .. } = op {
                let Some((_, f, gain)) = seen.next() else { continue };
                let nu = Pack(error_g(out.len())) + shown(row, *keeps, &e);
                e.iter_mut().zip(gain).for_each(|(e, g)| *e -= nu * *g);
                out.push((nu * f.sqrt().recip()).0);
                continue;
            }
            apply_mean(&mut e, op, &self.cell);
            match op {
                Op::Begin(..) => now = Pack::ZERO,
                Op::Deposit(_) => cell += 1,
                _ => {}
            }
            if let Op::Begin(..) | Op::Flow = op {
                let next = Pack(flow(cell));
                e[LEVEL] += next - now;
                now = next;
            }
        }
        out
    }

    /// A draw from the prior with zero mean: the flow of each cell, and the innovations of its readings.
    fn drawn(&self, mut normal: impl FnMut() -> f64) -> (Vec<f64>, Vec<f64>) {
        // The draw, and the filter's mean of it.
        let mut x: States<2> = [Pack::ZERO; N];
        let base = self.first.p[0].0[0].sqrt() * normal();
        (x[LOAD].0[0], x[READING].0[0]) = (base, base);
        let [slow, slope, own, quick, beat] = self.cell.noise_factor();
        let zero_sd = self.cell.zero_g2.sqrt();
        let mut scale = 0.0;
        let mut curve = Vec::new();
        let mut nus = Vec::with_capacity(self.seen.len());
        let mut seen = self.seen.iter();
        for op in &self.ops {
            match op {
                Op::Deposit(row) => {
                    let flow = row.along(&x);
                    curve.push(flow.0[0]);
                    deposit_mean(&mut x, flow, &self.cell);
                    x[LOAD].0[0] += zero_sd * normal();
                    continue;
                }
                Op::Observe { row, keeps, var, .. } => {
                    let Some((_, _, gain)) = seen.next() else { continue };
                    let Pack([draw, mean]) = shown(row, *keeps, &x);
                    let nu = draw + var.sqrt() * normal() - mean;
                    x.iter_mut().zip(gain).for_each(|(x, g)| x.0[1] += g * nu);
                    nus.push(nu);
                    continue;
                }
                _ => apply_mean(&mut x, op, &self.cell),
            }
            match op {
                Op::Begin(k) => {
                    let begun = &self.begun[*k];
                    scale = begun.scale;
                    let mut drawn = |i: usize, var: f64| x[i].0[0] = var.sqrt() * normal();
                    drawn(LEVEL, begun.prior[LEVEL]);
                    drawn(LINE, begun.prior[LINE]);
                    drawn(CHANGE, begun.change_var);
                    (SLOW..FLOW).for_each(|i| drawn(i, begun.prior[i]));
                }
                Op::Merge(var) => x[CHANGE].0[0] = var.sqrt() * normal(),
                Op::Flow => {
                    let (z0, z1) = (scale * normal(), scale * normal());
                    x[SLOW].0[0] += slow * z0;
                    x[SLOW + 1].0[0] += slope * z0 + own * z1;
                    x[QUICK].0[0] += quick * scale * normal();
                    x[BEAT].0[0] += beat * scale * normal();
                    x[BEAT + 1].0[0] += beat * scale * normal();
                }
                Op::Rest(_, zero) => x[LOAD].0[0] += zero.sqrt() * normal(),
                _ => {}
            }
        }
        (curve, nus)
    }

    /// A deviation of the flow of each cell from its posterior mean, drawn from the posterior (Durbin and Koopman, A
    /// simple and efficient simulation smoother, Biometrika 89, 2002). Its negative is as likely.
    pub(crate) fn deviation(&self, normal: impl FnMut() -> f64) -> Vec<f64> {
        self.curves(normal).1
    }

    /// The posterior mean of the flow of each cell, and a deviation.
    pub(crate) fn curves(&self, normal: impl FnMut() -> f64) -> (Vec<f64>, Vec<f64>) {
        let (drawn, nus) = self.drawn(normal);
        let nu: Vec<Pack<2>> = self.seen.iter().zip(&nus).map(|(s, drawn)| Pack([s.0, *drawn])).collect();
        let smoothed = self.smoothed(&nu, Pack([1.0, 0.0]));
        smoothed.iter().zip(&drawn).map(|(flow, drawn)| (flow.0[0], drawn - flow.0[1])).unzip()
    }

    fn adjoint<const K: usize>(&self, op: &Op, now: &mut States<K>) {
        match op {
            Op::Deposit(row) => {
                let Passage { keeps, gains } = self.cell.passage;
                let by = now[LOAD] * self.cell.length_s + now[READING] * gains[0] + now[SPEED] * gains[1];
                row.add_to(now, by);
                pass_back(now, keeps);
            }
            Op::Flow => self.cell.step_back(now),
            Op::Begin(..) | Op::End => fall_silent(now),
            Op::Merge(_) => now[CHANGE] = now[LEVEL],
            Op::Rest(keeps, _) => pass_back(now, *keeps),
            Op::Observe { .. } => {}
        }
    }

    /// For each burst: log Bayes factor of a shift of the level before each of its cells, of a prior sd relative to the
    /// flow; and of each of its changes.
    pub(crate) fn shifts(&self, shift_sd: f64) -> Vec<Shifts> {
        let mut out = Vec::new();
        let mut now = Shifts::default();
        let mut r: States<1> = [Pack::ZERO; N];
        // Information of the later readings, a symmetric matrix.
        let mut n: States<N> = [Pack::ZERO; N];
        let mut seen = self.seen.iter().rev();
        let mut begun = self.begun.iter().rev();
        let mut scale = 0.0;
        for op in self.ops.iter().rev() {
            let change = |var: f64| log_bayes_factor(var, r[CHANGE].0[0], n[CHANGE].0[CHANGE]);
            match op {
                Op::End => scale = begun.next().map_or(0.0, |b| b.scale),
                Op::Begin(k) => {
                    now.changes.push(change(self.begun[*k].change_var));
                    now.changes.reverse();
                    now.cells.reverse();
                    out.push(std::mem::take(&mut now));
                }
                Op::Merge(var) => now.changes.push(change(*var)),
                _ => {}
            }
            if let Op::Observe { row, keeps, .. } = op {
                let Some((nu, f, gain)) = seen.next() else { continue };
                let u = Pack::all(nu / f) - dot(gain, &r);
                shown_back(row, *keeps, &mut r, u);
                let by = dot(gain, &n);
                let along = 1.0 / f + by.0.iter().zip(gain).map(|(a, b)| a * b).sum::<f64>();
                let mut h: States<1> = [Pack::ZERO; N];
                shown_back(row, *keeps, &mut h, Pack::all(1.0));
                let h = Pack(h.map(|h| h.0[0]));
                for (i, row) in n.iter_mut().enumerate() {
                    *row += h * (h.0[i] * along - by.0[i]) - by * h.0[i];
                }
            } else {
                self.adjoint(op, &mut r);
                self.adjoint(op, &mut n);
                let mut turned: States<N> = std::array::from_fn(|i| Pack(n.map(|row| row.0[i])));
                self.adjoint(op, &mut turned);
                n = turned;
            }
            if let Op::Deposit(_) = op {
                let var = (shift_sd * scale).powi(2);
                let (r, n) = (r[LEVEL].0[0], n[LEVEL].0[LEVEL]);
                now.cells.push(0.5 * (var * r * r / (1.0 + var * n) - (var * n).ln_1p()));
            }
        }
        out.reverse();
        out
    }
}

/// Evidence for shifts of the level of one burst.
#[derive(Debug, Default)]
pub(crate) struct Shifts {
    pub cells: Vec<f64>,
    pub changes: Vec<f64>,
}

/// Log Bayes factor of a normal quantity against 0, from its prior variance and the smoother's adjoint (Dickey, The
/// weighted likelihood ratio, Annals of Mathematical Statistics 42, 1971).
fn log_bayes_factor(prior_var: f64, r: f64, n: f64) -> f64 {
    let mean = prior_var * r;
    let var = (prior_var - prior_var * n * prior_var).max(1e-12 * prior_var);
    0.5 * (mean * mean / var + (var / prior_var).ln())
}
