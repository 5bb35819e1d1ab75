//! How unlike the pulses of a pour are.
//!
//! - measures: the variation of the masses of the pulses of one pour; 0 if all are alike.
//! - formula: sd over mean of the masses between pauses. A pause is a stretch with less than `pause_flow_g_per_s`;
//!   water of less than a tenth of a gram between two pauses is no pulse.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives; three pulses.
//! - valid when: the pauses contain some samples.
//! - reference: definition of this library. Arithmetic checked against NIST StRD.

use crate::metrics::curve::Curve;
use crate::metrics::parts::cv;

/// Fewest pulses.
pub(super) const FEWEST: usize = 3;
/// Least mass of a pulse, g.
const LEAST_G: f64 = 0.1;

/// Sd over mean of the masses of the pulses; None for fewer than three.
pub(super) fn pulse_mass_cv(curve: &Curve, pause_flow_g_per_s: f64) -> Option<f64> {
    let pulses = curve.stretches(pause_flow_g_per_s);
    let masses: Vec<f64> = pulses
        .into_iter()
        .map(|(from_s, to_s)| curve.water_g(from_s, to_s))
        .filter(|m| *m >= LEAST_G)
        .collect();
    cv(masses.iter().copied()).filter(|_| masses.len() >= FEWEST)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrics::options::MetricsOptions;
    use crate::segment::curve;

    #[test]
    fn masses_of_six_eight_and_ten_have_the_cv_of_arithmetic() {
        // 6 g/s for 1, 4/3 and 5/3 s: 6, 8, 10 g; sd over mean is sqrt(8/3)/8. Each is a whole number of cells.
        let mut flow = vec![0.0; 60];
        for cells in [300, 400, 500] {
            flow.extend(vec![6.0; cells]);
            flow.extend(vec![0.0; 180]);
        }
        let of = |flow: Vec<f64>| {
            let curve = curve::Curve::new(0.0, 1.0 / 300.0, flow);
            pulse_mass_cv(&Curve::new(curve, &MetricsOptions::default()).unwrap(), 0.5)
        };
        let found = of(flow.clone()).unwrap();
        assert!((found - (8.0_f64 / 3.0).sqrt() / 8.0).abs() < 1e-9, "{found}");
        assert!(of(flow[..720].to_vec()).is_none());
    }
}
