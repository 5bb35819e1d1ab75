//! In: a yield with its partial derivatives, and its inputs. Out: the yield with its sd, and the contribution of each
//! input: first order, independent inputs (JCGM 100:2008, 5.1.2).

use crate::estimate::{Estimate, Maybe};
use crate::extraction::balance::{Named, Number};
use crate::extraction::given::positive;
use crate::extraction::inputs::with_sd;
use crate::extraction::result::BudgetRow;

/// The yield, and one row per input; no row if the yield is undefined.
pub(super) fn budget(found: Number, inputs: &[Named<Estimate>]) -> (Maybe, Vec<BudgetRow>) {
    let whole = with_sd(found, inputs);
    let rows = inputs.iter().zip(found.slope).map(|(&(name, value), sensitivity)| {
        let contribution_pct = (sensitivity * value.sd).abs();
        let share = if whole.sd > 0.0 { (contribution_pct / whole.sd).powi(2) } else { 0.0 };
        BudgetRow { name: name.into(), value, sensitivity, contribution_pct, share }
    });
    match positive("yield_pct", whole) {
        Ok(known) => (Ok(known), rows.collect()),
        Err(why) => (Err(why), Vec::new()),
    }
}
