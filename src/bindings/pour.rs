//! `Pour`, alone and as a part of a brew.

use super::show::{Show, class};
use super::value::Value;
use crate::agitation::result::PourAgitation;
use crate::bed::result::PourDrain;
use crate::brew::result::Brew;
use crate::metrics::result::PourMetrics;
use crate::segment::pour::Pour;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;

Pour! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).pours[0]
/// >>> print(f"{pour.mass_g.value:.0f} g")
/// 44 g
PyPour("pourline", "Pour") {
    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.result_cards")?.call_method1("pour_card", (slf,))?.extract()
    }

    fn __repr__(&self) -> String {
        let Pour { start_s, end_s, mass_g, mean_flow_g_per_s, .. } = &self.inner;
        format!("<Pour: start {start_s} s, end {end_s} s, {mass_g} g at {mean_flow_g_per_s} g/s>")
    }
}}

/// A pour with the rows of the other stages.
struct Whole {
    pour: Pour,
    metrics: Option<PourMetrics>,
    agitation: Option<PourAgitation>,
    drain: Option<PourDrain>,
}

/// The pours of a brew. Each answers for its metrics, agitation and drainage as well.
pub(super) struct Pours(Vec<Whole>);

impl Pours {
    pub(super) fn of(brew: &Brew) -> Self {
        let of = |(k, pour): (usize, &Pour)| Whole {
            pour: pour.clone(),
            metrics: brew.metrics.pours.get(k).cloned(),
            agitation: brew.agitation.as_ref().and_then(|agitation| agitation.pours.get(k)).cloned(),
            drain: brew.bed.pours.get(k).cloned(),
        };
        Self(brew.segments.pours.iter().enumerate().map(of).collect())
    }
}

impl Show for Pours {
    fn hint() -> String {
        Pour::hint_all()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        let mut all = Vec::with_capacity(self.0.len());
        for Whole { pour, metrics, agitation, drain } in &self.0 {
            let parts = [
                metrics.as_ref().map(|part| part.show(py)),
                agitation.as_ref().map(|part| part.show(py)),
                drain.as_ref().map(|part| part.show(py)),
            ];
            let partners = parts.into_iter().flatten().collect::<PyResult<_>>()?;
            all.push(PyPour::again(pour.clone(), partners));
        }
        all.into_py_any(py)
    }
}
