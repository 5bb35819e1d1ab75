//! In: the masses of a brew, its metadata, and the options of the balance. Out: the water that the bed retains, per
//! gram of dose, for both bed and extraction.

use crate::estimate::Maybe;
use crate::extraction::given::{all, finite, stated};
use crate::extraction::inputs::Inputs;
use crate::extraction::options::ExtractionOptions;
use crate::extraction::result::BeverageSource;
use crate::log::meta::Meta;

/// Water that the bed retains, per gram of dose.
pub(crate) struct Retained {
    /// Water less beverage, over dose, g/g: of this brew, or as stated if the beverage was not weighed.
    pub retention_g_per_g: Maybe,
    /// Retention plus the measured extracted mass, less the stated vapour, over dose, g/g.
    pub retained_water_g_per_g: Maybe,
}

impl Retained {
    /// From the weighed masses.
    pub(crate) fn weighed(
        meta: &Meta,
        water_g: &Maybe,
        beverage_g: &Maybe,
        options: &ExtractionOptions,
    ) -> Self {
        Self::of(&Inputs::gather(meta, water_g.clone(), beverage_g.clone(), options), options)
    }

    pub(super) fn of(inputs: &Inputs, options: &ExtractionOptions) -> Self {
        let retention_g_per_g = match inputs.source {
            Some(BeverageSource::FromRetention) => {
                stated("retention_g_per_g", options.retention_g_per_g, options.retention_sd_g_per_g)
            }
            _ => all([&inputs.at("water_g"), &inputs.beverage_g(), &inputs.at("dose_g")])
                .and_then(|[w, b, d]| finite("retention_g_per_g", w.minus(b).over(d))),
        };
        let retained_water_g_per_g =
            inputs.work_out("retained_water_g_per_g", &inputs.spent(), |b| b.retained_water_g_per_g());
        Self { retention_g_per_g, retained_water_g_per_g }
    }
}
