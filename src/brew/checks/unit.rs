//! Whether the unit of a weight changed within the log, or differs from the stated one.

use crate::brew::checks::found::Found;
use crate::brew::checks::uncounted::rise_g;
use crate::condition::trace::{Channel, ChannelTrace};
use crate::log::units::OUNCE_G;
use crate::math::robust::median;
use std::ops::Range;

/// Half of the coarsest step of a readout in ounces, oz, with an allowance for double rounding.
const STEP_OZ: f64 = 0.06;
/// Readings on each side that must agree with a switch: a knock is shorter.
const READINGS: usize = 5;
/// Least weight in ounces, in tolerances: a zeroing also reduces a weight strongly.
const CLEAR: f64 = 3.0;
/// A smaller weight counts if the scatter in the presumed ounces is lower by this factor, which neither zeroing nor a
/// knock causes.
const FINER: f64 = 4.0;
/// Readings on each side for the scatter.
const SCATTER_READINGS: usize = 30;
/// Least water per gram of dose, g/g: less is fully retained by the coffee.
const LEAST_WATER: f64 = 2.0;

/// From one reading to the next a weight is divided or multiplied by the grams of an ounce, persistently.
pub(super) fn switched(found: &Found) -> Option<String> {
    let channels = [
        (Channel::Water, found.log.water_g(), &found.trace.water),
        (Channel::Beverage, found.log.beverage_g(), &found.trace.beverage),
    ];
    // The instants of the readings, in the order in which they were logged.
    let mut time_s = vec![0.0; found.trace.time_s.len()];
    found.trace.log_index.iter().zip(&found.trace.time_s).for_each(|(&row, &t)| time_s[row] = t);
    channels.iter().find_map(|(channel, logged, trace)| {
        let logged = (*logged)?;
        let rows: Vec<usize> = (0..logged.len()).filter(|&i| logged[i].is_finite()).collect();
        let near = Near { time_s: &time_s, logged, rows: &rows, trace: trace.as_ref()? };
        let (row, to_ounces) = near.switch()?;
        let name = if *channel == Channel::Water { "water" } else { "beverage" };
        let (from, to) = if to_ounces { ("grams", "ounces") } else { ("ounces", "grams") };
        Some(format!(
            "the {name} reads {} at row {} and {} at the next: the scale seems switched from {from} to {to}. Masses \
             are wrong, since one unit is assumed; convert them",
            logged[rows[row]],
            rows[row] + 1,
            logged[rows[row + 1]]
        ))
    })
}

/// The readings of one weight, in the order in which they were logged.
struct Near<'a> {
    time_s: &'a [f64],
    logged: &'a [f64],
    /// Rows with a reading.
    rows: &'a [usize],
    trace: &'a ChannelTrace,
}

impl Near<'_> {
    /// The last reading before a switch, among `rows`, and whether it is one to ounces.
    fn switch(&self) -> Option<(usize, bool)> {
        (READINGS..=self.rows.len().checked_sub(READINGS)?).map(|k| k - 1).find_map(|k| {
            let (before, after) = (self.at(k), self.at(k + 1));
            let to_ounces = before > after;
            let (more, less) = if to_ounces { (before, after) } else { (after, before) };
            let tolerance_oz = self.tolerance_oz(k, 1);
            if less < tolerance_oz || (more / OUNCE_G - less).abs() > tolerance_oz.min(less / CLEAR) {
                return None;
            }
            if less < CLEAR * tolerance_oz && !self.is_supported_by_scatter(k, to_ounces) {
                return None;
            }
            // A jump counts if the readings before and after stay on their side of it.
            let holds = |i: usize| {
                let at = self.at(i);
                let expected = if i <= k { before } else { after };
                let unit = if (i <= k) == to_ounces { OUNCE_G } else { 1.0 };
                (at - expected).abs() <= self.tolerance_oz(i.min(k), i.abs_diff(k).max(1)) * unit
            };
            (k + 1 - READINGS..k + 1 + READINGS).all(holds).then_some((k, to_ounces))
        })
    }

    /// Whether the scatter on the side of the ounces is lower by the factor, and the jump is larger than water
    /// explains: the start of a pour also raises the scatter.
    fn is_supported_by_scatter(&self, k: usize, to_ounces: bool) -> bool {
        let before = self.scatter((k + 1).saturating_sub(SCATTER_READINGS)..k + 1);
        let after = self.scatter(k + 1..(k + 1 + SCATTER_READINGS).min(self.rows.len()));
        let (grams, ounces) = if to_ounces { (before, after) } else { (after, before) };
        ounces * FINER < grams && (self.at(k + 1) - self.at(k)).abs() > 2.0 * self.poured_g(k, 1)
    }

    /// Median distance of a reading from the midpoint of its neighbours: a steady flow does not contribute.
    fn scatter(&self, rows: Range<usize>) -> f64 {
        let bends = (rows.start + 1..rows.end - 1)
            .map(|k| self.at(k) - f64::midpoint(self.at(k - 1), self.at(k + 1)));
        median(&mut bends.map(f64::abs).collect::<Vec<_>>())
    }

    fn at(&self, k: usize) -> f64 {
        self.logged[self.rows[k]]
    }

    /// Tolerance of a weight for noise, a step of the readout and water between two readings, oz.
    fn tolerance_oz(&self, k: usize, apart: usize) -> f64 {
        STEP_OZ + (self.poured_g(k, apart) + 4.0 * self.trace.noise_sd_g.value) / OUNCE_G
    }

    /// Upper bound of the water between two readings, g.
    fn poured_g(&self, k: usize, apart: usize) -> f64 {
        const FLOW_G_PER_S: f64 = 20.0;
        let to = (k + apart).min(self.rows.len() - 1);
        FLOW_G_PER_S * (self.time_s[self.rows[to]] - self.time_s[self.rows[k]]).abs()
    }
}

/// Too little water for the dose.
pub(super) fn too_little(found: &Found) -> Option<String> {
    let dose_g = found.log.meta.dose_g?;
    // In ounces few rises are large enough for a pour.
    let poured_g = found.bed.water_g.as_ref().map_or(0.0, |water| water.value + 3.0 * water.sd);
    let water_g = poured_g.max(rise_g(found)?);
    (water_g < LEAST_WATER * dose_g).then(|| {
        format!(
            "{water_g:.1} g of water is too little for {dose_g} g of coffee: a unit is wrong or water is missing from \
             the log. Check the units of weights and dose"
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::condition::trace::Flag;
    use crate::estimate::Estimate;

    fn near<T>(logged: &[f64], ask: impl Fn(&Near) -> T) -> T {
        let time_s: Vec<f64> = (0..logged.len()).map(|i| 0.1 * i as f64).collect();
        let rows: Vec<usize> = (0..logged.len()).collect();
        let trace = ChannelTrace {
            mass_g: logged.to_vec(),
            flag: vec![Flag::Used; logged.len()],
            noise_sd_g: Estimate::exact(0.1),
            step_g: 0.1,
            drift_g_per_s: Estimate::exact(0.0),
            walk_g2_per_s: 0.0,
        };
        ask(&Near { time_s: &time_s, logged, rows: &rows, trace: &trace })
    }

    fn switch(logged: &[f64]) -> Option<(usize, bool)> {
        near(logged, |n| n.switch())
    }

    #[test]
    fn the_tolerance_of_a_weight_adds_a_step_in_ounces_noise_and_the_water_between() {
        // 0.06 oz and (20 g/s for 0.1 s + 4 x 0.1 g) over 28.3495 g; for half a second 10 g.
        near(&[0.0; 10], |n| {
            assert!((n.tolerance_oz(2, 1) - 0.06 - 2.4 / 28.349_523_125).abs() < 1e-12);
            assert!((n.tolerance_oz(2, 5) - 0.06 - 10.4 / 28.349_523_125).abs() < 1e-12);
            assert!((n.poured_g(8, 5) - 2.0).abs() < 1e-12, "within the log");
        });
    }

    #[test]
    fn a_weight_that_is_divided_by_the_grams_of_an_ounce_is_a_switch_either_way_also_while_water_runs() {
        let of = |to_ounces: bool, flow_g: f64, sway_g: f64| {
            let sway = |i: usize| if i.is_multiple_of(2) { sway_g } else { -sway_g };
            let grams = |i: usize| 200.0 + flow_g * i as f64;
            let reading = |i: usize| {
                // Grams scatter within the bound of the water; ounces are constant.
                if (i < 40) == to_ounces {
                    grams(i) + if i == 39 || i == 40 { 0.0 } else { sway(i) }
                } else {
                    grams(i) / OUNCE_G
                }
            };
            switch(&(0..80).map(reading).collect::<Vec<f64>>())
        };
        assert_eq!(of(true, 0.0, 0.0), Some((39, true)));
        assert_eq!(of(false, 0.0, 0.0), Some((39, false)));
        assert_eq!(of(true, 0.5, 0.0), Some((39, true)));
        assert_eq!(of(true, 0.0, 3.0), Some((39, true)));
        assert_eq!(switch(&[[200.0; 40], [100.0; 40]].concat()), None);
        // A knock of three readings is not a switch.
        assert_eq!(switch(&[vec![200.0; 40], vec![200.0 / OUNCE_G; 3], vec![200.0; 40]].concat()), None);
    }

    #[test]
    fn a_small_weight_is_a_switch_only_if_its_scatter_is_lower_by_the_factor() {
        let of = |scatter_oz: f64| {
            let sway = |i: usize| if i.is_multiple_of(2) { 0.5 } else { -0.5 };
            let reading =
                |i: usize| if i < 40 { 9.0 + 0.05 * sway(i) } else { 9.0 / OUNCE_G + scatter_oz * sway(i) };
            switch(&(0..80).map(reading).collect::<Vec<f64>>())
        };
        // Four times less is the limit: 0.05 g against 0.0125.
        assert_eq!(of(0.011), Some((39, true)));
        assert_eq!(of(0.014), None);
    }

    #[test]
    fn the_scatter_is_that_of_readings_about_the_midpoint_of_their_neighbours() {
        let steady: Vec<f64> = (0..20).map(|i| 3.0 * f64::from(i)).collect();
        assert_eq!(near(&steady, |n| n.scatter(0..20)), 0.0);
        let up_and_down: Vec<f64> = (0..20).map(|i| f64::from(i % 2)).collect();
        assert_eq!(near(&up_and_down, |n| n.scatter(0..20)), 1.0);
        // Three of the four bends at the end are of 10, one of the twelve before them.
        let mut later = vec![0.0; 20];
        (16..20).for_each(|i| later[i] = f64::from(u8::try_from(i % 2).unwrap()) * 10.0);
        assert_eq!([near(&later, |n| n.scatter(14..20)), near(&later, |n| n.scatter(0..14))], [7.5, 0.0]);
    }
}
