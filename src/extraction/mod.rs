//! In: what is known of the brew, its water and its beverage. Out: [`Extraction`]: yield, strength, brew ratio, retention.
//!
//! Method: the mass balance of percolation, with an uncertainty budget of first order (JCGM 100:2008, 5.1.2).
//! With strength T, beverage B, dose D, water W and retention r = (W - B)/D the yield is T B/D = T (W/D - r)
//! (Batali, Ristenpart, Guinard 2020, Sci. Rep. 10, doi 10.1038/s41598-020-73341-4).

mod budget;
mod cautions;
mod inputs;
mod result;
pub use result::{BeverageSource, BudgetRow, Convention, Extraction};

use crate::{Error, Maybe, Meta, Result, Undefined};
use inputs::{all, finite, positive, stated};
use serde::{Deserialize, Serialize};

/// Options of [`extraction`]: what stands in for numbers that were not measured.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ExtractionOptions {
    /// Water that a gram of dose keeps, (water - beverage)/dose, g/g; above 0. Used only where the beverage was not
    /// weighed; absent, the yield of such a brew is undefined. Quoted values run from 1.5 to 2.5 and depend on the
    /// roast (common practice, no source).
    pub retention_g_per_g: Option<f64>,
    /// Standard uncertainty of that retention, g/g; 0 or more. 0.3 is a uniform spread from 1.5 to 2.5.
    pub retention_sd_g_per_g: f64,
    /// Beverage mass taken for every brew alike, g; above 0. Given to see what that shortcut costs this brew.
    pub average_beverage_g: Option<f64>,
    /// Standard uncertainty of a dose that comes without one, g; 0 or more. 0.1 g steps, uniform: JCGM 100:2008, 4.3.7.
    pub dose_sd_g: f64,
    /// Standard uncertainty of a strength that comes without one, percentage points; 0 or more.
    pub tds_sd_pct: f64,
}

impl Default for ExtractionOptions {
    fn default() -> Self {
        Self {
            retention_g_per_g: None,
            retention_sd_g_per_g: 0.3,
            average_beverage_g: None,
            dose_sd_g: 0.1 / 12_f64.sqrt(),
            tds_sd_pct: 0.03,
        }
    }
}

impl ExtractionOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let above_0 = [
            ("extraction.retention_g_per_g", self.retention_g_per_g),
            ("extraction.average_beverage_g", self.average_beverage_g),
        ];
        for (name, value) in above_0 {
            if let Some(value) = value.filter(|value| !(value.is_finite() && *value > 0.0)) {
                return Err(Error::OutOfRange {
                    name: name.into(),
                    value,
                    rule: "it must be above 0".into(),
                    row: 0,
                });
            }
        }
        let from_0 = [
            ("extraction.retention_sd_g_per_g", self.retention_sd_g_per_g),
            ("extraction.dose_sd_g", self.dose_sd_g),
            ("extraction.tds_sd_pct", self.tds_sd_pct),
        ];
        for (name, value) in from_0 {
            if !(value.is_finite() && value >= 0.0) {
                return Err(Error::OutOfRange {
                    name: name.into(),
                    value,
                    rule: "it must be 0 or more".into(),
                    row: 0,
                });
            }
        }
        Ok(())
    }
}

/// Extraction from the strength, the dose and this brew's own masses. Never fails: what cannot be had says why.
///
/// Where a mass was not weighed, `water_g` or `beverage_g` is the reason. Masses, dose and strength are taken as independent.
///
/// ```
/// use pourline::{Estimate, ExtractionOptions, Meta, extraction};
/// let meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.38), ..Meta::default() };
/// let (water_g, beverage_g) = (Estimate::new(270.0, 0.1), Estimate::new(240.0, 0.1));
/// let found = extraction(&meta, Ok(water_g), Ok(beverage_g), &ExtractionOptions::default());
/// assert!((found.yield_pct.unwrap().value - 22.08).abs() < 1e-9);
/// assert!((found.retention_g_per_g.unwrap().value - 2.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn extraction(meta: &Meta, water_g: Maybe, beverage_g: Maybe, options: &ExtractionOptions) -> Extraction {
    let dose_g = stated("dose_g", meta.dose_g, meta.dose_sd_g.unwrap_or(options.dose_sd_g));
    let strength_pct = stated("tds_pct", meta.tds_pct, meta.tds_sd_pct.unwrap_or(options.tds_sd_pct));
    let strength_pct = strength_pct.and_then(|tds| match tds.value {
        ..=100.0 => Ok(tds),
        above => Err(Undefined::because(format!("tds_pct is {above}: it must be at most 100"))),
    });
    let water_g = water_g.and_then(|water| positive("water_g", water));
    let brew_ratio = all([&water_g, &dose_g]).and_then(|[w, d]| positive("brew_ratio", w.over(d)));

    let (beverage_source, beverage_g, retention_g_per_g) = beverage(&water_g, beverage_g, &dose_g, options);

    let (yield_pct, budget) = match all([&strength_pct, &beverage_g, &dose_g]) {
        Ok([t, b, d]) => match (beverage_source, &water_g, &retention_g_per_g) {
            (Some(BeverageSource::FromRetention), Ok(w), Ok(r)) => budget::by_retention(t, *w, *r, d),
            _ => budget::weighed(t, b, d),
        },
        Err(why) => (Err(why), Vec::new()),
    };
    let own_g = match beverage_source {
        Some(BeverageSource::FromRetention) => Err(Undefined::because("the beverage was not weighed")),
        _ => beverage_g.clone(),
    };
    let average_g = stated("average_beverage_g", options.average_beverage_g, 0.0);
    let average_beverage_error_pct = all([&average_g, &own_g, &strength_pct, &dose_g])
        .and_then(|[a, b, t, d]| finite("average_beverage_error_pct", a.minus(b).times(t).over(d)));

    let mut found = Extraction {
        yield_pct,
        strength_pct,
        brew_ratio,
        retention_g_per_g,
        water_g,
        beverage_g,
        convention: Convention::Percolation,
        beverage_source,
        budget,
        average_beverage_error_pct,
        cautions: Vec::new(),
    };
    found.cautions = cautions::cautions(&found);
    found
}

/// Where the beverage mass comes from, the mass, and the retention.
fn beverage(
    water_g: &Maybe,
    beverage_g: Maybe,
    dose_g: &Maybe,
    options: &ExtractionOptions,
) -> (Option<BeverageSource>, Maybe, Maybe) {
    match (beverage_g, options.retention_g_per_g) {
        // One that was weighed and makes no sense stays undefined: a guess must not take its place unseen.
        (Ok(weighed), _) => {
            let beverage_g = positive("beverage_g", weighed);
            let retention = all([water_g, &beverage_g, dose_g])
                .and_then(|[w, b, d]| finite("retention_g_per_g", w.minus(b).over(d)));
            (Some(BeverageSource::Weighed), beverage_g, retention)
        }
        (Err(_), retention @ Some(_)) => {
            let retention = stated("retention_g_per_g", retention, options.retention_sd_g_per_g);
            let beverage_g = all([water_g, &retention, dose_g])
                .and_then(|[w, r, d]| positive("water_g less what the dose keeps", w.minus(r.times(d))));
            (Some(BeverageSource::FromRetention), beverage_g, retention)
        }
        (Err(why), None) => {
            let why = Undefined::because(format!("{}; retention_g_per_g was not given", why.reason));
            (None, Err(why.clone()), Err(why))
        }
    }
}
