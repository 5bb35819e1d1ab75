//! Properties of liquid water from 0 to 100 C.

use crate::error::{Error, Result};
use crate::math::water::{liquid, saturation};

/// Kelvin to 0 C.
const ZERO_C_K: f64 = 273.15;

/// The temperature in K, if water is liquid there at 1 atm.
fn kelvin(t_c: f64) -> Result<f64> {
    if (0.0..=100.0).contains(&t_c) {
        return Ok(t_c + ZERO_C_K);
    }
    let rule = "water is liquid at 1 atm from 0 to 100 C, and only there are these correlations valid";
    Err(Error::OutOfRange { name: "t_c".into(), value: t_c, rule: rule.into(), row: 0 })
}

/// Density, kg/m3, or g/L: IAPWS SR6-08(2011), within 1e-6 of IAPWS-95 at 1 atm.
///
/// ```
/// let found = pourline::water::density_kg_per_m3(93.0)?;
/// assert!((found - 963.27).abs() < 0.01);
/// assert_eq!(pourline::water::density_kg_per_m3(101.0).unwrap_err().kind(), "out_of_range");
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn density_kg_per_m3(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(liquid::density_kg_per_m3)
}

/// Dynamic viscosity, Pa s: IAPWS SR6-08(2011), within 3e-5 of IAPWS R12-08 at 1 atm, which is itself good to about 1
/// %.
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn dynamic_viscosity_pa_s(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(liquid::viscosity_pa_s)
}

/// Kinematic viscosity, m2/s: dynamic viscosity over density.
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn kinematic_viscosity_m2_per_s(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(|t| liquid::viscosity_pa_s(t) / liquid::density_kg_per_m3(t))
}

/// Surface tension against air, N/m: IAPWS R1-76(2014), which is for water against its own vapour.
///
/// Dissolved substances lower the surface tension of coffee: the value applies to the poured stream.
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn surface_tension_n_per_m(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(saturation::surface_tension_n_per_m)
}

/// Heat capacity at constant pressure, J/(kg K): IAPWS SR6-08(2011).
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn heat_capacity_j_per_kg_k(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(liquid::heat_capacity_j_per_kg_k)
}

/// Heat of vaporisation, J/kg: Clapeyron's equation on the saturation line of IAPWS SR1-86(1992).
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn heat_of_vaporisation_j_per_kg(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(saturation::heat_of_vaporisation_j_per_kg)
}

/// Share of its mass that hot water loses for each kelvin it cools, if it cools by evaporation alone, 1/K.
///
/// Heat capacity over heat of vaporisation. Whatever else cools the water makes the share smaller, so this is the
/// most that evaporation can take: a larger loss of mass is a spill or a moved vessel.
///
/// ```
/// // 300 g that cool by 5 K from 93 C lose at most 2.77 g.
/// let most_g = 300.0 * 5.0 * pourline::water::evaporation_share_per_k(93.0)?;
/// assert!((most_g - 2.77).abs() < 0.01);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` outside 0 to 100 C.
pub fn evaporation_share_per_k(t_c: f64) -> Result<f64> {
    kelvin(t_c).map(|t| liquid::heat_capacity_j_per_kg_k(t) / saturation::heat_of_vaporisation_j_per_kg(t))
}

/// Mass of water that was measured by volume, g. The temperature is that at which the volume was read off: the same
/// mark on a jug holds 3.5 % less water at 93 C than at 20 C, so there is no mass without it. The expansion of the jug
/// is left out.
///
/// ```
/// assert!((pourline::water::mass_g(1000.0, 93.0)? - 963.27).abs() < 0.02);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` outside 0 to 100 C, and for a volume that is not a number of 0 or more.
pub fn mass_g(volume_ml: f64, t_c: f64) -> Result<f64> {
    if !(volume_ml.is_finite() && volume_ml >= 0.0) {
        let rule = "it must be a finite number, 0 or more".into();
        return Err(Error::OutOfRange { name: "volume_ml".into(), value: volume_ml, rule, row: 0 });
    }
    density_kg_per_m3(t_c).map(|density| volume_ml * density / 1000.0)
}
