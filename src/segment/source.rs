//! In: the fit of a log and its pours. Out: what further curves of the flow are drawn from; what the stated sd contain
//! beyond the curves.

use crate::condition::trace::Trace;
use crate::estimate::Estimate;
use crate::math::random::Random;
use crate::model::samples::Samples;
use crate::segment::covariance::{END_S, HALF_FALL_S, HALF_RISE_S, MASS_G, START_S};
use crate::segment::curve::Curve;
use crate::segment::fitted::Fit;
use crate::segment::observations::used;
use crate::segment::pour::Segments;
use serde::{Deserialize, Serialize};
use std::sync::Arc;

/// The plateau begins this long after half-rise, s, unless the options of the metrics state another time.
pub(super) const PLATEAU_INSET_S: f64 = 0.5;
/// Why a flow has no posterior.
pub(super) const UNFITTED: &str = "this flow has no fit, it is of a brew that an earlier version stored";

/// What curves of the flow are drawn from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Source {
    /// None if the log has no pour: its flow is 0.
    pub fitted: Option<Arc<(Samples, Arc<Fit>)>>,
    pub plateau_inset_s: f64,
    pub(super) left_out: Arc<Vec<LeftOut>>,
}

/// What the curves of one pour do not contain but its stated sd do: instants move, and its water is scaled.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(super) struct LeftOut {
    group: usize,
    /// Edges and half-edges in order of time, each with the sd by which it moves, s.
    instants: Vec<(f64, f64)>,
    /// Relative sd of the mass.
    mass: f64,
}

impl LeftOut {
    /// None for a pour set by hand.
    fn of(segments: &Segments, k: usize) -> Option<Self> {
        let (pour, covariance) = (&segments.pours[k], &segments.covariance);
        let (mass_sd_g, group) = covariance.beyond(k, MASS_G)?;
        let known = [
            (START_S, Some(pour.start_s)),
            (HALF_RISE_S, pour.half_rise_s.clone().ok()),
            (HALF_FALL_S, pour.half_fall_s.clone().ok()),
            (END_S, Some(pour.end_s)),
        ];
        let instant =
            |(name, at): &(&str, Option<Estimate>)| Some((at.as_ref()?.value, covariance.beyond(k, name)?.0));
        Some(Self {
            group,
            instants: known.iter().filter_map(instant).collect(),
            mass: mass_sd_g / pour.mass_g.value,
        })
    }
}

impl LeftOut {
    /// That of all pours.
    pub(super) fn all(segments: &Segments) -> Vec<Self> {
        (0..segments.pours.len()).filter_map(|k| Self::of(segments, k)).collect()
    }

    /// Sd by which an instant moves, s, if it belongs to that pour: it lies between its edges, or near.
    pub(super) fn moves_s(&self, t_s: f64) -> f64 {
        let after = self.instants.partition_point(|(at_s, _)| *at_s < t_s);
        match (after.checked_sub(1).map(|k| self.instants[k]), self.instants.get(after)) {
            (Some((a_s, from_s)), Some(&(b_s, to_s))) => {
                let share = (t_s - a_s) / (b_s - a_s);
                ((1.0 - share) * from_s).hypot(share * to_s)
            }
            (Some((_, sd_s)), None) | (None, Some(&(_, sd_s))) => sd_s,
            (None, None) => 0.0,
        }
    }

    /// Relative sd of the water of the pour.
    pub(super) fn of_mass(&self) -> f64 {
        self.mass
    }

    /// Whether it is of a pour of a group.
    pub(super) fn is_of(&self, group: usize) -> bool {
        self.group == group
    }

    /// First and last instant of the pour, s.
    pub(super) fn edges_s(&self) -> (f64, f64) {
        let at_s = |one: Option<&(f64, f64)>| one.map_or(f64::NAN, |one| one.0);
        (at_s(self.instants.first()), at_s(self.instants.last()))
    }
}

/// What is left out of one curve of a group, drawn.
#[derive(Default)]
pub(super) struct Moved {
    /// Instants and how far they move, s.
    instants: Vec<(f64, f64)>,
    /// Up to an instant the water is that of the curve times a factor.
    factors: Vec<(f64, f64)>,
}

impl Moved {
    pub(super) fn new(left_out: &[LeftOut], group: usize, random: &mut Random) -> Self {
        let mut out = Self::default();
        for one in left_out.iter().filter(|one| one.group == group) {
            for &(at_s, sd_s) in &one.instants {
                let mut by_s = sd_s * random.normal();
                // Instants keep their order.
                if let Some(&(before_s, moved_s)) = out.instants.last() {
                    let most_s = 0.5 * (at_s - before_s).max(0.0);
                    by_s = by_s.clamp(moved_s - most_s, moved_s + most_s);
                }
                out.instants.push((at_s, by_s));
            }
            if let (Some(last), Some(&(first_s, _))) = (out.factors.last_mut(), one.instants.first()) {
                // The middle of the rest.
                last.0 = f64::midpoint(last.0, first_s);
            }
            let end_s = one.instants.last().map_or(f64::NEG_INFINITY, |end| end.0);
            out.factors.push((end_s, (1.0 + one.mass * random.normal()).max(0.0)));
        }
        out
    }

    /// How far an instant moves, s, and the slope of that.
    fn by_s(&self, t_s: f64) -> (f64, f64) {
        let after = self.instants.partition_point(|(at_s, _)| *at_s < t_s);
        match (after.checked_sub(1).map(|k| self.instants[k]), self.instants.get(after)) {
            (Some((a_s, from_s)), Some(&(b_s, to_s))) => {
                let slope = (to_s - from_s) / (b_s - a_s);
                (from_s + slope * (t_s - a_s), slope)
            }
            (Some((_, by_s)), None) => (by_s, 0.0),
            (None, Some(&(_, by_s))) => (by_s, 0.0),
            (None, None) => (0.0, 0.0),
        }
    }

    /// Flow of a curve at an instant, with what is left out, g/s.
    pub(super) fn flow_at(&self, curve: &Curve, t_s: f64) -> f64 {
        let (by_s, slope) = self.by_s(t_s);
        let last = self.factors.last().map_or(1.0, |factor| factor.1);
        let factor = self.factors.iter().find(|(to_s, _)| t_s < *to_s).map_or(last, |factor| factor.1);
        factor * (1.0 - slope) * curve.flow_at(t_s - by_s)
    }
}

impl Source {
    /// None for pours without a fit of this trace, as those of an earlier version.
    pub(crate) fn of(trace: &Trace, segments: &Segments, plateau_inset_s: f64) -> Option<Self> {
        let fitted = match (used(trace), &segments.fit) {
            (Some(x), Some(fit)) if fit.fits(&x) => Some(Arc::new((x, Arc::clone(fit)))),
            _ if segments.pours.is_empty() => None,
            _ => return None,
        };
        Some(Self { fitted, plateau_inset_s, left_out: Arc::new(LeftOut::all(segments)) })
    }
}
