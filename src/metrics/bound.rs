//! Upper bound of the coefficient of variation of the flow that holds for each kind of hand.
//!
//! - measures: the largest `flow_cv` that the readings leave possible, with a probability of 97.5 %.
//! - formula: the largest over frequency of the 97.5 % quantile of the cv of curves whose hand has an oscillation of
//!   that frequency, with a decay time of 20 s and a prior sd of 13 % of the flow; the quantile is that of a ln-normal
//!   distribution with the mean and the sd of ln cv. At least the 97.5 % quantile of `flow_cv` itself.
//! - needs: the readings and the fit.
//! - minimum samples: as `flow_cv`.
//! - valid when: the hand has no faster oscillation than `fastest_hz`. The sd is fixed and wide: if it is estimated,
//!   an amplitude that is barely visible is shrunk, and the bound fails at just that amplitude. A posterior averaged
//!   over frequencies holds on average over hands, not for a hand of a frequency that the log resolves poorly.
//! - reference: definition of this library.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::random::Random;
use crate::metrics::curve::Curve;
use crate::metrics::options::MetricsOptions;
use crate::metrics::parts::OF_RATE;
use crate::model::burst::Burst;
use crate::model::hand::Hand;
use crate::model::recorded::record;
use crate::model::samples::Samples;
use crate::model::window::Window;
use crate::segment::curve;
use crate::segment::fitted::Fit;

/// Frequencies of the oscillation, Hz; `fastest_hz` of the options is the last one.
const HZ: [f64; 6] = [0.3, 0.6, 1.0, 1.5, 2.0, 2.5];
/// Relative sd and decay time of the oscillation.
const BEAT: f64 = 0.13;
const BEAT_S: f64 = 20.0;
/// Pairs of curves for each of two draws of the parameters.
const PAIRS: usize = 4;
/// Relative sd of the processes of a flow that hardly varies.
const EVEN: f64 = 0.002;
/// Scale of the half-Cauchy prior of an oscillation that the readings do not resolve: that of the flow model's.
const UNSEEN: f64 = 0.03;
/// Nodes of its integrals.
const NODES: usize = 64;
/// Quantile of the standard normal distribution at 97.5 %.
const UPPER: f64 = 1.959_963_984_540_054;
/// No bound above this is stated, unless the hand is so uneven.
const LARGEST: f64 = 0.2;
/// A bound is due to the hand if that of the slowest oscillation is not much smaller.
const BY_HAND: f64 = 1.5;

/// Curves of one group under oscillations of given frequencies.
pub(super) struct Swung {
    pub group: usize,
    /// Frequency, and curves.
    curves: Vec<(f64, Vec<curve::Curve>)>,
    evidence: Evidence,
    rate_hz: f64,
}

/// An average over a time passes less than .7 of a faster oscillation than this over that time: sin(pi x)/(pi x).
const OF_AVERAGE: f64 = 0.44;

/// Log densities of the readings under some draws of the parameters, and under the same without variation of the flow.
struct Evidence {
    time_s: Vec<f64>,
    varied: Vec<Vec<f64>>,
    even: Vec<Vec<f64>>,
}

impl Evidence {
    fn new(window: &Window, fit: &Fit, k: usize, draws: &[usize]) -> Self {
        let densities =
            |hand: &Hand, bursts: &[Burst]| record(window, bursts, hand).log_densities().collect();
        let varied = |j: &usize| densities(&fit.hand(*j), &fit.draws[*j].bursts[k]);
        let even = |j: &usize| {
            let hand = Hand { line: EVEN, slow: EVEN, quick: EVEN, beat: EVEN, ..fit.hand(*j) };
            let mut bursts = fit.draws[*j].bursts[k].clone();
            bursts.iter_mut().for_each(|b| b.changes.clear());
            densities(&hand, &bursts)
        };
        Self {
            time_s: window.time_s.to_vec(),
            varied: draws.iter().map(varied).collect(),
            even: draws.iter().map(even).collect(),
        }
    }

    /// Logarithm of the Bayes factor for variation, from the readings of an interval given those before it.
    fn log_bayes_factor(&self, (from_s, to_s): (f64, f64)) -> f64 {
        let within = self.time_s.partition_point(|t| *t < from_s)..self.time_s.partition_point(|t| *t < to_s);
        let mean = |all: &[Vec<f64>]| {
            let sums: Vec<f64> = all.iter().map(|of| of[within.clone()].iter().sum()).collect();
            let most = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            most + (sums.iter().map(|sum| (sum - most).exp()).sum::<f64>() / sums.len() as f64).ln()
        };
        mean(&self.varied) - mean(&self.even)
    }
}

/// Quantiles of the cv of one pour by frequency.
pub(super) struct Bound {
    quantiles: Vec<(f64, f64)>,
    rate_hz: f64,
    fastest_hz: f64,
    /// For a flow that varies on the plateau.
    pub log_bayes_factor: f64,
}

impl Swung {
    pub(super) fn new(x: &Samples, fit: &Fit, k: usize, rate_hz: f64, o: &MetricsOptions) -> Self {
        let group = &fit.groups[k];
        let window = group.window(x);
        let mut random = Random::stream(fit.seed.wrapping_add(k as u64), "bound");
        let n = fit.draws.len();
        // Antithetic pairs follow one another; those of the likeliest model of the scale come first.
        let draws: Vec<usize> = (0..n.min(2)).collect();
        let slower = HZ.into_iter().filter(|hz| *hz < o.fastest_hz);
        // A display that averages hides what is quicker.
        let shown_hz = (OF_RATE * rate_hz).min(OF_AVERAGE / fit.average_s().max(f64::MIN_POSITIVE));
        let within = slower.chain([o.fastest_hz]).filter(|hz| *hz <= shown_hz);
        let at = |hz: f64| {
            let mut curves = Vec::with_capacity(2 * draws.len() * PAIRS);
            for &j in &draws {
                let hand = Hand { beat: BEAT, beat_hz: hz, beat_s: BEAT_S, ..fit.hand(j) };
                let recorded = record(&window, &fit.draws[j].bursts[k], &hand);
                let (mean, places) = (recorded.mean(), recorded.places());
                for _ in 0..PAIRS {
                    let deviation = recorded.deviation(|| random.normal());
                    curves.extend([1.0, -1.0].map(|sign| {
                        let flow: Vec<f64> = mean.iter().zip(&deviation).map(|(m, d)| m + sign * d).collect();
                        on_grid(&flow, &places, window.grid_s)
                    }));
                }
            }
            (hz, curves)
        };
        let evidence = Evidence::new(&window, fit, k, &draws);
        Self { group: k, curves: within.map(at).collect(), evidence, rate_hz }
    }

    /// Quantiles of the cv within a pour with that plateau.
    pub(super) fn bound(
        &self,
        span_s: (f64, f64),
        plateau_s: (f64, f64),
        o: &MetricsOptions,
        cv: impl Fn(&Curve) -> Option<f64>,
    ) -> Bound {
        let quantile = |(hz, curves): &(f64, Vec<curve::Curve>)| {
            let logs: Vec<f64> = curves
                .iter()
                .filter_map(|c| cv(&Curve::new(c.cut(span_s), o)?))
                .filter(|cv| *cv > 0.0)
                .map(f64::ln)
                .collect();
            upper(&logs).map(|quantile| (*hz, quantile))
        };
        Bound {
            quantiles: self.curves.iter().filter_map(quantile).collect(),
            rate_hz: self.rate_hz,
            fastest_hz: o.fastest_hz,
            log_bayes_factor: self.evidence.log_bayes_factor(plateau_s),
        }
    }
}

/// The flow of some bursts on one grid, with two cells of rest on each side.
fn on_grid(flow: &[f64], places: &[(f64, usize)], grid_s: f64) -> curve::Curve {
    let from_s = places.first().map_or(0.0, |p| p.0) - 2.0 * grid_s;
    let first = |begin_s: f64| ((begin_s - from_s) / grid_s).round().max(0.0) as usize;
    let n = places.last().map_or(0, |p| first(p.0) + p.1) + 2;
    let mut cells = vec![0.0; n];
    let mut flow = flow.iter();
    for (begin_s, many) in places {
        for (cell, q) in cells[first(*begin_s)..].iter_mut().zip(flow.by_ref().take(*many)) {
            *cell += q;
        }
    }
    curve::Curve::new(from_s, grid_s, cells)
}

/// Quantile of a ln-normal distribution from draws of the logarithm, the error of their mean included; None for fewer
/// than four.
fn upper(logs: &[f64]) -> Option<f64> {
    let n = logs.len() as f64;
    let mean = logs.iter().sum::<f64>() / n;
    let var = logs.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (n - 1.0);
    (n >= 4.0).then(|| (mean + UPPER * (var * (1.0 + 1.0 / n)).sqrt()).exp())
}

impl Bound {
    /// The bound over frequencies up to `fastest_hz`, at least that of the posterior of `cv`.
    pub(super) fn upper(&self, cv: &Maybe) -> Maybe {
        let known = own(cv)?;
        let readable_hz = OF_RATE * self.rate_hz;
        let too_slow =
            |hz: f64| Err(Undefined::because(format!("readings too slow for beats above {hz:.2} Hz")));
        if self.fastest_hz > readable_hz {
            return too_slow(readable_hz);
        }
        let Some(largest) = self.largest(f64::INFINITY) else { return Err(unstated()) };
        let by_hand = BY_HAND * self.quantiles.first().map_or(0.0, |q| q.1);
        if largest > LARGEST.max(by_hand) {
            let bounded = self.quantiles.iter().take_while(|q| q.1 <= LARGEST.max(by_hand));
            return too_slow(bounded.last().map_or(0.0, |q| q.0));
        }
        Ok(Estimate::exact(largest.max(known)))
    }

    /// The bound over frequencies up to `to_hz`, at least that of the posterior of `cv`.
    pub(super) fn seen_upper(&self, cv: &Maybe, to_hz: f64) -> Maybe {
        let known = own(cv)?;
        let why = || Undefined::because(format!("the readings resolve nothing faster than {to_hz:.2} Hz"));
        self.largest(to_hz).map(|bound| Estimate::exact(bound.max(known))).ok_or_else(why)
    }

    /// Sd of a cv for an oscillation faster than `from_hz`, of which the fit knows only that it is not seen: the root mean
    /// square of what it adds, averaged over the frequencies, under its prior and the readings.
    pub(super) fn unseen_sd(&self, cv: f64, from_hz: f64) -> f64 {
        let faster = HZ.into_iter().filter(|hz| *hz > from_hz && *hz <= self.fastest_hz);
        let squares: Vec<f64> = faster
            .map(|hz| {
                let most = self.quantiles.iter().find(|q| q.0 == hz).map_or(LARGEST, |q| q.1);
                added((most - cv).max(0.0) / UPPER, cv)
            })
            .collect();
        (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
    }

    fn largest(&self, to_hz: f64) -> Option<f64> {
        self.quantiles.iter().filter(|q| q.0 <= to_hz).map(|q| q.1).reduce(f64::max)
    }
}

/// Mean square of what an oscillation adds to a cv, if its own has a half-Cauchy prior and the readings limit it to a
/// normal distribution about 0 of that sd.
fn added(sd: f64, cv: f64) -> f64 {
    let (mut of_all, mut of_square) = (f64::MIN_POSITIVE, 0.0);
    for k in 0..NODES {
        let z = 4.0 * (k as f64 + 0.5) / NODES as f64;
        let s = z * sd;
        let density = (-0.5 * z * z).exp() / (1.0 + (s / UNSEEN).powi(2));
        of_all += density;
        of_square += density * (cv.hypot(s) - cv).powi(2);
    }
    of_square / of_all
}

/// The bound of the posterior averaged over frequencies, which knows that of a hand that the readings show.
fn own(cv: &Maybe) -> Result<f64, Undefined> {
    cv.as_ref().map(|e| e.value + UPPER * e.sd).map_err(Undefined::clone)
}

fn unstated() -> Undefined {
    Undefined::because("the plateau is shorter than 1 s")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_quantile_is_that_of_the_ln_normal_distribution() {
        // scipy 1.17.1, lognorm.ppf(.975, s=.3, scale=.05): .0900 (from memory of exp(ln .05 + 1.96 * .3), by hand).
        // Four thousand even quantiles of the normal distribution stand for draws.
        let logs: Vec<f64> = (0..4000)
            .map(|k| {
                0.05_f64.ln()
                    + 0.3 * crate::math::distribution::normal_quantile((f64::from(k) + 0.5) / 4000.0)
            })
            .collect();
        let found = upper(&logs).unwrap();
        assert!((found / (0.05 * (0.3_f64 * 1.959_964).exp()) - 1.0).abs() < 1e-3, "{found}");
        assert!(upper(&logs[..3]).is_none());
    }

    #[test]
    fn what_is_not_seen_adds_to_the_sd() {
        // Far below the prior's scale the distribution is half-normal: its mean square is that of the sd. Far above it,
        // by hand: the integral of s^2/(1 + (s/c)^2) exp(-s^2/2w^2) tends to c^2 w sqrt(pi/2), that of the density to
        // c pi/2, so that the mean square tends to c w sqrt(2/pi).
        assert!((added(1e-4, 0.0) / 1e-8 - 1.0).abs() < 1e-2, "{}", added(1e-4, 0.0));
        assert!((added(1.0, 0.0) / (0.03 * (2.0 / std::f64::consts::PI).sqrt()) - 1.0).abs() < 0.1);
        // An oscillation adds less to a larger cv, and nothing if it cannot be there.
        assert!(added(0.05, 0.1) < 0.2 * added(0.05, 0.0) && added(0.0, 0.1) == 0.0);
    }

    #[test]
    fn the_bound_is_the_largest_and_is_not_stated_beyond_the_readings() {
        let cv = Ok(Estimate::new(0.02, 0.01));
        let bound = |quantiles: &[(f64, f64)], rate_hz| Bound {
            quantiles: quantiles.to_vec(),
            rate_hz,
            fastest_hz: 2.5,
            log_bayes_factor: 0.0,
        };
        let usual = bound(&[(0.3, 0.03), (1.0, 0.04), (2.5, 0.12)], 10.0);
        assert_eq!(usual.upper(&cv).unwrap().value, 0.12);
        assert_eq!(usual.seen_upper(&cv, 1.2).unwrap().value, 0.04);
        assert!(usual.seen_upper(&cv, 0.2).is_err());
        // 97.5 % of a normal distribution lie below its mean and 1.96 sd.
        assert!((usual.upper(&Ok(Estimate::new(0.3, 0.1))).unwrap().value - 0.496).abs() < 1e-4);
        let slow = bound(&[(0.3, 0.03), (1.0, 0.04)], 5.0);
        assert_eq!(slow.upper(&cv).unwrap_err().reason, "readings too slow for beats above 2.25 Hz");
        let noisy = bound(&[(0.3, 0.03), (1.0, 0.04), (2.5, 0.25)], 10.0);
        assert_eq!(noisy.upper(&cv).unwrap_err().reason, "readings too slow for beats above 1.00 Hz");
        let uneven = bound(&[(0.3, 0.25), (2.5, 0.3)], 10.0);
        assert_eq!(uneven.upper(&cv).unwrap().value, 0.3);
    }
}
