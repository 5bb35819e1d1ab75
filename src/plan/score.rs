//! In: deviations from the plan, with their sd and tolerances. Out: the score, 0 to 100, with its sd.
//!
//! Each item has an equal share of the 100 points. A deviation of `z` tolerances keeps `min(1, 1/z)` of its item: all
//! of it within its tolerance, half at twice that, a third at three times. The sd is that over the distribution of the
//! true deviations, by quadrature over their normal errors: independent ones, and that of the clock, which all starts
//! share.

use crate::estimate::Estimate;
use crate::rows::words;

words! {
/// What is planned of a pour.
pub enum PlanItem {
    /// Its start.
    Start = "start",
    /// Its mass.
    Mass = "mass",
    /// Its flow on the plateau.
    Flow = "flow",
    /// The share of its time near its own flow.
    Steadiness = "steadiness",
    /// Its pauses.
    Pauses = "pauses",
}
}

impl PlanItem {
    pub(super) const ALL: [Self; 5] = [Self::Start, Self::Mass, Self::Flow, Self::Steadiness, Self::Pauses];
}

/// One item: a deviation from the plan.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item {
    pub what: PlanItem,
    pub deviation: f64,
    /// Sd of its independent error.
    pub sd: f64,
    /// Whether it also has the clock's error.
    pub by_clock: bool,
    /// Tolerances below and above 0; infinite if that side is free.
    pub within: [f64; 2],
}

impl Item {
    /// Share of the item that a deviation keeps.
    pub fn kept(&self, deviation: f64) -> f64 {
        1.0 / self.tolerances(deviation).max(1.0)
    }

    /// A deviation in tolerances of its side.
    pub fn tolerances(&self, deviation: f64) -> f64 {
        deviation.abs() / self.within[usize::from(deviation > 0.0)]
    }
}

/// The score of the items and of `lost` further ones that count 0.
pub(super) fn score(items: &[Item], lost: usize, clock_sd_s: f64) -> Estimate {
    let n = (items.len() + lost) as f64;
    if n == 0.0 {
        return Estimate::exact(0.0);
    }
    let (starts, others): (Vec<&Item>, Vec<&Item>) = items.iter().partition(|item| item.by_clock);
    let add = |(mean, var): (f64, f64), item: (f64, f64)| (mean + item.0, var + item.1);
    let own = others.iter().map(|item| moments(item, 0.0)).fold((0.0, 0.0), add);
    let with = |clock: f64| starts.iter().map(|item| moments(item, clock_sd_s * clock)).fold(own, add);
    // Variance of the conditional mean given the clock, and mean of the conditional variance.
    let mean = expectation(clock_sd_s, |clock| with(clock).0);
    let var = expectation(clock_sd_s, |clock| (with(clock).0 - mean).powi(2) + with(clock).1);
    let kept: f64 = items.iter().map(|item| item.kept(item.deviation)).sum();
    Estimate::new(100.0 * kept / n, 100.0 * var.max(0.0).sqrt() / n)
}

/// Mean and variance of what an item keeps, given the error of the clock.
fn moments(item: &Item, clock_s: f64) -> (f64, f64) {
    let kept = |x: f64| item.kept(item.deviation + item.sd * x - clock_s);
    let mean = expectation(item.sd, kept);
    (mean, expectation(item.sd, |x| (kept(x) - mean).powi(2)))
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

    fn item(deviation: f64, sd: f64, by_clock: bool) -> Item {
        Item { what: PlanItem::Mass, deviation, sd, by_clock, within: [2.0; 2] }
    }

    #[test]
    fn exact_deviations_give_the_score_by_hand() {
        // 0, one, two and four tolerances, one lost: 100 (1 + 1 + 1/2 + 1/4 + 0)/5.
        let items = [0.0, -2.0, 4.0, -8.0].map(|deviation| item(deviation, 0.0, false));
        let found = score(&items, 1, 0.0);
        assert!((found.value - 55.0).abs() < 1e-12 && found.sd == 0.0);
        // A side without a tolerance costs nothing.
        let least = Item { within: [2.0, f64::INFINITY], ..item(0.0, 0.0, false) };
        assert_eq!([-4.0, 0.0, 1e6].map(|deviation| least.kept(deviation)), [0.5, 1.0, 1.0]);
    }

    #[test]
    fn a_larger_deviation_never_keeps_more() {
        let any = item(0.0, 0.0, false);
        let kept: Vec<f64> = (0..400).map(|k| any.kept(0.05 * f64::from(k))).collect();
        assert!(kept.windows(2).all(|pair| pair[1] <= pair[0]));
        assert!(kept.iter().all(|share| (0.0..=1.0).contains(share)));
    }

    #[test]
    fn a_small_error_enters_to_first_order() {
        // Slope of 1/z at z = 2 is -1/4: sd .01 g of 2 g are .005 of z, so .125 points (arithmetic by hand).
        let found = score(&[item(4.0, 0.01, false)], 0, 0.0);
        assert!((found.sd - 0.125).abs() < 1e-4, "{found:?}");
        // The common error of the clock does not average out over two starts; independent errors do.
        let shared = score(&[item(4.0, 0.0, true); 2], 0, 0.01);
        let own = score(&[item(4.0, 0.01, true); 2], 0, 0.0);
        assert!((shared.sd - 0.125).abs() < 1e-4, "{shared:?}");
        assert!((own.sd - 0.125 / 2.0_f64.sqrt()).abs() < 1e-4, "{own:?}");
    }

    #[test]
    fn the_sd_is_that_of_drawn_deviations() {
        // The Monte Carlo method (JCGM 101:2008) with errors as large as the tolerance.
        let items = [item(0.5, 1.0, true), item(-3.0, 2.0, true), item(1.0, 1.5, false)];
        let (found, n) = (score(&items, 1, 1.2), 400_000);
        let mut random = Random::stream(3, "score");
        let (mut sum, mut square) = (0.0, 0.0);
        for _ in 0..n {
            let clock = 1.2 * random.normal();
            let of = |item: &Item, random: &mut Random| {
                let shift = if item.by_clock { clock } else { 0.0 };
                let z = (item.deviation + item.sd * random.normal() - shift).abs() / 2.0;
                if z > 1.0 { 1.0 / z } else { 1.0 }
            };
            let one = 25.0 * items.iter().map(|item| of(item, &mut random)).sum::<f64>();
            (sum, square) = (sum + one, square + one * one);
        }
        let (mean, n) = (sum / f64::from(n), f64::from(n));
        let sd = (square / n - mean * mean).sqrt();
        assert!((found.sd / sd - 1.0).abs() < 0.01, "{found:?}, drawn {sd}");
    }
}
