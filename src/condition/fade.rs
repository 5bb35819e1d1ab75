//! In: the end of a knock. Out: from where on a slow scale shows nothing of it any more.
//!
//! The chain leaves out what is impossible. What a lag still shows of a knock afterwards may be possible and yet bend an edge, and through it the lag that all edges
//! share.

use super::chain::slack_g;
use super::stretch::Seen;

/// The quickest and the slowest first-order lag that is looked for, s (common practice, no source).
const QUICK_LAG_S: f64 = 0.1;
const SLOW_LAG_S: f64 = 0.35;

/// First sample, `first` or later and no later than `last`, in which nothing of a knock is left. `first` is the first one after it that the chain kept, and `base_g`
/// the level there.
pub(super) fn faded(seen: &Seen, first: usize, base_g: f64, last: usize) -> usize {
    let (before_s, left_g) = (seen.t[first - 1], (seen.y[first - 1] - base_g).abs());
    // A slower lag would have shown more of it at `first` than the chain lets pass.
    let fell = (left_g / (2.0 * slack_g(seen.noise_g))).ln();
    let slowest_s = if fell > 0.0 { SLOW_LAG_S.min((seen.t[first] - before_s) / fell) } else { SLOW_LAG_S };
    if slowest_s < QUICK_LAG_S {
        return first;
    }
    let over_s = before_s + slowest_s * (left_g / seen.noise_g).max(1.0).ln();
    (first..last).find(|&k| seen.t[k] >= over_s).unwrap_or(last)
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
        let over = faded(&seen, first, 0.0, 59);
        assert!((28..32).contains(&over), "{over}");
    }

    #[test]
    fn a_knock_that_was_gone_at_once_leaves_what_follows() {
        assert_eq!(faded(&seen(None), 11, 0.0, 59), 11);
    }
}
