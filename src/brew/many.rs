//! In: many logs. Out: their brews, in the same order.

use crate::brew::analyze::analyze;
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::condition::split::split;
use crate::error::Result;
use crate::log::record::Log;
use rayon::prelude::*;

/// Analyses each brew of a log that may hold several, in order of time: [`split`], then [`analyze`].
///
/// ```
/// use pourline::{Options, Recipe, analyze_all, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// assert_eq!(analyze_all(&log, &Options::default())?.len(), 1);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// As [`analyze`].
pub fn analyze_all(log: &Log, options: &Options) -> Result<Vec<Brew>> {
    split(log, &options.condition)?.iter().map(|log| analyze(log, options)).collect()
}

/// Analyses many logs on all cores. The results are in the order of the logs; a failed one is its error.
///
/// ```
/// use pourline::{Options, Recipe, analyze_many, simulate};
/// let logs = [simulate(&Recipe::default(), 1)?.0, simulate(&Recipe::default(), 2)?.0];
/// assert_eq!(analyze_many(&logs, &Options::default()).len(), 2);
/// # Ok::<(), pourline::Error>(())
/// ```
#[must_use]
pub fn analyze_many(logs: &[Log], options: &Options) -> Vec<Result<Brew>> {
    logs.par_iter().map(|log| analyze(log, options)).collect()
}
