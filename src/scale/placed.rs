//! In: readings about masses that a hand put on a scale or took off. Out: the response of the scale.
//!
//! A hand takes a while to put a mass down: the load is a ramp, whose length is a parameter of its own for each mass. All
//! masses share the response. Instants, ramps, levels and the response are fitted together by least squares (Levenberg
//! 1944, Marquardt 1963), for each family; the families are compared by their marginal likelihoods (Laplace). No hand puts
//! a mass down evenly: for a while about it a reading may be off by a share of the mass.

use crate::estimate::Estimate;
use crate::math::solve::{cholesky, inverse, solve};
use crate::model::response::{Kernel, NONE_S, ResponseSource, ScaleResponse};

/// Median of the time that a hand takes, s, and sd of its logarithm.
const HAND_S: (f64, f64) = (0.22, 0.5);
/// The same of the delay of a scale, and of the bend of a response with two lags or an overshoot.
const DELAY_S: (f64, f64) = (0.2, 0.8);
const BEND: (f64, f64) = (0.6, 0.7);
/// Sd of the log odds of the average's share of the delay, behind a lag.
const SHARE_SD: f64 = 1.5;
/// Share of a mass by which a reading may be off so soon after it.
const UNEVEN: f64 = 0.01;
const UNEVEN_S: f64 = 0.8;
/// A hand that is uneven shifts the instant, and with it the delay, s. The scatter between so many masses shows it, but
/// for what all have in common between two readings: this share of an interval.
const LEAST_SD_S: f64 = 0.005;
const FEWEST: usize = 6;
const UNSEEN: f64 = 0.045;
const MOST_ITERATIONS: usize = 60;
/// Fits after each of which the time that this hand usually takes is estimated.
const PASSES: usize = 3;
/// Delays from which the fit starts, s.
const STARTS_S: [f64; 3] = [0.08, 0.25, 0.6];
/// Parameters of one mass: instant of its middle, logarithm of the time it took, level before, mass.
const OWN: usize = 4;

/// Readings about one mass.
pub(crate) struct Placed {
    pub t: Vec<f64>,
    pub y: Vec<f64>,
}

/// What was found of one mass.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Found {
    pub at_s: Estimate,
    pub mass_g: Estimate,
    /// Level before it, g.
    pub level_g: f64,
    pub hand_s: f64,
    /// Root mean square of what is left over, in sd of a reading.
    pub misfit: f64,
}

/// One way to build a scale. The first parameter is the logarithm of the delay.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Built {
    Lag,
    Lags,
    Average,
    LagAndAverage,
}

impl Built {
    /// Means and sd of its parameters.
    fn priors(self) -> Vec<(f64, f64)> {
        let delay = (DELAY_S.0.ln(), DELAY_S.1);
        match self {
            Self::Lag | Self::Average => vec![delay],
            Self::Lags => vec![delay, (BEND.0.ln(), BEND.1)],
            Self::LagAndAverage => vec![delay, (0.0, SHARE_SD)],
        }
    }

    fn kernel(self, p: &[f64]) -> Kernel {
        let delay_s = p[0].exp();
        match self {
            Self::Lag => Kernel { lag_s: delay_s, bend: 0.0, average_s: 0.0 },
            Self::Lags => Kernel { lag_s: delay_s, bend: p[1].exp(), average_s: 0.0 },
            Self::Average => Kernel { lag_s: 0.0, bend: 0.0, average_s: 2.0 * delay_s },
            Self::LagAndAverage => {
                let share = 1.0 / (1.0 + (-p[1]).exp());
                Kernel { lag_s: (1.0 - share) * delay_s, bend: 0.0, average_s: 2.0 * share * delay_s }
            }
        }
    }
}

/// A fit of all masses with one way to build a scale.
struct Fitted {
    built: Built,
    p: Vec<f64>,
    covariance: Vec<f64>,
    /// Sd of the logarithm of the delay by its scatter between the masses; None of few masses.
    scatter: Option<f64>,
    misfits: Vec<f64>,
    evidence: f64,
}

impl Fitted {
    fn delay_s(&self) -> f64 {
        self.p[0].exp()
    }

    fn sd(&self, k: usize) -> f64 {
        self.covariance[k * self.p.len() + k].max(0.0).sqrt()
    }
}

/// The response of the scale, and each mass; None if the readings do not determine them.
pub(crate) fn response(masses: &[Placed], noise_g: f64) -> Option<(ScaleResponse, Vec<Found>)> {
    let mut usual_s = HAND_S.0;
    let mut found = None;
    for _ in 0..PASSES {
        let (response, each) = with_usual(masses, noise_g, usual_s)?;
        // One more for what is usual of all hands.
        let sum: f64 = each.iter().map(|one: &Found| one.hand_s.ln()).sum();
        usual_s = ((sum + HAND_S.0.ln()) / (each.len() as f64 + 1.0)).exp();
        found = Some((response, each));
    }
    found
}

/// The same for a hand that usually takes so long, s.
fn with_usual(masses: &[Placed], noise_g: f64, usual_s: f64) -> Option<(ScaleResponse, Vec<Found>)> {
    // A long move of the hand can stand for a long average, so that both are sought from several delays; the other two
    // families begin where these ended.
    let lags = fitted(masses, (noise_g, usual_s), Built::Lags, &STARTS_S);
    let average = fitted(masses, (noise_g, usual_s), Built::Average, &STARTS_S);
    let from: Vec<f64> = [&lags, &average].into_iter().flatten().map(Fitted::delay_s).collect();
    let others =
        [Built::Lag, Built::LagAndAverage].map(|built| fitted(masses, (noise_g, usual_s), built, &from));
    let fits: Vec<Fitted> = [lags, average].into_iter().chain(others).flatten().collect();
    let best = fits.iter().max_by(|a, b| a.evidence.total_cmp(&b.evidence))?;
    // What other families say of the delay is in its sd.
    let odds: Vec<f64> = fits.iter().map(|fit| (fit.evidence - best.evidence).exp()).collect();
    let other = |fit: &Fitted| (fit.delay_s() - best.delay_s()).powi(2);
    let between =
        fits.iter().zip(&odds).map(|(fit, w)| w * other(fit)).sum::<f64>() / odds.iter().sum::<f64>();
    let every_s =
        masses.iter().filter_map(|m| Some((m.t.last()? - m.t[0]) / m.t.len() as f64)).fold(0.0, f64::max);
    let (own, least_s) = best.scatter.map_or((best.sd(0), LEAST_SD_S), |own| (own, UNSEEN * every_s));
    let sd_s = ((own * best.delay_s()).powi(2) + between + least_s * least_s).sqrt();
    let shared = best.built.priors().len();
    let found = |k: usize| {
        let at = shared + OWN * k;
        let of = |j: usize| Estimate::new(best.p[at + j], best.sd(at + j));
        Found {
            at_s: of(0),
            mass_g: of(3),
            level_g: best.p[at + 2],
            hand_s: best.p[at + 1].exp(),
            misfit: best.misfits[k],
        }
    };
    let kernel = best.built.kernel(&best.p);
    Some((
        ScaleResponse::new(kernel, sd_s, ResponseSource::Calibrated),
        (0..masses.len()).map(found).collect(),
    ))
}

/// What two lags and a hand say of one mass by itself.
pub(crate) struct Alone {
    /// Its instant, s.
    pub at_s: f64,
    /// Level before it, g.
    pub level_g: f64,
    pub mass_g: f64,
    /// Root mean square of what they leave over, in sd of a reading.
    pub misfit: f64,
    /// Square of the time in which it shows, were it a ramp, s2: that of the scale and that of the hand.
    pub shows_s2: f64,
}

pub(crate) fn alone(placed: &Placed, noise_g: f64) -> Option<Alone> {
    let fit = fitted(std::slice::from_ref(placed), (noise_g, HAND_S.0), Built::Lags, &STARTS_S)?;
    let shared = Built::Lags.priors().len();
    let Kernel { lag_s, bend, .. } = Built::Lags.kernel(&fit.p);
    // Variances of lags and of a ramp add up; that of a ramp is a twelfth of its square.
    let shows_s2 = 12.0 * lag_s * lag_s * (1.0 - bend) + (2.0 * fit.p[shared + 1]).exp();
    Some(Alone {
        at_s: fit.p[shared],
        level_g: fit.p[shared + 2],
        mass_g: fit.p[shared + 3],
        misfit: fit.misfits[0],
        shows_s2,
    })
}

/// What is shown of a mass of 1 put down evenly within `hand_s` about 0.
pub(super) fn shown(kernel: Kernel, hand_s: f64, t: f64) -> f64 {
    if hand_s <= NONE_S {
        return kernel.shown(0, t);
    }
    (kernel.shown(1, t + 0.5 * hand_s) - kernel.shown(1, t - 0.5 * hand_s)) / hand_s
}

/// The normal equations at a point.
struct Equations {
    matrix: Vec<f64>,
    score: Vec<f64>,
    /// Sum of squares of all residuals, priors included, and of those of each mass, with their number.
    cost: f64,
    each: Vec<(f64, f64)>,
    /// Score of the shared parameters from each mass.
    scores: Vec<Vec<f64>>,
}

/// The problem of one family.
struct Problem<'a> {
    masses: &'a [Placed],
    /// Sd of each reading.
    sd: Vec<Vec<f64>>,
    built: Built,
    priors: Vec<(f64, f64)>,
    /// The time that this hand usually takes, s.
    usual_s: f64,
}

impl Problem<'_> {
    fn equations(&self, p: &[f64]) -> Equations {
        let (n, shared) = (p.len(), self.priors.len());
        let mut out = Equations {
            matrix: vec![0.0; n * n],
            score: vec![0.0; n],
            cost: 0.0,
            each: Vec::new(),
            scores: Vec::new(),
        };
        let prior = |out: &mut Equations, k: usize, (mean, sd): (f64, f64)| {
            let z = (p[k] - mean) / sd;
            out.cost += z * z;
            out.matrix[k * n + k] += 1.0 / (sd * sd);
            out.score[k] -= z / sd;
        };
        self.priors.iter().enumerate().for_each(|(k, of)| prior(&mut out, k, *of));
        for (k, (placed, sd)) in self.masses.iter().zip(&self.sd).enumerate() {
            let at = shared + OWN * k;
            prior(&mut out, at + 1, (self.usual_s.ln(), HAND_S.1));
            let places: Vec<usize> = (0..shared).chain(at..at + OWN).collect();
            // Curves at the point and a little further along each parameter of the shape: shared ones, instant, ramp.
            let curve = |q: &[f64]| -> Vec<f64> {
                let kernel = self.built.kernel(q);
                placed.t.iter().map(|t| shown(kernel, q[at + 1].exp(), t - q[at])).collect()
            };
            let here = curve(p);
            let moved: Vec<Vec<f64>> = (0..shared + 2)
                .map(|j| {
                    let mut q = p.to_vec();
                    q[places[j]] += SMALL;
                    curve(&q)
                })
                .collect();
            let (level, mass) = (p[at + 2], p[at + 3]);
            let before = out.score[..shared].to_vec();
            let mut square = 0.0;
            for i in 0..placed.t.len() {
                let residual = (placed.y[i] - level - mass * here[i]) / sd[i];
                square += residual * residual;
                let slopes: Vec<f64> = moved
                    .iter()
                    .map(|curve| mass * (curve[i] - here[i]) / SMALL / sd[i])
                    .chain([1.0 / sd[i], here[i] / sd[i]])
                    .collect();
                for (a, &row) in places.iter().enumerate() {
                    out.score[row] += slopes[a] * residual;
                    for (b, &column) in places.iter().enumerate() {
                        out.matrix[row * n + column] += slopes[a] * slopes[b];
                    }
                }
            }
            out.scores
                .push(out.score[..shared].iter().zip(before).map(|(after, before)| after - before).collect());
            out.cost += square;
            out.each.push((square, placed.t.len() as f64));
        }
        out
    }
}

/// Step of a numerical derivative, s or of a logarithm.
const SMALL: f64 = 1e-6;

fn fitted(
    masses: &[Placed],
    (noise_g, usual_s): (f64, f64),
    built: Built,
    starts_s: &[f64],
) -> Option<Fitted> {
    let priors = built.priors();
    let rough: Vec<(f64, f64, f64)> = masses.iter().map(half_way).collect::<Option<_>>()?;
    let sd = |(placed, (half_s, _, mass)): (&Placed, &(f64, f64, f64))| -> Vec<f64> {
        let uneven = |t: f64| if (t - half_s).abs() < UNEVEN_S { UNEVEN * mass } else { 0.0 };
        placed.t.iter().map(|t| noise_g.hypot(uneven(*t)).max(f64::MIN_POSITIVE)).collect()
    };
    let sd = masses.iter().zip(&rough).map(sd).collect();
    let problem = Problem { masses, sd, built, priors, usual_s };
    let start = |delay_s: f64| {
        let mut p: Vec<f64> = problem.priors.iter().map(|prior| prior.0).collect();
        p[0] = delay_s.ln();
        for (half_s, level, mass) in &rough {
            p.extend([half_s - 0.8 * delay_s, usual_s.ln(), *level, *mass]);
        }
        p
    };
    let mut ends: Vec<(Vec<f64>, Equations)> =
        starts_s.iter().map(|delay_s| descend(&problem, start(*delay_s))).collect();
    let least = |ends: Vec<(Vec<f64>, Equations)>| {
        ends.into_iter().filter(|end| end.1.cost.is_finite()).min_by(|a, b| a.1.cost.total_cmp(&b.1.cost))
    };
    let found = least(ends)?;
    ends = exchanged(&problem, &found.0).map(|p| descend(&problem, p)).into_iter().chain([found]).collect();
    let (p, at) = least(ends)?;
    let n = p.len();
    let mut factor = at.matrix;
    if !cholesky(&mut factor, n) {
        return None;
    }
    let log_det: f64 = 2.0 * (0..n).map(|k| factor[k * n + k].ln()).sum::<f64>();
    let log_prior: f64 = problem.priors.iter().map(|(_, sd)| -sd.ln()).sum();
    let misfits = at.each.iter().map(|(square, n)| (square / n).sqrt()).collect();
    let covariance = inverse(&factor, n);
    Some(Fitted {
        built,
        p,
        scatter: scatter(&at.scores, &covariance[..problem.priors.len()]),
        covariance,
        misfits,
        evidence: -0.5 * at.cost - 0.5 * log_det + log_prior,
    })
}

/// Sd of the first parameter by the scatter between the masses, whatever their errors are (the sandwich of Huber 1967).
/// `row` is that of its covariances with the shared parameters.
fn scatter(scores: &[Vec<f64>], row: &[f64]) -> Option<f64> {
    let n = scores.len();
    let moved = |score: &Vec<f64>| score.iter().zip(row).map(|(g, c)| g * c).sum::<f64>().powi(2);
    let freedom = n.checked_sub(row.len()).filter(|_| n >= FEWEST)? as f64;
    Some((scores.iter().map(moved).sum::<f64>() * n as f64 / freedom).sqrt())
}

/// The point at which the average is as long as the hands took, and these as the average was: both ways a mass shows
/// alike, but no hand takes the same time each time. None without an average.
fn exchanged(problem: &Problem, p: &[f64]) -> Option<Vec<f64>> {
    let kernel = problem.built.kernel(p);
    let hands: Vec<usize> = (0..problem.masses.len()).map(|k| problem.priors.len() + OWN * k + 1).collect();
    let mut sorted_s: Vec<f64> = hands.iter().map(|&k| p[k].exp()).collect();
    sorted_s.sort_by(f64::total_cmp);
    let usual_s = sorted_s[sorted_s.len() / 2];
    let delay_s = kernel.lag_s + 0.5 * usual_s;
    let mut out = p.to_vec();
    match problem.built {
        Built::Average => {}
        Built::LagAndAverage => out[1] = (0.5 * usual_s / kernel.lag_s.max(NONE_S)).ln(),
        Built::Lag | Built::Lags => return None,
    }
    out[0] = delay_s.ln();
    for k in hands {
        // The middle of what is shown stays.
        out[k - 1] += 0.5 * (kernel.average_s - usual_s);
        let hand_s2 = (2.0 * p[k]).exp() + kernel.average_s.powi(2) - usual_s.powi(2);
        out[k] = 0.5 * hand_s2.max(SHORTEST_S * SHORTEST_S).ln();
    }
    Some(out)
}

/// The shortest time of a hand at the start of a fit, s.
const SHORTEST_S: f64 = 0.05;

/// When a mass shows by half, the level before it, and the mass.
fn half_way(placed: &Placed) -> Option<(f64, f64, f64)> {
    let n = placed.y.len();
    if n < 8 {
        return None;
    }
    let mean = |y: &[f64]| y.iter().sum::<f64>() / y.len() as f64;
    let (before, after) = (mean(&placed.y[..4]), mean(&placed.y[n - 4..]));
    let half = (1..n).find(|&i| (placed.y[i] - before) / (after - before) > 0.5)?;
    Some((placed.t[half], before, after - before))
}

/// Minimisation after Levenberg and Marquardt.
fn descend(problem: &Problem, mut p: Vec<f64>) -> (Vec<f64>, Equations) {
    let n = p.len();
    let mut damping = 1e-2;
    let mut at = problem.equations(&p);
    for _ in 0..MOST_ITERATIONS {
        let mut damped = at.matrix.clone();
        (0..n).for_each(|k| damped[k * n + k] *= 1.0 + damping);
        if !cholesky(&mut damped, n) {
            damping *= 10.0;
            continue;
        }
        let mut step = at.score.clone();
        solve(&damped, n, &mut step);
        // Level and mass are linear.
        let is_linear = |k: usize| k >= problem.priors.len() && (k - problem.priors.len()) % OWN >= 2;
        let reach = |k: usize, step: f64| if is_linear(k) { step } else { step.clamp(-REACH, REACH) };
        let next: Vec<f64> = (0..n).map(|k| p[k] + reach(k, step[k])).collect();
        let found = problem.equations(&next);
        if found.cost < at.cost {
            let gain = at.cost - found.cost;
            (p, at) = (next, found);
            damping = (damping * 0.2).max(1e-9);
            if gain < 1e-6 {
                break;
            }
        } else {
            damping *= 5.0;
            if damping > 1e8 {
                break;
            }
        }
    }
    (p, at)
}

/// Most of a step of a logarithm, or of an instant in s.
const REACH: f64 = 0.7;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;
    use crate::model::response::ResponseFamily;

    /// Ten masses put on and taken off by a hand that takes .1 to .4 s, at 10 Hz in steps of .1 g.
    fn masses(kernel: Kernel, seed: u64) -> Vec<Placed> {
        let mut random = Random::new(seed);
        (0..10)
            .map(|k| {
                let mass = if k % 2 == 0 { 100.0 } else { -100.0 };
                let (at, hand) = (2.0 + 0.1 * random.unit(), 0.1 + 0.3 * random.unit());
                let t: Vec<f64> = (0..90).map(|i| f64::from(i) * 0.1).collect();
                let y = t
                    .iter()
                    .map(|t| 10.0 + mass * shown(kernel, hand, t - at) + 0.05 * random.normal())
                    .map(|y| (y * 10.0).round() / 10.0)
                    .collect();
                Placed { t, y }
            })
            .collect()
    }

    #[test]
    fn each_response_is_told_from_the_others_with_its_delay() {
        let kernel = |lag_s, bend, average_s| Kernel { lag_s, bend, average_s };
        for (kernel, family) in [
            (kernel(0.2, 0.0, 0.0), ResponseFamily::Lag),
            (kernel(0.24, 0.5, 0.0), ResponseFamily::TwoLags),
            (kernel(0.08, 3.0, 0.0), ResponseFamily::Overshoot),
            (kernel(0.0, 0.0, 0.3), ResponseFamily::Average),
            (kernel(0.0, 0.0, 1.0), ResponseFamily::Average),
            (kernel(0.1, 0.0, 0.4), ResponseFamily::LagAndAverage),
        ] {
            for seed in 0..4 {
                let (found, each) = response(&masses(kernel, seed), 0.058).unwrap();
                let off = found.delay_s.value - kernel.delay_s();
                assert!(off.abs() < 0.015 && off.abs() < 3.0 * found.delay_s.sd, "{kernel:?}: {found:?}");
                let is_damped = [ResponseFamily::TwoLags, ResponseFamily::Overshoot].contains(&found.family);
                assert!(found.family == family || is_damped, "{kernel:?}: {found:?}");
                assert!(each.iter().all(|one| (one.mass_g.value.abs() - 100.0).abs() < 0.2), "{each:?}");
            }
        }
    }
}
