//! In: jobs, one at a time. Out: what each gives, in the order of the jobs, worked out by a pool of threads.
//!
//! Results that come early wait for their turn. There is room for so many jobs and no more, so that the memory stays
//! bounded however many jobs there are.

use rayon::{ThreadPool, ThreadPoolBuilder};
use std::any::Any;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind, resume_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// Jobs under way or waiting for their turn, for each thread: one long job may take as long as these before others
/// idle.
const JOBS_PER_THREAD: usize = 16;

type Done<T> = BTreeMap<usize, Result<T, Box<dyn Any + Send>>>;

struct Shared<T> {
    done: Mutex<Done<T>>,
    one_more: Condvar,
    /// Nobody waits any longer: jobs that have not begun need not begin.
    unwanted: AtomicBool,
}

impl<T> Shared<T> {
    fn done(&self) -> MutexGuard<'_, Done<T>> {
        self.done.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The jobs under way, and what they gave.
pub(super) struct Ordered<T> {
    /// Threads of its own; without them those that all share.
    pool: Option<ThreadPool>,
    shared: Arc<Shared<T>>,
    given: usize,
    taken: usize,
}

impl<T: Send + 'static> Ordered<T> {
    /// With a number of threads, or with those of the pool that all share (`RAYON_NUM_THREADS`, or one a core).
    pub(super) fn new(threads: Option<usize>) -> Result<Self, rayon::ThreadPoolBuildError> {
        let pool = threads.map(|n| ThreadPoolBuilder::new().num_threads(n).build()).transpose()?;
        let shared = Shared {
            done: Mutex::new(BTreeMap::new()),
            one_more: Condvar::new(),
            unwanted: AtomicBool::new(false),
        };
        Ok(Self { pool, shared: Arc::new(shared), given: 0, taken: 0 })
    }

    /// Whether there is room for one job more.
    pub(super) fn has_room(&self) -> bool {
        let threads =
            self.pool.as_ref().map_or_else(rayon::current_num_threads, ThreadPool::current_num_threads);
        self.given - self.taken < JOBS_PER_THREAD * threads
    }

    /// Whether all that was given has been taken.
    pub(super) fn is_empty(&self) -> bool {
        self.given == self.taken
    }

    /// Gives one job more.
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

    /// Takes the result whose turn it is, if it comes within that time. A job that panicked panics here.
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
    }
}
