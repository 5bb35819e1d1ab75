//! `Flow`: flow at the bed on the log's own stamps.

use super::show::class;
use crate::segment::flow::Flow;
use pyo3::prelude::*;

Flow! { class
/// >>> import pourline
/// >>> flow = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).flow
/// >>> f"{flow.flow_g_per_s.max():.0f} g/s"
/// '10 g/s'
PyFlow("pourline", "Flow") {
    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let highest = self.inner.flow_g_per_s.iter().copied().fold(0.0, f64::max);
        format!("<Flow: {} samples, at most {highest:.1} g/s>", self.inner.time_s.len())
    }
}}
