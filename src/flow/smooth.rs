//! In: the water channel and the fitted bursts. Out: flow and water at each stamp.

use super::Flow;
use crate::segment::shape::Burst;
use crate::segment::{Fit, Group};
use crate::{ChannelTrace, Flag, Segments, Trace};

/// What may still arrive at rest without being called a pour: sd in g/s. A guess, small beside the 0.5 g/s that defines a pour.
const REST_FLOW_G_PER_S: f64 = 0.05;

pub(super) fn smooth(trace: &Trace, water: &ChannelTrace, segments: &Segments) -> Flow {
    let n = trace.time_s.len();
    let first = trace.time_s.partition_point(|&t| t < trace.brew_start_s);
    let mut out = Flow {
        time_s: trace.time_s.clone(),
        flow_g_per_s: vec![0.0; n],
        flow_sd_g_per_s: vec![f64::NAN; n],
        water_g: vec![0.0; n],
        water_sd_g: vec![f64::NAN; n],
    };
    let Some(fit) = &segments.fit else {
        out.flow_sd_g_per_s[first..].fill(REST_FLOW_G_PER_S);
        out.water_sd_g[first..].fill(water.noise_sd_g.value);
        return out;
    };
    let time = &trace.time_s[first..];
    let base = fit.groups.first().map_or(0.0, |g| g.base_g);
    let deviation: Vec<f64> = (first..n)
        .map(|i| match water.flag[i] {
            Flag::Used => water.mass_g[i] - base - explained(fit, trace.time_s[i]),
            _ => f64::NAN,
        })
        .collect();
    let mut wander = fit.wander;
    wander.rest_flow_g_per_s = REST_FLOW_G_PER_S;
    let stretches: Vec<_> = fit.groups.iter().flat_map(Group::stretches).collect();
    let blurred: Vec<Vec<Burst>> = fit.groups.iter().map(blur).collect();
    for (k, (s, &t)) in wander.smooth(time, &stretches, &deviation).iter().zip(time).enumerate() {
        let i = first + k;
        let (mut flow, mut poured, mut var) = (s.flow_g_per_s, s.water_g, s.flow_var);
        for (group, bursts) in fit.groups.iter().zip(&blurred) {
            flow += bursts.iter().map(|b| b.flow_at(t)).sum::<f64>();
            poured += bursts.iter().map(|b| b.water_at(t)).sum::<f64>();
            if !group.covariance.is_empty() {
                var += group.variance(&gradient(bursts, t));
            }
        }
        out.flow_g_per_s[i] = flow.max(0.0);
        out.flow_sd_g_per_s[i] = var.sqrt();
        out.water_g[i] = poured;
        out.water_sd_g[i] = s.water_var.sqrt();
    }
    out
}

/// Reading of all bursts at an instant.
fn explained(fit: &Fit, t_s: f64) -> f64 {
    fit.groups.iter().flat_map(|g| &g.bursts).map(|b| b.reading(t_s, fit.wander.scale).value_g).sum()
}

/// The bursts of a group with ramps made wider by what their instants may be off: the expected flow, not the likeliest.
fn blur(group: &Group) -> Vec<Burst> {
    let unit = |k: usize| {
        let mut g = vec![0.0; 5 * group.bursts.len() + 3];
        g[k] = 1.0;
        if group.covariance.is_empty() { 0.0 } else { group.variance(&g) }
    };
    let widen = |(k, b): (usize, &Burst)| {
        let wide = |ramp: f64, at: usize| (ramp * ramp + 12.0 * unit(at)).sqrt();
        Burst {
            rise_ramp_s: wide(b.rise_ramp_s, 1 + 5 * k),
            fall_ramp_s: wide(b.fall_ramp_s, 3 + 5 * k),
            ..*b
        }
    };
    group.bursts.iter().enumerate().map(widen).collect()
}

fn gradient(bursts: &[Burst], t_s: f64) -> Vec<f64> {
    let own = bursts.iter().flat_map(|b| b.flow_gradient(t_s));
    std::iter::once(0.0).chain(own).chain([0.0, 0.0]).collect()
}
