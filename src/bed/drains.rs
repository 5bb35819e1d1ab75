//! In: the collected beverage and the pours. Out: the drainage after each pour.
//!
//! The one after the last pour is free in all that a law has, and tells the law. The bed is then taken to keep the same and to follow
//! the same exponent after the other pours; how sure that is goes along as a prior.

use crate::bed::collected::Collected;
use crate::bed::fit::{Readings, fit};
use crate::bed::lag::OLDEST;
use crate::bed::law::{ALL, Drain, EXPONENT, N, Prior, Vector};
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::pour::Segments;
use std::ops::Range;

/// Least that has to drain for a law, g; and the fewest readings of it.
const LEAST_G: f64 = 2.0;
const FEWEST: usize = 12;
/// An exponent with a larger sd is not known: from 0.2 to 0.8 lies every vessel there is.
const VAGUE: f64 = 0.3;

pub(super) struct Drains {
    /// The drainage after the last pour.
    pub law: Result<Drain, Undefined>,
    /// The same with the exponent held at 1.
    pub exponential: Option<Drain>,
    /// After each pour, the last included.
    pub pours: Vec<Result<Drain, Undefined>>,
    /// Readings between the end of each pour and the start of the next.
    pub ranges: Vec<Range<usize>>,
}

impl Drains {
    pub(super) fn of(c: &Collected, segments: &Segments, none: &Undefined, options: &BedOptions) -> Self {
        let pours = &segments.pours;
        let until = |k: usize| pours.get(k + 1).map_or(c.time_s.len(), |next| c.at(next.start_s.value));
        let ranges: Vec<Range<usize>> =
            (0..pours.len()).map(|k| c.at(pours[k].end_s.value).min(until(k))..until(k)).collect();
        let Some(last) = ranges.last() else {
            return Self { law: Err(none.clone()), exponential: None, pours: Vec::new(), ranges };
        };
        let (law, exponential) = match Window::of(c, last, options) {
            Err(why) => (Err(why), None),
            Ok(window) => {
                let from = |p: f64| window.fit(window.all_g, p, Prior::open());
                // Other starts only where the first leads nowhere.
                let law = from(0.5).filter(|law| law.deviance < 1.5 * law.expected).or_else(|| {
                    let others = [0.2, 0.5, 0.9].into_iter().filter_map(from);
                    others.min_by(|a, b| a.deviance.total_cmp(&b.deviance))
                });
                (told(law), window.fit(window.all_g, 1.0, Prior::exponential()))
            }
        };
        let of = |k: usize| match &law {
            Err(why) => Err(Undefined::because(format!("the drain law is not known: {}", why.reason))),
            Ok(law) if k + 1 == pours.len() => Ok(*law),
            Ok(law) => {
                let later = pours[k + 1..].iter().map(|p| p.mass_g).reduce(Estimate::plus);
                let window = Window::of(c, &ranges[k], options)?;
                // Both zeros have wandered on until then.
                let wandered = 2.0 * c.zero_g * c.zero_g * (law.from_s - window.from_s);
                let later = later.unwrap_or(Estimate::exact(0.0)).plus(Estimate::new(0.0, wandered.sqrt()));
                window.as_law(law, later)
            }
        };
        let each = (0..pours.len()).map(of).collect();
        Self { law, exponential, pours: each, ranges }
    }
}

fn told(law: Option<Drain>) -> Result<Drain, Undefined> {
    let law =
        law.ok_or_else(|| Undefined::because("no drainage explains the beverage after the last pour"))?;
    let sd = law.covariance[EXPONENT][EXPONENT].sqrt();
    if sd > VAGUE {
        let p = law.exponent();
        return Err(Undefined::because(format!(
            "the last drawdown does not tell it: the exponent is {p:.1} ± {sd:.1}"
        )));
    }
    Ok(law)
}

/// Readings while the bed drains, and what the smoother says of their beginning and end.
struct Window {
    from_s: f64,
    readings: Readings,
    flow_g_per_s: f64,
    from_g: f64,
    all_g: f64,
}

impl Window {
    /// From where the flow has passed its peak.
    fn of(c: &Collected, range: &Range<usize>, options: &BedOptions) -> Result<Self, Undefined> {
        let few =
            || Undefined::because("too little time to drain before the next pour or the end of the log");
        if range.is_empty() {
            return Err(few());
        }
        let on_its_way = c.at(c.time_s[range.start] + options.transit_s).min(range.end);
        let slope = |i: usize| c.smooth[i].slope;
        let peak =
            (range.start..on_its_way).max_by(|&a, &b| slope(a).total_cmp(&slope(b))).ok_or_else(few)?;
        // A flow that keeps up with a steady pour has no peak, but an edge.
        let high = slope(peak) - 2.0 * c.smooth[peak].slope_var.sqrt();
        let from = (peak..on_its_way).rev().find(|&i| slope(i) >= high).unwrap_or(peak);
        let (from_s, lag_s) = (c.time_s[from], c.lag_s.value);
        let mut readings =
            Readings { noise_sd_g: c.noise_sd_g, lag_s, zero_g: c.zero_g, ..Readings::default() };
        // What a reading still shows of the time before is of no drainage.
        for i in c.used(from..range.end).filter(|&i| c.time_s[i] - OLDEST * lag_s >= from_s) {
            readings.time_s.push(c.time_s[i]);
            readings.mass_g.push(c.reading_g[i]);
        }
        if readings.time_s.len() < FEWEST {
            return Err(few());
        }
        let (from_g, all_g) = (c.smooth[from].level, c.smooth[range.end - 1].level);
        if all_g - from_g < LEAST_G {
            let drained = (all_g - from_g).max(0.0);
            return Err(Undefined::because(format!("only {drained:.1} g drained with no water on its way")));
        }
        Ok(Self { from_s, readings, flow_g_per_s: slope(from), from_g, all_g })
    }

    fn fit(&self, all_g: f64, exponent: f64, prior: Prior) -> Option<Drain> {
        let standing_g = (all_g - self.from_g).max(0.3);
        let rate = (self.flow_g_per_s / standing_g).clamp(1e-3, 10.0);
        fit(&self.readings, self.from_s, [all_g, standing_g.ln(), rate.ln(), exponent], prior)
    }

    /// The drainage by the law of the last one, from which `later_g` of water were missing.
    fn as_law(&self, law: &Drain, later_g: Estimate) -> Result<Drain, Undefined> {
        let prior = Prior::as_law(law, later_g);
        let (all_g, standing_g) = (prior.mean[ALL], prior.mean[ALL] - self.from_g);
        if standing_g < LEAST_G {
            return Err(Undefined::because("no more stood in the bed than it keeps"));
        }
        self.fit(all_g, law.exponent(), prior)
            .ok_or_else(|| Undefined::because("no drainage explains the beverage after this pour"))
    }
}

impl Prior {
    fn exponential() -> Self {
        Self::exponent(1.0, 1e-4)
    }

    /// All that is collected in the end and the exponent, as a law has them, `later_g` of water less.
    fn as_law(law: &Drain, later_g: Estimate) -> Self {
        let c = &law.covariance;
        let (aa, ap, pp) = (c[ALL][ALL] + later_g.sd * later_g.sd, c[ALL][EXPONENT], c[EXPONENT][EXPONENT]);
        let det = aa * pp - ap * ap;
        let mut information = [[0.0; N]; N];
        information[ALL][ALL] = pp / det;
        information[EXPONENT][EXPONENT] = aa / det;
        information[ALL][EXPONENT] = -ap / det;
        information[EXPONENT][ALL] = -ap / det;
        let mean: Vector = [law.parameters[ALL] - later_g.value, 0.0, 0.0, law.exponent()];
        Self { mean, information }
    }
}

/// Flow that a drainage would give with that mass standing in the bed, g/s, with its gradient.
pub(super) fn flow_at(drain: &Drain, standing_g: f64) -> (f64, Vector) {
    let [_, ln_v, ln_k, p] = drain.parameters;
    let beyond = standing_g.ln() - ln_v;
    let flow = (ln_v + ln_k + p * beyond).exp();
    (flow, [0.0, flow * (1.0 - p), flow, flow * beyond])
}

/// A function of a drainage, given as its value and gradient, with its sd.
pub(super) fn estimate(drain: &Drain, (value, gradient): (f64, Vector)) -> Maybe {
    let sd = drain.variance(&gradient).sqrt();
    if value.is_finite() && sd.is_finite() {
        return Ok(Estimate::new(value, sd));
    }
    Err(Undefined::because("the drainage does not fix it"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::trend::Smoothed;

    /// Beverage that runs ever more slowly from `all_g` less than it ends with, so many readings of it.
    fn window(n: usize, drained_g: f64) -> Result<Window, Undefined> {
        let time: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i)).collect();
        let mut c = Collected::bare(&time, vec![100.0; 200]);
        c.smooth = (0..200)
            .map(|i| Smoothed {
                level: if i + 1 < n { 100.0 - drained_g } else { 100.0 },
                slope: 5.0 - 0.01 * i as f64,
                ..Smoothed::default()
            })
            .collect();
        Window::of(&c, &(0..n), &BedOptions::default())
    }

    #[test]
    fn a_drainage_needs_twelve_readings_that_show_nothing_of_before_and_two_grams() {
        // A lag of 0.2 s shows what is 3.414 times as old: the first reading free of what was before is that of
        // 0.7 s.
        assert!(window(18, 10.0).is_err());
        let found = window(19, 10.0).unwrap();
        assert_eq!(
            (found.readings.time_s.len(), found.from_s, found.from_g, found.all_g),
            (12, 0.0, 90.0, 100.0)
        );
        assert_eq!(found.flow_g_per_s, 5.0);
        let few = window(60, 1.9).err().unwrap();
        assert_eq!(few.reason, "only 1.9 g drained with no water on its way");
        assert!(window(60, 2.1).is_ok());
    }

    fn drain(exponent_sd: f64) -> Drain {
        let mut covariance = [[0.0; N]; N];
        covariance[ALL][ALL] = 0.04;
        covariance[ALL][EXPONENT] = 0.5 * 0.2 * exponent_sd;
        covariance[EXPONENT][ALL] = covariance[ALL][EXPONENT];
        covariance[EXPONENT][EXPONENT] = exponent_sd * exponent_sd;
        Drain {
            from_s: 0.0,
            to_s: 60.0,
            parameters: [120.0, 4.0, -2.0, 0.5],
            covariance,
            prior: Prior::open(),
            deviance: 0.0,
            degrees: 1.0,
            expected: 1.0,
            spread: 1.0,
        }
    }

    #[test]
    fn an_exponent_is_told_up_to_an_sd_of_three_tenths() {
        assert!(told(Some(drain(0.29))).is_ok());
        let why = told(Some(drain(0.31))).unwrap_err().reason;
        assert!(why.contains("0.5 ± 0.3"), "{why}");
        assert!(told(None).is_err());
    }

    #[test]
    fn as_a_law_the_prior_is_the_inverse_of_what_is_known_with_the_later_water_in_it() {
        let prior = Prior::as_law(&drain(0.1), Estimate::new(30.0, 0.3));
        assert_eq!((prior.mean[ALL], prior.mean[EXPONENT]), (90.0, 0.5));
        // Variances 0.04 + 0.09 and 0.01, covariance 0.01: the product of both matrices is one.
        let (i, aa, ap, pp) = (prior.information, 0.13, 0.01, 0.01);
        let one = |a: f64, b: f64| assert!((a - b).abs() < 1e-9, "{a}, not {b}");
        one(aa * i[ALL][ALL] + ap * i[EXPONENT][ALL], 1.0);
        one(ap * i[ALL][EXPONENT] + pp * i[EXPONENT][EXPONENT], 1.0);
        one(aa * i[ALL][EXPONENT] + ap * i[EXPONENT][EXPONENT], 0.0);
        one(ap * i[ALL][ALL] + pp * i[EXPONENT][ALL], 0.0);
    }

    #[test]
    fn the_flow_at_a_mass_and_its_gradient_are_those_of_the_power_law() {
        let drain = drain(0.1);
        let (flow, gradient) = flow_at(&drain, 50.0);
        // Q0 = exp(4 - 2), V0 = exp(4): Q0 (50/V0)^0.5.
        assert!((flow - 2_f64.exp() * (50.0 / 4_f64.exp()).sqrt()).abs() < 1e-12);
        for (k, slope) in gradient.iter().enumerate() {
            let moved = |by: f64| {
                let mut moved = drain;
                moved.parameters[k] += by;
                flow_at(&moved, 50.0).0
            };
            assert!(((moved(1e-6) - moved(-1e-6)) / 2e-6 - slope).abs() < 1e-6, "{k}");
        }
        // The sd: only the exponent is known badly, and flow moves with it by flow times ln(50/V0).
        let found = estimate(&drain, (flow, gradient)).unwrap();
        assert!((found.sd - 0.1 * (flow * (50_f64.ln() - 4.0)).abs()).abs() < 1e-12, "{found}");
    }
}
