//! In: settings and the values measured at them. Out: the least-squares line, and tests of its fit.
//!
//! Method: ordinary least squares with equal weights; interval and prediction by Student's t; lack of fit against the
//! residual variance of repeated settings, and curvature against a parabola, by F (Draper and Smith 1998, Applied
//! Regression Analysis, chapters 1 to 3).

use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::{fisher_above, student_half_width};
use crate::math::line::line;
use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Residuals below this share of the values are rounding.
const ROUNDING: f64 = 1e-12;

rows! { $
/// F test of the residuals of a fit against the variance of repeated brews.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FitTest {
    /// F: mean square of the residuals of the fit over that of repeated brews.
    pub f: f64,
    /// Degrees of freedom of the residuals of the fit.
    pub degrees: usize,
    /// Degrees of freedom of the denominator.
    pub scatter_degrees: usize,
    /// p: the probability of an F at least as large if the fit holds.
    pub p: f64,
}
}

impl FitTest {
    /// From sums of squares with their degrees of freedom.
    pub(super) fn of(left: f64, degrees: usize, scatter: f64, scatter_degrees: usize) -> Self {
        let (above, below) = (degrees as f64, scatter_degrees as f64);
        let f = (left / above) / (scatter / below);
        Self { f, degrees, scatter_degrees, p: fisher_above(f, above, below) }
    }
}

rows! { $
/// The least-squares line of a measure against a setting.
///
/// The line is `middle_value + slope (setting - middle)`, and these two estimates are independent.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DialLine {
    /// Slope: the change of the measure per step of the setting.
    pub slope: Estimate,
    /// Ends of the slope's interval at the stated level.
    pub slope_interval: [f64; 2],
    /// Intercept: the line at setting 0, possibly far from the settings tried.
    pub intercept: Estimate,
    /// Mean of the settings over the brews.
    pub middle: f64 { hidden },
    /// The line there.
    pub middle_value: Estimate { hidden },
    /// Residual sd of brews about the line.
    pub residual_sd: f64,
    /// Degrees of freedom of the residual sd: brews less 2.
    pub degrees: usize,
    /// Coefficient of determination: the share of the measure's variance that the line explains, 0 to 1.
    pub r2: f64,
    /// Test of lack of fit: means of the settings about the line, against the variance of repeated brews.
    pub lack_of_fit: Result<FitTest, Undefined>,
    /// Test of curvature: a parabola against the line.
    pub curvature: Result<FitTest, Undefined>,
    /// Share of the residual variance that is measurement variance.
    ///
    /// The rest is brewing variance. It is above 1 if the residual variance is below the stated one.
    pub measurement_share: Result<f64, Undefined>,
}
}

impl DialLine {
    /// The line at a setting, with the sd of the line there.
    #[must_use]
    pub fn at(&self, setting: f64) -> Estimate {
        self.middle_value.plus(self.slope.scaled(setting - self.middle))
    }

    /// Confidence interval of the line at a setting.
    #[must_use]
    pub fn confidence(&self, setting: f64, level: f64) -> [f64; 2] {
        around(self.at(setting), self.t(level))
    }

    /// Prediction interval of one more brew at a setting.
    #[must_use]
    pub fn prediction(&self, setting: f64, level: f64) -> [f64; 2] {
        around(self.next(setting), self.t(level))
    }

    /// Prediction of one more brew at that setting, with its sd.
    pub(super) fn next(&self, setting: f64) -> Estimate {
        let line = self.at(setting);
        Estimate::new(line.value, line.sd.hypot(self.residual_sd))
    }

    /// Student's t at that level.
    pub(super) fn t(&self, level: f64) -> f64 {
        student_half_width(level, self.degrees as f64)
    }
}

/// Interval of that many sd to both sides.
pub(super) fn around(found: Estimate, t: f64) -> [f64; 2] {
    [found.value - t * found.sd, found.value + t * found.sd]
}

/// The values measured at one setting.
pub(super) struct Tried {
    pub setting: f64,
    pub mean: f64,
    pub brews: usize,
    /// Sum of squares about the mean.
    pub squares: f64,
}

/// The settings tried, in increasing order.
pub(super) fn tried(x: &[f64], y: &[Estimate]) -> Vec<Tried> {
    let mut order: Vec<usize> = (0..x.len()).collect();
    order.sort_by(|&i, &j| x[i].total_cmp(&x[j]));
    order
        .chunk_by(|&i, &j| x[i] == x[j])
        .map(|same| {
            let n = same.len() as f64;
            let mean = same.iter().map(|&i| y[i].value).sum::<f64>() / n;
            let squares = same.iter().map(|&i| (y[i].value - mean).powi(2)).sum();
            Tried { setting: x[same[0]], mean, brews: same.len(), squares }
        })
        .collect()
}

/// The least-squares line through the brews.
pub(super) fn straight(
    x: &[f64],
    y: &[Estimate],
    tried: &[Tried],
    level: f64,
) -> Result<DialLine, Undefined> {
    let values: Vec<f64> = y.iter().map(|y| y.value).collect();
    let fit = line(x, &values).ok_or_else(|| Undefined::because("the squares of the numbers overflow"))?;
    let n = x.len() as f64;
    let mean = |of: &[f64]| of.iter().sum::<f64>() / n;
    let (middle, middle_value) = (mean(x), Estimate::new(mean(&values), (fit.variance / n).sqrt()));
    let slope = Estimate::new(fit.slope, fit.slope_sd);
    let squares = fit.variance * fit.degrees;
    let all: f64 = values.iter().map(|y| (y - middle_value.value).powi(2)).sum();
    let largest = values.iter().fold(0.0_f64, |most, y| most.max(y.abs()));
    let residual_sd = fit.variance.sqrt();
    let scatters = residual_sd > ROUNDING * largest;
    let slope = if (all / n).sqrt() > ROUNDING * largest { slope } else { Estimate::exact(0.0) };
    let mut found = DialLine {
        slope,
        slope_interval: [0.0; 2],
        intercept: middle_value.plus(slope.scaled(-middle)),
        middle,
        middle_value,
        residual_sd,
        degrees: x.len() - 2,
        r2: if all > 0.0 { 1.0 - squares / all } else { 0.0 },
        lack_of_fit: Err(Undefined::because("the residuals of the line are 0")),
        curvature: Err(Undefined::because("the residuals of the line are 0")),
        measurement_share: Err(Undefined::because("every value was given as exact")),
    };
    found.slope_interval = around(slope, found.t(level));
    if !scatters {
        return Ok(found);
    }
    found.lack_of_fit = lack_of_fit(&found, tried, x.len(), largest);
    found.curvature = curvature(&found, x, &values, squares);
    let measured = y.iter().map(|y| y.sd * y.sd).sum::<f64>() / n;
    if measured > 0.0 {
        found.measurement_share = Ok(measured / fit.variance);
    }
    Ok(found)
}

fn lack_of_fit(line: &DialLine, tried: &[Tried], brews: usize, largest: f64) -> Result<FitTest, Undefined> {
    let within: f64 = tried.iter().map(|t| t.squares).sum();
    if brews == tried.len() {
        return Err(Undefined::because("no setting was brewed twice"));
    }
    if within.sqrt() <= ROUNDING * largest {
        return Err(Undefined::because("repeated brews have equal values: their variance is 0"));
    }
    let off: f64 = tried.iter().map(|t| t.brews as f64 * (t.mean - line.at(t.setting).value).powi(2)).sum();
    Ok(FitTest::of(off, tried.len() - 2, within, brews - tried.len()))
}

/// Sum of squares that a parabola explains beyond the line: that of u^2 orthogonal to the line.
fn curvature(line: &DialLine, x: &[f64], y: &[f64], squares: f64) -> Result<FitTest, Undefined> {
    let n = x.len() as f64;
    let u = || x.iter().map(|x| x - line.middle);
    let sum = |power: i32| u().map(|u| u.powi(power)).sum::<f64>();
    let (second, tilt) = (sum(2) / n, sum(3) / sum(2));
    let (mut along, mut own) = (0.0, 0.0);
    for ((u, x), y) in u().zip(x).zip(y) {
        let bend = u * u - second - tilt * u;
        along += bend * (y - line.at(*x).value);
        own += bend * bend;
    }
    let taken = along * along / own;
    let left = squares - taken;
    if left <= ROUNDING * squares {
        return Err(Undefined::because("the residuals of the parabola are 0"));
    }
    Ok(FitTest::of(taken, 1, left, x.len() - 3))
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::math::solve::{cholesky, solve};

    #[test]
    fn line_band_and_curvature_test_are_those_of_least_squares() {
        let (x, y) = ([0.0, 1.0, 2.0, 4.0, 7.0, 7.0], [1.0, 2.0, 5.0, 7.0, 13.0, 11.0]);
        let values = y.map(|v| Estimate::new(v, 0.3));
        let found = straight(&x, &values, &tried(&x, &values), 0.95).unwrap();
        // Sums of 1, x, x^2, x^3, x^4 and of y, x y, x^2 y: normal equations of both.
        let power = |k: i32| x.iter().map(|x| x.powi(k)).sum::<f64>();
        let with = |k: i32| x.iter().zip(&y).map(|(x, y)| x.powi(k) * y).sum::<f64>();
        let fitted = |order: usize| {
            let n = order + 1;
            let mut a: Vec<f64> = (0..n * n).map(|i| power((i / n + i % n) as i32)).collect();
            let mut b: Vec<f64> = (0..n).map(|k| with(k as i32)).collect();
            assert!(cholesky(&mut a, n));
            solve(&a, n, &mut b);
            let at = |x: f64| b.iter().enumerate().map(|(k, b)| b * x.powi(k as i32)).sum::<f64>();
            let left: f64 = x.iter().zip(&y).map(|(x, y)| (y - at(*x)).powi(2)).sum();
            (b, left)
        };
        let ((line, left), (_, bent)) = (fitted(1), fitted(2));
        let near =
            |found: f64, expected: f64| assert!((found - expected).abs() < 1e-9, "{found}, not {expected}");
        near(found.slope.value, line[1]);
        near(found.intercept.value, line[0]);
        near(found.residual_sd, (left / 4.0).sqrt());
        near(found.middle, 3.5);
        let xx = power(2) - 6.0 * 3.5 * 3.5;
        near(found.slope.sd, (left / 4.0 / xx).sqrt());
        near(found.middle_value.sd, (left / 4.0 / 6.0).sqrt());
        near(found.at(5.0).sd, (left / 4.0 * (1.0 / 6.0 + 1.5 * 1.5 / xx)).sqrt());
        near(found.r2, 1.0 - left / (y.iter().map(|y| (y - 6.5).powi(2)).sum::<f64>()));
        near(found.curvature.as_ref().unwrap().f, (left - bent) / (bent / 3.0));
        // Two brews at 7 have 2 of the squares on one degree; the rest on three is lack of fit.
        near(found.lack_of_fit.as_ref().unwrap().f, (left - 2.0) / 3.0 / 2.0);
        near(*found.measurement_share.as_ref().unwrap(), 0.09 / (left / 4.0));
        // t(0.975, 4) = 2.776445 (tables).
        assert!((found.slope_interval[1] - found.slope.value - 2.776_445 * found.slope.sd).abs() < 1e-5);
        let [low, high] = found.confidence(5.0, 0.95);
        assert!((high - low - 2.0 * 2.776_445 * found.at(5.0).sd).abs() < 1e-5);
    }
}
