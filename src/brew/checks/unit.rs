//! Whether the unit of a weight changed within the log, or is another one than was said.

use crate::brew::checks::found::Found;
use crate::brew::checks::uncounted::rise_g;
use crate::condition::trace::{Channel, ChannelTrace};
use crate::log::units::OUNCE_G;
use crate::math::robust::median;
use std::ops::Range;

/// Half of the coarsest step that a readout in ounces has, oz, and what rounding twice may add.
const STEP_OZ: f64 = 0.06;
/// Readings on each side that have to bear a switch out: a knock is over sooner.
const READINGS: usize = 5;
/// A weight in ounces has to be this many times what it may be off: the zero key too makes little of much.
const CLEAR: f64 = 3.0;
/// A small one tells as well where the readings scatter this many times less in what would be ounces, as after no key and no knock.
const FINER: f64 = 4.0;
/// So many readings on each side tell how they scatter.
const SCATTER_READINGS: usize = 30;
/// No brew has less water than this per gram of dose, g/g: the coffee alone keeps it all.
const LEAST_WATER: f64 = 2.0;

/// From one reading to the next a weight is divided or multiplied by the grams of an ounce, and stays so.
pub(super) fn switched(found: &Found) -> Option<String> {
    let channels = [
        (Channel::Water, found.log.water_g(), &found.trace.water),
        (Channel::Beverage, found.log.beverage_g(), &found.trace.beverage),
    ];
    channels.iter().find_map(|(channel, logged, trace)| {
        let logged = (*logged)?;
        let rows: Vec<usize> = (0..logged.len()).filter(|&i| logged[i].is_finite()).collect();
        let near = Near { time_s: found.log.time_s(), logged, rows: &rows, trace: trace.as_ref()? };
        let (row, to_ounces) = near.switch()?;
        let name = if *channel == Channel::Water { "water" } else { "beverage" };
        let (from, to) = if to_ounces { ("grams", "ounces") } else { ("ounces", "grams") };
        Some(format!(
            "the {name} reads {} at row {} and {} at the next, as where a scale is switched from {from} to {to}: one unit was taken for the whole log",
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
    /// Rows that hold a reading.
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
            if less < CLEAR * tolerance_oz && !self.is_told_by_scatter(k, to_ounces) {
                return None;
            }
            // A rise counts where what was before and what comes after stays on its side of the jump.
            let holds = |i: usize| {
                let at = self.at(i);
                let expected = if i <= k { before } else { after };
                let unit = if (i <= k) == to_ounces { OUNCE_G } else { 1.0 };
                (at - expected).abs() <= self.tolerance_oz(i.min(k), i.abs_diff(k).max(1)) * unit
            };
            (k + 1 - READINGS..k + 1 + READINGS).all(holds).then_some((k, to_ounces))
        })
    }

    /// Whether the readings on the side of the ounces scatter as much less as they would, and no water makes the jump: as a pour begins they scatter more too.
    fn is_told_by_scatter(&self, k: usize, to_ounces: bool) -> bool {
        let before = self.scatter((k + 1).saturating_sub(SCATTER_READINGS)..k + 1);
        let after = self.scatter(k + 1..(k + 1 + SCATTER_READINGS).min(self.rows.len()));
        let (grams, ounces) = if to_ounces { (before, after) } else { (after, before) };
        ounces * FINER < grams && (self.at(k + 1) - self.at(k)).abs() > 2.0 * self.poured_g(k, 1)
    }

    /// Median of how far a reading lies from the middle of its neighbours: a steady flow adds nothing to it.
    fn scatter(&self, rows: Range<usize>) -> f64 {
        let bends = (rows.start + 1..rows.end - 1)
            .map(|k| self.at(k) - f64::midpoint(self.at(k - 1), self.at(k + 1)));
        median(&mut bends.map(f64::abs).collect::<Vec<_>>())
    }

    fn at(&self, k: usize) -> f64 {
        self.logged[self.rows[k]]
    }

    /// What noise, a step of the readout and water between two readings may make of a weight, oz.
    fn tolerance_oz(&self, k: usize, apart: usize) -> f64 {
        STEP_OZ + (self.poured_g(k, apart) + 4.0 * self.trace.noise_sd_g.value) / OUNCE_G
    }

    /// As much water as comes between two readings, g.
    fn poured_g(&self, k: usize, apart: usize) -> f64 {
        const FLOW_G_PER_S: f64 = 20.0;
        let to = (k + apart).min(self.rows.len() - 1);
        FLOW_G_PER_S * (self.time_s[self.rows[to]] - self.time_s[self.rows[k]]).abs()
    }
}

/// Less water than the coffee weighs.
pub(super) fn too_little(found: &Found) -> Option<String> {
    let dose_g = found.log.meta.dose_g?;
    // In ounces hardly any rise is large enough to be called a pour.
    let poured_g = found.bed.water_g.as_ref().map_or(0.0, |water| water.value + 3.0 * water.sd);
    let water_g = poured_g.max(rise_g(found)?);
    (water_g < LEAST_WATER * dose_g).then(|| {
        format!(
            "{water_g:.1} g of water for {dose_g} g of coffee is no brew: the unit of the weights or of the dose is another one, or most of the water is not in the log"
        )
    })
}
