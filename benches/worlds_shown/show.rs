//! One log: what was true, and what was stated.

use super::calibrated::{Calibrated, calibrating};
use crate::judged::{SCORED, analysed, broken, number, rows};
use crate::worlds::{Kind, Setting, TruePour, log};
use pourline::Options;

/// The readings of a log, or of the calibration of its scale, as a file.
pub fn csv(kind: &Kind, setting: &Setting, seed: u64, calibrated: bool) {
    let made = log(kind, setting, seed);
    let (time_s, water_g) = if calibrated {
        let calibrating = calibrating(&made, setting, seed);
        (calibrating.time_s, calibrating.shown_g)
    } else {
        (made.time_s, made.water_g)
    };
    println!("time_s,water_g");
    time_s.iter().zip(&water_g).for_each(|(s, g)| println!("{s:.4},{g:.3}"));
}

pub fn one(kind: &Kind, setting: &Setting, seed: u64, calibrated: bool) {
    let made = log(kind, setting, seed);
    println!("{}, seed {seed}: {:?}, lead {:.3} s", kind.name, made.instrument, made.lead_s);
    if let Some(placed) = made.placed {
        println!("{placed:?}");
    }
    let calibrated = calibrated.then(|| Calibrated::new(&made, setting, seed));
    if let Some(calibrated) = &calibrated {
        println!("{}", calibrated.says());
        for put in calibrating(&made, setting, seed).puts {
            println!("{put:?}");
        }
    }
    for (k, p) in made.pours.iter().enumerate() {
        println!("true pour {}: {}", k + 1, says(p));
    }
    let options = calibrated.map_or_else(Options::default, |calibrated| calibrated.options);
    let brew = match analysed(&made, &options) {
        Ok(brew) => brew,
        Err(error) => return println!("refused: {error}"),
    };
    for (k, row) in rows(&brew).iter().enumerate() {
        let cells: Vec<String> = SCORED
            .iter()
            .chain(&["flow_cv_upper"])
            .map(|name| match number(row, name) {
                Ok(e) => format!("{name} {e}"),
                Err(why) => format!("{name} undefined ({why})"),
            })
            .collect();
        println!("stated pour {}: {}", k + 1, cells.join(", "));
    }
    for e in &brew.trace.events {
        println!("{:?} {:.2} to {:.2} s, {:.2} g: {}", e.kind, e.start_s, e.end_s, e.size_g, e.action);
    }
    brew.warnings.iter().for_each(|w| println!("warning: {w}"));
    broken(&brew, &made).iter().for_each(|(name, says)| println!("broken: {name}: {says}"));
}

fn says(p: &TruePour) -> String {
    let some = |x: Option<f64>| x.map_or("none".into(), |x| format!("{x:.4}"));
    format!(
        "start_s {:.3}, end_s {:.3}, half_rise_s {:.3}, half_fall_s {:.3}, mass_g {:.2}, mean_flow_g_per_s {:.3}, \
         plateau_flow_g_per_s {}, peak_flow_g_per_s {:.3}, flow_cv {}, trend {}, pauses {}",
        p.start_s,
        p.end_s,
        p.half_rise_s,
        p.half_fall_s,
        p.mass_g,
        p.mean_flow_g_per_s,
        some(p.plateau_flow_g_per_s),
        p.peak_flow_g_per_s,
        some(p.flow_cv),
        some(p.flow_cv_trend),
        p.pauses
    )
}
