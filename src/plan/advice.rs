//! In: the rows of a followed plan. Out: the one thing to work on next.
//!
//! A missed pour comes first, then one that is not in the plan, then the item that is clearly off by the most tolerances.

use crate::estimate::{Estimate, Maybe};
use crate::plan::followed::{ExtraPour, FollowedPour};
use crate::plan::kept::Kept;

/// A difference from the plan in words.
struct Off {
    kept: Kept,
    tolerances: f64,
    sentence: String,
}

pub(super) fn advice(pours: &[FollowedPour], extra: &[ExtraPour]) -> String {
    if let Some(missed) = pours.iter().position(|row| row.pour.is_none()) {
        return format!("Pour {} of the plan was missed.", missed + 1);
    }
    if let Some(ExtraPour { pour, start_s, mass_g }) = extra.first() {
        let when = start_s.as_ref().map_or(String::new(), |start| format!(" after {:.1} s", start.value));
        return format!("The brew's pour {pour}, {:.1} g{when}, is not in the plan.", mass_g.value);
    }
    let all: Vec<Off> = (1..).zip(pours).flat_map(|(place, row)| differences(place, row)).collect();
    let most = |kept: Kept| {
        let of = all.iter().filter(|off| off.kept == kept);
        of.max_by(|a, b| a.tolerances.total_cmp(&b.tolerances)).map(|off| &off.sentence)
    };
    match (most(Kept::No), most(Kept::TooNear)) {
        (Some(off), _) => format!("{off}."),
        (None, Some(near)) => {
            format!("Nothing is clearly outside its tolerance; too near to tell: {near}.")
        }
        (None, None) => "Nothing is outside its tolerance.".into(),
    }
}

fn differences(place: usize, row: &FollowedPour) -> Vec<Off> {
    let p = &row.planned;
    let off = |by: &Maybe, kept: Option<Kept>, within: f64, unit: &str, words: [&str; 3]| {
        let (by, kept) = (by.as_ref().ok()?, kept?);
        let [verb, above, below] = words;
        let size = Estimate::new(by.value.abs(), by.sd);
        let side = if by.value < 0.0 { below } else { above };
        let sentence = format!("Pour {place} {verb} {size} {unit} {side}; {within} {unit} are allowed");
        Some(Off { kept, tolerances: by.value.abs() / within, sentence })
    };
    [
        off(&row.late_by_s, row.start_kept, p.start_within_s, "s", ["starts", "late", "early"]),
        off(&row.short_by_g, row.mass_kept, p.mass_within_g, "g", ["is", "short", "over"]),
        off(
            &row.too_fast_by_g_per_s,
            row.flow_kept,
            p.flow_within_g_per_s,
            "g/s",
            ["flows", "too fast", "too slow"],
        ),
    ]
    .into_iter()
    .flatten()
    .collect()
}
