//! In: the changes by labels. Out: warnings on them.

use crate::brew::labels::Labelled;
use crate::estimate::Estimate;
use crate::segment::pour::{Pour, Segments};

/// Least significant change of the summed mass, in sd.
const SIGNIFICANT: f64 = 3.0;

/// Warnings, each a sentence without its full stop.
pub(super) fn warnings(labelled: &Labelled, found: &Segments, now: &Segments) -> Vec<String> {
    let edges: usize = labelled.pours.iter().map(|p| usize::from(p.start) + usize::from(p.end)).sum();
    let mut warnings = Vec::new();
    if edges > 0 {
        let sd_s = labelled.labels.sd_s;
        warnings.push(format!(
            "{} set by hand, each with an sd of {sd_s} s",
            count(edges, "edge was", "edges were")
        ));
    }
    let added: Vec<String> =
        (1..).zip(&labelled.pours).filter(|(_, p)| p.added).map(|(k, _): (usize, _)| k.to_string()).collect();
    if !added.is_empty() {
        warnings.push(format!("pour {} was added by hand: none was detected there", added.join(", ")));
    }
    if labelled.removed > 0 {
        warnings.push(format!(
            "{} removed by hand: its water counts in no pour, and as a splash in the agitation",
            count(labelled.removed, "detected pour was", "detected pours were")
        ));
    }
    for (place, label) in (1..).zip(&labelled.labels.pours) {
        let over: Vec<String> = (1..)
            .zip(&found.pours)
            .filter(|(_, p)| label.meets(p))
            .map(|(k, _): (usize, _)| k.to_string())
            .collect();
        if over.len() > 1 {
            warnings.push(format!("pour {place} joins the detected pours {}", over.join(" and ")));
        }
    }
    warnings.extend(water(found, now));
    warnings
}

/// Whether the summed mass differs from that of the detected pours.
fn water(found: &Segments, now: &Segments) -> Option<String> {
    let sum = |pours: &[Pour]| pours.iter().map(|p| p.mass_g).fold(Estimate::exact(0.0), Estimate::plus);
    let (before, after) = (sum(&found.pours), sum(&now.pours));
    let apart = (after.value - before.value).abs();
    (apart > SIGNIFICANT * before.sd.max(after.sd) && apart > 0.5).then(|| {
        format!(
            "the pours hold {:.1} g of water, the detected pours {:.1} g: retention follows the labels, flow and \
             holdup follow all water; check the edges",
            after.value, before.value
        )
    })
}

fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}
