//! In: the curves of a pour. Out: its numbers, each with its sd.

use crate::estimate::{Estimate, Maybe};
use crate::model::recorded::record;
use crate::model::samples::Samples;
use crate::segment::covariance::{Covariance, END_S, HALF_FALL_S, HALF_RISE_S, MASS_G, START_S};
use crate::segment::curve::Curve;
use crate::segment::fitted::{Fit, Place};
use crate::segment::options::SegmentOptions;
use crate::segment::posterior::{Posterior, Read, places};
use crate::segment::pour::{Pour, Rest, has_halves};
use crate::segment::regimes::Changing;

/// Floors of the sd of a half-edge, of a start or an end, and of a mass, for shapes of a ramp that the model leaves out.
/// Set on hands of other ramps (`benches/worlds.rs`).
const HALF_SD_S: f64 = 0.007;
const FOOT_SD_S: f64 = 0.025;
pub(crate) const MASS_SD_G: f64 = 0.02;
/// Relative difference of the flows before and after the only reading in a pour.
const FLOW_CHANGE: f64 = 0.1;
/// Readings this near to an edge are checked against the model, s.
const NEAR_S: f64 = 1.0;
/// Mean square of their normalised innovations above which they contradict it.
const CONTRADICTS: f64 = 2.5;

/// Edges, mass and mean flow of a pour on one curve.
struct OnCurve {
    edges_s: (f64, f64),
    halves_s: Option<(f64, f64)>,
    mass_g: f64,
}

impl OnCurve {
    fn new(curve: &Curve, o: &SegmentOptions) -> Option<Self> {
        let edges_s = curve.passages(o.flow_g_per_s).filter(|(start_s, end_s)| end_s > start_s)?;
        let mass_g = curve.water_g(edges_s.0, edges_s.1);
        let mut out = Self { edges_s, halves_s: None, mass_g };
        out.halves_s = curve.passages((o.half * out.mean_flow()).max(o.flow_g_per_s));
        Some(out)
    }

    fn duration_s(&self) -> f64 {
        self.edges_s.1 - self.edges_s.0
    }

    /// Mass over duration, g/s.
    fn mean_flow(&self) -> f64 {
        self.mass_g / self.duration_s()
    }
}

/// A number of a pour on one curve; None if it is undefined.
type Number = fn(&OnCurve) -> Option<f64>;
const START: Number = |c| Some(c.edges_s.0);
const END: Number = |c| Some(c.edges_s.1);
const HALF_RISE: Number = |c| c.halves_s.map(|h| h.0);
const HALF_FALL: Number = |c| c.halves_s.map(|h| h.1);
const MASS: Number = |c| Some(c.mass_g);

/// The pours of a fitted log, their places, and their joint covariance.
pub(super) fn pours(
    x: &Samples,
    fit: &Fit,
    posterior: &Posterior,
    o: &SegmentOptions,
) -> (Vec<Pour>, Vec<Place>, Covariance) {
    let checks: Vec<Check> = (0..fit.groups.len()).map(|k| Check::new(x, fit, k)).collect();
    let (mut pours, mut covariance) = (Vec::new(), Covariance::default());
    let mut kept = Vec::new();
    for place in places(posterior, o) {
        let curves = posterior.within(place.group, place.span_s);
        let read = Read::new(&curves.drawn, |_, c| OnCurve::new(c, o));
        let check = &checks[place.group];
        let Some(mut pour) = pour(x, &read, check, o) else { continue };
        // A contradiction widens the sd of a pour; it does not make it noise.
        let unwidened_g = pour.mass_g.sd / check.worst(pour.start_s.value, pour.end_s.value);
        if pour.mass_g.value < o.mass_g || pour.mass_g.value <= 4.0 * unwidened_g {
            continue;
        }
        let found = Changing { fit, group: place.group, drawn: &curves.drawn };
        pour.flow_regimes =
            found.regimes(&pour, &|c| c.passages(o.flow_g_per_s), &|at| check.widened(at, HALF_SD_S));
        add(&mut covariance, pours.len(), &pour, place.group, &read);
        pours.push(pour);
        kept.push(place);
    }
    (pours, kept, covariance)
}

fn pour(x: &Samples, read: &Read<OnCurve>, check: &Check, o: &SegmentOptions) -> Option<Pour> {
    let number = |of: Number| read.extreme(of, "").ok();
    let (start_s, end_s, mass_g) = (number(START)?, number(END)?, number(MASS)?);
    let (duration_s, mean) = (number(|c| Some(c.duration_s()))?, number(|c| Some(c.mean_flow()))?);
    // What rounding leaves in the levels of rest and pour moves a half-edge, and hides the water of a foot: a ramp brings
    // q t^2 / 2r in its first time t.
    let hidden_s = (2.0 * x.rounding_var_g2).sqrt() / mean.value;
    let half_s = HALF_SD_S.hypot(hidden_s);
    let half = |of: Number| -> Maybe {
        has_halves(mean.value, o)?;
        read.extreme(of, "the flow does not pass half of its mean").map(|at| check.widened(at, half_s))
    };
    // A drift or a walk of the zero during the pour is indistinguishable from water.
    let drift_g = x.drift_sd_g_per_s * duration_s.value;
    let mass_sd_g = mass_g.sd.hypot(MASS_SD_G).hypot(drift_g).hypot((2.0 * x.rounding_var_g2).sqrt());
    // One or two readings in a pour do not identify a change of its flow.
    let readings = x.time_s.iter().filter(|t| (start_s.value..end_s.value).contains(*t)).count();
    let sparse_s = if readings > 2 { 0.0 } else { FLOW_CHANGE * duration_s.value / 2.0 };
    let foot_s = FOOT_SD_S.hypot(sparse_s).hypot((2.0 * hidden_s * o.ramp_s).sqrt());
    let both_feet_s = 2.0_f64.sqrt() * foot_s;
    let worst = check.worst(start_s.value, end_s.value);
    Some(Pour {
        half_rise_s: half(HALF_RISE),
        half_fall_s: half(HALF_FALL),
        start_s: check.widened(start_s, foot_s),
        end_s: check.widened(end_s, foot_s),
        mass_g: Estimate::new(mass_g.value, mass_sd_g * worst),
        mean_flow_g_per_s: Estimate::new(
            mean.value,
            mean.sd.hypot(mean.value * both_feet_s / duration_s.value) * worst,
        ),
        duration_s: Estimate::new(duration_s.value, duration_s.sd.hypot(both_feet_s) * worst),
        flow_regimes: Vec::new(),
    })
}

/// Adds the numbers of a pour to the covariance.
fn add(covariance: &mut Covariance, place: usize, pour: &Pour, group: usize, read: &Read<OnCurve>) {
    let numbers = [
        (START_S, Some(pour.start_s), START),
        (END_S, Some(pour.end_s), END),
        (HALF_RISE_S, pour.half_rise_s.clone().ok(), HALF_RISE),
        (HALF_FALL_S, pour.half_fall_s.clone().ok(), HALF_FALL),
        (MASS_G, Some(pour.mass_g), MASS),
    ];
    for (name, stated, of) in numbers {
        if let Some(stated) = stated {
            covariance.push((place, name), stated.sd, group, &read.deviations(of));
        }
    }
}

/// How far the readings contradict the model, along a group.
struct Check {
    /// Instants of the readings, and the squares of their normalised innovations.
    squares: Vec<(f64, f64)>,
    excess: f64,
}

impl Check {
    fn new(x: &Samples, fit: &Fit, k: usize) -> Self {
        let group = &fit.groups[k];
        let window = group.window(x);
        let Some(draw) = fit.draws.first() else { return Self { squares: Vec::new(), excess: 1.0 } };
        let recorded = record(&window, &draw.bursts[k], &fit.hand(0));
        let squares = window.time_s.iter().copied().zip(recorded.normalised().map(|z| z * z)).collect();
        Self { squares, excess: group.excess }
    }

    /// Factor of the sd of a number that depends on readings near an instant.
    fn factor(&self, at_s: f64) -> f64 {
        let near = self.squares.iter().filter(|(t, _)| (t - at_s).abs() < NEAR_S);
        let (sum, n) = near.fold((0.0, 0.0), |(sum, n), (_, z)| (sum + z, n + 1.0));
        let here = if n > 0.0 { sum / n } else { 1.0 };
        if here.max(self.excess) > CONTRADICTS { here.max(self.excess).sqrt() } else { 1.0 }
    }

    /// The larger of the factors at both edges.
    fn worst(&self, start_s: f64, end_s: f64) -> f64 {
        self.factor(start_s).max(self.factor(end_s))
    }

    fn widened(&self, at: Estimate, least_sd_s: f64) -> Estimate {
        Estimate::new(at.value, at.sd.hypot(least_sd_s) * self.factor(at.value))
    }
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
