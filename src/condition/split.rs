//! A log of several brews becomes several logs.

use crate::condition::options::ConditionOptions;
use crate::condition::stage::{further_brews, ordered, repaired};
use crate::error::{Error, Result};
use crate::log::record::Log;

/// The brews of a log, each as a log of its own, in order of time; a log of one brew is returned as it is.
///
/// Another brew begins if the vessel is emptied or exchanged after a brew, or if the zero key is pressed in a pause of
/// the water of `brew_gap_s` or more. Readings without a vessel between two brews are in neither.
///
/// ```
/// use pourline::{ConditionOptions, Recipe, simulate, split};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// assert_eq!(split(&log, &ConditionOptions::default())?, [log]);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// As [`condition`](fn@crate::condition).
pub fn split(log: &Log, options: &ConditionOptions) -> Result<Vec<Log>> {
    options.check()?;
    if log.len() < 2 {
        return Err(Error::TooShort { samples: log.len(), needed: 2 });
    }
    let (order, _) = ordered(log);
    let (water, beverage) = repaired(log, &order, options);
    let further = further_brews(water.as_ref(), beverage.as_ref());
    if further.is_empty() {
        return Ok(vec![log.clone()]);
    }
    let starts = std::iter::once(0).chain(further.iter().map(|next| next.start));
    let ends = further.iter().map(|next| next.end).chain([log.len()]);
    let brews = starts.zip(ends).enumerate().map(|(k, (start, end))| {
        let mut rows = order.log_index[start..end].to_vec();
        rows.sort_unstable();
        log.part(&rows, &format!("brew {} of {}", k + 1, further.len() + 1))
    });
    Ok(brews.collect())
}
