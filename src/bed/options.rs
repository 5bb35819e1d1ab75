//! Options of the stage, with their ranges.

use crate::bed::darcy::FlatBed;
use crate::error::{Error, Result};
use serde::{Deserialize, Serialize};

/// Options of [`bed`](fn@crate::bed).
///
/// ```
/// use pourline::{BedOptions, FlatBed};
/// let flat_bed = Some(FlatBed { diameter_mm: 60.0, depth_mm: 30.0, head_mm: 50.0 });
/// let options = BedOptions { flat_bed, pour_c: vec![88.0, 91.0, 92.0], ..BedOptions::default() };
/// assert!(options.check().is_ok());
/// assert!(BedOptions { drip_g_per_s: 0.0, ..options }.check().is_err());
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct BedOptions {
    /// The beverage has stopped when its flow stays below this, g/s; above 0, at most 2.
    pub drip_g_per_s: f64,
    /// The first drip belongs to a flow that brings at least this before it stops, g; 0 to 100.
    pub drip_g: f64,
    /// Transit time of water through the bed, s; 0 to 60.
    pub transit_s: f64,
    /// Standing water for which the conductance is stated, g; above 0, at most 1e4.
    pub standing_g: f64,
    /// Time constant of the lag of the beverage's scale, s; 0 to 5. Absent: that of the water's scale.
    pub beverage_lag_s: Option<f64>,
    /// Exponent `m` of the vessel's volume, `V = b h^m`: 1 for a straight wall, 3 for a cone; above 0, at most 10.
    pub vessel_exponent: Option<f64>,
    /// Temperature in the bed while it drains after each pour, C, one per pour; 0 to 100. Empty: all equal.
    pub pour_c: Vec<f64>,
    /// Size of the bed and the head over it, for its permeability.
    pub flat_bed: Option<FlatBed>,
    /// Largest cooling of the liquid during the log, K; 0 to 100. It bounds the evaporated mass.
    pub cooling_k: f64,
}

impl Default for BedOptions {
    fn default() -> Self {
        Self {
            drip_g_per_s: 0.1,
            drip_g: 1.0,
            transit_s: 5.0,
            standing_g: 50.0,
            beverage_lag_s: None,
            vessel_exponent: None,
            pour_c: Vec::new(),
            flat_bed: None,
            cooling_k: 15.0,
        }
    }
}

impl BedOptions {
    /// Whether every option is in its range.
    ///
    /// # Errors
    /// `out_of_range`, naming the option.
    pub fn check(&self) -> Result<()> {
        let rule = |name: &str, value: f64, holds: bool, rule: &str| {
            let name = format!("bed.{name}");
            if holds { Ok(()) } else { Err(Error::OutOfRange { name, value, rule: rule.into(), row: 0 }) }
        };
        let above_0 = |name: &str, value: f64, most: f64| {
            rule(name, value, value > 0.0 && value <= most, &format!("it must be above 0 and at most {most}"))
        };
        let within = |name: &str, value: f64, most: f64| {
            rule(name, value, (0.0..=most).contains(&value), &format!("it must be 0 to {most}"))
        };
        above_0("drip_g_per_s", self.drip_g_per_s, 2.0)?;
        within("drip_g", self.drip_g, 100.0)?;
        within("transit_s", self.transit_s, 60.0)?;
        above_0("standing_g", self.standing_g, 1e4)?;
        within("beverage_lag_s", self.beverage_lag_s.unwrap_or(0.0), 5.0)?;
        above_0("vessel_exponent", self.vessel_exponent.unwrap_or(1.0), 10.0)?;
        self.pour_c.iter().try_for_each(|&c| within("pour_c", c, 100.0))?;
        within("cooling_k", self.cooling_k, 100.0)?;
        self.flat_bed.map_or(Ok(()), |bed| bed.check())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_option_is_checked_against_its_stated_range() {
        let default = BedOptions::default;
        let ok = |options: BedOptions| options.check().is_ok();
        let with = |set: fn(&mut BedOptions, f64), values: [f64; 4]| {
            values.map(|value| {
                let mut options = default();
                set(&mut options, value);
                ok(options)
            })
        };
        let ends = [false, true, true, false];
        assert_eq!(with(|o, v| o.drip_g_per_s = v, [0.0, 1e-9, 2.0, 2.01]), ends);
        assert_eq!(with(|o, v| o.drip_g = v, [-0.01, 0.0, 100.0, 100.1]), ends);
        assert_eq!(with(|o, v| o.transit_s = v, [-0.01, 0.0, 60.0, 60.1]), ends);
        assert_eq!(with(|o, v| o.standing_g = v, [0.0, 1e-9, 1e4, 10_001.0]), ends);
        assert_eq!(with(|o, v| o.beverage_lag_s = Some(v), [-0.01, 0.0, 5.0, 5.01]), ends);
        assert_eq!(with(|o, v| o.vessel_exponent = Some(v), [0.0, 1e-9, 10.0, 10.1]), ends);
        assert_eq!(with(|o, v| o.pour_c = vec![93.0, v], [-0.01, 0.0, 100.0, 100.1]), ends);
        assert_eq!(with(|o, v| o.cooling_k = v, [-0.01, 0.0, 100.0, 100.1]), ends);
    }
}
