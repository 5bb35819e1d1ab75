//! What a log looks like that has no pours, or whose water and time are those of no brew.
//!
//! A unit, a sign or a column is wrong more often than nothing was poured. The guess is the first that makes the log
//! plausible: water of a brew, at a flow that a hand pours.

use crate::brew::checks::found::Found;
use crate::log::units::OUNCE_G;
use crate::segment::pour::Pour;
use std::ops::{Range, RangeInclusive};

/// Water of a brew, g, and its mean flow over the whole log, g/s (common practice, no source).
const WATER_G: Range<f64> = 20.0..5000.0;
const FLOW_G_PER_S: Range<f64> = 0.2..20.0;
/// Mean flow of a usual brew over the whole log, g/s (common practice, no source).
const USUAL_G_PER_S: f64 = 2.0;
const UNWEIGHED: &str = "no pours: the log has the weight of the beverage alone. If another column is the water, read the \
                         file with water=\"...\"";
/// Longest and shortest plausible log, s.
const LASTS_S: Range<f64> = 10.0..7200.0;
/// A step between two readings is a zeroing, a lift or a knock if it is this many times larger than most steps.
const JUMP: f64 = 10.0;
const MOST: f64 = 0.95;
/// Pours hold this share of the water that rises, and flow at these rates on average, g/s.
const HELD: RangeInclusive<f64> = 0.5..=1.5;
const POURED_G_PER_S: RangeInclusive<f64> = 0.8..=40.0;

/// The water was weighed, and there is no pour, or another unit explains the log better.
pub(super) fn no_pours(found: &Found) -> Option<String> {
    if found.by_hand {
        return None;
    }
    let Some(water) = found.log.water_g() else { return Some(UNWEIGHED.into()) };
    let known: Vec<f64> = water.iter().copied().filter(|y| y.is_finite()).collect();
    let time_s = found.log.time_s();
    let lasts_s = time_s.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - time_s.iter().copied().fold(f64::INFINITY, f64::min);
    let rises_g = rise_g(&known);
    match found.segments.pours.is_empty() {
        true => Some(format!("no pours: {}", looks_like(rises_g, lasts_s))),
        false if is_poured(found, rises_g) => None,
        false => other_unit(rises_g, lasts_s),
    }
}

/// Whether the pours hold about the water that rose, and flow as from a kettle.
fn is_poured(found: &Found, rises_g: f64) -> bool {
    let sum = |of: fn(&Pour) -> f64| found.segments.pours.iter().map(of).sum::<f64>();
    let (water_g, pouring_s) = (sum(|p| p.mass_g.value), sum(|p| p.duration_s.value));
    HELD.contains(&(water_g / rises_g)) && POURED_G_PER_S.contains(&(water_g / pouring_s))
}

/// Rise of the readings without jumps, whatever their unit.
fn rise_g(known: &[f64]) -> f64 {
    let steps: Vec<f64> = known.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let mut sizes: Vec<f64> = steps.iter().map(|step| step.abs()).filter(|&size| size > 0.0).collect();
    sizes.sort_by(f64::total_cmp);
    let usual = sizes.get((MOST * sizes.len() as f64) as usize).copied().unwrap_or(0.0);
    steps.iter().filter(|step| step.abs() <= JUMP * usual).sum()
}

fn is_brew(water_g: f64, lasts_s: f64) -> bool {
    WATER_G.contains(&water_g) && LASTS_S.contains(&lasts_s) && FLOW_G_PER_S.contains(&(water_g / lasts_s))
}

fn looks_like(rises_g: f64, lasts_s: f64) -> String {
    if is_brew(-rises_g, lasts_s) {
        return format!(
            "the weight of the water falls by {:.0} g. The scale weighs the kettle, or the sign is inverted: log the \
             weight that the water is poured onto",
            -rises_g
        );
    }
    other_unit(rises_g, lasts_s).unwrap_or_else(|| {
        "no water arrives as from a kettle. Check that the column is the weight of the water, and its unit".into()
    })
}

/// The unit in which the log is a brew, if it is none as it is.
fn other_unit(rises_g: f64, lasts_s: f64) -> Option<String> {
    if is_brew(rises_g, lasts_s) {
        return None;
    }
    let units = [
        (1.0, 60.0, "the stamps are in minutes", "time_unit=\"min\""),
        (1.0, 1e-3, "the stamps are in milliseconds", "time_unit=\"ms\""),
        (OUNCE_G, 1.0, "the weights are in ounces", "mass_unit=\"oz\""),
        (1e3, 1.0, "the weights are in kilograms", "mass_unit=\"kg\""),
        (1e-3, 1.0, "the weights are in milligrams, or in grams and not in kilograms", "the right mass_unit"),
        (1.0, 1.0 / 60.0, "the stamps are in seconds, not in minutes", "time_unit=\"s\""),
        (1.0, 1e3, "the stamps are in seconds, not in milliseconds", "time_unit=\"s\""),
    ];
    let unusual = |mass: f64, time: f64| (mass * rises_g / (time * lasts_s) / USUAL_G_PER_S).ln().abs();
    let (_, _, guess, state) = units
        .iter()
        .filter(|(mass, time, ..)| is_brew(mass * rises_g, time * lasts_s))
        .min_by(|a, b| unusual(a.0, a.1).total_cmp(&unusual(b.0, b.1)))?;
    let decimals = if lasts_s < 10.0 { 2 } else { 0 };
    Some(format!(
        "the weight of the water rises by {rises_g:.2} g in {lasts_s:.decimals$} s. Perhaps {guess}: read the file with \
         {state}"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_guess_makes_the_log_a_brew() {
        // 250 g in 140 s, written in other units or upside down.
        let of = |rises_g: f64, lasts_s: f64, word: &str| {
            let found = looks_like(rises_g, lasts_s);
            assert!(found.contains(word), "{found}");
        };
        of(-250.0, 140.0, "falls by 250 g");
        of(250.0, 140.0 / 60.0, "time_unit=\"min\"");
        of(250.0, 140.0e3, "time_unit=\"ms\"");
        of(0.25, 140.0, "mass_unit=\"kg\"");
        of(250.0 / OUNCE_G, 140.0, "mass_unit=\"oz\"");
        of(250.0e3, 140.0, "in milligrams, or in grams");
        of(250.0, 140.0 * 60.0, "in seconds, not in minutes");
        of(250.0, 0.14, "in seconds, not in milliseconds");
        of(0.0, 140.0, "no water arrives");
        of(250.0, 140.0, "no water arrives");
    }

    #[test]
    fn jumps_do_not_count_as_water() {
        // 60 g in 200 steps of 0.3 g, a knock of one reading, then the zero key on a vessel of 350 g.
        let water = (0..=200).map(|i| 350.0 + 0.3 * f64::from(i));
        let known: Vec<f64> = water.chain([410.0, 900.0, 410.0, 0.0, 0.1, 0.0]).collect();
        assert!((rise_g(&known) - 60.0).abs() < 1e-9, "{}", rise_g(&known));
        let in_kg: Vec<f64> = known.iter().map(|y| y / 1000.0).collect();
        assert!((rise_g(&in_kg) - 0.06).abs() < 1e-12);
        assert_eq!([rise_g(&[]), rise_g(&[1.0]), rise_g(&[2.0; 9])], [0.0; 3]);
    }
}
