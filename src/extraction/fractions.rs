//! In: a brew collected in several vessels in sequence, each with its strength. Out: the yield of each and of all.
//!
//! Sum(T_i B_i)/D is the yield of the whole, T_mix B/D with T_mix = sum(T_i B_i)/sum(B_i). Strengths and masses of the
//! fractions are taken as independent; the sd does not include a common error of the refractometer.

use crate::estimate::{Estimate, Undefined};
use crate::extraction::given::{finite, positive};
use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// One cut of a brew.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Fraction {
    /// Its mass, g.
    pub mass_g: Estimate,
    /// Its strength, percent by mass.
    pub strength_pct: Estimate,
}

rows! { $
/// The yield of a brew by its fractions, of each and of all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Fractions {
    /// Mass of all fractions, g.
    pub beverage_g: Estimate,
    /// Strength of the mixed fractions, percent.
    pub strength_pct: Estimate,
    /// Yield of all, percent of the dose.
    pub yield_pct: Estimate,
    /// Contribution of each fraction to that yield, percentage points.
    pub each_pct: Vec<Estimate>,
    /// The yield after each fraction, percent of the dose.
    pub so_far_pct: Vec<Estimate>,
}
}

/// The yield of a brew by its fractions, in their order.
///
/// ```
/// use pourline::{Estimate, extraction::{Fraction, fractions}};
/// let cut = |mass_g, strength_pct| Fraction {
///     mass_g: Estimate::new(mass_g, 0.1),
///     strength_pct: Estimate::new(strength_pct, 0.03),
/// };
/// let found = fractions(&[cut(80.0, 3.0), cut(80.0, 0.9), cut(80.0, 0.24)], Estimate::exact(15.0)).unwrap();
/// assert!((found.yield_pct.value - 1.38 * 240.0 / 15.0).abs() < 1e-9);
/// assert!((found.so_far_pct[0].value - 16.0).abs() < 1e-9);
/// ```
///
/// # Errors
/// The reason, if there is no fraction, a mass or the dose is not above 0, or a strength is not 0 to 100.
pub fn fractions(cuts: &[Fraction], dose_g: Estimate) -> Result<Fractions, Undefined> {
    let dose = positive("dose_g", dose_g)?;
    if cuts.is_empty() {
        return Err(Undefined::because("there is no fraction"));
    }
    for (cut, place) in cuts.iter().zip(1..) {
        positive(&format!("mass_g of fraction {place}"), cut.mass_g)?;
        let strength = finite(&format!("strength_pct of fraction {place}"), cut.strength_pct)?.value;
        if !(0.0..=100.0).contains(&strength) {
            let why = format!("strength_pct of fraction {place} is {strength}: it must be 0 to 100");
            return Err(Undefined::because(why));
        }
    }
    // Percent times g: the dissolved mass of the fractions, and of the whole.
    let dissolved: Vec<Estimate> = cuts.iter().map(|cut| cut.strength_pct.times(cut.mass_g)).collect();
    let so_far = |parts: &[Estimate]| -> Vec<Estimate> {
        parts
            .iter()
            .scan(Estimate::exact(0.0), |sum, part| {
                *sum = sum.plus(*part);
                Some(*sum)
            })
            .collect()
    };
    let masses: Vec<Estimate> = cuts.iter().map(|cut| cut.mass_g).collect();
    let (beverage_g, all) = (last(&so_far(&masses)), last(&so_far(&dissolved)));
    let mixed = all.value / beverage_g.value;
    // A fraction's mass is in numerator and denominator, so its derivative is (T_i - T_mix)/B and that of T_i is B_i/B.
    let sd = cuts.iter().fold(0.0, |sd: f64, cut| {
        let by_strength = cut.strength_pct.sd * cut.mass_g.value;
        sd.hypot(by_strength).hypot(cut.mass_g.sd * (cut.strength_pct.value - mixed))
    });
    let yields = |parts: &[Estimate]| parts.iter().map(|part| part.over(dose)).collect::<Vec<_>>();
    let so_far_pct = yields(&so_far(&dissolved));
    Ok(Fractions {
        beverage_g,
        strength_pct: Estimate::new(mixed, sd / beverage_g.value),
        yield_pct: last(&so_far_pct),
        each_pct: yields(&dissolved),
        so_far_pct,
    })
}

fn last(numbers: &[Estimate]) -> Estimate {
    numbers.last().copied().unwrap_or(Estimate::exact(0.0))
}
