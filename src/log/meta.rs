//! Metadata of a brew.

use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

rows! { $
/// What is known of a brew beside its weights; what is not known is None.
///
/// A number that needs a missing piece is undefined, with that as its reason.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Meta {
    /// Dry coffee, g.
    ///
    /// 0 or more; with 0 the yield is undefined.
    pub dose_g: Option<f64>,
    /// Standard uncertainty of the dose, g.
    ///
    /// 0 or more. Absent: a 0.1 g readout is assumed.
    pub dose_sd_g: Option<f64>,
    /// Strength of the beverage, percent by mass, measured.
    ///
    /// Above 0, at most 100.
    pub tds_pct: Option<f64>,
    /// Standard uncertainty of the strength, percentage points.
    ///
    /// 0 to 100. Absent: 0.03 is assumed.
    pub tds_sd_pct: Option<f64>,
    /// Brix of the beverage, percent, as read off a refractometer.
    ///
    /// Above 0, at most 100. Used if `tds_pct` is absent, with the stated factor of the options.
    pub brix_pct: Option<f64>,
    /// Standard uncertainty of the Brix reading, percentage points.
    ///
    /// 0 to 100. Absent: 0.03 is assumed.
    pub brix_sd_pct: Option<f64>,
    /// Temperature of the water poured, C.
    ///
    /// 0 to 100.
    pub water_c: Option<f64>,
    /// Name of the brew, such as its file's name.
    pub name: Option<String>,
    /// Coffee.
    pub coffee: Option<String>,
    /// Roast.
    pub roast: Option<String>,
    /// Grinder.
    pub grinder: Option<String>,
    /// Setting of the grinder, as written on it.
    pub grinder_setting: Option<String>,
    /// Kettle.
    pub kettle: Option<String>,
    /// Brewer.
    pub brewer: Option<String>,
    /// Who poured.
    pub person: Option<String>,
    /// Scale or logger.
    pub device: Option<String>,
    /// Free text.
    pub note: Option<String>,
    /// The first stamp of the log as it was written, if it was a date and time.
    pub started_at: Option<String>,
    /// Further factors by name, such as `day`.
    pub factors: BTreeMap<String, String>,
}
}
