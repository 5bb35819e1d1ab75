//! In: a fit. Out: its curves, with a part of each ramp given to a display that shows an average.
//!
//! A linear ramp of the flow and a moving average of the same length give the same readings: these do not tell which it
//! is. What tells is that hands open and close within some tenths of a second, now faster, now slower. A ramp of length
//! `r` behind an average over `w` is one of `sqrt(r^2 - w^2)`, earlier by the delay of the average.

use crate::math::random::Random;
use crate::model::burst::{Burst, Edge};
use crate::model::response::ScaleResponse;
use crate::segment::mode::Mode;
use crate::segment::parameters::{BEND, DELAY_S, Parameters};

/// Prior probability that a display shows an average that the response does not have already; median of its length, s,
/// and sd of the logarithm. Common practice, without a source: most kitchen scales average over .3 to 1 s.
const AVERAGES: f64 = 0.3;
const USUAL_S: (f64, f64) = (0.5, 0.6);
/// Prior sd of the logarithm of a hand's ramp about the log's median, and of that about the usual one.
const RAMP_LOG_SD: f64 = 0.35;
const MEDIAN_LOG_SD: f64 = 0.15;
/// Lengths that are tried, s: their number, the first and the last.
const LENGTHS: usize = 48;
const SPAN_S: (f64, f64) = (0.05, 1.6);
/// At least this share of a ramp is the hand's.
const LEAST: f64 = 0.1;
/// Loss of log density for an average longer than a ramp, per share of it.
const BEYOND: f64 = 50.0;

/// The share of a ramp that remains without an average.
fn left(ramp_s: f64, average_s: f64) -> f64 {
    (1.0 - (average_s / ramp_s).powi(2)).max(LEAST * LEAST).sqrt()
}

/// Log density of the ramps behind an average, up to a constant.
fn log_density(ramps_s: &[f64], average_s: f64, usual_s: f64) -> f64 {
    let n = ramps_s.len() as f64;
    let (mut sum, mut square, mut log) = (0.0, 0.0, 0.0);
    for &ramp_s in ramps_s {
        let left = left(ramp_s, average_s);
        let z = (ramp_s * left / usual_s).ln();
        sum += z;
        square += z * z;
        log -= 2.0 * left.ln() + BEYOND * (average_s / ramp_s - 1.0).max(0.0);
    }
    let mean = sum / n;
    let own = RAMP_LOG_SD * RAMP_LOG_SD;
    log - 0.5
        * ((square - n * mean * mean) / own + n * mean * mean / (own + n * MEDIAN_LOG_SD * MEDIAN_LOG_SD))
}

/// Possible lengths of an average, from 0 on, with their probabilities.
pub(super) fn lengths(found: &Mode, usual_ramp_s: f64) -> Vec<(f64, f64)> {
    let ramps =
        |of: &dyn Fn(&Burst) -> f64| -> Vec<f64> { found.q.bursts.iter().flatten().map(of).collect() };
    let (rises, falls) = (ramps(&|b| b.rise.ramp_s), ramps(&|b| b.fall.ramp_s));
    let density = |w: f64| log_density(&rises, w, usual_ramp_s) + log_density(&falls, w, usual_ramp_s);
    let step = (SPAN_S.1 / SPAN_S.0).ln() / LENGTHS as f64;
    let grid: Vec<f64> = (0..LENGTHS).map(|k| SPAN_S.0 * (step * (k as f64 + 0.5)).exp()).collect();
    let prior = |w: f64| (-0.5 * ((w / USUAL_S.0).ln() / USUAL_S.1).powi(2)).exp();
    let sum: f64 = grid.iter().map(|w| prior(*w)).sum();
    let mut out = vec![(0.0, (1.0 - AVERAGES).ln() + density(0.0))];
    out.extend(grid.iter().map(|&w| (w, (AVERAGES * prior(w) / sum).ln() + density(w))));
    let most = out.iter().map(|o| o.1).fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = out.iter().map(|o| (o.1 - most).exp()).sum();
    out.iter_mut().for_each(|o| o.1 = (o.1 - most).exp() / total);
    out
}

/// Gives each pair of draws a length; pairs have equal shares of the probability, in random order.
pub(super) fn give(draws: &mut [Parameters], lengths: &[(f64, f64)], random: &mut Random) {
    let pairs = draws.len() / 2;
    let mut places: Vec<usize> = (0..pairs).collect();
    for i in (1..pairs).rev() {
        places.swap(i, random.count([0, i as u32]) as usize);
    }
    for (pair, place) in draws.chunks_mut(2).zip(places) {
        let mut left = (place as f64 + 0.5) / pairs as f64;
        let found = lengths.iter().find(|(_, probability)| {
            left -= probability;
            left <= 0.0
        });
        let average_s = found.map_or(0.0, |(length_s, _)| *length_s);
        pair.iter_mut().for_each(|q| {
            q.average_s = average_s;
            q.earlier_s = earlier_s(q);
        });
    }
}

/// Gives all draws the average that the scale is known to have; the sd of its delay is that of half of it.
pub(super) fn give_known(draws: &mut [Parameters], known: &ScaleResponse, random: &mut Random) {
    for pair in draws.chunks_mut(2) {
        let off_s = known.delay_s.sd * random.normal();
        for (q, off_s) in pair.iter_mut().zip([off_s, -off_s]) {
            q.average_s = known.average_s;
            q.earlier_s = 0.5 * known.average_s + off_s;
        }
    }
}

/// How much earlier edges are than the fit has them. The more of their spread an average explains, the less of the rest is
/// a lag: an average that explains all of it delays by half of its length.
fn earlier_s(q: &Parameters) -> f64 {
    let (delay_s, bend, average_s) = (q.shared[DELAY_S].exp(), q.shared[BEND].exp(), q.average_s);
    if average_s <= 0.0 {
        return 0.0;
    }
    let whole_s = (average_s * average_s + 12.0 * delay_s * delay_s * (1.0 - bend).max(0.0)).sqrt();
    let share = (average_s / whole_s).powi(2);
    (1.0 - share) * 0.5 * average_s + share * (0.5 * whole_s - delay_s)
}

/// Flow in the cells of each burst.
pub(super) struct Cells {
    /// Instant of the first cell of each burst, and the number of its cells.
    pub places: Vec<(f64, usize)>,
    pub mean: Vec<f64>,
    pub deviation: Vec<f64>,
}

impl Cells {
    /// The curves without the average that the ramps of the fit stand for. The water of each burst stays.
    pub(super) fn without_average(self, bursts: &[Burst], q: &Parameters, grid_s: f64) -> Self {
        if q.average_s <= 0.0 {
            return self;
        }
        let earlier_s = q.earlier_s;
        let more = (earlier_s.max(0.0) / grid_s).ceil() as usize;
        let mut out = Self { places: Vec::new(), mean: Vec::new(), deviation: Vec::new() };
        let mut next = 0;
        for (burst, &(begin_s, n)) in bursts.iter().zip(&self.places) {
            let knots = knots(burst, q.average_s, earlier_s);
            let from_s = begin_s - more as f64 * grid_s;
            let instants: Vec<f64> =
                (0..n + more).map(|j| behind(&knots, from_s + (j as f64 + 0.5) * grid_s)).collect();
            let moved = |curve: &[f64]| -> Vec<f64> {
                instants
                    .iter()
                    .map(|t| between(&curve[next..next + n], (t - begin_s) / grid_s - 0.5))
                    .collect()
            };
            let mean = moved(&self.mean);
            let (before, after): (f64, f64) = (self.mean[next..next + n].iter().sum(), mean.iter().sum());
            let kept = if before > 0.0 && after > 0.0 { before / after } else { 1.0 };
            out.mean.extend(mean.iter().map(|q| q * kept));
            out.deviation.extend(moved(&self.deviation).iter().map(|q| q * kept));
            out.places.push((from_s, n + more));
            next += n;
        }
        out
    }
}

/// Instants of the ends of a burst's ramps without an average, and with it. Ramps that overlap only move.
fn knots(b: &Burst, average_s: f64, earlier_s: f64) -> Vec<(f64, f64)> {
    let at = |e: &Edge, t: f64| (e.at_s + left(e.ramp_s, average_s) * (t - e.at_s) - earlier_s, t);
    let ends = [
        at(&b.rise, b.rise.start_s()),
        at(&b.rise, b.rise.end_s()),
        at(&b.fall, b.fall.start_s()),
        at(&b.fall, b.fall.end_s()),
    ];
    let in_order = ends.windows(2).all(|two| two[0].0 < two[1].0 && two[0].1 < two[1].1);
    if in_order { ends.to_vec() } else { vec![(b.rise.at_s - earlier_s, b.rise.at_s)] }
}

/// The instant with an average from that without.
fn behind(knots: &[(f64, f64)], t_s: f64) -> f64 {
    let k = knots.partition_point(|k| k.0 <= t_s);
    if k == 0 || k == knots.len() {
        let (without, with) = knots[k.min(knots.len() - 1)];
        return t_s + with - without;
    }
    let ((a, x), (b, y)) = (knots[k - 1], knots[k]);
    x + (y - x) * (t_s - a) / (b - a)
}

/// Flow between the middles of two cells; 0 outside.
fn between(cells: &[f64], place: f64) -> f64 {
    let first = place.floor();
    let cell = |k: f64| if k < 0.0 { 0.0 } else { cells.get(k as usize).copied().unwrap_or(0.0) };
    cell(first) + (place - first) * (cell(first + 1.0) - cell(first))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn burst(ramp_s: f64) -> Burst {
        let edge = |at_s| Edge { at_s, ramp_s, skew: 0.0 };
        Burst { rise: edge(2.0), fall: edge(8.0), changes: Vec::new(), scale_g_per_s: 5.0 }
    }

    #[test]
    fn a_pour_behind_an_average_is_earlier_by_half_of_it_with_shorter_ramps_and_all_its_water() {
        // 5 g/s with ramps of 1 s: an average over .8 s leaves ramps of .6 s, .4 s earlier, by Pythagoras.
        let (grid_s, burst) = (0.01, burst(1.0));
        let cells: Vec<f64> =
            (0..1000).map(|k| 5.0 * burst.fraction(0.01 * f64::from(k), 0.01 * f64::from(k + 1))).collect();
        let mut shared = [0.0; crate::segment::parameters::SHARED];
        (shared[DELAY_S], shared[BEND]) = (1e-9_f64.ln(), -30.0);
        let mut q = Parameters { shared, bursts: Vec::new(), average_s: 0.8, earlier_s: 0.0 };
        q.earlier_s = earlier_s(&q);
        assert!((q.earlier_s - 0.4).abs() < 1e-6);
        let of = Cells { places: vec![(0.0, 1000)], mean: cells.clone(), deviation: vec![0.0; 1000] };
        let out = of.without_average(&[burst], &q, grid_s);
        let from_s = out.places[0].0;
        let passes = |flow: f64| {
            let k = out.mean.iter().position(|q| *q >= flow).unwrap();
            from_s + (k as f64 + 0.5) * grid_s
        };
        assert!((passes(2.5) - 1.6).abs() < 0.011 && (passes(4.99) - passes(0.01) - 0.6).abs() < 0.03);
        assert!((out.mean.iter().sum::<f64>() * grid_s - 30.0).abs() < 1e-9);
    }

    #[test]
    fn the_delay_of_an_average_is_half_of_it_however_its_spread_is_shared_with_a_lag() {
        // An average over .6 s spreads an edge by .6/sqrt(12); a lag of .1 s and an average over .4899 s by as much.
        let mut shared = [0.0; crate::segment::parameters::SHARED];
        (shared[DELAY_S], shared[BEND]) = (0.1_f64.ln(), -30.0);
        let average_s = (0.36_f64 - 0.12).sqrt();
        let q = Parameters { shared, bursts: Vec::new(), average_s, earlier_s: 0.0 };
        // Two thirds of the spread are the average's.
        let expected = 0.5 * average_s / 3.0 + (0.3 - 0.1) * 2.0 / 3.0;
        assert!((earlier_s(&q) - expected).abs() < 1e-12);
    }

    #[test]
    fn ramps_of_a_hand_hardly_speak_for_an_average_and_long_ones_that_are_all_alike_do() {
        let none = |ramps: &[f64]| {
            let density = |w: f64| 2.0 * log_density(ramps, w, 0.3);
            density(0.0) - density(0.9 * ramps[0])
        };
        assert!(none(&[0.3, 0.4, 0.25, 0.35]) > 2.0);
        assert!(none(&[1.0, 1.0, 1.02, 1.05]) < -8.0);
    }
}
