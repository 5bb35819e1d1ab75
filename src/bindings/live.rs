//! `Live` and `LiveState`: a brew during pouring, and its state at a sample.

use super::arrays::numbers;
use super::brew::PyBrew;
use super::log::PyLog;
use super::meta::meta_from;
use super::options::options_from;
use super::run::run;
use super::show::{Show, class};
use crate::live::now::{LivePhase, LiveState};
use crate::live::stage::Live;
use pyo3::exceptions::PyTypeError;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// Samples that are taken in before signals are checked.
const AT_ONCE: usize = 4096;

/// A brew during pouring: takes each sample in turn and returns flow, water and state.
///
/// `options` are those of `analyze`; lag and noise, the fastest flow, the gap and the thresholds of a pour apply
/// during pouring, all of them in `finish`. Samples are stored for that, 24 bytes each. With `keep_log=False` they are
/// not stored: memory is constant, and `finish` is not available. Further keywords are metadata, see `Meta`.
///
/// >>> import pourline
/// >>> log = pourline.datasets.load("fernspout-ada-01")
/// >>> live = pourline.Live(dose_g=15)
/// >>> began = []
/// >>> for sample in zip(log.time_s, log.water_g, log.beverage_g):
/// ...     now = live.push(*sample)
/// ...     if now.began is not None:
/// ...         began.append(round(now.began))
/// >>> len(began), now.state, round(now.poured_g, -1)
/// (4, 'rest', 240.0)
/// >>> len(live.finish().pours)
/// 4
#[pyclass(module = "pourline", name = "Live")]
pub(super) struct PyLive {
    inner: Live,
}

#[pymethods]
impl PyLive {
    #[new]
    #[pyo3(signature = (*, options = None, keep_log = true, **meta))]
    fn new(
        options: Option<&Bound<'_, PyAny>>,
        keep_log: bool,
        meta: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Self> {
        let (meta, options) = (meta_from(meta)?, options_from(options)?);
        Ok(Self {
            inner: if keep_log { Live::new(meta, options)? } else { Live::without_log(meta, options)? },
        })
    }

    /// Takes in a sample: stamp in s, readings in g, None or NaN for a missing one.
    ///
    /// `time_s` is the stamp, `water_g` the reading of the scale under the brewer, `beverage_g` that of the scale
    /// under the server, if there is one. A stamp that is invalid in a log is an error, and the sample is not taken.
    ///
    /// >>> import pourline
    /// >>> live = pourline.Live()
    /// >>> live.push(0.0, 0.1)
    /// <LiveState 0 s: rest, flow 0.0 ± 2.5 g/s, 0.0 g poured>
    #[pyo3(signature = (time_s, water_g, beverage_g = None))]
    fn push(&mut self, time_s: f64, water_g: Option<f64>, beverage_g: Option<f64>) -> PyResult<PyLiveState> {
        Ok(self.inner.push(time_s, water_g.unwrap_or(f64::NAN), beverage_g)?.into())
    }

    /// Takes in columns of samples, in order; returns the state at the last, None if they are empty.
    ///
    /// `time_s`, `water_g` and `beverage_g` are columns as of `Log`, of one length.
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> now = pourline.Live().extend(log.time_s, log.water_g, log.beverage_g)
    /// >>> now.state, round(now.poured_g, -1)
    /// ('rest', 240.0)
    #[pyo3(signature = (time_s, water_g, beverage_g = None))]
    fn extend(
        &mut self,
        py: Python<'_>,
        time_s: &Bound<'_, PyAny>,
        water_g: &Bound<'_, PyAny>,
        beverage_g: Option<&Bound<'_, PyAny>>,
    ) -> PyResult<Option<PyLiveState>> {
        let (time_s, water_g) = (numbers("time_s", time_s)?, numbers("water_g", water_g)?);
        let beverage_g = beverage_g.map(|column| numbers("beverage_g", column)).transpose()?;
        let mut now = None;
        // All at once if the lengths differ, which is an error.
        let one_length =
            water_g.len() == time_s.len() && beverage_g.as_ref().is_none_or(|b| b.len() == time_s.len());
        let at_once = if one_length { AT_ONCE } else { usize::MAX };
        for from in (0..time_s.len().max(1)).step_by(at_once) {
            let part =
                |all: &[f64]| all[from.min(all.len())..from.saturating_add(at_once).min(all.len())].to_vec();
            let (time_s, water_g, beverage_g) =
                (part(&time_s), part(&water_g), beverage_g.as_deref().map(part));
            let last = py.detach(|| self.inner.extend(&time_s, &water_g, beverage_g.as_deref()))?;
            now = last.or(now);
            py.check_signals()?;
        }
        Ok(now.map(Into::into))
    }

    /// The samples so far as a log.
    ///
    /// >>> import pourline
    /// >>> live = pourline.Live(kettle="Fernspout")
    /// >>> now = live.extend([0.0, 0.1, 0.2], [0.0, 0.0, 0.1])
    /// >>> len(live.log()), live.log().meta.kettle
    /// (3, 'Fernspout')
    fn log(&self) -> PyResult<PyLog> {
        Ok(self.inner.log()?.into())
    }

    /// The brew so far, with all stages: the result of `analyze` for the log. More samples may follow.
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> live = pourline.Live(**log.meta.to_dict())
    /// >>> now = live.extend(log.time_s, log.water_g, log.beverage_g)
    /// >>> live.finish().to_json() == pourline.analyze(log).to_json()
    /// True
    fn finish(&self, py: Python<'_>) -> PyResult<PyBrew> {
        let live = self.inner.clone();
        Ok(run(py, move || live.finish())??.into())
    }

    /// A pickle or a copy would be of a state that goes on changing.
    fn __reduce__(&self) -> PyResult<Py<PyAny>> {
        let message =
            "a Live changes with each sample and is neither pickled nor copied; log() has its samples";
        Err(PyTypeError::new_err(message))
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    fn __repr__(&self) -> String {
        format!("<Live: {} samples>", self.inner.len())
    }
}

/// Number, start and mass of the current pour.
const fn pouring(state: LivePhase) -> Option<(usize, f64, f64)> {
    match state {
        LivePhase::Pouring { pour, start_s, mass_g } => Some((pour, start_s, mass_g)),
        LivePhase::Rest => None,
    }
}

const fn named(state: LivePhase) -> &'static str {
    if pouring(state).is_some() { "pouring" } else { "rest" }
}

impl Show for LivePhase {
    fn hint() -> String {
        r#"Literal["pouring", "rest"]"#.into()
    }

    fn show(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        named(*self).to_owned().show(py)
    }
}

LiveState! { class
/// >>> import pourline
/// >>> now = pourline.Live().push(0.0, 12.3)
/// >>> now.state, now.flag, now.pour, now.provisional
/// ('rest', 'used', None, True)
PyLiveState("pourline", "LiveState") [
    /// Number of the current pour, from 1; None at rest.
    pour: Option<usize> = |of| pouring(of.state).map(|(pour, _, _)| pour);
    /// Start of the current pour, s; None at rest.
    start_s: Option<f64> = |of| pouring(of.state).map(|(_, start_s, _)| start_s);
    /// Mass of the current pour so far, g; None at rest.
    mass_g: Option<f64> = |of| pouring(of.state).map(|(_, _, mass_g)| mass_g);
] {
    fn __repr__(&self) -> String {
        let LiveState { time_s, flow_g_per_s, poured_g, state, .. } = self.inner;
        format!("<LiveState {time_s} s: {}, flow {flow_g_per_s} g/s, {poured_g:.1} g poured>", named(state))
    }
}}
