//! `crossed`, `Crossed`, `Components` and `Component`.

use super::interval::two_way;
use super::show::{Show, class};
use crate::study::gather::study::Study;
use crate::study::repeatability::crossed::{Component, Components, Crossed};
use pyo3::prelude::*;

Crossed! { class
/// >>> import pourline
/// >>> flows_g_per_s = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4]
/// >>> people, kettles = ["Ada"] * 4 + ["Bo"] * 4 + ["Cy"] * 4, ["thin", "thin", "wide", "wide"] * 3
/// >>> found = pourline.crossed(flows_g_per_s, rows=people, columns=kettles)
/// >>> print(f"{found.anova.columns.share_pct:.0f} % of the variance lies between kettles")
/// 72 % of the variance lies between kettles
PyCrossed("pourline", "Crossed") {
    /// One row per method and source: method, source, sd, low, high, share_pct, study_pct.
    ///
    /// >>> import pourline
    /// >>> flows_g_per_s = [5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1]
    /// >>> pourline.crossed(flows_g_per_s, rows=list("aabb") * 2, columns=["x", "y"] * 4).table().columns
    /// ['method', 'source', 'sd', 'low', 'high', 'share_pct', 'study_pct']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    fn __repr__(&self) -> String {
        let Crossed { rows, columns, brews, .. } = &self.inner;
        format!("<Crossed: {brews} brews, {} rows by {} columns>", rows.len(), columns.len())
    }
}}

Components! { class
/// >>> import pourline
/// >>> flows_g_per_s = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4]
/// >>> people, kettles = ["Ada"] * 4 + ["Bo"] * 4 + ["Cy"] * 4, ["thin", "thin", "wide", "wide"] * 3
/// >>> by_anova = pourline.crossed(flows_g_per_s, rows=people, columns=kettles).anova
/// >>> by_anova.rows.sd.value < by_anova.reproducibility.sd.value < by_anova.total.sd.value
/// True
PyComponents("pourline", "Components") {}}

Component! { class
/// >>> import pourline
/// >>> found = pourline.crossed([1.0, 2.2, 3.1, 4.0], rows=list("aabb"), columns=list("xyxy"))
/// >>> found.anova.total.share_pct
/// 100.0
PyComponent("pourline", "Component") {
    fn __repr__(&self) -> String {
        let Component { sd, share_pct, .. } = self.inner;
        format!("<sd {:.4} ({:.4} to {:.4}), {share_pct:.1} %>", sd.value, sd.low, sd.high)
    }
}}

/// A crossed study: random effects of rows (such as people) and columns (such as kettles).
///
/// Each row brews with each column, preferably several times. By analysis of variance and by restricted maximum
/// likelihood. `data` is either values, with the row and the column of each; or a `Study`, brews or a table, with
/// `measure`, `rows` and `columns` names in it.
///
/// >>> import pourline
/// >>> found = pourline.crossed([1.0, 2.2, 3.1, 4.0], rows=list("aabb"), columns=list("xyxy"))
/// >>> found.anova.interaction.reason
/// 'one brew per cell: the interaction is part of the repeatability'
#[pyfunction]
#[pyo3(signature = (data, *, rows, columns, measure = None))]
pub(super) fn crossed(
    data: &Bound<'_, PyAny>,
    rows: &Bound<'_, PyAny>,
    columns: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCrossed> {
    let labels = [("rows", rows), ("columns", columns)];
    two_way(data, measure, labels, crate::study::repeatability::crossed::crossed, Study::crossed)
        .map(Into::into)
}
