//! In: pairs of values, one by each of two scales or methods. Out: [`Agreement`]: bias and limits of agreement of the
//! two.
//!
//! Method: limits of agreement (Bland and Altman 1986, Lancet 327, 307). Intervals of the limits: exact for normal
//! differences, by the noncentral t distribution (Carkeet 2015, Optom. Vis. Sci. 92, e71); the error 1.7 s/sqrt(n) of
//! 1986 is meant for many pairs.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::{normal_below, normal_quantile, student_half_width, student_outside};
use crate::math::line::line;
use crate::rows::rows;
use crate::study::repeatability::interval::{Interval, LEVEL, MeanSquare, TAIL};
use crate::study::repeatability::oneway::{finite, total};
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// Fewest pairs of a limit.
const FEWEST: usize = 3;
/// With fewer pairs than this, a warning states that the limits are uncertain.
const FEW: usize = 30;
/// A slope with a p below this gives a warning.
const CLEAR: f64 = 0.05;

rows! { $
/// Limits of agreement of two scales or methods, first less second, in their unit; intervals of 95 %.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Agreement {
    /// Number of pairs.
    pub pairs: usize,
    /// Mean difference, with its interval.
    pub bias: Interval,
    /// Sd of the differences, with its interval.
    pub sd: Interval,
    /// Measurement part of that sd, from the stated sd of the values.
    pub of_scale_sd: f64,
    /// Lower limit of agreement: 95 % of differences lie between the limits.
    pub lower_limit: Interval,
    /// Upper limit of agreement.
    pub upper_limit: Interval,
    /// Slope of the difference on the mean of the two, with its 95 % interval.
    pub slope: Result<Interval, Undefined>,
    /// p of the slope against 0.
    pub slope_p: Result<f64, Undefined>,
    /// Mean of each pair, in order.
    pub means: Vec<f64>,
    /// Difference of each pair, in order.
    pub differences: Vec<f64>,
    /// Warnings, in sentences.
    pub warnings: Vec<String>,
}
}

impl Agreement {
    /// One row per pair: mean, difference, and whether it lies outside of the limits (1) or not (0).
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let inside = |d: f64| self.lower_limit.value <= d && d <= self.upper_limit.value;
        table.push("mean", "", Values::Number(self.means.clone()));
        table.push("difference", "", Values::Number(self.differences.clone()));
        table.push(
            "outside",
            "",
            Values::Whole(self.differences.iter().map(|d| i64::from(!inside(*d))).collect()),
        );
        table
    }
}

/// Agreement of two scales or methods, from pairs of values of the same thing; one pair per brew.
///
/// # Errors
/// [`Error::TooShort`] for fewer than three pairs, [`Error::NotFinite`], and [`Error::Argument`] if the two differ in
/// length.
///
/// ```
/// use pourline::Estimate;
/// use pourline::{Agreement, agreement};
/// let one_g = [60.1, 45.3, 80.2, 30.0, 55.4].map(Estimate::exact);
/// let other_g = [60.0, 45.1, 80.4, 29.8, 55.3].map(Estimate::exact);
/// let found: Agreement = agreement(&one_g, &other_g)?;
/// assert!((found.bias.value - 0.08).abs() < 1e-12);
/// assert!((found.upper_limit.value - found.bias.value - 1.96 * found.sd.value).abs() < 1e-4);
/// assert!(found.warnings[0].starts_with("with 5 pairs"));
/// # Ok::<(), pourline::Error>(())
/// ```
pub fn agreement(first: &[Estimate], second: &[Estimate]) -> Result<Agreement> {
    if first.len() != second.len() {
        let message = format!("{} values, but the first has {}; pairs are needed", second.len(), first.len());
        return Err(Error::Argument { name: "second".into(), message });
    }
    let n = first.len();
    if n < FEWEST {
        return Err(Error::TooShort { samples: n, needed: FEWEST });
    }
    finite("first", first)?;
    finite("second", second)?;
    let pairs = || first.iter().zip(second);
    let differences: Vec<f64> = pairs().map(|(a, b)| a.value - b.value).collect();
    let means: Vec<f64> = pairs().map(|(a, b)| f64::midpoint(a.value, b.value)).collect();
    let (size, degrees) = (n as f64, n as f64 - 1.0);
    let bias = total(differences.iter().copied()) / size;
    let variance = total(differences.iter().map(|d| (d - bias).powi(2))) / degrees;
    let sd = Interval::root(variance, MeanSquare { value: variance, degrees }.interval());
    let half = student_half_width(LEVEL, degrees) * (variance / size).sqrt();
    let bias = Interval { value: bias, low: bias - half, high: bias + half };
    let reach = reach(size);
    let limit = |sign: f64, [value, low, high]: [f64; 3]| {
        let at = |reach: f64| bias.value + sign * reach * sd.value;
        Interval { value: at(value), low: at(low), high: at(high) }
    };
    let slope = slope(&means, &differences);
    let mut found = Agreement {
        pairs: n,
        bias,
        sd,
        of_scale_sd: (pairs().map(|(a, b)| a.sd * a.sd + b.sd * b.sd).sum::<f64>() / size).sqrt(),
        lower_limit: limit(-1.0, [reach.value, reach.high, reach.low]),
        upper_limit: limit(1.0, [reach.value, reach.low, reach.high]),
        slope_p: slope.as_ref().map(|(_, p)| *p).map_err(Clone::clone),
        slope: slope.map(|(slope, _)| slope),
        means,
        differences,
        warnings: Vec::new(),
    };
    found.warnings = warnings(&found);
    Ok(found)
}

/// Sd above the bias at which the interval of the upper limit has its value and its ends: each end is beyond the true
/// limit in 2.5 % of studies.
fn reach(pairs: f64) -> Interval {
    let z = normal_quantile(1.0 - TAIL);
    let spreads = spreads(pairs - 1.0);
    let end = |share: f64| {
        let beyond = |reach: f64| {
            let at = |sd: f64| normal_below(pairs.sqrt() * (reach * sd - z));
            spreads.iter().map(|(sd, weight)| weight * at(*sd)).sum::<f64>()
        };
        // Three pairs, the fewest, have their ends at 0.7 and 12.8.
        let (mut low, mut high) = (0.0, 20.0);
        for _ in 0..44 {
            let middle = f64::midpoint(low, high);
            if beyond(middle) < share { low = middle } else { high = middle }
        }
        f64::midpoint(low, high)
    };
    Interval { value: z, low: end(TAIL), high: end(1.0 - TAIL) }
}

/// Nodes of the sampling distribution of the sd of standard normal values, with their probabilities. Denser at small
/// sd.
fn spreads(degrees: f64) -> Vec<(f64, f64)> {
    let (width, steps) = (8.0 / (2.0 * degrees).sqrt(), 400);
    let (from, to) = ((1.0 - width).max(0.0).sqrt(), (1.0 + width).sqrt());
    let root = |i: i32| from + (to - from) * (f64::from(i) + 0.5) / f64::from(steps);
    let density = |sd: f64| (degrees - 1.0) * sd.ln() - 0.5 * degrees * (sd * sd - 1.0);
    let weight = |root: f64| root * density(root * root).exp();
    let all: f64 = (0..steps).map(|i| weight(root(i))).sum();
    (0..steps).map(root).map(|root| (root * root, weight(root) / all)).collect()
}

fn slope(means: &[f64], differences: &[f64]) -> std::result::Result<(Interval, f64), Undefined> {
    let flat = || Undefined::because("all pairs have the same mean: the slope is not identifiable");
    let fit = line(means, differences).ok_or_else(flat)?;
    let degrees = means.len() as f64 - 2.0;
    let half = student_half_width(LEVEL, degrees) * fit.slope_sd;
    let interval = Interval { value: fit.slope, low: fit.slope - half, high: fit.slope + half };
    let p = if fit.slope_sd > 0.0 {
        student_outside(fit.slope / fit.slope_sd, degrees)
    } else {
        f64::from(fit.slope == 0.0)
    };
    Ok((interval, p))
}

fn warnings(found: &Agreement) -> Vec<String> {
    let mut warnings = Vec::new();
    if found.pairs < FEW {
        warnings.push(format!(
            "with {} pairs the limits of agreement are uncertain: use their intervals",
            found.pairs
        ));
    }
    if let (Ok(slope), Ok(p)) = (&found.slope, &found.slope_p)
        && *p < CLEAR
    {
        warnings.push(format!(
            "the difference changes with the mean, by {:.3} per unit (p {p:.2e}): constant limits are invalid; unequal \
             variances of the two methods can also cause this slope",
            slope.value
        ));
    }
    warnings
}
