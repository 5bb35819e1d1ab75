//! In: the response of a scale over a time. Out: what becomes of load, reading and speed, and of their covariance, for some
//! sets of parameters at once.

use crate::model::hand::{LOAD, Passage, READING, SPEED};
use crate::model::pack::Pack;

/// What becomes of reading and speed over a time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Kept<const K: usize> {
    pub keeps: [[Pack<K>; 2]; 2],
    pub gains: [Pack<K>; 2],
}

impl<const K: usize> Kept<K> {
    pub(crate) const NONE: Self = Self { keeps: [[Pack::ZERO; 2]; 2], gains: [Pack::ZERO; 2] };

    pub(crate) fn of(of: impl Fn(usize) -> Passage) -> Self {
        let all: [Passage; K] = std::array::from_fn(of);
        Self {
            keeps: [0, 1].map(|i| [0, 1].map(|j| Pack::of(|k| all[k].keeps[i][j]))),
            gains: [0, 1].map(|i| Pack::of(|k| all[k].gains[i])),
        }
    }

    /// Load, reading and speed afterwards of those before, without flow.
    pub(crate) fn matrix(&self) -> [[Pack<K>; 3]; 3] {
        let (one, zero) = (Pack::all(1.0), Pack::ZERO);
        let [[a, e], [c, s]] = self.keeps;
        [[one, zero, zero], [one - a, a, e], [zero - c, c, s]]
    }
}

/// Load, reading, and its speed.
pub(crate) const SCALE: [usize; 3] = [LOAD, READING, SPEED];

/// Lower triangle of a symmetric matrix of three rows.
pub(crate) type Lower<const K: usize> = [Pack<K>; 6];

pub(crate) fn lower(i: usize, j: usize) -> usize {
    let (i, j) = (i.max(j), i.min(j));
    i * (i + 1) / 2 + j
}

/// Covariances after a transition.
pub(crate) fn transferred<const K: usize>(a: &[[Pack<K>; 3]; 3], p: &Lower<K>) -> Lower<K> {
    let mut out = [Pack::ZERO; 6];
    for i in 0..3 {
        let row: [Pack<K>; 3] = std::array::from_fn(|k| {
            a[i][0] * p[lower(0, k)] + a[i][1] * p[lower(1, k)] + a[i][2] * p[lower(2, k)]
        });
        for j in 0..=i {
            out[lower(i, j)] = row[0] * a[j][0] + row[1] * a[j][1] + row[2] * a[j][2];
        }
    }
    out
}
