//! In: two brews. Out: the distance of their flows, divided into parts of flow and of timing.
//!
//! Method: root mean square difference of the flows over time, before and after landmark registration of both to the
//! pair's mean; the part that registration removes is timing (the decomposition of Kneip and Ramsay 2008, J. Am. Stat.
//! Assoc. 103, 1155, for a pair).

use crate::brew::result::Brew;
use crate::error::Result;
use crate::estimate::{Estimate, Undefined};
use crate::rows::rows;
use crate::study::profile::curve::{Curve, Mark};
use crate::study::profile::options::{Align, Axis};
use crate::study::profile::warp::Alignment;
use serde::{Deserialize, Serialize};

/// Step of the sums over time, s: finer than the ramps of a hand-poured flow.
const STEP_S: f64 = 0.02;

rows! { $
/// Distance of two brews: symmetric, 0 for a brew and itself.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Distance {
    /// Root mean square difference of the flows, first starts aligned, g/s.
    ///
    /// The mean is taken over the mean time from the first start to the last end.
    pub flow_g_per_s: f64,
    /// Distance of two equal pours from measurement noise only, g/s.
    ///
    /// A distance near it is not evidence of a difference.
    pub noise_g_per_s: f64,
    /// The parts of the distance, or the reason for none: different numbers of pours.
    pub parts: Result<DistanceParts, Undefined> { hidden },
}
}

/// The parts of a distance: flow and timing.
///
/// `flow_g_per_s` squared is the sum of the first two squared, if alignment reduces the distance.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DistanceParts {
    /// Distance after alignment of start, half-rise, half-fall and end of every pour, g/s: higher or lower flow.
    pub amplitude_g_per_s: f64,
    /// The part that the alignment removes, g/s: timing and duration.
    pub timing_g_per_s: f64,
    /// Root of the mean square difference of the instants of half-rise and half-fall, counted from the first start, s.
    pub timing_s: Estimate,
}

/// The distance between the flows of two brews.
///
/// ```
/// use pourline::study::DistanceParts;
/// use pourline::{Distance, Options, Recipe, analyze, distance, simulate};
/// let brew = |seed| analyze(&simulate(&Recipe::default(), seed)?.0, &Options::default());
/// let (one, other) = (brew(1)?, brew(2)?);
/// let apart: Distance = distance(&one, &other)?;
/// assert_eq!(apart, distance(&other, &one)?);
/// assert!(apart.flow_g_per_s > apart.noise_g_per_s);
/// let none: DistanceParts = distance(&one, &one)?.parts.unwrap();
/// assert_eq!((none.amplitude_g_per_s, none.timing_g_per_s, none.timing_s.value), (0.0, 0.0, 0.0));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` for a brew without flow or pours.
pub fn distance(one: &Brew, other: &Brew) -> Result<Distance> {
    let pair = [Curve::new(one, 0, Axis::Time)?, Curve::new(other, 1, Axis::Time)?];
    let apart = whole(&pair[0], &pair[1], &Alignment::new(&pair, Align::Start));
    let alignment = Alignment::new(&pair, Align::Landmarks);
    let parts = match alignment.note {
        Some(why) => Err(Undefined::because(why)),
        None => {
            let amplitude_g_per_s = whole(&pair[0], &pair[1], &alignment).0;
            let timing = apart.0.powi(2) - amplitude_g_per_s.powi(2);
            let timing_s = instants(&pair);
            Ok(DistanceParts { amplitude_g_per_s, timing_g_per_s: timing.max(0.0).sqrt(), timing_s })
        }
    };
    Ok(Distance { flow_g_per_s: apart.0, noise_g_per_s: apart.1, parts })
}

/// Distances of all pairs, aligned on the first start, g/s.
pub(super) fn between(curves: &[Curve]) -> Vec<Vec<f64>> {
    let last = curves.iter().map(Curve::end).fold(0.0, f64::max);
    let seen: Vec<Vec<f64>> = curves.iter().map(|c| places(last).map(|x| c.at(x).0).collect()).collect();
    let mut all = vec![vec![0.0; curves.len()]; curves.len()];
    for i in 0..curves.len() {
        for j in 0..i {
            let pairs = places(curves[i].end().max(curves[j].end())).zip(seen[i].iter().zip(&seen[j]));
            let square = pairs.map(|(_, (a, b))| (a - b).powi(2)).sum::<f64>();
            let apart = over_time(square, &curves[i], &curves[j]);
            (all[i][j], all[j][i]) = (apart, apart);
        }
    }
    all
}

/// Root mean square of the difference, and of the noise in it.
fn whole(a: &Curve, b: &Curve, alignment: &Alignment) -> (f64, f64) {
    let (mut apart, mut noise) = (0.0, 0.0);
    for x in places(alignment.last_end) {
        let (one, other) = (a.at(alignment.own_place(0, x)), b.at(alignment.own_place(1, x)));
        apart += (one.0 - other.0).powi(2);
        noise += one.1.powi(2) + other.1.powi(2);
    }
    (over_time(apart, a, b), over_time(noise, a, b))
}

/// The middles of steps from the first start on.
fn places(last: f64) -> impl Iterator<Item = f64> {
    let count = (last.max(0.0) / STEP_S).ceil() as usize;
    (0..count).map(|k| (k as f64 + 0.5) * STEP_S)
}

fn over_time(sum: f64, a: &Curve, b: &Curve) -> f64 {
    let long_s = f64::midpoint(a.end(), b.end()).max(STEP_S);
    (sum * STEP_S / long_s).sqrt()
}

/// Root mean square difference of the halves, its sd to first order (JCGM 100:2008, 5.1.2).
fn instants(pair: &[Curve; 2]) -> Estimate {
    use crate::study::profile::curve::{LandmarkKind::HalfFall, LandmarkKind::HalfRise};
    let half = |mark: &&Mark| matches!(mark.kind, HalfRise | HalfFall);
    let apart = |(a, b): (&Mark, &Mark)| a.at.minus(b.at);
    let all: Vec<Estimate> =
        pair[0].marks.iter().filter(half).zip(pair[1].marks.iter().filter(half)).map(apart).collect();
    let n = all.len() as f64;
    let square: f64 = all.iter().map(|e| e.value * e.value).sum();
    let variance = if square > 0.0 {
        all.iter().map(|e| (e.value * e.sd).powi(2)).sum::<f64>() / square / n
    } else {
        all.iter().map(|e| e.sd * e.sd).sum::<f64>() / n
    };
    Estimate::new((square / n).sqrt(), variance.sqrt())
}
