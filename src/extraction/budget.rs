//! In: the inputs of a yield. Out: the yield with its sd, and what each input adds to it: first order, independent inputs
//! (JCGM 100:2008, 5.1.2).

use super::BudgetRow;
use super::inputs::positive;
use crate::{Estimate, Maybe};

/// Yield of a brew whose beverage was weighed: T B/D.
pub(super) fn weighed(t: Estimate, b: Estimate, d: Estimate) -> (Maybe, Vec<BudgetRow>) {
    let yield_pct = t.value * b.value / d.value;
    budget(
        yield_pct,
        vec![
            ("tds_pct", t, b.value / d.value),
            ("beverage_g", b, t.value / d.value),
            ("dose_g", d, -yield_pct / d.value),
        ],
    )
}

/// Yield of a brew whose beverage is taken from its water and a retention: T (W/D - r).
pub(super) fn by_retention(t: Estimate, w: Estimate, r: Estimate, d: Estimate) -> (Maybe, Vec<BudgetRow>) {
    let ratio = w.value / d.value;
    budget(
        t.value * (ratio - r.value),
        vec![
            ("tds_pct", t, ratio - r.value),
            ("water_g", w, t.value / d.value),
            ("retention_g_per_g", r, -t.value),
            ("dose_g", d, -t.value * ratio / d.value),
        ],
    )
}

/// The sd from the inputs: name, value, sensitivity.
fn budget(yield_pct: f64, inputs: Vec<(&str, Estimate, f64)>) -> (Maybe, Vec<BudgetRow>) {
    let sd = inputs.iter().fold(0.0, |sd: f64, (_, value, sensitivity)| sd.hypot(sensitivity * value.sd));
    let rows = inputs.into_iter().map(|(name, value, sensitivity)| {
        let contribution_pct = (sensitivity * value.sd).abs();
        let share = if sd > 0.0 { (contribution_pct / sd).powi(2) } else { 0.0 };
        BudgetRow { name: name.into(), value, sensitivity, contribution_pct, share }
    });
    match positive("yield_pct", Estimate::new(yield_pct, sd)) {
        Ok(known) => (Ok(known), rows.collect()),
        Err(why) => (Err(why), Vec::new()),
    }
}
