//! `Truth` and `TruePour`: the true values of a simulated log.

use super::json::{to_json, to_python};
use super::show::class;
use crate::simulate::truth::{TruePour, Truth};
use pyo3::prelude::*;

TruePour! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate("clean", seed=1)
/// >>> truth.pours[0].start_s < truth.pours[0].half_rise_s < truth.pours[0].end_s
/// True
PyTruePour("pourline", "TruePour") {
    /// All numbers, as a dict.
    ///
    /// >>> import pourline
    /// >>> log, truth = pourline.simulate("clean", seed=1)
    /// >>> list(truth.pours[0].to_dict())[:3]
    /// ['end_s', 'flow_cv', 'half_fall_s']
    fn to_dict<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        to_python(py, &to_json("pour", &self.inner)?)
    }

    fn __repr__(&self) -> String {
        let TruePour { start_s, end_s, mass_g, mean_flow_g_per_s, .. } = &self.inner;
        format!("<TruePour: {start_s:.2} to {end_s:.2} s, {mass_g:.1} g at {mean_flow_g_per_s:.1} g/s>")
    }
}}

Truth! { class
/// >>> import pourline
/// >>> log, truth = pourline.simulate("usual", seed=7)
/// >>> len(truth.flow_g_per_s) == len(log)
/// True
PyTruth("pourline", "Truth") {
    fn __repr__(&self) -> String {
        format!("<Truth: {} pours, {} events>", self.inner.pours.len(), self.inner.events.len())
    }
}}
