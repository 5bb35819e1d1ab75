//! `agitation`, `Agitation`, and what it consists of: `PourAgitation`, `Stream`.

use super::error::argument;
use super::estimate::{PyUndefined, maybe, maybe_from};
use super::flow::PyFlow;
use super::json::from_dict;
use super::segments::PySegments;
use super::trace::PyTrace;
use crate::agitation::options::AgitationOptions;
use crate::agitation::result::{Agitation, PourAgitation};
use crate::agitation::stream::Stream;
use crate::estimate::{Estimate, Maybe};
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A row a pour of ordinal proxies: they put pours in an order, and none of them says how far the grounds move.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> options = pourline.Options(agitation={"spout_bore_m": 0.006, "fall_height_m": 0.2})
/// >>> len(pourline.analyze(log, options).agitation.pours)
/// 4
#[pyclass(frozen, module = "pourline", name = "Agitation")]
pub(super) struct PyAgitation {
    inner: Agitation,
}

impl From<Agitation> for PyAgitation {
    fn from(inner: Agitation) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyAgitation {
    /// A row a pour, in their order.
    #[getter]
    fn pours(&self) -> Vec<PyPourAgitation> {
        self.inner.pours.iter().map(|pour| PyPourAgitation { inner: pour.clone() }).collect()
    }

    fn __repr__(&self) -> String {
        format!("<Agitation of {} pours: ordinal proxies>", self.inner.pours.len())
    }
}

/// Ordinal proxies for the agitation by one pour. Those that stand first need nothing but its flow.
///
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).agitation.pours[0]
/// >>> pour.flow_impulse_g2_per_s.value > 0, pour.energy_j.reason[:26]
/// (True, 'spout_bore_m was not given')
#[pyclass(frozen, module = "pourline", name = "PourAgitation")]
pub(super) struct PyPourAgitation {
    inner: PourAgitation,
}

#[pymethods]
impl PyPourAgitation {
    /// Integral of the squared flow, g2/s: comparable only through one spout.
    #[getter]
    fn flow_impulse_g2_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.flow_impulse_g2_per_s)
    }

    /// Mean flow, each gram counting once, g/s: the flow for which `stream` is told.
    #[getter]
    fn gram_flow_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.gram_flow_g_per_s)
    }

    /// Largest flow over mean flow.
    #[getter]
    fn peak_over_mean(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.peak_over_mean)
    }

    /// Time at a flow above `above_g_per_s` of the options, s.
    #[getter]
    fn time_above_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.time_above_s)
    }

    /// The stream where it meets the bed: a `Stream`.
    #[getter]
    fn stream(&self) -> PyStream {
        PyStream { inner: self.inner.stream.clone() }
    }

    /// Where the stream's speed comes from: `stated`, `scale` (its force on the scale), or None where it is undefined.
    #[getter]
    fn speed_source(&self) -> Option<&'static str> {
        self.inner.speed_source.map(crate::agitation::result::SpeedSource::name)
    }

    /// Energy that the water brings, J.
    #[getter]
    fn energy_j(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.energy_j)
    }

    /// Energy to a gram of dose, J/g.
    #[getter]
    fn energy_j_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.energy_j_per_g)
    }

    /// Time for which the stream arrived likely unbroken, s.
    #[getter]
    fn mixing_time_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.mixing_time_s)
    }

    /// Swirls of the vessel on the scale until the next pour; a stir looks the same.
    #[getter]
    fn swirls(&self) -> usize {
        self.inner.swirls
    }

    /// How often the vessel was lifted off and put back until then.
    #[getter]
    fn lifts(&self) -> usize {
        self.inner.lifts
    }

    /// Knocks until then.
    #[getter]
    fn knocks(&self) -> usize {
        self.inner.knocks
    }

    /// Dashes of water too small for a pour until then.
    #[getter]
    fn sprays(&self) -> usize {
        self.inner.sprays
    }

    fn __repr__(&self) -> String {
        let PourAgitation { energy_j, flow_impulse_g2_per_s, .. } = &self.inner;
        let (energy, impulse) = (told(energy_j), told(flow_impulse_g2_per_s));
        format!("<PourAgitation, ordinal proxies: energy {energy} J, flow impulse {impulse} g2/s>")
    }
}

/// A stream from the spout to the bed: what it brings are ordinal proxies for what it does to the bed.
///
/// `Stream(flow_g_per_s, spout_bore_m, fall_height_m, water_c)` is the stream of that flow; the first three are numbers or `Estimate`s.
///
/// >>> import pourline
/// >>> stream = pourline.Stream(4.816, 0.006, pourline.Estimate(0.20, 0.02), water_c=93)
/// >>> f"{stream.speed_m_per_s:.2f} m/s", stream.arrival
/// ('1.99 ± 0.10 m/s', 'may_be_broken')
#[pyclass(frozen, module = "pourline", name = "Stream")]
pub(super) struct PyStream {
    inner: Stream,
}

#[pymethods]
impl PyStream {
    #[new]
    fn new(
        flow_g_per_s: &Bound<'_, PyAny>,
        spout_bore_m: &Bound<'_, PyAny>,
        fall_height_m: &Bound<'_, PyAny>,
        water_c: f64,
    ) -> PyResult<Self> {
        let [flow, bore, height] = [
            ("flow_g_per_s", flow_g_per_s),
            ("spout_bore_m", spout_bore_m),
            ("fall_height_m", fall_height_m),
        ]
        .map(|(name, number)| known(name, number));
        Ok(Self { inner: Stream::falling(flow?, bore?, height?, water_c)? })
    }

    /// Height of the fall, m: as stated, or from the force on the scale.
    #[getter]
    fn fall_height_m(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.fall_height_m)
    }

    /// Time of the fall, s.
    #[getter]
    fn fall_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.fall_s)
    }

    /// Speed at the spout, m/s.
    #[getter]
    fn spout_speed_m_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.spout_speed_m_per_s)
    }

    /// Speed at the bed, m/s.
    #[getter]
    fn speed_m_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.speed_m_per_s)
    }

    /// Width at the bed, mm, as long as the stream is whole.
    #[getter]
    fn width_mm(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.width_mm)
    }

    /// Reynolds number at the bed.
    #[getter]
    fn reynolds(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.reynolds)
    }

    /// Weber number at the bed.
    #[getter]
    fn weber(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.weber)
    }

    /// Length at which such a stream breaks up, m; good to a factor of 1.5 at best.
    #[getter]
    fn break_up_m(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.break_up_m)
    }

    /// What that length says of this fall: `likely_unbroken`, `may_be_broken` or `likely_broken`; a band, never a verdict.
    #[getter]
    fn arrival(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        match &self.inner.arrival {
            Ok(arrival) => arrival.name().into_py_any(py),
            Err(why) => PyUndefined::from(why.clone()).into_py_any(py),
        }
    }

    /// Width of the drops that it breaks into, mm, if it does.
    #[getter]
    fn drop_mm(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drop_mm)
    }

    /// Force on the bed, N: an ordinal proxy for agitation.
    #[getter]
    fn force_n(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.force_n)
    }

    /// Power that it brings, W: an ordinal proxy for agitation.
    #[getter]
    fn power_w(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.power_w)
    }

    /// Water between spout and bed, g.
    #[getter]
    fn in_flight_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.in_flight_g)
    }

    /// By how much its force makes a scale read more than has landed, g.
    #[getter]
    fn pressed_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.pressed_g)
    }

    fn __repr__(&self) -> String {
        let Stream { speed_m_per_s, width_mm, .. } = &self.inner;
        format!("<Stream, ordinal proxies: {} m/s, {} mm>", told(speed_m_per_s), told(width_mm))
    }
}

fn told(number: &Maybe) -> String {
    number.as_ref().map_or_else(ToString::to_string, ToString::to_string)
}

/// A number that must be known.
fn known(name: &str, number: &Bound<'_, PyAny>) -> PyResult<Estimate> {
    maybe_from(name, number)?.map_err(|why| argument(name, why.to_string()))
}

/// Ordinal proxies for the agitation by each pour, each with its sd or the reason why it has none.
///
/// Keywords are the options of the stage, see `Options`.
/// `trace` is what `condition` returns, `segments` what `segment` makes of it and `flow` what `flow` makes of both; returns an `Agitation`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.datasets.load("fernspout-ada-01"))
/// >>> segments = pourline.segment(trace)
/// >>> flow = pourline.flow(trace, segments)
/// >>> found = pourline.agitation(trace, segments, flow, spout_bore_m=0.006, fall_height_m=0.2)
/// >>> found.pours[0].speed_source
/// 'stated'
#[pyfunction]
#[pyo3(signature = (trace, segments, flow, **options))]
pub(super) fn agitation(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    segments: &Bound<'_, PySegments>,
    flow: &Bound<'_, PyFlow>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyAgitation> {
    let options = match options {
        Some(given) => from_dict("agitation", AgitationOptions::default(), given)?,
        None => AgitationOptions::default(),
    };
    let (trace, segments, flow) = (&trace.get().inner, &segments.get().inner, &flow.get().inner);
    Ok(py.detach(|| crate::agitation::stage::agitation(trace, segments, flow, &options))?.into())
}
