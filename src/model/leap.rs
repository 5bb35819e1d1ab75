//! In: whole cells without a reading. Out: mean and covariance of the states after them, in one operation.

use crate::model::hand::{CHANGE, FLOW, LEVEL, LINE, LOAD, N, READING, SLOW, SPEED};
use crate::model::kept::{Lower, SCALE, lower};
use crate::model::lanes::{Belief, Cells, Row};
use crate::model::pack::Pack;

/// Some whole cells without a reading, of a burst whose level changes no more: their transition as one.
#[derive(Debug, Clone)]
pub(crate) struct Leap<const K: usize> {
    /// Transition and process noise of the flow.
    cells: Cells<K>,
    /// What load, reading and speed gain by each state of the flow.
    by: [[Pack<K>; FLOW]; 3],
    /// The same by the line, for a position that grows by 1 from cell to cell.
    slopes: [Pack<K>; 3],
    kept: [[Pack<K>; 3]; 3],
    /// Their covariances, for a flow of scale 1: with the flow's states, and their own.
    noise: [[Pack<K>; FLOW]; 3],
    own_noise: Lower<K>,
    zero_g2: Lower<K>,
}

impl<const K: usize> Leap<K> {
    /// `n` cells; `whole` are those of their common length.
    pub(crate) fn new(c: &Cells<K>, whole: Cells<K>, n: usize, bends: bool) -> Self {
        let one = Pack::all(1.0);
        let row = Row { level: one, line: Pack::ZERO, change: Pack::ZERO };
        // The noise of a flow that is known at the start.
        let mut noise = Belief::new([Pack::ZERO; 3], [Pack::ZERO; 6], bends);
        (noise.scale2, noise.flows) = (one, true);
        let mut still = *c;
        still.zero_g2 = Pack::ZERO;
        for _ in 0..n {
            noise.deposit(&row, &still);
            noise.flow(&still);
        }
        let mut out = Self {
            cells: whole,
            by: [[Pack::ZERO; FLOW]; 3],
            slopes: [Pack::ZERO; 3],
            kept: whole.kept.matrix(),
            noise: SCALE.map(|i| std::array::from_fn(|k| noise.p[i][k])),
            own_noise: noise.still().1,
            zero_g2: [Pack::ZERO; 6],
        };
        // What remains of a deposit, from the first cell on; powers of the processes forward.
        let after = |x: [Pack<K>; 3], kept: &[[Pack<K>; 3]; 3]| {
            kept.map(|row| row[0] * x[0] + row[1] * x[1] + row[2] * x[2])
        };
        let kept = c.kept.matrix();
        let gains = [c.length_s, c.kept.gains[0], c.kept.gains[1]];
        let (mut level, mut slopes, mut zero) = ([Pack::ZERO; 3], [Pack::ZERO; 3], [Pack::ZERO; 3]);
        for k in 0..n {
            (level, slopes) = (after(level, &kept), after(slopes, &kept));
            for i in 0..3 {
                level[i] += gains[i];
                slopes[i] += gains[i] * k as f64;
            }
            zero = if k == 0 { [one, Pack::ZERO, Pack::ZERO] } else { after(zero, &kept) };
            for i in 0..3 {
                for j in 0..=i {
                    out.zero_g2[lower(i, j)] += c.zero_g2 * zero[i] * zero[j];
                }
            }
        }
        out.slopes = slopes;
        (0..3).for_each(|i| out.by[i][LEVEL] = level[i]);
        for state in SLOW..FLOW {
            let mut x = [Pack::ZERO; N];
            x[state] = one;
            for _ in 0..n {
                let flow = row.flow(&x);
                let next = after(SCALE.map(|i| x[i]), &kept);
                for (i, state) in SCALE.into_iter().enumerate() {
                    x[state] = next[i] + gains[i] * flow;
                }
                c.step(&mut x);
            }
            (0..3).for_each(|i| out.by[i][state] = x[SCALE[i]]);
        }
        out
    }
}

/// A product of a row of numbers with a part of a state.
fn sum<const K: usize>(row: &[Pack<K>; FLOW], v: &[Pack<K>]) -> Pack<K> {
    let mut sum = row[0] * v[0];
    for i in 1..FLOW {
        sum += row[i] * v[i];
    }
    sum
}

/// Products of the lower triangle of a covariance with a row of the flow's states, but for a change.
fn products<const K: usize>(p: &[[Pack<K>; N]; N], c: &[Pack<K>; FLOW], bends: bool) -> [Pack<K>; N] {
    let mut out = [Pack::ZERO; N];
    for k in 0..CHANGE {
        let mut sum = c[0] * p[k][0];
        for i in 1..FLOW {
            sum += c[i] * if i < k { p[k][i] } else { p[i][k] };
        }
        out[k] = sum;
    }
    if bends {
        out[SPEED] = sum(c, &p[SPEED]);
    }
    out
}

impl<const K: usize> Belief<K> {
    /// The water of some cells and the flow to the next one; position of the first cell, and from cell to cell.
    pub(crate) fn leap(&mut self, l: &Leap<K>, position: Pack<K>, by: Pack<K>) {
        let mut by_states = l.by;
        for (own, (by_level, slope)) in by_states.iter_mut().zip(l.by.iter().zip(&l.slopes)) {
            own[LINE] = position * by_level[LEVEL] + by * *slope;
        }
        let [c, e, f] = &by_states;
        let before = SCALE.map(|i| self.x[i]);
        for i in 0..3 {
            let kept = l.kept[i][0] * before[0] + l.kept[i][1] * before[1] + l.kept[i][2] * before[2];
            self.x[SCALE[i]] = kept + sum(&by_states[i], &self.x);
        }
        let (v, w) = (products(&self.p, c, self.bends), products(&self.p, e, self.bends));
        if self.bends {
            let z = products(&self.p, f, true);
            let own = [sum(c, &v), sum(e, &v), sum(e, &w), sum(f, &v), sum(f, &w), sum(f, &z)];
            let own: Lower<K> = std::array::from_fn(|i| own[i] + l.zero_g2[i]);
            self.transfer(&l.kept, &[v, w, z], &own);
        } else {
            let (a, b) = (l.kept[1][1], l.kept[1][0]);
            let (cc, ce, ee) = (sum(c, &v), sum(e, &v), sum(e, &w));
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
            p[READING][READING] =
                a * a * hh + (a + a) * b * hm + b * b * mm + ahead + ahead + ee + l.zero_g2[2];
        }
        self.flow(&l.cells);
        let (p, s2) = (&mut self.p, self.scale2);
        for (row, noise) in SCALE.into_iter().zip(&l.noise) {
            for k in SLOW..FLOW {
                p[row][k] += s2 * noise[k];
            }
        }
        for i in 0..3 {
            for j in 0..=i {
                p[SCALE[i]][SCALE[j]] += s2 * l.own_noise[lower(i, j)];
            }
        }
    }
}
