//! `Estimate` and `Undefined`: a number with its sd, or the reason for none.

use super::arrays::short;
use super::error::PourlineError;
use super::value::{over_inner, value};
use crate::estimate::{Estimate, Maybe, Undefined};
use pyo3::IntoPyObjectExt;
use pyo3::basic::CompareOp;
use pyo3::exceptions::{PyTypeError, PyZeroDivisionError};
use pyo3::prelude::*;
use pyo3::types::{PyFloat, PyTuple};

/// A number and its standard deviation, in the same unit.
///
/// `value` is the number, `sd` its standard deviation (0 for a number taken as exact). Estimates are ordered by value,
/// also against plain numbers; they are equal if both numbers are. A plain number can be added, subtracted, multiplied
/// and divided by. Sums and products of two estimates raise a TypeError, because their errors are not independent.
///
/// >>> import pourline
/// >>> mass_g = pourline.Estimate(60.0, 0.1)
/// >>> float(mass_g), mass_g.sd, str(mass_g)
/// (60.0, 0.1, '60.00 ± 0.10')
/// >>> f"{mass_g:.1f} g", f"{mass_g:.0f} g"
/// ('60.0 ± 0.1 g', '60 ± 0.1 g')
/// >>> mass_g / 1000, mass_g > 59
/// (Estimate(0.06, sd=0.0001), True)
#[pyclass(frozen, module = "pourline", name = "Estimate")]
#[derive(Clone, Copy)]
pub(super) struct PyEstimate {
    pub(super) inner: Estimate,
}

impl From<Estimate> for PyEstimate {
    fn from(inner: Estimate) -> Self {
        Self { inner }
    }
}

over_inner!(PyEstimate, Estimate);

/// The other operand.
enum Operand {
    Estimate(Estimate),
    Number(f64),
    Else,
}

fn operand(other: &Bound<'_, PyAny>) -> PyResult<Operand> {
    if let Ok(estimate) = other.cast::<PyEstimate>() {
        return Ok(Operand::Estimate(estimate.get().inner));
    }
    // An array has a length, and numpy passes on its elements.
    if other.is_instance_of::<PyUndefined>() || other.hasattr("__len__")? {
        return Ok(Operand::Else);
    }
    Ok(other.extract().map_or(Operand::Else, Operand::Number))
}

impl PyEstimate {
    /// The result of an operation with a plain number.
    fn with_number(
        &self,
        other: &Bound<'_, PyAny>,
        of: impl FnOnce(Estimate, f64) -> Estimate,
    ) -> PyResult<Py<PyAny>> {
        let py = other.py();
        match operand(other)? {
            Operand::Number(number) => {
                let Estimate { value, sd } = of(self.inner, number);
                Py::new(py, Self::new(value, sd)?).map(Py::into_any)
            }
            Operand::Estimate(_) => Err(PyTypeError::new_err(
                "two Estimates are not combined: both share the scale, so their errors are not independent, and the sd \
                 would be wrong. Use their .value; covariances of edges and masses are in brew.segments.covariance",
            )),
            Operand::Else => Ok(py.NotImplemented()),
        }
    }
}

value! { PyEstimate own {
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

    fn __add__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.with_number(other, |e, number| Estimate::new(e.value + number, e.sd))
    }

    fn __radd__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.__add__(other)
    }

    fn __sub__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.with_number(other, |e, number| Estimate::new(e.value - number, e.sd))
    }

    fn __rsub__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.with_number(other, |e, number| Estimate::new(number - e.value, e.sd))
    }

    fn __mul__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.with_number(other, Estimate::scaled)
    }

    fn __rmul__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        self.__mul__(other)
    }

    fn __truediv__(&self, other: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        if let Operand::Number(0.0) = operand(other)? {
            return Err(PyZeroDivisionError::new_err("division of an Estimate by zero"));
        }
        self.with_number(other, |e, number| Estimate::new(e.value / number, e.sd / number.abs()))
    }

    fn __neg__(&self) -> Self {
        self.inner.scaled(-1.0).into()
    }

    fn __pos__(slf: Bound<'_, Self>) -> Bound<'_, Self> {
        slf
    }

    fn __abs__(&self) -> Self {
        Estimate::new(self.inner.value.abs(), self.inner.sd).into()
    }

    /// The value rounded as a float is; the sd stays as it is.
    #[pyo3(signature = (ndigits = None))]
    fn __round__(&self, py: Python<'_>, ndigits: Option<i32>) -> PyResult<Self> {
        let rounded = py.import("builtins")?.call_method1("round", (self.inner.value, ndigits.unwrap_or(0)))?;
        Ok(Estimate::new(rounded.extract()?, self.inner.sd).into())
    }

    fn __str__(&self) -> String {
        self.inner.to_string()
    }

    /// Two significant digits of the sd, and the value to the same place.
    fn __repr__(&self) -> String {
        let Estimate { value, sd } = self.inner;
        if sd == 0.0 {
            return format!("Estimate({value:?}, sd=0.0)");
        }
        let text = self.inner.to_string();
        let mut parts = text.split(" ± ").map(|part| part.parse().unwrap_or(f64::NAN));
        let (value, rounded) = (parts.next().unwrap_or(value), parts.next().unwrap_or(sd));
        format!("Estimate({value:?}, sd={:?})", if rounded > 0.0 { rounded } else { sd })
    }

    /// Both numbers in the given format, ` ± ` between them; the sd sets the decimals if no format is given.
    ///
    /// An sd that this format would show as 0 keeps one digit, and an exact number has none.
    fn __format__(&self, py: Python<'_>, spec: &str) -> PyResult<String> {
        if spec.is_empty() {
            return Ok(self.inner.to_string());
        }
        let Estimate { value, sd } = self.inner;
        let format = py.import("builtins")?.getattr("format")?;
        let one = |number: f64, spec: &str| -> PyResult<String> { format.call1((number, spec))?.extract() };
        let (number, mut spread) = (one(value, spec)?, one(sd, spec)?);
        if sd == 0.0 {
            return Ok(number);
        }
        if !spread.contains(|digit: char| ('1'..='9').contains(&digit)) {
            spread = match spec.ends_with('%') {
                true => format!("{}%", one(100.0 * sd, ".1g")?),
                false => one(sd, ".1g")?,
            };
        }
        Ok(format!("{number} ± {spread}"))
    }

    fn __richcmp__(&self, other: &Bound<'_, PyAny>, op: CompareOp) -> PyResult<Py<PyAny>> {
        let py = other.py();
        let other = match operand(other)? {
            Operand::Estimate(estimate) => estimate,
            Operand::Number(number) => Estimate::exact(number),
            Operand::Else => return Ok(py.NotImplemented()),
        };
        let Estimate { value, sd } = self.inner;
        let found = match op {
            CompareOp::Eq => value == other.value && sd == other.sd,
            CompareOp::Ne => value != other.value || sd != other.sd,
            CompareOp::Lt => value < other.value,
            CompareOp::Le => value <= other.value,
            CompareOp::Gt => value > other.value,
            CompareOp::Ge => value >= other.value,
        };
        found.into_py_any(py)
    }

    /// That of the number if it is exact, because it equals that number.
    fn __hash__(&self, py: Python<'_>) -> PyResult<isize> {
        let Estimate { value, sd } = self.inner;
        if sd == 0.0 { PyFloat::new(py, value).hash() } else { PyTuple::new(py, [value, sd])?.hash() }
    }
}}

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

over_inner!(PyUndefined, Undefined);

value! { PyUndefined {
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
}}

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
