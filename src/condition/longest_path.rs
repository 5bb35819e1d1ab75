//! In: stamps and readings. Out: the largest set of samples that the mass of a vessel could have given.
//!
//! Water only arrives, and not faster than `max_flow`. Of two samples with the same vessel, the later one is not
//! lower than the earlier one and not higher than `max_flow` allows, up to the noise. The longest path of samples
//! that satisfy this is found by dynamic programming (longest-path form of the longest increasing subsequence). Each
//! break of level costs as much as a fraction of a second of samples. A sample off the path is a knock; at a break of
//! the path the level jumped.

/// Limits of the mass on the scale.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Physics {
    /// Noise sd of a reading, g.
    pub noise_g: f64,
    /// Fastest rise, g/s.
    pub max_flow: f64,
    /// Usual interval, s.
    pub interval_s: f64,
}

/// A level must last this long for a jump to it and back; a shorter one is a knock, s.
const JUMP_COST_S: f64 = 0.6;
/// A knock and its tail through the scale's lag are over within this time.
const REACH_S: f64 = 1.3;
/// Evaporation and zero drift: a fall slower than this is no jump, g/s.
const LEAK_G_PER_S: f64 = 0.3;
/// Noise allowed to each of the two samples that are compared, in sd.
const SDS: f64 = 4.0;
/// A draught moves any scale by this much: a smaller deviation is no knock, g.
const LEAST_SLACK_G: f64 = 0.15;
/// A stamp is trusted to this fraction of the usual interval: water that seems to arrive at once took as long.
const LEAST_INTERVAL: f64 = 0.2;
/// Bounds the computing time for logs with a very high sampling rate.
const MAX_PREDECESSORS: usize = 160;

/// Which samples lie on the path, and before which of them the level jumps.
pub(crate) struct LongestPath {
    pub on_path: Vec<bool>,
    pub jump: Vec<bool>,
}

#[derive(Clone, Copy)]
struct State {
    score: f64,
    from: usize,
    jump: bool,
    /// Lowest and highest mass that is consistent with the path up to here.
    low: f64,
    high: f64,
}

/// Readings of one level are no further from it than this, g.
pub(crate) fn slack_g(noise_g: f64) -> f64 {
    (SDS * noise_g).max(LEAST_SLACK_G)
}

/// Finds the path in O(n) if the log is undisturbed, O(n * 160) at worst.
pub(crate) fn longest_path(t: &[f64], y: &[f64], physics: Physics) -> LongestPath {
    let n = t.len();
    let mut found = LongestPath { on_path: vec![false; n], jump: vec![false; n] };
    if n == 0 {
        return found;
    }
    let slack = slack_g(physics.noise_g);
    let least_s = LEAST_INTERVAL * physics.interval_s;
    let jump_cost = (JUMP_COST_S / physics.interval_s).clamp(2.5, 60.0);
    let fresh = |i: usize| State { score: 1.0, from: i, jump: false, low: y[i] - slack, high: y[i] + slack };
    let mut state: Vec<State> = Vec::with_capacity(n);
    state.push(fresh(0));
    let mut best = 0;
    let mut first = 0;
    for i in 1..n {
        // Sample i after sample p: at the same level, or across a jump.
        let after = |p: usize| {
            let (s, dt) = (&state[p], (t[i] - t[p]).max(least_s));
            let low = s.low - LEAK_G_PER_S * dt;
            let high = s.high + physics.max_flow * dt;
            if y[i] >= low - slack && y[i] <= high + slack {
                let (low, high) = (low.max(y[i] - slack), high.min(y[i] + slack));
                State { score: s.score + 1.0, from: p, jump: false, low, high }
            } else {
                State { score: s.score + 1.0 - jump_cost, from: p, jump: true, ..fresh(i) }
            }
        };
        let direct = after(i - 1);
        let mut next = if direct.score > 1.0 { direct } else { fresh(i) };
        if direct.jump || best != i - 1 {
            while first + MAX_PREDECESSORS < i || (first + 4 < i && t[i] - t[first] > REACH_S) {
                first += 1;
            }
            for candidate in (first..i - 1).rev().map(after) {
                if candidate.score > next.score {
                    next = candidate;
                }
            }
        }
        // Of two ends that are as likely, the later: a knock at the end of a log is out and back.
        if next.score >= state[best].score {
            best = i;
        }
        state.push(next);
    }
    let mut i = best;
    loop {
        found.on_path[i] = true;
        found.jump[i] = state[i].jump;
        if state[i].from == i {
            break;
        }
        i = state[i].from;
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn left_out(rate_hz: f64, y: &[f64]) -> Vec<usize> {
        let t: Vec<f64> = (0..y.len()).map(|i| i as f64 / rate_hz).collect();
        let physics = Physics { noise_g: 0.05, max_flow: 30.0, interval_s: 1.0 / rate_hz };
        let c = longest_path(&t, y, physics);
        (0..y.len()).filter(|&i| !c.on_path[i]).collect()
    }

    #[test]
    fn knocks_of_both_signs_are_left_out_and_the_pour_stays() {
        let mut y: Vec<f64> = (0..60).map(|i| (f64::from(i) - 20.0).clamp(0.0, 20.0)).collect();
        for (i, size) in [(10, 40.0), (20, 5.0), (25, -6.0), (30, 12.0), (31, -12.0), (40, 4.0), (59, 9.0)] {
            y[i] += size;
        }
        assert_eq!(left_out(10.0, &y), [10, 20, 25, 30, 31, 40, 59]);
    }

    #[test]
    fn the_fastest_onset_lies_on_the_path() {
        for rate in [5.0, 10.0, 50.0, 100.0] {
            let y: Vec<f64> = (0..400).map(|i| (17.0 * (f64::from(i) / rate - 2.0)).max(0.0)).collect();
            assert!(left_out(rate, &y).is_empty());
        }
    }

    #[test]
    fn a_level_that_stays_is_a_jump_and_not_a_knock() {
        let y: Vec<f64> = (0..80).map(|i| if i < 40 { 0.0 } else { 200.0 }).collect();
        let t: Vec<f64> = (0..80).map(|i| f64::from(i) / 10.0).collect();
        let c = longest_path(&t, &y, Physics { noise_g: 0.05, max_flow: 30.0, interval_s: 0.1 });
        assert!(c.on_path.iter().all(|&k| k));
        assert_eq!((0..80).filter(|&i| c.jump[i]).collect::<Vec<_>>(), [40]);
    }
}
