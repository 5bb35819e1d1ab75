//! Water against figures from outside the project; each check names its source.

use pourline::{Error, Result, water};

fn close(found: Result<f64>, published: f64, tolerance: f64) {
    let found = found.unwrap();
    assert!((found - published).abs() <= tolerance, "{found} where {published} is published");
}

/// Temperature C, density kg/m3 by IAPWS-95, viscosity mPa s by IAPWS R12-08, surface tension mN/m by IAPWS
/// R1-76(2014), all at 1 atm (computed with CoolProp 8 and iapws 1.5, which agree), and the density by Kell 1975, J.
/// Chem. Eng. Data 20, 97.
const AT_1_ATM: [[f64; 5]; 6] = [
    [20.0, 998.207, 1.0016, 72.736, 998.204],
    [60.0, 983.196, 0.46604, 66.238, 983.199],
    [80.0, 971.790, 0.35405, 62.673, 971.798],
    [90.0, 965.310, 0.31418, 60.816, 965.320],
    [93.0, 963.271, 0.30372, 60.250, 963.282],
    [96.0, 961.189, 0.29386, 59.679, 961.202],
];

#[test]
fn density_viscosity_and_surface_tension_are_those_of_the_reference_formulations() {
    for [t_c, density, viscosity_mpa_s, tension_mn_per_m, kell] in AT_1_ATM {
        close(water::density_kg_per_m3(t_c), density, 0.0015);
        // Kell's equation is older and on an older scale of temperature: it lies up to .013 kg/m3 above.
        close(water::density_kg_per_m3(t_c), kell, 0.015);
        close(
            water::dynamic_viscosity_pa_s(t_c),
            viscosity_mpa_s / 1000.0,
            5.1e-8 * viscosity_mpa_s.max(1.0),
        );
        close(water::surface_tension_n_per_m(t_c), tension_mn_per_m / 1000.0, 5.1e-7);
        let kinematic = viscosity_mpa_s / 1000.0 / density;
        close(water::kinematic_viscosity_m2_per_s(t_c), kinematic, 6e-5 * kinematic);
    }
}

#[test]
fn the_reference_formulation_meets_its_own_check_value() {
    // IAPWS R6-95(2016), table 7, from memory: 996.556 kg/m3 at 300 K and .0992418 MPa.
    close(water::density_kg_per_m3(300.0 - 273.15), 996.556, 0.001);
    // Handbook value at 25 C, from memory: 4.18 kJ/(kg K).
    close(water::heat_capacity_j_per_kg_k(25.0), 4180.0, 5.0);
}

#[test]
fn water_is_densest_at_4_degrees_and_liquid_at_both_ends() {
    // Common handbook values, from memory: the maximum lies at 3.98 C; 999.84 kg/m3 at 0 C. Saturated liquid at 100 C
    // is 958.35 kg/m3 (IAPWS-95); at 1 atm steam would be stable there, at 0.598 kg/m3.
    let density = |t_c| water::density_kg_per_m3(t_c).unwrap();
    assert!(density(3.98) > density(3.9) && density(3.98) > density(4.06));
    close(Ok(density(0.0)), 999.84, 0.005);
    close(Ok(density(100.0)), 958.35, 0.005);
}

#[test]
fn the_heat_that_evaporation_takes_sets_a_limit_to_what_a_cup_loses() {
    // cp over heat of vaporisation by IAPWS-95: .185 % for each kelvin at 93 C; 300 g that cool by 5 K lose 2.77 g at
    // most.
    close(water::evaporation_share_per_k(93.0), 0.00185, 5e-6);
    close(water::evaporation_share_per_k(93.0).map(|share| 300.0 * 5.0 * share), 2.77, 0.01);
    // Steam tables at 100 C: 2,256.5 kJ/kg (IAPWS-95); at the triple point 2,500.9 kJ/kg.
    close(water::heat_of_vaporisation_j_per_kg(100.0), 2256.5e3, 500.0);
    close(water::heat_of_vaporisation_j_per_kg(0.01), 2500.9e3, 500.0);
}

#[test]
fn a_volume_is_a_mass_only_with_its_temperature() {
    // IAPWS-95: 1 L at 93 C is 963.27 g.
    close(water::mass_g(1000.0, 93.0), 963.27, 0.02);
    assert_eq!(water::mass_g(f64::NAN, 93.0).unwrap_err().kind(), "out_of_range");
    assert_eq!(water::mass_g(-1.0, 93.0).unwrap_err().kind(), "out_of_range");
}

#[test]
fn ice_and_steam_are_refused_with_the_rule() {
    let all = [
        water::density_kg_per_m3,
        water::dynamic_viscosity_pa_s,
        water::kinematic_viscosity_m2_per_s,
        water::surface_tension_n_per_m,
        water::heat_capacity_j_per_kg_k,
        water::heat_of_vaporisation_j_per_kg,
        water::evaporation_share_per_k,
        |t_c| water::mass_g(300.0, t_c),
    ];
    for property in all {
        assert!(property(0.0).is_ok() && property(100.0).is_ok());
        for t_c in [-0.1, 100.1, f64::NAN, f64::INFINITY] {
            let Err(Error::OutOfRange { name, rule, .. }) = property(t_c) else { panic!("{t_c} passed") };
            assert_eq!(name, "t_c");
            assert!(rule.contains("liquid at 1 atm from 0 to 100 C"), "{rule}");
        }
    }
}
