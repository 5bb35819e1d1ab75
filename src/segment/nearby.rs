//! In: a fitted group. Out: how far the samples near an instant contradict it.
//!
//! A knock on the edge of a pour, too small to be told from water, moves the edge and leaves residuals that the shape cannot explain. Over the whole group they
//! are few; beside the edge they are most of what there is.

use super::fitted::{Fit, Group};
use super::samples::Samples;

/// Samples from this long before an instant to this long after it, s: the ramp, and three times the lag.
const BEFORE_S: f64 = 0.5;
const AFTER_S: f64 = 1.0;
/// Mean square of some fifteen whitened residuals that chance gives once in a hundred.
const CHANCE: f64 = 2.0;

/// The whitened residuals of a group at its stamps.
pub(super) struct Nearby<'a> {
    time_s: &'a [f64],
    white: Vec<f64>,
    /// What the group's covariance was widened by already.
    allowed: f64,
}

impl<'a> Nearby<'a> {
    pub(super) fn new(x: &'a Samples, fit: &Fit, group: &Group) -> Self {
        let time_s = &x.time_s[group.from..group.to];
        let mut white = group.deviation(x, fit.wander.scale);
        fit.wander.whiten(time_s, &group.stretches(), &mut white, 1);
        Self { time_s, white, allowed: group.excess }
    }

    /// By how much an sd of an instant is too small; 1 where nothing speaks against it.
    pub(super) fn contradiction(&self, at_s: f64) -> f64 {
        let index = |t: f64| self.time_s.partition_point(|&s| s < t);
        let near = &self.white[index(at_s - BEFORE_S)..index(at_s + AFTER_S)];
        let mean_square = near.iter().map(|w| w * w).sum::<f64>() / near.len().max(1) as f64;
        (mean_square / (CHANCE * self.allowed)).max(1.0).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn residuals_beside_an_instant_widen_it_and_those_elsewhere_do_not() {
        let time_s: Vec<f64> = (0..100).map(|i| 0.1 * f64::from(i)).collect();
        // Eleven residuals of four sd, all of them about 3 s.
        let white = time_s.iter().map(|t| if (t - 3.2).abs() < 0.55 { 4.0 } else { 0.0 }).collect();
        let nearby = Nearby { time_s: &time_s, white, allowed: 1.0 };
        // By hand: of the 15 samples from 2.5 to 4 s 11 have a square of 16: the root of half of 11.73.
        assert!((nearby.contradiction(3.0) - 2.4221).abs() < 1e-4);
        assert_eq!(nearby.contradiction(8.0), 1.0);
        assert_eq!(nearby.contradiction(50.0), 1.0);
    }
}
