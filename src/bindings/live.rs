//! `Live` and `LiveState`: a brew while it is poured, and what is known of it at a sample.

use super::arrays::numbers;
use super::brew::PyBrew;
use super::estimate::PyEstimate;
use super::log::PyLog;
use super::meta::meta_from;
use super::options::{PyOptions, options_from};
use crate::live::now::{LiveFlag, LivePhase, LiveState};
use crate::live::stage::Live;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// A brew while it is poured: give it each sample as it comes, and it tells flow, water and state at once.
///
/// `options` are those of `analyze`; of them the given lag and noise, the fastest flow, the gap and what makes a pour count at once, all of
/// them in `finish`. Samples are kept for that, 24 bytes each; with `keep_log=False` none are, memory never grows, and there is no `finish`.
/// Further keywords are metadata, see `Meta`.
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
        options: Option<&Bound<'_, PyOptions>>,
        keep_log: bool,
        meta: Option<&Bound<'_, PyDict>>,
    ) -> PyResult<Self> {
        let (meta, options) = (meta_from(meta)?, options_from(options));
        Ok(Self {
            inner: if keep_log { Live::new(meta, options)? } else { Live::without_log(meta, options)? },
        })
    }

    /// Takes in a sample: stamp in s, readings in g, None or NaN for a missing one.
    ///
    /// `time_s` is the stamp, `water_g` the reading of the scale under the brewer, `beverage_g` that of the scale under the server, where there
    /// is one. A stamp that no log may hold is an error, and the sample is not taken.
    ///
    /// >>> import pourline
    /// >>> live = pourline.Live()
    /// >>> live.push(0.0, 0.1)
    /// <LiveState 0 s: rest, flow 0.0 ± 2.5 g/s, 0.0 g poured>
    #[pyo3(signature = (time_s, water_g, beverage_g = None))]
    fn push(&mut self, time_s: f64, water_g: Option<f64>, beverage_g: Option<f64>) -> PyResult<PyLiveState> {
        Ok(PyLiveState { inner: self.inner.push(time_s, water_g.unwrap_or(f64::NAN), beverage_g)? })
    }

    /// Takes in columns of samples, in order; returns what is known at the last, None where they are empty.
    ///
    /// `time_s`, `water_g` and `beverage_g` are columns as `Log` takes them, of one length.
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
        let now = py.detach(|| self.inner.extend(&time_s, &water_g, beverage_g.as_deref()))?;
        Ok(now.map(|inner| PyLiveState { inner }))
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

    /// The brew so far, analysed whole: just what `analyze` makes of the log. More samples may follow.
    ///
    /// >>> import pourline
    /// >>> log = pourline.datasets.load("fernspout-ada-01")
    /// >>> live = pourline.Live(**log.meta.to_dict())
    /// >>> now = live.extend(log.time_s, log.water_g, log.beverage_g)
    /// >>> live.finish().to_json() == pourline.analyze(log).to_json()
    /// True
    fn finish(&self, py: Python<'_>) -> PyResult<PyBrew> {
        Ok(py.detach(|| self.inner.finish())?.into())
    }

    fn __len__(&self) -> usize {
        self.inner.len()
    }

    fn __repr__(&self) -> String {
        format!("<Live: {} samples>", self.inner.len())
    }
}

/// What is known at a sample of a brew that is being poured. All of it is provisional.
///
/// >>> import pourline
/// >>> now = pourline.Live().push(0.0, 12.3)
/// >>> now.state, now.flag, now.pour, now.provisional
/// ('rest', 'used', None, True)
#[pyclass(frozen, module = "pourline", name = "LiveState")]
pub(super) struct PyLiveState {
    inner: LiveState,
}

impl PyLiveState {
    fn pouring(&self) -> Option<(usize, f64, f64)> {
        match self.inner.state {
            LivePhase::Pouring { pour, start_s, mass_g } => Some((pour, start_s, mass_g)),
            LivePhase::Rest => None,
        }
    }
}

#[pymethods]
impl PyLiveState {
    /// Stamp of the sample, s.
    #[getter]
    fn time_s(&self) -> f64 {
        self.inner.time_s
    }

    /// What became of the sample: `used`, `after_gap`, `missing`, `late` (its stamp), or `off` (a knock, a lift, the zero key).
    #[getter]
    fn flag(&self) -> &'static str {
        match self.inner.flag {
            LiveFlag::Used => "used",
            LiveFlag::AfterGap => "after_gap",
            LiveFlag::Missing => "missing",
            LiveFlag::Late => "late",
            LiveFlag::Off => "off",
        }
    }

    /// Water on the scale now, g, from 0 at the first sample: noise, lag and jumps of level taken out.
    #[getter]
    fn water_g(&self) -> PyEstimate {
        PyEstimate { inner: self.inner.water_g }
    }

    /// Flow of water at the bed now, g/s.
    #[getter]
    fn flow_g_per_s(&self) -> PyEstimate {
        PyEstimate { inner: self.inner.flow_g_per_s }
    }

    /// `pouring` or `rest`.
    #[getter]
    fn state(&self) -> &'static str {
        if self.pouring().is_some() { "pouring" } else { "rest" }
    }

    /// Which pour runs, from 1; None at rest.
    #[getter]
    fn pour(&self) -> Option<usize> {
        self.pouring().map(|pouring| pouring.0)
    }

    /// When the pour that runs began, s; None at rest.
    #[getter]
    fn start_s(&self) -> Option<f64> {
        self.pouring().map(|pouring| pouring.1)
    }

    /// What the pour that runs has brought so far, g; None at rest.
    #[getter]
    fn mass_g(&self) -> Option<f64> {
        self.pouring().map(|pouring| pouring.2)
    }

    /// Mass of all pours so far, the one that runs included, g.
    #[getter]
    fn poured_g(&self) -> f64 {
        self.inner.poured_g
    }

    /// Start of a pour, s, at the sample at which it is called; else None.
    #[getter]
    fn began(&self) -> Option<f64> {
        self.inner.began
    }

    /// End of a pour, s, at the sample at which it is called; else None.
    #[getter]
    fn ended(&self) -> Option<f64> {
        self.inner.ended
    }

    /// Start of a pour, s, that had been called and was none, at the sample at which this is seen; else None.
    #[getter]
    fn withdrawn(&self) -> Option<f64> {
        self.inner.withdrawn
    }

    /// Whether later samples may still change what is said here.
    #[getter]
    fn provisional(&self) -> bool {
        self.inner.provisional
    }

    fn __repr__(&self) -> String {
        let LiveState { time_s, flow_g_per_s, poured_g, .. } = self.inner;
        format!("<LiveState {time_s} s: {}, flow {flow_g_per_s} g/s, {poured_g:.1} g poured>", self.state())
    }
}
