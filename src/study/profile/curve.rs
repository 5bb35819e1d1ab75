//! In: a brew. Out: its flow against an axis, with its landmarks, both counted from the start of the first pour.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::rows::words;
use crate::segment::flow::Flow;
use crate::study::profile::options::Axis;

words! {
/// Which instant of a pour.
pub enum LandmarkKind {
    /// The start.
    Start = "start",
    /// The half-rise: the plateau begins.
    HalfRise = "half_rise",
    /// The half-fall: the plateau ends.
    HalfFall = "half_fall",
    /// The end.
    End = "end",
}
}

/// Longer than any brew, s.
const LONGEST_S: f64 = 1e5;

#[derive(Debug, Clone, Copy)]
pub(super) struct Mark {
    pub(super) kind: LandmarkKind,
    /// Place of the pour, from 0.
    pub(super) pour: usize,
    pub(super) at: Estimate,
}

#[derive(Debug, Clone)]
pub(super) struct Curve {
    /// Never decreasing.
    position: Vec<f64>,
    flow_g_per_s: Vec<f64>,
    sd_g_per_s: Vec<f64>,
    pub(super) marks: Vec<Mark>,
    pub(super) pours: usize,
}

/// Name of a brew, or its index from 1.
pub(super) fn name(brew: &Brew, index: usize) -> String {
    brew.meta.name.clone().unwrap_or_else(|| format!("brew {}", index + 1))
}

impl Curve {
    /// # Errors
    /// `argument` if the brew has no flow or no pour.
    pub(super) fn new(brew: &Brew, index: usize, axis: Axis) -> Result<Self> {
        let refuse = |why: &str| Error::Argument {
            name: "brews".into(),
            message: format!("{} {why}", name(brew, index)),
        };
        let flow = brew.flow.as_ref().ok_or_else(|| refuse("has no flow: its water was not weighed"))?;
        let first = brew.segments.pours.first().ok_or_else(|| refuse("has no pour"))?;
        let last = brew.segments.pours.last().unwrap_or(first);
        if last.end_s.value - first.start_s.value > LONGEST_S {
            return Err(refuse(&format!("pours for longer than {LONGEST_S} s")));
        }
        let (zero_s, ways) = (first.start_s.value, Way::of(flow));
        let zero_g = ways.water_at(zero_s);
        let pours = &brew.segments.pours;
        let mut marks = Vec::with_capacity(4 * pours.len());
        for (k, pour) in pours.iter().enumerate() {
            // A pour too gentle for half-edges has them at its edges, so that all brews have as many landmarks.
            let four = [
                (LandmarkKind::Start, pour.start_s),
                (LandmarkKind::HalfRise, pour.half_rise_s.clone().unwrap_or(pour.start_s)),
                (LandmarkKind::HalfFall, pour.half_fall_s.clone().unwrap_or(pour.end_s)),
                (LandmarkKind::End, pour.end_s),
            ];
            for (kind, instant) in four {
                let at = match (axis, kind) {
                    (Axis::Time, _) => Estimate::new(instant.value - zero_s, instant.sd),
                    // In a rest the water hardly increases: on this axis it is one point, its middle, without
                    // landmarks.
                    (Axis::Water, LandmarkKind::Start) if k > 0 => continue,
                    (Axis::Water, LandmarkKind::End) if k + 1 < pours.len() => {
                        let middle_s = f64::midpoint(instant.value, pours[k + 1].start_s.value);
                        Estimate::exact(ways.water_at(middle_s) - zero_g)
                    }
                    (Axis::Water, _) => Estimate::exact(ways.water_at(instant.value) - zero_g),
                };
                marks.push(Mark { kind, pour: k, at });
            }
        }
        let position = match axis {
            Axis::Time => flow.time_s.iter().map(|t| t - zero_s).collect(),
            Axis::Water => ways.water_g.iter().map(|g| g - zero_g).collect(),
        };
        let known = |sd: &f64| if sd.is_finite() { *sd } else { 0.0 };
        let sd_g_per_s = flow.flow_sd_g_per_s.iter().map(known).collect();
        Ok(Self { position, flow_g_per_s: flow.flow_g_per_s.clone(), sd_g_per_s, marks, pours: pours.len() })
    }

    /// End of the last pour.
    pub(super) fn end(&self) -> f64 {
        self.marks.last().map_or(0.0, |mark| mark.at.value)
    }

    /// Flow and its sd at a place of the axis; beyond the log the flow is 0.
    pub(super) fn at(&self, x: f64) -> (f64, f64) {
        let after = self.position.partition_point(|&p| p <= x);
        if after == 0 || after == self.position.len() {
            return (0.0, 0.0);
        }
        let (low, high) = (self.position[after - 1], self.position[after]);
        let share = (x - low) / (high - low);
        let between = |v: &[f64]| v[after - 1] + share * (v[after] - v[after - 1]);
        (between(&self.flow_g_per_s), between(&self.sd_g_per_s))
    }
}

/// The water poured over time, made monotone: the smoother's mass may decrease slightly at rest.
struct Way<'a> {
    time_s: &'a [f64],
    water_g: Vec<f64>,
}

impl<'a> Way<'a> {
    fn of(flow: &'a Flow) -> Self {
        let mut most = f64::NEG_INFINITY;
        let grow = |g: &f64| {
            most = most.max(*g);
            most
        };
        Self { time_s: &flow.time_s, water_g: flow.water_g.iter().map(grow).collect() }
    }

    fn water_at(&self, t_s: f64) -> f64 {
        let (time, water) = (self.time_s, &self.water_g);
        let after = time.partition_point(|&t| t <= t_s);
        match (after.checked_sub(1), time.get(after)) {
            (Some(before), Some(&next)) => {
                let share = (t_s - time[before]) / (next - time[before]);
                water[before] + share * (water[after] - water[before])
            }
            (None, _) => water.first().copied().unwrap_or(0.0),
            (_, None) => water.last().copied().unwrap_or(0.0),
        }
    }
}
