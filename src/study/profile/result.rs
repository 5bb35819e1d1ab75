//! What a group of brews has in common, and who is in its middle and who is not.

use crate::estimate::{Estimate, Undefined};
use crate::study::profile::curve::LandmarkKind;
use crate::study::profile::options::{Align, Axis, ProfileOptions};
use crate::study::profile::outlier::Outlier;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// A band that holds the whole true mean curve with probability `level`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProfileBand {
    /// That probability.
    pub level: f64,
    /// How many sd of the mean it reaches to either side.
    pub factor: f64,
    /// Its lower edge, g/s; never below 0.
    pub low_g_per_s: Vec<f64>,
    /// Its upper edge, g/s.
    pub high_g_per_s: Vec<f64>,
}

/// A landmark that the brews were aligned on.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Landmark {
    /// Place of the pour in its brew, from 1.
    pub pour: usize,
    /// Which instant of it.
    pub kind: LandmarkKind,
    /// Mean over the brews, with the sd of that mean, in the unit of the axis.
    pub mean: Estimate,
    /// Sd between the brews, in the unit of the axis.
    pub sd: f64,
}

/// The mean flow of a group of brews with its band; see [`profile`](super::profile()).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Profile {
    /// Names of the brews, in the order given; a brew without a name is called by its place.
    pub brews: Vec<String>,
    /// What `position` is: time since the start of the first pour, or water poured since then.
    pub axis: Axis,
    /// What the brews were aligned on in the end.
    pub align: Align,
    /// What there is to say in words: why the alignment is not what was asked for, where the axis ends.
    pub warnings: Vec<String>,
    /// Places along the axis: s on the time axis, g on the water axis. All vectors have its length.
    pub position: Vec<f64>,
    /// Mean flow, g/s.
    pub flow_g_per_s: Vec<f64>,
    /// Sd between the brews, g/s, the scale's share in it included.
    pub flow_sd_g_per_s: Vec<f64>,
    /// What the scale and its noise alone would make of that sd, g/s.
    pub scale_sd_g_per_s: Vec<f64>,
    /// Share of the variance between the brews, over the whole axis, that the scale explains; 0 to 1.
    pub scale_share: f64,
    /// The simultaneous band, or why there is none.
    #[serde(with = "crate::estimate::maybe")]
    pub band: Result<ProfileBand, Undefined>,
    /// The landmarks that the brews were aligned on; none where only the first start was.
    pub landmarks: Vec<Landmark>,
    /// Index of the brew nearest to the middle: the least sum of distances to the others.
    pub middle: usize,
    /// For each brew the median of its distances to the others, g/s, aligned on the first start.
    pub distance_g_per_s: Vec<f64>,
    /// The brew that stands out, or why none does.
    #[serde(with = "crate::estimate::maybe")]
    pub odd: Result<Outlier, Undefined>,
    /// The options that led here.
    pub options: ProfileOptions,
}

impl Profile {
    /// A row a place of the axis; the band is NaN where there is none.
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
