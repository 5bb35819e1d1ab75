//! Whether the readings of each pour fit the pour model.

use crate::brew::checks::found::Found;
use crate::segment::pour::Pour;

/// Least root of the excess for a warning, in sd. Set on the brews of docs/faults.md without a fault: residuals of
/// knocks in a pour with few samples reach 4.6, and its sd include them.
const TIMES: f64 = 6.0;

/// Readings that do not fit the detected pours.
pub(super) fn unlike(found: &Found) -> Option<String> {
    let fit = found.segments.fit.as_ref().filter(|_| !found.by_hand)?;
    let contradicted: Vec<_> = fit.groups.iter().filter(|g| g.excess >= TIMES * TIMES).collect();
    let in_one = |p: &&Pour| {
        contradicted.iter().any(|g| match (g.bursts.first(), g.bursts.last()) {
            (Some(first), Some(last)) => p.start_s.value < last.end_s() && p.end_s.value > first.start_s(),
            _ => false,
        })
    };
    let named = |(place, p): (usize, &Pour)| {
        let [from_s, to_s] = [p.start_s, p.end_s].map(|edge| found.since_start(edge.value));
        format!("pour {place} ({from_s:.1} to {to_s:.1} s)")
    };
    let pours: Vec<String> = (1..).zip(&found.segments.pours).filter(|(_, p)| in_one(p)).map(named).collect();
    let most = contradicted.iter().map(|g| g.excess).fold(0.0, f64::max);
    let (do_not, their) = if pours.len() > 1 { ("do not", "Their") } else { ("does not", "Its") };
    (!pours.is_empty()).then(|| {
        format!(
            "{} {do_not} fit the pour model: residuals reach {:.0} sd. {their} numbers may be wrong beyond \
             their sd; check vessel and clock",
            pours.join(" and "),
            most.sqrt()
        )
    })
}
