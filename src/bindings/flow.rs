//! `Flow`: flow at the bed on the log's own stamps, its posterior; `FlowSpectrum`.

use super::pour::PyPour;
use super::run::run;
use super::show::{Show, class};
use super::table::table;
use crate::rows::unit;
use crate::segment::flow::Flow;
use crate::segment::spectrum::FlowSpectrum;
use crate::table::{Table, Values};
use numpy::{IntoPyArray, PyArray2};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use pyo3::types::PyDict;

Flow! { class
/// >>> import pourline
/// >>> flow = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).flow
/// >>> f"{flow.flow_g_per_s.max():.0f} g/s"
/// '10 g/s'
PyFlow("pourline", "Flow") {
    /// Flow curves drawn from the posterior, g/s: a new float64 array of `n` rows, one column per stamp.
    ///
    /// `n` is the number of curves, at least 1, with at most 100 million values in all. `seed` is 0 or more: the same
    /// seed gives the same curves, and a larger `n` further ones. Whatever is computed from each row has its posterior
    /// over the rows.
    ///
    /// Raises `PourlineError` of kind `out_of_range` for another `n`, `argument` for the flow of a brew that an earlier
    /// version stored. A brew that is read back is sampled as well.
    ///
    /// >>> import pourline
    /// >>> flow = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).flow
    /// >>> curves = flow.sample(20, seed=1)
    /// >>> curves.shape == (20, len(flow)), bool((curves >= 0).all())
    /// (True, True)
    #[pyo3(signature = (n = 100, seed = 0))]
    fn sample<'py>(slf: Py<Self>, py: Python<'py>, n: usize, seed: u64) -> PyResult<Bound<'py, PyArray2<f64>>> {
        Ok(run(py, move || slf.get().inner.sample(n, seed))??.into_pyarray(py))
    }

    /// Power spectral density of the flow on the plateau of `pour`, a `Pour` of the same brew.
    ///
    /// Returns a `FlowSpectrum`, or an `Undefined` with the reason: no half-edges, a plateau under 1 s, or no fit.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> found = brew.flow.spectrum(brew.pours[0])
    /// >>> sd_g_per_s = (found.density_g2_per_s.sum() * found.frequency_hz[1]) ** 0.5
    /// >>> bool(sd_g_per_s < 1)
    /// True
    fn spectrum(slf: Py<Self>, py: Python<'_>, pour: Py<PyPour>) -> PyResult<Py<PyAny>> {
        run(py, move || slf.get().inner.spectrum(&pour.get().inner))?.show(py)
    }

    /// One row per stamp: time, flow and water poured so far, each with its sd.
    ///
    /// >>> import pourline
    /// >>> flow = pourline.analyze(pourline.datasets.load("fernspout-ada-01")).flow
    /// >>> flow.table().columns
    /// ['time_s', 'flow_g_per_s', 'flow_sd_g_per_s', 'water_g', 'water_sd_g']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        let Flow { time_s, flow_g_per_s, flow_sd_g_per_s, water_g, water_sd_g, .. } = &self.inner;
        let columns = [
            ("time_s", time_s),
            ("flow_g_per_s", flow_g_per_s),
            ("flow_sd_g_per_s", flow_sd_g_per_s),
            ("water_g", water_g),
            ("water_sd_g", water_sd_g),
        ];
        let mut all = Table::default();
        for (name, values) in columns {
            all.push(name, unit(name), Values::Number(values.clone()));
        }
        table(py, &all)
    }

    /// `flow_g_per_s`, for numpy.
    #[pyo3(signature = (dtype = None, copy = None))]
    fn __array__<'py>(
        slf: &Bound<'py, Self>,
        dtype: Option<&Bound<'py, PyAny>>,
        copy: Option<bool>,
    ) -> PyResult<Bound<'py, PyAny>> {
        let values = slf.getattr("flow_g_per_s")?;
        let as_is = PyDict::new(slf.py());
        as_is.set_item("copy", copy == Some(true))?;
        let dtype = dtype.map_or_else(|| values.getattr("dtype"), |dtype| Ok(dtype.clone()))?;
        let array = values.call_method("astype", (dtype,), Some(&as_is))?;
        if copy == Some(false) && !array.is(&values) {
            return Err(PyValueError::new_err("another dtype needs a copy"));
        }
        Ok(array)
    }

    fn __len__(&self) -> usize {
        self.inner.time_s.len()
    }

    fn __repr__(&self) -> String {
        let highest = self.inner.flow_g_per_s.iter().copied().fold(0.0, f64::max);
        format!("<Flow: {} samples, at most {highest:.1} g/s>", self.inner.time_s.len())
    }
}}

FlowSpectrum! { class
/// Each array has one value per frequency.
///
/// >>> import pourline
/// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
/// >>> found = brew.flow.spectrum(brew.pours[0])
/// >>> found.frequency_hz.shape == found.density_g2_per_s.shape == found.noise_g2_per_s.shape
/// True
PyFlowSpectrum("pourline", "FlowSpectrum") {
    /// One row per frequency: density with its sd, noise floor, transmission of the scale.
    ///
    /// >>> import pourline
    /// >>> brew = pourline.analyze(pourline.datasets.load("fernspout-ada-01"))
    /// >>> brew.flow.spectrum(brew.pours[0]).table().columns[:2]
    /// ['frequency_hz', 'density_g2_per_s']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    fn __repr__(&self) -> String {
        let FlowSpectrum { frequency_hz, from_s, to_s, .. } = &self.inner;
        format!("<FlowSpectrum: {} frequencies, plateau {from_s:.1} to {to_s:.1} s>", frequency_hz.len())
    }
}}
