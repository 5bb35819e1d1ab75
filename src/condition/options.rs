//! Options of the stage, with their ranges.

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::model::response::{MOST_S, ResponseSource, ScaleResponse};
use serde::{Deserialize, Serialize};

/// Options of [`condition`](fn@crate::condition).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ConditionOptions {
    /// How the scale shows a load, as `calibrate` finds it. Absent: estimated from the log by `segment`.
    pub scale: Option<ScaleResponse>,
    /// Short form of `scale` for a first-order lag: its time constant, s; 0 to 5.
    pub scale_lag_s: Option<f64>,
    /// Standard uncertainty of a given lag, s; 0 or more.
    pub scale_lag_sd_s: f64,
    /// Standard deviation of the scale's noise, g, quantisation included; above 0. Absent: estimated from the log.
    pub noise_sd_g: Option<f64>,
    /// No pour is faster than this, g/s; a faster rise is a knock or an added load. 1 to 1000.
    pub max_flow_g_per_s: f64,
    /// A pause between stamps longer than this is listed as a gap, s; above 0. It is also never shorter than 3 usual
    /// intervals.
    pub gap_s: f64,
    /// The zero key begins another brew if it is pressed in a pause of the water of at least this, s; above 0.
    pub brew_gap_s: f64,
    /// Whether all samples before the last zeroing ahead of the brew are preparation (rinse).
    pub zeroing_starts_brew: bool,
}

impl Default for ConditionOptions {
    fn default() -> Self {
        Self {
            scale: None,
            scale_lag_s: None,
            scale_lag_sd_s: 0.0,
            noise_sd_g: None,
            max_flow_g_per_s: 60.0,
            gap_s: 0.5,
            brew_gap_s: 120.0,
            zeroing_starts_brew: true,
        }
    }
}

impl ConditionOptions {
    /// The response that was given, if any.
    pub(crate) fn response(&self) -> Option<ScaleResponse> {
        let lag = |lag_s: f64| {
            let lag = ScaleResponse::lag(lag_s);
            ScaleResponse { delay_s: Estimate::new(lag_s, self.scale_lag_sd_s), ..lag }
        };
        let given = |scale: &ScaleResponse| match scale.source {
            ResponseSource::Calibrated => scale.clone(),
            _ => ScaleResponse { source: ResponseSource::Given, ..scale.clone() },
        };
        self.scale.as_ref().map(given).or_else(|| self.scale_lag_s.map(lag))
    }

    /// Refuses the first option outside its range.
    pub(crate) fn check(&self) -> Result<()> {
        let rule = |name: &str, value: f64, holds: bool, rule: &str| {
            if holds {
                return Ok(());
            }
            Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 })
        };
        let above_0 = |v: f64| v.is_finite() && v > 0.0;
        if let Some(lag) = self.scale_lag_s {
            rule("scale_lag_s", lag, (0.0..=MOST_S).contains(&lag), "it must be 0 to 5 s")?;
        }
        if let Some(scale) = &self.scale {
            let message = match self.scale_lag_s {
                Some(_) => Some("scale_lag_s is given too: state one of both"),
                None => scale.broken(),
            };
            if let Some(message) = message {
                return Err(Error::Argument { name: "scale".into(), message: message.into() });
            }
        }
        let sd = self.scale_lag_sd_s;
        rule("scale_lag_sd_s", sd, sd.is_finite() && sd >= 0.0, "it must be 0 s or more")?;
        if let Some(noise) = self.noise_sd_g {
            rule("noise_sd_g", noise, above_0(noise), "it must be above 0 g")?;
        }
        let flow = self.max_flow_g_per_s;
        rule("max_flow_g_per_s", flow, (1.0..=1000.0).contains(&flow), "it must be 1 to 1000 g/s")?;
        rule("gap_s", self.gap_s, above_0(self.gap_s), "it must be above 0 s")?;
        rule("brew_gap_s", self.brew_gap_s, above_0(self.brew_gap_s), "it must be above 0 s")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_option_outside_its_range_is_an_error_with_name_and_rule() {
        assert!(ConditionOptions::default().check().is_ok());
        let wrong = ConditionOptions { max_flow_g_per_s: 0.5, ..Default::default() };
        assert_eq!(
            wrong.check().unwrap_err().to_string(),
            "max_flow_g_per_s is 0.5: it must be 1 to 1000 g/s"
        );
        let wrong = ConditionOptions { scale_lag_s: Some(f64::NAN), ..Default::default() };
        assert_eq!(wrong.check().unwrap_err().kind(), "out_of_range");
    }

    #[test]
    fn each_option_is_checked_against_its_documented_range() {
        let with = |set: fn(&mut ConditionOptions, f64), value: f64| {
            let mut options = ConditionOptions::default();
            set(&mut options, value);
            options.check().is_ok()
        };
        let ends = [false, true, true, false];
        assert_eq!([-0.01, 0.0, 5.0, 5.01].map(|v| with(|o, v| o.scale_lag_s = Some(v), v)), ends);
        assert_eq!([-0.01, 0.0, 9.0, f64::INFINITY].map(|v| with(|o, v| o.scale_lag_sd_s = v, v)), ends);
        assert_eq!([0.0, 1e-9, 9.0, f64::INFINITY].map(|v| with(|o, v| o.noise_sd_g = Some(v), v)), ends);
        assert_eq!([0.99, 1.0, 1000.0, 1000.1].map(|v| with(|o, v| o.max_flow_g_per_s = v, v)), ends);
        assert_eq!([0.0, 1e-9, 9.0, f64::INFINITY].map(|v| with(|o, v| o.gap_s = v, v)), ends);
        assert_eq!([0.0, 1e-9, 9.0, f64::INFINITY].map(|v| with(|o, v| o.brew_gap_s = v, v)), ends);
    }
}
