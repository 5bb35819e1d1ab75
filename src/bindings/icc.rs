//! `icc`, `Icc` and `IccForm`.

use super::interval::two_way;
use super::show::{Show, class};
use crate::study::gather::study::Study;
use crate::study::repeatability::icc::{Icc, IccForm};
use pyo3::prelude::*;

Icc! { class
/// >>> import pourline
/// >>> # Shrout and Fleiss 1979, table 2.
/// >>> values = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7]
/// >>> found = pourline.icc(values, subjects=[i // 4 for i in range(24)], raters=[i % 4 for i in range(24)])
/// >>> [round(form.icc.value, 2) for form in found.forms]
/// [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]
PyIcc("pourline", "Icc") {
    /// One row per form: form, icc, low, high, f, degrees, degrees_below, p, meaning.
    ///
    /// >>> import pourline
    /// >>> found = pourline.icc([5.1, 5.3, 4.7, 4.6, 5.8, 6.0], subjects=list("aabbcc"), raters=["x", "y"] * 3)
    /// >>> found.table()["form"].tolist()
    /// ['ICC(1,1)', 'ICC(2,1)', 'ICC(3,1)', 'ICC(1,k)', 'ICC(2,k)', 'ICC(3,k)']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __repr__(&self) -> String {
        format!("<Icc of {} subjects by {} raters>", self.inner.subjects, self.inner.raters)
    }
}}

IccForm! { class
/// >>> import pourline
/// >>> found = pourline.icc([1.0, 1.2, 2.0, 2.1, 3.1, 2.9], subjects=list("aabbcc"), raters=list("xyxyxy"))
/// >>> found.forms[1].form, found.forms[1].meaning
/// ('ICC(2,1)', 'one value, agreement of raters sampled from a population')
PyIccForm("pourline", "IccForm") {
    fn __repr__(&self) -> String {
        let IccForm { form, icc, .. } = &self.inner;
        format!("<{form} {:.3} ({:.3} to {:.3})>", icc.value, icc.low, icc.high)
    }
}}

/// Intraclass correlation, the share of the variance between subjects, in its six forms.
///
/// Shrout and Fleiss 1979, McGraw and Wong 1996. `data` is either values, with the subject and the rater of each; or a
/// `Study`, brews or a table, with `measure`, `subjects` and `raters` names in it. Each subject needs one value by each
/// rater.
///
/// >>> import pourline
/// >>> found = pourline.icc([1.0, 1.2, 2.0, 2.1, 3.1, 2.9], subjects=list("aabbcc"), raters=list("xyxyxy"))
/// >>> found.forms[0].icc.value > 0.9
/// True
#[pyfunction]
#[pyo3(signature = (data, *, subjects, raters, measure = None))]
pub(super) fn icc(
    data: &Bound<'_, PyAny>,
    subjects: &Bound<'_, PyAny>,
    raters: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyIcc> {
    let labels = [("subjects", subjects), ("raters", raters)];
    two_way(data, measure, labels, crate::study::repeatability::icc::icc, Study::icc).map(Into::into)
}
