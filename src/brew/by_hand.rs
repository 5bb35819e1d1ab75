//! In: the detected pours, and labels. Out: the pours by the labels, and their changes. The fit does not change.

use crate::brew::labels::{EdgesByHand, Labelled, LabelledPour, Labels, refused};
use crate::brew::result::Brew;
use crate::condition::trace::Trace;
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::segment::flow::Flow;
use crate::segment::numbers::{MASS_SD_G, rests};
use crate::segment::options::SegmentOptions;
use crate::segment::posterior::Posterior;
use crate::segment::pour::{FlowRegime, Pour, Segments, has_halves};
use crate::segment::regimes::Changing;

/// An edge within this of a detected one is that one, s.
const SAME_S: f64 = 1e-3;

impl Labels {
    /// The pours of a brew as labels, the start of a correction.
    #[must_use]
    pub fn of(brew: &Brew) -> Self {
        Self::of_pours(&brew.segments.pours, brew.labelled.as_ref())
    }
}

/// The pours by the labels, with the rests between them.
pub(super) fn relabel(
    trace: &Trace,
    found: &Segments,
    (flow, posterior): (&Flow, Option<&Posterior>),
    labels: &Labels,
    options: &SegmentOptions,
) -> Result<(Segments, Labelled)> {
    labels.check()?;
    let (mut pours, mut rows) = (Vec::new(), Vec::new());
    let mut kept = vec![None; found.pours.len()];
    for (row, label) in (1..).zip(&labels.pours) {
        let edges = Edges::new(label, found, labels.sd_s);
        edges.check(trace, row)?;
        let pour = match (edges.whole(), posterior) {
            (Some(k), _) => Some(found.pours[k].clone()),
            (None, Some(posterior)) => edges.pour(posterior, found, flow, options),
            _ => None,
        };
        let no_reading = || {
            let rule = "there is no reading of the water in that pour";
            refused("start_s", label.start_s, rule.into(), row)
        };
        if let Some(k) = edges.whole() {
            kept[k] = Some(pours.len());
        }
        pours.push(pour.ok_or_else(no_reading)?);
        rows.push(EdgesByHand {
            start: edges.start.is_err(),
            end: edges.end.is_err(),
            added: edges.over.is_empty(),
        });
    }
    let unlabelled = |p: &&Pour| !labels.pours.iter().any(|label| label.meets(p));
    let removed = found.pours.iter().filter(unlabelled).count();
    let mut labelled = Labelled { labels: labels.clone(), pours: rows, removed, warnings: Vec::new() };
    let segments =
        Segments { rests: rests(&pours), pours, covariance: found.covariance.kept(&kept), ..found.clone() };
    labelled.warnings = crate::brew::label_warnings::warnings(&labelled, found, &segments);
    Ok((segments, labelled))
}

/// The edges of one label: each is that of a detected pour, or set by hand.
struct Edges {
    start: std::result::Result<usize, Estimate>,
    end: std::result::Result<usize, Estimate>,
    /// Places of the detected pours that overlap it.
    over: Vec<usize>,
}

impl Edges {
    fn new(label: &LabelledPour, found: &Segments, sd_s: f64) -> Self {
        let near = |at_s: f64, of: fn(&Pour) -> Estimate| {
            let same = |p: &Pour| (of(p).value - at_s).abs() <= SAME_S;
            found.pours.iter().position(same).ok_or(Estimate::new(at_s, sd_s))
        };
        let over = (0..found.pours.len()).filter(|&k| label.meets(&found.pours[k])).collect();
        Self { start: near(label.start_s, |p| p.start_s), end: near(label.end_s, |p| p.end_s), over }
    }

    /// The detected pour with both edges.
    fn whole(&self) -> Option<usize> {
        self.start.ok().filter(|k| self.end == Ok(*k))
    }

    /// Refuses an edge set by hand outside the brew.
    fn check(&self, trace: &Trace, row: usize) -> Result<()> {
        let (from_s, to_s) = (trace.brew_start_s, trace.time_s.last().copied().unwrap_or(trace.brew_start_s));
        for (name, edge) in [("start_s", &self.start), ("end_s", &self.end)] {
            if let Err(by_hand) = edge
                && !(from_s..=to_s).contains(&by_hand.value)
            {
                let rule = format!("it must lie in the brew, {from_s} to {to_s} s of the log");
                return Err(refused(name, by_hand.value, rule, row));
            }
        }
        Ok(())
    }

    fn pour(&self, posterior: &Posterior, found: &Segments, flow: &Flow, o: &SegmentOptions) -> Option<Pour> {
        let start_s = self.start.map_or_else(|by_hand| by_hand, |k| found.pours[k].start_s);
        let end_s = self.end.map_or_else(|by_hand| by_hand, |k| found.pours[k].end_s);
        // A detected edge stands for itself, without the error of its instant.
        let meant = |edge: &std::result::Result<usize, Estimate>, at: Estimate| match edge {
            Ok(_) => Estimate::exact(at.value),
            Err(by_hand) => *by_hand,
        };
        let (from_s, to_s) = (meant(&self.start, start_s), meant(&self.end, end_s));
        let water_g = posterior.water_g(from_s.value, to_s.value);
        // First order: a scattered instant in a ramp also has a bias of a few hundredths of a gram.
        let by = |at: Estimate| at.sd * interpolated(flow, at.value);
        let mass_g =
            Estimate::new(water_g.value, water_g.sd.hypot(MASS_SD_G).hypot(by(from_s)).hypot(by(to_s)));
        let duration_s = end_s.minus(start_s);
        let mean_flow_g_per_s = Pour::mean_flow(mass_g, duration_s);
        let within = |at: &Estimate| (start_s.value..=end_s.value).contains(&at.value);
        let rise = self.over.first().and_then(|&k| found.pours[k].half_rise_s.clone().ok()).filter(within);
        let fall = self.over.last().and_then(|&k| found.pours[k].half_fall_s.clone().ok()).filter(within);
        let half = || Half::new(flow, start_s, end_s, o.half * mean_flow_g_per_s.value);
        let has_halves = has_halves(mean_flow_g_per_s.value, o);
        let mut pour = Pour {
            half_rise_s: has_halves.clone().map(|()| rise.unwrap_or_else(|| half().rise())),
            half_fall_s: has_halves.map(|()| fall.unwrap_or_else(|| half().fall())),
            mean_flow_g_per_s,
            start_s,
            end_s,
            mass_g,
            duration_s,
            flow_regimes: Vec::new(),
        };
        pour.flow_regimes = regimes(&pour, posterior, found);
        Some(pour)
    }
}

/// Stretches of different flow in a pour that was set by hand: its edges are those of the label on every curve.
fn regimes(pour: &Pour, posterior: &Posterior, found: &Segments) -> Vec<FlowRegime> {
    let (start_s, end_s) = (pour.start_s.value, pour.end_s.value);
    let group = posterior.group_of(f64::midpoint(start_s, end_s));
    match (group, &found.fit) {
        (Some(group), Some(fit)) => Changing { fit, group, drawn: &posterior.groups[group] }.regimes(
            pour,
            &|_| Some((start_s, end_s)),
            &|at| at,
        ),
        _ => pour.one_regime(),
    }
}

/// Flow at an instant, between the stamps, g/s.
fn interpolated(flow: &Flow, t_s: f64) -> f64 {
    let next = flow.time_s.partition_point(|&t| t < t_s);
    match (next.checked_sub(1), flow.time_s.get(next)) {
        (Some(before), Some(after_s)) => {
            let share = (t_s - flow.time_s[before]) / (after_s - flow.time_s[before]);
            flow.flow_g_per_s[before] + share * (flow.flow_g_per_s[next] - flow.flow_g_per_s[before])
        }
        _ => 0.0,
    }
}

/// Instants at which the flow crosses half of its mean between two instants.
struct Half<'a> {
    flow: &'a Flow,
    start_s: Estimate,
    end_s: Estimate,
    /// Stamps between the two.
    within: std::ops::Range<usize>,
    level_g_per_s: f64,
}

impl<'a> Half<'a> {
    fn new(flow: &'a Flow, start_s: Estimate, end_s: Estimate, level_g_per_s: f64) -> Self {
        let index = |t: f64| flow.time_s.partition_point(|&s| s < t);
        let within = index(start_s.value)..index(end_s.value);
        Self { flow, start_s, end_s, within, level_g_per_s }
    }

    fn rise(&self) -> Estimate {
        let above = |i: &usize| self.flow.flow_g_per_s[*i] >= self.level_g_per_s;
        match self.within.clone().find(above) {
            Some(i) if i > self.within.start => self.between(i - 1, i),
            _ => self.start_s,
        }
    }

    fn fall(&self) -> Estimate {
        let above = |i: &usize| self.flow.flow_g_per_s[*i] >= self.level_g_per_s;
        match self.within.clone().rfind(above) {
            Some(i) if i + 1 < self.within.end => self.between(i, i + 1),
            _ => self.end_s,
        }
    }

    /// The instant at which the flow crosses the level between two stamps.
    fn between(&self, i: usize, j: usize) -> Estimate {
        let Flow { time_s, flow_g_per_s, flow_sd_g_per_s, .. } = self.flow;
        let (step_s, rise) = (time_s[j] - time_s[i], flow_g_per_s[j] - flow_g_per_s[i]);
        let share = (self.level_g_per_s - flow_g_per_s[i]) / rise;
        let by_flow = flow_sd_g_per_s[i].max(flow_sd_g_per_s[j]) * step_s / rise.abs();
        // At most the duration of the pour.
        let widest_s = self.end_s.value - self.start_s.value;
        let sd = by_flow.hypot(step_s / 12.0_f64.sqrt()).min(widest_s);
        Estimate::new(time_s[i] + share * step_s, sd)
    }
}

/// Refuses labels for a log without the water channel.
pub(super) fn needs_water(trace: &Trace) -> Result<()> {
    if trace.water.is_some() {
        return Ok(());
    }
    Err(Error::Column { message: "labels are of pours, but this log has no water channel".into() })
}
