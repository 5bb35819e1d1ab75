//! `PlannedPour`: one pour of a plan.

use super::show::class;
use crate::plan::pour::PlannedPour;
use pyo3::prelude::*;

PlannedPour! { class
/// `start_s` counts from the start of the plan's first pour, `mass_g` is that of this pour alone, `flow_g_per_s` the
/// flow on the plateau (None for any), `time_near_plateau_pct` the least steadiness and `pauses` the most pauses (None
/// for any). `start_within_s`, `mass_within_g`, `flow_within_g_per_s` and `time_near_plateau_within_pct` are the
/// tolerances.
///
/// >>> import pourline
/// >>> pour = pourline.PlannedPour(45, 60, flow_g_per_s=5, start_within_s=2, time_near_plateau_pct=85)
/// >>> pour
/// <PlannedPour: start 45 ± 2 s, 60 ± 3 g at 5 ± 0.5 g/s, 85 % near its flow>
PyPlannedPour("pourline", "PlannedPour") {
    #[new]
    #[pyo3(signature = (
        start_s, mass_g, flow_g_per_s = None, *, start_within_s = 3.0, mass_within_g = 3.0, flow_within_g_per_s = 0.5,
        time_near_plateau_pct = None, time_near_plateau_within_pct = 10.0, pauses = None
    ))]
    #[allow(clippy::too_many_arguments)]
    fn new(
        start_s: f64,
        mass_g: f64,
        flow_g_per_s: Option<f64>,
        start_within_s: f64,
        mass_within_g: f64,
        flow_within_g_per_s: f64,
        time_near_plateau_pct: Option<f64>,
        time_near_plateau_within_pct: f64,
        pauses: Option<f64>,
    ) -> Self {
        let inner = PlannedPour {
            start_s,
            start_within_s,
            mass_g,
            mass_within_g,
            flow_g_per_s,
            flow_within_g_per_s,
            time_near_plateau_pct,
            time_near_plateau_within_pct,
            pauses,
        };
        inner.into()
    }

    fn __repr__(&self) -> String {
        let PlannedPour { start_s, start_within_s, mass_g, mass_within_g, flow_g_per_s, .. } = self.inner;
        let within = self.inner.flow_within_g_per_s;
        let flow = flow_g_per_s.map_or(String::new(), |flow| format!(" at {flow} ± {within} g/s"));
        let steady = self.inner.time_near_plateau_pct;
        let steady = steady.map_or(String::new(), |share| format!(", {share} % near its flow"));
        let pauses = self.inner.pauses.map_or(String::new(), |most| format!(", at most {most} pauses"));
        format!(
            "<PlannedPour: start {start_s} ± {start_within_s} s, {mass_g} ± {mass_within_g} g{flow}{steady}{pauses}>"
        )
    }
}}
