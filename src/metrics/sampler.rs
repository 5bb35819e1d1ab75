//! In: the normal equations of oscillations. Out: samples from the posterior of the flow's deviation.
//!
//! The deviation of the flow is a slow change and a sum of oscillations of unknown number, frequencies and
//! sizes. Method: reversible-jump Markov chain Monte Carlo over sets of oscillations, amplitudes integrated out
//! (Andrieu and Doucet 1999, IEEE Trans. Signal Process. 47, 2667). The random numbers are the same for the
//! same pour.

use crate::math::random::Random;
use crate::metrics::equations::Equations;
use crate::metrics::factor::{Factor, weigh};

/// Largest number of oscillations.
const MAX_COUNT: usize = 40;
/// Mean of the prior number of oscillations, if there are any: from one to as many as make noise.
const MEAN_COUNT: f64 = 16.0;
/// Burn-in steps, and steps between two samples.
const BURN_IN: usize = 400;
const BETWEEN: usize = 40;
/// Prior probability of no oscillation.
const NO_OSCILLATION: f64 = 0.05;

/// One posterior sample: coefficients of the equations' columns.
pub(super) struct Sample {
    /// Column and value.
    pub oscillations: Vec<(usize, f64)>,
    /// Standard normal numbers for the bursts' parameters.
    pub noise: Vec<f64>,
    /// A standard normal number for the lag.
    pub lag: f64,
}

/// Posterior of the flow's deviation.
pub(super) struct Posterior {
    pub samples: Vec<Sample>,
    /// Bayes factor for oscillations against none.
    pub bayes_factor: f64,
}

struct Sampler<'a> {
    e: &'a Equations,
    scale: f64,
    /// The current oscillations, in the order of the factor, which starts with the slow change; and their total
    /// size.
    oscillations: Vec<usize>,
    size: f64,
    factor: Factor,
    evidence: f64,
    /// Factor of a proposed size.
    other: Factor,
    /// Proposal probability of each frequency.
    propose: Vec<f64>,
}

pub(super) fn posterior(e: &Equations, usual: f64, n_samples: usize, seed: u64) -> Posterior {
    let mut random = Random::stream(seed, "hand");
    let empty = || Factor::new(2 * (MAX_COUNT + 1));
    let mut sampler = Sampler {
        e,
        scale: usual,
        oscillations: Vec::with_capacity(MAX_COUNT),
        size: usual,
        factor: empty(),
        evidence: 0.0,
        other: empty(),
        propose: proposals(e),
    };
    grow(&mut sampler.factor, e, &[], 0, 0.0);
    sampler.evidence = sampler.factor.evidence();
    let (mut without, mut steps) = (0.0, 0.0);
    let mut out = Vec::with_capacity(n_samples);
    for step in 0..BURN_IN + BETWEEN * n_samples {
        sampler.step(&mut random);
        if step < BURN_IN {
            continue;
        }
        steps += 1.0;
        without += f64::from(u8::from(sampler.oscillations.is_empty()));
        if (step - BURN_IN) % BETWEEN == BETWEEN - 1 {
            out.push(sampler.sample(&mut random));
        }
    }
    // Half a step is added, so that the Bayes factor stays finite if every sample has oscillations.
    let odds = (steps - without + 0.5) / (without + 0.5);
    Posterior { samples: out, bayes_factor: odds * NO_OSCILLATION / (1.0 - NO_OSCILLATION) }
}

/// Proposal probabilities: half in proportion to the root of the likelihood of a single oscillation, half
/// uniform. The first frequency is the slow change.
fn proposals(e: &Equations) -> Vec<f64> {
    let n = 2 * e.hz.len();
    let gain = |k: usize| {
        let at = |i: usize, j: usize| e.information[(2 * k + i) * n + 2 * k + j];
        let (a, b, c, u, v) = (at(0, 0), at(0, 1), at(1, 1), e.rhs[2 * k], e.rhs[2 * k + 1]);
        let det = a * c - b * b;
        if det > 0.0 { (c * u * u - 2.0 * b * u * v + a * v * v) / det / 2.0 } else { 0.0 }
    };
    let gains: Vec<f64> = (1..e.hz.len()).map(gain).collect();
    let most = gains.iter().copied().fold(0.0, f64::max);
    let weights: Vec<f64> = gains.iter().map(|g| ((g - most) / 2.0).exp()).collect();
    let (sum, n) = (weights.iter().sum::<f64>(), weights.len() as f64);
    std::iter::once(0.0).chain(weights.iter().map(|w| 0.5 * w / sum + 0.5 / n)).collect()
}

/// Adds the slow change, if it is absent, and the oscillations from index `from` on to a factor; `each` is the
/// prior information on one. False if one of them is collinear.
fn grow(factor: &mut Factor, e: &Equations, oscillations: &[usize], from: usize, each: f64) -> bool {
    let all = 2 * e.hz.len();
    let column = |i: usize| if i < 2 { i } else { 2 * oscillations[i / 2 - 1] + i % 2 };
    let first = if from == 0 { 0 } else { 2 * (from + 1) };
    factor.truncate(first);
    (first..2 * (oscillations.len() + 1)).fold(true, |is_new, i| {
        let known = &e.information[column(i) * all..(column(i) + 1) * all];
        let prior = if i < 2 { Equations::slow_information() } else { each };
        // A collinear one is added too, fixed at 0, since the factor must match the set.
        factor.push(|j| known[column(j)], known[column(i)] + prior, e.rhs[column(i)]) && is_new
    })
}

impl Sampler<'_> {
    /// Prior variance of an oscillation's two coefficients, if `oscillations` of them have that total size.
    fn var(size: f64, oscillations: usize) -> f64 {
        size * size / oscillations.max(1) as f64
    }

    /// Logarithm of the prior density of a size: half-Cauchy.
    fn log_prior(&self, size: f64) -> f64 {
        -(1.0 + (size / self.scale).powi(2)).ln()
    }

    /// The size at which `to` oscillations are each as large as `from` are now; and the logarithm of the ratio
    /// of its prior, with the Jacobian.
    fn same_size(&self, from: usize, to: usize) -> (f64, f64) {
        let ratio = if from == 0 || to == 0 { 1.0 } else { (to as f64 / from as f64).sqrt() };
        let size = self.size * ratio;
        (size, self.log_prior(size) - self.log_prior(self.size) + ratio.ln())
    }

    fn step(&mut self, random: &mut Random) {
        let u = random.unit();
        if u < 0.25 {
            self.birth(random);
        } else if u < 0.5 {
            self.death(random);
        } else if u < 0.75 {
            self.move_one(random);
        } else {
            self.resize(random);
        }
    }

    /// Birth move. Sets of equal number have equal prior probability. The prior size of each present
    /// oscillation is unchanged.
    fn birth(&mut self, random: &mut Random) {
        let (k, n, frequencies) = (self.pick(random), self.oscillations.len(), self.e.hz.len() - 1);
        if n >= MAX_COUNT.min(frequencies) || self.oscillations.contains(&k) {
            return;
        }
        let (size, log_prior_ratio) = self.same_size(n, n + 1);
        let var = Self::var(size, n + 1);
        self.oscillations.push(k);
        let is_new = grow(&mut self.factor, self.e, &self.oscillations, n, 1.0 / var);
        let evidence = self.factor.evidence() - (n + 1) as f64 * var.ln();
        let log_ratio = evidence - self.evidence - ((frequencies - n) as f64 * self.propose[k]).ln()
            + number(n + 1)
            - number(n)
            + log_prior_ratio;
        if is_new && random.unit().ln() < log_ratio {
            (self.size, self.evidence) = (size, evidence);
        } else {
            self.oscillations.pop();
            self.factor.truncate(2 * (n + 1));
        }
    }

    fn death(&mut self, random: &mut Random) {
        let (n, frequencies) = (self.oscillations.len(), self.e.hz.len() - 1);
        if n == 0 {
            return;
        }
        let at = (random.unit() * n as f64) as usize;
        let pair = self.factor.pair(2 * (at + 1));
        let (explained, determinant) = weigh(pair.block, pair.value);
        let (size, log_prior_ratio) = self.same_size(n, n - 1);
        let var = Self::var(self.size, n);
        let evidence = self.evidence - 0.5 * (explained + determinant.ln()) + var.ln();
        let log_ratio = evidence - self.evidence
            + ((frequencies + 1 - n) as f64 * self.propose[self.oscillations[at]]).ln()
            + number(n - 1)
            - number(n)
            + log_prior_ratio;
        if random.unit().ln() < log_ratio {
            self.oscillations.remove(at);
            self.size = size;
            self.refactor(at, var);
        }
    }

    /// Moves one oscillation to a neighbouring or to any frequency.
    fn move_one(&mut self, random: &mut Random) {
        let n = self.oscillations.len();
        if n == 0 {
            return;
        }
        let at = (random.unit() * n as f64) as usize;
        let (old, mut log_ratio) = (self.oscillations[at], 0.0);
        let k = if random.chance(0.7) {
            old.wrapping_add_signed(if random.chance(0.5) { 1 } else { -1 })
        } else {
            let k = self.pick(random);
            log_ratio += (self.propose[old] / self.propose[k]).ln();
            k
        };
        if k < 1 || k >= self.e.hz.len() || self.oscillations.contains(&k) {
            return;
        }
        let removed = self.factor.pair(2 * (at + 1));
        let (all, oscillations, var) = (2 * self.e.hz.len(), &self.oscillations, Self::var(self.size, n));
        let column = |i: usize| if i < 2 { i } else { 2 * oscillations[i / 2 - 1] + i % 2 };
        let known = [2 * k, 2 * k + 1].map(|k| &self.e.information[k * all..(k + 1) * all]);
        let own = [known[0][2 * k] + 1.0 / var, known[0][2 * k + 1], known[1][2 * k + 1] + 1.0 / var];
        let with = known.map(|known| move |i: usize| known[column(i)]);
        let rhs = [self.e.rhs[2 * k], self.e.rhs[2 * k + 1]];
        let (block, value) = self.factor.replacement(&removed, with, own, rhs);
        let ((lost, lost_determinant), (gained, gained_determinant)) =
            (weigh(removed.block, removed.value), weigh(block, value));
        log_ratio += 0.5 * (gained - lost - gained_determinant.ln() - lost_determinant.ln());
        if random.unit().ln() < log_ratio {
            self.oscillations[at] = k;
            self.refactor(at, var);
        }
    }

    /// Changes the size by a random walk of its logarithm; the acceptance ratio includes the Jacobian.
    fn resize(&mut self, random: &mut Random) {
        let size = self.size * (0.5 * random.normal()).exp();
        let n = self.oscillations.len();
        let var = Self::var(size, n);
        let mut evidence = self.evidence;
        if n > 0 {
            if !grow(&mut self.other, self.e, &self.oscillations, 0, 1.0 / var) {
                return;
            }
            evidence = self.other.evidence() - n as f64 * var.ln();
        }
        let log_ratio = self.log_prior(size) - self.log_prior(self.size) + (size / self.size).ln();
        if random.unit().ln() < evidence - self.evidence + log_ratio {
            (self.size, self.evidence) = (size, evidence);
            if n > 0 {
                std::mem::swap(&mut self.factor, &mut self.other);
            }
        }
    }

    /// Recomputes the factor from index `at` on. A collinear set has no evidence, so that any other set is
    /// accepted next.
    fn refactor(&mut self, at: usize, var: f64) {
        let n = self.oscillations.len();
        grow(&mut self.factor, self.e, &self.oscillations, at, 1.0 / var);
        self.evidence = self.factor.evidence() - n as f64 * var.ln();
    }

    fn pick(&self, random: &mut Random) -> usize {
        let mut left = random.unit();
        let index = self.propose.iter().position(|p| {
            left -= p;
            left < 0.0
        });
        index.unwrap_or(self.propose.len() - 1)
    }

    fn sample(&self, random: &mut Random) -> Sample {
        let values = self.factor.solution(|| random.normal());
        let columns = std::iter::once(&0).chain(&self.oscillations).flat_map(|k| [2 * k, 2 * k + 1]);
        Sample {
            oscillations: columns.zip(values).collect(),
            noise: (0..self.e.nuisances()).map(|_| random.normal()).collect(),
            lag: random.normal(),
        }
    }
}

/// Logarithm of the prior of the number of oscillations: none, or a geometric number of them.
fn number(n: usize) -> f64 {
    if n == 0 {
        NO_OSCILLATION.ln()
    } else {
        ((1.0 - NO_OSCILLATION) / MEAN_COUNT).ln() - n as f64 / MEAN_COUNT
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn collinear_oscillations_do_not_stop_the_sampler() {
        // As many unknowns as readings, and so large a flow that the prior information is lost to rounding.
        let hz: Vec<f64> = (1..30).map(|k| 0.07 * f64::from(k)).collect();
        let response = |of: fn(f64) -> f64, hz: f64| -> Vec<f64> {
            (0..60).map(|i| 300.0 * of(TAU * hz * 0.1 * f64::from(i))).collect()
        };
        let mut columns = vec![vec![1.0; 60]];
        columns.extend(hz.iter().flat_map(|hz| [response(f64::cos, *hz), response(f64::sin, *hz)]));
        columns.push((0..60).map(|i| 1e9 * (f64::from(i) * 0.618).fract()).collect());
        let e = Equations::new(&hz, &columns, &[0.0], 1).unwrap();
        for seed in 0..40 {
            let posterior = posterior(&e, 1e5, 16, seed);
            assert_eq!(posterior.samples.len(), 16);
            assert!(posterior.samples.iter().all(|sample| sample.oscillations.len().is_multiple_of(2)
                && sample.oscillations.iter().all(|oscillation| oscillation.1.is_finite())));
        }
    }
}
