//! The mean flow of a group of brews.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::study::profile::curve::{Curve, LandmarkKind};
use crate::study::profile::options::{Align, Axis, ProfileOptions};
use crate::study::profile::result::{Landmark, Profile, ProfileBand};
use crate::study::profile::warp::Alignment;
use crate::study::profile::{band, curve, distance, outlier};
use std::borrow::Borrow;

/// Fewest brews for a band: with fewer, their sd is too uncertain.
const FEWEST_FOR_BAND: usize = 4;
/// Margin of the time axis before the first start and after the last end, s.
const AROUND_S: f64 = 1.0;
/// Largest number of points on the axis; more are taken for a mistake in the step.
const MOST_PLACES: f64 = 1e6;

/// The mean flow of a group of brews, with a simultaneous band that contains the true mean curve with probability
/// `level`.
///
/// With `align` at landmarks the curve is the mean of the flows at the same phase of the same pour, and the band is
/// one of flow. The uncertainty of the landmarks is in `landmarks`. Brews with different numbers of pours are aligned
/// on the first start only, with a warning.
///
/// ```
/// use pourline::study::{Landmark, ProfileBand};
/// use pourline::{Options, Profile, ProfileOptions, Recipe, analyze_many, profile, simulate};
/// let mut recipe = Recipe::default();
/// recipe.hand.pours = [3, 3];
/// let logs: Vec<_> = (0..6).map(|seed| simulate(&recipe, seed).unwrap().0).collect();
/// let brews: Vec<_> = analyze_many(&logs, &Options::default()).into_iter().collect::<pourline::Result<_>>()?;
/// let found: Profile = profile(&brews, &ProfileOptions::default())?;
/// let band: &ProfileBand = found.band.as_ref().unwrap();
/// assert!(band.low_g_per_s.iter().zip(&found.flow_g_per_s).all(|(low, mean)| low <= mean));
/// let last: &Landmark = found.landmarks.last().unwrap();
/// assert_eq!(last.pour, 3);
/// assert_eq!(found.table().rows(), found.position.len());
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` for fewer than two brews, a brew without flow or pours; `out_of_range` for an option outside its range.
pub fn profile<B: Borrow<Brew>>(brews: &[B], options: &ProfileOptions) -> Result<Profile> {
    options.check()?;
    let brews: Vec<&Brew> = brews.iter().map(Borrow::borrow).collect();
    if brews.len() < 2 {
        let message = format!("a profile needs at least two brews, and there are {}", brews.len());
        return Err(Error::Argument { name: "brews".into(), message });
    }
    let curves: Vec<Curve> =
        brews.iter().enumerate().map(|(i, b)| Curve::new(b, i, options.axis)).collect::<Result<_>>()?;
    let alignment = Alignment::new(&curves, options.align);
    let mut warnings: Vec<String> = alignment.note.iter().cloned().collect();
    let position = grid(&alignment, options, &mut warnings)?;
    let (mut flows, mut scale_variance) = (Vec::with_capacity(curves.len()), vec![0.0; position.len()]);
    for (i, curve) in curves.iter().enumerate() {
        let seen = position.iter().map(|&x| curve.at(alignment.own_place(i, x)));
        let (flow, sd): (Vec<f64>, Vec<f64>) = seen.unzip();
        for (sum, sd) in scale_variance.iter_mut().zip(sd) {
            *sum += sd * sd / curves.len() as f64;
        }
        flows.push(flow);
    }
    let middle = band::middle(&flows);
    let (of_scale, in_all) =
        (scale_variance.iter().sum::<f64>(), middle.sd.iter().map(|s| s * s).sum::<f64>());
    let distances = distance::between(&curves_in_time(&brews, &curves, options.axis)?);
    Ok(Profile {
        brews: brews.iter().enumerate().map(|(i, b)| curve::name(b, i)).collect(),
        axis: options.axis,
        align: alignment.on,
        warnings,
        flow_sd_g_per_s: middle.sd.clone(),
        scale_sd_g_per_s: scale_variance.iter().map(|v| v.sqrt()).collect(),
        scale_share: if in_all > of_scale { of_scale / in_all } else { 1.0 },
        band: banded(&flows, &middle, alignment.on, options.level),
        landmarks: landmarks(&alignment),
        middle: outlier::middle(&distances),
        distance_g_per_s: outlier::typical(&distances),
        odd: outlier::odd(&brews, &distances),
        flow_g_per_s: middle.mean,
        position,
        options: options.clone(),
    })
}

/// The axis. On water it ends at the smallest water of any brew: beyond it that brew has no flow.
pub(super) fn grid(
    alignment: &Alignment,
    options: &ProfileOptions,
    warnings: &mut Vec<String>,
) -> Result<Vec<f64>> {
    let (from, to) = match options.axis {
        Axis::Time => (-AROUND_S, alignment.last_end + AROUND_S),
        Axis::Water => (0.0, alignment.first_end),
    };
    if options.axis == Axis::Water && alignment.last_end - alignment.first_end > options.step_g {
        warnings.push(format!(
            "the axis ends at {to:.0} g, the smallest water of a brew; the largest is {:.0} g",
            alignment.last_end
        ));
    }
    let places = (to - from) / options.step();
    if !(0.0..=MOST_PLACES).contains(&places) {
        let message = format!(
            "an axis from {from} to {to} in steps of {} is not possible; change the step",
            options.step()
        );
        return Err(Error::Argument { name: "profile.step".into(), message });
    }
    Ok((0..=places.floor() as usize).map(|k| from + k as f64 * options.step()).collect())
}

/// Distances of brews are taken over time, whatever the axis of the profile.
fn curves_in_time(brews: &[&Brew], curves: &[Curve], axis: Axis) -> Result<Vec<Curve>> {
    match axis {
        Axis::Time => Ok(curves.to_vec()),
        Axis::Water => brews.iter().enumerate().map(|(i, b)| Curve::new(b, i, Axis::Time)).collect(),
    }
}

fn banded(
    flows: &[Vec<f64>],
    middle: &band::Middle,
    align: Align,
    level: f64,
) -> std::result::Result<ProfileBand, Undefined> {
    let n = flows.len();
    if n < FEWEST_FOR_BAND {
        let why = format!("{n} brews are too few for a band: at least {FEWEST_FOR_BAND} are needed");
        return Err(Undefined::because(why));
    }
    let (factor, half) = band::band(flows, middle, align, level);
    let edge = |side: f64| middle.mean.iter().zip(&half).map(move |(m, h)| (m + side * h).max(0.0)).collect();
    Ok(ProfileBand { level, factor, low_g_per_s: edge(-1.0), high_g_per_s: edge(1.0) })
}

fn landmarks(alignment: &Alignment) -> Vec<Landmark> {
    let n = alignment.own.len() as f64;
    let one = |(k, &(kind, pour)): (usize, &(LandmarkKind, usize))| {
        let mean = alignment.mean[k];
        let sum: f64 = alignment.own.iter().map(|own| (own[k] - mean).powi(2)).sum();
        let sd = (sum / (n - 1.0)).sqrt();
        Landmark { pour: pour + 1, kind, mean: Estimate::new(mean, sd / n.sqrt()), sd }
    };
    alignment.landmarks.iter().enumerate().map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_landmark_has_the_sd_of_the_brews_and_that_of_their_mean() {
        let alignment = Alignment {
            on: Align::Landmarks,
            note: None,
            landmarks: vec![(LandmarkKind::HalfRise, 1)],
            mean: vec![12.0],
            own: vec![vec![10.0], vec![12.0], vec![14.0]],
            last_end: 0.0,
            first_end: 0.0,
        };
        // Squares 4 + 4 on two degrees; of the mean of three.
        let found = &landmarks(&alignment)[0];
        assert_eq!((found.pour, found.sd, found.mean.value), (2, 2.0, 12.0));
        assert!((found.mean.sd - 2.0 / 3.0_f64.sqrt()).abs() < 1e-12);
    }
}
