//! `measures`, `Measures` and `PourMeasures`.

use super::estimate::maybe;
use super::json::from_dict;
use super::segments::PySegments;
use super::trace::PyTrace;
use crate::metrics::options::MeasuresOptions;
use crate::metrics::result::{Measures, PourMeasures};
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// What the pours of a brew tell of the hand. What cannot be had is an `Undefined` that tells why.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(brew.measures.pours), float(brew.measures.longest_rest_s) > 10
/// (4, True)
#[pyclass(frozen, module = "pourline", name = "Measures")]
pub(super) struct PyMeasures {
    inner: Measures,
}

impl From<Measures> for PyMeasures {
    fn from(inner: Measures) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyMeasures {
    fn __repr__(&self) -> String {
        format!("<Measures of {} pours>", self.inner.pours.len())
    }

    /// A row a pour, in their order.
    #[getter]
    fn pours(&self) -> Vec<PyPourMeasures> {
        self.inner.pours.iter().map(|pour| PyPourMeasures { inner: pour.clone() }).collect()
    }

    /// Mean over the time of all pours of their flow, g/s.
    #[getter]
    fn pouring_flow_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pouring_flow_g_per_s)
    }

    /// Longest rest, s.
    #[getter]
    fn longest_rest_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.longest_rest_s)
    }
}

/// What one pour tells of the hand.
///
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).measures.pours[0]
/// >>> float(pour.plateau_flow_g_per_s) < float(pour.peak_flow_g_per_s)
/// True
/// >>> pour.rest_before_s.reason
/// 'no pour comes before the first'
#[pyclass(frozen, module = "pourline", name = "PourMeasures")]
pub(super) struct PyPourMeasures {
    inner: PourMeasures,
}

#[pymethods]
impl PyPourMeasures {
    /// Rest before the pour, s.
    #[getter]
    fn rest_before_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.rest_before_s)
    }

    /// Share of the brew's water that the pour brings, percent.
    #[getter]
    fn water_share_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.water_share_pct)
    }

    /// Mean over time of the flow on the plateau, g/s.
    #[getter]
    fn plateau_flow_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.plateau_flow_g_per_s)
    }

    /// Highest flow, g/s.
    #[getter]
    fn peak_flow_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.peak_flow_g_per_s)
    }

    /// Instant of the highest flow, s.
    #[getter]
    fn peak_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.peak_s)
    }

    /// Time from 10 to 90 % of the pour's median flow, s.
    #[getter]
    fn rise_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.rise_s)
    }

    /// Time from 90 to 10 % of it, s.
    #[getter]
    fn fall_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.fall_s)
    }

    /// Share of the pour's time at which the flow is near the plateau flow (within `near` of the options, 10 %), percent.
    #[getter]
    fn time_near_plateau_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.time_near_plateau_pct)
    }

    /// Sd over mean of the flow on the plateau, over time, the scale's noise taken out: the posterior mean. 0 is even.
    #[getter]
    fn flow_cv(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.flow_cv)
    }

    /// Whether `flow_cv` is distinguishable from 0; if not, `flow_cv_upper` is what is known.
    #[getter]
    fn flow_cv_resolved(&self) -> bool {
        self.inner.flow_cv_resolved
    }

    /// Upper bound of `flow_cv`, with a probability of 97.5 %.
    #[getter]
    fn flow_cv_upper(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.flow_cv_upper)
    }

    /// Slope of the flow on the plateau, g/s2.
    #[getter]
    fn drift_g_per_s2(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drift_g_per_s2)
    }

    /// Frequency of the strongest beat, Hz.
    #[getter]
    fn pulsing_hz(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pulsing_hz)
    }

    /// Its amplitude, g/s.
    #[getter]
    fn pulsing_amplitude_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pulsing_amplitude_g_per_s)
    }

    /// Its amplitude in percent of the pour's mean flow.
    #[getter]
    fn pulsing_amplitude_pct(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pulsing_amplitude_pct)
    }

    /// Probability that noise alone would feign a beat as strong somewhere in the band, 0 to 1.
    #[getter]
    fn pulsing_false_alarm(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pulsing_false_alarm)
    }

    /// Spectral arc length of the pour's flow: near -1.4 for one even swell, lower the more it goes up and down.
    #[getter]
    fn smoothness(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.smoothness)
    }

    /// Number of pauses inside the pour: expected, where the log leaves it open.
    #[getter]
    fn pauses(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pauses)
    }

    /// Time without water inside the pour, s.
    #[getter]
    fn paused_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.paused_s)
    }
}

/// What each pour tells of the hand, each number with its sd or the reason why it has none.
///
/// Keywords are the options of the stage, see `Options`.
/// `trace` is what `condition` returns, `segments` what `segment` makes of it; returns `Measures`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> len(pourline.measures(trace, pourline.segment(trace), draws=100).pours)
/// 4
#[pyfunction]
#[pyo3(signature = (trace, segments, **options))]
pub(super) fn measures(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    segments: &Bound<'_, PySegments>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyMeasures> {
    let options = match options {
        Some(given) => from_dict("measures", MeasuresOptions::default(), given)?,
        None => MeasuresOptions::default(),
    };
    let (trace, segments) = (&trace.get().inner, &segments.get().inner);
    Ok(py.detach(|| crate::metrics::stage::measures(trace, segments, &options))?.into())
}
