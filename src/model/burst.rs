//! In: the shape of a burst of water. Out: its reading on a scale with a first-order lag, and the derivatives
//! of that reading by each parameter.
//!
//! A burst is a trapezoid of flow: a straight rise, a level, a straight fall. The reading of a scale with time
//! constant `tau` is `r' = (w - r) / tau`, where `w` is the water that has arrived. A flow that grows by 1 g/s2
//! from instant 0 on therefore reads `u^2/2 - tau u + tau^2 (1 - exp(-u/tau))` at `u` (direct solution of that
//! equation).

use crate::model::scale::Scale;
use serde::{Deserialize, Serialize};

/// Shortest ramp, s.
pub(crate) const MIN_RAMP_S: f64 = 0.02;

/// Number of parameters of a burst, in this order: rise centre, rise ramp, fall centre, fall ramp, flow.
pub(crate) const PARAMETERS: usize = 5;

/// One burst: water arrives in a trapezoid.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Burst {
    /// Instant in the middle of the rise, s.
    pub rise_s: f64,
    /// Duration of the rise, s.
    pub rise_ramp_s: f64,
    /// Instant in the middle of the fall, s.
    pub fall_s: f64,
    /// Duration of the fall, s.
    pub fall_ramp_s: f64,
    /// Flow on the level, g/s.
    pub flow_g_per_s: f64,
}

impl Burst {
    /// Mass of the burst, g.
    pub(crate) fn mass_g(&self) -> f64 {
        self.flow_g_per_s * (self.fall_s - self.rise_s)
    }

    /// Instant at which the rise begins, s.
    pub(crate) fn start_s(&self) -> f64 {
        self.rise_s - self.rise_ramp_s / 2.0
    }

    /// Instant at which the fall ends, s.
    pub(crate) fn end_s(&self) -> f64 {
        self.fall_s + self.fall_ramp_s / 2.0
    }

    /// The burst with its parameters moved, within the limits of a valid burst.
    pub(crate) fn moved(&self, by: &[f64]) -> Self {
        let rise_s = self.rise_s + by[0];
        let fall_s = (self.fall_s + by[2]).max(rise_s + 2.0 * MIN_RAMP_S);
        let ramp = |ramp: f64| ramp.clamp(MIN_RAMP_S, fall_s - rise_s);
        Self {
            rise_s,
            rise_ramp_s: ramp(self.rise_ramp_s + by[1]),
            fall_s,
            fall_ramp_s: ramp(self.fall_ramp_s + by[3]),
            flow_g_per_s: (self.flow_g_per_s + by[4]).max(0.0),
        }
    }

    /// Flow at an instant, g/s, before the scale's lag.
    pub(crate) fn flow_at(&self, t_s: f64) -> f64 {
        let rise = ((t_s - self.rise_s) / self.rise_ramp_s + 0.5).clamp(0.0, 1.0);
        let fall = ((t_s - self.fall_s) / self.fall_ramp_s + 0.5).clamp(0.0, 1.0);
        self.flow_g_per_s * (rise - fall)
    }

    /// Derivatives of [`Burst::flow_at`] by the five parameters.
    pub(crate) fn flow_gradient(&self, t_s: f64) -> [f64; PARAMETERS] {
        let part = |centre: f64, ramp: f64| {
            let x = (t_s - centre) / ramp;
            if x.abs() < 0.5 { (x + 0.5, -1.0 / ramp, -x / ramp) } else { (f64::from(x > 0.0), 0.0, 0.0) }
        };
        let (rise, rise_t, rise_d) = part(self.rise_s, self.rise_ramp_s);
        let (fall, fall_t, fall_d) = part(self.fall_s, self.fall_ramp_s);
        let f = self.flow_g_per_s;
        [f * rise_t, f * rise_d, -f * fall_t, -f * fall_d, rise - fall]
    }

    /// Water of the burst that has arrived at an instant, g; the reading of a scale without lag.
    pub(crate) fn water_at(&self, t_s: f64) -> f64 {
        let ramp = |centre: f64, d: f64| {
            let (u, v) = ((t_s - centre + d / 2.0).max(0.0), (t_s - centre - d / 2.0).max(0.0));
            (u * u - v * v) / (2.0 * d)
        };
        self.flow_g_per_s * (ramp(self.rise_s, self.rise_ramp_s) - ramp(self.fall_s, self.fall_ramp_s))
    }

    /// Reading at an instant, and its derivatives.
    pub(crate) fn reading(&self, t_s: f64, scale: Scale) -> Reading {
        let rise = Edge::at(t_s - self.rise_s, self.rise_ramp_s, scale);
        let fall = Edge::at(t_s - self.fall_s, self.fall_ramp_s, scale);
        let f = self.flow_g_per_s;
        Reading {
            value_g: f * (rise.value - fall.value),
            by_parameter: [
                f * rise.by_centre,
                f * rise.by_ramp,
                -f * fall.by_centre,
                -f * fall.by_ramp,
                rise.value - fall.value,
            ],
            by_scale: [f * (rise.by_tau - fall.by_tau), f * (rise.by_lead - fall.by_lead)],
        }
    }
}

/// Reading of a burst.
pub(crate) struct Reading {
    pub value_g: f64,
    pub by_parameter: [f64; PARAMETERS],
    /// By the lag and by the lead.
    pub by_scale: [f64; 2],
}

/// Reading of a flow that climbs from 0 to 1 g/s in a straight ramp around instant 0, and its derivatives.
struct Edge {
    value: f64,
    by_centre: f64,
    by_ramp: f64,
    by_tau: f64,
    by_lead: f64,
}

impl Edge {
    fn at(x_s: f64, ramp_s: f64, scale: Scale) -> Self {
        let first = Kink::at(x_s + ramp_s / 2.0, scale);
        let last = Kink::at(x_s - ramp_s / 2.0, scale);
        let value = (first.value - last.value) / ramp_s;
        Self {
            value,
            by_centre: -(first.by_time - last.by_time) / ramp_s,
            by_ramp: ((first.by_time + last.by_time) / 2.0 - value) / ramp_s,
            by_tau: (first.by_tau - last.by_tau) / ramp_s,
            by_lead: (first.by_lead - last.by_lead) / ramp_s,
        }
    }
}

/// Reading of a flow that grows by 1 g/s2 from instant 0 on, `u` seconds later, and its derivatives.
struct Kink {
    value: f64,
    by_time: f64,
    by_tau: f64,
    by_lead: f64,
}

impl Kink {
    fn at(u_s: f64, Scale { tau_s, lead_s }: Scale) -> Self {
        if u_s <= 0.0 {
            return Self { value: 0.0, by_time: 0.0, by_tau: 0.0, by_lead: 0.0 };
        }
        let left = (-u_s / tau_s).exp();
        let arrived = 1.0 - left;
        // The lagged water is u^2/2 less tau times the lagged flow.
        let flow = u_s - tau_s * arrived;
        Self {
            value: u_s * u_s / 2.0 - tau_s * flow + lead_s * flow,
            by_time: flow + lead_s * arrived,
            by_tau: 2.0 * tau_s * arrived - u_s * (1.0 + left) + lead_s * (left * u_s / tau_s - arrived),
            by_lead: flow,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const BURST: Burst =
        Burst { rise_s: 2.0, rise_ramp_s: 0.4, fall_s: 5.0, fall_ramp_s: 0.3, flow_g_per_s: 8.0 };

    fn set(k: usize, to: f64) -> Burst {
        let mut b = BURST;
        *[&mut b.rise_s, &mut b.rise_ramp_s, &mut b.fall_s, &mut b.fall_ramp_s, &mut b.flow_g_per_s][k] += to;
        b
    }

    #[test]
    fn the_reading_solves_the_lag_equation() {
        // Forward integration of r' = (w - r) / tau with a small step is the outside reference.
        let dt = 1e-5;
        for scale in [Scale { tau_s: 0.25, lead_s: 0.0 }, Scale { tau_s: 0.2, lead_s: 0.15 }] {
            let (mut r, mut t) = (0.0, 0.0);
            while t < 6.0 {
                let at = t + dt / 2.0;
                r += dt * (BURST.water_at(at) + scale.lead_s * BURST.flow_at(at) - r) / scale.tau_s;
                t += dt;
                if (t * 10.0).fract() < 1e-4 {
                    assert!((r - BURST.reading(t, scale).value_g).abs() < 2e-4, "at {t}");
                }
            }
        }
    }

    #[test]
    fn every_derivative_agrees_with_a_central_difference() {
        let h = 1e-6;
        const SCALE: Scale = Scale { tau_s: 0.2, lead_s: 0.1 };
        for i in 0..70 {
            let t = 1.503 + 0.0707 * f64::from(i);
            let reading = BURST.reading(t, SCALE);
            let value = |burst: Burst, scale: Scale| burst.reading(t, scale).value_g;
            for (k, slope) in reading.by_parameter.iter().enumerate() {
                let d = (value(set(k, h), SCALE) - value(set(k, -h), SCALE)) / (2.0 * h);
                assert!((d - slope).abs() < 1e-5, "parameter {k} at {t}: {d}, not {slope}");
                let d = (set(k, h).flow_at(t) - set(k, -h).flow_at(t)) / (2.0 * h);
                assert!((d - BURST.flow_gradient(t)[k]).abs() < 1e-4, "flow, parameter {k} at {t}");
            }
            let by_tau = |h: f64| value(BURST, Scale { tau_s: 0.2 + h, ..SCALE });
            let by_lead = |h: f64| value(BURST, Scale { lead_s: 0.1 + h, ..SCALE });
            assert!(((by_tau(h) - by_tau(-h)) / (2.0 * h) - reading.by_scale[0]).abs() < 1e-5);
            assert!(((by_lead(h) - by_lead(-h)) / (2.0 * h) - reading.by_scale[1]).abs() < 1e-5);
        }
    }
}
