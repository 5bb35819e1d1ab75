//! The stage: extraction by the mass balance of this brew.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::extraction::assumed::is_assumed;
use crate::extraction::balance::Number;
use crate::extraction::given::{all, finite, positive, stated};
use crate::extraction::inputs::{DOSE, Inputs, numbers, with_sd};
use crate::extraction::options::ExtractionOptions;
use crate::extraction::result::{BeverageSource, Convention, Extraction};
use crate::extraction::retained::Retained;
use crate::extraction::{budget, warnings};
use crate::log::meta::Meta;

/// Extraction from the strength, the dose and this brew's own masses. Never fails: an undefined number states its
/// reason.
///
/// If a mass was not weighed, `water_g` or `beverage_g` is the reason. Masses, dose and strength are assumed
/// independent.
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
    let inputs = Inputs::gather(meta, water_g, beverage_g, options);
    let (water_g, dose_g) = (inputs.at("water_g"), inputs.at("dose_g"));
    let beverage_g = inputs.beverage_g();
    let Retained { retention_g_per_g, retained_water_g_per_g } = Retained::of(&inputs, options);

    let counted = match options.convention {
        Convention::Percolation => inputs.beverage(),
        Convention::Immersion => &["water_g"],
    };
    let yield_names = [&inputs.strength(), counted, &DOSE].concat();
    let worked_out = inputs.pick(&yield_names).and_then(|picked| {
        let found = inputs.formula(&numbers(&picked), |b| b.yield_pct())?;
        Ok(budget::budget(found, &picked))
    });
    let (yield_pct, budget) = worked_out.unwrap_or_else(|why| (Err(why), Vec::new()));
    let cup_g = match options.bypass_g {
        Some(_) => all([&beverage_g, &inputs.at("bypass_g")]).and_then(|[b, p]| finite("cup_g", b.plus(p))),
        None => beverage_g.clone(),
    };
    let spent = inputs.spent();
    let spent_water_g_per_g = inputs
        .work_out("dry mass of the spent bed", &spent, |b| b.spent_dry_g())
        .and_then(|dry| positive("dry mass of the spent bed", dry))
        .and_then(|_| inputs.work_out("spent_water_g_per_g", &spent, |b| b.spent_water_g_per_g()))
        .and_then(|water| positive("spent_water_g_per_g", water));
    // q/(1 + q), whose derivative is 1/(1 + q)^2.
    let wet_basis = |q: Estimate| Estimate::new(q.value / (1.0 + q.value), q.sd / (1.0 + q.value).powi(2));
    let spent_moisture_pct = spent_water_g_per_g.clone().map(|q| wet_basis(q).scaled(100.0));
    let average_g = stated("average_beverage_g", options.average_beverage_g, 0.0);
    let retention = stated("retention_g_per_g", options.retention_g_per_g, 0.0);

    let mut found = Extraction {
        yield_pct,
        strength_pct: inputs.work_out("strength_pct", &inputs.strength(), |b| b.strength_pct()),
        brew_ratio: all([&water_g, &dose_g]).and_then(|[w, d]| positive("brew_ratio", w.over(d))),
        retention_g_per_g,
        retained_water_g_per_g,
        spent_water_g_per_g,
        spent_moisture_pct,
        water_g,
        beverage_g,
        cup_g,
        cup_strength_pct: inputs
            .work_out("cup_strength_pct", &inputs.cup_strength(), |b| b.cup_strength_pct()),
        convention: options.convention,
        beverage_source: inputs.source,
        budget,
        average_beverage_error_pct: guess_error(&inputs, &yield_names, "beverage_g", average_g),
        stated_retention_error_pct: guess_error(&inputs, &yield_names, "retention_g_per_g", retention),
        assumed_sd: inputs.known().filter(|name| is_assumed(name, meta, options)).map(Into::into).collect(),
        warnings: Vec::new(),
    };
    found.warnings = warnings::warnings(&found, meta);
    found
}

/// Yield by an assumed beverage mass or retention, less the yield by this brew's own beverage, percentage points.
fn guess_error(inputs: &Inputs, yield_names: &[&str], name: &str, guess: Maybe) -> Maybe {
    let guess = guess?;
    if inputs.source == Some(BeverageSource::FromRetention) {
        return Err(Undefined::because("the beverage was not weighed"));
    }
    if !yield_names.contains(&"beverage_g") {
        return Err(Undefined::because("the yield of full immersion does not depend on the beverage's mass"));
    }
    let by_water: &[&str] = if name == "retention_g_per_g" { &["water_g"] } else { &[] };
    let picked = inputs.pick(&[yield_names, by_water].concat())?;
    let own = numbers(&picked);
    let mut guessed: Vec<_> = own.iter().copied().filter(|(known, _)| *known != "beverage_g").collect();
    guessed.push((name, Number::constant(guess.value)));
    let error = inputs.formula(&guessed, |b| b.yield_pct())? - inputs.formula(&own, |b| b.yield_pct())?;
    finite("error of the yield", with_sd(error, &picked))
}
