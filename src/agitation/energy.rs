//! In: the flow of a pour and what is known of its fall. Out: the energy that its water brings to the bed.

use crate::agitation::known::{G_M_PER_S2, Known, neither};
use crate::agitation::pouring::Pouring;
use crate::estimate::{Estimate, Maybe};
use std::f64::consts::PI;

/// Energy of a pour, J.
///
/// - measures: what a pour may spend on moving the grounds; an ordinal proxy, since most of it moves only water
/// - formula: `integral of Q (g H + v0^2/2) dt`, for a constant flow `M (g H + v0^2/2)`, whatever the duration; from the force on the scale,
///   which gives the speed `v` at the bed at once, `M v^2/2`
/// - needs: mass, bore, height and temperature; or the mass and that force
/// - valid when: the stream is that of [`Stream`](super::Stream)
/// - reference: balance of energy
pub(super) fn energy_j(pouring: &Pouring, known: &Known) -> Maybe {
    stated(pouring, known).or_else(|why| match &known.lead_s {
        Ok(lead) => {
            let speed = lead.scaled(G_M_PER_S2);
            let halved = Estimate::new(0.5 * speed.value * speed.value, speed.value * speed.sd);
            Ok(pouring.mass_g.scaled(1e-3).times(halved))
        }
        Err(untold) => Err(neither(&why, untold)),
    })
}

fn stated(pouring: &Pouring, known: &Known) -> Maybe {
    let (bore, height) = (known.bore_m.clone()?, known.height_m.clone()?);
    let density = known.water.clone()?.density_kg_per_m3;
    // Speed at the spout to a flow of 1 g/s; what a gram brings is g H + (by_flow Q)^2/2 thousandths of a joule.
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

/// Energy to a gram of dry coffee, J/g.
///
/// - measures: the same, between brews of different doses
/// - formula: energy over dose
/// - needs: the energy and the dose
/// - valid when: as the energy
/// - reference: definition
pub(super) fn energy_j_per_g(energy_j: &Maybe, known: &Known) -> Maybe {
    Ok(energy_j.clone()?.over(known.dose_g.clone()?))
}
