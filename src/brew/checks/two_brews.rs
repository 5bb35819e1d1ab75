//! Whether the log holds a second bed of coffee.
//!
//! A drained bed retains a constant mass of water. Water poured on it later drains completely; only dry coffee retains
//! more. Zeroing of both scales at once, or a long rest of a drained bed before the next pour, also indicates a second
//! brew.

use crate::bed::result::BedCurve;
use crate::brew::checks::found::Found;
use crate::condition::trace::{Channel, Event, EventKind};

/// Tolerated increase of the retained water, as a fraction: grounds swell, and drain more completely with time.
const MORE: f64 = 0.3;
/// The bed has drained if the flow is below this, g/s.
const DRAINED_G_PER_S: f64 = 0.15;

/// Longest rest of a drained bed before the next pour, s (common practice, no source).
const ALONE_S: f64 = 45.0;
/// Beverage above that of the last drops, g.
const DRIPPED_G: f64 = 2.0;
/// Longest time between two simultaneous zeroings, s.
const TOGETHER_S: f64 = 3.0;

/// The strongest evidence of the four, if any.
pub(super) fn two_brews(found: &Found) -> Option<String> {
    cut_short(found)
        .or_else(|| holds_more(found))
        .or_else(|| both_zeroed(found))
        .or_else(|| left_alone(found))
}

/// The log runs on with another brew, which was left out.
fn cut_short(found: &Found) -> Option<String> {
    let next = found.trace.events.iter().find(|e| e.kind == EventKind::NextBrew)?;
    Some(format!(
        "another brew begins at {:.0} s: only the first is analysed. Use split or analyze_all for the others",
        found.since_start(next.start_s)
    ))
}

/// Whether the bed was wet and had drained at a stamp. It is fully wet once the beverage exceeds the holdup.
fn drained(curve: &BedCurve, i: usize) -> bool {
    curve.held_g[i] > 5.0 * curve.held_sd_g[i]
        && curve.beverage_flow_g_per_s[i] < DRAINED_G_PER_S
        && curve.beverage_g[i] > curve.held_g[i]
}

/// Both scales were zeroed at once between two pours.
fn both_zeroed(found: &Found) -> Option<String> {
    let of = |channel: Channel| {
        let zeroed = move |e: &&Event| e.kind == EventKind::Zeroing && e.channel == channel;
        found.trace.events.iter().filter(zeroed).map(|e| e.start_s)
    };
    let poured = |range: std::ops::Range<f64>| {
        found.segments.pours.iter().any(|p| range.contains(&f64::midpoint(p.start_s.value, p.end_s.value)))
    };
    let at_s = of(Channel::Water).find(|&a| {
        of(Channel::Beverage).any(|b| (a - b).abs() < TOGETHER_S)
            && poured(f64::NEG_INFINITY..a)
            && poured(a..f64::INFINITY)
    })?;
    Some(format!(
        "both scales were zeroed at {:.0} s, between two pours: the log may hold two brews; if so, split it",
        found.since_start(at_s)
    ))
}

/// A pour after a long rest of the drained bed.
fn left_alone(found: &Found) -> Option<String> {
    let curve = found.bed.curve.as_ref().ok()?;
    found.segments.pours.iter().skip(1).find_map(|p| {
        let start_s = p.start_s.value - 3.0 * p.start_s.sd;
        let at = |t_s: f64| curve.time_s.partition_point(|&t| t < t_s);
        let (from, to) = (at(start_s - ALONE_S), at(start_s));
        let rose_g = || curve.beverage_g[to - 1] - curve.beverage_g[from];
        let alone = 0 < from && from < to && drained(curve, from) && rose_g() < DRIPPED_G;
        alone.then(|| {
            format!(
                "the drained bed was left alone for {ALONE_S:.0} s before the pour at {:.0} s: the log may hold two \
                 brews; if so, split it",
                found.since_start(p.start_s.value)
            )
        })
    })
}

/// The drained bed retains much more at a later instant than at an earlier one.
fn holds_more(found: &Found) -> Option<String> {
    let curve = found.bed.curve.as_ref().ok()?;
    let last = curve.beverage_g.iter().rposition(|b| b.is_finite())?;
    let before_pours = found.segments.pours.iter().skip(1).map(|p| {
        let start_s = p.start_s.value - 3.0 * p.start_s.sd;
        curve.time_s.partition_point(|&t| t < start_s).saturating_sub(1)
    });
    let drained: Vec<usize> = before_pours.chain([last]).filter(|&i| drained(curve, i)).collect();
    let (&first, &then) = (drained.first()?, drained.last()?);
    let (held, later) = (curve.held_g[first], curve.held_g[then]);
    let sd = curve.held_sd_g[first].hypot(curve.held_sd_g[then]);
    (held > 5.0 * sd && later - held > MORE * held + 5.0 * sd).then(|| {
        format!(
            "the drained bed held {held:.1} g at {:.0} s and {later:.1} g at {:.0} s: the log holds two brews, or \
             beverage was lost. Split it or check the server",
            found.since_start(curve.time_s[first]),
            found.since_start(curve.time_s[then])
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bed_has_drained_if_it_holds_water_at_a_low_flow_and_less_than_the_beverage() {
        let of = |held_g: f64, flow_g_per_s: f64, beverage_g: f64| {
            let curve = BedCurve {
                time_s: vec![0.0],
                held_g: vec![held_g],
                held_sd_g: vec![1.0],
                beverage_g: vec![beverage_g],
                beverage_sd_g: vec![0.1],
                beverage_flow_g_per_s: vec![flow_g_per_s],
                beverage_flow_sd_g_per_s: vec![0.01],
            };
            drained(&curve, 0)
        };
        assert_eq!([4.9, 5.1].map(|held_g| of(held_g, 0.1, 90.0)), [false, true]);
        assert_eq!([0.14, 0.16].map(|flow| of(20.0, flow, 90.0)), [true, false]);
        assert_eq!([19.0, 21.0].map(|beverage_g| of(20.0, 0.1, beverage_g)), [false, true]);
    }
}
