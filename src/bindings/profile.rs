//! `profile`, `distance` and their results.

use super::arrays::{Kept, short};
use super::brew::PyBrew;
use super::error::argument;
use super::estimate::{PyEstimate, PyUndefined};
use super::json::from_dict;
use super::table::table;
use crate::brew::result::Brew;
use crate::estimate::Undefined;
use crate::study::profile::curve::LandmarkKind;
use crate::study::profile::distance::Distance;
use crate::study::profile::options::{Align, Axis, ProfileOptions};
use crate::study::profile::outlier::Outlier;
use crate::study::profile::result::{Landmark, Profile};
use numpy::PyArray1;
use pyo3::IntoPyObjectExt;
use pyo3::prelude::*;
use pyo3::types::PyDict;

type Array<'py> = PyResult<Bound<'py, PyArray1<f64>>>;

/// The mean flow of a group of brews, with a band that holds the whole true mean curve with a stated probability.
///
/// >>> import pourline
/// >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03", "fernspout-ada-04"]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.profile(brews)
/// >>> found.axis, found.align, len(found.landmarks)
/// ('time', 'landmarks', 16)
/// >>> bool((found.low_g_per_s <= found.flow_g_per_s).all())
/// True
#[pyclass(frozen, module = "pourline", name = "Profile")]
pub(super) struct PyProfile {
    inner: Profile,
    kept: [Kept; 7],
}

#[pymethods]
impl PyProfile {
    /// Names of the brews, in the order given; a brew without a name is called by its place.
    #[getter]
    fn brews(&self) -> Vec<String> {
        self.inner.brews.clone()
    }

    /// What `position` is: `time` since the start of the first pour, or `water` poured since then.
    #[getter]
    fn axis(&self) -> &'static str {
        match self.inner.axis {
            Axis::Time => "time",
            Axis::Water => "water",
        }
    }

    /// What the brews were aligned on in the end: `landmarks` or `start`.
    #[getter]
    fn align(&self) -> &'static str {
        match self.inner.align {
            Align::Landmarks => "landmarks",
            Align::Start => "start",
        }
    }

    /// What there is to say in words: why the alignment is not what was asked for, where the axis ends.
    #[getter]
    fn warnings(&self) -> Vec<String> {
        self.inner.warnings.clone()
    }

    /// Places along the axis: s on the time axis, g on the water axis; each array has its length.
    #[getter]
    fn position<'py>(&self, py: Python<'py>) -> Array<'py> {
        self.kept[0].array(py, &self.inner.position)
    }

    /// Mean flow, g/s.
    #[getter]
    fn flow_g_per_s<'py>(&self, py: Python<'py>) -> Array<'py> {
        self.kept[1].array(py, &self.inner.flow_g_per_s)
    }

    /// Sd between the brews, g/s, the scale's share in it included.
    #[getter]
    fn flow_sd_g_per_s<'py>(&self, py: Python<'py>) -> Array<'py> {
        self.kept[2].array(py, &self.inner.flow_sd_g_per_s)
    }

    /// What the scale and its noise alone would make of that sd, g/s.
    #[getter]
    fn scale_sd_g_per_s<'py>(&self, py: Python<'py>) -> Array<'py> {
        self.kept[3].array(py, &self.inner.scale_sd_g_per_s)
    }

    /// Share of the variance between the brews, over the whole axis, that the scale explains; 0 to 1.
    #[getter]
    fn scale_share(&self) -> f64 {
        self.inner.scale_share
    }

    /// Lower edge of the band, g/s, or why there is no band.
    #[getter]
    fn low_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.band {
            Ok(band) => Ok(self.kept[4].array(py, &band.low_g_per_s)?.into_any()),
            Err(why) => undefined(py, why),
        }
    }

    /// Upper edge of the band, g/s, or why there is no band.
    #[getter]
    fn high_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.band {
            Ok(band) => Ok(self.kept[5].array(py, &band.high_g_per_s)?.into_any()),
            Err(why) => undefined(py, why),
        }
    }

    /// How many sd of the mean the band reaches to either side, or why there is no band.
    #[getter]
    fn band_factor<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.band {
            Ok(band) => band.factor.into_bound_py_any(py),
            Err(why) => undefined(py, why),
        }
    }

    /// Probability with which the band holds the whole mean curve.
    #[getter]
    fn level(&self) -> f64 {
        self.inner.options.level
    }

    /// The landmarks that the brews were aligned on; none where only the first start was.
    #[getter]
    fn landmarks(&self) -> Vec<PyLandmark> {
        self.inner.landmarks.iter().map(|one| PyLandmark { inner: one.clone() }).collect()
    }

    /// Index of the brew nearest to the middle: the least sum of distances to the others.
    #[getter]
    fn middle(&self) -> usize {
        self.inner.middle
    }

    /// For each brew the median of its distances to the others, g/s, aligned on the first start.
    #[getter]
    fn distance_g_per_s<'py>(&self, py: Python<'py>) -> Array<'py> {
        self.kept[6].array(py, &self.inner.distance_g_per_s)
    }

    /// The brew that stands out, or why none does.
    #[getter]
    fn odd<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.odd {
            Ok(odd) => PyOutlier { inner: odd.clone() }.into_bound_py_any(py),
            Err(why) => undefined(py, why),
        }
    }

    /// A row a place of the axis; the band is undefined where there is none.
    ///
    /// >>> import pourline
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(f"fernspout-ada-{n:02}") for n in range(1, 5)])
    /// >>> pourline.profile(brews).table().columns
    /// ['time_s', 'flow_g_per_s', 'flow_sd_g_per_s', 'scale_sd_g_per_s', 'low_g_per_s', 'high_g_per_s']
    fn table<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        table(py, &self.inner.table())
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(f"fernspout-ada-{n:02}") for n in range(1, 5)])
    /// >>> json.loads(pourline.profile(brews).to_json())["axis"]
    /// 'time'
    fn to_json(&self) -> PyResult<String> {
        serde_json::to_string(&self.inner).map_err(|e| argument("profile", e.to_string()))
    }

    fn __len__(&self) -> usize {
        self.inner.position.len()
    }

    fn __repr__(&self) -> String {
        let band = match &self.inner.band {
            Ok(band) => format!("band of {} %", 100.0 * band.level),
            Err(why) => format!("no band: {}", why.reason),
        };
        let (n, axis, align) = (self.inner.brews.len(), self.axis(), self.align());
        format!("<Profile of {n} brews over {axis}, aligned on {align}, {band}>")
    }
}

/// A landmark that the brews of a profile were aligned on.
///
/// >>> import pourline
/// >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03"]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> first, half, *_ = pourline.profile(brews).landmarks
/// >>> first.pour, first.kind, half.kind, half.mean.value < 1
/// (1, 'start', 'half_rise', True)
#[pyclass(frozen, module = "pourline", name = "Landmark")]
pub(super) struct PyLandmark {
    inner: Landmark,
}

#[pymethods]
impl PyLandmark {
    /// Place of the pour in its brew, from 1.
    #[getter]
    fn pour(&self) -> usize {
        self.inner.pour
    }

    /// Which instant of it: `start`, `half_rise`, `half_fall` or `end`.
    #[getter]
    fn kind(&self) -> &'static str {
        match self.inner.kind {
            LandmarkKind::Start => "start",
            LandmarkKind::HalfRise => "half_rise",
            LandmarkKind::HalfFall => "half_fall",
            LandmarkKind::End => "end",
        }
    }

    /// Mean over the brews, with the sd of that mean, in the unit of the axis.
    #[getter]
    fn mean(&self) -> PyEstimate {
        PyEstimate { inner: self.inner.mean }
    }

    /// Sd between the brews, in the unit of the axis.
    #[getter]
    fn sd(&self) -> f64 {
        self.inner.sd
    }

    fn __repr__(&self) -> String {
        format!("<Landmark: pour {}, {} at {}>", self.inner.pour, self.kind(), self.inner.mean)
    }
}

/// The brew that stands out of its group.
///
/// >>> import pourline
/// >>> def brew(seed, rest_s):
/// ...     recipe = pourline.recipe("clean")
/// ...     pour = {"rest_s": 0, "mass_g": 50, "flow_g_per_s": 6 + 0.1 * (seed % 4), "rise_s": 0.3, "fall_s": 0.3}
/// ...     recipe["hand"] |= {"planned": [pour, pour | {"rest_s": rest_s}], "tremor": [0, 0]}
/// ...     return pourline.analyze(pourline.simulate(recipe, seed=seed)[0])
/// >>> brews = [brew(seed, rest_s) for seed, rest_s in enumerate([10, 10.2, 10.1, 10.3, 9.9, 17])]
/// >>> odd = pourline.profile(brews).odd
/// >>> odd.brew, odd.pour, odd.quantity
/// (5, 2, 'rest_before_s')
#[pyclass(frozen, module = "pourline", name = "Outlier")]
pub(super) struct PyOutlier {
    inner: Outlier,
}

#[pymethods]
impl PyOutlier {
    /// Its index.
    #[getter]
    fn brew(&self) -> usize {
        self.inner.brew
    }

    /// Robust z of the logarithm of its distance to the others.
    #[getter]
    fn z(&self) -> f64 {
        self.inner.z
    }

    /// What that would have to be.
    #[getter]
    fn threshold(&self) -> f64 {
        self.inner.threshold
    }

    /// The pour that makes most of the distance, from 1; None where the numbers of pours differ.
    #[getter]
    fn pour(&self) -> Option<usize> {
        self.inner.pour
    }

    /// What of it: `rest_before_s`, `duration_s` or `flow_g_per_s`, between half-rise and half-fall.
    #[getter]
    fn quantity(&self) -> Option<&str> {
        self.inner.quantity.as_deref()
    }

    /// How much it is in this brew.
    #[getter]
    fn value(&self) -> f64 {
        self.inner.value
    }

    /// Its median in the others.
    #[getter]
    fn usual(&self) -> f64 {
        self.inner.usual
    }

    /// All of that in a sentence.
    #[getter]
    fn why(&self) -> &str {
        &self.inner.why
    }

    fn __repr__(&self) -> String {
        format!("<Outlier: {}>", self.inner.why)
    }
}

/// How far two brews lie apart; 0 for a brew and itself, the same from either side.
///
/// >>> import pourline
/// >>> one, other = (pourline.analyze(pourline.datasets.load(f"fernspout-ada-0{k}")) for k in (1, 2))
/// >>> apart = pourline.distance(one, other)
/// >>> apart.flow_g_per_s > apart.noise_g_per_s > 0
/// True
/// >>> pourline.distance(one, one).flow_g_per_s
/// 0.0
#[pyclass(frozen, module = "pourline", name = "Distance")]
pub(super) struct PyDistance {
    inner: Distance,
}

#[pymethods]
impl PyDistance {
    /// Root of the mean square difference of the flows, g/s, first starts laid on top of each other.
    #[getter]
    fn flow_g_per_s(&self) -> f64 {
        self.inner.flow_g_per_s
    }

    /// What two equal pourings would have for a distance by the noise of their scales alone, g/s.
    #[getter]
    fn noise_g_per_s(&self) -> f64 {
        self.inner.noise_g_per_s
    }

    /// What is left when every pour is laid on top of its like, g/s: harder or softer pouring.
    #[getter]
    fn amplitude_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.parts {
            Ok(parts) => parts.amplitude_g_per_s.into_bound_py_any(py),
            Err(why) => undefined(py, why),
        }
    }

    /// What that takes away, g/s: earlier or later, longer or shorter.
    #[getter]
    fn timing_g_per_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.parts {
            Ok(parts) => parts.timing_g_per_s.into_bound_py_any(py),
            Err(why) => undefined(py, why),
        }
    }

    /// Root of the mean square difference of the instants of half-rise and half-fall, counted from the first start, s.
    #[getter]
    fn timing_s<'py>(&self, py: Python<'py>) -> PyResult<Bound<'py, PyAny>> {
        match &self.inner.parts {
            Ok(parts) => PyEstimate { inner: parts.timing_s }.into_bound_py_any(py),
            Err(why) => undefined(py, why),
        }
    }

    fn __repr__(&self) -> String {
        let (flow, noise) = (self.inner.flow_g_per_s, self.inner.noise_g_per_s);
        format!("<Distance: {flow:.2} g/s, {noise:.2} g/s by noise alone>")
    }
}

fn undefined<'py>(py: Python<'py>, why: &Undefined) -> PyResult<Bound<'py, PyAny>> {
    PyUndefined::from(why.clone()).into_bound_py_any(py)
}

/// The mean flow of a group of brews with its band, the brew in the middle and the odd one out.
///
/// Keywords: `axis` ("time" or "water"), `align` ("landmarks" or "start"), `step_s`, `step_g`, `level`.
/// `brews` are brews with water; `options` are these keywords.
///
/// >>> import pourline
/// >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03", "fernspout-ada-04"]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.profile(brews, axis="water", step_g=1)
/// >>> found.table().columns[:2]
/// ['water_g', 'flow_g_per_s']
#[pyfunction]
#[pyo3(signature = (brews, **options))]
pub(super) fn profile(
    py: Python<'_>,
    brews: &Bound<'_, PyAny>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyProfile> {
    let options = match options {
        Some(given) => from_dict("profile", ProfileOptions::default(), given)?,
        None => ProfileOptions::default(),
    };
    let mut held = Vec::new();
    for (place, one) in brews.try_iter()?.enumerate() {
        let one = one?;
        let Ok(brew) = one.cast::<PyBrew>() else {
            let message = format!("a Brew is needed, not {}", short(&one));
            return Err(argument(format!("brews[{place}]"), message));
        };
        held.push(brew.clone());
    }
    let inner: Vec<&Brew> = held.iter().map(|brew| &brew.get().inner).collect();
    let inner = py.detach(|| crate::study::profile::stage::profile(&inner, &options))?;
    Ok(PyProfile { inner, kept: Default::default() })
}

/// The distance between the flows of two brews, as much of it as is flow and as much as is timing.
///
/// `one` and `other` are brews with water; returns a `Distance`.
///
/// >>> import pourline
/// >>> one, other = (pourline.analyze(pourline.datasets.load(f"fernspout-ada-0{k}")) for k in (1, 2))
/// >>> pourline.distance(one, other).timing_s.value < 10
/// True
#[pyfunction]
pub(super) fn distance(
    py: Python<'_>,
    one: &Bound<'_, PyBrew>,
    other: &Bound<'_, PyBrew>,
) -> PyResult<PyDistance> {
    let (one, other) = (&one.get().inner, &other.get().inner);
    Ok(PyDistance { inner: py.detach(|| crate::study::profile::distance::distance(one, other))? })
}
