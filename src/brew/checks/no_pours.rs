//! What a log without pours looks like.
//!
//! A unit, a sign or a column is wrong more often than nothing was poured. The guess is the first that makes the log
//! plausible: water of a brew, at a flow that a hand pours.

use crate::brew::checks::found::Found;
use crate::log::units::OUNCE_G;
use crate::math::robust::median;
use std::ops::Range;

/// Water of a brew, g, and its mean flow over the whole log, g/s (common practice, no source).
const WATER_G: Range<f64> = 20.0..5000.0;
const FLOW_G_PER_S: Range<f64> = 0.2..20.0;
/// Longest and shortest plausible log, s.
const LASTS_S: Range<f64> = 10.0..7200.0;
/// Readings whose median is the level at an end of the log.
const READINGS: usize = 5;

/// The water was weighed, and there is no pour.
pub(super) fn no_pours(found: &Found) -> Option<String> {
    let water = found.log.water_g().filter(|_| found.segments.pours.is_empty() && !found.by_hand)?;
    let known: Vec<f64> = water.iter().copied().filter(|y| y.is_finite()).collect();
    let time_s = found.log.time_s();
    let lasts_s = time_s.iter().copied().fold(f64::NEG_INFINITY, f64::max)
        - time_s.iter().copied().fold(f64::INFINITY, f64::min);
    let level = |readings: &[f64]| median(&mut readings.to_vec());
    let n = READINGS.min(known.len());
    let rises_g = level(&known[known.len() - n..]) - level(&known[..n]);
    Some(format!("no pours: {}", looks_like(rises_g, lasts_s)))
}

fn looks_like(rises_g: f64, lasts_s: f64) -> String {
    let is_brew = |water_g: f64, lasts_s: f64| {
        WATER_G.contains(&water_g)
            && LASTS_S.contains(&lasts_s)
            && FLOW_G_PER_S.contains(&(water_g / lasts_s))
    };
    if is_brew(-rises_g, lasts_s) {
        return format!(
            "the weight of the water falls by {:.0} g. The scale weighs the kettle, or the sign is inverted: log the \
             weight that the water is poured onto",
            -rises_g
        );
    }
    let units = [
        (1.0, 60.0, "the stamps are in minutes", "time_unit=\"min\""),
        (1.0, 1e-3, "the stamps are in milliseconds", "time_unit=\"ms\""),
        (OUNCE_G, 1.0, "the weights are in ounces", "mass_unit=\"oz\""),
        (1e3, 1.0, "the weights are in kilograms", "mass_unit=\"kg\""),
    ];
    let plausible = units.iter().find(|(mass, time, ..)| is_brew(mass * rises_g, time * lasts_s));
    if let Some((_, _, guess, state)) = plausible.filter(|_| !is_brew(rises_g, lasts_s)) {
        return format!(
            "the weight of the water rises by {rises_g:.2} g in {lasts_s:.0} s. Perhaps {guess}: read the file with \
             {state}"
        );
    }
    "no water arrives as from a kettle. Check that the column is the weight of the water, and its unit".into()
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
        of(0.0, 140.0, "no water arrives");
        of(250.0, 140.0, "no water arrives");
    }
}
