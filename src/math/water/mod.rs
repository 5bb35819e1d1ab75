//! In: a temperature in C. Out: the properties of liquid water there, at the pressure of the air (1 atm).
//!
//! Everything here is for liquid water from 0 to 100 C; anything else is refused, since no correlation holds for it.
//! Coffee is over 98 % water, and these numbers are those of pure water. Air pressure at 2,000 m changes the density
//! by less than 1e-5 of itself, but water boils at 93 C there: no liquid exists above that, and the altitude is not
//! taken into account.
//!
//! References: IAPWS SR6-08(2011), liquid water at 0.1 MPa; R1-76(2014), surface tension; SR1-86(1992), saturation.

pub(crate) mod liquid;
pub(crate) mod properties;
pub(crate) mod saturation;

pub use properties::{
    density_kg_per_m3, dynamic_viscosity_pa_s, evaporation_share_per_k, heat_capacity_j_per_kg_k,
    heat_of_vaporisation_j_per_kg, kinematic_viscosity_m2_per_s, mass_g, surface_tension_n_per_m,
};
