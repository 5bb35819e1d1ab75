//! `pourline.water`: properties of liquid water at a temperature.

use crate::math::water::properties as water;
use pyo3::prelude::*;

/// Functions of the core with their names and arguments.
macro_rules! properties {
    ($($(#[$m:meta])* $name:ident($($given:ident),*);)*) => { $(
        $(#[$m])*
        #[pyfunction]
        pub(super) fn $name($($given: f64),*) -> PyResult<f64> {
            Ok(water::$name($($given),*)?)
        }
    )* };
}

properties! {
    /// Density of liquid water at 1 atm, kg/m3, from 0 to 100 C: IAPWS SR6-08(2011).
    ///
    /// `t_c` is the temperature of the water, C.
    ///
    /// >>> import pourline
    /// >>> round(pourline.water.density_kg_per_m3(93), 2)
    /// 963.27
    density_kg_per_m3(t_c);
    /// Dynamic viscosity of liquid water at 1 atm, Pa s, from 0 to 100 C: IAPWS SR6-08(2011).
    ///
    /// `t_c` is the temperature of the water, C.
    ///
    /// >>> import pourline
    /// >>> f"{1000 * pourline.water.dynamic_viscosity_pa_s(93):.4f} mPa s"
    /// '0.3037 mPa s'
    dynamic_viscosity_pa_s(t_c);
    /// Kinematic viscosity of liquid water at 1 atm, m2/s, from 0 to 100 C: dynamic viscosity over density.
    ///
    /// `t_c` is the temperature of the water, C. The flow through a given bed is proportional to the inverse of this
    /// viscosity.
    ///
    /// >>> from pourline import water
    /// >>> round(water.kinematic_viscosity_m2_per_s(60) / water.kinematic_viscosity_m2_per_s(93), 3)
    /// 1.503
    kinematic_viscosity_m2_per_s(t_c);
    /// Surface tension of water, N/m, from 0 to 100 C: IAPWS R1-76(2014).
    ///
    /// `t_c` is the temperature of the water, C.
    ///
    /// >>> import pourline
    /// >>> f"{1000 * pourline.water.surface_tension_n_per_m(93):.2f} mN/m"
    /// '60.25 mN/m'
    surface_tension_n_per_m(t_c);
    /// Heat capacity of liquid water at 1 atm, J/(kg K), from 0 to 100 C: IAPWS SR6-08(2011).
    ///
    /// `t_c` is the temperature of the water, C.
    ///
    /// >>> import pourline
    /// >>> round(pourline.water.heat_capacity_j_per_kg_k(93))
    /// 4208
    heat_capacity_j_per_kg_k(t_c);
    /// Heat of vaporisation of water, J/kg, from 0 to 100 C, by Clapeyron's equation.
    ///
    /// `t_c` is the temperature of the water, C. The saturation line is that of IAPWS SR1-86(1992).
    ///
    /// >>> import pourline
    /// >>> round(pourline.water.heat_of_vaporisation_j_per_kg(93), -3)
    /// 2275000.0
    heat_of_vaporisation_j_per_kg(t_c);
    /// Upper bound of the mass fraction lost per kelvin of cooling, 1/K: all heat leaves by evaporation.
    ///
    /// `t_c` is the temperature of the water, C.
    ///
    /// >>> import pourline
    /// >>> f"{300 * 5 * pourline.water.evaporation_share_per_k(93):.2f} g"
    /// '2.77 g'
    evaporation_share_per_k(t_c);
    /// Mass of water that was measured by volume, g; the temperature is that at which the volume was read off.
    ///
    /// `volume_ml` is that volume, mL; `t_c` that temperature, C: a number from 0 to 100.
    ///
    /// >>> import pourline
    /// >>> round(pourline.water.mass_g(1000, 93), 2)
    /// 963.27
    mass_g(volume_ml, t_c);
}
