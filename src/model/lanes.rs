//! In: one operation of the state-space model. Out: mean and covariance of the states after it, for some sets of
//! parameters at once.
//!
//! The sets differ little, so that their operations are the same. Each number is a pack of one value per set, which
//! lets the processor work on several. Of the covariance the lower triangle is kept. At rest only load and reading
//! live; a pending change does if the burst has one.
//!
//! Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd edition 2012, 4.3 (not checked).

use crate::model::hand::{BEAT, CHANGE, Cell, FLOW, LEVEL, LINE, LOAD, N, QUICK, READING, SLOW};
use crate::model::pack::Pack;

/// What the flow of some time is of its states: of level and processes, of the line, of a pending change.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Row<const K: usize> {
    pub level: Pack<K>,
    pub line: Pack<K>,
    pub change: Pack<K>,
}

impl<const K: usize> Row<K> {
    pub(crate) fn scaled(&self, by: Pack<K>) -> Self {
        Self { level: self.level * by, line: self.line * by, change: self.change * by }
    }

    /// Flow of a state.
    pub(crate) fn flow(&self, x: &[Pack<K>; N]) -> Pack<K> {
        let level = x[LEVEL] + x[SLOW] + x[QUICK] + x[BEAT];
        self.level * level + self.line * x[LINE] + self.change * x[CHANGE]
    }
}

/// Cells of some sets of parameters; process noise for the scale of a burst.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Cells<const K: usize> {
    slow: [[Pack<K>; 2]; 2],
    quick: Pack<K>,
    beat: [Pack<K>; 2],
    slow_noise: [Pack<K>; 3],
    quick_noise: Pack<K>,
    beat_noise: Pack<K>,
    length_s: Pack<K>,
    decay: Pack<K>,
    gain_s: Pack<K>,
    zero_g2: Pack<K>,
}

impl<const K: usize> Cells<K> {
    pub(crate) fn new(cells: &[Cell; K]) -> Self {
        let of = |value: &dyn Fn(&Cell) -> f64| Pack::of(|k| value(&cells[k]));
        Self {
            slow: [0, 1].map(|i| [0, 1].map(|j| of(&|c| c.slow[i][j]))),
            quick: of(&|c| c.quick),
            beat: [0, 1].map(|i| of(&|c| c.beat[i])),
            slow_noise: [(0, 0), (0, 1), (1, 1)].map(|(i, j)| of(&|c| c.slow_noise[i][j])),
            quick_noise: of(&|c| c.quick_noise),
            beat_noise: of(&|c| c.beat_noise),
            length_s: of(&|c| c.length_s),
            decay: of(&|c| c.decay),
            gain_s: of(&|c| c.gain_s),
            zero_g2: of(&|c| c.zero_g2),
        }
    }

    fn step(&self, x: &mut [Pack<K>; N]) {
        let [[s00, s01], [s10, s11]] = self.slow;
        let (q, [cos, sin]) = (self.quick, self.beat);
        (x[2], x[3]) = (s00 * x[2] + s01 * x[3], s10 * x[2] + s11 * x[3]);
        x[4] = q * x[4];
        (x[5], x[6]) = (cos * x[5] - sin * x[6], sin * x[5] + cos * x[6]);
    }
}

/// Some whole cells without a reading, of a burst whose level changes no more: their transition as one.
#[derive(Debug, Clone)]
pub(crate) struct Leap<const K: usize> {
    /// Transition and process noise of the flow.
    cells: Cells<K>,
    /// Water by each state of the flow: in load, in reading.
    load: [Pack<K>; FLOW],
    reading: [Pack<K>; FLOW],
    /// The same by the line, for a position that grows by 1 from cell to cell.
    slopes: [Pack<K>; 2],
    decay: Pack<K>,
    /// Covariances of load and reading, for a flow of scale 1.
    noise: [[Pack<K>; FLOW]; 2],
    own_noise: [Pack<K>; 3],
    zero_g2: [Pack<K>; 3],
}

impl<const K: usize> Leap<K> {
    /// `n` cells; `whole` are those of their common length.
    pub(crate) fn new(c: &Cells<K>, whole: Cells<K>, n: usize) -> Self {
        let one = Pack::all(1.0);
        let row = Row { level: one, line: Pack::ZERO, change: Pack::ZERO };
        // The noise of a flow that is known at the start.
        let mut noise = Belief::new([Pack::ZERO; 2], [Pack::ZERO; 3]);
        (noise.scale2, noise.flows) = (one, true);
        let still = Cells { zero_g2: Pack::ZERO, ..*c };
        for _ in 0..n {
            noise.deposit(&row, &still);
            noise.flow(&still);
        }
        let mut out = Self {
            cells: whole,
            load: [Pack::ZERO; FLOW],
            reading: [Pack::ZERO; FLOW],
            slopes: [Pack::ZERO; 2],
            decay: one,
            noise: [LOAD, READING].map(|i| std::array::from_fn(|k| noise.p[i][k])),
            own_noise: noise.still().1,
            zero_g2: [Pack::ZERO; 3],
        };
        // What remains of a deposit in the reading, backward from the last cell; powers of the processes forward.
        for k in 0..n {
            let settled = one - out.decay;
            let kept = [c.length_s, out.decay * c.gain_s + settled * c.length_s];
            let at = Pack::all((n - 1 - k) as f64);
            out.load[LEVEL] += kept[0];
            out.reading[LEVEL] += kept[1];
            out.slopes[0] += at * kept[0];
            out.slopes[1] += at * kept[1];
            for (sum, by) in out.zero_g2.iter_mut().zip([one, settled, settled * settled]) {
                *sum += c.zero_g2 * by;
            }
            out.decay = out.decay * c.decay;
        }
        for state in SLOW..FLOW {
            let mut x = [Pack::ZERO; N];
            x[state] = one;
            for _ in 0..n {
                let flow = row.flow(&x);
                let (m, h) = (x[LOAD], x[READING]);
                x[LOAD] = m + c.length_s * flow;
                x[READING] = c.decay * h + (one - c.decay) * m + c.gain_s * flow;
                c.step(&mut x);
            }
            (out.load[state], out.reading[state]) = (x[LOAD], x[READING]);
        }
        out
    }
}

/// Products of the lower triangle of a covariance with a row of the flow's states.
fn products<const K: usize>(p: &[[Pack<K>; N]; N], c: &[Pack<K>; FLOW]) -> [Pack<K>; CHANGE] {
    let mut out = [Pack::ZERO; CHANGE];
    for k in 0..CHANGE {
        let mut sum = c[0] * p[k][0];
        for i in 1..FLOW {
            sum += c[i] * if i < k { p[k][i] } else { p[i][k] };
        }
        out[k] = sum;
    }
    out
}

/// Mean and lower triangle of the covariance.
#[derive(Debug, Clone)]
pub(crate) struct Belief<const K: usize> {
    pub x: [Pack<K>; N],
    pub p: [[Pack<K>; N]; N],
    /// Gain of the last reading.
    pub gain: [Pack<K>; N],
    /// Square of the scale of the flow.
    scale2: Pack<K>,
    /// Whether a burst goes on, and a change of its level is to come.
    flows: bool,
    changes: bool,
}

/// Innovation of a reading and its variance.
pub(crate) type Innovation<const K: usize> = (Pack<K>, Pack<K>);

impl<const K: usize> Belief<K> {
    pub(crate) fn new(x: [Pack<K>; 2], p: [Pack<K>; 3]) -> Self {
        let zero = Pack::ZERO;
        let mut out = Self {
            x: [zero; N],
            p: [[zero; N]; N],
            gain: [zero; N],
            scale2: zero,
            flows: false,
            changes: false,
        };
        (out.x[LOAD], out.x[READING]) = (x[0], x[1]);
        (out.p[LOAD][LOAD], out.p[READING][LOAD], out.p[READING][READING]) = (p[0], p[1], p[2]);
        out
    }

    /// Load and reading.
    pub(crate) fn still(&self) -> ([Pack<K>; 2], [Pack<K>; 3]) {
        let p = &self.p;
        ([self.x[LOAD], self.x[READING]], [p[LOAD][LOAD], p[READING][LOAD], p[READING][READING]])
    }

    /// No water for a time: decay of the reading, process noise of the zero.
    pub(crate) fn rest(&mut self, decay: Pack<K>, zero_g2: Pack<K>) {
        let (a, b) = (decay, Pack::all(1.0) - decay);
        self.x[READING] = a * self.x[READING] + b * self.x[LOAD];
        let p = &mut self.p;
        let (mm, hm, hh) = (p[LOAD][LOAD], p[READING][LOAD], p[READING][READING]);
        p[READING][READING] = a * a * hh + (a + a) * b * hm + b * b * mm;
        p[READING][LOAD] = a * hm + b * mm;
        p[LOAD][LOAD] = mm + zero_g2;
    }

    /// A burst begins: prior variances of its states, and its scale.
    pub(crate) fn begin(&mut self, prior: &[Pack<K>; FLOW], change: Pack<K>, scale: f64, changes: bool) {
        for (i, var) in prior.iter().enumerate() {
            self.x[i] = Pack::ZERO;
            self.p[i][..i].fill(Pack::ZERO);
            self.p[i][i] = *var;
        }
        for i in [LOAD, READING] {
            self.p[i][..FLOW].fill(Pack::ZERO);
        }
        self.p[CHANGE][..CHANGE].fill(Pack::ZERO);
        self.x[CHANGE] = Pack::ZERO;
        self.p[CHANGE][CHANGE] = change;
        self.x[LEVEL] = Pack::all(scale);
        self.scale2 = Pack::all(scale * scale);
        (self.flows, self.changes) = (true, changes);
    }

    pub(crate) fn end(&mut self) {
        for states in [&mut self.x, &mut self.gain] {
            states[..FLOW].fill(Pack::ZERO);
            states[CHANGE] = Pack::ZERO;
        }
        (self.flows, self.changes) = (false, false);
    }

    /// A change of the level is complete; prior variance of the next one.
    pub(crate) fn merge(&mut self, var: Pack<K>, changes: bool) {
        let x = &mut self.x;
        x[LEVEL] += x[CHANGE];
        x[CHANGE] = Pack::ZERO;
        let p = &mut self.p;
        let change = p[CHANGE];
        p[LEVEL][LEVEL] += change[LEVEL] + change[LEVEL] + change[CHANGE];
        for k in LINE..CHANGE {
            p[k][LEVEL] += change[k];
        }
        p[CHANGE][..CHANGE].fill(Pack::ZERO);
        p[CHANGE][CHANGE] = var;
        self.gain[CHANGE] = Pack::ZERO;
        self.changes = changes;
    }

    /// The flow from one cell to the next.
    pub(crate) fn flow(&mut self, c: &Cells<K>) {
        let [[s00, s01], [s10, s11]] = c.slow;
        let (q, [cos, sin]) = (c.quick, c.beat);
        c.step(&mut self.x);
        let p = &mut self.p;
        // The processes with level and line.
        for j in [LEVEL, LINE] {
            (p[2][j], p[3][j]) = (s00 * p[2][j] + s01 * p[3][j], s10 * p[2][j] + s11 * p[3][j]);
            p[4][j] = q * p[4][j];
            (p[5][j], p[6][j]) = (cos * p[5][j] - sin * p[6][j], sin * p[5][j] + cos * p[6][j]);
        }
        // The slow process with itself and, below it, with the others.
        let s2 = self.scale2;
        let (a, b) = (s00 * p[2][2] + s01 * p[3][2], s00 * p[3][2] + s01 * p[3][3]);
        let (d, e) = (s10 * p[2][2] + s11 * p[3][2], s10 * p[3][2] + s11 * p[3][3]);
        p[2][2] = a * s00 + b * s01 + s2 * c.slow_noise[0];
        p[3][2] = d * s00 + e * s01 + s2 * c.slow_noise[1];
        p[3][3] = d * s10 + e * s11 + s2 * c.slow_noise[2];
        let along = |row: &mut [Pack<K>; N]| {
            (row[2], row[3]) = (s00 * row[2] + s01 * row[3], s10 * row[2] + s11 * row[3]);
        };
        let turned = |row: &mut [Pack<K>; N]| {
            (row[5], row[6]) = (cos * row[5] - sin * row[6], sin * row[5] + cos * row[6]);
        };
        (p[4][2], p[4][3]) = (q * p[4][2], q * p[4][3]);
        along(&mut p[4]);
        p[4][4] = q * q * p[4][4] + s2 * c.quick_noise;
        for j in [SLOW, SLOW + 1] {
            (p[5][j], p[6][j]) = (cos * p[5][j] - sin * p[6][j], sin * p[5][j] + cos * p[6][j]);
        }
        along(&mut p[5]);
        along(&mut p[6]);
        (p[5][4], p[6][4]) = (q * (cos * p[5][4] - sin * p[6][4]), q * (sin * p[5][4] + cos * p[6][4]));
        let (a, b) = (cos * p[5][5] - sin * p[6][5], cos * p[6][5] - sin * p[6][6]);
        let (d, e) = (sin * p[5][5] + cos * p[6][5], sin * p[6][5] + cos * p[6][6]);
        p[5][5] = a * cos - b * sin + s2 * c.beat_noise;
        p[6][5] = d * cos - e * sin;
        p[6][6] = d * sin + e * cos + s2 * c.beat_noise;
        for row in [LOAD, READING] {
            let row = &mut p[row];
            along(row);
            row[4] = q * row[4];
            turned(row);
        }
        if self.changes {
            let row = &mut p[CHANGE];
            along(row);
            row[4] = q * row[4];
            turned(row);
        }
    }

    /// Covariances of the flow of a row with all states; those with load and reading by the covariance's row.
    fn with(&self, row: &Row<K>) -> [Pack<K>; N] {
        let p = &self.p;
        let level = [
            p[0][0] + p[2][0] + p[4][0] + p[5][0],
            p[1][0] + p[2][1] + p[4][1] + p[5][1],
            p[2][0] + p[2][2] + p[4][2] + p[5][2],
            p[3][0] + p[3][2] + p[4][3] + p[5][3],
            p[4][0] + p[4][2] + p[4][4] + p[5][4],
            p[5][0] + p[5][2] + p[5][4] + p[5][5],
            p[6][0] + p[6][2] + p[6][4] + p[6][5],
            p[7][0] + p[7][2] + p[7][4] + p[7][5],
            p[8][0] + p[8][2] + p[8][4] + p[8][5],
        ];
        let line = [p[1][0], p[1][1], p[2][1], p[3][1], p[4][1], p[5][1], p[6][1], p[7][1], p[8][1]];
        let mut out = [Pack::ZERO; N];
        for k in 0..CHANGE {
            out[k] = row.level * level[k] + row.line * line[k];
        }
        if self.changes {
            for k in 0..CHANGE {
                out[k] += row.change * p[CHANGE][k];
            }
            let q = &p[CHANGE];
            out[CHANGE] = row.level * (q[0] + q[2] + q[4] + q[5]) + row.line * q[1] + row.change * q[CHANGE];
        }
        out
    }

    /// The part of a row's flow in covariances `v`.
    fn part(&self, row: &Row<K>, v: &[Pack<K>; N]) -> Pack<K> {
        let out = row.level * (v[LEVEL] + v[SLOW] + v[QUICK] + v[BEAT]) + row.line * v[LINE];
        if self.changes { out + row.change * v[CHANGE] } else { out }
    }

    /// The water of one cell.
    pub(crate) fn deposit(&mut self, row: &Row<K>, c: &Cells<K>) {
        let (d, a, g) = (c.length_s, c.decay, c.gain_s);
        let b = Pack::all(1.0) - a;
        let flow = row.flow(&self.x);
        let (m, h) = (self.x[LOAD], self.x[READING]);
        self.x[LOAD] = m + d * flow;
        self.x[READING] = a * h + b * m + g * flow;
        let v = self.with(row);
        let own = self.part(row, &v);
        let changes = self.changes;
        let p = &mut self.p;
        for k in 0..FLOW {
            let (m, h) = (p[LOAD][k], p[READING][k]);
            p[LOAD][k] = m + d * v[k];
            p[READING][k] = a * h + b * m + g * v[k];
        }
        if changes {
            let (m, h) = (p[CHANGE][LOAD], p[CHANGE][READING]);
            p[CHANGE][LOAD] = m + d * v[CHANGE];
            p[CHANGE][READING] = a * h + b * m + g * v[CHANGE];
        }
        let (mm, hm, hh) = (p[LOAD][LOAD], p[READING][LOAD], p[READING][READING]);
        // Covariances of the reading after the cell, without its flow, and of the load before, with the flow.
        let ahead = a * v[READING] + b * v[LOAD];
        p[LOAD][LOAD] = mm + d * (v[LOAD] + v[LOAD] + d * own) + c.zero_g2;
        p[READING][LOAD] = a * hm + b * mm + g * v[LOAD] + d * (ahead + g * own);
        p[READING][READING] = a * a * hh + (a + a) * b * hm + b * b * mm + g * (ahead + ahead + g * own);
    }

    /// The water of some cells and the flow to the next one; position of the first cell, and from cell to cell.
    pub(crate) fn leap(&mut self, l: &Leap<K>, position: Pack<K>, by: Pack<K>) {
        let (mut c, mut e) = (l.load, l.reading);
        c[LINE] = position * c[LEVEL] + by * l.slopes[0];
        e[LINE] = position * e[LEVEL] + by * l.slopes[1];
        let (a, b) = (l.decay, Pack::all(1.0) - l.decay);
        let sum = |row: &[Pack<K>; FLOW], v: &[Pack<K>]| {
            let mut sum = row[0] * v[0];
            for i in 1..FLOW {
                sum += row[i] * v[i];
            }
            sum
        };
        let (m, h) = (self.x[LOAD], self.x[READING]);
        self.x[LOAD] = m + sum(&c, &self.x);
        self.x[READING] = a * h + b * m + sum(&e, &self.x);
        let (v, w) = (products(&self.p, &c), products(&self.p, &e));
        let (cc, ce, ee) = (sum(&c, &v), sum(&e, &v), sum(&e, &w));
        let p = &mut self.p;
        for k in 0..FLOW {
            let (m, h) = (p[LOAD][k], p[READING][k]);
            p[LOAD][k] = m + v[k];
            p[READING][k] = a * h + b * m + w[k];
        }
        let (mm, hm, hh) = (p[LOAD][LOAD], p[READING][LOAD], p[READING][READING]);
        let ahead = a * w[READING] + b * w[LOAD];
        p[LOAD][LOAD] = mm + v[LOAD] + v[LOAD] + cc + l.zero_g2[0];
        p[READING][LOAD] = a * (hm + v[READING]) + b * (mm + v[LOAD]) + w[LOAD] + ce + l.zero_g2[1];
        p[READING][READING] = a * a * hh + (a + a) * b * hm + b * b * mm + ahead + ahead + ee + l.zero_g2[2];
        self.flow(&l.cells);
        let (p, s2) = (&mut self.p, self.scale2);
        for (row, noise) in [LOAD, READING].into_iter().zip(&l.noise) {
            for k in SLOW..FLOW {
                p[row][k] += s2 * noise[k];
            }
        }
        p[LOAD][LOAD] += s2 * l.own_noise[0];
        p[READING][LOAD] += s2 * l.own_noise[1];
        p[READING][READING] += s2 * l.own_noise[2];
    }

    /// A reading at the start of a cell or at rest.
    pub(crate) fn read(&mut self, mass_g: f64, var: Pack<K>) -> Innovation<K> {
        let nu = Pack::all(mass_g) - self.x[READING];
        let p = &mut self.p;
        let f = p[READING][READING] + var;
        if self.flows {
            let mut v = [Pack::ZERO; N];
            v[..CHANGE].copy_from_slice(&p[READING][..CHANGE]);
            v[CHANGE] = p[CHANGE][READING];
            return self.update(&v, nu, f);
        }
        let inverse = f.recip();
        let (m, h) = (p[READING][LOAD], p[READING][READING]);
        let (by_m, by_h) = (m * inverse, h * inverse);
        p[LOAD][LOAD] -= by_m * m;
        p[READING][LOAD] -= by_h * m;
        p[READING][READING] -= by_h * h;
        self.x[LOAD] += by_m * nu;
        self.x[READING] += by_h * nu;
        (self.gain[LOAD], self.gain[READING]) = (by_m, by_h);
        (nu, f)
    }

    /// A reading within a cell: the row of the flow times its gain, the decay of the reading since the cell's start.
    pub(crate) fn read_within(
        &mut self,
        row: &Row<K>,
        decay: Pack<K>,
        mass_g: f64,
        var: Pack<K>,
    ) -> Innovation<K> {
        let (a, b) = (decay, Pack::all(1.0) - decay);
        let mut v = self.with(row);
        let p = &self.p;
        for k in 0..FLOW {
            v[k] += b * p[LOAD][k] + a * p[READING][k];
        }
        if self.changes {
            v[CHANGE] += b * p[CHANGE][LOAD] + a * p[CHANGE][READING];
        }
        v[LOAD] += b * p[LOAD][LOAD] + a * p[READING][LOAD];
        v[READING] += b * p[READING][LOAD] + a * p[READING][READING];
        let f = self.part(row, &v) + b * v[LOAD] + a * v[READING] + var;
        let expected = row.flow(&self.x) + b * self.x[LOAD] + a * self.x[READING];
        self.update(&v, Pack::all(mass_g) - expected, f)
    }

    fn update(&mut self, v: &[Pack<K>; N], nu: Pack<K>, f: Pack<K>) -> Innovation<K> {
        let inverse = f.recip();
        let p = &mut self.p;
        let mut gain = [Pack::ZERO; N];
        for i in 0..CHANGE {
            gain[i] = v[i] * inverse;
            self.x[i] += gain[i] * nu;
        }
        for i in 0..CHANGE {
            for j in 0..=i {
                p[i][j] -= gain[i] * v[j];
            }
        }
        if self.changes {
            gain[CHANGE] = v[CHANGE] * inverse;
            self.x[CHANGE] += gain[CHANGE] * nu;
            for j in 0..N {
                p[CHANGE][j] -= gain[CHANGE] * v[j];
            }
        }
        self.gain = gain;
        (nu, f)
    }
}
