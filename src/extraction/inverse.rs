//! In: a target. Out: the water, dose, beverage or strength that meets it: the inverse of the mass balance.
//!
//! Each takes estimates, a target being [`Estimate::exact`], and gives an estimate whose sd is the uncertainty with
//! which it meets the target: first order, independent inputs (JCGM 100:2008, 5.1.2). Inputs that are not above 0 give
//! the reason. Yields are percent of the dose as weighed. All but [`immersion_strength_pct`] are for percolation.

use crate::estimate::{Estimate, Maybe};
use crate::extraction::balance::Number;
use crate::extraction::given::{all, finite, positive};

/// Numbers that must be above 0, by name.
fn above_0<const N: usize>(
    inputs: [(&str, Estimate); N],
) -> Result<[Estimate; N], crate::estimate::Undefined> {
    let checked = inputs.map(|(name, estimate)| positive(name, estimate));
    all(checked.each_ref())
}

/// Strength of the beverage at which the yield is met, percent: E D/B.
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn strength_for_pct(yield_pct: Estimate, dose_g: Estimate, beverage_g: Estimate) -> Maybe {
    let [e, d, b] = above_0([("yield_pct", yield_pct), ("dose_g", dose_g), ("beverage_g", beverage_g)])?;
    positive("strength_pct", e.times(d).over(b))
}

/// Beverage mass at which the yield is met at a strength, g: E D/T.
///
/// ```
/// use pourline::{Estimate, extraction::beverage_for_g};
/// // A yield of 22.08 % from 15 g at a strength of 1.38 %.
/// let exact = Estimate::exact;
/// let beverage_g = beverage_for_g(exact(22.08), exact(15.0), Estimate::new(1.38, 0.03)).unwrap();
/// assert!((beverage_g.value - 240.0).abs() < 1e-9 && beverage_g.sd > 5.0);
/// ```
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn beverage_for_g(yield_pct: Estimate, dose_g: Estimate, strength_pct: Estimate) -> Maybe {
    let [e, d, t] = above_0([("yield_pct", yield_pct), ("dose_g", dose_g), ("strength_pct", strength_pct)])?;
    positive("beverage_g", e.times(d).over(t))
}

/// Water to pour for a yield at a strength, g: D (E/T + r). The retention may come from
/// [`learn_retention`](super::learn_retention).
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn water_for_g(
    yield_pct: Estimate,
    dose_g: Estimate,
    strength_pct: Estimate,
    retention_g_per_g: Estimate,
) -> Maybe {
    let [d] = above_0([("dose_g", dose_g)])?;
    positive("water_g", d.times(water_to_dose(yield_pct, strength_pct, retention_g_per_g)?))
}

/// Dose for a yield and a strength in a beverage mass, g: T B/E.
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn dose_for_g(yield_pct: Estimate, beverage_g: Estimate, strength_pct: Estimate) -> Maybe {
    let [e, b, t] =
        above_0([("yield_pct", yield_pct), ("beverage_g", beverage_g), ("strength_pct", strength_pct)])?;
    positive("dose_g", t.times(b).over(e))
}

/// Dose for a yield and a strength with a given mass of water, g: W/(E/T + r).
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn dose_for_water_g(
    yield_pct: Estimate,
    water_g: Estimate,
    strength_pct: Estimate,
    retention_g_per_g: Estimate,
) -> Maybe {
    let [w] = above_0([("water_g", water_g)])?;
    positive("dose_g", w.over(water_to_dose(yield_pct, strength_pct, retention_g_per_g)?))
}

fn water_to_dose(yield_pct: Estimate, strength_pct: Estimate, retention_g_per_g: Estimate) -> Maybe {
    let [e, t] = above_0([("yield_pct", yield_pct), ("strength_pct", strength_pct)])?;
    Ok(e.over(t).plus(finite("retention_g_per_g", retention_g_per_g)?))
}

/// Line of the brewing control chart: the strength for a yield at a brew ratio, percent: E/(W/D - r).
///
/// # Errors
/// The reason, if an input is not above 0 or the bed retains all the water.
pub fn chart_line_pct(yield_pct: Estimate, brew_ratio: Estimate, retention_g_per_g: Estimate) -> Maybe {
    let [e, ratio] = above_0([("yield_pct", yield_pct), ("brew_ratio", brew_ratio)])?;
    let left = ratio.minus(finite("retention_g_per_g", retention_g_per_g)?);
    positive("strength_pct", e.over(positive("brew_ratio less retention_g_per_g", left)?))
}

/// The same line for full immersion, in which all the water counts: E/(W/D + E).
///
/// # Errors
/// The reason, if an input is not above 0.
pub fn immersion_strength_pct(yield_pct: Estimate, brew_ratio: Estimate) -> Maybe {
    let inputs @ [e, ratio] = above_0([("yield_pct", yield_pct), ("brew_ratio", brew_ratio)])?;
    let (e, ratio) = (Number::input(e.value, 0), Number::input(ratio.value, 1));
    let hundred = Number::constant(100.0);
    let found = hundred * e / (hundred * ratio + e);
    let sd = found.sd(std::array::from_fn(|i| inputs.get(i).map_or(0.0, |input| input.sd)));
    positive("strength_pct", Estimate::new(found.value, sd))
}
