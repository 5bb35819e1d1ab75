//! In: proposed bursts. Out: bursts that reach to the rests around them.
//!
//! Slopes that are smooth enough to detect a burst miss a trickle before it and a decay after it. A burst is extended
//! as long as the readings differ from the level of the rest. Two bursts are one if the readings between them rise.

use crate::model::burst::{Burst, Edge};
use crate::model::samples::Samples;
use crate::segment::options::SegmentOptions;

/// Difference from the level of a rest that is not noise, in sd of a reading.
const SDS: f64 = 2.5;
/// Least flow of an extension, and of the readings between two bursts that are one, as a fraction of the least flow of a
/// pour.
const LEAST: f64 = 0.4;
/// Readings are multiples of a step, and so may be what they are compared with: a difference below this is none, g.
const TIE_G: f64 = 1e-6;
/// Longest extension before and after a burst, s.
const BEFORE_S: f64 = 6.0;
const AFTER_S: f64 = 20.0;
/// The reading has settled after this time, s.
const SETTLED_S: f64 = 1.2;
/// Fewest readings of a rest.
const FEWEST: usize = 4;

/// Two bursts with less than this between their middles of fall and rise are one, s: the flow fell to no less than half.
const NO_PAUSE_S: f64 = 0.25;

/// An interval of readings in which water arrives.
#[derive(Clone, Copy)]
struct Stretch {
    /// Instants at which the readings begin and cease to rise, s.
    from_s: f64,
    to_s: f64,
}

/// The bursts extended, and joined if no rest lies between them.
pub(super) fn extended(x: &Samples, bursts: &[Burst], lag_s: f64, o: &SegmentOptions) -> Vec<Burst> {
    let mut stretches: Vec<Stretch> = Vec::new();
    for (k, burst) in bursts.iter().enumerate() {
        let here = Stretch { from_s: burst.start_s() + lag_s, to_s: burst.end_s() + lag_s };
        let pause_s = k.checked_sub(1).map_or(f64::INFINITY, |b| burst.rise.at_s - bursts[b].fall.at_s);
        match stretches.last_mut() {
            Some(last) if pause_s < NO_PAUSE_S || flows_between(x, last.to_s, here.from_s, o) => {
                last.to_s = here.to_s;
            }
            _ => stretches.push(here),
        }
    }
    let mut out: Vec<Stretch> = Vec::new();
    for (k, stretch) in stretches.iter().enumerate() {
        let before_s = k.checked_sub(1).map_or(f64::NEG_INFINITY, |b| stretches[b].to_s + SETTLED_S);
        let after_s = stretches.get(k + 1).map_or(f64::INFINITY, |next| next.from_s - 0.3);
        let here = Stretch {
            from_s: earlier(x, stretch.from_s, before_s, o),
            to_s: later(x, stretch.to_s, after_s, o),
        };
        match out.last_mut() {
            Some(last) if here.from_s <= last.to_s => last.to_s = here.to_s,
            _ => out.push(here),
        }
    }
    out.iter().filter_map(|s| burst(x, s, bursts, lag_s)).collect()
}

/// The burst of a stretch. An edge that was not extended keeps its proposed instant.
fn burst(x: &Samples, s: &Stretch, proposed: &[Burst], lag_s: f64) -> Option<Burst> {
    let (from_s, to_s) = (s.from_s - lag_s, s.to_s - lag_s);
    let within = |b: &&Burst| b.middle_s() > from_s && b.middle_s() < to_s;
    let (first, last) = (proposed.iter().find(within)?, proposed.iter().rfind(within)?);
    let rise = if (first.start_s() - from_s).abs() < 1e-9 {
        first.rise
    } else {
        Edge { at_s: from_s + 0.5 * first.rise.ramp_s, ..first.rise }
    };
    let fall = if (last.end_s() - to_s).abs() < 1e-9 {
        last.fall
    } else {
        Edge { at_s: to_s - 0.5 * last.fall.ramp_s, ..last.fall }
    };
    let index = |t: f64| x.time_s.partition_point(|&u| u < t);
    let (start, end) = (index(s.from_s).saturating_sub(1), index(s.to_s + lag_s).min(x.time_s.len() - 1));
    let scale = (x.mass_g[end] - x.mass_g[start]) / (to_s - from_s);
    let most = proposed.iter().filter(within).map(|b| b.scale_g_per_s).fold(0.0, f64::max);
    let scale_g_per_s = if scale > 0.05 * most { scale.min(2.0 * most) } else { most };
    (fall.at_s > rise.at_s).then_some(Burst { rise, fall, changes: Vec::new(), scale_g_per_s })
}

/// Whether the readings rise in the second half of a pause, after the lag has passed.
fn flows_between(x: &Samples, from_s: f64, to_s: f64, o: &SegmentOptions) -> bool {
    let from_s = f64::midpoint(from_s, to_s).max(from_s + 0.3);
    let index = |t: f64| x.time_s.partition_point(|&u| u < t);
    let within = index(from_s)..index(to_s - 0.1);
    if within.len() < FEWEST || x.time_s[within.clone()].windows(2).any(|w| x.is_gap(w[1] - w[0])) {
        return false;
    }
    let (time, mass) = (&x.time_s[within.clone()], &x.mass_g[within]);
    let n = time.len() as f64;
    let (t, m) = (time.iter().sum::<f64>() / n, mass.iter().sum::<f64>() / n);
    let square: f64 = time.iter().map(|u| (u - t).powi(2)).sum();
    let slope = time.iter().zip(mass).map(|(u, v)| (u - t) * (v - m)).sum::<f64>() / square;
    slope > LEAST * o.flow_g_per_s + 2.0 * x.noise_sd_g / square.sqrt()
}

/// The first instant from which on all readings are above the rest before.
fn earlier(x: &Samples, from_s: f64, not_before_s: f64, o: &SegmentOptions) -> f64 {
    let index = |t: f64| x.time_s.partition_point(|&u| u < t);
    let (first, start) = (index(not_before_s.max(from_s - BEFORE_S)), index(from_s));
    let rest = first..first + start.saturating_sub(first) / 3;
    if rest.len() < FEWEST || start >= x.time_s.len() {
        return from_s;
    }
    let n = rest.len() as f64;
    let level = x.mass_g[rest.clone()].iter().sum::<f64>() / n;
    let (at_s, at_g) = (x.time_s[start], x.mass_g[start]);
    let mut found_s = from_s;
    for i in (rest.end..start).rev() {
        if x.mass_g[i] < level + SDS * x.noise_sd_g || x.is_gap(x.time_s[i + 1] - x.time_s[i]) {
            break;
        }
        if at_g - level >= LEAST * o.flow_g_per_s * (at_s - x.time_s[i]) - TIE_G {
            found_s = x.time_s[i];
        }
    }
    found_s
}

/// The last instant up to which all readings are below the rest after.
fn later(x: &Samples, to_s: f64, not_after_s: f64, o: &SegmentOptions) -> f64 {
    let index = |t: f64| x.time_s.partition_point(|&u| u < t);
    let (end, last) = (index(to_s), index(not_after_s.min(to_s + AFTER_S)));
    let rest = last - last.saturating_sub(end) / 3..last;
    if rest.len() < FEWEST || end == 0 {
        return to_s;
    }
    let n = rest.len() as f64;
    let level = x.mass_g[rest.clone()].iter().sum::<f64>() / n;
    let (at_s, at_g) = (x.time_s[end], x.mass_g[end]);
    let mut found_s = to_s;
    for i in end + 1..rest.start {
        if x.mass_g[i] > level - SDS * x.noise_sd_g || x.is_gap(x.time_s[i] - x.time_s[i - 1]) {
            break;
        }
        if x.mass_g[i] - at_g >= LEAST * o.flow_g_per_s * (x.time_s[i] - at_s) - TIE_G {
            found_s = x.time_s[i];
        }
    }
    found_s
}
