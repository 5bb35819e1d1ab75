//! Whether the readings of each pour are those that a pour leaves.

use super::Found;
use crate::Pour;

/// Readings of a pour are off its shape by this many times what noise, scale and hand explain. Set on the brews of docs/faults.md without a fault: what is left of
/// knocks in a pour of few samples goes up to 4.6 times, and its sd hold it.
const TIMES: f64 = 6.0;

/// Readings contradict the pour that was found in them.
pub(super) fn unlike(found: &Found) -> Option<String> {
    let fit = found.segments.fit.as_ref().filter(|_| !found.by_hand)?;
    let mut contradicted: Vec<_> = fit.groups.iter().filter(|g| g.excess >= TIMES * TIMES).collect();
    contradicted.sort_by(|a, b| b.excess.total_cmp(&a.excess));
    contradicted.into_iter().find_map(|group| {
        let (start_s, end_s) = (group.bursts.first()?.start_s(), group.bursts.last()?.end_s());
        let within = |p: &&Pour| p.start_s.value < end_s && p.end_s.value > start_s;
        let pour = found.segments.pours.iter().find(within)?;
        Some(format!(
            "the readings from {:.1} to {:.1} s are no pour's: they are off its shape by {:.0} times what scale and hand explain, as where a clock jumps or a vessel is moved while water runs; what was found there may be off by more than its sd",
            pour.start_s.value,
            pour.end_s.value,
            group.excess.sqrt()
        ))
    })
}
