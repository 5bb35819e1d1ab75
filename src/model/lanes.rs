//! In: one operation of the state-space model. Out: mean and covariance of the states after it, for some sets of
//! parameters at once.
//!
//! The sets differ little, so that their operations are the same. Each number is a pack of one value per set, which
//! lets the processor work on several. Of the covariance the lower triangle is kept. At rest only load and reading
//! live; a pending change does if the burst has one, the speed of the reading if the response bends.
//!
//! Durbin and Koopman, Time Series Analysis by State Space Methods, 2nd edition 2012, 4.3 (not checked).

use crate::model::hand::{BEAT, CHANGE, Cell, FLOW, LEVEL, LINE, LOAD, N, QUICK, READING, SLOW, SPEED};
use crate::model::kept::{Kept, Lower, SCALE, lower, transferred};
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
    pub length_s: Pack<K>,
    pub kept: Kept<K>,
    pub zero_g2: Pack<K>,
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
            kept: Kept::of(|k| cells[k].passage),
            zero_g2: of(&|c| c.zero_g2),
        }
    }

    pub(crate) fn step(&self, x: &mut [Pack<K>; N]) {
        let [[s00, s01], [s10, s11]] = self.slow;
        let (q, [cos, sin]) = (self.quick, self.beat);
        (x[2], x[3]) = (s00 * x[2] + s01 * x[3], s10 * x[2] + s11 * x[3]);
        x[4] = q * x[4];
        (x[5], x[6]) = (cos * x[5] - sin * x[6], sin * x[5] + cos * x[6]);
    }
}

/// Mean and lower triangle of the covariance.
#[derive(Debug, Clone)]
pub(crate) struct Belief<const K: usize> {
    pub x: [Pack<K>; N],
    pub p: [[Pack<K>; N]; N],
    /// Gain of the last reading.
    pub gain: [Pack<K>; N],
    /// Square of the scale of the flow.
    pub scale2: Pack<K>,
    /// Whether a burst goes on, and a change of its level is to come.
    pub flows: bool,
    pub changes: bool,
    /// Whether the speed of the reading is a state.
    pub bends: bool,
}

/// Innovation of a reading and its variance.
pub(crate) type Innovation<const K: usize> = (Pack<K>, Pack<K>);

impl<const K: usize> Belief<K> {
    pub(crate) fn new(x: [Pack<K>; 3], p: Lower<K>, bends: bool) -> Self {
        let zero = Pack::ZERO;
        let mut out = Self {
            x: [zero; N],
            p: [[zero; N]; N],
            gain: [zero; N],
            scale2: zero,
            flows: false,
            changes: false,
            bends,
        };
        for i in 0..3 {
            out.x[SCALE[i]] = x[i];
            for j in 0..=i {
                out.p[SCALE[i]][SCALE[j]] = p[lower(i, j)];
            }
        }
        out
    }

    /// Load, reading and its speed.
    pub(crate) fn still(&self) -> ([Pack<K>; 3], Lower<K>) {
        let p = &self.p;
        let [m, h, s] = SCALE;
        (SCALE.map(|i| self.x[i]), [p[m][m], p[h][m], p[h][h], p[s][m], p[s][h], p[s][s]])
    }

    /// No water for a time: passage of the reading, process noise of the zero.
    pub(crate) fn rest(&mut self, kept: &Kept<K>, zero_g2: Pack<K>) {
        if self.bends {
            let (x, p) = self.still();
            let a = kept.matrix();
            for i in 0..3 {
                self.x[SCALE[i]] = a[i][0] * x[0] + a[i][1] * x[1] + a[i][2] * x[2];
            }
            let mut p = transferred(&a, &p);
            p[0] += zero_g2;
            self.put(&p);
            return;
        }
        let (a, b) = (kept.keeps[0][0], Pack::all(1.0) - kept.keeps[0][0]);
        self.x[READING] = a * self.x[READING] + b * self.x[LOAD];
        let p = &mut self.p;
        let (mm, hm, hh) = (p[LOAD][LOAD], p[READING][LOAD], p[READING][READING]);
        p[READING][READING] = a * a * hh + (a + a) * b * hm + b * b * mm;
        p[READING][LOAD] = a * hm + b * mm;
        p[LOAD][LOAD] = mm + zero_g2;
    }

    /// Covariances of load, reading and speed.
    fn put(&mut self, p: &Lower<K>) {
        for i in 0..3 {
            for j in 0..=i {
                self.p[SCALE[i]][SCALE[j]] = p[lower(i, j)];
            }
        }
    }

    /// Covariances of load, reading and speed after a time: what is kept of them, the covariances of their gains with all
    /// states, and those of their gains.
    pub(crate) fn transfer(&mut self, a: &[[Pack<K>; 3]; 3], v: &[[Pack<K>; N]; 3], own: &Lower<K>) {
        let mut next = transferred(a, &self.still().1);
        let cross =
            |i: usize, j: usize| a[i][0] * v[j][LOAD] + a[i][1] * v[j][READING] + a[i][2] * v[j][SPEED];
        for i in 0..3 {
            for j in 0..=i {
                next[lower(i, j)] += cross(i, j) + cross(j, i) + own[lower(i, j)];
            }
        }
        let p = &mut self.p;
        for k in 0..FLOW {
            let before = SCALE.map(|i| p[i][k]);
            for i in 0..3 {
                p[SCALE[i]][k] = a[i][0] * before[0] + a[i][1] * before[1] + a[i][2] * before[2] + v[i][k];
            }
        }
        if self.changes {
            let before = [p[CHANGE][LOAD], p[CHANGE][READING], p[SPEED][CHANGE]];
            let after: [Pack<K>; 3] = std::array::from_fn(|i| {
                a[i][0] * before[0] + a[i][1] * before[1] + a[i][2] * before[2] + v[i][CHANGE]
            });
            (p[CHANGE][LOAD], p[CHANGE][READING], p[SPEED][CHANGE]) = (after[0], after[1], after[2]);
        }
        self.put(&next);
    }

    /// A burst begins: prior variances of its states, and its scale.
    pub(crate) fn begin(&mut self, prior: &[Pack<K>; FLOW], change: Pack<K>, scale: f64, changes: bool) {
        for (i, var) in prior.iter().enumerate() {
            self.x[i] = Pack::ZERO;
            self.p[i][..i].fill(Pack::ZERO);
            self.p[i][i] = *var;
        }
        for i in SCALE {
            self.p[i][..FLOW].fill(Pack::ZERO);
        }
        self.p[CHANGE][..CHANGE].fill(Pack::ZERO);
        self.p[SPEED][CHANGE] = Pack::ZERO;
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
        let carried = p[SPEED][CHANGE];
        p[SPEED][LEVEL] += carried;
        p[SPEED][CHANGE] = Pack::ZERO;
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
        for (row, lives) in [(CHANGE, self.changes), (SPEED, self.bends)] {
            if lives {
                let row = &mut p[row];
                along(row);
                row[4] = q * row[4];
                turned(row);
            }
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
        if self.bends {
            let q = &p[SPEED];
            out[SPEED] = row.level * (q[0] + q[2] + q[4] + q[5]) + row.line * q[1] + row.change * q[CHANGE];
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
        let (d, a, g) = (c.length_s, c.kept.keeps[0][0], c.kept.gains[0]);
        let b = Pack::all(1.0) - a;
        let flow = row.flow(&self.x);
        let [m, h, s] = SCALE.map(|i| self.x[i]);
        self.x[LOAD] = m + d * flow;
        self.x[READING] = a * h + b * m + g * flow;
        let v = self.with(row);
        let own = self.part(row, &v);
        if self.bends {
            let [e, k] = [c.kept.keeps[0][1], c.kept.keeps[1][0]];
            self.x[READING] += e * s;
            self.x[SPEED] = k * (h - m) + c.kept.keeps[1][1] * s + c.kept.gains[1] * flow;
            let gains = [d, g, c.kept.gains[1]];
            let mut own2 = [Pack::ZERO; 6];
            for i in 0..3 {
                for j in 0..=i {
                    own2[lower(i, j)] = gains[i] * gains[j] * own;
                }
            }
            own2[0] += c.zero_g2;
            self.transfer(&c.kept.matrix(), &gains.map(|gain| v.map(|v| gain * v)), &own2);
            return;
        }
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

    /// A reading at the start of a cell or at rest.
    pub(crate) fn read(&mut self, mass_g: f64, var: Pack<K>) -> Innovation<K> {
        let nu = Pack::all(mass_g) - self.x[READING];
        let p = &mut self.p;
        let f = p[READING][READING] + var;
        if self.flows {
            let mut v = [Pack::ZERO; N];
            v[..CHANGE].copy_from_slice(&p[READING][..CHANGE]);
            v[CHANGE] = p[CHANGE][READING];
            v[SPEED] = p[SPEED][READING];
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
        if self.bends {
            let s = p[SPEED][READING];
            let by_s = s * inverse;
            p[SPEED][LOAD] -= by_m * s;
            p[SPEED][READING] -= by_h * s;
            p[SPEED][SPEED] -= by_s * s;
            self.x[SPEED] += by_s * nu;
            self.gain[SPEED] = by_s;
        }
        (nu, f)
    }

    /// A reading within a cell: the row of the flow times its gain, and the passage of the reading since the cell's start.
    pub(crate) fn read_within(
        &mut self,
        row: &Row<K>,
        [a, e]: [Pack<K>; 2],
        mass_g: f64,
        var: Pack<K>,
    ) -> Innovation<K> {
        let b = Pack::all(1.0) - a;
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
        let mut expected = row.flow(&self.x) + b * self.x[LOAD] + a * self.x[READING];
        if self.bends {
            for k in 0..SPEED {
                v[k] += e * p[SPEED][k];
            }
            v[SPEED] += b * p[SPEED][LOAD] + a * p[SPEED][READING] + e * p[SPEED][SPEED];
            expected += e * self.x[SPEED];
        }
        let mut f = self.part(row, &v) + b * v[LOAD] + a * v[READING] + var;
        if self.bends {
            f += e * v[SPEED];
        }
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
            for j in 0..=CHANGE {
                p[CHANGE][j] -= gain[CHANGE] * v[j];
            }
        }
        if self.bends {
            gain[SPEED] = v[SPEED] * inverse;
            self.x[SPEED] += gain[SPEED] * nu;
            for j in 0..N {
                p[SPEED][j] -= gain[SPEED] * v[j];
            }
        }
        self.gain = gain;
        (nu, f)
    }
}
