//! `analyze_many`: many logs on all cores, a few for each core at a time, so that progress shows and Ctrl-C is heard.

use super::brew::PyBrew;
use super::options::{PyOptions, options_from};
use super::sources::{Source, read_file, source};
use crate::{Brew, Labels, Log, Options, Result};
use pyo3::prelude::*;
use pyo3::types::PyList;
use rayon::prelude::*;

/// How many logs a core is given at a time.
const LOGS_PER_CORE: usize = 4;

/// One log the whole way.
pub(super) fn one(source: &Source, options: &Options, labels: Option<&Labels>) -> Result<Brew> {
    let analyzed = |log: &Log| match labels {
        Some(labels) => crate::analyze_labelled(log, labels, options),
        None => crate::analyze(log, options),
    };
    match source {
        Source::Log(log) => analyzed(&log.get().inner),
        Source::File(path) => analyzed(&read_file(path)?),
    }
}

/// Analyses many logs on all cores. The results stand in the order of the logs.
///
/// Each of `logs` is a `Log` or whatever `read` takes. One that fails stays in its place as its `PourlineError`, and so
/// does a `PourlineError` among the logs.
/// `progress` shows how far it is, in a notebook and on a terminal: None once it is expected to take over a second, True at once,
/// False never; a function is called with (done, all) in its place.
/// `options` are those of all stages, for all logs alike.
///
/// >>> import pourline
/// >>> logs = [pourline.datasets.load("fernspout-ada-01"), "no-such-file.csv"]
/// >>> good, bad = pourline.analyze_many(logs)
/// >>> len(good.pours), bad.kind
/// (4, 'io')
#[pyfunction]
#[pyo3(signature = (logs, options = None, progress = None))]
pub(super) fn analyze_many<'py>(
    py: Python<'py>,
    logs: &Bound<'py, PyAny>,
    options: Option<&Bound<'py, PyOptions>>,
    progress: Option<&Bound<'py, PyAny>>,
) -> PyResult<Bound<'py, PyList>> {
    let options = options_from(options);
    let logs = logs.try_iter()?.collect::<PyResult<Vec<_>>>()?;
    let bar = py.import("pourline._progress")?.getattr("Bar")?.call1((progress, logs.len()))?;
    let found = all(py, &logs, &options, &bar);
    bar.call_method0("close")?;
    found
}

/// All of them, chunk by chunk; `bar` is told after each.
fn all<'py>(
    py: Python<'py>,
    logs: &[Bound<'py, PyAny>],
    options: &Options,
    bar: &Bound<'py, PyAny>,
) -> PyResult<Bound<'py, PyList>> {
    let found = PyList::empty(py);
    for some in logs.chunks(LOGS_PER_CORE * rayon::current_num_threads()) {
        let sources: Vec<PyResult<Source>> = some.iter().map(source).collect();
        let brews: Vec<Option<Result<Brew>>> = py.detach(|| {
            sources
                .par_iter()
                .map(|source| source.as_ref().ok().map(|source| one(source, options, None)))
                .collect()
        });
        for (source, brew) in sources.into_iter().zip(brews) {
            match (source, brew) {
                (Ok(_), Some(Ok(brew))) => found.append(PyBrew::from(brew))?,
                (Ok(_), Some(Err(error))) => found.append(PyErr::from(error).into_value(py))?,
                (Err(error), _) => found.append(error.into_value(py))?,
                (Ok(_), None) => {}
            }
        }
        bar.call_method1("tell", (found.len(),))?;
        py.check_signals()?;
    }
    Ok(found)
}
