//! `pourline.balance`, third part: the brewing control chart.

use super::balance::or_why;
use super::inverse::estimates;
use super::trace::word;
use crate::extraction::chart::{ChartBox, Place};
use pyo3::prelude::*;

/// A box of the brewing control chart, with the document that recommends it.
///
/// `document` is what recommends it; `strength_pct`, `yield_pct` and `coffee_g_per_l` are pairs, from and to (the last may be None).
///
/// >>> from pourline import Estimate, balance
/// >>> box = balance.ChartBox.scaa_2015()
/// >>> box.document, box.strength_pct, box.yield_pct
/// ('SCAA Golden Cup Standard, 23 December 2015', (1.15, 1.35), (18.0, 22.0))
/// >>> mine = balance.ChartBox("what our panel liked, spring", strength_pct=(1.2, 1.5), yield_pct=(19, 23))
/// >>> mine.place(Estimate(1.4, 0.03), Estimate(21.0, 0.5)).strength
/// 'within'
#[pyclass(frozen, eq, module = "pourline.balance", name = "ChartBox")]
#[derive(PartialEq)]
pub(super) struct PyChartBox {
    inner: ChartBox,
}

#[pymethods]
impl PyChartBox {
    #[new]
    #[pyo3(signature = (document, strength_pct, yield_pct, coffee_g_per_l = None))]
    fn new(
        document: String,
        strength_pct: [f64; 2],
        yield_pct: [f64; 2],
        coffee_g_per_l: Option<[f64; 2]>,
    ) -> Self {
        Self { inner: ChartBox { document, strength_pct, yield_pct, coffee_g_per_l } }
    }

    /// SCAA Golden Cup Standard, 23 December 2015: 1.15 to 1.35 %, 18 to 22 %, 49.5 to 60.5 g/L.
    ///
    /// >>> import pourline
    /// >>> box = pourline.balance.ChartBox.scaa_2015()
    /// >>> box.yield_pct
    /// (18.0, 22.0)
    #[staticmethod]
    fn scaa_2015() -> Self {
        Self { inner: ChartBox::scaa_2015() }
    }

    /// SCA certification of home brewers, text of 2018: a strength up to 1.45 %.
    ///
    /// >>> import pourline
    /// >>> pourline.balance.ChartBox.sca_home_brewer_2018().strength_pct
    /// (1.15, 1.45)
    #[staticmethod]
    fn sca_home_brewer_2018() -> Self {
        Self { inner: ChartBox::sca_home_brewer_2018() }
    }

    /// The document that recommends it, with its date.
    #[getter]
    fn document(&self) -> &str {
        &self.inner.document
    }

    /// From and to which strength, percent.
    #[getter]
    fn strength_pct(&self) -> (f64, f64) {
        self.inner.strength_pct.into()
    }

    /// From and to which yield, percent.
    #[getter]
    fn yield_pct(&self) -> (f64, f64) {
        self.inner.yield_pct.into()
    }

    /// From and to how much coffee to a litre of water, g/L; None where the document does not say.
    #[getter]
    fn coffee_g_per_l(&self) -> Option<(f64, f64)> {
        self.inner.coffee_g_per_l.map(Into::into)
    }

    /// Where a strength (of the cup, where water was added to it) and a yield lie.
    ///
    /// `strength_pct` and `yield_pct` are numbers, each an `Estimate` where it is uncertain; returns a `Place`.
    ///
    /// >>> import pourline
    /// >>> box = pourline.balance.ChartBox.scaa_2015()
    /// >>> box.place(1.25, pourline.Estimate(20.1, 0.3)).extraction
    /// 'within'
    fn place(&self, strength_pct: &Bound<'_, PyAny>, yield_pct: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        let given = estimates([("strength_pct", strength_pct), ("yield_pct", yield_pct)])?;
        or_why(strength_pct.py(), given.map(|[t, e]| PyPlace { inner: self.inner.place(t, e) }))
    }

    fn __repr__(&self) -> String {
        let ChartBox { document, strength_pct: [weak, strong], yield_pct: [low, high], .. } = &self.inner;
        format!("<ChartBox: strength {weak} to {strong} %, yield {low} to {high} %, by {document}>")
    }
}

/// Where a brew lies on the brewing control chart, and how sure that is.
///
/// >>> from pourline import Estimate, balance
/// >>> place = balance.ChartBox.scaa_2015().place(Estimate(1.38, 0.03), Estimate(21.0, 0.5))
/// >>> place.strength, place.extraction, f"{place.strength_within:.2f}"
/// ('above', 'within', '0.16')
#[pyclass(frozen, module = "pourline.balance", name = "Place")]
pub(super) struct PyPlace {
    inner: Place,
}

#[pymethods]
impl PyPlace {
    /// Side of its strength: `below`, `within` or `above`.
    #[getter]
    fn strength(&self) -> PyResult<String> {
        word(&self.inner.strength)
    }

    /// Side of its yield: `below`, `within` or `above`.
    #[getter]
    fn extraction(&self) -> PyResult<String> {
        word(&self.inner.extraction)
    }

    /// Probability that the true strength lies within the box's, 0 to 1.
    #[getter]
    fn strength_within(&self) -> f64 {
        self.inner.strength_within
    }

    /// Probability that the true yield lies within the box's, 0 to 1.
    #[getter]
    fn yield_within(&self) -> f64 {
        self.inner.yield_within
    }

    fn __repr__(&self) -> PyResult<String> {
        let Place { strength_within, yield_within, .. } = self.inner;
        let (strength, extraction) = (self.strength()?, self.extraction()?);
        Ok(format!(
            "<Place: strength {strength} (within with probability {strength_within:.2}), \
             yield {extraction} ({yield_within:.2})>"
        ))
    }
}
