//! `profile`, `distance` and their results.

use super::arrays::short;
use super::brew::PyBrew;
use super::error::argument;
use super::json::{options_of, text};
use super::run::run;
use super::show::{Show, class};
use crate::brew::result::Brew;
use crate::estimate::{Maybe, Undefined};
use crate::study::profile::distance::{Distance, DistanceParts};
use crate::study::profile::outlier::Outlier;
use crate::study::profile::result::{Landmark, Profile, ProfileBand};
use pyo3::prelude::*;
use pyo3::types::PyDict;

type Known<T> = Result<T, Undefined>;

/// A part of the band, or the reason for none.
fn of_band<T>(of: &Profile, part: fn(&ProfileBand) -> T) -> Known<T> {
    of.band.as_ref().map(part).map_err(Clone::clone)
}

Profile! { class
/// >>> import pourline
/// >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03", "fernspout-ada-04"]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.profile(brews)
/// >>> found.axis, found.align, len(found.landmarks)
/// ('time', 'landmarks', 16)
/// >>> bool((found.low_g_per_s <= found.flow_g_per_s).all())
/// True
PyProfile("pourline", "Profile")
[
    /// Lower edge of the band, or the reason for none, g/s.
    low_g_per_s: Known<Vec<f64>> = |of| of_band(of, |band| band.low_g_per_s.clone());
    /// Upper edge of the band, or the reason for none, g/s.
    high_g_per_s: Known<Vec<f64>> = |of| of_band(of, |band| band.high_g_per_s.clone());
    /// Half-width of the band in sd of the mean, or the reason for none.
    band_factor: Known<f64> = |of| of_band(of, |band| band.factor);
    /// Simultaneous coverage of the band.
    level: f64 = |of| of.options.level;
] {
    /// One row per point of the axis; the band is NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(f"fernspout-ada-{n:02}") for n in range(1, 5)])
    /// >>> pourline.profile(brews).table().columns
    /// ['time_s', 'flow_g_per_s', 'flow_sd_g_per_s', 'scale_sd_g_per_s', 'low_g_per_s', 'high_g_per_s']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(f"fernspout-ada-{n:02}") for n in range(1, 5)])
    /// >>> json.loads(pourline.profile(brews).to_json())["axis"]
    /// 'time'
    fn to_json(&self) -> PyResult<String> {
        text("profile", &self.inner)
    }

    fn __len__(&self) -> usize {
        self.inner.position.len()
    }

    fn _repr_html_(slf: &Bound<'_, Self>) -> PyResult<String> {
        slf.py().import("pourline._pages.result_cards")?.call_method1("profile_card", (slf,))?.extract()
    }

    fn __repr__(&self) -> String {
        let band = match &self.inner.band {
            Ok(band) => format!("band of {} %", 100.0 * band.level),
            Err(why) => format!("no band: {}", why.reason),
        };
        let Profile { brews, axis, align, .. } = &self.inner;
        let (n, axis, align) = (brews.len(), axis.name(), align.name());
        format!("<Profile of {n} brews over {axis}, aligned on {align}, {band}>")
    }
}}

Landmark! { class
/// >>> import pourline
/// >>> names = ["fernspout-ada-01", "fernspout-ada-02", "fernspout-ada-03"]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> first, half, *_ = pourline.profile(brews).landmarks
/// >>> first.pour, first.kind, half.kind, half.mean.value < 1
/// (1, 'start', 'half_rise', True)
PyLandmark("pourline", "Landmark") {
    fn __repr__(&self) -> String {
        let Landmark { pour, kind, mean, .. } = &self.inner;
        format!("<Landmark: pour {pour}, {} at {mean}>", kind.name())
    }
}}

Outlier! { class
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
PyOutlier("pourline", "Outlier") {
    fn __repr__(&self) -> String {
        format!("<Outlier: {}>", self.inner.why)
    }
}}

/// A part of a distance, or the reason for none.
fn of_parts<T>(of: &Distance, part: fn(&DistanceParts) -> T) -> Known<T> {
    of.parts.as_ref().map(part).map_err(Clone::clone)
}

Distance! { class
/// >>> import pourline
/// >>> one, other = (pourline.analyze(pourline.datasets.load(f"fernspout-ada-0{k}")) for k in (1, 2))
/// >>> apart = pourline.distance(one, other)
/// >>> apart.flow_g_per_s > apart.noise_g_per_s > 0
/// True
/// >>> pourline.distance(one, one).flow_g_per_s
/// 0.0
PyDistance("pourline", "Distance")
[
    /// Part after alignment of every pour with its counterpart: higher or lower flow, g/s.
    amplitude_g_per_s: Known<f64> = |of| of_parts(of, |parts| parts.amplitude_g_per_s);
    /// Part that the alignment removes: timing and duration, g/s.
    timing_g_per_s: Known<f64> = |of| of_parts(of, |parts| parts.timing_g_per_s);
    /// Root mean square difference of the instants of half-rise and half-fall, counted from the first start, s.
    timing_s: Maybe = |of| of_parts(of, |parts| parts.timing_s);
] {
    fn __repr__(&self) -> String {
        let (flow, noise) = (self.inner.flow_g_per_s, self.inner.noise_g_per_s);
        format!("<Distance: {flow:.2} g/s, {noise:.2} g/s by noise alone>")
    }
}}

/// The mean flow of a group of brews with its band, the medoid and the outlier.
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
    let options = options_of("profile", options)?;
    let held = held(brews, "brews")?;
    let found = run(py, move || {
        let inner: Vec<&Brew> = held.iter().map(|brew| &brew.get().inner).collect();
        crate::study::profile::stage::profile(&inner, &options)
    })?;
    Ok(found?.into())
}

/// The brews, each a `Brew`.
pub(super) fn held(brews: &Bound<'_, PyAny>, name: &str) -> PyResult<Vec<Py<PyBrew>>> {
    let mut held: Vec<Py<PyBrew>> = Vec::new();
    for (place, one) in brews.try_iter()?.enumerate() {
        let one = one?;
        let Ok(brew) = one.cast::<PyBrew>() else {
            let message = format!("a Brew is needed, not {}", short(&one));
            return Err(argument(format!("{name}[{place}]"), message));
        };
        held.push(brew.clone().unbind());
    }
    Ok(held)
}

/// The distance between the flows of two brews, with its parts by amplitude and by timing.
///
/// `one` and `other` are brews with water; returns a `Distance`.
///
/// >>> import pourline
/// >>> one, other = (pourline.analyze(pourline.datasets.load(f"fernspout-ada-0{k}")) for k in (1, 2))
/// >>> pourline.distance(one, other).timing_s.value < 10
/// True
#[pyfunction]
pub(super) fn distance(py: Python<'_>, one: Py<PyBrew>, other: Py<PyBrew>) -> PyResult<PyDistance> {
    let apart = move || crate::study::profile::distance::distance(&one.get().inner, &other.get().inner);
    Ok(run(py, apart)??.into())
}
