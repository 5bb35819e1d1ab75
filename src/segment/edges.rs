//! In: the fitted bursts. Out: pours and rests as the options define them, each number with its sd.
//!
//! Instants are those of the fitted trapezoids. Their sd come from the joint covariance of the fit and the
//! skewness of short ramps ([`Ramp`]). Mass is the difference of the levels at rest before and after, so that
//! the shape of the flow cannot bias it.

use crate::estimate::Estimate;
use crate::math::robust::median;
use crate::model::burst::{Burst, PARAMETERS};
use crate::model::samples::Samples;
use crate::model::smoother::Smoothed;
use crate::segment::fit::usual_ramp;
use crate::segment::fitted::{Fit, Group};
use crate::segment::influence::Influence;
use crate::segment::level::level;
use crate::segment::options::SegmentOptions;
use crate::segment::pour::{Pour, Rest};
use crate::segment::ramp::Ramp;

/// A pour: consecutive bursts of one group.
struct Run {
    first: usize,
    last: usize,
}

/// An instant of an edge with its gradient by (base, bursts' parameters, logarithm of the lag, lead).
struct Instant {
    at_s: f64,
    gradient: Vec<f64>,
    /// Sd due to the shape of the ramp, to variation of the flow between sparse readings, and to the level.
    shape_sd_s: f64,
    /// Squared influence of a stretch of samples near it, s2.
    moved_var_s2: f64,
    /// Variance that the normal approximation of the fit omits, s2.
    skew_var_s2: f64,
}

/// Error of the foot of a half-cosine ramp that is fitted by the straight one of equal spread, as a fraction of
/// the ramp, at 2.5 to 17 g/s (calculated). The error of its middle is 0.
const SHAPE: f64 = 0.025;
/// The same if the ramp has so few samples that its spread is that of the prior: the distance between the feet
/// of a straight and a half-cosine ramp of one length, as a fraction of it (calculated).
const UNSAMPLED: f64 = 0.09;

/// Relative difference of the flows before and after the only reading in a pour; two readings identify it. A
/// choice: with it all of 344 such pours, simulated at one sample per second, have starts within 3 sd; without
/// it three lay outside.
const FLOW_CHANGE: f64 = 0.1;

/// Sd of the edges of a burst with at most one reading in it, which does not identify a change of the flow.
fn sparse_sd_s(b: &Burst, x: &Samples) -> f64 {
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let readings = index(b.fall_s) - index(b.rise_s);
    if readings > 1 { 0.0 } else { FLOW_CHANGE * (b.fall_s - b.rise_s) / 2.0 }
}

/// Sd of the foot of a ramp due to its shape, as a fraction of the ramp: small with four samples in it, full
/// with one.
fn shape(ramp_s: f64, interval_s: f64) -> f64 {
    let unsampled = ((interval_s / ramp_s - 0.25) / 0.75).clamp(0.0, 1.0);
    SHAPE + unsampled * (UNSAMPLED - SHAPE)
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
        let influence = Influence::with_tails(x, fit, group);
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

/// Bursts whose flow exceeds the threshold, joined if the pause between them is too short to separate pours.
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

/// Instant at which an edge of burst `k` crosses a level, g/s.
fn crossing(
    group: &Group,
    k: usize,
    side: Side,
    level: Estimate,
    influence: &Influence,
    expected_ramp_s: Estimate,
    x: &Samples,
) -> Instant {
    let b = &group.bursts[k];
    let share = (level.value / b.flow_g_per_s).min(1.0) - 0.5;
    let (centre, ramp, at, sign) = match side {
        Side::Rise => (b.rise_s, b.rise_ramp_s, 0, 1.0),
        Side::Fall => (b.fall_s, b.fall_ramp_s, 2, -1.0),
    };
    // A ramp between two samples may be as long as its prior mean.
    let longest = if x.interval_s > ramp { ramp.max(expected_ramp_s.value) } else { ramp };
    let mut gradient = vec![0.0; PARAMETERS * group.bursts.len() + 3];
    let own = &mut gradient[1 + PARAMETERS * k..][..PARAMETERS];
    own[at] = 1.0;
    own[at + 1] = sign * share;
    own[4] = -sign * ramp * level.value / (b.flow_g_per_s * b.flow_g_per_s);
    let index = 1 + PARAMETERS * k + at + 1;
    let with_ramp = group.row(index);
    // Excess residuals widen all sd, but are not informative about the skewness of a ramp.
    let fitted_s = Estimate::new(ramp, (with_ramp[index] / group.excess).sqrt());
    let along = with_ramp.iter().zip(&gradient).map(|(c, g)| c * g).sum::<f64>() / with_ramp[index];
    let ramp_s = Ramp { fitted_s, expected_s: expected_ramp_s, max_s: b.fall_s - b.rise_s };
    let skew = ramp_s.skew(sign * share, along);
    let at_s = centre + sign * ramp * share + skew.shift_s;
    Instant {
        at_s,
        skew_var_s2: skew.var_s2 * group.excess,
        moved_var_s2: influence.moved_var_s2(at_s, &gradient),
        gradient,
        shape_sd_s: (longest * 2.0 * share * shape(longest, x.interval_s))
            .hypot(ramp * level.sd / b.flow_g_per_s)
            .hypot(sparse_sd_s(b, x)),
    }
}

impl Instant {
    fn estimate(&self, group: &Group, influence: &Influence) -> Estimate {
        let sd = (group.variance(&self.gradient) + self.skew_var_s2).max(0.0).sqrt().hypot(self.shape_sd_s);
        Estimate::new(self.at_s, (sd * influence.contradiction(self.at_s)).hypot(self.moved_var_s2.sqrt()))
    }

    fn minus(&self, other: &Self, group: &Group, influence: &Influence) -> Estimate {
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
    (time, smoothed, influence): (&[f64], &[Smoothed], &Influence),
    o: &SegmentOptions,
) -> Pour {
    let ramp_s = Estimate::new(usual_ramp(fit, o), o.ramp_sd_s);
    let crossing =
        |k: usize, side: Side, level: Estimate| crossing(group, k, side, level, influence, ramp_s, x);
    let start = crossing(run.first, Side::Rise, Estimate::exact(o.flow_g_per_s));
    let end = crossing(run.last, Side::Fall, Estimate::exact(o.flow_g_per_s));
    let median = median_flow(group, start.at_s, end.at_s, time, smoothed);
    let level = Estimate::new(o.half * median, o.half * median * fit.disturbance.tremor / 2.0);
    // After a slow start, half of the median flow is crossed in a later burst than the first.
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

/// Median over time of the flow between two instants, deviations from the trapezoids included.
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
    // The water that the lag still hides shortly after the end is that of the fitted bursts.
    let whole: f64 = bursts.iter().map(Burst::mass_g).sum();
    let lagged =
        |t: f64| whole - bursts.iter().map(|b| b.reading(t, fit.disturbance.scale).value_g).sum::<f64>();
    let low = level(x, fit, early.rev(), start, &|_| 0.0);
    let high = level(x, fit, late, end, &lagged);
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

/// Water that arrives before the start and after the end, below the threshold, g. It depends on the unknown
/// shape of the ramp's foot, so its sd equals its value.
fn outside(bursts: &[Burst], o: &SegmentOptions) -> f64 {
    let foot = |ramp: f64, b: &Burst| ramp * o.flow_g_per_s.powi(2) / (2.0 * b.flow_g_per_s);
    let (first, last) = (bursts.first(), bursts.last());
    first.map_or(0.0, |b| foot(b.rise_ramp_s, b)) + last.map_or(0.0, |b| foot(b.fall_ramp_s, b))
}

/// Mass if only one level is available: the area of the fitted bursts, with the variance of the deviations from
/// them.
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
