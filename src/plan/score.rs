//! In: deviations from the plan, with their sd and tolerances. Out: the score, with its sd.
//!
//! An item with a deviation of `z` tolerances counts `1/(1 + z^2)`: 1 if it is as planned, 1/2 at its tolerance, 1/5 at
//! twice that. The score is the mean over all items. Its value and sd are the mean and sd over the distribution of the
//! true deviations, by quadrature over their normal errors: independent ones, and that of the clock, which all starts
//! share.

use crate::estimate::Estimate;

/// One item: a deviation from the plan.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item {
    pub difference: f64,
    /// Sd of its independent error.
    pub sd: f64,
    /// Whether it also has the clock's error.
    pub by_clock: bool,
    pub within: f64,
}

/// The score of the items and of `lost` further ones that count 0.
pub(super) fn score(items: &[Item], lost: usize, clock_sd_s: f64) -> Estimate {
    let n = (items.len() + lost) as f64;
    if n == 0.0 {
        return Estimate::exact(0.0);
    }
    let (starts, others): (Vec<&Item>, Vec<&Item>) = items.iter().partition(|item| item.by_clock);
    let add = |(mean, var): (f64, f64), item: (f64, f64)| (mean + item.0, var + item.1);
    let own = others.iter().map(|item| counts(item, 0.0)).fold((0.0, 0.0), add);
    let with = |clock: f64| starts.iter().map(|item| counts(item, clock_sd_s * clock)).fold(own, add);
    // Variance of the conditional mean given the clock, and mean of the conditional variance.
    let mean = expectation(clock_sd_s, |clock| with(clock).0);
    let var = expectation(clock_sd_s, |clock| (with(clock).0 - mean).powi(2) + with(clock).1);
    Estimate::new(mean / n, var.max(0.0).sqrt() / n)
}

/// Mean and variance of an item's value, given the error of the clock.
fn counts(item: &Item, clock_s: f64) -> (f64, f64) {
    let count = |x: f64| {
        let z = (item.difference + item.sd * x - clock_s) / item.within;
        1.0 / (1.0 + z * z)
    };
    let mean = expectation(item.sd, count);
    (mean, expectation(item.sd, |x| (count(x) - mean).powi(2)))
}

/// Mean of a function of a standard normal number; without quadrature if its sd is 0. By the trapezoid rule, whose
/// error under a normal weight falls faster than any power of the step.
fn expectation(sd: f64, f: impl Fn(f64) -> f64) -> f64 {
    if sd <= 0.0 {
        return f(0.0);
    }
    let nodes = (-24..=24).map(|k| 0.25 * f64::from(k));
    let (sum, weights) = nodes.fold((0.0, 0.0), |(sum, weights), x| {
        let weight = (-0.5 * x * x).exp();
        (sum + weight * f(x), weights + weight)
    });
    sum / weights
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn item(difference: f64, sd: f64, by_clock: bool) -> Item {
        Item { difference, sd, by_clock, within: 2.0 }
    }

    #[test]
    fn exact_differences_give_the_mean_by_hand() {
        // 0, one and two tolerances, one lost: (1 + 1/2 + 1/5 + 0)/4.
        let items = [item(0.0, 0.0, false), item(-2.0, 0.0, false), item(4.0, 0.0, true)];
        let found = score(&items, 1, 0.0);
        assert!((found.value - 0.425).abs() < 1e-12 && found.sd == 0.0);
    }

    #[test]
    fn a_small_error_enters_to_first_order() {
        // Slope of 1/(1 + z^2) at z = 1 is -1/2: sd .01 g of 2 g are .005 of z (arithmetic by hand).
        let found = score(&[item(2.0, 0.01, false)], 0, 0.0);
        assert!((found.sd - 0.0025).abs() < 1e-6, "{found:?}");
        // The common error of the clock does not average out over two starts; independent errors do.
        let shared = score(&[item(2.0, 0.0, true); 2], 0, 0.01);
        let own = score(&[item(2.0, 0.01, true); 2], 0, 0.0);
        assert!((shared.sd - 0.0025).abs() < 1e-6, "{shared:?}");
        assert!((own.sd - 0.0025 / 2.0_f64.sqrt()).abs() < 1e-6, "{own:?}");
    }

    #[test]
    fn value_and_sd_are_those_of_drawn_differences() {
        // The Monte Carlo method (JCGM 101:2008) with errors as large as the tolerance.
        let items = [item(0.5, 1.0, true), item(-3.0, 2.0, true), item(1.0, 1.5, false)];
        let (found, n) = (score(&items, 1, 1.2), 400_000);
        let mut random = Random::stream(3, "score");
        let (mut sum, mut square) = (0.0, 0.0);
        for _ in 0..n {
            let clock = 1.2 * random.normal();
            let of = |item: &Item, random: &mut Random| {
                let shift = if item.by_clock { clock } else { 0.0 };
                1.0 / (1.0 + ((item.difference + item.sd * random.normal() - shift) / item.within).powi(2))
            };
            let one = items.iter().map(|item| of(item, &mut random)).sum::<f64>() / 4.0;
            (sum, square) = (sum + one, square + one * one);
        }
        let (mean, n) = (sum / f64::from(n), f64::from(n));
        let sd = (square / n - mean * mean).sqrt();
        assert!((found.value - mean).abs() < 5.0 * sd / n.sqrt(), "{found:?}, drawn {mean}");
        assert!((found.sd / sd - 1.0).abs() < 0.01, "{found:?}, drawn {sd}");
    }
}
