//! In: settings and the values measured at them. Out: the monotone curve, with its band and the settings for a target.
//!
//! Method: isotonic least squares by pooling adjacent violators (Barlow, Bartholomew, Bremner and Brunk 1972,
//! Statistical Inference under Order Restrictions), linear between the settings tried. Band and interval: means are
//! sampled about the measured ones, with the sd of a brew sampled from its chi-squared distribution, and each sample
//! is made monotone (Dunson and Neelon 2003, Biometrics 59, 286). A brew's sd is that of repeated settings; if these
//! are few, deviations from the chord of both neighbours are added (Gasser, Sroka and Jennen-Steinmetz 1986,
//! Biometrika 73, 625).

use crate::estimate::Undefined;
use crate::math::random::Random;
use crate::rows::{rows, words};
use crate::study::dial_in::fieller::SettingInterval;
use crate::study::dial_in::straight::{FitTest, Tried};
use serde::{Deserialize, Serialize};

/// Degrees of freedom of repeated settings from which no chords are used.
const ENOUGH: usize = 4;

words! {
/// Direction of a measure with increasing setting.
pub enum Direction {
    /// Increases with the setting.
    Rising = "rising",
    /// Decreases with the setting.
    Falling = "falling",
}
}

rows! { $
/// The monotone curve of a measure against a setting, linear between the settings tried.
///
/// Bands and intervals do not include curvature between two settings tried.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Monotone {
    /// Direction of the curve with increasing setting.
    pub direction: Direction,
    /// Whether the direction was stated; otherwise it is the one with the smaller sum of squares.
    ///
    /// If it was not stated, each sample of the band has its own direction.
    pub stated: bool,
    /// Settings tried, in increasing order.
    pub settings: Vec<f64>,
    /// Mean measured at each setting.
    pub means: Vec<f64>,
    /// Value of the curve at each setting.
    pub values: Vec<f64>,
    /// Number of brews at each setting.
    pub brews: Vec<usize>,
    /// Number of distinct values of the curve.
    pub levels: usize,
    /// Sd of one brew, independent of the curve.
    pub scatter_sd: Result<f64, Undefined>,
    /// Degrees of freedom of that sd.
    pub scatter_degrees: usize,
    /// Test of monotonicity: deviations of the means against the variance of repeated brews.
    ///
    /// Given the number of levels, F is exact if the measure is constant; otherwise the test is conservative.
    pub turns_back: Result<FitTest, Undefined>,
    /// Curves sampled for band and interval, each with its direction.
    pub(crate) draws: Vec<(Direction, Vec<f64>)>,
}
}

/// Isotonic least squares, not decreasing.
fn pool(values: &[f64], weights: &[f64]) -> Vec<f64> {
    let mut blocks: Vec<(f64, f64, usize)> = Vec::with_capacity(values.len());
    for (&value, &weight) in values.iter().zip(weights) {
        let mut block = (value, weight, 1);
        while let Some(&(before, heavy, many)) = blocks.last().filter(|last| last.0 >= block.0) {
            blocks.pop();
            let both = heavy + block.1;
            block = ((before * heavy + block.0 * block.1) / both, both, many + block.2);
        }
        blocks.push(block);
    }
    blocks.iter().flat_map(|&(value, _, many)| std::iter::repeat_n(value, many)).collect()
}

/// Isotonic values in that direction.
fn towards(direction: Direction, values: &[f64], weights: &[f64]) -> Vec<f64> {
    match direction {
        Direction::Rising => pool(values, weights),
        Direction::Falling => {
            let turned: Vec<f64> = values.iter().map(|v| -v).collect();
            pool(&turned, weights).iter().map(|v| -v).collect()
        }
    }
}

fn squares(values: &[f64], fit: &[f64], weights: &[f64]) -> f64 {
    values.iter().zip(fit).zip(weights).map(|((v, f), w)| w * (v - f).powi(2)).sum()
}

/// The stated direction, or that of the smaller sum of squares, with its values.
fn either(stated: Option<Direction>, values: &[f64], weights: &[f64]) -> (Direction, Vec<f64>) {
    let fit = |direction| (direction, towards(direction, values, weights));
    if let Some(direction) = stated {
        return fit(direction);
    }
    let (up, down) = (fit(Direction::Rising), fit(Direction::Falling));
    if squares(values, &up.1, weights) <= squares(values, &down.1, weights) { up } else { down }
}

impl Monotone {
    pub(super) fn fit(tried: &[Tried], stated: Option<Direction>, draws: usize, seed: u64) -> Self {
        let settings: Vec<f64> = tried.iter().map(|t| t.setting).collect();
        let means: Vec<f64> = tried.iter().map(|t| t.mean).collect();
        let weights: Vec<f64> = tried.iter().map(|t| t.brews as f64).collect();
        let (direction, values) = either(stated, &means, &weights);
        let levels = 1 + values.windows(2).filter(|pair| pair[0] != pair[1]).count();
        let (within, repeats) = tried.iter().fold((0.0, 0), |(s, n), t| (s + t.squares, n + t.brews - 1));
        let (all, scatter_degrees) = if repeats >= ENOUGH {
            (within / repeats as f64, repeats)
        } else {
            let (off, chords) = chords(&settings, &means, &weights);
            // Neighbouring chords share points: n of them have the information of 18/35 n separate points (as named
            // above).
            let degrees = repeats + (chords * 18 / 35).max(usize::from(repeats == 0));
            ((within + off) / (repeats + chords) as f64, degrees)
        };
        let largest = means.iter().fold(0.0_f64, |most, m| most.max(m.abs()));
        let scatter_sd = match all.sqrt() {
            sd if sd > 1e-12 * largest => Ok(sd),
            _ => Err(Undefined::because(
                "the variance of the brews is 0: the uncertainty of the curve is not identifiable",
            )),
        };
        let turns_back = if repeats == 0 {
            Err(Undefined::because("no setting was brewed twice"))
        } else if within.sqrt() <= 1e-12 * largest {
            Err(Undefined::because("repeated brews have equal values: their variance is 0"))
        } else if levels == tried.len() {
            Err(Undefined::because("the means are monotone"))
        } else {
            let left = squares(&means, &values, &weights);
            Ok(FitTest::of(left, tried.len() - levels, within, repeats))
        };
        let mut random = Random::stream(seed, "monotone");
        let mut draw = |sd: f64| {
            let chi2: f64 = (0..scatter_degrees).map(|_| random.normal().powi(2)).sum();
            let sd = sd * (scatter_degrees as f64 / chi2).sqrt();
            let drawn: Vec<f64> =
                means.iter().zip(&weights).map(|(m, w)| m + sd * random.normal() / w.sqrt()).collect();
            either(stated, &drawn, &weights)
        };
        let draws = scatter_sd.iter().flat_map(|&sd| std::iter::repeat_n(sd, draws)).map(&mut draw).collect();
        Self {
            direction,
            stated: stated.is_some(),
            brews: tried.iter().map(|t| t.brews).collect(),
            settings,
            means,
            values,
            levels,
            scatter_sd,
            scatter_degrees,
            turns_back,
            draws,
        }
    }

    /// The curve at a setting; NaN outside of those tried.
    #[must_use]
    pub fn at(&self, setting: f64) -> f64 {
        let v = &self.values;
        place(&self.settings, setting)
            .map_or(f64::NAN, |(below, above, share)| v[below] + share * (v[above] - v[below]))
    }

    /// Band of the curve at a setting; NaN outside of the settings tried, or if the variance is unknown.
    #[must_use]
    pub fn confidence(&self, setting: f64, level: f64) -> [f64; 2] {
        let Some((below, above, share)) = place(&self.settings, setting) else { return [f64::NAN; 2] };
        let at = |draw: &[f64]| draw[below] + share * (draw[above] - draw[below]);
        ends(self.draws.iter().map(|(_, draw)| at(draw)).collect(), level)
    }

    /// The setting at which the curve meets the target; the middle of the part if it is flat there. None if no part
    /// meets it.
    pub(super) fn meets(&self, target: f64) -> Option<f64> {
        crossing(self.direction, &self.settings, &self.values, target).ok()
    }

    /// The settings at which sampled curves meet the target, and their sd, as half the width of the middle 68 %.
    pub(super) fn possible(&self, target: f64, level: f64) -> Result<(SettingInterval, f64), Undefined> {
        self.scatter_sd.clone()?;
        let met = |(way, draw): &(Direction, Vec<f64>)| crossing(*way, &self.settings, draw, target);
        let met: Vec<f64> = self.draws.iter().map(|draw| met(draw).unwrap_or_else(|end| end)).collect();
        let [lower, upper] = ends(met.clone(), 0.6827);
        let [low, high] = ends(met, level);
        let interval = match (low.is_finite(), high.is_finite()) {
            (true, true) => SettingInterval::Between { low, high },
            (true, false) => SettingInterval::AtLeast { low },
            (false, true) => SettingInterval::AtMost { high },
            (false, false) if low < high => SettingInterval::Anywhere,
            (false, false) => {
                return Err(Undefined::because(
                    "no sampled curve meets the target within the settings tried",
                ));
            }
        };
        Ok((interval, 0.5 * (upper - lower)))
    }
}

/// Sum of squares of each mean's deviation from the chord of its neighbours, in units of one brew's variance, and
/// their number.
fn chords(settings: &[f64], means: &[f64], weights: &[f64]) -> (f64, usize) {
    let off = (1..settings.len().saturating_sub(1)).map(|i| {
        let (before, after) = (settings[i] - settings[i - 1], settings[i + 1] - settings[i]);
        let (a, b) = (after / (before + after), before / (before + after));
        let departs = means[i] - a * means[i - 1] - b * means[i + 1];
        departs * departs / (1.0 / weights[i] + a * a / weights[i - 1] + b * b / weights[i + 1])
    });
    (off.sum(), settings.len().saturating_sub(2))
}

/// The settings tried on both sides of a setting, and its relative position between them; None beyond them.
fn place(settings: &[f64], setting: f64) -> Option<(usize, usize, f64)> {
    let above = settings.partition_point(|&s| s < setting);
    let high = *settings.get(above)?;
    if high == setting {
        return Some((above, above, 0.0));
    }
    let below = above.checked_sub(1)?;
    Some((below, above, (setting - settings[below]) / (high - settings[below])))
}

/// Setting at which monotone values meet the target; infinite if beyond the ends.
fn crossing(way: Direction, settings: &[f64], values: &[f64], target: f64) -> Result<f64, f64> {
    let sign = if way == Direction::Rising { 1.0 } else { -1.0 };
    let short_of = values.partition_point(|v| sign * v < sign * target);
    let not_past = values.partition_point(|v| sign * v <= sign * target);
    if not_past > short_of {
        return Ok(f64::midpoint(settings[short_of], settings[not_past - 1]));
    }
    if short_of == 0 {
        return Err(f64::NEG_INFINITY);
    }
    if short_of == values.len() {
        return Err(f64::INFINITY);
    }
    let share = (target - values[short_of - 1]) / (values[short_of] - values[short_of - 1]);
    Ok(settings[short_of - 1] + share * (settings[short_of] - settings[short_of - 1]))
}

/// The quantiles with equal shares outside.
fn ends(mut drawn: Vec<f64>, level: f64) -> [f64; 2] {
    if drawn.is_empty() {
        return [f64::NAN; 2];
    }
    drawn.sort_unstable_by(f64::total_cmp);
    let outside = (0.5 * (1.0 - level) * drawn.len() as f64).floor() as usize;
    [drawn[outside], drawn[drawn.len() - 1 - outside]]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pooled_violators_have_their_weighted_mean() {
        // Worked example: 3 (weight 1) and 1 (weight 3) give 1.5; with 1.2 (weight 2) below it 8.4/6 = 1.4.
        assert_eq!(pool(&[1.0, 3.0, 1.0, 4.0], &[1.0, 1.0, 3.0, 1.0]), [1.0, 1.5, 1.5, 4.0]);
        let found = pool(&[3.0, 1.0, 1.2, 5.0], &[1.0, 3.0, 2.0, 1.0]);
        assert!(found[..3].iter().all(|v| (v - 1.4).abs() < 1e-12) && found[3] == 5.0, "{found:?}");
        assert_eq!(towards(Direction::Falling, &[4.0, 1.0, 3.0], &[1.0; 3]), [4.0, 2.0, 2.0]);
        assert_eq!(squares(&[1.0, 2.0, 4.0], &[1.0, 3.0, 2.0], &[5.0, 2.0, 3.0]), 14.0);
        assert_eq!(either(None, &[1.0, 3.0, 2.0], &[1.0; 3]).0, Direction::Rising);
        assert_eq!(either(None, &[3.0, 1.0, 2.0], &[1.0; 3]).0, Direction::Falling);
    }

    #[test]
    fn deviation_from_a_chord_has_the_variance_of_three_means() {
        // Settings 1, 2, 4: the chord at 2 is two thirds of the first and a third of the last.
        let (sum, number) = chords(&[1.0, 2.0, 4.0], &[3.0, 6.0, 9.0], &[1.0, 2.0, 4.0]);
        let by_hand = 1.0 / (0.5 + 4.0 / 9.0 + 1.0 / 36.0);
        assert!((sum - by_hand).abs() < 1e-12 && number == 1, "{sum}");
        assert_eq!(chords(&[1.0, 2.0, 3.0, 4.0], &[1.0, 2.0, 3.0, 4.0], &[1.0; 4]), (0.0, 2));
        assert_eq!(chords(&[1.0, 2.0], &[1.0, 2.0], &[1.0; 2]), (0.0, 0));
    }

    #[test]
    fn a_curve_meets_a_target_between_settings_on_a_flat_part_or_beyond_either_end() {
        let at = |target: f64| {
            crossing(Direction::Rising, &[1.0, 2.0, 4.0, 8.0], &[10.0, 20.0, 20.0, 40.0], target)
        };
        assert_eq!([15.0, 20.0, 25.0, 40.0].map(at), [Ok(1.5), Ok(3.0), Ok(5.0), Ok(8.0)]);
        assert_eq!([9.0, 41.0].map(at), [Err(f64::NEG_INFINITY), Err(f64::INFINITY)]);
        let down = |target: f64| crossing(Direction::Falling, &[1.0, 2.0, 4.0], &[40.0, 20.0, 10.0], target);
        assert_eq!([30.0, 41.0, 9.0].map(down), [Ok(1.5), Err(f64::NEG_INFINITY), Err(f64::INFINITY)]);
    }

    #[test]
    fn quantiles_leave_equal_shares_outside() {
        // Of 0 to 99, 95 %: two and a half on each side, of which two are whole.
        let all = || (0..100).rev().map(f64::from).collect::<Vec<_>>();
        assert_eq!(ends(all(), 0.95), [2.0, 97.0]);
        assert_eq!(ends(all(), 0.5), [25.0, 74.0]);
        assert!(ends(Vec::new(), 0.95)[0].is_nan());
    }

    #[test]
    fn a_position_between_settings_is_relative() {
        let of = |setting: f64| place(&[1.0, 2.0, 4.0], setting);
        assert_eq!([1.0, 2.5, 4.0].map(of), [Some((0, 0, 0.0)), Some((1, 2, 0.25)), Some((2, 2, 0.0))]);
        assert_eq!([0.9, 4.1].map(of), [None, None]);
    }

    #[test]
    fn the_sd_is_that_of_repeated_brews_and_of_chords_if_these_are_few() {
        let tried = |brews: usize, squares: f64| -> Vec<Tried> {
            let of = |(setting, mean): (f64, f64)| Tried { setting, mean, brews, squares };
            [(1.0, 3.0), (2.0, 6.0), (3.0, 8.0)].map(of).into()
        };
        // Three settings of three brews: six degrees, squares 3 x 4.
        let found = Monotone::fit(&tried(3, 4.0), None, 10, 1);
        assert_eq!((found.scatter_sd, found.scatter_degrees), (Ok(2.0_f64.sqrt()), 6));
        // Three single brews: one chord, 6 - 5.5 off, of variance 1 + 1/4 + 1/4.
        let single = Monotone::fit(&tried(1, 0.0), None, 10, 1);
        assert!((single.scatter_sd.unwrap() - (0.25 / 1.5_f64).sqrt()).abs() < 1e-12);
        assert_eq!(single.scatter_degrees, 1);
    }

    #[test]
    fn a_curve_has_as_many_levels_as_it_takes_values() {
        let fit = |means: [f64; 4]| {
            let of = |(i, mean): (usize, f64)| Tried { setting: i as f64, mean, brews: 2, squares: 2.0 };
            let tried: Vec<Tried> = means.into_iter().enumerate().map(of).collect();
            Monotone::fit(&tried, Some(Direction::Rising), 10, 1)
        };
        assert_eq!(
            (
                fit([1.0, 2.0, 3.0, 4.0]).levels,
                fit([1.0, 3.0, 2.0, 4.0]).levels,
                fit([4.0, 3.0, 2.0, 1.0]).levels
            ),
            (4, 3, 1)
        );
        assert!(fit([1.0, 2.0, 3.0, 4.0]).turns_back.is_err());
        // 3 and 2 become 2.5: two brews each leave 2 x 2 x 0.25 on one degree; repeated ones 4 x 2 on four.
        let found = fit([1.0, 3.0, 2.0, 4.0]);
        let turns = found.turns_back.clone().unwrap();
        assert!((turns.f - 1.0 / 2.0).abs() < 1e-12, "{}", turns.f);
        assert!((found.at(0.5) - 1.75).abs() < 1e-12 && found.at(4.1).is_nan());
    }

    #[test]
    fn the_sd_of_a_setting_is_that_of_the_neighbouring_means_over_the_slope() {
        // Four brews at each of four settings, of sd 1: means known to a half, half way between two of them to
        // 0.5/sqrt(2), over
        // a slope of 10 for each setting.
        let of = |i: u8| Tried { setting: f64::from(i), mean: 10.0 * f64::from(i), brews: 4, squares: 3.0 };
        let found = Monotone::fit(&[0, 1, 2, 3].map(of), Some(Direction::Rising), 4000, 1);
        let (interval, sd) = found.possible(15.0, 0.95).unwrap();
        assert!((sd / (0.5 / 2_f64.sqrt() / 10.0) - 1.0).abs() < 0.15, "{sd}");
        let SettingInterval::Between { low, high } = interval else { panic!("{interval}") };
        assert!(
            (f64::midpoint(low, high) - 1.5).abs() < 0.01 && low < 1.5 - 1.6 * sd && high > 1.5 + 1.6 * sd
        );
        assert_eq!(found.meets(15.0), Some(1.5));
    }
}
