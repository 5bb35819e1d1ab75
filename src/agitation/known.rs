//! In: the options, the metadata and the stream's lead. Out: the known quantities of the stream besides its flow, or
//! the reason why one is missing.

use crate::agitation::options::{AgitationOptions, HIGHEST_M, WIDEST_M};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::extraction::given::dose;
use crate::extraction::options::ExtractionOptions;
use crate::log::meta::Meta;
use crate::math::dual::Dual;
use crate::math::water::properties as water;

/// Standard gravity, m/s2 (CGPM 1901, exact).
pub(super) const G_M_PER_S2: f64 = 9.806_65;

/// A number with its partial derivatives in flow, bore, height and lead.
pub(super) type Graded = Dual<4>;

/// The known quantities of the stream besides its flow.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub bore_m: Maybe,
    pub height_m: Maybe,
    /// Speed at the bed over g, s, if the scale identifies it.
    pub lead_s: Maybe,
    pub water: Result<Liquid, Undefined>,
    pub dose_g: Maybe,
}

/// Water at its temperature.
#[derive(Debug, Clone, Copy)]
pub(super) struct Liquid {
    pub density_kg_per_m3: f64,
    pub viscosity_pa_s: f64,
    pub tension_n_per_m: f64,
}

impl Liquid {
    pub(super) fn at(water_c: f64) -> crate::error::Result<Self> {
        Ok(Self {
            density_kg_per_m3: water::density_kg_per_m3(water_c)?,
            viscosity_pa_s: water::dynamic_viscosity_pa_s(water_c)?,
            tension_n_per_m: water::surface_tension_n_per_m(water_c)?,
        })
    }
}

impl Known {
    pub(super) fn new(meta: &Meta, lead_s: Maybe, o: &AgitationOptions) -> Self {
        let length = |name: &str, value, sd, high| {
            let value = stated(meta, &format!("{name}_m"), value, high)?;
            let value = value.ok_or_else(|| Undefined::because(format!("{name}_m was not given")))?;
            if value == 0.0 {
                return Err(Undefined::because(format!("{name}_m is 0")));
            }
            let sd = stated(meta, &format!("{name}_sd_m"), sd, high)?;
            Ok(Estimate::new(value, sd.unwrap_or(0.0)))
        };
        Self {
            bore_m: length("spout_bore", o.spout_bore_m, o.spout_bore_sd_m, WIDEST_M),
            height_m: length("fall_height", o.fall_height_m, o.fall_height_sd_m, HIGHEST_M),
            lead_s,
            water: liquid(meta),
            dose_g: dose(meta, ExtractionOptions::default().dose_sd_g),
        }
    }

    /// Whether the speed at the bed follows from stated quantities.
    pub(super) fn is_stated(&self) -> bool {
        self.bore_m.is_ok() && self.height_m.is_ok() && self.water.is_ok()
    }
}

/// The option, or the factor of that name in the log's metadata.
fn stated(meta: &Meta, name: &str, option: Option<f64>, high: f64) -> Result<Option<f64>, Undefined> {
    if option.is_some() {
        return Ok(option);
    }
    let Some(text) = meta.factors.get(name) else { return Ok(None) };
    let number = text.trim().parse::<f64>().ok().filter(|n| (0.0..=high).contains(n));
    let broken =
        || Undefined::because(format!("the factor {name} is {text:?}, not a length from 0 to {high} m"));
    number.map(Some).ok_or_else(broken)
}

fn liquid(meta: &Meta) -> Result<Liquid, Undefined> {
    let water_c = meta.water_c.ok_or_else(|| Undefined::because("water_c was not given"))?;
    Liquid::at(water_c).map_err(|why| Undefined::because(why.to_string()))
}

/// The reason if neither stated quantities nor the scale give the speed.
pub(super) fn neither(stated: &Undefined, scale: &Undefined) -> Undefined {
    Undefined::because(format!("{}, and the scale does not identify it: {}", stated.reason, scale.reason))
}
