//! In: what labels changed. Out: what a reader has to know of it.

use crate::brew::labels::Labelled;
use crate::estimate::Estimate;
use crate::segment::pour::{Pour, Segments};

/// A sum of masses that differs by less than this many sd has not changed.
const CLEAR: f64 = 3.0;

/// Sentences without their full stop.
pub(super) fn warnings(labelled: &Labelled, found: &Segments, now: &Segments) -> Vec<String> {
    let edges: usize = labelled.pours.iter().map(|p| usize::from(p.start) + usize::from(p.end)).sum();
    let mut told = Vec::new();
    if edges > 0 {
        let sd_s = labelled.labels.sd_s;
        told.push(format!(
            "{} set by hand, each with an sd of {sd_s} s",
            count(edges, "edge was", "edges were")
        ));
    }
    let added: Vec<String> =
        (1..).zip(&labelled.pours).filter(|(_, p)| p.added).map(|(k, _): (usize, _)| k.to_string()).collect();
    if !added.is_empty() {
        told.push(format!("pour {} was added by hand: none was found there", added.join(", ")));
    }
    if labelled.removed > 0 {
        told.push(format!(
            "{} removed by hand: that water counts in no pour, and as a spray in the agitation",
            count(labelled.removed, "pour that was found was", "pours that were found were")
        ));
    }
    for (place, label) in (1..).zip(&labelled.labels.pours) {
        let over: Vec<String> = (1..)
            .zip(&found.pours)
            .filter(|(_, p)| label.meets(p))
            .map(|(k, _): (usize, _)| k.to_string())
            .collect();
        if over.len() > 1 {
            told.push(format!("pour {place} joins pours {} as they were found", over.join(" and ")));
        }
    }
    told.extend(water(found, now));
    told
}

/// Whether the pours hold another mass than those that were found.
fn water(found: &Segments, now: &Segments) -> Option<String> {
    let sum = |pours: &[Pour]| pours.iter().map(|p| p.mass_g).fold(Estimate::exact(0.0), Estimate::plus);
    let (before, after) = (sum(&found.pours), sum(&now.pours));
    let apart = (after.value - before.value).abs();
    (apart > CLEAR * before.sd.max(after.sd) && apart > 0.5).then(|| {
        format!(
            "the pours hold {:.1} g of water, those that were found {:.1} g: retention rests on the pours, flow and water held on all water",
            after.value, before.value
        )
    })
}

fn count(n: usize, one: &str, more: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { more })
}
