//! In: the water that reaches the bed. Out: the beverage that reaches the server.
//!
//! Method: the bed retains the first water, up to its holdup. The drainable water leaves by `Q = Q50 (held/50 g)^p`.
//! With a vessel of volume `V ~ h^m` and an outflow `Q ~ h^n` the exponent is `n/m`. Without inflow the bed is empty
//! after `V0/((1-p) Q0)` (Torricelli for `n = 1/2`, Darcy for `n = 1`).

/// Reference mass of the outflow, g.
const REFERENCE_G: f64 = 50.0;

/// One bed with drawn parameters.
pub(super) struct Column {
    pub(super) holds_g: f64,
    pub(super) flow_at_50_g_per_s: f64,
    pub(super) exponent: f64,
    pub(super) delay_s: f64,
}

impl Column {
    /// Mass left of `held_g` after `dt_s` without inflow: the exact solution, valid for any time step.
    fn drained(&self, held_g: f64, dt_s: f64) -> f64 {
        let (q, p) = (self.flow_at_50_g_per_s, self.exponent);
        if p == 1.0 {
            return held_g * (-q * dt_s / REFERENCE_G).exp();
        }
        let left = (held_g / REFERENCE_G).powf(1.0 - p) - (1.0 - p) * q * dt_s / REFERENCE_G;
        REFERENCE_G * left.max(0.0).powf(1.0 / (1.0 - p))
    }

    /// Beverage in the server at each grid point, g, from the water poured by then, g.
    pub(super) fn beverage_g(&self, water_g: &[f64], dt_s: f64) -> Vec<f64> {
        let mut held = 0.0;
        let mut left_bed = Vec::with_capacity(water_g.len());
        let mut before = 0.0;
        for &water in water_g {
            let free = (water - self.holds_g).max(0.0);
            held += free - before;
            before = free;
            if held > 0.0 {
                held = self.drained(held, dt_s);
            }
            left_bed.push(free - held);
        }
        let delay = (self.delay_s / dt_s).round() as usize;
        (0..left_bed.len()).map(|i| if i < delay { 0.0 } else { left_bed[i - delay] }).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// First instant without outflow, from `v0` in the bed.
    fn empty_after_s(column: &Column, v0: f64) -> f64 {
        let beverage = column.beverage_g(&vec![v0; 60_000], 1e-3);
        let first = beverage.iter().position(|&b| v0 - b < 1e-9).expect("drains within a minute");
        (first + 1) as f64 * 1e-3
    }

    #[test]
    fn a_cone_drains_in_the_time_of_its_closed_form() {
        // 60 degree cone, 5 cm: 43.63 mL; 5 mL/s at first, outflow in proportion to the level: m 3, n 1 gives
        // 3/2 V0/Q0 = 13.09 s, V = V0 (1 - t/te)^1.5 (closed form, by hand).
        let (v0, q0, p) = (43.63, 5.0, 1.0 / 3.0);
        let q50 = q0 * (50.0_f64 / v0).powf(p);
        let column = Column { holds_g: 0.0, flow_at_50_g_per_s: q50, exponent: p, delay_s: 0.0 };
        let te = 1.5 * v0 / q0;
        assert!((te - 13.09).abs() < 0.005);
        assert!((empty_after_s(&column, v0) - te).abs() < 0.01);
        let beverage = column.beverage_g(&vec![v0; 14_000], 1e-3);
        for s in [2, 5, 9] {
            let expected = v0 * (1.0 - f64::from(s) / te).powf(1.5);
            assert!((v0 - beverage[s as usize * 1000 - 1] - expected).abs() < 1e-6);
        }
    }

    #[test]
    fn a_cylinder_drains_in_twice_the_time_of_its_first_flow() {
        // m 1, n 1/2: te = 2 V0/Q0 (Torricelli, closed form).
        let column = Column { holds_g: 0.0, flow_at_50_g_per_s: 5.0, exponent: 0.5, delay_s: 0.0 };
        assert!((empty_after_s(&column, 50.0) - 20.0).abs() < 0.01);
    }

    #[test]
    fn an_outflow_in_proportion_decays_exponentially() {
        let column = Column { holds_g: 0.0, flow_at_50_g_per_s: 5.0, exponent: 1.0, delay_s: 0.0 };
        let beverage = column.beverage_g(&vec![50.0; 10_000], 1e-3);
        assert!((50.0 - beverage[9_999] - 50.0 * (-1.0_f64).exp()).abs() < 1e-6);
    }

    #[test]
    fn the_bed_retains_its_holdup_and_releases_the_rest_with_a_delay() {
        let column = Column { holds_g: 30.0, flow_at_50_g_per_s: 5.0, exponent: 0.5, delay_s: 2.0 };
        let water: Vec<f64> = (0..100_000).map(|i| f64::min(5e-3 * f64::from(i), 100.0)).collect();
        let beverage = column.beverage_g(&water, 1e-3);
        assert_eq!(beverage[8_000], 0.0, "30 g at 5 g/s take 6 s, and 2 s to the server");
        assert!(beverage[8_500] > 0.0);
        assert!((beverage[99_999] - 70.0).abs() < 1e-9);
    }
}
