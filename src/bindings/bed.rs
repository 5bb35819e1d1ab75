//! `bed`, `Bed`, and what it consists of: `BedCurve`, `DrainLaw`, `PourDrain`.

use super::arrays::Kept;
use super::estimate::{PyUndefined, maybe};
use super::flow::PyFlow;
use super::json::from_dict;
use super::segments::PySegments;
use super::trace::PyTrace;
use crate::bed::options::BedOptions;
use crate::bed::result::{Bed, BedCurve, DrainLaw, PourDrain};
use crate::estimate::{Estimate, Maybe};
use crate::extraction::options::ExtractionOptions;
use numpy::PyArray1;
use pyo3::prelude::*;
use pyo3::types::PyDict;

/// What the bed did in one brew. What cannot be had is an `Undefined` that tells why.
///
/// >>> import pourline
/// >>> bed = pourline.analyze(pourline.simulate(seed=7)[0]).bed
/// >>> len(bed.pours), bed.cautions
/// (5, [])
/// >>> float(bed.first_drip_s) < float(bed.drawdown_end_s)
/// True
#[pyclass(frozen, module = "pourline", name = "Bed")]
pub(super) struct PyBed {
    inner: Bed,
}

impl From<Bed> for PyBed {
    fn from(inner: Bed) -> Self {
        Self { inner }
    }
}

#[pymethods]
impl PyBed {
    /// Water held, beverage and its flow over time: a `BedCurve`.
    #[getter]
    fn curve(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        match &self.inner.curve {
            Ok(curve) => Ok(Py::new(py, PyBedCurve::from(curve.clone()))?.into_any()),
            Err(why) => Ok(Py::new(py, PyUndefined::from(why.clone()))?.into_any()),
        }
    }

    /// Water poured in all, g.
    #[getter]
    fn water_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.water_g)
    }

    /// Beverage collected by the end, g.
    #[getter]
    fn beverage_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.beverage_g)
    }

    /// First instant of the first flow of beverage that lasts, s.
    #[getter]
    fn first_drip_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.first_drip_s)
    }

    /// Instant from which the beverage's flow stays under 0.1 g/s after the last pour, s.
    #[getter]
    fn drawdown_end_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drawdown_end_s)
    }

    /// From the end of the last pour until then, s.
    #[getter]
    fn drawdown_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drawdown_s)
    }

    /// (Water - beverage) over dose, g/g: that of `Extraction`.
    #[getter]
    fn retention_g_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.retention_g_per_g)
    }

    /// Water poured that stayed in the bed, to a gram of dose, g/g: that of `Extraction`.
    #[getter]
    fn retained_water_g_per_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.retained_water_g_per_g)
    }

    /// How the bed drains after the last pour: a `DrainLaw`.
    #[getter]
    fn law(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        match &self.inner.law {
            Ok(law) => Ok(Py::new(py, PyDrainLaw { inner: law.clone() })?.into_any()),
            Err(why) => Ok(Py::new(py, PyUndefined::from(why.clone()))?.into_any()),
        }
    }

    /// What the readings lost while nothing was taken away, g.
    #[getter]
    fn loss_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.loss_g)
    }

    /// The most of it that evaporation can have taken, g.
    #[getter]
    fn most_vapour_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.most_vapour_g)
    }

    /// A row a pour.
    #[getter]
    fn pours(&self) -> Vec<PyPourDrain> {
        self.inner.pours.iter().map(|row| PyPourDrain { inner: row.clone() }).collect()
    }

    /// What to know before these numbers are trusted, in sentences.
    #[getter]
    fn cautions(&self) -> Vec<String> {
        self.inner.cautions.clone()
    }

    fn __repr__(&self) -> String {
        let told = |number: &Maybe| number.as_ref().map_or_else(ToString::to_string, ToString::to_string);
        let Bed { drawdown_end_s, retention_g_per_g, .. } = &self.inner;
        format!("<Bed: drained at {} s, keeps {} g/g>", told(drawdown_end_s), told(retention_g_per_g))
    }
}

/// What the bed held over time; each array has the trace's length, NaN where nothing is claimed.
///
/// >>> import pourline
/// >>> curve = pourline.analyze(pourline.simulate(seed=7)[0]).bed.curve
/// >>> curve.held_g.shape == curve.time_s.shape
/// True
#[pyclass(frozen, module = "pourline", name = "BedCurve")]
pub(super) struct PyBedCurve {
    inner: BedCurve,
    kept: [Kept; 7],
}

impl From<BedCurve> for PyBedCurve {
    fn from(inner: BedCurve) -> Self {
        Self { inner, kept: Default::default() }
    }
}

#[pymethods]
impl PyBedCurve {
    /// Stamps in s.
    #[getter]
    fn time_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[0].array(py, &self.inner.time_s)
    }

    /// Water poured less beverage collected, g: in the bed, or on its way to the server.
    #[getter]
    fn held_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[1].array(py, &self.inner.held_g)
    }

    /// Its standard deviation, g.
    #[getter]
    fn held_sd_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[2].array(py, &self.inner.held_sd_g)
    }

    /// Beverage collected so far, g.
    #[getter]
    fn beverage_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[3].array(py, &self.inner.beverage_g)
    }

    /// Its standard deviation, g.
    #[getter]
    fn beverage_sd_g<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[4].array(py, &self.inner.beverage_sd_g)
    }

    /// Flow of beverage into the server, g/s.
    #[getter]
    fn beverage_flow_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[5].array(py, &self.inner.beverage_flow_g_per_s)
    }

    /// Its standard deviation, g/s.
    #[getter]
    fn beverage_flow_sd_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyArray1<f64>>> {
        self.kept[6].array(py, &self.inner.beverage_flow_sd_g_per_s)
    }

    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let most = self.inner.held_g.iter().copied().fold(0.0, f64::max);
        format!("<BedCurve: {} samples, at most {most:.1} g held>", self.inner.time_s.len())
    }
}

/// The law by which the bed drains, `Q = Q0 (V/V0)^p`, from the drawdown after the last pour.
///
/// >>> import pourline
/// >>> law = pourline.analyze(pourline.simulate(seed=7)[0]).bed.law
/// >>> 0.3 < law.exponent.value < 0.75, law.exponential_rejected_sd > 3
/// (True, True)
#[pyclass(frozen, module = "pourline", name = "DrainLaw")]
pub(super) struct PyDrainLaw {
    inner: DrainLaw,
}

#[pymethods]
impl PyDrainLaw {
    /// The exponent `p`: 1/3 for a cone in proportion to its head, 1/2 for a hole under a straight wall, 1 for an exponential.
    #[getter]
    fn exponent(&self) -> Estimate {
        self.inner.exponent
    }

    /// The exponent of the head, where `vessel_exponent` is given.
    #[getter]
    fn head_exponent(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.head_exponent)
    }

    /// First instant of the readings that it was fitted to, s.
    #[getter]
    fn start_s(&self) -> f64 {
        self.inner.start_s
    }

    /// The last of them, s.
    #[getter]
    fn end_s(&self) -> f64 {
        self.inner.end_s
    }

    /// What stood in the bed at the first instant, g, beyond what it keeps.
    #[getter]
    fn standing_g(&self) -> Estimate {
        self.inner.standing_g
    }

    /// Flow at the first instant, g/s.
    #[getter]
    fn flow_g_per_s(&self) -> Estimate {
        self.inner.flow_g_per_s
    }

    /// Time from the first instant until the bed is empty, s.
    #[getter]
    fn empty_after_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.empty_after_s)
    }

    /// Beverage once all has drained, g.
    #[getter]
    fn beverage_g(&self) -> Estimate {
        self.inner.beverage_g
    }

    /// Root mean square of what the law leaves of the readings, g.
    #[getter]
    fn residual_g(&self) -> f64 {
        self.inner.residual_g
    }

    /// The same over the noise of a reading: 1 is a perfect fit.
    #[getter]
    fn residual_over_noise(&self) -> f64 {
        self.inner.residual_over_noise
    }

    /// What the best exponential leaves, g.
    #[getter]
    fn exponential_residual_g(&self) -> f64 {
        self.inner.exponential_residual_g
    }

    /// How surely an exponential is worse, in sd; above 3 it is rejected.
    #[getter]
    fn exponential_rejected_sd(&self) -> f64 {
        self.inner.exponential_rejected_sd
    }

    fn __repr__(&self) -> String {
        let DrainLaw { exponent, residual_over_noise, .. } = &self.inner;
        format!("<DrainLaw: exponent {exponent}, leaves {residual_over_noise:.2} of the noise>")
    }
}

/// What the bed did before and after one pour.
///
/// >>> import pourline
/// >>> rows = pourline.analyze(pourline.simulate(seed=7)[0]).bed.pours
/// >>> rows[0].drained_share.reason
/// 'nothing was poured before'
#[pyclass(frozen, module = "pourline", name = "PourDrain")]
pub(super) struct PyPourDrain {
    inner: PourDrain,
}

#[pymethods]
impl PyPourDrain {
    /// Water held when the pour starts, g.
    #[getter]
    fn held_at_start_g(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.held_at_start_g)
    }

    /// Share of the water poured before that had been collected when the pour starts, 0 to 1.
    #[getter]
    fn drained_share(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drained_share)
    }

    /// Instant from which the beverage's flow stays under 0.1 g/s after the pour, s.
    #[getter]
    fn drawdown_end_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drawdown_end_s)
    }

    /// From the end of the pour until then, s.
    #[getter]
    fn drawdown_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.drawdown_s)
    }

    /// Flow with 50 g (`standing_g` of the options) standing in the bed, g/s.
    #[getter]
    fn conductance_g_per_s(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.conductance_g_per_s)
    }

    /// Conductance over that after the pour before, both at one viscosity.
    #[getter]
    fn conductance_ratio(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.conductance_ratio)
    }

    /// Permeability of the bed, m2, where its size is given.
    #[getter]
    fn permeability_m2(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        maybe(py, &self.inner.permeability_m2)
    }

    fn __repr__(&self) -> String {
        let told = |number: &Maybe| number.as_ref().map_or_else(ToString::to_string, ToString::to_string);
        let PourDrain { drawdown_end_s, conductance_g_per_s, .. } = &self.inner;
        format!("<PourDrain: drained at {} s, {} g/s>", told(drawdown_end_s), told(conductance_g_per_s))
    }
}

/// What the bed held, kept and let through. What cannot be had says why.
///
/// `flow` is None if the water was not weighed. `extraction` is a dict of the options of the mass balance: with those of a brew
/// retention and retained water are the brew's. Further keywords are the options of the stage, see `Options`.
/// `trace` is what `condition` returns, `segments` what `segment` makes of it; returns a `Bed`.
///
/// >>> import pourline
/// >>> trace = pourline.condition(pourline.simulate(seed=7)[0])
/// >>> segments = pourline.segment(trace)
/// >>> bed = pourline.bed(trace, segments, pourline.flow(trace, segments), drip_g_per_s=0.2)
/// >>> float(bed.drawdown_end_s) < float(pourline.bed(trace, segments).drawdown_end_s)
/// True
#[pyfunction]
#[pyo3(signature = (trace, segments, flow = None, *, extraction = None, **options))]
pub(super) fn bed(
    py: Python<'_>,
    trace: &Bound<'_, PyTrace>,
    segments: &Bound<'_, PySegments>,
    flow: Option<&Bound<'_, PyFlow>>,
    extraction: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyBed> {
    let options = match options {
        Some(given) => from_dict("bed", BedOptions::default(), given)?,
        None => BedOptions::default(),
    };
    options.check()?;
    let balance = match extraction {
        Some(given) => from_dict("extraction", ExtractionOptions::default(), given)?,
        None => ExtractionOptions::default(),
    };
    balance.check()?;
    let (trace, segments) = (&trace.get().inner, &segments.get().inner);
    let flow = flow.map(|flow| &flow.get().inner);
    Ok(py.detach(|| crate::bed::stage::bed(trace, segments, flow, &options, &balance)).into())
}
