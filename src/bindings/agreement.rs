//! `agreement` and `Agreement`.

use super::interval::{estimates, name_in};
use super::run::run;
use super::show::{Show, class};
use super::study::study_from;
use crate::study::repeatability::agreement::Agreement;
use pyo3::prelude::*;

Agreement! { class
/// >>> import pourline
/// >>> found = pourline.agreement([60.1, 45.3, 80.2, 30.0, 55.4], [60.0, 45.1, 80.4, 29.8, 55.3])
/// >>> print(f"{found.bias:.2f}")
/// 0.08 (-0.12 to 0.28)
/// >>> found.warnings[0]
/// 'with 5 pairs the limits of agreement are uncertain: use their intervals'
PyAgreement("pourline", "Agreement") {
    /// One row per pair: mean, difference, and whether it lies outside of the limits (1) or not (0).
    ///
    /// >>> import pourline
    /// >>> pourline.agreement([5.1, 5.3, 5.6], [5.0, 5.4, 5.5]).table().columns
    /// ['mean', 'difference', 'outside']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __repr__(&self) -> String {
        format!("<Agreement of {} pairs>", self.inner.pairs)
    }
}}

/// Limits of agreement of two scales or methods (Bland and Altman 1986), with exact intervals.
///
/// `first` and `second` are values, the same brews in the same order; or, with a `study` (a `Study`, brews or a table),
/// names of two measures in it.
///
/// >>> import pourline
/// >>> own = pourline.Table({"by_dial_pct": [1.30, 1.42, 1.25, 1.37], "by_drying_pct": [1.28, 1.41, 1.25, 1.33]})
/// >>> round(pourline.agreement("by_dial_pct", "by_drying_pct", study=own).bias.value, 4)
/// 0.0175
#[pyfunction]
#[pyo3(signature = (first, second, *, study = None))]
pub(super) fn agreement(
    py: Python<'_>,
    first: &Bound<'_, PyAny>,
    second: &Bound<'_, PyAny>,
    study: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyAgreement> {
    let found = if let Some(study) = study {
        let study = study_from(study)?;
        let (first, second) = (name_in("first", Some(first))?, name_in("second", Some(second))?);
        run(py, move || study.agreement(&first, &second))??
    } else {
        let (first, second) = (estimates("first", first)?, estimates("second", second)?);
        run(py, move || crate::study::repeatability::agreement::agreement(&first, &second))??
    };
    Ok(found.into())
}
