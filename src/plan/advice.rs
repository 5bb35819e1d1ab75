//! In: the rows of a plan's result. Out: the deviation to work on next.
//!
//! A missed pour comes first, then one that is not in the plan, then the item with the largest significant deviation,
//! in tolerances.

use crate::estimate::{Estimate, Maybe};
use crate::plan::result::{ExtraPour, PlannedPourResult};
use crate::plan::within::WithinTolerance;

/// A deviation from the plan in words.
struct Deviation {
    within: WithinTolerance,
    tolerances: f64,
    sentence: String,
}

pub(super) fn advice(pours: &[PlannedPourResult], extra: &[ExtraPour]) -> String {
    if let Some(missed) = pours.iter().position(|row| row.pour.is_none()) {
        return format!("Pour {} of the plan was missed.", missed + 1);
    }
    if let Some(ExtraPour { pour, start_s, mass_g }) = extra.first() {
        let when = start_s.as_ref().map_or(String::new(), |start| format!(" after {:.1} s", start.value));
        return format!("The brew's pour {pour}, {:.1} g{when}, is not in the plan.", mass_g.value);
    }
    let all: Vec<Deviation> = (1..).zip(pours).flat_map(|(place, row)| differences(place, row)).collect();
    let most = |within: WithinTolerance| {
        let of = all.iter().filter(|off| off.within == within);
        of.max_by(|a, b| a.tolerances.total_cmp(&b.tolerances)).map(|off| &off.sentence)
    };
    match (most(WithinTolerance::No), most(WithinTolerance::TooNear)) {
        (Some(off), _) => format!("{off}."),
        (None, Some(near)) => {
            format!("Nothing is clearly outside its tolerance; too near to tell: {near}.")
        }
        (None, None) => "Nothing is outside its tolerance.".into(),
    }
}

fn differences(place: usize, row: &PlannedPourResult) -> Vec<Deviation> {
    let p = &row.planned;
    let off = |by: &Maybe, within: Option<WithinTolerance>, tolerance: f64, unit: &str, words: [&str; 3]| {
        let (by, within) = (by.as_ref().ok()?, within?);
        let [verb, above, below] = words;
        let size = Estimate::new(by.value.abs(), by.sd);
        let side = if by.value < 0.0 { below } else { above };
        let sentence = format!("Pour {place} {verb} {size} {unit} {side}; {tolerance} {unit} are allowed");
        Some(Deviation { within, tolerances: by.value.abs() / tolerance, sentence })
    };
    [
        off(
            &row.start_deviation_s,
            row.start_within_tolerance,
            p.start_within_s,
            "s",
            ["starts", "late", "early"],
        ),
        off(&row.mass_deviation_g, row.mass_within_tolerance, p.mass_within_g, "g", ["is", "over", "short"]),
        off(
            &row.flow_deviation_g_per_s,
            row.flow_within_tolerance,
            p.flow_within_g_per_s,
            "g/s",
            ["flows", "too fast", "too slow"],
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
