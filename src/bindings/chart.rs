//! `pourline.balance`, third part: the brewing control chart.

use super::inverse::estimates;
use super::show::{Show, class};
use crate::extraction::chart::{ChartBox, Place};
use pyo3::prelude::*;

ChartBox! { class
/// `document` is its source; `strength_pct`, `yield_pct` and `coffee_g_per_l` are pairs, from and to (the last may be
/// None).
///
/// >>> from pourline import Estimate, balance
/// >>> box = balance.ChartBox.scaa_2015()
/// >>> box.document, box.strength_pct, box.yield_pct
/// ('SCAA Golden Cup Standard, 23 December 2015', (1.15, 1.35), (18.0, 22.0))
/// >>> mine = balance.ChartBox("what our panel liked, spring", strength_pct=(1.2, 1.5), yield_pct=(19, 23))
/// >>> mine.place(Estimate(1.4, 0.03), Estimate(21.0, 0.5)).strength
/// 'within'
PyChartBox("pourline.balance", "ChartBox") {
    #[new]
    #[pyo3(signature = (document, strength_pct, yield_pct, coffee_g_per_l = None))]
    fn new(
        document: String,
        strength_pct: [f64; 2],
        yield_pct: [f64; 2],
        coffee_g_per_l: Option<[f64; 2]>,
    ) -> Self {
        ChartBox { document, strength_pct, yield_pct, coffee_g_per_l }.into()
    }

    /// SCAA Golden Cup Standard, 23 December 2015: 1.15 to 1.35 %, 18 to 22 %, 49.5 to 60.5 g/L.
    ///
    /// >>> import pourline
    /// >>> box = pourline.balance.ChartBox.scaa_2015()
    /// >>> box.yield_pct
    /// (18.0, 22.0)
    #[staticmethod]
    fn scaa_2015() -> Self {
        ChartBox::scaa_2015().into()
    }

    /// SCA certification of home brewers, text of 2018: a strength up to 1.45 %.
    ///
    /// >>> import pourline
    /// >>> pourline.balance.ChartBox.sca_home_brewer_2018().strength_pct
    /// (1.15, 1.45)
    #[staticmethod]
    fn sca_home_brewer_2018() -> Self {
        ChartBox::sca_home_brewer_2018().into()
    }

    /// Position of a strength (that of the cup, if water was added) and a yield.
    ///
    /// `strength_pct` and `yield_pct` are numbers, each an `Estimate` if it is uncertain; returns a `Place`.
    ///
    /// >>> import pourline
    /// >>> box = pourline.balance.ChartBox.scaa_2015()
    /// >>> box.place(1.25, pourline.Estimate(20.1, 0.3)).extraction
    /// 'within'
    fn place(&self, strength_pct: &Bound<'_, PyAny>, yield_pct: &Bound<'_, PyAny>) -> PyResult<Py<PyAny>> {
        let given = estimates([("strength_pct", strength_pct), ("yield_pct", yield_pct)])?;
        given.map(|[t, e]| self.inner.place(t, e)).show(strength_pct.py())
    }

    fn __repr__(&self) -> String {
        let ChartBox { document, strength_pct: [weak, strong], yield_pct: [low, high], .. } = &self.inner;
        format!("<ChartBox: strength {weak} to {strong} %, yield {low} to {high} %, by {document}>")
    }
}}

Place! { class
/// >>> from pourline import Estimate, balance
/// >>> place = balance.ChartBox.scaa_2015().place(Estimate(1.38, 0.03), Estimate(21.0, 0.5))
/// >>> place.strength, place.extraction, f"{place.strength_within:.2f}"
/// ('above', 'within', '0.16')
PyPlace("pourline.balance", "Place") {
    fn __repr__(&self) -> String {
        let Place { strength, extraction, strength_within, yield_within } = self.inner;
        let (strength, extraction) = (strength.name(), extraction.name());
        format!(
            "<Place: strength {strength} (within with probability {strength_within:.2}), \
             yield {extraction} ({yield_within:.2})>"
        )
    }
}}
