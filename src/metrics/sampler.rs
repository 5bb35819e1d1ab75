//! In: the normal equations of beats. Out: draws from what the hand may have done, given what the scale saw.
//!
//! The unsteadiness of a hand is taken as a slow change and a few beats whose number, frequencies and sizes are unknown. Method:
//! reversible-jump Markov chain over sets of beats, amplitudes integrated out (Andrieu and Doucet 1999, IEEE Trans. Signal Process. 47,
//! 2667). The random numbers are the same for the same pour.

use crate::math::random::Random;
use crate::metrics::equations::Equations;
use crate::metrics::factor::{Factor, weigh};

/// Most beats at once.
const MOST: usize = 40;
/// Expected number of beats: from one to as many as make noise.
const USUAL: f64 = 16.0;
/// Steps before the first draw, and from draw to draw.
const SETTLE: usize = 400;
const BETWEEN: usize = 40;
/// Probability, before anything is seen, of no beat at all.
const STEADY: f64 = 0.05;

/// One thing that the hand may have done: coefficients of the equations' columns.
pub(super) struct Draw {
    /// Column and value.
    pub beats: Vec<(usize, f64)>,
    /// Standard normal numbers for what is open about the bursts.
    pub noise: Vec<f64>,
    /// One more for what is open about the lag.
    pub lag: f64,
}

/// What is known of the hand once the log is seen.
pub(super) struct Posterior {
    pub draws: Vec<Draw>,
    /// Odds of a beat against none, over those before the log was seen.
    pub favours_beats: f64,
}

struct Sampler<'a> {
    e: &'a Equations,
    scale: f64,
    /// The beats there are, in the order of the factor, which starts with the slow change; and their size in all.
    beats: Vec<usize>,
    size: f64,
    factor: Factor,
    evidence: f64,
    /// For trials of another size.
    other: Factor,
    /// Probability of proposing each frequency.
    propose: Vec<f64>,
}

pub(super) fn posterior(e: &Equations, usual: f64, draws: usize, seed: u64) -> Posterior {
    let mut random = Random::stream(seed, "hand");
    let room = || Factor::new(2 * (MOST + 1));
    let mut sampler = Sampler {
        e,
        scale: usual,
        beats: Vec::with_capacity(MOST),
        size: usual,
        factor: room(),
        evidence: 0.0,
        other: room(),
        propose: proposals(e),
    };
    grow(&mut sampler.factor, e, &[], 0, 0.0);
    sampler.evidence = sampler.factor.evidence();
    let (mut steady, mut steps) = (0.0, 0.0);
    let mut out = Vec::with_capacity(draws);
    for step in 0..SETTLE + BETWEEN * draws {
        sampler.step(&mut random);
        if step < SETTLE {
            continue;
        }
        steps += 1.0;
        steady += f64::from(u8::from(sampler.beats.is_empty()));
        if (step - SETTLE) % BETWEEN == BETWEEN - 1 {
            out.push(sampler.draw(&mut random));
        }
    }
    // Half a step, so that a beat that is always there gives large odds and not infinite ones.
    let odds = (steps - steady + 0.5) / (steady + 0.5);
    Posterior { draws: out, favours_beats: odds * STEADY / (1.0 - STEADY) }
}

/// Each frequency in proportion to what one beat there explains, never much less than evenly. The first is the slow change.
fn proposals(e: &Equations) -> Vec<f64> {
    let n = 2 * e.hz.len();
    let gain = |k: usize| {
        let at = |i: usize, j: usize| e.information[(2 * k + i) * n + 2 * k + j];
        let (a, b, c, u, v) = (at(0, 0), at(0, 1), at(1, 1), e.pull[2 * k], e.pull[2 * k + 1]);
        let det = a * c - b * b;
        if det > 0.0 { (c * u * u - 2.0 * b * u * v + a * v * v) / det / 2.0 } else { 0.0 }
    };
    let gains: Vec<f64> = (1..e.hz.len()).map(gain).collect();
    let most = gains.iter().copied().fold(0.0, f64::max);
    let weights: Vec<f64> = gains.iter().map(|g| ((g - most) / 2.0).exp()).collect();
    let (sum, n) = (weights.iter().sum::<f64>(), weights.len() as f64);
    std::iter::once(0.0).chain(weights.iter().map(|w| 0.5 * w / sum + 0.5 / n)).collect()
}

/// Adds the slow change, if it is not there, and the beats from place `from` on to a factor, `each` the information that is expected of one.
/// False where one of them is no new one.
fn grow(factor: &mut Factor, e: &Equations, beats: &[usize], from: usize, each: f64) -> bool {
    let all = 2 * e.hz.len();
    let column = |i: usize| if i < 2 { i } else { 2 * beats[i / 2 - 1] + i % 2 };
    let first = if from == 0 { 0 } else { 2 * (from + 1) };
    factor.truncate(first);
    (first..2 * (beats.len() + 1)).fold(true, |is_new, i| {
        let known = &e.information[column(i) * all..(column(i) + 1) * all];
        let expected = if i < 2 { Equations::slow_information() } else { each };
        // One that is no new one is in the factor too, fixed at 0: whoever has to keep the set relies on all of them.
        factor.push(|j| known[column(j)], known[column(i)] + expected, e.pull[column(i)]) && is_new
    })
}

impl Sampler<'_> {
    /// Variance that is expected of a beat's two shares, if `beats` make up that size.
    fn var(size: f64, beats: usize) -> f64 {
        size * size / beats.max(1) as f64
    }

    /// Logarithm of what is expected of a size: half of a Cauchy distribution.
    fn expected(&self, size: f64) -> f64 {
        -(1.0 + (size / self.scale).powi(2)).ln()
    }

    /// The size at which `to` beats are each as large as `from` are now; and the logarithm of how much more of it there is.
    fn as_large(&self, from: usize, to: usize) -> (f64, f64) {
        let ratio = if from == 0 || to == 0 { 1.0 } else { (to as f64 / from as f64).sqrt() };
        let size = self.size * ratio;
        (size, self.expected(size) - self.expected(self.size) + ratio.ln())
    }

    fn step(&mut self, random: &mut Random) {
        let u = random.unit();
        if u < 0.25 {
            self.one_more(random);
        } else if u < 0.5 {
            self.one_less(random);
        } else if u < 0.75 {
            self.another(random);
        } else {
            self.another_size(random);
        }
    }

    /// Sets of one number are as likely as each other, numbers from one on too. The beats that are there stay as large as they are expected.
    fn one_more(&mut self, random: &mut Random) {
        let (k, n, frequencies) = (self.pick(random), self.beats.len(), self.e.hz.len() - 1);
        if n >= MOST.min(frequencies) || self.beats.contains(&k) {
            return;
        }
        let (size, more) = self.as_large(n, n + 1);
        let var = Self::var(size, n + 1);
        self.beats.push(k);
        let is_new = grow(&mut self.factor, self.e, &self.beats, n, 1.0 / var);
        let evidence = self.factor.evidence() - (n + 1) as f64 * var.ln();
        let log_ratio = evidence - self.evidence - ((frequencies - n) as f64 * self.propose[k]).ln()
            + number(n + 1)
            - number(n)
            + more;
        if is_new && random.unit().ln() < log_ratio {
            (self.size, self.evidence) = (size, evidence);
        } else {
            self.beats.pop();
            self.factor.truncate(2 * (n + 1));
        }
    }

    fn one_less(&mut self, random: &mut Random) {
        let (n, frequencies) = (self.beats.len(), self.e.hz.len() - 1);
        if n == 0 {
            return;
        }
        let at = (random.unit() * n as f64) as usize;
        let pair = self.factor.pair(2 * (at + 1));
        let (explained, determinant) = weigh(pair.block, pair.value);
        let (size, less) = self.as_large(n, n - 1);
        let var = Self::var(self.size, n);
        let evidence = self.evidence - 0.5 * (explained + determinant.ln()) + var.ln();
        let log_ratio = evidence - self.evidence
            + ((frequencies + 1 - n) as f64 * self.propose[self.beats[at]]).ln()
            + number(n - 1)
            - number(n)
            + less;
        if random.unit().ln() < log_ratio {
            self.beats.remove(at);
            self.size = size;
            self.anew(at, var);
        }
    }

    /// Another frequency: a neighbour, or anywhere.
    fn another(&mut self, random: &mut Random) {
        let n = self.beats.len();
        if n == 0 {
            return;
        }
        let at = (random.unit() * n as f64) as usize;
        let (old, mut log_ratio) = (self.beats[at], 0.0);
        let k = if random.chance(0.7) {
            old.wrapping_add_signed(if random.chance(0.5) { 1 } else { -1 })
        } else {
            let k = self.pick(random);
            log_ratio += (self.propose[old] / self.propose[k]).ln();
            k
        };
        if k < 1 || k >= self.e.hz.len() || self.beats.contains(&k) {
            return;
        }
        let gone = self.factor.pair(2 * (at + 1));
        let (all, beats, var) = (2 * self.e.hz.len(), &self.beats, Self::var(self.size, n));
        let column = |i: usize| if i < 2 { i } else { 2 * beats[i / 2 - 1] + i % 2 };
        let known = [2 * k, 2 * k + 1].map(|k| &self.e.information[k * all..(k + 1) * all]);
        let own = [known[0][2 * k] + 1.0 / var, known[0][2 * k + 1], known[1][2 * k + 1] + 1.0 / var];
        let with = known.map(|known| move |i: usize| known[column(i)]);
        let pull = [self.e.pull[2 * k], self.e.pull[2 * k + 1]];
        let (block, value) = self.factor.instead(&gone, with, own, pull);
        let ((lost, lost_open), (won, won_open)) = (weigh(gone.block, gone.value), weigh(block, value));
        log_ratio += 0.5 * (won - lost - won_open.ln() - lost_open.ln());
        if random.unit().ln() < log_ratio {
            self.beats[at] = k;
            self.anew(at, var);
        }
    }

    /// Another size: a step in its logarithm counts the size itself.
    fn another_size(&mut self, random: &mut Random) {
        let size = self.size * (0.5 * random.normal()).exp();
        let n = self.beats.len();
        let var = Self::var(size, n);
        let mut evidence = self.evidence;
        if n > 0 {
            if !grow(&mut self.other, self.e, &self.beats, 0, 1.0 / var) {
                return;
            }
            evidence = self.other.evidence() - n as f64 * var.ln();
        }
        let log_ratio = self.expected(size) - self.expected(self.size) + (size / self.size).ln();
        if random.unit().ln() < evidence - self.evidence + log_ratio {
            (self.size, self.evidence) = (size, evidence);
            if n > 0 {
                std::mem::swap(&mut self.factor, &mut self.other);
            }
        }
    }

    /// Works the factor out anew from place `at` on. Where the beats cannot be told apart there is no evidence for them, and any other set is
    /// taken instead.
    fn anew(&mut self, at: usize, var: f64) {
        let n = self.beats.len();
        grow(&mut self.factor, self.e, &self.beats, at, 1.0 / var);
        self.evidence = self.factor.evidence() - n as f64 * var.ln();
    }

    fn pick(&self, random: &mut Random) -> usize {
        let mut left = random.unit();
        let found = self.propose.iter().position(|p| {
            left -= p;
            left < 0.0
        });
        found.unwrap_or(self.propose.len() - 1)
    }

    fn draw(&self, random: &mut Random) -> Draw {
        let values = self.factor.solution(|| random.normal());
        let columns = std::iter::once(&0).chain(&self.beats).flat_map(|k| [2 * k, 2 * k + 1]);
        Draw {
            beats: columns.zip(values).collect(),
            noise: (0..self.e.open()).map(|_| random.normal()).collect(),
            lag: random.normal(),
        }
    }
}

/// Logarithm of what is expected of the number of beats: none, or some, fewer rather than more.
fn number(n: usize) -> f64 {
    if n == 0 { STEADY.ln() } else { ((1.0 - STEADY) / USUAL).ln() - n as f64 / USUAL }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    #[test]
    fn beats_that_cannot_be_told_apart_stop_no_chain() {
        // As many unknowns as readings, and shares of a flow so large that what is expected of a beat is lost beside what is seen of it.
        let hz: Vec<f64> = (1..30).map(|k| 0.07 * f64::from(k)).collect();
        let seen = |of: fn(f64) -> f64, hz: f64| -> Vec<f64> {
            (0..60).map(|i| 300.0 * of(TAU * hz * 0.1 * f64::from(i))).collect()
        };
        let mut columns = vec![vec![1.0; 60]];
        columns.extend(hz.iter().flat_map(|hz| [seen(f64::cos, *hz), seen(f64::sin, *hz)]));
        columns.push((0..60).map(|i| 1e9 * (f64::from(i) * 0.618).fract()).collect());
        let e = Equations::new(&hz, &columns, &[0.0], 1).unwrap();
        for seed in 0..40 {
            let found = posterior(&e, 1e5, 16, seed);
            assert_eq!(found.draws.len(), 16);
            assert!(
                found.draws.iter().all(|draw| draw.beats.len().is_multiple_of(2)
                    && draw.beats.iter().all(|beat| beat.1.is_finite()))
            );
        }
    }
}
