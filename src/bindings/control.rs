//! `control_chart` and its results: whether a person's days stay within their own scatter.

use super::progress::pairs_of;
use super::show::{Show, class};
use crate::plan::control::{ControlChart, ControlPoint};
use pyo3::prelude::*;

ControlPoint! { class
/// >>> import pourline
/// >>> scores = [(1, 50), (2, 51), (3, 49), (4, 52), (5, 50), (6, 60)]
/// >>> pourline.control_chart(scores, baseline=5).points[-1].signals
/// ['individual', 'range', 'ewma']
PyControlPoint("pourline", "ControlPoint") {
    fn __repr__(&self) -> String {
        let ControlPoint { day, mean, signals, .. } = &self.inner;
        format!("<ControlPoint {day}: {mean:.3} {}>", signals.join(" "))
    }
}}

ControlChart! { class
/// >>> import pourline
/// >>> found = pourline.control_chart([(day, 50 + day % 3) for day in range(9)])
/// >>> found.center, found.says
/// (51.0, '9 days, all within the limits')
PyControlChart("pourline", "ControlChart") {
    /// One row per day.
    ///
    /// >>> import pourline
    /// >>> pourline.control_chart([(day, 50 + day % 3) for day in range(9)]).table().columns[:3]
    /// ['day', 'mean', 'moving_range']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __str__(&self) -> String {
        self.inner.says.clone()
    }

    fn __repr__(&self) -> String {
        format!("<ControlChart: {}>", self.inner.says)
    }
}}

/// The control chart of one person's brews over days: individuals and moving ranges, EWMA, CUSUM.
///
/// `brews` are pairs of a day and a number, as for `progress`; a point is the mean of a day. `baseline` is the number
/// of days, from the first on, that centre and sd are those of (default: all). `sd` states the sd of a day instead.
/// `weight` is that of the newest day in the EWMA.
///
/// >>> import pourline
/// >>> scores = [(1, 50), (2, 51), (3, 49), (4, 52), (5, 50), (6, 60)]
/// >>> print(pourline.control_chart(scores, baseline=5))
/// 1 of 6 days pass a limit, the first is day 6 (individual, range, ewma)
#[pyfunction]
#[pyo3(signature = (brews, baseline = None, sd = None, weight = 0.2))]
pub(super) fn control_chart(
    brews: &Bound<'_, PyAny>,
    baseline: Option<usize>,
    sd: Option<f64>,
    weight: f64,
) -> PyResult<PyControlChart> {
    let pairs = pairs_of(brews)?;
    Ok(crate::plan::control::control_chart(&pairs, baseline.unwrap_or(0), sd, weight)?.into())
}
