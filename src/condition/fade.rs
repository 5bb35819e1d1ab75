//! In: the end of a knock. Out: from where on a slow scale shows nothing of it any more.
//!
//! The chain leaves out what is impossible. What a lag still shows of a knock afterwards may be possible and yet bend an edge, and through it the lag that all edges
//! share.

use crate::condition::longest_path::slack_g;
use crate::condition::stretch::Seen;

/// The quickest and the slowest first-order lag that is looked for, s (common practice, no source).
const QUICK_LAG_S: f64 = 0.1;
const SLOW_LAG_S: f64 = 0.35;
/// The flow beside a knock is that of so long before it, s, and that of as long from so long after it on; less than this is no pour, g/s.
const FLOW_S: f64 = 0.8;
const POUR_G_PER_S: f64 = 1.0;
/// In one pour the lower of the two is at least this share of the other.
const ALIKE: f64 = 0.4;

/// A reading is off the line between its neighbours by more than this, in sd of the noise and as a share of what they rise by.
const BENT_SDS: f64 = 6.0;
const BENT: f64 = 0.25;

/// A level that water is added to as fast as before or as after an instant.
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

/// What the scale would show without a knock.
#[derive(Clone, Copy)]
pub(super) enum Base {
    Level(f64),
    /// A pour that goes on.
    Pour(Line),
    /// A pour that starts or ends meanwhile.
    Edge(Line, Line),
}

impl Base {
    /// What the scale would show without a knock whose samples lie between the two kept ones `before` and `after`: in a pour more and more.
    pub(super) fn beside(seen: &Seen, before: usize, after: usize, last: usize) -> Self {
        let near = |i: usize, j: usize| (seen.t[i] - seen.t[j]).abs() <= FLOW_S;
        let kept = |i: &usize| seen.kept[*i];
        let line = |at: usize, from: usize, to: usize| Line {
            at_s: seen.t[at],
            level_g: seen.y[at],
            flow_g_per_s: (seen.y[to] - seen.y[from]) / (seen.t[to] - seen.t[from]),
        };
        let early = (0..before).rev().take_while(|&i| near(i, before)).filter(kept).last();
        // Later what a lag still shows of the knock changes no more than a pour does.
        let late = (after..=last).find(|&i| seen.kept[i] && !near(i, after));
        let to = |from: usize| (from + 1..=last).take_while(|&i| near(i, from)).filter(kept).last();
        let early = early.map(|from| line(before, from, before));
        let late = late.and_then(|from| Some(line(from, from, to(from)?)));
        let level = Self::Level(f64::midpoint(seen.y[before], seen.y[after]));
        let (Some(early), Some(late)) = (early, late) else { return level };
        let (slow, quick) =
            (early.flow_g_per_s.min(late.flow_g_per_s), early.flow_g_per_s.max(late.flow_g_per_s));
        if quick <= POUR_G_PER_S {
            level
        } else if slow > POUR_G_PER_S.max(ALIKE * quick) {
            Self::Pour(Line { flow_g_per_s: slow, ..early })
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

    /// Whether water hides from the chain what is left of a knock.
    fn pours(self) -> bool {
        !matches!(self, Self::Level(_))
    }
}

/// First sample, `first` or later and no later than `last`, in which nothing of a knock is left. `first` is the first one after it that the chain kept, and `base`
/// what would have been read without it.
pub(super) fn faded(seen: &Seen, first: usize, base: Base, last: usize) -> usize {
    let left = |i: usize| (seen.y[i] - base.at(seen.t[i])).abs();
    let (before_s, left_g) = (seen.t[first - 1], left(first - 1));
    // A slower lag would have shown more of it at `first` than the chain lets pass, or than is seen there of one that the pour hides from the chain.
    let passed_g = 2.0 * slack_g(seen.noise_g);
    let passed_g = if base.pours() { passed_g.max(left(first)) } else { passed_g };
    let fell = (left_g / passed_g).ln();
    let slowest_s = if fell > 0.0 { SLOW_LAG_S.min((seen.t[first] - before_s) / fell) } else { SLOW_LAG_S };
    if slowest_s < QUICK_LAG_S {
        return first;
    }
    let over_s = before_s + slowest_s * (left_g / seen.noise_g).max(1.0).ln();
    (first..last).find(|&k| seen.t[k] >= over_s).unwrap_or(last)
}

/// Whether the first reading that the chain kept after a knock still belongs to it: it lies off the line from the last one before the knock to the next one by more
/// than noise and a pour that begins leave. Left out where nothing is wrong with it, it costs one reading.
pub(super) fn is_bent(seen: &Seen, before: usize, at: usize, last: usize) -> bool {
    let Some(next) = (at + 1..=last).find(|&k| seen.kept[k]) else { return false };
    let along = (seen.t[at] - seen.t[before]) / (seen.t[next] - seen.t[before]);
    let rise_g = seen.y[next] - seen.y[before];
    let off_g = seen.y[at] - seen.y[before] - along * rise_g;
    off_g.abs() > (BENT_SDS * seen.noise_g).max(BENT * rise_g.abs())
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
        Seen { kept: y.iter().map(|y| y.abs() < 0.4).collect(), t, y, noise_g: 0.05 }
    }

    #[test]
    fn what_a_lag_shows_of_a_knock_is_left_out_until_it_is_less_than_the_noise() {
        let seen = seen(Some(0.3));
        // By hand: 20 exp(-(t - 1)/0.3) passes 0.4 g at 2.17 s and 0.05 g at 2.80 s.
        let first = (11..60).find(|&i| seen.kept[i]).unwrap();
        assert_eq!(first, 22);
        let over = faded(&seen, first, Base::Level(0.0), 59);
        assert!((28..32).contains(&over), "{over}");
    }

    #[test]
    fn a_knock_that_was_gone_at_once_leaves_what_follows() {
        assert_eq!(faded(&seen(None), 11, Base::Level(0.0), 59), 11);
    }

    #[test]
    fn what_a_lag_shows_of_a_knock_in_a_pour_is_left_out_as_well() {
        // A pour of 8 g/s, and from 3 s on a knock of -20 g that a lag of 0.3 s lets go. The chain keeps what is no lower than before it.
        let t: Vec<f64> = (0..80).map(|i| 0.1 * f64::from(i)).collect();
        let knock = |t: f64| if t > 2.95 { -20.0 * (-(t - 3.0) / 0.3).exp() } else { 0.0 };
        let y: Vec<f64> = t.iter().map(|&t| 8.0 * t + knock(t)).collect();
        let kept = t.iter().zip(&y).map(|(&t, &y)| t < 2.95 || y > 8.0 * 2.9).collect();
        let seen = Seen { kept, t, y, noise_g: 0.05 };
        let first = (30..80).find(|&i| seen.kept[i]).unwrap();
        let base = Base::beside(&seen, 29, first, 79);
        assert!((base.at(4.0) - 32.0).abs() < 0.1);
        // By hand: 20 exp(-(t - 3)/0.3) passes 0.05 g at 4.80 s.
        let over = faded(&seen, first, base, 79);
        assert!(first < 36 && (46..52).contains(&over), "{first} {over}");
        // Where nothing flows beside it, water that comes later is no part of it.
        assert!(!Base::beside(&self::seen(None), 9, 11, 59).pours());
    }

    #[test]
    fn what_a_lag_shows_of_a_knock_on_the_edge_of_a_pour_is_left_out_as_well() {
        // A pour of 8 g/s that ends or starts at 3.2 s, and from 3 s on a knock of -20 g that a lag of 0.3 s lets go.
        let t: Vec<f64> = (0..80).map(|i| 0.1 * f64::from(i)).collect();
        let left = |t: f64| if t > 2.95 { -20.0 * (-(t - 3.0) / 0.3).exp() } else { 0.0 };
        for ends in [true, false] {
            let water = |t: f64| if ends { 8.0 * t.min(3.2) } else { 8.0 * (t - 3.2).max(0.0) };
            let y: Vec<f64> = t.iter().map(|&t| water(t) + left(t)).collect();
            let kept = t.iter().zip(&y).map(|(&t, &y)| t < 2.95 || y > water(2.9) - 0.4).collect();
            let seen = Seen { kept, t: t.clone(), y, noise_g: 0.05 };
            let first = (30..80).find(|&i| seen.kept[i]).unwrap();
            let base = Base::beside(&seen, 29, first, 79);
            assert!(
                matches!(base, Base::Edge(..))
                    && [2.0, 3.0, 5.0].iter().all(|&t| (base.at(t) - water(t)).abs() < 0.9)
            );
            // By hand: 20 exp(-(t - 3)/0.3) passes 0.05 g at 4.80 s.
            let over = faded(&seen, first, base, 79);
            assert!(first < 42 && (46..53).contains(&over), "{first} {over}");
        }
    }

    #[test]
    fn a_second_reading_of_a_knock_that_the_chain_let_pass_still_belongs_to_it() {
        // By hand: 10 g/s at ten a second rise by 3 g from 0.9 to 1.2 s, and a quarter of that is 0.75 g.
        let bent = |off_g: f64| {
            let mut y: Vec<f64> = (0..60).map(f64::from).collect();
            y[10] -= 15.0;
            y[11] += off_g;
            let t = (0..60).map(|i| 0.1 * f64::from(i)).collect();
            let mut kept = vec![true; 60];
            kept[10] = false;
            is_bent(&Seen { t, y, kept, noise_g: 0.05 }, 9, 11, 59)
        };
        assert!(bent(0.8) && bent(-0.8) && !bent(0.7) && !bent(-0.7) && !bent(0.0));
    }
}
