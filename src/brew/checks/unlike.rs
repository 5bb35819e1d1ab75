//! Whether the readings of each pour are those that a pour leaves.

use crate::brew::checks::found::Found;
use crate::segment::pour::Pour;

/// Readings of a pour are off its shape by this many times what noise, scale and hand explain. Set on the brews of docs/faults.md without a fault: what is left of
/// knocks in a pour of few samples goes up to 4.6 times, and its sd hold it.
const TIMES: f64 = 6.0;

/// Readings contradict the pours that were found in them.
pub(super) fn unlike(found: &Found) -> Option<String> {
    let fit = found.segments.fit.as_ref().filter(|_| !found.by_hand)?;
    let contradicted: Vec<_> = fit.groups.iter().filter(|g| g.excess >= TIMES * TIMES).collect();
    let in_one = |p: &&Pour| {
        contradicted.iter().any(|g| match (g.bursts.first(), g.bursts.last()) {
            (Some(first), Some(last)) => p.start_s.value < last.end_s() && p.end_s.value > first.start_s(),
            _ => false,
        })
    };
    let of = |p: &Pour| format!("from {:.1} to {:.1} s", p.start_s.value, p.end_s.value);
    let places: Vec<String> = found.segments.pours.iter().filter(in_one).map(of).collect();
    let most = contradicted.iter().map(|g| g.excess).fold(0.0, f64::max);
    (!places.is_empty()).then(|| {
        format!(
            "the readings {} are no pour's: they are off its shape by up to {:.0} times what scale and hand explain, as where a clock jumps or a vessel is moved while water runs; what was found there may be off by more than its sd",
            places.join(" and "),
            most.sqrt()
        )
    })
}
