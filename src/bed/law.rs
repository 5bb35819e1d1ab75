//! In: the parameters of a drainage. Out: the collected beverage and the instant at which it stops, with their
//! derivatives.
//!
//! A vessel with `V = b h^m` and an outflow of `Q = c h^n` gives `Q ~ V^p` with `p = n/m`. From `V0` at the rate `k =
//! Q0/V0`, `V = V0 (1 - (1-p) k t)^(1/(1-p))` and is empty after `m/(m-n) V0/Q0`; with `p = 1` it is an exponential
//! (closed forms; Torricelli for `n = 1/2`, Darcy for `n = 1`).

use crate::bed::lag::AGES;

/// Number of parameters, in this order: beverage once all has drained, g; logarithm of the standing water at the first
/// instant, g; logarithm of the rate, 1/s; exponent.
pub(super) const N: usize = 4;
pub(super) const ALL: usize = 0;
pub(super) const EXPONENT: usize = 3;
pub(super) type Vector = [f64; N];
pub(super) type Matrix = [Vector; N];

/// Prior of the parameters.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prior {
    pub mean: Vector,
    pub information: Matrix,
}

impl Prior {
    /// Weakly informative: the exponent is 0.5 with an sd of 1, so that a log that does not identify it has a solution.
    pub(super) fn open() -> Self {
        Self::exponent(0.5, 1.0)
    }

    /// Informative about the exponent only.
    pub(super) fn exponent(mean: f64, sd: f64) -> Self {
        let mut information = [[0.0; N]; N];
        information[EXPONENT][EXPONENT] = 1.0 / (sd * sd);
        Self { mean: [0.0, 0.0, 0.0, mean], information }
    }
}

/// A fitted drainage.
#[derive(Debug, Clone, Copy)]
pub(super) struct Drain {
    pub from_s: f64,
    pub to_s: f64,
    pub parameters: Vector,
    pub covariance: Matrix,
    pub prior: Prior,
    /// Sum of squared residuals over the noise's variance, the degrees of freedom, and the deviance that noise and the
    /// random walk of the zero explain.
    pub deviance: f64,
    pub degrees: f64,
    pub expected: f64,
    /// Inflation of the covariance, for residuals that exceed the noise or are autocorrelated.
    pub inflation: f64,
}

impl Drain {
    pub(super) fn exponent(&self) -> f64 {
        self.parameters[EXPONENT]
    }

    /// Drainable water in the bed at the first instant, g.
    pub(super) fn standing_g(&self) -> f64 {
        self.parameters[1].exp()
    }

    /// Flow at the first instant, g/s.
    pub(super) fn flow_g_per_s(&self) -> f64 {
        (self.parameters[1] + self.parameters[2]).exp()
    }

    /// Variance of a function of the parameters with this gradient.
    pub(super) fn variance(&self, gradient: &Vector) -> f64 {
        dot(gradient, &times(&self.covariance, gradient)).max(0.0)
    }

    /// Root mean square of the residuals in excess of the noise, over the noise.
    pub(super) fn beyond_noise(&self) -> f64 {
        let by_chance = 3.0 * (2.0 / self.degrees).sqrt();
        (self.deviance / self.expected - 1.0 - by_chance).max(0.0).sqrt()
    }

    /// Mass collected at an instant, g, and its derivatives.
    fn collected(&self, t_s: f64) -> (f64, Vector) {
        let [all, ln_v, ln_k, p] = self.parameters;
        let (e, kt) = (1.0 - p, ln_k.exp() * (t_s - self.from_s));
        let x = -e * kt;
        if x <= -1.0 {
            return (all, [1.0, 0.0, 0.0, 0.0]);
        }
        // V = V0 exp(u); near the exponential, and near the first instant, the quotients cancel.
        let (u, by_e) = if x.abs() < 1e-4 {
            (-kt * (1.0 - x / 2.0 + x * x / 3.0), (-0.5 + 2.0 * x / 3.0) * kt * kt)
        } else {
            (x.ln_1p() / e, (x / (1.0 + x) - x.ln_1p()) / (e * e))
        };
        let v = (ln_v + u).exp();
        (all - v, [1.0, -v, v * kt / (1.0 + x), v * by_e])
    }

    /// Reading of a scale with that lag at an instant, g, and its derivatives.
    pub(super) fn reading(&self, t_s: f64, lag_s: f64) -> (f64, Vector) {
        let [young, old] = AGES.map(|(age, weight)| (weight, self.collected(t_s - age * lag_s)));
        let both = |a: f64, b: f64| young.0 * a + old.0 * b;
        (both(young.1.0, old.1.0), std::array::from_fn(|k| both(young.1.1[k], old.1.1[k])))
    }

    /// Instant at which the flow falls below `flow_g_per_s`, and its gradient; none if it is below from the start.
    pub(super) fn under_s(&self, flow_g_per_s: f64) -> Option<(f64, Vector)> {
        self.graded(|[_, ln_v, ln_k, p]| {
            let down = flow_g_per_s.ln() - ln_v - ln_k;
            // Q = Q0 exp(p u), so u = down/p; and 1 - e k t = exp(e u).
            let (e, u) = (1.0 - p, if p < 1e-9 { f64::NEG_INFINITY } else { down / p });
            let kt = if e.abs() < 1e-9 { -u } else { -(e * u).exp_m1() / e };
            (down < 0.0).then(|| self.from_s + kt / ln_k.exp())
        })
    }

    /// A function of the parameters with its gradient by finite differences.
    pub(super) fn graded(&self, of: impl Fn(Vector) -> Option<f64>) -> Option<(f64, Vector)> {
        const STEP: f64 = 1e-5;
        let value = of(self.parameters)?;
        let mut gradient = [0.0; N];
        for (k, g) in gradient.iter_mut().enumerate() {
            let moved = |by: f64| {
                let mut parameters = self.parameters;
                parameters[k] += by;
                of(parameters)
            };
            // One-sided at the lower bound of the exponent.
            let low = if k == EXPONENT && self.exponent() < STEP { 0.0 } else { -STEP };
            *g = (moved(STEP)? - moved(low)?) / (STEP - low);
        }
        Some((value, gradient))
    }
}

pub(super) fn dot(a: &Vector, b: &Vector) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

pub(super) fn times(m: &Matrix, v: &Vector) -> Vector {
    std::array::from_fn(|i| dot(&m[i], v))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drain(exponent: f64) -> Drain {
        // 60 degree cone, 5 cm: 43.63 mL; 5 mL/s at first.
        let parameters = [40.0, 43.63_f64.ln(), (5.0_f64 / 43.63).ln(), exponent];
        let none = [[0.0; N]; N];
        Drain {
            from_s: 1.0,
            to_s: 60.0,
            parameters,
            covariance: none,
            prior: Prior::open(),
            deviance: 0.0,
            degrees: 1.0,
            expected: 1.0,
            inflation: 1.0,
        }
    }

    #[test]
    fn a_cone_drains_and_stops_as_its_closed_form() {
        // te = 3/2 V0/Q0 = 13.09 s, V = V0 (1 - t/te)^1.5, Q = Q0 (1 - t/te)^0.5 (closed forms, by hand).
        let (cone, te) = (drain(1.0 / 3.0), 1.5 * 43.63 / 5.0);
        for t in [0.0_f64, 3.0, 9.0, 13.0, 20.0] {
            let expected = 40.0 - 43.63 * (1.0 - t / te).max(0.0).powf(1.5);
            assert!((cone.collected(1.0 + t).0 - expected).abs() < 1e-9, "at {t}");
        }
        let (at, _) = cone.under_s(0.1).unwrap();
        assert!((at - 1.0 - te * (1.0 - 0.02 * 0.02)).abs() < 1e-9, "{at}");
        assert!(cone.under_s(5.1).is_none());
    }

    #[test]
    fn an_exponential_is_the_limit_of_its_neighbours() {
        for t in [0.001, 4.0, 30.0] {
            let expected = 40.0 - 43.63 * (-5.0_f64 / 43.63 * t).exp();
            for off in [0.0, 1e-8, -1e-8, 1e-5_f64] {
                // To first order the derivative of V in the exponent is V (k t)^2/2: under 12 g.
                let found = drain(1.0 + off).collected(1.0 + t).0;
                assert!((found - expected).abs() < 12.0 * off.abs() + 1e-9, "{off} at {t}");
            }
        }
        let (at, _) = drain(1.0).under_s(0.1).unwrap();
        assert!((at - 1.0 - 50.0_f64.ln() * 43.63 / 5.0).abs() < 1e-9, "{at}");
    }

    #[test]
    fn every_derivative_agrees_with_a_central_difference() {
        let h = 1e-6;
        for exponent in [0.01, 1.0 / 3.0, 0.5, 0.9999, 1.0, 1.00001, 1.4] {
            for t in [1.00001, 1.5, 4.0, 9.0, 12.0] {
                let (_, by) = drain(exponent).reading(t, 0.2);
                for (k, slope) in by.iter().enumerate() {
                    let moved = |by: f64| {
                        let mut drain = drain(exponent);
                        drain.parameters[k] += by;
                        drain.reading(t, 0.2).0
                    };
                    let d = (moved(h) - moved(-h)) / (2.0 * h);
                    assert!(
                        (d - slope).abs() < 1e-4,
                        "parameter {k}, exponent {exponent}, at {t}: {d} {slope}"
                    );
                }
            }
        }
    }
}
