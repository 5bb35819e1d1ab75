//! In: the drainage after each pour. Out: the conductance of the bed, and how it changes.

use crate::bed::drains::{estimate, flow_at};
use crate::bed::law::{ALL, Drain, EXPONENT, times};
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::log::meta::Meta;
use crate::math::water::properties::{density_kg_per_m3, kinematic_viscosity_m2_per_s};

/// Conductance after a pour, g/s.
///
/// - measures: the conductance of the bed: its flow with `standing_g` (50 g) of drainable water in it
/// - formula: `Q0 (standing/V0)^p`, with `V0`, `Q0` of the drainage after the pour and the exponent of the last one
/// - needs: a drainage of at least 2 g after the pour, and the law of the last drawdown
/// - minimum samples: 12 while it drains
/// - valid when: the bed retains as much after this pour as at the end; a dry bed that still absorbs water retains less
/// - reference: `law.rs`
pub(super) fn conductance(drain: &Drain, options: &BedOptions) -> Maybe {
    estimate(drain, flow_at(drain, options.standing_g))
}

/// Conductance over that of an earlier pour, both at one viscosity.
///
/// - measures: whether the bed opened (above 1) or closed (below 1) between two pours
/// - formula: `c nu(t)/(c' nu(t'))`: flow through the same bed goes as one over the kinematic viscosity
/// - needs: both conductances; the temperatures in the bed as the option `pour_c`, else they are assumed equal
/// - minimum samples: as for conductance
/// - valid when: as for conductance. Grounds swell: less flow is no proof of clogging
/// - reference: Darcy's law; viscosity of IAPWS SR6-08(2011). Shared errors (exponent, retained water) cancel in the sd
pub(super) fn ratio(
    (k, drain): (usize, &Drain),
    (before, first): (usize, &Drain),
    law: &Drain,
    options: &BedOptions,
) -> Maybe {
    let (a, b) = (Logarithm::of(drain, law, options), Logarithm::of(first, law, options));
    let differs = [a.moves[0] - b.moves[0], a.moves[1] - b.moves[1]];
    let c = &law.covariance;
    let shared = differs[0] * differs[0] * c[ALL][ALL]
        + 2.0 * differs[0] * differs[1] * c[ALL][EXPONENT]
        + differs[1] * differs[1] * c[EXPONENT][EXPONENT];
    let viscosity = |k: usize| match options.pour_c.get(k) {
        Some(&c) => kinematic_viscosity_m2_per_s(c).map_err(|e| Undefined::because(e.to_string())),
        None if options.pour_c.is_empty() => Ok(1.0),
        None => Err(Undefined::because("pour_c must have one temperature per pour")),
    };
    let value = (a.value - b.value).exp() * viscosity(k)? / viscosity(before)?;
    Ok(Estimate::new(value, value * (a.own_var + b.own_var + shared).max(0.0).sqrt()))
}

/// Logarithm of a conductance: its gradient in the parameters that all drainages share, and its own variance.
struct Logarithm {
    value: f64,
    moves: [f64; 2],
    own_var: f64,
}

impl Logarithm {
    fn of(drain: &Drain, law: &Drain, options: &BedOptions) -> Self {
        let (flow, gradient) = flow_at(drain, options.standing_g);
        let gradient = gradient.map(|g| g / flow);
        let with = times(&drain.covariance, &gradient);
        let (with_all, with_p) = (with[ALL], with[EXPONENT]);
        let c = &law.covariance;
        let moves = if drain.from_s == law.from_s {
            // The law itself: the regression of its conductance on the parameters that the others take from it.
            let (aa, ap, pp) = (c[ALL][ALL], c[ALL][EXPONENT], c[EXPONENT][EXPONENT]);
            let det = aa * pp - ap * ap;
            [(pp * with_all - ap * with_p) / det, (aa * with_p - ap * with_all) / det]
        } else {
            // The gradient of a fitted number in the prior's mean is its covariance times the prior's information.
            let i = &drain.prior.information;
            let by = |k: usize| (with_all * i[ALL][k] + with_p * i[EXPONENT][k]) / drain.inflation;
            [by(ALL), by(EXPONENT)]
        };
        let shared = moves[0] * moves[0] * c[ALL][ALL]
            + 2.0 * moves[0] * moves[1] * c[ALL][EXPONENT]
            + moves[1] * moves[1] * c[EXPONENT][EXPONENT];
        let own_var = (drain.variance(&gradient) - shared).max(0.0);
        Self { value: flow.ln(), moves, own_var }
    }
}

/// Permeability of a flat bed after a pour, m2.
///
/// - measures: the ease of flow through the bed material, independent of the viscosity
/// - formula: Darcy's law with the conductance as the flow and the head of the options
/// - needs: the conductance, the option `flat_bed`, and the temperature in the bed (`pour_c`) or of the water
/// - minimum samples: as for conductance
/// - valid when: see [`FlatBed`](super::FlatBed). The sizes are taken as exact
/// - reference: Darcy's law; density and viscosity of IAPWS SR6-08(2011)
pub(super) fn permeability(k: usize, conductance: &Maybe, meta: &Meta, options: &BedOptions) -> Maybe {
    let bed = options.flat_bed.ok_or_else(|| Undefined::because("flat_bed was not given"))?;
    let water_c = options.pour_c.get(k).copied().or(meta.water_c);
    let water_c = water_c.ok_or_else(|| Undefined::because("neither pour_c nor water_c was given"))?;
    let flow = conductance.clone()?;
    let of_one_g = density_kg_per_m3(water_c).and_then(|rho| bed.permeability_m2(1000.0 / rho, water_c));
    of_one_g.map(|m2| flow.scaled(m2)).map_err(|e| Undefined::because(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bed::law::{N, Prior};

    /// 50 g flow out at exp(2 + p (ln 50 - 4)); the rate is known to 0.2, what stands to 0.1, both in their
    /// logarithm.
    fn drain(from_s: f64, ln_k: f64) -> Drain {
        let mut covariance = [[0.0; N]; N];
        (covariance[1][1], covariance[2][2]) = (0.01, 0.04);
        let mut prior = Prior::open();
        prior.information = [[0.0; N]; N];
        Drain {
            from_s,
            to_s: from_s + 30.0,
            parameters: [100.0, 4.0, ln_k, 0.5],
            covariance,
            prior,
            deviance: 1.0,
            degrees: 1.0,
            expected: 1.0,
            spread: 1.0,
        }
    }

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-9, "{found}, not {by_hand}");
    }

    #[test]
    fn conductance_is_the_flow_at_50_g_and_its_ratio_goes_by_the_viscosity_too() {
        let law = drain(60.0, -2.0);
        let of = |ln_k: f64, pour_c: &[f64]| {
            let options = BedOptions { pour_c: pour_c.to_vec(), ..BedOptions::default() };
            ratio((1, &drain(30.0, ln_k)), (0, &drain(10.0, -2.0)), &law, &options)
        };
        let flow = conductance(&drain(30.0, -2.0), &BedOptions::default()).unwrap();
        near(flow.value, 2_f64.exp() * (50.0 / 4_f64.exp()).sqrt());
        // ln Q moves with ln V by 1 - p and with ln k by 1: 0.25 x 0.01 + 0.04.
        near(flow.sd, flow.value * 0.0425_f64.sqrt());
        let found = of(-2.3, &[]).unwrap();
        near(found.value, (-0.3_f64).exp());
        near(found.sd, found.value * (2.0 * 0.0425_f64).sqrt());
        // Kinematic viscosity of IAPWS at both temperatures.
        let nu = |c: f64| kinematic_viscosity_m2_per_s(c).unwrap();
        near(of(-2.3, &[93.0, 80.0]).unwrap().value, (-0.3_f64).exp() * nu(80.0) / nu(93.0));
        assert!(of(-2.3, &[93.0]).is_err());
    }

    #[test]
    fn what_two_drainages_took_from_one_law_is_no_difference_between_them() {
        // Both rest on the same prior of the exponent, and nothing else is uncertain: their ratio is sure.
        let of = |from_s: f64| {
            let mut one = drain(from_s, -2.0);
            one.covariance = [[0.0; N]; N];
            (one.covariance[ALL][ALL], one.covariance[EXPONENT][EXPONENT]) = (0.09, 0.01);
            (one.prior.information[ALL][ALL], one.prior.information[EXPONENT][EXPONENT]) =
                (1.0 / 0.09, 100.0);
            one
        };
        let (options, law) = (BedOptions::default(), of(60.0));
        let alike = ratio((1, &of(30.0)), (0, &of(10.0)), &law, &options).unwrap();
        near(alike.value, 1.0);
        assert!(alike.sd < 1e-9, "{alike}");
        assert!(ratio((2, &law), (0, &of(10.0)), &law, &options).unwrap().sd < 1e-9);
        // Where one knows the exponent by itself the law's 0.1 stays, times ln 50 - 4, and its own.
        let mut own = of(30.0);
        own.prior.information = [[0.0; N]; N];
        let apart = ratio((1, &own), (0, &of(10.0)), &law, &options).unwrap();
        near(apart.sd, (2.0_f64).sqrt() * 0.1 * (4.0 - 50_f64.ln()));
    }
}
