//! In: the longest path of possible samples. Out: the jumps of loads that were put on slowly enough to resemble water.
//!
//! Behind a lag a small load arrives no faster than a quick stream. Its shape differs: it arrives at an instant, so
//! that the reading rises fastest at first and settles exponentially, from one calm level to another. Water takes time.

use crate::condition::longest_path::{LongestPath, slack_g};
use crate::math::robust::median;

/// Least load, g: a smaller one may be a drop.
const LEAST_G: f64 = 5.0;
/// A load has settled within this time, s.
const SETTLES_S: f64 = 2.0;
/// No pour of that mass is shorter than this, s.
const SHORTEST_POUR_S: f64 = 0.75;
/// The level is calm before and after for this time, s, the longest pause within a pour, and for this number of
/// readings.
const CALM_S: f64 = 1.0;
const CALM_SAMPLES: usize = 3;
/// First-order lags that are tried, s, and their steps.
const LAGS_S: [f64; 2] = [0.06, 0.36];
const LAG_STEPS: u32 = 60;
/// A reading that has risen by this fraction of the load gives the instant of the load.
const ON_THE_WAY: f64 = 0.1;
/// A shape takes this many readings, and no longer between two of them, s.
const SHAPE_SAMPLES: usize = 4;
const SHAPE_INTERVAL_S: f64 = 0.25;
/// Tolerance of the shape, as a fraction of the load.
const SHAPE_FRACTION: f64 = 0.02;

/// Marks the jump of each load in the path. Returns the first samples at the new levels.
pub(super) fn loads(t: &[f64], y: &[f64], noise_g: f64, path: &mut LongestPath) -> Vec<usize> {
    let rises = Rises { t, y, slack_g: slack_g(noise_g) };
    let mut found = Vec::new();
    let mut from = 0;
    while from + 1 < t.len() {
        match rises.load(from) {
            Some(to) => {
                path.on_path[from + 1..to].fill(false);
                path.jump[from + 1..to].fill(false);
                path.on_path[to] = true;
                path.jump[to] = true;
                found.push(to);
                from = to;
            }
            None => from += 1,
        }
    }
    found
}

struct Rises<'a> {
    t: &'a [f64],
    y: &'a [f64],
    slack_g: f64,
}

impl Rises<'_> {
    /// The first sample that has settled, if a load is put on after sample `from`.
    fn load(&self, from: usize) -> Option<usize> {
        let (t, y, slack_g) = (self.t, self.y, self.slack_g);
        let near_s = t[from] + SETTLES_S;
        if y[from + 1] - y[from] < slack_g
            || !(from + 1..t.len()).take_while(|&k| t[k] <= near_s).any(|k| y[k] - y[from] > LEAST_G)
        {
            return None;
        }
        let low = self.calm((0..=from).rev())?;
        let next_s = t.get(from + 1).copied()?;
        let settled = |&k: &usize| {
            t[k] <= near_s.max(next_s)
                && y[k] - low >= LEAST_G
                && self.calm(k..t.len()).is_some_and(|high| (y[k] - high).abs() <= 0.5 * slack_g)
        };
        let to = (from + 1..t.len()).take_while(|&k| t[k] <= near_s.max(next_s)).find(settled)?;
        let high = self.calm(to..t.len())?;
        let rises = (from + 1..=to).all(|k| y[k] >= y[k - 1] - slack_g);
        let at_once = t[to] - t[from] <= SHORTEST_POUR_S;
        (rises && (at_once || self.is_exponential(from, to, low, high))).then_some(to)
    }

    /// The level from the first of these samples on, if it is calm, g.
    fn calm(&self, samples: impl Iterator<Item = usize> + Clone) -> Option<f64> {
        let first_s = self.t[samples.clone().next()?];
        let near = |(n, k): &(usize, usize)| *n < CALM_SAMPLES || (self.t[*k] - first_s).abs() <= CALM_S;
        let mut readings: Vec<f64> = samples.enumerate().take_while(near).map(|(_, k)| self.y[k]).collect();
        let least = readings.iter().copied().fold(f64::INFINITY, f64::min);
        let most = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (readings.len() >= CALM_SAMPLES && most - least <= 1.5 * self.slack_g).then(|| median(&mut readings))
    }

    /// Whether the readings settle as a first-order lag does after a step.
    fn is_exponential(&self, from: usize, to: usize, low: f64, high: f64) -> bool {
        let (t, y) = (self.t, self.y);
        if to - from < SHAPE_SAMPLES || t[to] - t[from] > (to - from) as f64 * SHAPE_INTERVAL_S {
            return false;
        }
        let tolerance_g = self.slack_g + SHAPE_FRACTION * (high - low);
        let load_g = high - low;
        // Each lag has the instant that explains the first reading on the way.
        let first = (from + 1..=to).find(|&k| y[k] - low > ON_THE_WAY * load_g).unwrap_or(to);
        let left = ((high - y[first]) / load_g).max(f64::MIN_POSITIVE);
        (0..=LAG_STEPS).any(|k| {
            let lag_s = LAGS_S[0] + (LAGS_S[1] - LAGS_S[0]) * f64::from(k) / f64::from(LAG_STEPS);
            let at_s = t[first] + lag_s * left.ln();
            let shown = |t_s: f64| high - load_g * (-(t_s - at_s).max(0.0) / lag_s).exp();
            (from + 1..=to).all(|k| (y[k] - shown(t[k])).abs() <= tolerance_g)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings at 10 Hz through a lag, and the first samples of the loads that are detected.
    fn found(lag_s: f64, mass: impl Fn(f64) -> f64) -> Vec<usize> {
        let (mut shown_g, mut t, mut y) = (0.0, Vec::new(), Vec::new());
        for i in 0..12_000 {
            let at_s = 0.001 * f64::from(i);
            if i % 100 == 0 {
                t.push(at_s);
                y.push(shown_g);
            }
            shown_g += (mass(at_s) - shown_g) * 0.001 / lag_s;
        }
        let mut path = LongestPath { on_path: vec![true; t.len()], jump: vec![false; t.len()] };
        let found = loads(&t, &y, 0.05, &mut path);
        assert!(found.iter().all(|&k| path.jump[k] && path.on_path[k] && !path.on_path[k - 1]));
        found
    }

    #[test]
    fn a_load_that_is_put_on_is_no_water_and_water_in_a_second_is_no_load() {
        for lag_s in [0.1, 0.2, 0.3] {
            for load_g in [6.0, 15.0, 40.0] {
                let put_on = found(lag_s, |t| if t > 5.03 { load_g } else { 0.0 });
                // 6 exp(-t/0.3) is 0.1 g after 1.2 s, 40 exp(-t/0.3) after 1.8 s.
                assert!(
                    put_on.len() == 1 && (51..70).contains(&put_on[0]),
                    "{load_g} g, {lag_s} s: {put_on:?}"
                );
                let poured = found(lag_s, |t| load_g * (t - 5.03).clamp(0.0, 1.0));
                assert!(poured.is_empty(), "{load_g} g, {lag_s} s: {poured:?}");
            }
        }
    }

    #[test]
    fn a_load_has_its_least_mass_and_comes_from_a_calm_level() {
        let step = |load_g: f64| found(0.2, |t| if t > 5.03 { load_g } else { 0.0 }).len();
        assert_eq!([4.8, 5.2].map(step), [0, 1]);
        // In a pour of 4 g/s.
        assert!(found(0.2, |t| 4.0 * t + if t > 5.03 { 20.0 } else { 0.0 }).is_empty());
    }
}
