//! In: a temperature in K. Out: density, heat capacity and viscosity of liquid water at 0.1 MPa.
//!
//! Reference: IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa, equations 1
//! to 4 and 7; valid from 253.15 to 383.15 K, the superheated liquid included. Pátek, Hrubý, Klomfar, Součková,
//! Harvey 2009, J. Phys. Chem. Ref. Data 38, 21.

/// Specific gas constant of water in that release, J/(kg K).
const R_J_PER_KG_K: f64 = 461.518_05;
const PRESSURE_PA: f64 = 1e5;
/// Reference temperature, K.
const TR_K: f64 = 10.0;

/// A term of the release: its exponent and its coefficient.
type Term = (i32, f64);

/// Terms in alpha and in beta of the specific volume, after its constant.
const VOLUME: f64 = 1.937_631_57e-2;
const VOLUME_ALPHA: [Term; 5] = [
    (4, 6.744_584_46e3),
    (5, -2.225_216_04e5),
    (7, 1.002_312_47e8),
    (8, -1.635_521_18e9),
    (9, 8.322_996_58e9),
];
const VOLUME_BETA: [Term; 6] = [
    (1, 5.785_452_92e-3),
    (2, -1.531_956_65e-2),
    (3, 3.113_378_59e-2),
    (4, -4.235_462_41e-2),
    (5, 3.387_135_07e-2),
    (6, -1.199_467_61e-2),
];
/// Terms of the heat capacity, after its constant.
const HEAT: f64 = -8.983_025_854;
const HEAT_ALPHA: [Term; 3] = [(4, -1.661_470_539e5), (5, 2.708_781_640e6), (7, -1.557_191_544e8)];
const HEAT_BETA: [Term; 4] =
    [(2, -8.237_426_256e-1), (3, 1.908_956_353), (4, -2.017_597_384), (5, 8.546_361_348e-1)];
/// Coefficient and exponent of each term of the viscosity, micropascal seconds.
const VISCOSITY: [[f64; 2]; 4] = [[280.68, -1.9], [511.45, -7.7], [61.131, -19.6], [0.459_03, -40.0]];

fn alpha(t_k: f64) -> f64 {
    TR_K / (593.0 - t_k)
}

fn beta(t_k: f64) -> f64 {
    TR_K / (t_k - 232.0)
}

pub(super) fn density_kg_per_m3(t_k: f64) -> f64 {
    let sum = |terms: &[Term], x: f64| terms.iter().map(|(n, a)| a * x.powi(*n)).sum::<f64>();
    let volume = VOLUME + sum(&VOLUME_ALPHA, alpha(t_k)) + sum(&VOLUME_BETA, beta(t_k));
    PRESSURE_PA / (R_J_PER_KG_K * TR_K * volume)
}

pub(super) fn heat_capacity_j_per_kg_k(t_k: f64) -> f64 {
    let second = |terms: &[Term], x: f64| {
        terms.iter().map(|(n, a)| f64::from(n * (n + 1)) * a * x.powi(n + 2)).sum::<f64>()
    };
    let curved = second(&HEAT_ALPHA, alpha(t_k)) + second(&HEAT_BETA, beta(t_k));
    -R_J_PER_KG_K * (HEAT + t_k / TR_K * curved)
}

pub(super) fn viscosity_pa_s(t_k: f64) -> f64 {
    VISCOSITY.iter().map(|[a, power]| a * (t_k / 300.0).powf(*power)).sum::<f64>() * 1e-6
}
