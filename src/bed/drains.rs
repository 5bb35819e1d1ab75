//! In: the collected beverage and the pours. Out: the drainage after each pour.
//!
//! All parameters are fitted to the drainage after the last pour, which identifies the law. Retained water and exponent
//! are assumed equal after the other pours; their covariance enters there as a prior.

use crate::bed::collected::Collected;
use crate::bed::fit::{Readings, fit};
use crate::bed::lag::OLDEST;
use crate::bed::law::{ALL, Drain, EXPONENT, N, Prior, Vector};
use crate::bed::options::BedOptions;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::pour::Segments;
use std::ops::Range;

/// Least drained mass for a law, g; and the fewest readings of it.
const LEAST_G: f64 = 2.0;
const FEWEST: usize = 12;
/// Largest sd of an identified exponent: all vessels lie from 0.2 to 0.8.
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
                // Other starts are tried only if the first does not converge.
                let law = from(0.5).filter(|law| law.deviance < 1.5 * law.expected).or_else(|| {
                    let others = [0.2, 0.5, 0.9].into_iter().filter_map(from);
                    others.min_by(|a, b| a.deviance.total_cmp(&b.deviance))
                });
                (identified(law), window.fit(window.all_g, 1.0, Prior::exponential()))
            }
        };
        let of = |k: usize| match &law {
            Err(why) => Err(Undefined::because(format!("the drain law is not identified: {}", why.reason))),
            Ok(law) if k + 1 == pours.len() => Ok(*law),
            Ok(law) => {
                let later = pours[k + 1..].iter().map(|p| p.mass_g).reduce(Estimate::plus);
                let window = Window::of(c, &ranges[k], options)?;
                // Both zeros have drifted until then.
                let drifted = 2.0 * c.zero_g * c.zero_g * (law.from_s - window.from_s);
                let later = later.unwrap_or(Estimate::exact(0.0)).plus(Estimate::new(0.0, drifted.sqrt()));
                window.as_law(law, later)
            }
        };
        let each = (0..pours.len()).map(of).collect();
        Self { law, exponential, pours: each, ranges }
    }
}

fn identified(law: Option<Drain>) -> Result<Drain, Undefined> {
    let law = law.ok_or_else(|| Undefined::because("no drain law fits the beverage after the last pour"))?;
    let sd = law.covariance[EXPONENT][EXPONENT].sqrt();
    if sd > VAGUE {
        let p = law.exponent();
        return Err(Undefined::because(format!("the exponent after the last pour is {p:.1} ± {sd:.1}")));
    }
    Ok(law)
}

/// Readings while the bed drains, and the smoothed values at their start and end.
struct Window {
    from_s: f64,
    readings: Readings,
    flow_g_per_s: f64,
    from_g: f64,
    all_g: f64,
}

impl Window {
    /// From the peak of the flow.
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
        // A flow equal to that of a steady pour has an edge instead of a peak.
        let high = slope(peak) - 2.0 * c.smooth[peak].slope_var.sqrt();
        let from = (peak..on_its_way).rev().find(|&i| slope(i) >= high).unwrap_or(peak);
        let (from_s, lag_s) = (c.time_s[from], c.lag_s.value);
        let mut readings =
            Readings { noise_sd_g: c.noise_sd_g, lag_s, zero_g: c.zero_g, ..Readings::default() };
        // Readings that the lag mixes with the time before are not of the drainage.
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
            return Err(Undefined::because(format!(
                "only {drained:.1} g drained after the water had passed the bed"
            )));
        }
        Ok(Self { from_s, readings, flow_g_per_s: slope(from), from_g, all_g })
    }

    fn fit(&self, all_g: f64, exponent: f64, prior: Prior) -> Option<Drain> {
        let standing_g = (all_g - self.from_g).max(0.3);
        let rate = (self.flow_g_per_s / standing_g).clamp(1e-3, 10.0);
        fit(&self.readings, self.from_s, [all_g, standing_g.ln(), rate.ln(), exponent], prior)
    }

    /// The drainage by the law of the last one; `later_g` of water was poured after it.
    fn as_law(&self, law: &Drain, later_g: Estimate) -> Result<Drain, Undefined> {
        let prior = Prior::as_law(law, later_g);
        let (all_g, standing_g) = (prior.mean[ALL], prior.mean[ALL] - self.from_g);
        if standing_g < LEAST_G {
            return Err(Undefined::because("the bed held no drainable water"));
        }
        self.fit(all_g, law.exponent(), prior)
            .ok_or_else(|| Undefined::because("no drain law fits the beverage after this pour"))
    }
}

impl Prior {
    fn exponential() -> Self {
        Self::exponent(1.0, 1e-4)
    }

    /// Final beverage and exponent of a law, for `later_g` less water.
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

/// Flow of a drainage with that mass standing in the bed, g/s, with its gradient.
pub(super) fn flow_at(drain: &Drain, standing_g: f64) -> (f64, Vector) {
    let [_, ln_v, ln_k, p] = drain.parameters;
    let beyond = standing_g.ln() - ln_v;
    let flow = (ln_v + ln_k + p * beyond).exp();
    (flow, [0.0, flow * (1.0 - p), flow, flow * beyond])
}

/// Estimate of a function of a drainage from its value and gradient.
pub(super) fn estimate(drain: &Drain, (value, gradient): (f64, Vector)) -> Maybe {
    let sd = drain.variance(&gradient).sqrt();
    if value.is_finite() && sd.is_finite() {
        return Ok(Estimate::new(value, sd));
    }
    Err(Undefined::because("the drainage does not identify it"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::trend::Smoothed;

    /// Readings of a beverage whose flow decays, from `all_g` below its final mass.
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
    fn a_drainage_needs_twelve_readings_free_of_the_time_before_and_two_grams() {
        // A lag of 0.2 s reaches back 3.414 times as far: the first reading free of the time before is that of 0.7 s.
        assert!(window(18, 10.0).is_err());
        let found = window(19, 10.0).unwrap();
        assert_eq!(
            (found.readings.time_s.len(), found.from_s, found.from_g, found.all_g),
            (12, 0.0, 90.0, 100.0)
        );
        assert_eq!(found.flow_g_per_s, 5.0);
        let few = window(60, 1.9).err().unwrap();
        assert_eq!(few.reason, "only 1.9 g drained after the water had passed the bed");
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
            inflation: 1.0,
        }
    }

    #[test]
    fn an_exponent_is_identified_up_to_an_sd_of_three_tenths() {
        assert!(identified(Some(drain(0.29))).is_ok());
        let why = identified(Some(drain(0.31))).unwrap_err().reason;
        assert!(why.contains("0.5 ± 0.3"), "{why}");
        assert!(identified(None).is_err());
    }

    #[test]
    fn the_prior_of_a_law_is_the_inverse_covariance_with_the_later_water_in_it() {
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
        // Only the exponent is uncertain; the derivative of the flow in it is flow times ln(50/V0).
        let found = estimate(&drain, (flow, gradient)).unwrap();
        assert!((found.sd - 0.1 * (flow * (50_f64.ln() - 4.0)).abs()).abs() < 1e-12, "{found}");
    }
}
