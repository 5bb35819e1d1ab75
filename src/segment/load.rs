//! In: the fitted log and an instant that a person set. Out: the load on the scale at that instant.
//!
//! At rest it is the level there, so that the shape of the flow cannot bias it. In running water it is that of
//! the bursts and the smoothed deviation. Its variance is the smoother's, given the fit, and that of the fit
//! propagated through the smoother, mainly that of the lag.

use crate::estimate::Estimate;
use crate::model::burst::Burst;
use crate::model::samples::Samples;
use crate::model::scale::Scale;
use crate::segment::fitted::{Fit, Group};
use crate::segment::level::level;

/// Length of the rest from which the level at an instant is estimated, s.
const NEAR_S: f64 = 8.0;
/// A scale without lag.
const NO_LAG: Scale = Scale { tau_s: 1e-9, lead_s: 0.0 };

/// Load on the scale at an instant.
struct Load {
    value_g: f64,
    var_g2: f64,
    /// Flow at the instant, g/s.
    flow_g_per_s: f64,
    /// Index of the group and gradient by its parameters; None if the value is a level at rest.
    fitted: Option<(usize, Vec<f64>)>,
}

/// Side of a pour that an instant is, and the other instant, s.
#[derive(Clone, Copy)]
enum Side {
    Start { end_s: f64 },
    End { start_s: f64 },
}

/// Mass that arrived between two uncertain instants; None without samples.
pub(crate) fn mass_between(x: &Samples, fit: &Fit, start_s: Estimate, end_s: Estimate) -> Option<Estimate> {
    let low = Load::at(x, fit, start_s.value, Side::Start { end_s: end_s.value })?;
    let high = Load::at(x, fit, end_s.value, Side::End { start_s: start_s.value })?;
    // First order: a scattered instant in a ramp also has a bias of a few hundredths of a gram.
    let by_instants = (high.flow_g_per_s * end_s.sd).powi(2) + (low.flow_g_per_s * start_s.sd).powi(2);
    let duration_s = end_s.value - start_s.value;
    let by_zero =
        x.zero_g2_per_s(fit.disturbance.zero_g) * duration_s + (x.drift_sd_g_per_s * duration_s).powi(2);
    let var = low.var_g2 + high.var_g2 + by_instants + by_zero + by_fit(fit, &low, &high);
    Some(Estimate::new(high.value_g - low.value_g, var.sqrt()))
}

/// Variance that the fit adds to the difference of two loads; common errors cancel.
fn by_fit(fit: &Fit, low: &Load, high: &Load) -> f64 {
    let own = |(k, gradient): &(usize, Vec<f64>)| fit.groups[*k].variance(gradient);
    match (&low.fitted, &high.fitted) {
        (Some((k, a)), Some((l, b))) if k == l => {
            let gradient: Vec<f64> = b.iter().zip(a).map(|(b, a)| b - a).collect();
            fit.groups[*k].variance(&gradient)
        }
        (low, high) => low.iter().chain(high).map(own).sum(),
    }
}

impl Load {
    fn at(x: &Samples, fit: &Fit, t_s: f64, side: Side) -> Option<Self> {
        let is_running = |b: &Burst| b.start_s() < t_s && t_s < b.end_s();
        let cut = fit.groups.iter().position(|group| group.bursts.iter().any(is_running));
        match cut {
            Some(k) => Some(Self::in_flow(x, fit, k, t_s)),
            None => Self::at_rest(x, fit, t_s, side)
                .or_else(|| nearest(fit, t_s).map(|k| Self::in_flow(x, fit, k, t_s))),
        }
    }

    /// The level of the rest around an instant, on the side away from the pour.
    fn at_rest(x: &Samples, fit: &Fit, t_s: f64, side: Side) -> Option<Self> {
        let bursts = || fit.groups.iter().flat_map(|group| &group.bursts);
        let ended_s = bursts().map(Burst::end_s).filter(|end| *end <= t_s).fold(f64::NEG_INFINITY, f64::max);
        let begins_s =
            bursts().map(Burst::start_s).filter(|start| *start >= t_s).fold(f64::INFINITY, f64::min);
        let lag_s = 3.0 * fit.tau_s.value;
        let index = |t: f64| x.time_s.partition_point(|&s| s < t);
        let before = || bursts().filter(|b| b.end_s() <= t_s);
        let lagged =
            |t: f64| before().map(|b| b.mass_g() - b.reading(t, fit.disturbance.scale).value_g).sum::<f64>();
        let level = match side {
            // A rest extends to the water, even if the pour was set to start earlier.
            Side::Start { end_s } => {
                let at_s = if begins_s < end_s { begins_s } else { t_s };
                let rest = index((at_s - NEAR_S).max(ended_s + lag_s + 0.3))..index(at_s);
                level(x, fit, rest.rev(), at_s, &lagged)
            }
            Side::End { start_s } => {
                let at_s = if ended_s > start_s { ended_s } else { t_s };
                let rest = index(at_s.max(ended_s + lag_s + 0.1))..index((at_s + NEAR_S).min(begins_s));
                level(x, fit, rest, at_s, &lagged)
            }
        }?;
        Some(Self { value_g: level.value, var_g2: level.sd * level.sd, flow_g_per_s: 0.0, fitted: None })
    }

    /// The water of the bursts and the smoothed deviation.
    fn in_flow(x: &Samples, fit: &Fit, k: usize, t_s: f64) -> Self {
        let group = &fit.groups[k];
        let (scale, stretches) = (fit.disturbance.scale, group.stretches());
        let index: Vec<usize> = (group.from..group.to).collect();
        let at = index.partition_point(|&i| x.time_s[i] < t_s);
        // The instant is added to the stamps as a missing observation.
        let with = |of: &dyn Fn(usize) -> f64, own: f64| {
            let mut all: Vec<f64> = index.iter().map(|&i| of(i)).collect();
            all.insert(at, own);
            all
        };
        let time = with(&|i| x.time_s[i], t_s);
        let smooth =
            |of: &dyn Fn(usize) -> f64| fit.disturbance.smooth(&time, &stretches, &with(of, f64::NAN))[at];
        let deviation = smooth(&|i| x.mass_g[i] - group.reading(x.time_s[i], scale));
        let by: Vec<Vec<f64>> = index.iter().map(|&i| gradient_of(group, x.time_s[i], scale)).collect();
        let propagated =
            |(column, slope): (usize, f64)| slope - smooth(&|i| by[i - group.from][column]).water_g;
        // The water itself does not depend on lag and lead.
        let mut gradient = gradient_of(group, t_s, NO_LAG);
        let own = gradient.len() - 2;
        gradient[own..].fill(0.0);
        let gradient = gradient.into_iter().enumerate().map(propagated).collect();
        let flow: f64 = group.bursts.iter().map(|b| b.flow_at(t_s)).sum();
        Self {
            value_g: group.reading(t_s, NO_LAG) + deviation.water_g,
            var_g2: deviation.water_var * group.excess + x.rounding_var_g2,
            flow_g_per_s: flow + deviation.flow_g_per_s,
            fitted: Some((k, gradient)),
        }
    }
}

/// The group whose samples are nearest to an instant.
fn nearest(fit: &Fit, t_s: f64) -> Option<usize> {
    let away = |group: &Group| (group.start_s() - t_s).max(t_s - group.end_s());
    (0..fit.groups.len()).min_by(|&a, &b| away(&fit.groups[a]).total_cmp(&away(&fit.groups[b])))
}

/// Gradient of a reading by (base, bursts' parameters, logarithm of the lag, lead).
fn gradient_of(group: &Group, t_s: f64, scale: Scale) -> Vec<f64> {
    let (mut gradient, mut by_scale) = (vec![1.0], [0.0; 2]);
    for burst in &group.bursts {
        let reading = burst.reading(t_s, scale);
        gradient.extend(reading.by_parameter);
        by_scale[0] += reading.by_scale[0] * scale.tau_s;
        by_scale[1] += reading.by_scale[1];
    }
    gradient.extend(by_scale);
    gradient
}
