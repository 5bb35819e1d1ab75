//! `Segments`, `Pour` and `Rest`.

use super::show::class;
use crate::segment::pour::{Pour, Rest, Segments};
use pyo3::prelude::*;

Pour! { class
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).pours[0]
/// >>> print(f"{pour.mass_g.value:.0f} g")
/// 44 g
PyPour("pourline", "Pour") {
    fn __repr__(&self) -> String {
        let Pour { start_s, end_s, mass_g, mean_flow_g_per_s, .. } = &self.inner;
        format!("<Pour: start {start_s} s, end {end_s} s, {mass_g} g at {mean_flow_g_per_s} g/s>")
    }
}}

Rest! { class
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> print(f"{brew.rests[0].duration_s.value:.0f} s")
/// 31 s
PyRest("pourline", "Rest") {
    fn __repr__(&self) -> String {
        format!("<Rest: start {} s, end {} s>", self.inner.start_s, self.inner.end_s)
    }
}}

Segments! { class
/// >>> import pourline
/// >>> segments = pourline.segment(pourline.condition(pourline.datasets.load("fernspout-ada-01")))
/// >>> len(segments.pours), len(segments.rests), segments.lag_source
/// (4, 3, 'estimated')
PySegments("pourline", "Segments") {
    fn __repr__(&self) -> String {
        let Segments { pours, rests, scale_lag_s, lag_source, .. } = &self.inner;
        let (pours, rests, source) = (pours.len(), rests.len(), lag_source.name());
        format!("<Segments: {pours} pours, {rests} rests, lag {scale_lag_s} s ({source})>")
    }
}}
