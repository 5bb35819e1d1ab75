//! In: jobs, one at a time. Out: their results in the order of the jobs, computed by a pool of threads.
//!
//! Early results are queued. The number of jobs in the queue is limited, so memory is bounded for any number of jobs.
//!
//! A forked process has the memory of its parent and none of its threads: a pool of the parent would never answer. So a
//! process other than the first one that used the shared pool makes its own.

use rayon::{ThreadPool, ThreadPoolBuilder};
use std::any::Any;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::Duration;

/// Jobs running or queued per thread: a job may take as long as these before other threads are idle.
const JOBS_PER_THREAD: usize = 16;

/// The process whose threads the shared pool has.
static SHARED_IN: OnceLock<u32> = OnceLock::new();

type Done<T> = BTreeMap<usize, Result<T, Box<dyn Any + Send>>>;

struct Shared<T> {
    done: Mutex<Done<T>>,
    one_more: Condvar,
    /// The receiver is gone: jobs that have not begun are skipped.
    unwanted: AtomicBool,
}

impl<T> Shared<T> {
    fn done(&self) -> MutexGuard<'_, Done<T>> {
        self.done.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The running jobs and their results.
pub(super) struct Ordered<T> {
    /// Own thread pool; None for the shared one.
    pool: Option<ThreadPool>,
    shared: Arc<Shared<T>>,
    given: usize,
    taken: usize,
    /// The process whose threads do the jobs.
    process: u32,
}

impl<T: Send + 'static> Ordered<T> {
    /// With a number of threads, or with the shared pool (`RAYON_NUM_THREADS`, or one thread per core).
    pub(super) fn new(threads: Option<usize>) -> Result<Self, rayon::ThreadPoolBuildError> {
        let process = std::process::id();
        let is_forked = *SHARED_IN.get_or_init(|| process) != process;
        // 0 threads are as many as the shared pool has.
        let threads = threads.or(is_forked.then_some(0));
        let pool = threads.map(|n| ThreadPoolBuilder::new().num_threads(n).build()).transpose()?;
        let shared = Shared {
            done: Mutex::new(BTreeMap::new()),
            one_more: Condvar::new(),
            unwanted: AtomicBool::new(false),
        };
        Ok(Self { pool, shared: Arc::new(shared), given: 0, taken: 0, process })
    }

    /// Whether the threads are those of this process, and not those that a fork left behind.
    pub(super) fn is_here(&self) -> bool {
        self.process == std::process::id()
    }

    /// Whether the queue has room for one more job.
    pub(super) fn has_room(&self) -> bool {
        let threads =
            self.pool.as_ref().map_or_else(rayon::current_num_threads, ThreadPool::current_num_threads);
        self.given - self.taken < JOBS_PER_THREAD * threads
    }

    /// Whether all results have been taken.
    pub(super) fn is_empty(&self) -> bool {
        self.given == self.taken
    }

    /// Adds one job.
    pub(super) fn give(&mut self, job: impl FnOnce() -> T + Send + 'static) {
        let (shared, place) = (Arc::clone(&self.shared), self.given);
        self.given += 1;
        let work = move || {
            if !shared.unwanted.load(Ordering::Relaxed) {
                let found = catch_unwind(AssertUnwindSafe(job));
                shared.done().insert(place, found);
                shared.one_more.notify_one();
            }
        };
        match &self.pool {
            Some(pool) => pool.spawn_fifo(work),
            None => rayon::spawn_fifo(work),
        }
    }

    /// The next result in order, if it is ready within that time. A panic of the job is raised here.
    pub(super) fn take(&mut self, within: Duration) -> Option<T> {
        let not_yet = |done: &mut Done<T>| !done.contains_key(&self.taken);
        let waited = self.shared.one_more.wait_timeout_while(self.shared.done(), within, not_yet);
        let mut done = waited.unwrap_or_else(PoisonError::into_inner).0;
        let found = done.remove(&self.taken)?;
        self.taken += 1;
        Some(found.unwrap_or_else(|panic| resume_unwind(panic)))
    }
}

impl<T> Drop for Ordered<T> {
    fn drop(&mut self) {
        self.shared.unwanted.store(true, Ordering::Relaxed);
        if self.process != std::process::id() {
            // Its locks may be held by threads that are not here.
            std::mem::forget(self.pool.take());
        }
    }
}
