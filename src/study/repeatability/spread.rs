//! In: values and the group of each. Out: [`Repeatability`]: the sd of brews within a group and across groups.
//!
//! Method: one-way random effects by analysis of variance, groups of any size, in the terms of ISO 5725-2:2019.
//! Intervals: chi-squared for the sd within; for the sd between and the reproducibility sd the modified large-sample
//! method on the unweighted mean square between (Thomas and Hultquist 1978, Ann. Stat. 6, 582); for the share between
//! groups Wald's (1940, Ann. Math. Stat. 11, 96), which is exact.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::{fisher_above, fisher_quantile_above};
use crate::rows::rows;
use crate::study::repeatability::interval::{FTest, Interval, MeanSquare, TAIL, sum};
use crate::study::repeatability::oneway::OneWay;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// Two brews differ by more than this many sd in one case of twenty: 1.96 times the root of two, rounded as in ISO
/// 5725-6.
const LIMIT: f64 = 2.8;
/// Fewer groups than this are hardly informative about the sd between groups.
const FEW_GROUPS: usize = 5;
/// Fewer degrees of freedom than this are hardly informative about the sd within groups.
const FEW_DEGREES: f64 = 10.0;
/// Significance level of Cochran's test for the group with the largest variance (ISO 5725-2: outlier).
const ODD: f64 = 0.01;

/// Mean and sd of one group of brews.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroupSpread {
    /// Name of the group.
    pub name: String,
    /// Number of brews.
    pub brews: usize,
    /// Mean of its values.
    pub mean: f64,
    /// Sd of its values; undefined for a single brew.
    #[serde(with = "crate::estimate::maybe")]
    pub sd: std::result::Result<f64, Undefined>,
}

rows! { $
/// Spread within and between groups of brews, in the unit of the values; intervals of 95 %.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Repeatability {
    /// The groups, in the order in which they first occur.
    pub groups: Vec<GroupSpread> { hidden },
    /// Number of brews.
    pub brews: usize,
    /// Mean of all brews; its sd includes the correlation within groups.
    pub mean: Estimate,
    /// Repeatability sd: that of brews of one group.
    pub within_sd: Interval,
    /// Measurement part of the repeatability sd.
    ///
    /// Root mean square of the measurement sd of the values.
    pub of_scale_sd: f64,
    /// Part of the repeatability sd from pouring and coffee, without the measurement.
    ///
    /// From the variance within groups less the measurement variance; 0 if the latter is larger.
    pub of_hand_sd: Interval,
    /// Sd between groups, of their true means.
    pub between_sd: Result<Interval, Undefined>,
    /// Reproducibility sd: that of brews of different groups, from both variances.
    pub reproducibility_sd: Result<Interval, Undefined>,
    /// Repeatability limit: two brews of one group differ by less in 95 % of cases.
    ///
    /// 2.8 times `within_sd`.
    pub repeatability_limit: Interval,
    /// Reproducibility limit: two brews of different groups differ by less in 95 % of cases.
    ///
    /// 2.8 times `reproducibility_sd`.
    pub reproducibility_limit: Result<Interval, Undefined>,
    /// Coefficient of variation within groups: `within_sd` in percent of the mean.
    ///
    /// The interval takes the mean as known.
    pub within_cv_pct: Result<Interval, Undefined>,
    /// Coefficient of variation across groups: `reproducibility_sd` in percent of the mean.
    ///
    /// The interval takes the mean as known.
    pub reproducibility_cv_pct: Result<Interval, Undefined>,
    /// Share of the variance of single brews that lies between groups, 0 to 1: ICC(1,1), for groups of any size.
    pub between_share: Result<Interval, Undefined>,
    /// F test of whether groups differ: mean square between over mean square within.
    pub difference: Result<FTest, Undefined>,
    /// Warnings, in sentences.
    pub warnings: Vec<String>,
    /// Value of each brew, for the figure.
    pub(crate) values: Vec<f64>,
    /// Group of each brew, for the figure.
    pub(crate) labels: Vec<String>,
}
}

impl Repeatability {
    /// One row per group: group, brews, mean, sd.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let groups = &self.groups;
        table.push("group", "", Values::Text(groups.iter().map(|g| g.name.clone()).collect()));
        table.push("brews", "", Values::Whole(groups.iter().map(|g| g.brews as i64).collect()));
        table.push("mean", "", Values::Number(groups.iter().map(|g| g.mean).collect()));
        let sd = |g: &GroupSpread| *g.sd.as_ref().unwrap_or(&f64::NAN);
        table.push("sd", "", Values::Number(groups.iter().map(sd).collect()));
        table
    }
}

/// Variance components of nominally equal brews: within a group (one person, one kettle) and between groups.
///
/// Groups may differ in size. The sd of each value is its measurement sd, independent between brews. `of_hand_sd` is
/// the sd within groups without it.
///
/// # Errors
/// [`Error::TooShort`] for fewer than two values, [`Error::NotFinite`], and [`Error::Argument`] if `groups` has
/// another length or no group has two brews.
///
/// ```
/// use pourline::Estimate;
/// use pourline::{Repeatability, repeatability};
/// // Sulphur in coal, percent: four laboratories, three or four values each
/// let percent = [0.71, 0.71, 0.70, 0.71, 0.69, 0.67, 0.68, 0.66, 0.65, 0.69, 0.67, 0.65, 0.66];
/// let laboratories = ["1", "1", "1", "1", "2", "2", "2", "3", "3", "3", "4", "4", "4"];
/// let found: Repeatability = repeatability(&percent.map(Estimate::exact), &laboratories)?;
/// assert!((found.within_sd.value - 0.01221).abs() < 5e-6);
/// assert!((found.repeatability_limit.value - 2.8 * found.within_sd.value).abs() < 1e-12);
/// # Ok::<(), pourline::Error>(())
/// ```
pub fn repeatability<S: AsRef<str>>(values: &[Estimate], groups: &[S]) -> Result<Repeatability> {
    if values.len() < 2 {
        return Err(Error::TooShort { samples: values.len(), needed: 2 });
    }
    let data = OneWay::of(values, groups)?;
    if data.within.degrees < 1.0 {
        let message =
            "each group has a single brew: the variance within groups is not identifiable; two brews are needed".into();
        return Err(Error::Argument { name: "groups".into(), message });
    }
    let within = data.within;
    let within_sd = Interval::root(within.value, within.interval());
    let between = between(&data);
    let reproducibility = reproducibility(&data);
    let mean = mean(&data, &between);
    let percent = |sd: &Interval| in_percent(*sd, mean);
    let of_scale_sd = data.own_variance.sqrt();
    Ok(Repeatability {
        groups: summaries(&data),
        brews: values.len(),
        mean,
        within_sd,
        of_scale_sd,
        of_hand_sd: within_sd.without(of_scale_sd),
        repeatability_limit: within_sd.scaled(LIMIT),
        reproducibility_limit: reproducibility.as_ref().map(|sd| sd.scaled(LIMIT)).map_err(Clone::clone),
        within_cv_pct: percent(&within_sd),
        reproducibility_cv_pct: reproducibility.as_ref().map_err(Clone::clone).and_then(percent),
        between_share: between_share(&data),
        difference: several(&data).and_then(|()| spread(&data)).map(|()| FTest::of(data.between, within)),
        warnings: warnings(&data, of_scale_sd),
        values: values.iter().map(|value| value.value).collect(),
        labels: groups.iter().map(|group| group.as_ref().into()).collect(),
        between_sd: between,
        reproducibility_sd: reproducibility,
    })
}

fn several(data: &OneWay) -> std::result::Result<(), Undefined> {
    if data.groups.len() > 1 {
        return Ok(());
    }
    Err(Undefined::because("there is one group: the variance between groups is not identifiable"))
}

fn spread(data: &OneWay) -> std::result::Result<(), Undefined> {
    if data.within.value > 0.0 {
        return Ok(());
    }
    Err(Undefined::because("brews of one group do not differ: the variance within is 0"))
}

fn summaries(data: &OneWay) -> Vec<GroupSpread> {
    let sd = |size: f64, squares: f64| {
        if size > 1.0 {
            Ok((squares / (size - 1.0)).sqrt())
        } else {
            Err(Undefined::because("a single brew has no sd"))
        }
    };
    let of = |g: &crate::study::repeatability::oneway::Group| GroupSpread {
        name: g.name.clone(),
        brews: g.size as usize,
        mean: data.origin + g.mean,
        sd: sd(g.size, g.squares),
    };
    data.groups.iter().map(of).collect()
}

/// Effective number of brews per group in the estimate of the variance between groups (ISO 5725-2).
fn usual_size(data: &OneWay) -> f64 {
    let squares: f64 = data.groups.iter().map(|g| g.size * g.size).sum();
    (data.size - squares / data.size) / data.between.degrees
}

/// The variance of the plain means of groups times the harmonic mean of their sizes: approximately a multiple of
/// chi-squared for any sizes.
fn unweighted(data: &OneWay) -> (MeanSquare, f64) {
    let k = data.groups.len() as f64;
    let size = k / data.groups.iter().map(|g| 1.0 / g.size).sum::<f64>();
    let mean = data.groups.iter().map(|g| g.mean).sum::<f64>() / k;
    let squares: f64 = data.groups.iter().map(|g| (g.mean - mean).powi(2)).sum();
    (MeanSquare { value: size * squares / (k - 1.0), degrees: k - 1.0 }, size)
}

fn between_variance(data: &OneWay) -> f64 {
    ((data.between.value - data.within.value) / usual_size(data)).max(0.0)
}

fn between(data: &OneWay) -> std::result::Result<Interval, Undefined> {
    several(data)?;
    let (square, size) = unweighted(data);
    let ends = square.less(data.within).map(|end| end / size);
    Ok(around(between_variance(data), ends))
}

fn reproducibility(data: &OneWay) -> std::result::Result<Interval, Undefined> {
    several(data)?;
    let (square, size) = unweighted(data);
    let ends = sum(&[(1.0 / size, square), (1.0 - 1.0 / size, data.within)]);
    Ok(around(between_variance(data) + data.within.value, ends))
}

/// The value uses weighted means, the interval plain means; in very unequal groups the interval could otherwise
/// exclude the value.
fn around(variance: f64, [low, high]: [f64; 2]) -> Interval {
    Interval::root(variance, [low.min(variance), high.max(variance)])
}

fn mean(data: &OneWay, between: &std::result::Result<Interval, Undefined>) -> Estimate {
    let squares: f64 = data.groups.iter().map(|g| (g.size / data.size).powi(2)).sum();
    let between = between.as_ref().map_or(0.0, |sd| sd.value * sd.value);
    Estimate::new(data.origin + data.mean, (squares * between + data.within.value / data.size).sqrt())
}

fn in_percent(sd: Interval, mean: Estimate) -> std::result::Result<Interval, Undefined> {
    if mean.value.abs() > 2.0 * mean.sd {
        return Ok(sd.scaled(100.0 / mean.value.abs()));
    }
    Err(Undefined::because(format!("the mean, {mean}, does not differ clearly from 0")))
}

fn between_share(data: &OneWay) -> std::result::Result<Interval, Undefined> {
    several(data)?;
    spread(data)?;
    let (degrees, below) = (data.between.degrees, data.within.degrees);
    let ends = [TAIL, 1.0 - TAIL].map(|tail| share_at(data, fisher_quantile_above(tail, degrees, below)));
    let between = between_variance(data);
    let value = between / (between + data.within.value);
    Ok(Interval { value, low: ends[0].min(value), high: ends[1].max(value) })
}

/// The share between groups at which the ratio of the mean squares, weighted for that share, is `f`.
fn share_at(data: &OneWay, f: f64) -> f64 {
    let ratio = |share: f64| {
        let weight = |size: f64| size / (1.0 - share + size * share);
        let weights: f64 = data.groups.iter().map(|g| weight(g.size)).sum();
        let mean = data.groups.iter().map(|g| weight(g.size) * g.mean).sum::<f64>() / weights;
        let squares: f64 = data.groups.iter().map(|g| weight(g.size) * (g.mean - mean).powi(2)).sum();
        (1.0 - share) * squares / (data.between.degrees * data.within.value)
    };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if ratio(middle) > f { low = middle } else { high = middle }
    }
    if ratio(0.0) <= f { 0.0 } else { f64::midpoint(low, high) }
}

fn warnings(data: &OneWay, of_scale_sd: f64) -> Vec<String> {
    let mut warnings = Vec::new();
    let (groups, degrees) = (data.groups.len(), data.within.degrees);
    if (2..FEW_GROUPS).contains(&groups) {
        warnings.push(format!(
            "{groups} groups are hardly informative about the sd between groups: its interval is wide; add groups"
        ));
    }
    if degrees < FEW_DEGREES {
        let brews = data.size as usize;
        warnings.push(format!(
            "{brews} brews in {groups} groups leave {degrees} residual degrees of freedom: the sd within groups is \
             uncertain; use its interval"
        ));
    }
    if of_scale_sd * of_scale_sd > data.within.value {
        warnings.push(
            "the measurement variance exceeds the variance within groups: the sd of pouring is below its resolution"
                .into(),
        );
    }
    warnings.extend(odd_group(data));
    warnings
}

/// Cochran's test of the largest variance, as a ratio to that of the other groups, so that groups may differ in size.
fn odd_group(data: &OneWay) -> Option<String> {
    let several: Vec<_> = data.groups.iter().filter(|g| g.size > 1.0).collect();
    let variance = |g: &crate::study::repeatability::oneway::Group| g.squares / (g.size - 1.0);
    let widest = several.iter().max_by(|a, b| variance(a).total_cmp(&variance(b)))?;
    let degrees = data.within.degrees - (widest.size - 1.0);
    let squares = data.within.value * data.within.degrees - widest.squares;
    if degrees < 1.0 || squares <= 0.0 {
        return None;
    }
    let f = variance(widest) / (squares / degrees);
    let p = several.len() as f64 * fisher_above(f, widest.size - 1.0, degrees);
    (p < ODD).then(|| {
        format!(
            "brews of {:?} have a larger variance than the other groups (Cochran's test, p {p:.1e}): check them, \
             or report its sd separately",
            widest.name
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(values: &[f64], groups: &[&str], sd: f64) -> Repeatability {
        let values: Vec<Estimate> = values.iter().map(|v| Estimate::new(*v, sd)).collect();
        repeatability(&values, groups).unwrap()
    }

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-9, "{found}, not {by_hand}");
    }

    #[test]
    fn two_groups_of_unequal_size_are_those_of_arithmetic() {
        let found = found(&[10.0, 12.0, 14.0, 20.0, 22.0], &["a", "a", "a", "b", "b"], 1.5);
        // Squares within 8 + 2 on 3 degrees; the mean is 15.6, squares between 3 x 3.6^2 + 2 x 5.4^2 = 97.2 on one
        // degree; the effective size of a group is 5 - 13/5 = 2.4 (ISO 5725-2).
        let (within, between) = (10.0_f64 / 3.0, (97.2_f64 - 10.0 / 3.0) / 2.4);
        near(found.within_sd.value, within.sqrt());
        near(found.between_sd.unwrap().value, between.sqrt());
        near(found.reproducibility_sd.unwrap().value, (within + between).sqrt());
        near(found.reproducibility_limit.unwrap().value, 2.8 * (within + between).sqrt());
        near(found.between_share.unwrap().value, between / (within + between));
        near(found.difference.unwrap().f, 97.2 / within);
        // The groups weigh 0.6 and 0.4 in the mean: 0.52 of the variance between, a fifth of that within.
        near(found.mean.value, 15.6);
        near(found.mean.sd, (0.52 * between + within / 5.0).sqrt());
        near(found.within_cv_pct.unwrap().value, 100.0 * within.sqrt() / 15.6);
        near(found.of_scale_sd, 1.5);
        near(found.of_hand_sd.value, (within - 2.25).sqrt());
        assert_eq!(found.groups[0].sd, Ok(2.0));
        assert_eq!(found.groups[1].sd, Ok(2.0_f64.sqrt()));
    }

    #[test]
    fn a_percentage_needs_a_mean_two_sd_from_0() {
        let mean = |value: f64| Estimate::new(value, 1.0);
        let sd = Interval { value: 1.0, low: 0.5, high: 2.0 };
        assert_eq!(in_percent(sd, mean(-2.1)).unwrap().high, 200.0 / 2.1);
        assert!(in_percent(sd, mean(1.9)).is_err() && in_percent(sd, mean(-1.9)).is_err());
    }

    #[test]
    fn cochrans_test_warns_at_a_level_of_one_percent() {
        // Variance 4 d^2 on two degrees against 4 on four: p is 3 (1 + d^2/2)^-2 by the closed form of F on two
        // degrees, 0.01 at d^2 = 32.6.
        let named = |square: f64| {
            let d = 2.0 * f64::sqrt(square);
            let values = [-d, 0.0, d, 0.0, 2.0, 4.0, 0.0, 2.0, 4.0].map(|v| v + 50.0);
            let warnings = found(&values, &["a", "a", "a", "b", "b", "b", "c", "c", "c"], 0.0).warnings;
            warnings.iter().any(|c| c.contains("\"a\" have a larger variance"))
        };
        assert_eq!([31.0, 34.0].map(named), [false, true]);
    }

    #[test]
    fn two_values_of_one_group_are_the_minimum() {
        let one = repeatability(&[Estimate::exact(1.0)], &["a"]).unwrap_err();
        assert_eq!(one.to_string(), Error::TooShort { samples: 1, needed: 2 }.to_string());
        let found = found(&[1.0, 3.0], &["a", "a"], 0.0);
        assert!((found.within_sd.value - 2.0_f64.sqrt()).abs() < 1e-12 && found.between_sd.is_err());
    }

    #[test]
    fn if_one_of_the_two_variances_is_0_intervals_are_those_of_chi_squared() {
        // Quantiles of chi-squared on two degrees: 7.377759 and 0.0506356 (tables).
        let close = |found: f64, variance: f64| {
            assert!((found / variance.sqrt() - 1.0).abs() < 1e-5, "{found}, not {}", variance.sqrt());
        };
        // Means 1, 3 and 8 of two brews that agree: 2 x 26/2 between on two degrees, halved.
        let values = [1.0, 1.0 + 1e-7, 3.0, 3.0 + 1e-7, 8.0, 8.0 + 1e-7];
        let apart = found(&values, &["a", "a", "b", "b", "c", "c"], 0.0);
        for sd in [apart.between_sd.unwrap(), apart.reproducibility_sd.unwrap()] {
            close(sd.value, 13.0);
            close(sd.low, 2.0 * 13.0 / 7.377_759);
            close(sd.high, 2.0 * 13.0 / 0.050_635_6);
        }
        // Means that agree: 4 within on two degrees; half of it is added to the plain mean square between.
        let alike = found(&[-1.0, 1.0, -1.0, 1.0], &["a", "a", "b", "b"], 0.0).reproducibility_sd.unwrap();
        close(alike.low, 0.5 * 4.0 / 7.377_759);
        close(alike.high, 0.5 * 4.0 / 0.050_635_6);
    }

    #[test]
    fn an_interval_includes_its_value() {
        let of = |variance: f64| around(variance, [4.0, 9.0]);
        assert_eq!((of(1.0).low, of(1.0).value, of(1.0).high), (1.0, 1.0, 3.0));
        assert_eq!((of(6.25).low, of(6.25).value, of(6.25).high), (2.0, 2.5, 3.0));
        assert_eq!((of(16.0).low, of(16.0).value, of(16.0).high), (2.0, 4.0, 4.0));
    }
}
