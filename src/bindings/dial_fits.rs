//! `DialLine`, `Monotone`, `FitTest`: the two fits of `dial_in` and their tests.

use super::error::argument;
use super::show::class;
use crate::estimate::Estimate;
use crate::study::dial_in::monotone::Monotone;
use crate::study::dial_in::straight::{DialLine, FitTest};
use pyo3::prelude::*;

DialLine! { class
/// >>> import pourline
/// >>> line = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39]).line
/// >>> f"{line.slope}", f"{line.r2:.3f}", f"{line.lack_of_fit.p:.2f}"
/// ('-0.0217 ± 0.0026', '0.945', '0.77')
PyDialLine("pourline", "DialLine") {
    /// The line at a setting, with the sd of the line there.
    ///
    /// `setting` is a number on the setting's scale.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> print(found.line.at(24))
    /// 5.040 ± 0.069
    fn at(&self, setting: f64) -> Estimate {
        self.inner.at(setting)
    }

    /// Confidence interval of the line at a setting.
    ///
    /// `setting` is a number on its scale, `level` the confidence level; returns both ends.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> low, high = found.line.confidence(24)
    /// >>> low < found.line.at(24).value < high
    /// True
    #[pyo3(signature = (setting, level = 0.95))]
    fn confidence(&self, setting: f64, level: f64) -> PyResult<(f64, f64)> {
        Ok(self.inner.confidence(setting, checked(level)?).into())
    }

    /// Prediction interval of one more brew at a setting.
    ///
    /// `setting` is a number on its scale, `level` the probability of the interval; returns both ends.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> low, high = found.line.prediction(24)
    /// >>> low < found.line.confidence(24)[0]
    /// True
    #[pyo3(signature = (setting, level = 0.95))]
    fn prediction(&self, setting: f64, level: f64) -> PyResult<(f64, f64)> {
        Ok(self.inner.prediction(setting, checked(level)?).into())
    }

    fn __repr__(&self) -> String {
        let DialLine { slope, residual_sd, r2, degrees, .. } = &self.inner;
        format!(
            "<DialLine: slope {slope}, residual sd {residual_sd:.2e} with {degrees} degrees of freedom, R2 {r2:.3}>"
        )
    }
}}

Monotone! { class
/// >>> import pourline
/// >>> curve = pourline.dial_in([1, 2, 3, 4, 4], [5.0, 7.0, 6.0, 9.0, 9.4]).monotone
/// >>> curve.direction, curve.values.tolist()
/// ('rising', [5.0, 6.5, 6.5, 9.2])
PyMonotone("pourline", "Monotone") {
    /// The curve at a setting; NaN outside of those tried.
    ///
    /// `setting` is a number on the setting's scale.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 22, 24, 26, 28], [4.1, 4.4, 5.2, 5.4, 6.1], target=5)
    /// >>> found.monotone.at(24), found.monotone.at(10)
    /// (5.2, nan)
    fn at(&self, setting: f64) -> f64 {
        self.inner.at(setting)
    }

    /// Confidence interval of the curve at a setting; NaN outside of those tried, or if the variance is unknown.
    ///
    /// `setting` is a number on its scale, `level` the confidence level; returns both ends.
    ///
    /// >>> import pourline
    /// >>> found = pourline.dial_in([20, 20, 24, 24, 28, 28], [4.1, 4.4, 5.2, 5.4, 6.1, 6.0])
    /// >>> low, high = found.monotone.confidence(24)
    /// >>> low < found.monotone.at(24) < high
    /// True
    #[pyo3(signature = (setting, level = 0.95))]
    fn confidence(&self, setting: f64, level: f64) -> PyResult<(f64, f64)> {
        Ok(self.inner.confidence(setting, checked(level)?).into())
    }

    fn __repr__(&self) -> String {
        let Monotone { direction, levels, settings, .. } = &self.inner;
        format!("<Monotone: {}, {levels} levels at {} settings>", direction.name(), settings.len())
    }
}}

FitTest! { class
/// >>> import pourline
/// >>> test = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39]).line.lack_of_fit
/// >>> test.degrees, test.scatter_degrees
/// (1, 3)
PyFitTest("pourline", "FitTest") {
    fn __repr__(&self) -> String {
        let FitTest { f, degrees, scatter_degrees, p } = self.inner;
        format!("<FitTest: F({degrees}, {scatter_degrees}) = {f:.3}, p {p:.3}>")
    }
}}

fn checked(level: f64) -> PyResult<f64> {
    if level > 0.0 && level < 1.0 {
        return Ok(level);
    }
    Err(argument("level", format!("{level}: it must be above 0 and below 1")))
}
