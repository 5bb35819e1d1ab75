//! In: logs, taken one at a time. Out: their brews in the same order, computed on all cores; Ctrl-C can interrupt.

use super::brew::PyBrew;
use super::error::{Interrupted, argument};
use super::options::options_from;
use super::ordered::Ordered;
use super::run::WAIT;
use super::sources::{Source, read_file, source};
use super::warned::{Seconds, tell};
use crate::brew::analyze::observed;
use crate::brew::labels::Labels;
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::error::Result;
use crate::log::record::Log;
use pyo3::exceptions::{PyException, PyKeyboardInterrupt};
use pyo3::prelude::*;
use pyo3::types::{PyIterator, PyList, PyString};
use std::sync::Arc;
use std::time::{Duration, Instant};

const MOST_THREADS: i64 = 1024;

/// All stages for one log.
pub(super) fn one(source: &Source, options: &Options, labels: Option<&Labels>) -> Result<(Brew, Seconds)> {
    match source {
        Source::Log(log) => timed(&log.get().inner, labels, options, Instant::now(), Vec::new()),
        Source::File(path) => {
            let begin = Instant::now();
            let log = read_file(path)?;
            timed(&log, labels, options, Instant::now(), vec![("read", begin.elapsed().as_secs_f64())])
        }
    }
}

/// All stages for one log, with the seconds of each.
pub(super) fn timed(
    log: &Log,
    labels: Option<&Labels>,
    options: &Options,
    mut since: Instant,
    mut seconds: Seconds,
) -> Result<(Brew, Seconds)> {
    let brew = observed(log, labels, options, &mut |stage| {
        seconds.push((stage, since.elapsed().as_secs_f64()));
        since = Instant::now();
    })?;
    Ok((brew, seconds))
}

/// Brews and errors in the order of their logs.
#[pyclass(module = "pourline", name = "_Brews")]
pub(super) struct Brews {
    /// None once it has ended.
    logs: Option<Py<PyIterator>>,
    /// The error that ended the logs, raised after the results before it.
    ended: Option<PyErr>,
    options: Arc<Options>,
    work: Ordered<PyResult<(Brew, Seconds)>>,
    /// Number of results so far.
    done: usize,
}

/// The logs; those of a folder or of a pattern of paths if one is given.
fn folder_or<'py>(logs: &Bound<'py, PyAny>) -> PyResult<Bound<'py, PyAny>> {
    if logs.is_instance_of::<PyString>() || logs.hasattr("__fspath__")? {
        logs.py().import("pourline._io.folder")?.getattr("Folder")?.call1((logs,))
    } else {
        Ok(logs.clone())
    }
}

impl Brews {
    fn new(
        logs: &Bound<'_, PyAny>,
        options: Option<&Bound<'_, PyAny>>,
        threads: Option<i64>,
    ) -> PyResult<Self> {
        if let Some(n) = threads
            && !(1..=MOST_THREADS).contains(&n)
        {
            return Err(argument("threads", format!("1 to {MOST_THREADS} are needed, not {n}")));
        }
        let work = Ordered::new(threads.map(|n| n as usize));
        let work = work.map_err(|failed| argument("threads", failed.to_string()))?;
        let logs = Some(folder_or(logs)?.try_iter()?.unbind());
        Ok(Self { logs, ended: None, options: Arc::new(options_from(options)?), work, done: 0 })
    }

    /// Takes the next log. An interrupt (Ctrl-C) is raised at once, another error of the logs in its order.
    fn take_log(&mut self, py: Python<'_>) -> PyResult<()> {
        let Some(logs) = &self.logs else { return Ok(()) };
        match logs.bind(py).clone().next() {
            None => self.logs = None,
            Some(Ok(log)) => {
                let (source, options) = (source(&log), Arc::clone(&self.options));
                self.work.give(move || Ok(one(&source?, &options, None)?));
            }
            Some(Err(error)) if error.is_instance_of::<PyException>(py) => {
                (self.logs, self.ended) = (None, Some(error));
            }
            Some(Err(stop)) => return Err(stop),
        }
        Ok(())
    }

    fn next<'py>(&mut self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        if !self.work.is_here() {
            return Err(argument(
                "logs",
                "their analysis began before this process was forked; begin it here",
            ));
        }
        let mut patience = Duration::ZERO;
        loop {
            if self.logs.is_some() && self.work.has_room() {
                self.take_log(py)?;
            } else if self.work.is_empty() {
                return self.ended.take().map_or(Ok(None), Err);
            } else {
                patience = WAIT;
            }
            let taken = py.detach(|| self.work.take(patience));
            self.done += usize::from(taken.is_some());
            match taken {
                Some(Ok((brew, seconds))) => {
                    tell(py, &brew, &seconds, || format!("log {}", self.done))?;
                    return Ok(Some(Bound::new(py, PyBrew::from(brew))?.into_any()));
                }
                Some(Err(error)) => return Ok(Some(error.into_value(py).into_bound(py).into_any())),
                None => py.check_signals()?,
            }
        }
    }
}

#[pymethods]
impl Brews {
    fn __iter__(slf: PyRef<'_, Self>) -> PyRef<'_, Self> {
        slf
    }

    fn __next__<'py>(&mut self, py: Python<'py>) -> PyResult<Option<Bound<'py, PyAny>>> {
        self.next(py)
    }
}

/// Analyses logs on all cores and yields each brew in the order of the logs.
///
/// Each of `logs` is a `Log` or an argument of `read`; a folder or a pattern of paths stands for the logs that
/// `read_many` reads. They may come from a generator: they are taken one at a time,
/// at most 16 per thread ahead of the current brew. So memory is bounded for any number of logs. A log with an error
/// yields its `PourlineError`, and so does a `PourlineError` among the logs. `threads` is their number, by default one
/// per core, or that of `RAYON_NUM_THREADS`; the brews are identical for any number. `options` are those of all
/// stages, for all logs. Each brew with warnings issues one `PourlineWarning`, which names its log.
///
/// >>> import pourline
/// >>> logs = (pourline.datasets.load(name) for name in pourline.datasets.names())
/// >>> for brew in pourline.analyze_each(logs, threads=2):
/// ...     print(len(brew.pours))
/// ...     break
/// 4
#[pyfunction]
#[pyo3(signature = (logs, options = None, *, threads = None))]
pub(super) fn analyze_each(
    logs: &Bound<'_, PyAny>,
    options: Option<&Bound<'_, PyAny>>,
    threads: Option<i64>,
) -> PyResult<Brews> {
    Brews::new(logs, options, threads)
}

/// Analyses many logs on all cores. The results are in the order of the logs.
///
/// The results of `analyze_each` as a list: each of `logs` is a `Log` or an argument of `read`, and a log with an
/// error is its `PourlineError`. A folder or a pattern of paths, such as `brews/*.csv`, stands for its logs.
/// `progress` controls the progress bar in a notebook and on a terminal: None shows it if more than a second is
/// expected, True always, False never; a function is called instead with (done, all) after each log. `options` are
/// those of all stages, for all logs; `threads` is their number. Each brew with warnings issues one `PourlineWarning`,
/// which names its log. Ctrl-C raises `Interrupted`, a KeyboardInterrupt whose
/// `done` has the finished results.
///
/// >>> import pourline
/// >>> logs = [pourline.datasets.load("fernspout-ada-01"), "no-such-file.csv"]
/// >>> good, bad = pourline.analyze_many(logs)
/// >>> len(good.pours), bad.kind
/// (4, 'io')
#[pyfunction]
#[pyo3(signature = (logs, options = None, progress = None, *, threads = None))]
pub(super) fn analyze_many<'py>(
    py: Python<'py>,
    logs: &Bound<'py, PyAny>,
    options: Option<&Bound<'py, PyAny>>,
    progress: Option<&Bound<'py, PyAny>>,
    threads: Option<i64>,
) -> PyResult<Bound<'py, PyList>> {
    let logs = &folder_or(logs)?;
    // The bar needs the number of logs; an iterable without a length is read completely.
    let asked = match progress {
        Some(progress) => progress.is_truthy()?,
        None => false,
    };
    let (logs, all) = match logs.len() {
        Ok(all) => (logs.clone(), all),
        Err(_) if asked => {
            let logs = PyList::new(py, logs.try_iter()?.collect::<PyResult<Vec<_>>>()?)?;
            (logs.clone().into_any(), logs.len())
        }
        Err(_) => (logs.clone(), 0),
    };
    let brews = Brews::new(&logs, options, threads)?;
    let bar = py.import("pourline._io.progress")?.getattr("Bar")?.call1((progress, all))?;
    let found = PyList::empty(py);
    let filled = fill(py, &found, brews, |done| bar.call_method1("tell", (done,)).map(drop));
    bar.call_method0("close")?;
    match filled {
        Err(stop) if stop.is_instance_of::<PyKeyboardInterrupt>(py) => {
            let kept = Interrupted::new_err((found.unbind(),));
            kept.set_cause(py, Some(stop));
            Err(kept)
        }
        filled => filled.map(|()| found),
    }
}

fn fill<'py>(
    py: Python<'py>,
    found: &Bound<'py, PyList>,
    mut brews: Brews,
    report: impl Fn(usize) -> PyResult<()>,
) -> PyResult<()> {
    while let Some(brew) = brews.next(py)? {
        found.append(brew)?;
        report(found.len())?;
    }
    Ok(())
}
