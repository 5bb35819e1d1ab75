//! `crossed`, `Crossed`, `Components` and `Component`.

use super::estimate::maybe;
use super::interval::{PyInterval, estimates, known, labels, name_in};
use super::study::study_from;
use super::table::table;
use crate::study::repeatability::crossed::{Component, Components, Crossed};
use pyo3::prelude::*;

/// A study of rows by columns, such as people by kettles.
///
/// >>> import pourline
/// >>> flows_g_per_s = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4]
/// >>> people, kettles = ["Ada"] * 4 + ["Bo"] * 4 + ["Cy"] * 4, ["thin", "thin", "wide", "wide"] * 3
/// >>> found = pourline.crossed(flows_g_per_s, rows=people, columns=kettles)
/// >>> print(f"{found.anova.columns.share_pct:.0f} % of the variance lies between kettles")
/// 72 % of the variance lies between kettles
#[pyclass(frozen, module = "pourline", name = "Crossed")]
pub(super) struct PyCrossed {
    inner: Crossed,
}

#[pymethods]
impl PyCrossed {
    /// Names of the rows.
    #[getter]
    fn rows(&self) -> Vec<String> {
        self.inner.rows.clone()
    }

    /// Names of the columns.
    #[getter]
    fn columns(&self) -> Vec<String> {
        self.inner.columns.clone()
    }

    /// Number of brews.
    #[getter]
    fn brews(&self) -> usize {
        self.inner.brews
    }

    /// General mean, with its sd.
    #[getter]
    fn mean(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.mean)
    }

    /// By analysis of variance; undefined where cells differ in number.
    #[getter]
    fn anova(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyComponents>(py, &self.inner.anova)
    }

    /// By restricted maximum likelihood.
    #[getter]
    fn reml(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyComponents>(py, &self.inner.reml)
    }

    /// What a reader must know, in sentences.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// A row a method and source: method, source, sd, low, high, share_pct, study_pct.
    ///
    /// >>> import pourline
    /// >>> found = pourline.crossed([5.1, 6.2, 4.9, 6.0, 5.3, 6.4, 5.0, 6.1], rows=list("aabb") * 2, columns=["x", "y"] * 4)
    /// >>> found.table().columns
    /// ['method', 'source', 'sd', 'low', 'high', 'share_pct', 'study_pct']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        let Crossed { rows, columns, brews, .. } = &self.inner;
        format!("<Crossed: {brews} brews, {} rows by {} columns>", rows.len(), columns.len())
    }
}

/// The sources of spread by one method.
///
/// >>> import pourline
/// >>> flows_g_per_s = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4]
/// >>> people, kettles = ["Ada"] * 4 + ["Bo"] * 4 + ["Cy"] * 4, ["thin", "thin", "wide", "wide"] * 3
/// >>> by_anova = pourline.crossed(flows_g_per_s, rows=people, columns=kettles).anova
/// >>> by_anova.rows.sd.value < by_anova.reproducibility.sd.value < by_anova.total.sd.value
/// True
#[pyclass(frozen, module = "pourline", name = "Components")]
pub(super) struct PyComponents {
    inner: Components,
}

impl From<Components> for PyComponents {
    fn from(inner: Components) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyComponents {
    /// Rows, such as people.
    #[getter]
    fn rows(&self) -> PyComponent {
        self.inner.rows.into()
    }

    /// Columns, such as kettles.
    #[getter]
    fn columns(&self) -> PyComponent {
        self.inner.columns.into()
    }

    /// What a row does with one column and not with the others.
    #[getter]
    fn interaction(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        known::<_, PyComponent>(py, &self.inner.interaction)
    }

    /// Brews of one row and column.
    #[getter]
    fn repeatability(&self) -> PyComponent {
        self.inner.repeatability.into()
    }

    /// Brews of one column by different rows.
    #[getter]
    fn reproducibility(&self) -> PyComponent {
        self.inner.reproducibility.into()
    }

    /// All together.
    #[getter]
    fn total(&self) -> PyComponent {
        self.inner.total.into()
    }

    /// What of the repeatability sd the measurement explains.
    #[getter]
    fn of_scale_sd(&self) -> f64 {
        self.inner.of_scale_sd
    }

    /// What is left for the hand and the coffee.
    #[getter]
    fn of_hand_sd(&self) -> PyInterval {
        self.inner.of_hand_sd.into()
    }
}

/// One source of spread.
///
/// >>> import pourline
/// >>> found = pourline.crossed([1.0, 2.2, 3.1, 4.0], rows=list("aabb"), columns=list("xyxy"))
/// >>> found.anova.total.share_pct
/// 100.0
#[pyclass(frozen, module = "pourline", name = "Component")]
pub(super) struct PyComponent {
    inner: Component,
}

impl From<Component> for PyComponent {
    fn from(inner: Component) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyComponent {
    /// Its sd, in the unit of the values, with its 95 % interval.
    #[getter]
    fn sd(&self) -> PyInterval {
        self.inner.sd.into()
    }

    /// Its variance in percent of the total variance.
    #[getter]
    fn share_pct(&self) -> f64 {
        self.inner.share_pct
    }

    /// Its sd in percent of the total sd (study variation).
    #[getter]
    fn study_pct(&self) -> f64 {
        self.inner.study_pct
    }

    fn __repr__(&self) -> String {
        let Component { sd, share_pct, .. } = self.inner;
        format!("<sd {:.4} ({:.4} to {:.4}), {share_pct:.1} %>", sd.value, sd.low, sd.high)
    }
}

/// A measurement-system study: each row (a person) brews with each column (a kettle), best several times; crossed random effects by analysis of variance and by restricted maximum likelihood.
///
/// `data` is either values, with the row and the column of each; or a `Study`, brews or a table, with `measure`, `rows` and `columns` names in it.
///
/// >>> import pourline
/// >>> found = pourline.crossed([1.0, 2.2, 3.1, 4.0], rows=list("aabb"), columns=list("xyxy"))
/// >>> found.anova.interaction.reason
/// 'one brew a cell: the interplay of rows and columns is part of the repeatability'
#[pyfunction]
#[pyo3(signature = (data, *, rows, columns, measure = None))]
pub(super) fn crossed(
    py: Python<'_>,
    data: &Bound<'_, PyAny>,
    rows: &Bound<'_, PyAny>,
    columns: &Bound<'_, PyAny>,
    measure: Option<&Bound<'_, PyAny>>,
) -> PyResult<PyCrossed> {
    if measure.is_none() {
        let values = estimates("data", data)?;
        let (rows, columns) = (labels("rows", rows)?, labels("columns", columns)?);
        return Ok(PyCrossed {
            inner: py.detach(|| crate::study::repeatability::crossed::crossed(&values, &rows, &columns))?,
        });
    }
    let (study, measure) = (study_from(data)?, name_in("measure", measure)?);
    let (rows, columns) = (name_in("rows", Some(rows))?, name_in("columns", Some(columns))?);
    Ok(PyCrossed { inner: py.detach(|| study.crossed(&measure, &rows, &columns))? })
}
