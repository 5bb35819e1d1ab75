//! In: the rows of a plan's result. Out: the one thing to work on next.
//!
//! A missed pour comes first, then one that is not in the plan, then the habit of the most tolerances. A single
//! deviation is no advice: it may be chance.

use crate::plan::habit::habits_of_one;
use crate::plan::result::{ExtraPour, PlannedPourResult};
use crate::plan::score::{Item, PlanItem};

pub(super) fn advice(pours: &[PlannedPourResult], extra: &[ExtraPour]) -> String {
    if let Some(missed) = pours.iter().position(|row| row.pour.is_none()) {
        return format!("Pour {} of the plan was missed.", missed + 1);
    }
    if let Some(ExtraPour { pour, start_s, mass_g }) = extra.first() {
        let when = start_s.as_ref().map_or(String::new(), |start| format!(" after {:.1} s", start.value));
        return format!("The brew's pour {pour}, {:.1} g{when}, is not in the plan.", mass_g.value);
    }
    if let Some(habit) = habits_of_one(pours).first() {
        return habit.says.clone();
    }
    let items = pours.iter().flat_map(|row| PlanItem::ALL.into_iter().filter_map(|what| row.item(what)));
    let is_outside = |item: Item| item.tolerances(item.deviation) > 1.0;
    if items.into_iter().any(is_outside) {
        "Nothing to work on: no deviation recurs beyond chance.".into()
    } else {
        "Nothing to work on: all is within its tolerance.".into()
    }
}
