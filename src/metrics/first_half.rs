//! Share of a pour's water in the first half of its time.
//!
//! - measures: the distribution of the water over the time of the pour; 50 is even, more is early.
//! - formula: water of the first half of the pour's time over its mass, in percent.
//! - needs: sampled flow curves.
//! - minimum samples: 8 while water arrives.
//! - valid when: both edges of the pour are in the log.
//! - reference: definition of this library.

use crate::metrics::curve::Curve;

/// Water of the first half of the pour's time, percent of its mass.
pub(super) fn first_half_water_pct(curve: &Curve) -> Option<f64> {
    let (start_s, end_s) = curve.pour_s;
    let all = curve.water_g(start_s, end_s);
    (all > 0.0).then(|| 100.0 * curve.water_g(start_s, f64::midpoint(start_s, end_s)) / all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::metrics::options::MetricsOptions;
    use crate::segment::curve;

    #[test]
    fn a_flow_that_doubles_evenly_gives_five_twelfths_in_its_first_half() {
        // 4 to 8 g/s in 10 s is (4 + 6)/2 * 5 = 25 g of 60 g in the first half.
        let flow = (0..=1000).map(|k| 4.0 + 0.004 * f64::from(k)).collect();
        let curve = Curve::new(curve::Curve::new(0.0, 0.01, flow), &MetricsOptions::default()).unwrap();
        let result = first_half_water_pct(&curve).unwrap();
        assert!((result - 100.0 * 5.0 / 12.0).abs() < 0.02, "{result}");
        let even = curve::Curve::new(0.0, 0.01, vec![6.0; 1000]);
        let even = Curve::new(even, &MetricsOptions::default()).unwrap();
        assert!((first_half_water_pct(&even).unwrap() - 50.0).abs() < 1e-9);
    }
}
