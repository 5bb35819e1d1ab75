//! In: the normal equations of beats. Out: draws from what the hand may have done, given what the scale saw.
//!
//! The unsteadiness of a hand is taken as a slow change and a few beats whose number, frequencies and sizes are unknown. Method:
//! reversible-jump Markov chain over sets of beats, amplitudes integrated out (Andrieu and Doucet 1999, IEEE Trans. Signal Process. 47,
//! 2667). The random numbers are the same for the same pour.

use super::equations::{Equations, backward, forward};
use crate::math::inner::inner;
use crate::math::random::Random;
use crate::math::solve::{cholesky, solve};

/// Most beats at once.
const MOST: usize = 40;
/// Expected number of beats: from one to as many as make noise.
const USUAL: f64 = 16.0;
/// Steps before the first draw, and from draw to draw.
const SETTLE: usize = 200;
const BETWEEN: usize = 16;
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

struct Chain<'a> {
    e: &'a Equations,
    scale: f64,
    beats: Vec<usize>,
    size: f64,
    evidence: f64,
    /// Probability of proposing each frequency.
    propose: Vec<f64>,
    columns: Vec<usize>,
    work: Vec<f64>,
    pull: Vec<f64>,
}

pub(super) fn posterior(e: &Equations, usual: f64, draws: usize, seed: u64) -> Posterior {
    let mut random = Random::stream(seed, "hand");
    let mut chain = Chain {
        e,
        scale: usual,
        beats: Vec::with_capacity(MOST),
        size: usual,
        evidence: 0.0,
        propose: proposals(e),
        columns: Vec::new(),
        work: Vec::new(),
        pull: Vec::new(),
    };
    chain.evidence = chain.evidence_of(&[], usual);
    let (mut steady, mut steps) = (0.0, 0.0);
    let mut out = Vec::with_capacity(draws);
    for step in 0..SETTLE + BETWEEN * draws {
        chain.step(&mut random);
        if step < SETTLE {
            continue;
        }
        steps += 1.0;
        steady += f64::from(u8::from(chain.beats.is_empty()));
        if (step - SETTLE) % BETWEEN == BETWEEN - 1 {
            out.push(chain.draw(&mut random));
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

impl Chain<'_> {
    /// Logarithm of the evidence for a set of beats of that size in all.
    fn evidence_of(&mut self, beats: &[usize], size: f64) -> f64 {
        let n = self.system(beats, size);
        if !cholesky(&mut self.work, n) {
            return f64::NEG_INFINITY;
        }
        // The logarithm of a product of a few is a logarithm, not a few.
        let few = |k: usize| (k..n.min(k + 8)).map(|i| self.work[i * (n + 1)]).product::<f64>().ln();
        let mut log_det: f64 = (0..n).step_by(8).map(few).sum();
        if !beats.is_empty() {
            log_det += beats.len() as f64 * (size * size / beats.len() as f64).ln();
        }
        forward(&self.work, n, &mut self.pull);
        0.5 * inner(&self.pull, &self.pull) - log_det
    }

    /// Information and pull of the slow change and the beats, what is expected of them included. Of the information only the lower
    /// triangle, which is all that its factor is made of.
    fn system(&mut self, beats: &[usize], size: f64) -> usize {
        self.columns.clear();
        self.columns.extend(std::iter::once(&0).chain(beats).flat_map(|k| [2 * k, 2 * k + 1]));
        let (n, all) = (self.columns.len(), 2 * self.e.hz.len());
        // What stands above the diagonal is left of former sets.
        self.work.resize(n * n, 0.0);
        self.pull.clear();
        let beat = beats.len() as f64 / (size * size);
        for (i, &column) in self.columns.iter().enumerate() {
            let known = &self.e.information[column * all..(column + 1) * all];
            let row = &mut self.work[i * n..(i + 1) * n];
            for (x, &j) in row.iter_mut().zip(&self.columns[..=i]) {
                *x = known[j];
            }
            row[i] += if i < 2 { Equations::slow_information() } else { beat };
            self.pull.push(self.e.pull[column]);
        }
        n
    }

    fn step(&mut self, random: &mut Random) {
        let u = random.unit();
        let mut beats = self.beats.clone();
        let mut size = self.size;
        let frequencies = self.e.hz.len() - 1;
        let mut log_ratio = 0.0;
        if u < 0.25 {
            // One more. Sets of one size are as likely as each other, numbers from one on too.
            let k = self.pick(random);
            if beats.len() >= MOST.min(frequencies) || beats.contains(&k) {
                return;
            }
            log_ratio -= ((frequencies - beats.len()) as f64 * self.propose[k]).ln();
            log_ratio += number(beats.len() + 1) - number(beats.len());
            beats.push(k);
        } else if u < 0.5 {
            // One less.
            if beats.is_empty() {
                return;
            }
            let k = beats.swap_remove((random.unit() * beats.len() as f64) as usize);
            log_ratio += ((frequencies - beats.len()) as f64 * self.propose[k]).ln();
            log_ratio += number(beats.len()) - number(beats.len() + 1);
        } else if u < 0.75 {
            // Another frequency: a neighbour, or anywhere.
            if beats.is_empty() {
                return;
            }
            let at = (random.unit() * beats.len() as f64) as usize;
            let k = if random.chance(0.7) {
                beats[at].wrapping_add_signed(if random.chance(0.5) { 1 } else { -1 })
            } else {
                let k = self.pick(random);
                log_ratio += (self.propose[beats[at]] / self.propose[k]).ln();
                k
            };
            if k < 1 || k > frequencies || beats.contains(&k) {
                return;
            }
            beats[at] = k;
        } else {
            // Another size: half of a Cauchy distribution is expected; a step in its logarithm counts the size itself.
            size *= (0.5 * random.normal()).exp();
            let expected = |size: f64| -(1.0 + (size / self.scale).powi(2)).ln();
            log_ratio += expected(size) - expected(self.size) + (size / self.size).ln();
        }
        let evidence = self.evidence_of(&beats, size);
        if random.unit().ln() < evidence - self.evidence + log_ratio {
            (self.beats, self.size, self.evidence) = (beats, size, evidence);
        }
    }

    fn pick(&self, random: &mut Random) -> usize {
        let mut left = random.unit();
        let found = self.propose.iter().position(|p| {
            left -= p;
            left < 0.0
        });
        found.unwrap_or(self.propose.len() - 1)
    }

    fn draw(&mut self, random: &mut Random) -> Draw {
        let beats = self.beats.clone();
        let n = self.system(&beats, self.size);
        let mut values = vec![0.0; n];
        if cholesky(&mut self.work, n) {
            solve(&self.work, n, &mut self.pull);
            values.iter_mut().for_each(|v| *v = random.normal());
            backward(&self.work, n, &mut values);
            values.iter_mut().zip(&self.pull).for_each(|(v, mean)| *v += mean);
        }
        let columns = std::iter::once(&0).chain(&beats).flat_map(|k| [2 * k, 2 * k + 1]);
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
