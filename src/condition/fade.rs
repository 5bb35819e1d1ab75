//! In: the end of a knock. Out: the first sample after which no trace of it is left, for a slow scale.
//!
//! The longest path excludes impossible readings. The response of a lagged scale after a knock may be possible and
//! yet bias an edge, and through it the lag that all edges share.

use crate::condition::longest_path::slack_g;
use crate::condition::stretch::Seen;

/// The shortest and the longest first-order lag that is considered, s (common practice, no source).
const SHORTEST_LAG_S: f64 = 0.1;
const LONGEST_LAG_S: f64 = 0.35;
/// The flow before a knock is taken over this time, s; the flow after it begins this much later and covers the same
/// time. A smaller flow than the second is no pour, g/s.
const FLOW_S: f64 = 0.8;
const POUR_G_PER_S: f64 = 1.0;
/// Within one pour the lower of the two flows is at least this fraction of the higher.
const SAME_POUR_FRACTION: f64 = 0.4;

/// A reading is off the line between its neighbours if it deviates by more than this: in sd of the noise, and as a
/// fraction of their difference.
const OFF_LINE_SDS: f64 = 6.0;
const OFF_LINE_FRACTION: f64 = 0.25;

/// A mass that rises at constant flow.
#[derive(Clone, Copy)]
pub(super) struct Line {
    at_s: f64,
    level_g: f64,
    flow_g_per_s: f64,
}

impl Line {
    fn at(self, t_s: f64) -> f64 {
        self.level_g + self.flow_g_per_s * (t_s - self.at_s)
    }
}

/// Model of the reading without a knock.
#[derive(Clone, Copy)]
pub(super) enum Base {
    Level(f64),
    /// A pour that continues.
    Pour(Line),
    /// A pour that starts or ends during the knock.
    Edge(Line, Line),
}

impl Base {
    /// Model of the reading without a knock between the plausible samples `before` and `after`.
    pub(super) fn around(seen: &Seen, before: usize, after: usize, last: usize) -> Self {
        let near = |i: usize, j: usize| (seen.t[i] - seen.t[j]).abs() <= FLOW_S;
        let plausible = |i: &usize| seen.plausible[*i];
        let line = |at: usize, from: usize, to: usize| Line {
            at_s: seen.t[at],
            level_g: seen.y[at],
            flow_g_per_s: (seen.y[to] - seen.y[from]) / (seen.t[to] - seen.t[from]),
        };
        let early = (0..before).rev().take_while(|&i| near(i, before)).filter(plausible).last();
        // Later the response to the knock changes more slowly than a pour.
        let late = (after..=last).find(|&i| seen.plausible[i] && !near(i, after));
        let to = |from: usize| (from + 1..=last).take_while(|&i| near(i, from)).filter(plausible).last();
        let early = early.map(|from| line(before, from, before));
        let late = late.and_then(|from| Some(line(from, from, to(from)?)));
        let level = Self::Level(f64::midpoint(seen.y[before], seen.y[after]));
        let (Some(early), Some(late)) = (early, late) else { return level };
        let (low, high) =
            (early.flow_g_per_s.min(late.flow_g_per_s), early.flow_g_per_s.max(late.flow_g_per_s));
        if high <= POUR_G_PER_S {
            level
        } else if low > POUR_G_PER_S.max(SAME_POUR_FRACTION * high) {
            Self::Pour(Line { flow_g_per_s: low, ..early })
        } else {
            Self::Edge(early, late)
        }
    }

    fn at(self, t_s: f64) -> f64 {
        match self {
            Self::Level(level_g) => level_g,
            Self::Pour(line) => line.at(t_s),
            Self::Edge(early, late) if early.flow_g_per_s > late.flow_g_per_s => {
                early.at(t_s).min(late.at(t_s))
            }
            Self::Edge(early, late) => early.at(t_s).max(late.at(t_s)),
        }
    }

    /// Whether water arrives, so that the longest path cannot exclude the trace of a knock.
    fn pours(self) -> bool {
        !matches!(self, Self::Level(_))
    }
}

/// First sample from `first` to `last` in which no trace of a knock is left. `first` is the first plausible sample
/// after the knock, and `base` models the reading without it.
pub(super) fn faded(seen: &Seen, first: usize, base: Base, last: usize) -> usize {
    let left = |i: usize| (seen.y[i] - base.at(seen.t[i])).abs();
    let (before_s, left_g) = (seen.t[first - 1], left(first - 1));
    // A longer lag would leave a larger trace at `first` than the longest path accepts, or than is observed there if
    // a pour masks it.
    let passed_g = 2.0 * slack_g(seen.noise_g);
    let passed_g = if base.pours() { passed_g.max(left(first)) } else { passed_g };
    let folds = (left_g / passed_g).ln();
    let longest_s =
        if folds > 0.0 { LONGEST_LAG_S.min((seen.t[first] - before_s) / folds) } else { LONGEST_LAG_S };
    if longest_s < SHORTEST_LAG_S {
        return first;
    }
    let over_s = before_s + longest_s * (left_g / seen.noise_g).max(1.0).ln();
    (first..last).find(|&k| seen.t[k] >= over_s).unwrap_or(last)
}

/// Whether the first plausible reading after a knock still belongs to it: it is off the line from the last reading
/// before the knock to the next one. The limit exceeds the noise and the start of a pour. A false exclusion costs one
/// reading.
pub(super) fn is_off_line(seen: &Seen, before: usize, at: usize, last: usize) -> bool {
    let Some(next) = (at + 1..=last).find(|&k| seen.plausible[k]) else { return false };
    let along = (seen.t[at] - seen.t[before]) / (seen.t[next] - seen.t[before]);
    let rise_g = seen.y[next] - seen.y[before];
    let off_g = seen.y[at] - seen.y[before] - along * rise_g;
    off_g.abs() > (OFF_LINE_SDS * seen.noise_g).max(OFF_LINE_FRACTION * rise_g.abs())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// At ten a second, a knock of 20 g at 1 s, seen through a lag of 0.3 s or as it is; noise 0.05 g.
    fn seen(lag_s: Option<f64>) -> Seen {
        let t: Vec<f64> = (0..60).map(|i| 0.1 * f64::from(i)).collect();
        let knock = |t: f64| match lag_s {
            Some(lag_s) if t > 0.95 => 20.0 * (-(t - 1.0) / lag_s).exp(),
            None if (t - 1.0).abs() < 0.05 => 20.0,
            _ => 0.0,
        };
        let y: Vec<f64> = t.iter().map(|&t| knock(t)).collect();
        Seen { plausible: y.iter().map(|y| y.abs() < 0.4).collect(), t, y, noise_g: 0.05 }
    }

    #[test]
    fn the_response_to_a_knock_is_excluded_until_it_is_less_than_the_noise() {
        let seen = seen(Some(0.3));
        // By hand: 20 exp(-(t - 1)/0.3) falls below 0.4 g at 2.17 s and 0.05 g at 2.80 s.
        let first = (11..60).find(|&i| seen.plausible[i]).unwrap();
        assert_eq!(first, 22);
        let over = faded(&seen, first, Base::Level(0.0), 59);
        assert!((28..32).contains(&over), "{over}");
    }

    #[test]
    fn a_knock_without_lag_excludes_no_later_reading() {
        assert_eq!(faded(&seen(None), 11, Base::Level(0.0), 59), 11);
    }

    #[test]
    fn the_response_to_a_knock_in_a_pour_is_excluded_as_well() {
        // A pour of 8 g/s, and from 3 s on a knock of -20 g that decays with a lag of 0.3 s. Readings no lower than
        // before are plausible.
        let t: Vec<f64> = (0..80).map(|i| 0.1 * f64::from(i)).collect();
        let knock = |t: f64| if t > 2.95 { -20.0 * (-(t - 3.0) / 0.3).exp() } else { 0.0 };
        let y: Vec<f64> = t.iter().map(|&t| 8.0 * t + knock(t)).collect();
        let plausible = t.iter().zip(&y).map(|(&t, &y)| t < 2.95 || y > 8.0 * 2.9).collect();
        let seen = Seen { plausible, t, y, noise_g: 0.05 };
        let first = (30..80).find(|&i| seen.plausible[i]).unwrap();
        let base = Base::around(&seen, 29, first, 79);
        assert!((base.at(4.0) - 32.0).abs() < 0.1);
        // By hand: 20 exp(-(t - 3)/0.3) falls below 0.05 g at 4.80 s.
        let over = faded(&seen, first, base, 79);
        assert!(first < 36 && (46..52).contains(&over), "{first} {over}");
        // If nothing flows before or after the knock, water that comes later is no part of it.
        assert!(!Base::around(&self::seen(None), 9, 11, 59).pours());
    }

    #[test]
    fn the_response_to_a_knock_on_the_edge_of_a_pour_is_excluded_as_well() {
        // A pour of 8 g/s that ends or starts at 3.2 s, and from 3 s on a knock of -20 g that decays with a lag of
        // 0.3 s.
        let t: Vec<f64> = (0..80).map(|i| 0.1 * f64::from(i)).collect();
        let left = |t: f64| if t > 2.95 { -20.0 * (-(t - 3.0) / 0.3).exp() } else { 0.0 };
        for ends in [true, false] {
            let water = |t: f64| if ends { 8.0 * t.min(3.2) } else { 8.0 * (t - 3.2).max(0.0) };
            let y: Vec<f64> = t.iter().map(|&t| water(t) + left(t)).collect();
            let plausible = t.iter().zip(&y).map(|(&t, &y)| t < 2.95 || y > water(2.9) - 0.4).collect();
            let seen = Seen { plausible, t: t.clone(), y, noise_g: 0.05 };
            let first = (30..80).find(|&i| seen.plausible[i]).unwrap();
            let base = Base::around(&seen, 29, first, 79);
            assert!(
                matches!(base, Base::Edge(..))
                    && [2.0, 3.0, 5.0].iter().all(|&t| (base.at(t) - water(t)).abs() < 0.9)
            );
            // By hand: 20 exp(-(t - 3)/0.3) falls below 0.05 g at 4.80 s.
            let over = faded(&seen, first, base, 79);
            assert!(first < 42 && (46..53).contains(&over), "{first} {over}");
        }
    }

    #[test]
    fn a_plausible_second_reading_of_a_knock_that_is_off_the_line_belongs_to_it() {
        // By hand: 10 g/s at ten a second rise by 3 g from 0.9 to 1.2 s, and a quarter of that is 0.75 g.
        let off_line = |off_g: f64| {
            let mut y: Vec<f64> = (0..60).map(f64::from).collect();
            y[10] -= 15.0;
            y[11] += off_g;
            let t = (0..60).map(|i| 0.1 * f64::from(i)).collect();
            let mut plausible = vec![true; 60];
            plausible[10] = false;
            is_off_line(&Seen { t, y, plausible, noise_g: 0.05 }, 9, 11, 59)
        };
        assert!(off_line(0.8) && off_line(-0.8) && !off_line(0.7) && !off_line(-0.7) && !off_line(0.0));
    }
}
