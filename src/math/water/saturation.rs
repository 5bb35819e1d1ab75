//! In: a temperature in K. Out: surface tension and heat of vaporisation of water in equilibrium with its vapour.
//!
//! References: IAPWS R1-76(2014), Revised Release on Surface Tension of Ordinary Water Substance; IAPWS SR1-86(1992),
//! Revised Supplementary Release on Saturation Properties of Ordinary Water Substance, equations 1 to 3.

/// Temperature, pressure and density of the critical point.
const TC_K: f64 = 647.096;
const PC_PA: f64 = 22.064e6;
const RHO_C_KG_PER_M3: f64 = 322.0;

/// Exponent and coefficient of each term in 1 - T/Tc.
type Terms = [[f64; 2]; 6];
const PRESSURE: Terms = [
    [1.0, -7.859_517_83],
    [1.5, 1.844_082_59],
    [3.0, -11.786_649_7],
    [3.5, 22.680_741_1],
    [4.0, -15.961_871_9],
    [7.5, 1.801_225_02],
];
const LIQUID: Terms = [
    [1.0 / 3.0, 1.992_740_64],
    [2.0 / 3.0, 1.099_653_42],
    [5.0 / 3.0, -0.510_839_303],
    [16.0 / 3.0, -1.754_934_79],
    [43.0 / 3.0, -45.517_035_2],
    [110.0 / 3.0, -6.746_944_50e5],
];
const VAPOUR: Terms = [
    [2.0 / 6.0, -2.031_502_40],
    [4.0 / 6.0, -2.683_029_40],
    [8.0 / 6.0, -5.386_264_92],
    [18.0 / 6.0, -17.299_160_5],
    [37.0 / 6.0, -44.758_658_1],
    [71.0 / 6.0, -63.920_106_3],
];

fn series(terms: &Terms, tau: f64) -> f64 {
    terms.iter().map(|[power, a]| a * tau.powf(*power)).sum()
}

pub(super) fn surface_tension_n_per_m(t_k: f64) -> f64 {
    let tau = 1.0 - t_k / TC_K;
    0.2358 * tau.powf(1.256) * (1.0 - 0.625 * tau)
}

/// T (v'' - v') dp/dT.
pub(super) fn heat_of_vaporisation_j_per_kg(t_k: f64) -> f64 {
    let tau = 1.0 - t_k / TC_K;
    let ln_pressure = TC_K / t_k * series(&PRESSURE, tau);
    let slope: f64 = PRESSURE.iter().map(|[power, a]| a * power * tau.powf(power - 1.0)).sum();
    let t_by_rise_pa = -PC_PA * ln_pressure.exp() * (ln_pressure + slope);
    let liquid = RHO_C_KG_PER_M3 * (1.0 + series(&LIQUID, tau));
    let vapour = RHO_C_KG_PER_M3 * series(&VAPOUR, tau).exp();
    t_by_rise_pa * (1.0 / vapour - 1.0 / liquid)
}
