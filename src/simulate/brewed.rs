//! In: the drawn pours and the bed. Out: the true water and beverage of one brew, on a grid.

use crate::math::random::Random;
use crate::simulate::bed::Column;
use crate::simulate::hand;
use crate::simulate::recipe::{Recipe, Weighed};
use crate::simulate::scale::rounded;
use crate::simulate::setup::Setup;
use crate::simulate::truth::integral;
use crate::simulate::weight::{MARGIN_S, Quiet};

/// Spacing of the grid of the true flow, s.
pub(super) const DT_S: f64 = 2e-3;
/// Time for a bed to drain, s.
const DRAIN_S: f64 = 300.0;
/// Flow under which the beverage has stopped, g/s.
const STOPPED_G_PER_S: f64 = 0.1;
/// Time in the log after the beverage has stopped, if the log lasts until then, s.
const AFTER_STOP_S: f64 = 3.0;

/// The true signals of a brew. They start at time zero and end with the log.
pub(super) struct Brewed {
    pub(super) flow_g_per_s: Vec<f64>,
    pub(super) water_g: Vec<f64>,
    pub(super) beverage_g: Vec<f64>,
    /// First and last instant of each pour, down to no flow at all, s.
    pub(super) poured_s: Vec<(f64, f64)>,
    pub(super) setup: Option<Setup>,
    pub(super) dose_g: f64,
    pub(super) retention_g_per_g: f64,
    pub(super) beverage_end_s: Option<f64>,
    /// Beverage after complete drainage, g.
    pub(super) cup_g: f64,
    /// Instant at which the vessel is removed for good, s.
    pub(super) removed_s: Option<f64>,
}

impl Brewed {
    /// Draws a brew. `random` returns the random stream of that name.
    pub(super) fn draw(recipe: &Recipe, random: impl Fn(&str) -> Random) -> Self {
        let setup = Setup::draw(recipe, &mut random("preparation"));
        let mut of_pours = random("hand");
        let first_s = setup.as_ref().map_or(0.0, |s| s.zero_s) + of_pours.between(recipe.hand.before_s);
        let pours = hand::pours(&recipe.hand, first_s, &mut of_pours);
        let last_s = pours.last().map_or(first_s, |p| p.end_s);
        let mut end_s = last_s + of_pours.between(recipe.hand.after_s);
        let mut flow_g_per_s = vec![0.0; ((end_s + DRAIN_S) / DT_S) as usize];
        pours.iter().for_each(|pour| pour.add_to(&mut flow_g_per_s, DT_S));
        let mut water_g = integral(&flow_g_per_s, DT_S);

        let mut of_bed = random("bed");
        let ratio = of_bed.between(recipe.bed.water_to_dose_g_per_g);
        let poured_g = water_g.last().copied().unwrap_or(0.0);
        let dose_g = recipe.meta.dose_g.unwrap_or_else(|| rounded(poured_g / ratio, 0.1));
        let retention_g_per_g = of_bed.between(recipe.bed.holds_g_per_g);
        let column = Column {
            holds_g: retention_g_per_g * dose_g,
            flow_at_50_g_per_s: of_bed.between(recipe.bed.flow_at_50_g_per_s),
            exponent: of_bed.between(recipe.bed.exponent),
            delay_s: of_bed.between(recipe.bed.delay_s),
        };
        let mut beverage_g = column.beverage_g(&water_g, DT_S);
        let cup_g = beverage_g.last().copied().unwrap_or(0.0);
        let stopped = beverage_g.windows(2).rposition(|w| w[1] - w[0] >= STOPPED_G_PER_S * DT_S);
        let beverage_end_s = stopped.map(|i| (i + 1) as f64 * DT_S);
        if recipe.bed.to_the_end && recipe.weighed != Weighed::Water {
            end_s = end_s.max(beverage_end_s.unwrap_or(0.0) + AFTER_STOP_S);
        }

        let removal = &recipe.faults.removal;
        let mut of_removal = random("removal");
        let removed_s = of_removal.chance(removal.share).then_some(end_s);
        if removed_s.is_some() {
            end_s += of_removal.between(removal.after_s);
        }
        for signal in [&mut flow_g_per_s, &mut water_g, &mut beverage_g] {
            let last = signal.last().copied().unwrap_or(0.0);
            signal.resize((end_s / DT_S) as usize, last);
        }
        let poured_s = pours.iter().map(|p| (p.start_s, p.end_s)).collect();
        Self {
            flow_g_per_s,
            water_g,
            beverage_g,
            poured_s,
            setup,
            dose_g,
            retention_g_per_g,
            beverage_end_s,
            cup_g,
            removed_s,
        }
    }

    /// First instant of the brew, s.
    pub(super) fn start_s(&self) -> f64 {
        self.setup.as_ref().map_or(0.0, |s| s.zero_s)
    }

    /// End of the log, s.
    pub(super) fn end_s(&self) -> f64 {
        DT_S * self.flow_g_per_s.len() as f64
    }

    /// Intervals without contact with the vessels: between the pours, or, for the server, during the whole brew.
    pub(super) fn quiet(&self, between_pours: bool) -> Quiet {
        let mut from = self.start_s();
        let mut stretches = Vec::new();
        for pour in self.poured_s.iter().filter(|_| between_pours) {
            stretches.push((from + MARGIN_S, pour.0 - MARGIN_S));
            from = pour.1;
        }
        stretches.push((from + MARGIN_S, self.removed_s.unwrap_or(self.end_s()) - MARGIN_S));
        Quiet(stretches)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn water_is_the_integral_of_flow_and_the_sum_of_beverage_and_holdup() {
        for seed in 0..20 {
            let brewed = Brewed::draw(&Recipe::default(), |name| Random::stream(seed, name));
            let poured: f64 = brewed.flow_g_per_s.iter().sum::<f64>() * DT_S;
            let water = *brewed.water_g.last().unwrap();
            assert!((poured - water).abs() < 1e-3);
            let held = brewed.retention_g_per_g * brewed.dose_g;
            assert!(
                (water - brewed.cup_g - held).abs() < 0.05,
                "seed {seed}: {water} {} {held}",
                brewed.cup_g
            );
            // Delay and holdup: the beverage starts seconds after the water and stops after it.
            let first = brewed.beverage_g.iter().position(|&b| b > 0.0).unwrap() as f64 * DT_S;
            assert!(first > brewed.poured_s[0].0 + 1.0);
            assert!(brewed.beverage_end_s.unwrap() > brewed.poured_s.last().unwrap().1);
        }
    }
}
