//! In: the inputs of a brew, by name. Out: the formulas of its mass balance.
//!
//! Dissolved coffee is strength times liquid. Percolation counts the dissolved coffee in the beverage; full immersion
//! counts that in all liquid, with water W and strength T = s/(W + s), so that the dissolved mass is s = W T/(1 - T).
//! Bypass water changes neither. The bed retains W - B (1 - T) of the water, less the vapour.

use crate::extraction::result::Convention;
use crate::math::dual::Dual;

/// The largest number of inputs of a formula.
pub(super) const MOST: usize = 9;
/// A dual number: a value with its partial derivatives in every input.
pub(super) type Number = Dual<MOST>;
/// A value with the name of its input.
pub(super) type Named<'a, T> = (&'a str, T);

/// The mass balance of one brew. A formula gives None if an input is missing.
pub(super) struct Balance<'a> {
    pub convention: Convention,
    /// Whether the strength was measured after bypass water was added.
    pub after_bypass: bool,
    pub inputs: &'a [Named<'a, Number>],
}

impl Balance<'_> {
    fn at(&self, name: &str) -> Option<Number> {
        self.inputs.iter().find(|(known, _)| *known == name).map(|(_, number)| *number)
    }

    /// A percentage as a fraction; 0 if it was not given.
    fn part(&self, name: &str) -> Number {
        self.at(name).map_or(Number::constant(0.0), |percent| percent / Number::constant(100.0))
    }

    fn beverage_g(&self) -> Option<Number> {
        match self.at("beverage_g") {
            Some(weighed) => Some(weighed),
            None => Some(self.at("water_g")? - self.at("retention_g_per_g")? * self.at("dose_g")?),
        }
    }

    fn measured_pct(&self) -> Option<Number> {
        match self.at("tds_pct") {
            Some(tds) => Some(tds),
            None => Some(self.at("brix_pct")? * self.at("brix_factor")?),
        }
    }

    /// Strength of the liquid that left the bed, percent.
    pub(super) fn strength_pct(&self) -> Option<Number> {
        let measured = self.measured_pct()?;
        if !self.after_bypass {
            return Some(measured);
        }
        let beverage = self.beverage_g()?;
        Some(measured * (beverage + self.at("bypass_g")?) / beverage)
    }

    /// Strength of the cup, percent.
    pub(super) fn cup_strength_pct(&self) -> Option<Number> {
        let measured = self.measured_pct()?;
        match self.at("bypass_g") {
            Some(bypass) if !self.after_bypass => {
                let beverage = self.beverage_g()?;
                Some(measured * beverage / (beverage + bypass))
            }
            _ => Some(measured),
        }
    }

    fn dry_dose_g(&self) -> Option<Number> {
        Some(self.at("dose_g")? * (Number::constant(1.0) - self.part("moisture_pct") - self.part("co2_pct")))
    }

    /// Extraction yield, percent.
    pub(super) fn yield_pct(&self) -> Option<Number> {
        let (one, hundred) = (Number::constant(1.0), Number::constant(100.0));
        let strength = self.strength_pct()? / hundred;
        let dissolved_g = match self.convention {
            Convention::Percolation => strength * self.beverage_g()?,
            Convention::Immersion => strength / (one - strength) * self.at("water_g")?,
        };
        Some(hundred * dissolved_g / self.dry_dose_g()?)
    }

    fn retained_water_g(&self) -> Option<Number> {
        let water_part = Number::constant(1.0) - self.strength_pct()? / Number::constant(100.0);
        Some(self.at("water_g")? - self.beverage_g()? * water_part - self.at("evaporated_g")?)
    }

    /// Poured water that the bed retains, per gram of dose.
    pub(super) fn retained_water_g_per_g(&self) -> Option<Number> {
        Some(self.retained_water_g()? / self.at("dose_g")?)
    }

    /// Dry mass of the spent bed, g.
    pub(super) fn spent_dry_g(&self) -> Option<Number> {
        let carried_out = self.strength_pct()? / Number::constant(100.0) * self.beverage_g()?;
        Some(self.dry_dose_g()? - carried_out)
    }

    /// Water in the spent bed, the dose's own moisture included, per gram of its dry mass.
    pub(super) fn spent_water_g_per_g(&self) -> Option<Number> {
        let own_water = self.at("dose_g")? * self.part("moisture_pct");
        Some((self.retained_water_g()? + own_water) / self.spent_dry_g()?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(
        formula: impl Fn(&Balance) -> Option<Number>,
        after_bypass: bool,
        inputs: &[(&str, f64)],
    ) -> Option<f64> {
        let inputs: Vec<Named<Number>> =
            inputs.iter().map(|(name, v)| (*name, Number::constant(*v))).collect();
        let balance = Balance { convention: Convention::Percolation, after_bypass, inputs: &inputs };
        formula(&balance).map(|number| number.value)
    }

    fn near(found: Option<f64>, by_hand: f64) {
        assert!(found.is_some_and(|found| (found - by_hand).abs() < 1e-9), "{found:?}, not {by_hand}");
    }

    const BREW: [(&str, f64); 7] = [
        ("dose_g", 15.0),
        ("water_g", 270.0),
        ("beverage_g", 240.0),
        ("tds_pct", 1.4),
        ("moisture_pct", 4.0),
        ("co2_pct", 1.0),
        ("evaporated_g", 2.0),
    ];

    #[test]
    fn each_formula_of_the_mass_balance_agrees_with_arithmetic() {
        // Dry dose 15 x 0.95 = 14.25 g; dissolved 0.014 x 240 = 3.36 g; the beverage holds 240 x 0.986 = 236.64 g
        // of water.
        near(number(|b| b.yield_pct(), false, &BREW), 100.0 * 3.36 / 14.25);
        near(number(|b| b.retained_water_g_per_g(), false, &BREW), (270.0 - 236.64 - 2.0) / 15.0);
        near(number(|b| b.spent_dry_g(), false, &BREW), 14.25 - 3.36);
        near(number(|b| b.spent_water_g_per_g(), false, &BREW), (270.0 - 236.64 - 2.0 + 0.6) / 10.89);
        near(number(|b| b.strength_pct(), false, &BREW), 1.4);
        near(number(|b| b.cup_strength_pct(), false, &BREW), 1.4);
        let inputs: Vec<Named<Number>> = BREW.map(|(name, v)| (name, Number::constant(v))).into();
        let immersed = Balance { convention: Convention::Immersion, after_bypass: false, inputs: &inputs };
        near(immersed.yield_pct().map(|n| n.value), 100.0 * 0.014 / 0.986 * 270.0 / 14.25);
    }

    #[test]
    fn bypass_water_retention_and_brix_agree_with_arithmetic() {
        let with = |more: &[(&'static str, f64)]| [&BREW[..], more].concat();
        let bypass = with(&[("bypass_g", 20.0)]);
        near(number(|b| b.cup_strength_pct(), false, &bypass), 1.4 * 240.0 / 260.0);
        near(number(|b| b.strength_pct(), true, &bypass), 1.4 * 260.0 / 240.0);
        near(number(|b| b.cup_strength_pct(), true, &bypass), 1.4);
        near(number(|b| b.yield_pct(), true, &bypass), 100.0 * 3.64 / 14.25);
        // 270 - 2.2 x 15 = 237 g of beverage, and 1.7 % Brix times 0.85.
        let stated = [
            ("dose_g", 15.0),
            ("water_g", 270.0),
            ("retention_g_per_g", 2.2),
            ("brix_pct", 1.7),
            ("brix_factor", 0.85),
        ];
        near(number(|b| b.yield_pct(), false, &stated), 1.445 * 237.0 / 15.0);
        assert_eq!(number(|b| b.yield_pct(), false, &stated[..4]), None);
        assert_eq!(number(|b| b.retained_water_g_per_g(), false, &stated), None, "the vapour is unknown");
    }
}
