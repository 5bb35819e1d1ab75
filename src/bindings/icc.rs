//! `icc`, `Icc` and `IccForm`.

use super::interval::{PyFTest, PyInterval, estimates, labels, name_in};
use super::study::study_from;
use super::table::table;
use crate::study::repeatability::icc::{Icc, IccForm};
use pyo3::prelude::*;

/// The intraclass correlation in its six forms.
///
/// >>> import pourline
/// >>> values = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7]  # Shrout and Fleiss 1979, table 2
/// >>> found = pourline.icc(values, subjects=[i // 4 for i in range(24)], raters=[i % 4 for i in range(24)])
/// >>> [round(form.icc.value, 2) for form in found.forms]
/// [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
#[pyclass(frozen, module = "pourline", name = "Icc")]
pub(super) struct PyIcc {
    inner: Icc,
}

#[pymethods]
impl PyIcc {
    /// Number of subjects.
    #[getter]
    fn subjects(&self) -> usize {
        self.inner.subjects
    }

    /// Number of raters, the k of the last three forms.
    #[getter]
    fn raters(&self) -> usize {
        self.inner.raters
    }

    /// (1,1), (2,1), (3,1), (1,k), (2,k), (3,k).
    #[getter]
    fn forms(&self) -> Vec<PyIccForm> {
        self.inner.forms.iter().map(|form| PyIccForm { inner: form.clone() }).collect()
    }

    /// A row a form: form, icc, low, high, f, degrees, degrees_below, p, meaning.
    ///
    /// >>> import pourline
    /// >>> found = pourline.icc([5.1, 5.3, 4.7, 4.6, 5.8, 6.0], subjects=list("aabbcc"), raters=["x", "y"] * 3)
    /// >>> found.table()["form"].tolist()
    /// ['ICC(1,1)', 'ICC(2,1)', 'ICC(3,1)', 'ICC(1,k)', 'ICC(2,k)', 'ICC(3,k)']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        format!("<Icc of {} subjects by {} raters>", self.inner.subjects, self.inner.raters)
    }
}

/// One form of the intraclass correlation.
///
/// >>> import pourline
/// >>> found = pourline.icc([1.0, 1.2, 2.0, 2.1, 3.1, 2.9], subjects=list("aabbcc"), raters=list("xyxyxy"))
/// >>> found.forms[1].form, found.forms[1].meaning
/// ('ICC(2,1)', 'one value, agreement of raters drawn from many')
#[pyclass(frozen, module = "pourline", name = "IccForm")]
pub(super) struct PyIccForm {
    inner: IccForm,
}

#[pymethods]
impl PyIccForm {
    /// `ICC(1,1)` to `ICC(3,k)`.
    #[getter]
    fn form(&self) -> &'static str {
        self.inner.form
    }

    /// What it is the share of.
    #[getter]
    fn meaning(&self) -> &'static str {
        self.inner.meaning
    }

    /// The correlation with its 95 % interval.
    #[getter]
    fn icc(&self) -> PyInterval {
        self.inner.icc.into()
    }

    /// Whether subjects differ at all.
    #[getter]
    fn test(&self) -> PyFTest {
        self.inner.test.into()
    }

    fn __repr__(&self) -> String {
        let Self { inner: IccForm { form, icc, .. } } = self;
        format!("<{form} {:.3} ({:.3} to {:.3})>", icc.value, icc.low, icc.high)
    }
}

/// How much of the variance lies between subjects: the intraclass correlation in its six forms (Shrout and Fleiss 1979, McGraw and Wong 1996).
///
/// `data` is either values, with the subject and the rater of each; or a `Study`, brews or a table, with `measure`, `subjects` and `raters` names in it.
/// Each subject needs one value by each rater.
///
/// >>> import pourline
/// >>> found = pourline.icc([1.0, 1.2, 2.0, 2.1, 3.1, 2.9], subjects=list("aabbcc"), raters=list("xyxyxy"))
/// >>> found.forms[0].icc.value > 0.9
/// True
#[pyfunction]
#[pyo3(signature = (data, *, subjects, raters, measure = None))]
pub(super) fn icc(
    py: Python<'_>,
    data: &Bound<'_, PyAny>,
    subjects: &Bound<'_, PyAny>,
    raters: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyIcc> {
    if measure.is_none() {
        let values = estimates("data", data)?;
        let (subjects, raters) = (labels("subjects", subjects)?, labels("raters", raters)?);
        return Ok(PyIcc {
            inner: py.detach(|| crate::study::repeatability::icc::icc(&values, &subjects, &raters))?,
        });
    }
    let (study, measure) = (study_from(data)?, name_in("measure", measure)?);
    let (subjects, raters) = (name_in("subjects", Some(subjects))?, name_in("raters", Some(raters))?);
    Ok(PyIcc { inner: py.detach(|| study.icc(&measure, &subjects, &raters))? })
}
