//! In: the used samples and proposed bursts. Out: their fit, with groups that touch joined.

use crate::estimate::Estimate;
use crate::model::burst::Burst;
use crate::model::samples::Samples;
use crate::segment::alternative::Alternative;
use crate::segment::fitted::{Fit, Group};
use crate::segment::lead;
use crate::segment::options::SegmentOptions;
use crate::segment::propose::USUAL_LAG_S;

/// Fit of groups of bursts to the samples, and its alternative models. `lag` is the given lag, if any.
pub(crate) fn fit(
    x: &Samples,
    proposed: Vec<Vec<Burst>>,
    lag: Option<Estimate>,
    o: &SegmentOptions,
) -> (Fit, Vec<Alternative>) {
    let log_tau_s = match lag {
        Some(given) => {
            let value = given.value.max(1e-3);
            Estimate::new(value.ln(), (given.sd / value).max(1e-4))
        }
        None => Estimate::new(USUAL_LAG_S.ln(), 0.6),
    };
    let (fit, alternatives) = lead::select(x, &windows(x, &proposed), log_tau_s, o);
    // Groups whose fits touch are joined.
    let touch = |k: usize| fit.groups[k].end_s() + o.pause_s > fit.groups[k + 1].start_s();
    let mut joined: Vec<Vec<Burst>> = Vec::with_capacity(proposed.len());
    for (k, bursts) in proposed.iter().enumerate() {
        match joined.last_mut() {
            Some(last) if touch(k - 1) => last.extend(bursts),
            _ => joined.push(bursts.clone()),
        }
    }
    if joined.len() < proposed.len() { self::fit(x, joined, lag, o) } else { (fit, alternatives) }
}

/// Samples of each group: from the rest before to the rest after, a few seconds of each.
fn windows(x: &Samples, proposed: &[Vec<Burst>]) -> Vec<Group> {
    const REST_S: f64 = 3.0;
    const TAIL_S: f64 = 1.5;
    const NEXT_S: f64 = 0.7;
    let edges: Vec<(f64, f64)> =
        proposed.iter().map(|g| (g[0].rise_s, g.last().map_or(f64::NAN, |b| b.fall_s))).collect();
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let group = |(k, bursts): (usize, &Vec<Burst>)| {
        let (rise, fall) = edges[k];
        let earliest = if k > 0 { index(edges[k - 1].1 + TAIL_S) } else { 0 };
        let latest = edges.get(k + 1).map_or(x.time_s.len(), |next| index(next.0 - NEXT_S));
        // At least five samples on each side, even across a gap.
        let from = index(rise - REST_S).min(index(rise - NEXT_S).saturating_sub(5)).max(earliest);
        let to = index(fall + REST_S).max(index(fall + TAIL_S) + 5).min(latest).max(from);
        // The load may differ after a gap, so a window does not extend across a gap in a rest.
        let gaps = || x.time_s[from..to].windows(2).enumerate().filter(|(_, w)| x.is_gap(w[1] - w[0]));
        let begins = gaps().rfind(|(_, w)| w[1] < rise - NEXT_S).map_or(from, |(i, _)| from + i + 1);
        let ends = gaps().find(|(_, w)| w[0] > fall + NEXT_S).map_or(to, |(i, _)| from + i + 1);
        let (from, to) = (begins, ends.max(begins));
        let rest = &x.mass_g[from..index(rise - NEXT_S / 2.0).clamp(from, to)];
        let base_g = if rest.is_empty() {
            x.mass_g.get(from).copied().unwrap_or(0.0)
        } else {
            rest.iter().sum::<f64>() / rest.len() as f64
        };
        let in_scale_fit = !bursts.iter().any(|b| x.is_disturbed(b.rise_s) || x.is_disturbed(b.fall_s));
        Group { bursts: bursts.clone(), base_g, from, to, in_scale_fit, covariance: Vec::new(), excess: 1.0 }
    };
    let mut groups: Vec<Group> = proposed.iter().enumerate().map(group).collect();
    if !groups.iter().any(|g| g.in_scale_fit) {
        groups.iter_mut().for_each(|g| g.in_scale_fit = true);
    }
    groups
}
