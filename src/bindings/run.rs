//! In: work that may take long. Out: its result; Ctrl-C raises KeyboardInterrupt at once.
//!
//! Only Python's main thread receives signals, so that the work runs on a thread of its own and the caller waits for
//! it. After an interrupt the work has no caller: it ends by itself, and its result is dropped.

use pyo3::exceptions::PyRuntimeError;
use pyo3::prelude::*;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::mpsc::{RecvTimeoutError, sync_channel};
use std::thread::Builder;
use std::time::Duration;

/// Longest wait for a result before signals are checked.
pub(super) const WAIT: Duration = Duration::from_millis(20);

/// That of a main thread.
const STACK_BYTES: usize = 8 << 20;

/// The result of the work, without Python's lock.
pub(super) fn run<T: Send + 'static>(
    py: Python<'_>,
    work: impl FnOnce() -> T + Send + 'static,
) -> PyResult<T> {
    let (give, take) = sync_channel(1);
    let thread = Builder::new().name("pourline".into()).stack_size(STACK_BYTES);
    thread.spawn(move || drop(give.send(catch_unwind(AssertUnwindSafe(work)))))?;
    py.detach(move || {
        loop {
            match take.recv_timeout(WAIT) {
                Ok(done) => return Ok(done.unwrap_or_else(|panic| resume_unwind(panic))),
                Err(RecvTimeoutError::Timeout) => Python::attach(|py| py.check_signals())?,
                Err(RecvTimeoutError::Disconnected) => {
                    return Err(PyRuntimeError::new_err("the work was lost"));
                }
            }
        }
    })
}
