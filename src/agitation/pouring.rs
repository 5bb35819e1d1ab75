//! In: the curves of a pour from the posterior. Out: integrals over the pour, each with its sd.
//!
//! What the sd of the mass contains beyond the curves, such as rounding, scales the two curves of each pair, one up and
//! one down.

use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::curve::Curve;
use crate::segment::fitted::Fit;
use crate::segment::posterior::{Drawn, Posterior, Read};
use crate::segment::pour::{Pour, Segments};

/// Fewest readings within a pour.
const FEWEST: usize = 4;
/// Why a number is undefined on most curves.
const NO_FLOW: &str = "no water arrives";

/// The flow within one pour.
pub(super) struct Pouring {
    read: Read<Curve>,
    pub mass_g: Estimate,
    pub duration_s: Estimate,
}

impl Pouring {
    /// The `k`-th pour. Undefined for a pour of few readings, and for one that was not fitted.
    pub(super) fn new(
        trace: &Trace,
        segments: &Segments,
        posterior: Option<&Posterior>,
        k: usize,
    ) -> Result<Self, Undefined> {
        let unfitted = || Undefined::because("the pour was not fitted");
        let pour = &segments.pours[k];
        let span_s = (pour.start_s.value, pour.end_s.value);
        let found = trace.time_s.partition_point(|&t| t < span_s.1)
            - trace.time_s.partition_point(|&t| t <= span_s.0);
        if found < FEWEST {
            return Err(Undefined::because(format!(
                "{found} samples lie in the pour, and {FEWEST} are needed"
            )));
        }
        let (posterior, fit) = posterior.zip(segments.fit.as_deref()).ok_or_else(unfitted)?;
        let middle_s = f64::midpoint(span_s.0, span_s.1);
        let group = posterior.group_of(middle_s).ok_or_else(unfitted)?;
        let span_s = whole_span_s(segments, fit, k).unwrap_or(span_s);
        Ok(Self::of(posterior.within(group, span_s).drawn, pour))
    }

    fn of(mut drawn: Vec<Drawn>, pour: &Pour) -> Self {
        let water_g: Vec<f64> = drawn.iter().flat_map(|d| &d.pair).map(Curve::all_g).collect();
        let n = water_g.len().max(1) as f64;
        let mean_g = water_g.iter().sum::<f64>() / n;
        let var_g2 = water_g.iter().map(|g| (g - mean_g).powi(2)).sum::<f64>() / n;
        let beyond = (pour.mass_g.sd.powi(2) - var_g2).max(0.0).sqrt() / pour.mass_g.value;
        for one in &mut drawn {
            for (curve, sign) in one.pair.iter_mut().zip([1.0, -1.0]) {
                *curve = curve.times((1.0 + sign * beyond).max(0.0));
            }
        }
        let read = Read::new(&drawn, |_, curve| Some(curve.clone()));
        Self { read, mass_g: pour.mass_g, duration_s: pour.duration_s }
    }

    /// A constant flow for a time, exact except for the mass.
    #[cfg(test)]
    pub(super) fn even(flow_g_per_s: f64, for_s: f64, mass_sd_g: f64) -> Self {
        let at = Estimate::exact;
        let (start_s, end_s) = (at(0.0), at(for_s));
        let pour = Pour {
            start_s,
            end_s,
            half_rise_s: Ok(start_s),
            half_fall_s: Ok(end_s),
            mass_g: Estimate::new(flow_g_per_s * for_s, mass_sd_g),
            mean_flow_g_per_s: at(flow_g_per_s),
            duration_s: at(for_s),
            flow_regimes: Vec::new(),
        };
        let curve = Curve::new(0.0, 0.02, vec![flow_g_per_s; (for_s / 0.02).round() as usize]);
        let drawn = vec![Drawn { chosen: true, mean: curve.clone(), pair: [curve.clone(), curve] }; 50];
        Self::of(drawn, &pour)
    }

    /// Integral over the pour of a function of the flow.
    pub(super) fn integral(&self, of: impl Fn(f64) -> f64) -> Maybe {
        self.averaged(|curve| Some(integral(curve, &of)))
    }

    /// A number of each curve, averaged over them.
    pub(super) fn averaged(&self, of: impl Fn(&Curve) -> Option<f64>) -> Maybe {
        self.read.averaged(1, of, NO_FLOW)
    }

    /// The same of a number that depends on extremes of the flow.
    pub(super) fn extreme(&self, of: impl Fn(&Curve) -> Option<f64>) -> Maybe {
        self.read.extreme(of, NO_FLOW)
    }
}

/// Integral over a curve of a function of the flow.
pub(super) fn integral(curve: &Curve, of: impl Fn(f64) -> f64) -> f64 {
    curve.cells.iter().map(|&flow| of(flow)).sum::<f64>() * curve.step_s
}

/// The interval that holds the pour and no other; None for one set by hand, which ends where its label says.
fn whole_span_s(segments: &Segments, fit: &Fit, k: usize) -> Option<(f64, f64)> {
    let pour = &segments.pours[k];
    let middle_s = f64::midpoint(pour.start_s.value, pour.end_s.value);
    fit.place_of(middle_s).filter(|_| segments.covariance.has(k)).map(|place| place.span_s)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn integrals_of_an_even_flow_are_those_of_arithmetic() {
        // 5 g/s for 10 s, mass known to 0.5 g of 50: the square goes by 2 %, the cube by 3 %. Half of the curves have
        // 1 % more and half 1 % less, so that the mean of the squares is 1 + 0.01^2 times the square.
        let pouring = Pouring::even(5.0, 10.0, 0.5);
        for (power, value) in [(1, 50.0), (2, 250.0), (3, 1250.0)] {
            let found = pouring.integral(|q| q.powi(power)).unwrap();
            assert!((found.value / value - 1.0).abs() < 4e-4, "{found}");
            // The sd contains the Monte-Carlo error of 100 curves.
            assert!((found.sd / (f64::from(power) * 0.01 * value) - 1.0).abs() < 6e-3, "{found}");
        }
    }

    #[test]
    fn the_peak_of_an_even_flow_is_the_flow() {
        let found = Pouring::even(5.0, 10.0, 0.0).extreme(|c| c.peak().map(|p| p.1)).unwrap();
        assert!((found.value - 5.0).abs() < 1e-12 && found.sd < 1e-12, "{found}");
    }
}
