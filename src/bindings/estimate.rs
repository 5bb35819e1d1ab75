//! `Estimate` and `Undefined`: a number with its sd, or the reason for none.

use super::arrays::short;
use super::error::PourlineError;
use crate::estimate::{Estimate, Maybe, Undefined};
use pyo3::basic::CompareOp;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;

/// A number and its standard deviation, in the same unit.
///
/// `value` is the number, `sd` its standard deviation (0 for a number taken as exact).
///
/// >>> import pourline
/// >>> mass_g = pourline.Estimate(60.0, 0.1)
/// >>> float(mass_g), mass_g.sd, str(mass_g)
/// (60.0, 0.1, '60.00 ± 0.10')
/// >>> f"{mass_g:.1f} g"
/// '60.0 ± 0.1 g'
#[pyclass(frozen, module = "pourline", name = "Estimate")]
#[derive(Clone, Copy)]
pub(super) struct PyEstimate {
    pub(super) inner: Estimate,
}

#[pymethods]
impl PyEstimate {
    #[new]
    #[pyo3(signature = (value, sd = 0.0))]
    fn new(value: f64, sd: f64) -> PyResult<Self> {
        if !value.is_finite() || !sd.is_finite() || sd < 0.0 {
            let message = format!("a finite value and an sd of 0 or more are needed, not {value} and {sd}");
            return Err(super::error::argument("Estimate", message));
        }
        Ok(Self { inner: Estimate::new(value, sd) })
    }

    /// The value.
    #[getter]
    fn value(&self) -> f64 {
        self.inner.value
    }

    /// Its standard deviation; 0 for a number taken as exact.
    #[getter]
    fn sd(&self) -> f64 {
        self.inner.sd
    }

    fn __float__(&self) -> f64 {
        self.inner.value
    }

    fn __str__(&self) -> String {
        self.inner.to_string()
    }

    fn __repr__(&self) -> String {
        format!("Estimate({:?}, sd={:?})", self.inner.value, self.inner.sd)
    }

    /// Both numbers in the given format, ` ± ` between them; the sd sets the decimals if no format is given.
    fn __format__(&self, py: Python<'_>, spec: &str) -> PyResult<String> {
        if spec.is_empty() {
            return Ok(self.inner.to_string());
        }
        let format = py.import("builtins")?.getattr("format")?;
        let one = |number: f64| -> PyResult<String> { format.call1((number, spec))?.extract() };
        Ok(format!("{} ± {}", one(self.inner.value)?, one(self.inner.sd)?))
    }

    fn __richcmp__(&self, other: &Bound<'_, PyAny>, op: CompareOp) -> PyResult<Py<PyAny>> {
        let py = other.py();
        let equal = other.cast::<Self>().ok().map(|o| o.get().inner == self.inner);
        Ok(match (equal, op) {
            (Some(equal), CompareOp::Eq) => equal.into_pyobject(py)?.to_owned().into_any().unbind(),
            (Some(equal), CompareOp::Ne) => (!equal).into_pyobject(py)?.to_owned().into_any().unbind(),
            _ => py.NotImplemented(),
        })
    }

    fn __hash__(&self) -> u64 {
        self.inner.value.to_bits() ^ self.inner.sd.to_bits().rotate_left(1)
    }
}

/// An undefined number with its reason. It is falsy, and `float()` of it raises an error with the reason.
///
/// >>> import pourline
/// >>> found = pourline.extraction(pourline.Meta(dose_g=15), water_g=270, beverage_g=240)
/// >>> found.yield_pct.reason
/// 'tds_pct was not given'
/// >>> found.yield_pct or "no yield"
/// 'no yield'
#[pyclass(frozen, module = "pourline", name = "Undefined")]
#[derive(Clone)]
pub(super) struct PyUndefined {
    inner: Undefined,
}

impl From<Undefined> for PyUndefined {
    fn from(inner: Undefined) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyUndefined {
    #[new]
    fn new(reason: String) -> Self {
        Self { inner: Undefined::because(reason) }
    }

    /// The reason, as a sentence.
    #[getter]
    fn reason(&self) -> &str {
        &self.inner.reason
    }

    fn __bool__(&self) -> bool {
        false
    }

    fn __float__(&self) -> PyResult<f64> {
        Err(PourlineError::new_err((self.inner.to_string(), "undefined")))
    }

    fn __str__(&self) -> String {
        self.inner.to_string()
    }

    fn __repr__(&self) -> String {
        format!("Undefined({:?})", self.inner.reason)
    }

    /// The word `undefined`, whatever the format.
    fn __format__(&self, _spec: &str) -> &'static str {
        "undefined"
    }
}

impl<'py> IntoPyObject<'py> for Estimate {
    type Target = PyAny;
    type Output = Bound<'py, PyAny>;
    type Error = PyErr;

    fn into_pyobject(self, py: Python<'py>) -> PyResult<Self::Output> {
        Ok(Bound::new(py, PyEstimate { inner: self })?.into_any())
    }
}

/// A number that may be undefined, from Python: an `Estimate`, an `Undefined`, or a plain number taken as exact.
pub(super) fn maybe_from(name: &str, value: &Bound<'_, PyAny>) -> PyResult<Maybe> {
    if let Ok(estimate) = value.cast::<PyEstimate>() {
        return Ok(Ok(estimate.get().inner));
    }
    if let Ok(undefined) = value.cast::<PyUndefined>() {
        return Ok(Err(undefined.get().inner.clone()));
    }
    let number: f64 = value.extract().map_err(|_| {
        PyTypeError::new_err(format!("{name}: a number or an Estimate is needed, not {}", short(value)))
    })?;
    Ok(Ok(PyEstimate::new(number, 0.0)?.inner))
}
