//! In: the preparation of a recipe. Out: the instants of its parts, and their effect on the weight.

use crate::condition::trace::EventKind;
use crate::math::random::Random;
use crate::simulate::hand::Stream;
use crate::simulate::recipe::{PlannedPour, Recipe, Shape};
use crate::simulate::truth::integral;
use crate::simulate::weight::Weight;

/// A vessel that was not zeroed, g.
const VESSEL_G: f64 = 350.0;

/// Rinse, emptying, dose and zero key, in this order.
pub(super) struct Setup {
    rinse: Option<Stream>,
    off_s: Option<(f64, f64)>,
    first_zero_s: Option<f64>,
    dose_s: Option<(f64, f64)>,
    through_lag: bool,
    /// The zero key: the brew begins.
    pub(super) zero_s: f64,
}

impl Setup {
    /// Draws whether there is a preparation, and the instants of its parts.
    pub(super) fn draw(recipe: &Recipe, random: &mut Random) -> Option<Self> {
        let p = &recipe.faults.preparation;
        if !random.chance(p.share) {
            return None;
        }
        let mut next_s = random.between(recipe.hand.before_s);
        let rinse = random.chance(p.rinse).then(|| {
            let pour = PlannedPour {
                rest_s: 0.0,
                mass_g: random.between(p.rinse_g),
                flow_g_per_s: random.between(p.rinse_flow_g_per_s),
                rise_s: random.between(recipe.hand.rise_s),
                fall_s: random.between(recipe.hand.fall_s),
            };
            Stream::new(next_s, &pour, [Shape::Linear; 2])
        });
        if let Some(stream) = &rinse {
            next_s = stream.end_s + random.between(p.wait_s);
        }
        let mut schedule = |happens: bool, takes_s: [f64; 2], random: &mut Random| {
            happens.then(|| {
                let from = next_s;
                let to = from + random.between(takes_s);
                next_s = to + random.between(p.wait_s);
                (from, to)
            })
        };
        let emptied = rinse.is_some() && random.chance(p.emptied);
        let off_s = schedule(emptied, recipe.faults.lifts.duration_s, random);
        let (dosed, twice) = (random.chance(p.dose), random.chance(p.zeroed_twice));
        let first_zero_s = schedule(dosed && twice, [0.0; 2], random).map(|at| at.0);
        let dose_s = schedule(dosed, p.dose_s, random);
        let through_lag = random.chance(p.through_lag);
        Some(Self { rinse, off_s, first_zero_s, dose_s, through_lag, zero_s: next_s })
    }

    /// Applies the preparation to the water weight.
    pub(super) fn on_water(&self, weight: &mut Weight, recipe: &Recipe, dose_g: f64, random: &mut Random) {
        let mut rinsed_g = 0.0;
        if let Some(rinse) = &self.rinse {
            let mut flow = vec![0.0; weight.load.len()];
            rinse.add_to(&mut flow, weight.dt_s);
            let water = integral(&flow, weight.dt_s);
            weight.load.iter_mut().zip(&water).for_each(|(x, w)| *x += w);
            rinsed_g = water.last().copied().unwrap_or(0.0);
        }
        if self.off_s.is_none() && self.dose_s.is_none() {
            // Water that stays on a zeroed vessel and gets no dose would be a pour.
            weight.load.iter_mut().for_each(|load| *load += VESSEL_G);
        }
        if let Some((from, to)) = self.off_s {
            let lifts = &recipe.faults.lifts;
            let lag = random.chance(lifts.through_lag);
            let fall_g = random.between(lifts.fall_g);
            weight.off(lag, from, to, random.between(lifts.hand_s), fall_g, rinsed_g);
            weight.list(EventKind::Lift, from, to, -fall_g, "vessel emptied of the rinse");
        }
        if let Some((from, to)) = self.dose_s {
            let takes_s = (to - from).max(weight.dt_s);
            weight.add(true, from, f64::INFINITY, |t| dose_g * ((t - from) / takes_s).min(1.0));
            weight.list(EventKind::Placed, from, to, dose_g, "dose added");
        }
        weight.list(EventKind::Preparation, 0.0, self.zero_s, rinsed_g, "rinse and set-up");
        self.zero(weight);
    }

    /// Adds the zeroings of a weight, the last one at `zero_s`.
    pub(super) fn zero(&self, weight: &mut Weight) {
        let instants = self.first_zero_s.into_iter().chain([self.zero_s]);
        weight.zeroed.extend(instants.map(|at| (at, self.through_lag)));
    }
}
