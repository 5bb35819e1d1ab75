//! Whether the log ends while water is running.

use super::Found;
use crate::Flag;

/// A pour has ended once no water came for as long as a pause within a pour may last.
pub(super) fn cut(found: &Found) -> Option<String> {
    let (trace, pour) = (found.trace, found.segments.pours.last()?);
    let water = trace.water.as_ref()?;
    let last = (0..trace.time_s.len()).rev().find(|&i| water.flag[i] == Flag::Used)?;
    let seen_s = trace.time_s[last] - found.segments.scale_lag_s.value;
    (seen_s - pour.end_s.value < found.options.pause_s).then(|| {
        format!(
            "the log ends at {:.1} s, in pour {} or too soon after it to know that it had ended: its end, mass and duration are those of what was logged",
            trace.time_s[last],
            found.segments.pours.len()
        )
    })
}
