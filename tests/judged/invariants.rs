//! What holds of every result, whatever the hand.

use super::{number, rows};
use crate::worlds::Made;
use pourline::Brew;
use serde_json::{Map, Value};

pub const MINIMUM_PLATEAU_PEAK: &str = "minimum <= plateau <= peak";
pub const MEAN_PEAK: &str = "mean <= peak";
pub const INTEGRAL: &str = "the integral of the flow over a pour equals its mass within 2 sd";
pub const BOUND: &str = "flow_cv_upper >= flow_cv";
pub const ORDER: &str = "start <= half-rise < half-fall <= end";
pub const SHARES: &str = "shares lie between 0 and 100 %";
pub const NUMBERS: &str = "every number is finite and no sd is negative";
pub const APART: &str = "pours follow one another";

pub const INVARIANTS: [&str; 8] =
    [MINIMUM_PLATEAU_PEAK, MEAN_PEAK, INTEGRAL, BOUND, ORDER, SHARES, NUMBERS, APART];

const PLATEAU: &str = "plateau_flow_g_per_s";
/// Stamps on a plateau from which its least flow is judged.
const LEAST_STAMPS: usize = 10;

/// The broken invariants of a result: name, and what was found.
pub fn broken(brew: &Brew, made: &Made) -> Vec<(&'static str, String)> {
    let mut all = Vec::new();
    let rows = rows(brew);
    for (k, row) in rows.iter().enumerate() {
        let mut add = |name: &'static str, says: Option<String>| {
            all.extend(says.map(|says| (name, format!("pour {}: {says}", k + 1))));
        };
        let value = |name: &str| number(row, name).ok().map(|e| e.value);
        let [start_s, half_rise_s, half_fall_s, end_s] =
            ["start_s", "half_rise_s", "half_fall_s", "end_s"].map(value);
        add(ORDER, falls(&[(start_s, "start"), (half_rise_s, "half-rise")]));
        add(ORDER, falls(&[(half_fall_s, "half-fall"), (end_s, "end")]));
        let strictly = half_rise_s.zip(half_fall_s).filter(|(rise, fall)| rise >= fall);
        add(ORDER, strictly.map(|(rise, fall)| format!("half-rise {rise} s, half-fall {fall} s")));
        add(ORDER, falls(&[(start_s, "start"), (end_s, "end")]));
        let (plateau, peak) = (value(PLATEAU), value("peak_flow_g_per_s"));
        add(MINIMUM_PLATEAU_PEAK, falls(&[(plateau, "plateau"), (peak, "peak")]));
        add(MEAN_PEAK, falls(&[(value("mean_flow_g_per_s"), "mean"), (peak, "peak")]));
        add(BOUND, falls(&[(value("flow_cv"), "flow_cv"), (value("flow_cv_upper"), "flow_cv_upper")]));
        shares(row).into_iter().for_each(|says| add(SHARES, Some(says)));
        unsound(row).into_iter().for_each(|says| add(NUMBERS, Some(says)));
        let curve = curve(brew, made);
        let within = |from_s: f64, to_s: f64| {
            curve.iter().copied().filter(move |(t, _)| (from_s..=to_s).contains(t)).collect::<Vec<_>>()
        };
        if let (Some(rise_s), Some(fall_s), Ok(plateau)) = (half_rise_s, half_fall_s, number(row, PLATEAU)) {
            let stamps = within(rise_s + 0.5, fall_s - 0.5);
            // Few stamps do not show the least flow. The mean over time is a sum over other instants than stamps: what
            // is left out is a quarter of its sd, or a thousandth of it.
            let slack = (0.25 * plateau.sd).max(1e-3 * plateau.value.abs());
            let least = stamps.iter().map(|(_, f)| f - slack).reduce(f64::min);
            let least = least.filter(|_| stamps.len() >= LEAST_STAMPS);
            add(MINIMUM_PLATEAU_PEAK, falls(&[(least, "minimum"), (Some(plateau.value), "plateau")]));
        }
        if let (Some(start_s), Some(end_s), Ok(mass_g)) = (start_s, end_s, number(row, "mass_g")) {
            // By the definition the flow passes 0.5 g/s there.
            let mut inner = within(start_s, end_s);
            inner.insert(0, (start_s, 0.5));
            inner.push((end_s, 0.5));
            add(INTEGRAL, unequal(&inner, mass_g.value, mass_g.sd));
        }
    }
    for pair in brew.segments.pours.windows(2) {
        let (end_s, start_s) = (pair[0].end_s.value, pair[1].start_s.value);
        if end_s > start_s {
            all.push((APART, format!("one ends at {end_s} s, the next starts at {start_s} s")));
        }
    }
    all
}

/// What falls though it must not.
fn falls(two: &[(Option<f64>, &str); 2]) -> Option<String> {
    let [(Some(a), first), (Some(b), second)] = *two else { return None };
    (a > b).then(|| format!("{first} {a}, {second} {b}"))
}

/// Flow on the log's own stamps.
fn curve(brew: &Brew, made: &Made) -> Vec<(f64, f64)> {
    let Some(flow) = &brew.flow else { return Vec::new() };
    let stamps = brew.trace.log_index.iter().map(|&i| made.time_s[i]);
    stamps.zip(flow.flow_g_per_s.iter().copied()).collect()
}

fn shares(row: &Map<String, Value>) -> Vec<String> {
    ["water_share_pct", "time_near_plateau_pct", "first_half_water_pct"]
        .into_iter()
        .filter_map(|name| Some((name, number(row, name).ok()?.value)))
        .filter(|(_, share)| !(-1e-9..=100.0 + 1e-9).contains(share))
        .map(|(name, share)| format!("{name} {share}"))
        .collect()
}

fn unsound(row: &Map<String, Value>) -> Vec<String> {
    row.iter()
        .filter(|(_, written)| written.get("value").is_some())
        .filter(|(name, _)| {
            !number(row, name).is_ok_and(|e| e.value.is_finite() && e.sd >= 0.0 && e.sd.is_finite())
        })
        .map(|(name, written)| format!("{name} {written}"))
        .collect()
}

/// The trapezium rule on the stamps. It is off by up to half a step times the change of the flow in that step, either
/// way. The two largest of these, the edges of a pour at a low rate, may add up; the others are independent.
fn unequal(curve: &[(f64, f64)], mass_g: f64, sd_g: f64) -> Option<String> {
    let mut integral_g = 0.0;
    let mut rule: Vec<f64> = Vec::new();
    for pair in curve.windows(2) {
        let ((t, f), (u, g)) = (pair[0], pair[1]);
        integral_g += 0.5 * (f + g) * (u - t);
        rule.push((0.5 * (g - f) * (u - t)).abs());
    }
    rule.sort_by(|a, b| b.total_cmp(a));
    let (edges, inner) = rule.split_at(rule.len().min(2));
    let most = 2.0 * sd_g + edges.iter().sum::<f64>() + inner.iter().map(|r| r * r).sum::<f64>().sqrt();
    let off = (integral_g - mass_g).abs() > most;
    off.then(|| format!("integral {integral_g:.3} g, mass {mass_g:.3} g, within {most:.3} g"))
}
