//! Whether a second bed of coffee was wetted.
//!
//! A bed that has drained holds what it keeps for good. Water poured on it later comes out again, all of it; only dry coffee keeps more.

use super::Found;

/// What a drained bed may keep more than before, as a share: grounds swell, and drain the better the longer they stand.
const MORE: f64 = 0.3;
/// The bed has drained where less than this runs, g/s.
const DRAINED_G_PER_S: f64 = 0.15;

/// The drained bed holds much more at a later instant than at an earlier one.
pub(super) fn two_brews(found: &Found) -> Option<String> {
    let curve = found.bed.curve.as_ref().ok()?;
    let last = curve.beverage_g.iter().rposition(|b| b.is_finite())?;
    let before_pours = found.segments.pours.iter().skip(1).map(|p| {
        let start_s = p.start_s.value - 3.0 * p.start_s.sd;
        curve.time_s.partition_point(|&t| t < start_s).saturating_sub(1)
    });
    let drained: Vec<usize> = before_pours
        .chain([last])
        .filter(|&i| curve.held_g[i].is_finite() && curve.beverage_flow_g_per_s[i] < DRAINED_G_PER_S)
        // Before it has let through as much as it holds, the bed was not wet all over.
        .filter(|&i| curve.beverage_g[i] > curve.held_g[i].max(0.0))
        .collect();
    let (&first, &then) = (drained.first()?, drained.last()?);
    let (held, later) = (curve.held_g[first], curve.held_g[then]);
    let sd = curve.held_sd_g[first].hypot(curve.held_sd_g[then]);
    (held > 5.0 * sd && later - held > MORE * held + 5.0 * sd).then(|| {
        format!(
            "the bed had drained at {:.0} s and held {held:.1} g, and holds {later:.1} g at {:.0} s: only dry coffee keeps more, so there are two brews in this log, or beverage was lost",
            curve.time_s[first], curve.time_s[then]
        )
    })
}
