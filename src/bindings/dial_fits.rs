//! `DialLine`, `Monotone`, `FitTest`: the two fits of `dial_in` and what speaks against them.

use super::balance::or_why;
use super::error::argument;
use super::trace::word;
use crate::estimate::{Estimate, Undefined};
use crate::study::dial_in::monotone::Monotone;
use crate::study::dial_in::straight::{DialLine, FitTest};
use numpy::PyArray1;
use pyo3::prelude::*;

pub(super) type Array<'py> = Bound<'py, PyArray1<f64>>;

/// The least-squares line of a measure against a setting.
///
/// >>> import pourline
/// >>> line = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39]).line
/// >>> f"{line.slope}", f"{line.r2:.3f}", f"{line.lack_of_fit.p:.2f}"
/// ('-0.0217 ± 0.0026', '0.945', '0.77')
#[pyclass(frozen, module = "pourline", name = "DialLine")]
pub(super) struct PyDialLine {
    pub(super) inner: DialLine,
}

#[pymethods]
impl PyDialLine {
    /// The measure's change to one step of the setting.
    #[getter]
    fn slope(&self) -> Estimate {
        self.inner.slope
    }

    /// Ends of the slope's interval at the level asked for.
    #[getter]
    fn slope_interval(&self) -> (f64, f64) {
        self.inner.slope_interval.into()
    }

    /// The line at setting 0, which may lie far from what was tried.
    #[getter]
    fn intercept(&self) -> Estimate {
        self.inner.intercept
    }

    /// Sd of brews about the line.
    #[getter]
    fn residual_sd(&self) -> f64 {
        self.inner.residual_sd
    }

    /// Its degrees of freedom: brews less 2.
    #[getter]
    fn degrees(&self) -> usize {
        self.inner.degrees
    }

    /// Share of the measure's variance that goes with the line, 0 to 1.
    #[getter]
    fn r2(&self) -> f64 {
        self.inner.r2
    }

    /// Whether the means of the settings lie off the line by more than repeated brews scatter.
    #[getter]
    fn lack_of_fit(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        test(py, &self.inner.lack_of_fit)
    }

    /// Whether a parabola fits better than chance would have it.
    #[getter]
    fn curvature(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        test(py, &self.inner.curvature)
    }

    /// Share of the residual variance that the measure's own sd accounts for; above 1 where brews scatter less than that.
    #[getter]
    fn measurement_share(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        or_why(py, self.inner.measurement_share.clone())
    }

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

    /// Where the line lies at a setting, with that confidence.
    ///
    /// `setting` is a number on the setting's scale, `level` the share of such intervals that hold the line; returns both ends.
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

    /// Where one more brew at that setting lands, with that probability.
    ///
    /// `setting` is a number on the setting's scale, `level` the share of such brews that land within; returns both ends.
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
}

/// The monotone curve of a measure against a setting, straight between the settings tried.
///
/// >>> import pourline
/// >>> curve = pourline.dial_in([1, 2, 3, 4, 4], [5.0, 7.0, 6.0, 9.0, 9.4]).monotone
/// >>> curve.direction, curve.values.tolist()
/// ('rising', [5.0, 6.5, 6.5, 9.2])
#[pyclass(frozen, module = "pourline", name = "Monotone")]
pub(super) struct PyMonotone {
    pub(super) inner: Monotone,
}

#[pymethods]
impl PyMonotone {
    /// Which way it goes as the setting goes up: `rising` or `falling`.
    #[getter]
    fn direction(&self) -> PyResult<String> {
        word(&self.inner.direction)
    }

    /// Whether that was stated; otherwise it is the way that leaves the smaller squares.
    #[getter]
    fn stated(&self) -> bool {
        self.inner.stated
    }

    /// Settings tried, from the lowest.
    #[getter]
    fn settings<'py>(&self, py: Python<'py>) -> Array<'py> {
        PyArray1::from_slice(py, &self.inner.settings)
    }

    /// Mean measured at each.
    #[getter]
    fn means<'py>(&self, py: Python<'py>) -> Array<'py> {
        PyArray1::from_slice(py, &self.inner.means)
    }

    /// The curve at each.
    #[getter]
    fn values<'py>(&self, py: Python<'py>) -> Array<'py> {
        PyArray1::from_slice(py, &self.inner.values)
    }

    /// Brews at each.
    #[getter]
    fn brews(&self) -> Vec<usize> {
        self.inner.brews.clone()
    }

    /// Number of different values that the curve takes.
    #[getter]
    fn levels(&self) -> usize {
        self.inner.levels
    }

    /// Sd of one brew, apart from any curve.
    #[getter]
    fn scatter_sd(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        or_why(py, self.inner.scatter_sd.clone())
    }

    /// Its degrees of freedom.
    #[getter]
    fn scatter_degrees(&self) -> usize {
        self.inner.scatter_degrees
    }

    /// Whether the means turn back by more than repeated brews scatter.
    #[getter]
    fn turns_back(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        test(py, &self.inner.turns_back)
    }

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

    /// Where the curve lies at a setting, with that confidence; NaN outside of the settings tried, or where no scatter is known.
    ///
    /// `setting` is a number on the setting's scale, `level` the share of such intervals that hold the curve; returns both ends.
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

    fn __repr__(&self) -> PyResult<String> {
        let Monotone { levels, settings, .. } = &self.inner;
        Ok(format!("<Monotone: {}, {levels} levels at {} settings>", self.direction()?, settings.len()))
    }
}

/// A test by Fisher's F of whether a fit leaves more than brews scatter.
///
/// >>> import pourline
/// >>> test = pourline.dial_in([18, 18, 21, 21, 24, 24], [1.52, 1.49, 1.44, 1.45, 1.36, 1.39]).line.lack_of_fit
/// >>> test.degrees, test.scatter_degrees
/// (1, 3)
#[pyclass(frozen, module = "pourline", name = "FitTest")]
pub(super) struct PyFitTest {
    inner: FitTest,
}

#[pymethods]
impl PyFitTest {
    /// Mean square of what the fit leaves over that of the scatter.
    #[getter]
    fn f(&self) -> f64 {
        self.inner.f
    }

    /// Degrees of freedom of what the fit leaves.
    #[getter]
    fn degrees(&self) -> usize {
        self.inner.degrees
    }

    /// Degrees of freedom of the scatter.
    #[getter]
    fn scatter_degrees(&self) -> usize {
        self.inner.scatter_degrees
    }

    /// Probability of an F as large or larger where the fit holds.
    #[getter]
    fn p(&self) -> f64 {
        self.inner.p
    }

    fn __repr__(&self) -> String {
        let FitTest { f, degrees, scatter_degrees, p } = self.inner;
        format!("<FitTest: F({degrees}, {scatter_degrees}) = {f:.3}, p {p:.3}>")
    }
}

fn test(py: Python<'_>, found: &Result<FitTest, Undefined>) -> PyResult<Py<PyAny>> {
    or_why(py, found.clone().map(|inner| PyFitTest { inner }))
}

fn checked(level: f64) -> PyResult<f64> {
    if level > 0.0 && level < 1.0 {
        return Ok(level);
    }
    Err(argument("level", format!("{level}: it must be above 0 and below 1")))
}
