//! `Segments`, `Pour` and `Rest`.

use super::estimate::maybe;
use super::trace::word;
use crate::estimate::Estimate;
use crate::segment::pour::{Pour, Rest, Segments};
use pyo3::prelude::*;

/// One pour. Times are true times at the bed: the scale's lag is taken out.
///
/// >>> import pourline
/// >>> pour = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).pours[0]
/// >>> print(f"{pour.mass_g.value:.0f} g")
/// 44 g
#[pyclass(frozen, module = "pourline", name = "Pour")]
pub(super) struct PyPour {
    pub(super) inner: Pour,
}

#[pymethods]
impl PyPour {
    /// First instant at which the flow passes 0.5 g/s (`flow_g_per_s` of the options), s.
    #[getter]
    fn start_s(&self) -> Estimate {
        self.inner.start_s
    }

    /// Last such instant, s.
    #[getter]
    fn end_s(&self) -> Estimate {
        self.inner.end_s
    }

    /// First instant at which the flow passes half of the pour's median flow, s.
    #[getter]
    fn half_rise_s(&self) -> Estimate {
        self.inner.half_rise_s
    }

    /// Last such instant, s.
    #[getter]
    fn half_fall_s(&self) -> Estimate {
        self.inner.half_fall_s
    }

    /// Mass that arrived, g.
    #[getter]
    fn mass_g(&self) -> Estimate {
        self.inner.mass_g
    }

    /// Mass over duration, g/s.
    #[getter]
    fn mean_flow_g_per_s(&self) -> Estimate {
        self.inner.mean_flow_g_per_s
    }

    /// Duration from start to end, s.
    #[getter]
    fn duration_s(&self) -> Estimate {
        self.inner.duration_s
    }

    fn __repr__(&self) -> String {
        let Pour { start_s, end_s, mass_g, mean_flow_g_per_s, .. } = &self.inner;
        format!("<Pour: start {start_s} s, end {end_s} s, {mass_g} g at {mean_flow_g_per_s} g/s>")
    }
}

/// One rest: between the end of a pour and the start of the next.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> print(f"{brew.rests[0].duration_s.value:.0f} s")
/// 31 s
#[pyclass(frozen, module = "pourline", name = "Rest")]
pub(super) struct PyRest {
    inner: Rest,
}

#[pymethods]
impl PyRest {
    /// End of the pour before, s.
    #[getter]
    fn start_s(&self) -> Estimate {
        self.inner.start_s
    }

    /// Start of the pour after, s.
    #[getter]
    fn end_s(&self) -> Estimate {
        self.inner.end_s
    }

    /// Duration, s.
    #[getter]
    fn duration_s(&self) -> Estimate {
        self.inner.duration_s
    }

    fn __repr__(&self) -> String {
        format!("<Rest: start {} s, end {} s>", self.inner.start_s, self.inner.end_s)
    }
}

/// The pours and rests of a brew, and the lag of the scale.
///
/// >>> import pourline
/// >>> segments = pourline.segment(pourline.condition(pourline.datasets.load("fernspout-ada-01")))
/// >>> len(segments.pours), len(segments.rests), segments.lag_source
/// (4, 3, 'estimated')
#[pyclass(frozen, module = "pourline", name = "Segments")]
pub(super) struct PySegments {
    pub(super) inner: Segments,
}

pub(super) fn pours(segments: &Segments) -> Vec<PyPour> {
    segments.pours.iter().map(|pour| PyPour { inner: pour.clone() }).collect()
}

pub(super) fn rests(segments: &Segments) -> Vec<PyRest> {
    segments.rests.iter().map(|rest| PyRest { inner: rest.clone() }).collect()
}

#[pymethods]
impl PySegments {
    /// The pours, in order.
    #[getter]
    fn pours(&self) -> Vec<PyPour> {
        pours(&self.inner)
    }

    /// The rests, one fewer than the pours.
    #[getter]
    fn rests(&self) -> Vec<PyRest> {
        rests(&self.inner)
    }

    /// Time constant of the scale's lag, s: as given, or estimated from all edges of the log together.
    #[getter]
    fn scale_lag_s(&self) -> Estimate {
        self.inner.scale_lag_s
    }

    /// Where the lag comes from: `given`, `estimated`, or `expected` where the log has no edge to tell.
    #[getter]
    fn lag_source(&self) -> PyResult<String> {
        word(&self.inner.lag_source)
    }

    /// Lead of the reading by the force of the stream, s: its speed at the bed over g, as given or seen in this log.
    #[getter]
    fn stream_lead_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.stream_lead_s)
    }

    fn __repr__(&self) -> PyResult<String> {
        let Segments { pours, rests, scale_lag_s, .. } = &self.inner;
        let source = self.lag_source()?;
        Ok(format!(
            "<Segments: {} pours, {} rests, lag {scale_lag_s} s ({source})>",
            pours.len(),
            rests.len()
        ))
    }
}
