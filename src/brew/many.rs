//! In: many logs. Out: their brews, in the same order.

use crate::brew::analyze::analyze;
use crate::brew::options::Options;
use crate::brew::result::Brew;
use crate::error::Result;
use crate::log::record::Log;
use rayon::prelude::*;

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
