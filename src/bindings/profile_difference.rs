//! `profile_difference` and its results: the mean flows of two groups compared.

use super::brew::PyBrew;
use super::error::argument;
use super::json::{options_of, text};
use super::profile::held;
use super::run::run;
use super::show::{Show, class};
use super::study::names;
use crate::brew::result::Brew;
use crate::study::profile::different::{LandmarkDifference, ProfileDifference};
use pyo3::prelude::*;
use pyo3::types::PyDict;

LandmarkDifference! { class
/// >>> import pourline
/// >>> def group(kettle, first):
/// ...     names = [f"{kettle}-ada-{n:02}" for n in range(first, first + 4)]
/// ...     return pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> groups = {"Fernspout": group("fernspout", 1), "Broadlip": group("broadlip", 9)}
/// >>> last = pourline.profile_difference(groups).landmarks[-1]
/// >>> last.pour, last.kind
/// (4, 'end')
PyLandmarkDifference("pourline", "LandmarkDifference") {
    fn __repr__(&self) -> String {
        let LandmarkDifference { pour, kind, difference, .. } = &self.inner;
        format!("<LandmarkDifference: pour {pour}, {} by {difference}>", kind.name())
    }
}}

ProfileDifference! { class
/// >>> import pourline
/// >>> def group(kettle, first):
/// ...     names = [f"{kettle}-ada-{n:02}" for n in range(first, first + 4)]
/// ...     return pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> groups = {"Fernspout": group("fernspout", 1), "Broadlip": group("broadlip", 9)}
/// >>> found = pourline.profile_difference(groups)
/// >>> found.a, found.b, found.p.value <= 0.05, len(found.stretches) > 0
/// ('Fernspout', 'Broadlip', True, True)
PyProfileDifference("pourline", "ProfileDifference") {
    /// One row per position; the band is NaN if there is none.
    ///
    /// >>> import pourline
    /// >>> names = pourline.datasets.names()[8:16]
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    /// >>> pourline.profile_difference({"Ada": brews[:4], "Bo": brews[4:]}).table().columns[:3]
    /// ['time_s', 'a_flow_g_per_s', 'b_flow_g_per_s']
    fn table(&self, py: Python<'_>) -> PyResult<Py<PyAny>> {
        self.inner.table().show(py)
    }

    /// Everything as JSON text; a number that is not finite is null.
    ///
    /// >>> import pourline
    /// >>> import json
    /// >>> names = pourline.datasets.names()[8:16]
    /// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
    /// >>> json.loads(pourline.profile_difference({"Ada": brews[:4], "Bo": brews[4:]}).to_json())["brews"]
    /// [4, 4]
    fn to_json(&self) -> PyResult<String> {
        text("profile_difference", &self.inner)
    }

    fn __len__(&self) -> usize {
        self.inner.position.len()
    }

    fn __str__(&self) -> String {
        self.inner.says.clone()
    }

    fn __repr__(&self) -> String {
        format!("<ProfileDifference: {}>", self.inner.says)
    }
}}

/// The difference of the mean flows of two groups of brews, with a simultaneous band; landmarks are compared, too.
///
/// `groups` has the brews of two groups by their names; the difference is the second less the first. `blocks` names
/// factors within which groups are compared, such as "person". Keywords are those of `profile`. p and the band are
/// one test, by dealing the groups within blocks.
///
/// >>> import pourline
/// >>> names = pourline.datasets.names()[8:16]
/// >>> brews = pourline.analyze_many([pourline.datasets.load(name) for name in names])
/// >>> found = pourline.profile_difference({"Ada": brews[:4], "Bo": brews[4:]})
/// >>> found.arrangements, found.difference_g_per_s.shape == found.position.shape
/// (70.0, True)
#[pyfunction]
#[pyo3(signature = (groups, blocks = None, **options))]
pub(super) fn profile_difference(
    py: Python<'_>,
    groups: &Bound<'_, PyDict>,
    blocks: Option<&Bound<'_, PyAny>>,
    options: Option<&Bound<'_, PyDict>>,
) -> PyResult<PyProfileDifference> {
    let options = options_of("profile", options)?;
    let blocks = names(blocks)?;
    let mut named: Vec<(String, Vec<Py<PyBrew>>)> = Vec::new();
    for (name, brews) in groups {
        let name: String = name.extract()?;
        named.push((name.clone(), held(&brews, &name)?));
    }
    let [(a, of_a), (b, of_b)] = <[_; 2]>::try_from(named)
        .map_err(|all: Vec<_>| argument("groups", format!("two groups are needed, not {}", all.len())))?;
    let found = run(py, move || {
        let of_a: Vec<&Brew> = of_a.iter().map(|brew| &brew.get().inner).collect();
        let of_b: Vec<&Brew> = of_b.iter().map(|brew| &brew.get().inner).collect();
        let blocks: Vec<&str> = blocks.iter().map(String::as_str).collect();
        let groups = [(a.as_str(), &of_a[..]), (b.as_str(), &of_b[..])];
        crate::study::profile::difference::profile_difference(groups, &blocks, &options)
    })?;
    Ok(found?.into())
}
