//! In: the true flow on a fine grid. Out: the true pours by their definitions.

use crate::condition::trace::Event;
use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Water arrives when the flow is above this, g/s.
const FLOW_G_PER_S: f64 = 0.5;
/// Pauses shorter than this belong to the pour, s.
const PAUSE_S: f64 = 1.0;
/// A pour has at least this mass, g.
const MASS_G: f64 = 2.0;
/// Share of the mean flow at which half-rise and half-fall are taken.
const HALF: f64 = 0.5;
/// The plateau lies this long within half-rise and half-fall, s, and is at least as long as the second.
const INSET_S: f64 = 0.5;
const PLATEAU_S: f64 = 1.0;
/// True flow is averaged over this time, s.
const AVERAGE_S: f64 = 0.1;

rows! { $
/// One pour as it truly was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruePour {
    /// First instant at which the flow passes 0.5 g/s, s.
    pub start_s: f64,
    /// Last instant at which the flow passes 0.5 g/s, s.
    pub end_s: f64,
    /// First instant at which the flow passes half of the pour's mean flow, s.
    pub half_rise_s: f64,
    /// Last instant at which the flow passes half of the pour's mean flow, s.
    pub half_fall_s: f64,
    /// Mass that arrived from start to end, g.
    pub mass_g: f64,
    /// Mass over duration, g/s.
    pub mean_flow_g_per_s: f64,
    /// Median over time of the flow from start to end, g/s.
    pub median_flow_g_per_s: f64,
    /// Start of the plateau, 0.5 s after half-rise, s; of a pour whose plateau is shorter than 1 s, the middle.
    pub plateau_start_s: f64,
    /// End of the plateau, 0.5 s before half-fall, s; of a pour whose plateau is shorter than 1 s, the middle.
    pub plateau_end_s: f64,
    /// Mean over time of the flow on the plateau, g/s.
    pub plateau_flow_g_per_s: f64,
    /// Sd over mean of the flow on the plateau, over time.
    pub flow_cv: f64,
}
}

rows! { $
/// What a simulated log is made from. The arrays have a value for each row of the log.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Truth {
    /// The pours of the brew, in order; a rinse is not among them.
    pub pours: Vec<TruePour>,
    /// First instant of the brew, s: the zeroing that ends the preparation, or the first stamp.
    pub brew_start_s: f64,
    /// Instants at which the weights were taken, s; the log's stamps may differ.
    pub time_s: Vec<f64>,
    /// Flow of the brew's water at the bed, g/s.
    pub flow_g_per_s: Vec<f64>,
    /// Water of the brew poured by then, g.
    pub water_g: Vec<f64>,
    /// Beverage in the server by then, g.
    pub beverage_g: Vec<f64>,
    /// Time constant of the scale's lag, s.
    pub scale_lag_s: f64,
    /// Speed of the stream at the bed over g, s: its force reads as the flow times this.
    pub stream_lead_s: f64,
    /// Standard deviation of the noise before the readout is rounded, g.
    pub noise_sd_g: f64,
    /// Dry coffee, g.
    pub dose_g: f64,
    /// Liquid held by the bed for good, per dose, g/g.
    pub retention_g_per_g: f64,
    /// Last instant at which the beverage flows at 0.1 g/s or more, s; None if none flows that fast.
    pub beverage_end_s: Option<f64>,
    /// What went wrong, in order of time.
    pub events: Vec<Event>,
}
}

/// A signal on an equidistant grid from time zero.
pub(super) fn interpolate(grid: &[f64], dt_s: f64, t_s: f64) -> f64 {
    let at = (t_s / dt_s).max(0.0);
    let i = (at as usize).min(grid.len().saturating_sub(2));
    match (grid.get(i), grid.get(i + 1)) {
        (Some(a), Some(b)) => a + (b - a) * (at - i as f64).min(1.0),
        (Some(a), None) => *a,
        _ => 0.0,
    }
}

/// Running integral by the trapezoid rule, from 0.
pub(super) fn integral(grid: &[f64], dt_s: f64) -> Vec<f64> {
    let mut sum = 0.0;
    let mut before = grid.first().copied().unwrap_or(0.0);
    grid.iter()
        .map(|&q| {
            sum += 0.5 * (before + q) * dt_s;
            before = q;
            sum
        })
        .collect()
}

/// Intervals of the grid in which the flow is above a threshold, as first and last index.
fn stretches(flow: &[f64], threshold: f64) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for (i, &q) in flow.iter().enumerate() {
        if q > threshold {
            match found.last_mut() {
                Some(last) if last.1 + 1 == i => last.1 = i,
                _ => found.push((i, i)),
            }
        }
    }
    found
}

/// Interpolated start and end of an interval.
fn crossings(flow: &[f64], dt_s: f64, threshold: f64, (first, last): (usize, usize)) -> (f64, f64) {
    let begin = match first.checked_sub(1) {
        Some(i) => i as f64 + (threshold - flow[i]) / (flow[first] - flow[i]),
        None => 0.0,
    };
    let end = match flow.get(last + 1) {
        Some(after) => last as f64 + (flow[last] - threshold) / (flow[last] - after),
        None => last as f64,
    };
    (begin * dt_s, end * dt_s)
}

/// Mean flow of 0.1 s about each instant.
fn averaged(water: &[f64], dt_s: f64) -> Vec<f64> {
    let half = ((0.5 * AVERAGE_S / dt_s).round() as usize).max(1);
    let last = water.len().saturating_sub(1);
    let mean = |i: usize| {
        let (from, to) = (i.saturating_sub(half), (i + half).min(last));
        (water[to] - water[from]) / (dt_s * (2 * half) as f64)
    };
    (0..water.len()).map(mean).collect()
}

/// The pours in a flow, by their definitions.
pub(super) fn true_pours(water: &[f64], dt_s: f64) -> Vec<TruePour> {
    let flow = &averaged(water, dt_s);
    let mut joined: Vec<(usize, usize)> = Vec::new();
    for (first, last) in stretches(flow, FLOW_G_PER_S) {
        match joined.last_mut() {
            Some(before) if ((first - before.1) as f64) * dt_s < PAUSE_S => before.1 = last,
            _ => joined.push((first, last)),
        }
    }
    joined
        .into_iter()
        .map(|stretch| true_pour(flow, water, dt_s, stretch))
        .filter(|pour| pour.mass_g >= MASS_G)
        .collect()
}

fn true_pour(flow: &[f64], water: &[f64], dt_s: f64, stretch: (usize, usize)) -> TruePour {
    let (first, last) = stretch;
    let within = &flow[first..=last];
    let mut sorted = within.to_vec();
    sorted.sort_by(f64::total_cmp);
    let median = sorted[sorted.len() / 2];
    let hull = |threshold: f64| {
        let inside = stretches(within, threshold);
        let (from, to) = (inside.first().map_or(0, |s| s.0), inside.last().map_or(0, |s| s.1));
        crossings(flow, dt_s, threshold, (first + from, first + to))
    };
    let (start_s, end_s) = crossings(flow, dt_s, FLOW_G_PER_S, stretch);
    let mass_g = interpolate(water, dt_s, end_s) - interpolate(water, dt_s, start_s);
    let mean_flow_g_per_s = mass_g / (end_s - start_s);
    let (half_rise_s, half_fall_s) = hull((HALF * mean_flow_g_per_s).max(FLOW_G_PER_S));
    let middle_s = f64::midpoint(half_rise_s, half_fall_s);
    let has_plateau = half_fall_s - half_rise_s >= 2.0 * INSET_S + PLATEAU_S;
    let (plateau_start_s, plateau_end_s) =
        if has_plateau { (half_rise_s + INSET_S, half_fall_s - INSET_S) } else { (middle_s, middle_s) };
    let at = |s: f64| ((s / dt_s).round() as usize).min(flow.len() - 1);
    // Pauses are left out of the unevenness.
    let plateau = &flow[at(plateau_start_s)..=at(plateau_end_s)];
    let mean = plateau.iter().sum::<f64>() / plateau.len() as f64;
    let flowing: Vec<f64> = plateau.iter().copied().filter(|q| *q > FLOW_G_PER_S).collect();
    let n = flowing.len().max(1) as f64;
    let mean_flowing = flowing.iter().sum::<f64>() / n;
    let variance = flowing.iter().map(|q| (q - mean_flowing).powi(2)).sum::<f64>() / n;
    TruePour {
        start_s,
        end_s,
        half_rise_s,
        half_fall_s,
        mass_g,
        mean_flow_g_per_s,
        median_flow_g_per_s: median,
        plateau_start_s,
        plateau_end_s,
        plateau_flow_g_per_s: mean,
        flow_cv: if flowing.is_empty() { 0.0 } else { variance.sqrt() / mean_flowing },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DT_S: f64 = 1e-3;

    /// Flow that rises to 8 g/s in 0.4 s from 1 s, is constant to 6 s, falls in 0.8 s.
    fn trapezoid(t: f64) -> f64 {
        (8.0 * ((t - 1.0) / 0.4).min((6.8 - t) / 0.8).min(1.0)).max(0.0)
    }

    fn grid(f: impl Fn(f64) -> f64) -> Vec<TruePour> {
        let flow: Vec<f64> = (0..20_000).map(|i| f(f64::from(i) * DT_S)).collect();
        true_pours(&integral(&flow, DT_S), DT_S)
    }

    #[test]
    fn the_edges_of_a_trapezoid_are_those_found_by_hand() {
        let pours = grid(trapezoid);
        assert_eq!(pours.len(), 1);
        let p = &pours[0];
        // The mean over 0.1 s of a ramp of a g/s2 passes 0.5 g/s at sqrt(2 * 0.5 * 0.1 / a) - 0.05 s on it: 0.02071 s for
        // 20 and 0.05 s for 10 g/s2. The water before and after is a/2 times the square of that.
        let (start, end) = (1.020_711, 6.75);
        let mass = 8.0 * (4.6 + 0.6) - 10.0 * 0.020_711_f64.powi(2) - 5.0 * 0.05_f64.powi(2);
        let mean = mass / (end - start);
        let (rise, fall) = (1.0 + 0.5 * mean / 20.0, 6.8 - 0.5 * mean / 10.0);
        let expected = [start, end, rise, fall, rise + 0.5, fall - 0.5, mass, mean];
        let found = [
            p.start_s,
            p.end_s,
            p.half_rise_s,
            p.half_fall_s,
            p.plateau_start_s,
            p.plateau_end_s,
            p.mass_g,
            p.mean_flow_g_per_s,
        ];
        for (f, e) in found.iter().zip(expected) {
            assert!((f - e).abs() < 1e-4, "{found:?}, expected {expected:?}");
        }
    }

    #[test]
    fn flow_cv_of_a_sine_is_its_amplitude_over_root_two() {
        let pours =
            grid(|t| if (2.0..12.0).contains(&t) { 5.0 + (std::f64::consts::TAU * t).sin() } else { 0.0 });
        // Nine whole periods. The mean over 0.1 s has sin(0.1 pi)/(0.1 pi) = 0.9836 of the amplitude.
        assert!((pours[0].flow_cv / (0.9836 * 0.2 / 2.0_f64.sqrt()) - 1.0).abs() < 0.003);
    }

    #[test]
    fn short_pauses_join_and_drops_do_not_count() {
        let on = |t: f64, from: f64, to: f64| f64::from(u8::from((from..to).contains(&t)));
        let pours =
            grid(|t| 5.0 * (on(t, 1.0, 3.0) + on(t, 3.9, 5.0) + on(t, 6.1, 8.0)) + 1.5 * on(t, 12.0, 13.0));
        assert_eq!(pours.len(), 2, "{pours:?}");
        assert!((pours[0].mass_g - 15.5).abs() < 0.02);
    }
}
