//! In: the size of a flat bed, the head over it, and a flow or a permeability. Out: the other, and the times in which
//! it drains.
//!
//! Darcy's law, `Q/A = k g/nu h/L`. It is the law of slow flow: at the flows of a poured brew inertia adds some 3 % to
//! the resistance.

use crate::error::{Error, Result};
use crate::math::water::properties::kinematic_viscosity_m2_per_s;
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// Standard gravity, m/s2 (CGPM 1901, exact).
const G_M_PER_S2: f64 = 9.806_65;

/// A flat bed in a straight wall under a head of water.
///
/// - measures: the ease of flow through the bed material, independent of the viscosity
/// - formula: permeability `k = Q nu L/(A g h)`; conductivity `K = k g/nu`; time constant `L/K`
/// - needs: diameter, depth and head in mm; the flow in mL/s; the water's temperature
/// - valid when: the bed is full of water, flat, and its wall straight; in a cone the numbers compare brews of equal
///   geometry only
/// - reference: Darcy's law, with the viscosity of IAPWS SR6-08(2011)
///
/// ```
/// use pourline::FlatBed;
/// let bed = FlatBed { diameter_mm: 60.0, depth_mm: 30.0, head_mm: 50.0 };
/// // 3 mL/s at 90 C.
/// assert!((bed.permeability_m2(3.0, 90.0)? / 2.113e-11 - 1.0).abs() < 1e-3);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FlatBed {
    /// Diameter, mm; above 0, at most 1e4.
    pub diameter_mm: f64,
    /// Depth of the bed, mm; above 0, at most 1e4.
    pub depth_mm: f64,
    /// Height of the water's surface over the foot of the bed, mm; above 0, at most 1e4. For the permeability of a
    /// brew: at the standing mass for which its conductance is stated.
    pub head_mm: f64,
}

impl FlatBed {
    /// Refuses a size outside its range.
    pub(super) fn check(&self) -> Result<()> {
        let sizes =
            [("diameter_mm", self.diameter_mm), ("depth_mm", self.depth_mm), ("head_mm", self.head_mm)];
        match sizes.into_iter().find(|(_, mm)| !(*mm > 0.0 && *mm <= 1e4)) {
            Some((name, value)) => Err(Error::OutOfRange {
                name: format!("bed.flat_bed.{name}"),
                value,
                rule: "it must be above 0 and at most 10000".into(),
                row: 0,
            }),
            None => Ok(()),
        }
    }

    /// Permeability that gives this flow, m2.
    ///
    /// # Errors
    /// `out_of_range` for a temperature at which water is not liquid, or a size outside its range.
    pub fn permeability_m2(&self, flow_ml_per_s: f64, water_c: f64) -> Result<f64> {
        self.check()?;
        let area_m2 = PI / 4.0 * (self.diameter_mm * 1e-3).powi(2);
        let nu = kinematic_viscosity_m2_per_s(water_c)?;
        Ok(flow_ml_per_s * 1e-6 * nu * self.depth_mm / (area_m2 * G_M_PER_S2 * self.head_mm))
    }

    /// Time constant of the flow's decay in a full bed with a straight wall, s: depth over conductivity.
    ///
    /// # Errors
    /// `out_of_range` for a temperature at which water is not liquid, or a size outside its range.
    pub fn time_constant_s(&self, permeability_m2: f64, water_c: f64) -> Result<f64> {
        self.check()?;
        let conductivity_m_per_s = permeability_m2 * G_M_PER_S2 / kinematic_viscosity_m2_per_s(water_c)?;
        Ok(self.depth_mm * 1e-3 / conductivity_m_per_s)
    }

    /// Time until no water stands over the bed any more, s; 0 if the head does not reach over it.
    ///
    /// # Errors
    /// `out_of_range` for a temperature at which water is not liquid, or a size outside its range.
    pub fn ponded_s(&self, permeability_m2: f64, water_c: f64) -> Result<f64> {
        let time_constant_s = self.time_constant_s(permeability_m2, water_c)?;
        Ok(time_constant_s * (self.head_mm / self.depth_mm).ln().max(0.0))
    }
}
