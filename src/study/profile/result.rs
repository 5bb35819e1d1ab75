//! The profile of a group of brews: mean flow, band, medoid and outlier.

use crate::estimate::Estimate;
use crate::rows::rows;
use crate::study::profile::curve::LandmarkKind;
use crate::study::profile::options::{Align, Axis, ProfileOptions};
use crate::study::profile::outlier::Outlier;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// A simultaneous band: it contains the true mean curve with probability `level`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProfileBand {
    /// Simultaneous coverage of the band.
    pub level: f64,
    /// Half-width in sd of the mean.
    pub factor: f64,
    /// Lower edge, g/s; never below 0.
    pub low_g_per_s: Vec<f64>,
    /// Upper edge, g/s.
    pub high_g_per_s: Vec<f64>,
}

rows! { $
/// A landmark that the brews of a profile were aligned on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Landmark {
    /// Number of the pour in its brew, from 1.
    pub pour: usize,
    /// Instant of the pour.
    pub kind: LandmarkKind,
    /// Mean over the brews, with the sd of that mean, in the unit of the axis.
    pub mean: Estimate,
    /// Sd between the brews, in the unit of the axis.
    pub sd: f64,
}
}

rows! { $
/// The mean flow of a group of brews, with a simultaneous band of a stated coverage.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// Names of the brews, in the order given; a brew without a name is named by its index.
    pub brews: Vec<String>,
    /// Axis of `position`: time since the start of the first pour, or water poured since then.
    pub axis: Axis,
    /// Alignment of the brews, as applied.
    pub align: Align,
    /// Warnings: another alignment than the requested one, or an early end of the axis.
    pub warnings: Vec<String>,
    /// Positions along the axis, in s or g; each array has this length.
    pub position: Vec<f64>,
    /// Mean flow of the brews, g/s.
    pub flow_g_per_s: Vec<f64>,
    /// Sd between the brews, the scale's share included, g/s.
    pub flow_sd_g_per_s: Vec<f64>,
    /// Measurement part of that sd, from the scale and its noise, g/s.
    pub scale_sd_g_per_s: Vec<f64>,
    /// Share of measurement in the variance between the brews, over the whole axis; 0 to 1.
    pub scale_share: f64,
    /// The simultaneous band, or the reason for none.
    pub band: Result<ProfileBand, Undefined> { hidden },
    /// Landmarks that the brews were aligned on; none if only the first start was.
    pub landmarks: Vec<Landmark>,
    /// Index of the medoid: the brew with the least sum of distances to the others.
    pub middle: usize,
    /// For each brew the median of its distances to the others, aligned on the first start, g/s.
    pub distance_g_per_s: Vec<f64>,
    /// The outlier among the brews, or the reason for none.
    pub odd: Result<Outlier, Undefined>,
    /// The options of this profile.
    pub options: ProfileOptions { hidden },
}
}

impl Profile {
    /// One row per point of the axis; the band is NaN if there is none.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let (name, unit) = match self.axis {
            Axis::Time => ("time_s", "s"),
            Axis::Water => ("water_g", "g"),
        };
        let edge = |of: fn(&ProfileBand) -> &Vec<f64>| {
            self.band.as_ref().map_or_else(|_| vec![f64::NAN; self.position.len()], |band| of(band).clone())
        };
        table.push(name, unit, Values::Number(self.position.clone()));
        table.push("flow_g_per_s", "g/s", Values::Number(self.flow_g_per_s.clone()));
        table.push("flow_sd_g_per_s", "g/s", Values::Number(self.flow_sd_g_per_s.clone()));
        table.push("scale_sd_g_per_s", "g/s", Values::Number(self.scale_sd_g_per_s.clone()));
        table.push("low_g_per_s", "g/s", Values::Number(edge(|b| &b.low_g_per_s)));
        table.push("high_g_per_s", "g/s", Values::Number(edge(|b| &b.high_g_per_s)));
        table
    }
}
