//! In: the fitted bursts. Out: pours and rests by the definitions of the options, each number with its sd.
//!
//! Instants are read off the fitted trapezoids; their sd come from the joint covariance of the fit, and from the skew of short ramps ([`Ramp`]). Mass is the difference of the levels at
//! rest before and after, so that no shape of the flow between them can bias it.

use crate::estimate::Estimate;
use crate::math::robust::median;
use crate::model::burst::{Burst, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::smoother::Smoothed;
use crate::segment::fit::usual_ramp;
use crate::segment::fitted::{Fit, Group};
use crate::segment::influence::Nearby;
use crate::segment::level::level;
use crate::segment::options::SegmentOptions;
use crate::segment::pour::{Pour, Rest};
use crate::segment::ramp::Ramp;

/// A pour as a run of bursts of one group.
struct Run {
    first: usize,
    last: usize,
}

/// An instant of an edge with its gradient to (base, bursts' parameters, logarithm of the lag, lead).
struct Instant {
    at_s: f64,
    gradient: Vec<f64>,
    /// What a hand that does not open in a straight ramp adds, one that is unsteady where a single reading sees it, and the level's own uncertainty.
    shape_sd_s: f64,
    /// Square of how far some samples beside it by themselves moved it, s2.
    moved_var_s2: f64,
    /// What the normal law of the fit leaves out of its variance, s2.
    skew_var_s2: f64,
}

/// A ramp in the shape of half a cosine, read as the straight one of equal spread, puts its foot off by this share of the ramp at 2.5 to
/// 17 g/s (calculated); its middle not at all.
const SHAPE: f64 = 0.025;
/// The same where so few samples see the ramp that its spread is what was expected of it: the feet of a straight ramp and of one in the shape of half a cosine, of one
/// length, are this share of it apart (calculated).
const UNSEEN: f64 = 0.09;

/// What comes before the only reading in a pour and what comes after it may flow at rates that differ by this share: with two there, the log tells.
/// A choice: with it 344 such pours, simulated at one sample a second, have starts within 3 sd, of which three in 344 lay beyond without it.
const UNSTEADY: f64 = 0.1;

/// How far the edges of a burst may be off because a single reading within it, or none, does not tell how the flow changed.
fn unsteady_sd_s(b: &Burst, x: &Samples) -> f64 {
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let readings = index(b.fall_s) - index(b.rise_s);
    if readings > 1 { 0.0 } else { UNSTEADY * (b.fall_s - b.rise_s) / 2.0 }
}

/// How far the foot of a ramp may be off for its shape, as a share of it: four samples see it, one does not.
fn shape(ramp_s: f64, interval_s: f64) -> f64 {
    let unseen = ((interval_s / ramp_s - 0.25) / 0.75).clamp(0.0, 1.0);
    SHAPE + unseen * (UNSEEN - SHAPE)
}

/// Which edge of a burst.
#[derive(Clone, Copy)]
enum Side {
    Rise,
    Fall,
}

/// The pours of a fitted log.
pub(crate) fn pours(x: &Samples, fit: &Fit, o: &SegmentOptions) -> Vec<Pour> {
    let mut out = Vec::new();
    for (k, group) in fit.groups.iter().enumerate().filter(|(_, g)| !g.covariance.is_empty()) {
        let time = &x.time_s[group.from..group.to];
        let deviation = group.deviation(x, fit.disturbance.scale);
        let smoothed = fit.disturbance.smooth(time, &group.stretches(), &deviation);
        let influence = Nearby::with_tails(x, fit, group);
        let runs = runs(group, o);
        for (j, run) in runs.iter().enumerate() {
            let before = match j {
                0 if k == 0 => f64::NEG_INFINITY,
                0 => fit.groups[k - 1].bursts.last().map_or(f64::NEG_INFINITY, |b| b.fall_s),
                _ => group.bursts[runs[j - 1].last].fall_s,
            };
            let after = match runs.get(j + 1) {
                Some(next) => begin(&group.bursts[next.first]),
                None => fit.groups.get(k + 1).map_or(f64::INFINITY, |g| begin(&g.bursts[0])),
            };
            let pour = pour(x, fit, group, run, (before, after), (time, &smoothed, &influence), o);
            if pour.mass_g.value >= o.mass_g && pour.mass_g.value > 4.0 * pour.mass_g.sd {
                out.push(pour);
            }
        }
    }
    out
}

/// The rests between pours.
pub(crate) fn rests(pours: &[Pour]) -> Vec<Rest> {
    let rest = |w: &[Pour]| Rest {
        start_s: w[0].end_s,
        end_s: w[1].start_s,
        duration_s: w[1].start_s.minus(w[0].end_s),
    };
    pours.windows(2).map(rest).collect()
}

fn begin(b: &Burst) -> f64 {
    b.rise_s - b.rise_ramp_s / 2.0
}

/// Bursts whose flow passes the threshold, joined where the pause between them is too short to part pours.
fn runs(group: &Group, o: &SegmentOptions) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for (i, burst) in group.bursts.iter().enumerate().filter(|(_, b)| b.flow_g_per_s > o.flow_g_per_s) {
        let share = o.flow_g_per_s / burst.flow_g_per_s;
        let start = burst.rise_s + burst.rise_ramp_s * (share - 0.5);
        match runs.last_mut() {
            Some(run) if start - end_of(&group.bursts[run.last], o) < o.pause_s => run.last = i,
            _ => runs.push(Run { first: i, last: i }),
        }
    }
    runs
}

fn end_of(b: &Burst, o: &SegmentOptions) -> f64 {
    b.fall_s + b.fall_ramp_s * (0.5 - o.flow_g_per_s / b.flow_g_per_s)
}

/// Where an edge of burst `k` passes a level, g/s.
fn crossing(
    group: &Group,
    k: usize,
    side: Side,
    level: Estimate,
    influence: &Nearby,
    expected_ramp_s: Estimate,
    x: &Samples,
) -> Instant {
    let b = &group.bursts[k];
    let share = (level.value / b.flow_g_per_s).min(1.0) - 0.5;
    let (centre, ramp, at, sign) = match side {
        Side::Rise => (b.rise_s, b.rise_ramp_s, 0, 1.0),
        Side::Fall => (b.fall_s, b.fall_ramp_s, 2, -1.0),
    };
    // Unseen, a ramp may be as long as was expected.
    let longest = if x.interval_s > ramp { ramp.max(expected_ramp_s.value) } else { ramp };
    let mut gradient = vec![0.0; PARAMETERS * group.bursts.len() + 3];
    let own = &mut gradient[1 + PARAMETERS * k..][..PARAMETERS];
    own[at] = 1.0;
    own[at + 1] = sign * share;
    own[4] = -sign * ramp * level.value / (b.flow_g_per_s * b.flow_g_per_s);
    let index = 1 + PARAMETERS * k + at + 1;
    let with_ramp = group.row(index);
    // Samples that contradict the shape widen all sd: how skewed a ramp is they do not tell.
    let found_s = Estimate::new(ramp, (with_ramp[index] / group.excess).sqrt());
    let along = with_ramp.iter().zip(&gradient).map(|(c, g)| c * g).sum::<f64>() / with_ramp[index];
    let ramp_s = Ramp { found_s, expected_s: expected_ramp_s, most_s: b.fall_s - b.rise_s };
    let skew = ramp_s.skew(sign * share, along);
    let at_s = centre + sign * ramp * share + skew.shift_s;
    Instant {
        at_s,
        skew_var_s2: skew.var_s2 * group.excess,
        moved_var_s2: influence.moved_var_s2(at_s, &gradient),
        gradient,
        shape_sd_s: (longest * 2.0 * share * shape(longest, x.interval_s))
            .hypot(ramp * level.sd / b.flow_g_per_s)
            .hypot(unsteady_sd_s(b, x)),
    }
}

impl Instant {
    fn estimate(&self, group: &Group, influence: &Nearby) -> Estimate {
        let sd = (group.variance(&self.gradient) + self.skew_var_s2).max(0.0).sqrt().hypot(self.shape_sd_s);
        Estimate::new(self.at_s, (sd * influence.contradiction(self.at_s)).hypot(self.moved_var_s2.sqrt()))
    }

    fn minus(&self, other: &Self, group: &Group, influence: &Nearby) -> Estimate {
        let gradient: Vec<f64> = self.gradient.iter().zip(&other.gradient).map(|(a, b)| a - b).collect();
        let shape = self.shape_sd_s.hypot(other.shape_sd_s);
        let skew_var_s2 = (self.skew_var_s2 + other.skew_var_s2).max(0.0);
        let sd = (group.variance(&gradient) + skew_var_s2).sqrt().hypot(shape);
        let contradiction = influence.contradiction(self.at_s).max(influence.contradiction(other.at_s));
        let moved_s = (self.moved_var_s2 + other.moved_var_s2).sqrt();
        Estimate::new(self.at_s - other.at_s, (sd * contradiction).hypot(moved_s))
    }
}

fn pour(
    x: &Samples,
    fit: &Fit,
    group: &Group,
    run: &Run,
    (before, after): (f64, f64),
    (time, smoothed, influence): (&[f64], &[Smoothed], &Nearby),
    o: &SegmentOptions,
) -> Pour {
    let ramp_s = Estimate::new(usual_ramp(fit, o), o.ramp_sd_s);
    let crossing =
        |k: usize, side: Side, level: Estimate| crossing(group, k, side, level, influence, ramp_s, x);
    let start = crossing(run.first, Side::Rise, Estimate::exact(o.flow_g_per_s));
    let end = crossing(run.last, Side::Fall, Estimate::exact(o.flow_g_per_s));
    let median = median_flow(group, start.at_s, end.at_s, time, smoothed);
    let level = Estimate::new(o.half * median, o.half * median * fit.disturbance.tremor / 2.0);
    // A hand that starts slowly passes half of its median flow in a later burst than its first.
    let strong = |k: &usize| group.bursts[*k].flow_g_per_s > level.value;
    let rise_in = (run.first..=run.last).find(strong).unwrap_or(run.first);
    let fall_in = (run.first..=run.last).rev().find(strong).unwrap_or(run.last);
    let mass_g = mass(x, fit, group, run, before, after, o);
    let duration_s = end.minus(&start, group, influence);
    Pour {
        start_s: start.estimate(group, influence),
        end_s: end.estimate(group, influence),
        half_rise_s: crossing(rise_in, Side::Rise, level).estimate(group, influence),
        half_fall_s: crossing(fall_in, Side::Fall, level).estimate(group, influence),
        mean_flow_g_per_s: Pour::mean_flow(mass_g, duration_s),
        mass_g,
        duration_s,
    }
}

/// Median over time of the flow between two instants, the hand's unsteadiness included.
fn median_flow(group: &Group, start_s: f64, end_s: f64, time: &[f64], smoothed: &[Smoothed]) -> f64 {
    const POINTS: usize = 200;
    let at = |i: usize| {
        let t = start_s + (end_s - start_s) * (i as f64 + 0.5) / POINTS as f64;
        let j = time.partition_point(|&s| s < t).min(time.len() - 1);
        let flow: f64 = group.bursts.iter().map(|b| b.flow_at(t)).sum();
        flow + smoothed[j].flow_g_per_s
    };
    median(&mut (0..POINTS).map(at).collect::<Vec<_>>())
}

/// Mass of a pour: the level after it less the level before it.
fn mass(
    x: &Samples,
    fit: &Fit,
    group: &Group,
    run: &Run,
    before: f64,
    after: f64,
    o: &SegmentOptions,
) -> Estimate {
    const NEAR_S: f64 = 8.0;
    let tau = fit.tau_s.value;
    let bursts = &group.bursts[run.first..=run.last];
    let start = begin(&bursts[0]);
    let last = &group.bursts[run.last];
    let end = last.fall_s + last.fall_ramp_s / 2.0;
    let settled = 3.0 * tau + 0.3;
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let early = index((start - NEAR_S).max(before + settled))..index(start);
    let late = index(end + 3.0 * tau + 0.1)..index((end + NEAR_S).min(after));
    // What the lag still keeps back a little after the end is taken from the shape.
    let whole: f64 = bursts.iter().map(Burst::mass_g).sum();
    let kept =
        |t: f64| whole - bursts.iter().map(|b| b.reading(t, fit.disturbance.scale).value_g).sum::<f64>();
    let low = level(x, fit, early.rev(), start, &|_| 0.0);
    let high = level(x, fit, late, end, &kept);
    match (low, high) {
        (Some(low), Some(high)) => {
            let between = x.zero_g2_per_s(fit.disturbance.zero_g) * (end - start)
                + (x.drift_sd_g_per_s * (end - start)).powi(2);
            let outside = outside(bursts, o);
            let mut mass = high.minus(low);
            mass.value -= outside;
            mass.sd = (mass.sd.powi(2) + between + outside * outside).sqrt();
            mass
        }
        _ => from_shape(fit, group, run),
    }
}

/// What arrives before the start and after the end, at less than the flow that counts, g. How a hand opens and closes is not known that
/// finely: its sd is as large as itself.
fn outside(bursts: &[Burst], o: &SegmentOptions) -> f64 {
    let foot = |ramp: f64, b: &Burst| ramp * o.flow_g_per_s.powi(2) / (2.0 * b.flow_g_per_s);
    let (first, last) = (bursts.first(), bursts.last());
    first.map_or(0.0, |b| foot(b.rise_ramp_s, b)) + last.map_or(0.0, |b| foot(b.fall_ramp_s, b))
}

/// Mass where the log tells of only one side: the area of the shape, and of the unsteadiness that it may hide.
fn from_shape(fit: &Fit, group: &Group, run: &Run) -> Estimate {
    let mut gradient = vec![0.0; PARAMETERS * group.bursts.len() + 3];
    let (mut mass, mut hidden) = (0.0, 0.0);
    for k in run.first..=run.last {
        let b = &group.bursts[k];
        let own = &mut gradient[1 + PARAMETERS * k..][..PARAMETERS];
        own[0] = -b.flow_g_per_s;
        own[2] = b.flow_g_per_s;
        own[4] = b.fall_s - b.rise_s;
        mass += b.mass_g();
        hidden += 2.0 * (fit.disturbance.tremor * b.flow_g_per_s / fit.disturbance.swing_rad_per_s).powi(2);
    }
    Estimate::new(mass, (group.variance(&gradient) + hidden).sqrt())
}
