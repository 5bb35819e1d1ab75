//! In: an [`Extraction`]. Out: what in it looks impossible or unusual, in sentences.

use crate::extraction::result::{BeverageSource, Extraction};
use crate::log::meta::Meta;

/// Some 30 % of roasted coffee dissolves in water (common practice, no source): well above it, an input is wrong.
const MOST_YIELD_PCT: f64 = 35.0;
/// Quoted retentions, g/g (common practice, no source).
const USUAL_RETENTION_G_PER_G: std::ops::RangeInclusive<f64> = 1.5..=2.5;

pub(super) fn warnings(found: &Extraction, meta: &Meta) -> Vec<String> {
    let mut warnings = Vec::new();
    if meta.tds_pct.is_some() && meta.brix_pct.is_some() {
        warnings.push("both tds_pct and brix_pct were given: tds_pct was taken".into());
    }
    if let Ok(found) = &found.yield_pct {
        let value = found.value;
        if value > 100.0 {
            warnings.push(format!("a yield of {value:.1} % is more than the whole dose: an input is wrong"));
        } else if value > MOST_YIELD_PCT {
            warnings.push(format!(
                "a yield of {value:.1} % is more than coffee gives to water, some 30 %: check dose, strength and beverage"
            ));
        }
    }
    match (found.beverage_source, &found.water_g, &found.beverage_g, &found.retention_g_per_g) {
        (Some(BeverageSource::Weighed), Ok(water), Ok(beverage), _) if beverage.value > water.value => {
            warnings.push(format!(
                "the beverage, {:.1} g, weighs more than the water poured, {:.1} g",
                beverage.value, water.value
            ));
        }
        (Some(BeverageSource::FromRetention), _, _, Ok(kept))
            if !USUAL_RETENTION_G_PER_G.contains(&kept.value) =>
        {
            warnings.push(format!("a retention of {} g/g lies outside the usual 1.5 to 2.5", kept.value));
        }
        _ => {}
    }
    warnings
}
