//! In: the flow of a pour and the known quantities of its fall. Out: the energy of its water at the bed.

use crate::agitation::known::{G_M_PER_S2, Known, neither};
use crate::agitation::pouring::Pouring;
use crate::estimate::{Estimate, Maybe};
use std::f64::consts::PI;

/// Energy of a pour, J.
///
/// - measures: the energy available to move the grounds; an ordinal proxy, since most of it moves water only
/// - formula: `integral of Q (g H + v0^2/2) dt`, for a constant flow `M (g H + v0^2/2)`, for any duration; from the
///   force on the scale, which gives the speed `v` at the bed directly, `M v^2/2`
/// - needs: mass, bore, height and temperature; or mass and force
/// - valid when: the stream is that of [`Stream`](super::Stream)
/// - reference: balance of energy
pub(super) fn energy_j(pouring: &Pouring, known: &Known) -> Maybe {
    stated(pouring, known).or_else(|why| match &known.lead_s {
        Ok(lead) => {
            let speed = lead.scaled(G_M_PER_S2);
            let halved = Estimate::new(0.5 * speed.value * speed.value, speed.value * speed.sd);
            Ok(pouring.mass_g.scaled(1e-3).times(halved))
        }
        Err(no_lead) => Err(neither(&why, no_lead)),
    })
}

fn stated(pouring: &Pouring, known: &Known) -> Maybe {
    let (bore, height) = (known.bore_m.clone()?, known.height_m.clone()?);
    let density = known.water.clone()?.density_kg_per_m3;
    // Speed at the spout per g/s of flow; the energy of a gram is g H + (by_flow Q)^2/2 thousandths of a joule.
    let by_flow = 4e-3 / (PI * density * bore.value * bore.value);
    let fall = G_M_PER_S2 * height.value;
    let spout = 0.5 * by_flow * by_flow;
    let all = pouring.integral(|q| {
        [q * (fall + spout * q * q), fall + 3.0 * spout * q * q, 6.0 * spout * q].map(|j| j * 1e-3)
    });
    let of_fall = pouring.mass_g.value * fall * 1e-3;
    let by_height = of_fall * height.sd / height.value;
    let by_bore = 4.0 * (all.value - of_fall) * bore.sd / bore.value;
    Ok(Estimate::new(all.value, all.sd.hypot(by_height).hypot(by_bore)))
}

/// Energy per gram of dry coffee, J/g.
///
/// - measures: the energy, comparable between brews of different doses
/// - formula: energy over dose
/// - needs: the energy and the dose
/// - valid when: as the energy
/// - reference: definition
pub(super) fn energy_j_per_g(energy_j: &Maybe, known: &Known) -> Maybe {
    Ok(energy_j.clone()?.over(known.dose_g.clone()?))
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::agitation::known::Liquid;
    use crate::estimate::Undefined;

    #[test]
    fn the_sd_of_an_energy_joins_mass_height_and_bore_by_hand() {
        let none = || Err(Undefined::because("not given"));
        let liquid = Liquid { density_kg_per_m3: 1000.0, viscosity_pa_s: 1e-3, tension_n_per_m: 0.07 };
        let known = |height_sd: f64, bore_sd: f64| Known {
            bore_m: Ok(Estimate::new(0.005, bore_sd)),
            height_m: Ok(Estimate::new(0.2, height_sd)),
            lead_s: none(),
            water: Ok(liquid),
            dose_g: Ok(Estimate::new(15.0, 0.15)),
        };
        // 5 g/s for ten seconds, exact except for 0.5 g of mass.
        let pouring = Pouring::even(5.0, 10.0, 0.5);
        let of = |height_sd: f64, bore_sd: f64| energy_j(&pouring, &known(height_sd, bore_sd)).unwrap();
        // At the spout 5e-6 m3/s over pi/4 x 25e-6 m2: 0.254648 m/s, half of its square 0.0324228; with g H =
        // 1.96133 J/kg.
        let (fall, spout) = (1.961_33, 0.032_422_8);
        let exact = of(0.0, 0.0);
        assert!((exact.value - 0.05 * (fall + spout)).abs() < 1e-7, "{exact}");
        assert!((of(0.02, 0.0).sd.powi(2) - exact.sd.powi(2) - (0.05 * fall * 0.1_f64).powi(2)).abs() < 1e-9);
        // The speed at the spout goes as one over the square of the bore, its energy as the fourth power.
        assert!(
            (of(0.0, 0.000_1).sd.powi(2) - exact.sd.powi(2) - (4.0 * 0.05 * spout * 0.02_f64).powi(2)).abs()
                < 1e-9
        );
        let per_g = energy_j_per_g(&Ok(Estimate::new(0.1, 0.002)), &known(0.0, 0.0)).unwrap();
        assert!(
            (per_g.value - 0.1 / 15.0).abs() < 1e-12
                && (per_g.sd / per_g.value - 0.02_f64.hypot(0.01)).abs() < 1e-12
        );
    }
}
