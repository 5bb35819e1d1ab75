//! In: an [`Extraction`]. Out: warnings on impossible or unusual numbers, each a sentence without its full stop.

use crate::extraction::result::{BeverageSource, Extraction};
use crate::log::meta::Meta;

/// About 30 % of roasted coffee is soluble in water (common practice, no source): well above it, an input is wrong.
const MOST_YIELD_PCT: f64 = 35.0;
/// Quoted retentions, g/g (common practice, no source).
const USUAL_RETENTION_G_PER_G: std::ops::RangeInclusive<f64> = 1.5..=2.5;

pub(super) fn warnings(found: &Extraction, meta: &Meta) -> Vec<String> {
    let mut warnings = Vec::new();
    if meta.tds_pct.is_some() && meta.brix_pct.is_some() {
        warnings.push("both tds_pct and brix_pct were given: the yield uses tds_pct; remove one".into());
    }
    if let Ok(found) = &found.yield_pct {
        let value = found.value;
        if value > 100.0 {
            warnings.push(format!(
                "the yield of {value:.1} % exceeds the whole dose: an input is wrong; check dose, strength and beverage"
            ));
        } else if value > MOST_YIELD_PCT {
            warnings.push(format!(
                "the yield of {value:.1} % is implausible, since about 30 % of coffee is soluble: check dose, strength \
                 and beverage"
            ));
        }
    }
    match (found.beverage_source, &found.water_g, &found.beverage_g, &found.retention_g_per_g) {
        (Some(BeverageSource::Weighed), Ok(water), Ok(beverage), _) if beverage.value > water.value => {
            warnings.push(format!(
                "the beverage ({:.1} g) weighs more than the water poured ({:.1} g), so retention is negative: check \
                 for exchanged columns or unlogged water",
                beverage.value, water.value
            ));
        }
        (Some(BeverageSource::FromRetention), _, _, Ok(retention))
            if !USUAL_RETENTION_G_PER_G.contains(&retention.value) =>
        {
            warnings.push(format!(
                "the stated retention of {} g/g is outside the usual 1.5 to 2.5: the yield may be wrong; \
                 weigh the beverage",
                retention.value
            ));
        }
        _ => {}
    }
    warnings
}
