//! In: the events of the trace, and the fitted bursts. Out: other disturbances of the bed, counted from each pour's
//! start to that of the next.

use crate::condition::trace::{Event, EventKind, Trace};
use crate::segment::pour::Segments;

/// Disturbances of the bed other than pours.
///
/// - measures: the number of swirls, lifts and knocks of the vessel, and of splashes of water too small for a pour
/// - formula: counts of events from the start of the pour until that of the next; one that both scales record counts
///   once
/// - needs: the trace
/// - valid when: the vessel stands on a scale; its weight does not distinguish a stir from a swirl, and one without
///   force is not detected
/// - reference: the events of `condition`, and the bursts of `segment` that lie outside every pour
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Disturbances {
    pub swirls: usize,
    pub lifts: usize,
    pub knocks: usize,
    pub splashes: usize,
}

/// From pour `k` to the next.
pub(super) fn disturbances(trace: &Trace, segments: &Segments, k: usize) -> Disturbances {
    let from_s = segments.pours[k].start_s.value;
    let to_s = segments.pours.get(k + 1).map_or(f64::INFINITY, |next| next.start_s.value);
    let within = |t: f64| (from_s..to_s).contains(&t);
    let count = |kind: EventKind| {
        let of_kind = |e: &&Event| e.kind == kind && within(e.start_s);
        let (mut count, mut until_s) = (0, f64::NEG_INFINITY);
        for event in trace.events.iter().filter(of_kind) {
            count += usize::from(event.start_s > until_s);
            until_s = until_s.max(event.end_s);
        }
        count
    };
    let bursts = segments.fit.iter().flat_map(|fit| &fit.groups).flat_map(|group| &group.bursts);
    // The cheap filter first: a long log has many pours.
    let here = bursts.filter(|b| within(b.middle_s()));
    let outside_pours = here.filter(|burst| !segments.pours.iter().any(|pour| pour.has(burst)));
    Disturbances {
        swirls: count(EventKind::Swirl),
        lifts: count(EventKind::Lift),
        knocks: count(EventKind::Knock),
        splashes: outside_pours.count(),
    }
}
