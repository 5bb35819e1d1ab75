//! The difference of two mean flows: band, landmarks, and what they say.

use crate::estimate::{Estimate, Undefined};
use crate::rows::rows;
use crate::study::profile::curve::LandmarkKind;
use crate::study::profile::options::{Align, Axis};
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

rows! { $
/// A landmark of two groups, compared; interval and p hold for all landmarks together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct LandmarkDifference {
    /// Number of the pour in its brew, from 1.
    pub pour: usize,
    /// Instant of the pour.
    pub kind: LandmarkKind,
    /// Mean over the brews of the first group, in the unit of the axis.
    pub a: f64,
    /// Mean over the brews of the second group, in the unit of the axis.
    pub b: f64,
    /// Second less first within blocks, with its standard error, in the unit of the axis.
    pub difference: Estimate,
    /// Interval of the difference, simultaneous for all landmarks.
    pub interval: Result<[f64; 2], Undefined>,
    /// p of no difference, by dealing, for all landmarks together.
    pub p: Maybe,
}
}

rows! { $
/// The difference of the mean flows of two groups on common landmarks, with a simultaneous band.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProfileDifference {
    /// Name of the first group.
    pub a: String,
    /// Name of the second group.
    pub b: String,
    /// Number of brews of the two groups.
    pub brews: [usize; 2],
    /// Blocking factors: groups are compared and dealt within each combination of their levels.
    pub blocks: Vec<String>,
    /// Axis of `position`: time since the start of the first pour, or water poured since then.
    pub axis: Axis,
    /// Alignment of the brews, as applied.
    pub align: Align,
    /// Warnings: another alignment than the requested one, an early end of the axis, brews without a counterpart.
    pub warnings: Vec<String>,
    /// Positions along the common axis, in s or g; each array has this length.
    pub position: Vec<f64>,
    /// Mean flow of the first group, g/s.
    pub a_flow_g_per_s: Vec<f64>,
    /// Mean flow of the second group, g/s.
    pub b_flow_g_per_s: Vec<f64>,
    /// Second less first within blocks, g/s.
    pub difference_g_per_s: Vec<f64>,
    /// Lower edge of the simultaneous band of the difference, or the reason for none, g/s.
    pub low_g_per_s: Result<Vec<f64>, Undefined>,
    /// Upper edge of the band, or the reason for none, g/s.
    pub high_g_per_s: Result<Vec<f64>, Undefined>,
    /// Simultaneous coverage of the band.
    pub level: f64,
    /// p of no difference anywhere, by dealing: at most 1 - level if, and only if, the band leaves zero.
    pub p: Maybe,
    /// Number of distinct ways to deal the groups within blocks.
    pub arrangements: f64,
    /// Parts of the axis in which the band leaves zero, each from its first to its last position.
    pub stretches: Vec<[f64; 2]>,
    /// Landmarks of the two groups, compared; none if only the first start was aligned.
    pub landmarks: Vec<LandmarkDifference>,
    /// What the difference means, in a sentence.
    pub says: String,
}
}

impl ProfileDifference {
    /// Parts of the axis in which the band leaves zero.
    pub(super) fn beyond_zero(&self) -> Vec<[f64; 2]> {
        let (Ok(low), Ok(high)) = (&self.low_g_per_s, &self.high_g_per_s) else { return Vec::new() };
        let side = |j: usize| i8::from(low[j] > 0.0) - i8::from(high[j] < 0.0);
        let (mut found, mut last): (Vec<[f64; 2]>, i8) = (Vec::new(), 0);
        for (j, &x) in self.position.iter().enumerate() {
            let now = side(j);
            match found.last_mut() {
                Some(stretch) if now != 0 && now == last => stretch[1] = x,
                _ if now != 0 => found.push([x, x]),
                _ => {}
            }
            last = now;
        }
        found
    }

    pub(super) fn sentence(&self) -> String {
        let Self { a, b, .. } = self;
        let p = match &self.p {
            Ok(p) if p.value < 0.001 => "p below 0.001".to_string(),
            Ok(p) => format!("p {:.3}", p.value),
            Err(why) => return format!("{b} less {a}: no band: {}", why.reason),
        };
        let unit = if self.axis == Axis::Time { "s" } else { "g" };
        if self.stretches.is_empty() {
            return format!("No difference of the mean flows of {a} and {b} is shown ({p}).");
        }
        let at = |x: f64| self.position.partition_point(|&p| p < x - 1e-9);
        let largest = |&[from, to]: &[f64; 2]| {
            let values = &self.difference_g_per_s[at(from)..=at(to).min(self.position.len() - 1)];
            values.iter().copied().fold(0.0, |most: f64, d| if d.abs() > most.abs() { d } else { most })
        };
        let (peak, stretch) = self
            .stretches
            .iter()
            .map(|stretch| (largest(stretch), stretch))
            .max_by(|x, y| x.0.abs().total_cmp(&y.0.abs()))
            .unwrap_or((0.0, &[0.0; 2]));
        let way = if peak > 0.0 { "harder" } else { "more gently" };
        let more = match self.stretches.len() - 1 {
            0 => String::new(),
            1 => "; one more part differs".to_string(),
            n => format!("; {n} more parts differ"),
        };
        let [from, to] = stretch;
        format!(
            "{b} pours {way} than {a} from {from:.1} to {to:.1} {unit}, by {:.1} g/s at most ({p}){more}.",
            peak.abs()
        )
    }

    /// One row per position; the band is NaN if there is none.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let (name, unit) = match self.axis {
            Axis::Time => ("time_s", "s"),
            Axis::Water => ("water_g", "g"),
        };
        let edge = |of: &Result<Vec<f64>, Undefined>| {
            Values::Number(of.clone().unwrap_or_else(|_| vec![f64::NAN; self.position.len()]))
        };
        table.push(name, unit, Values::Number(self.position.clone()));
        table.push("a_flow_g_per_s", "g/s", Values::Number(self.a_flow_g_per_s.clone()));
        table.push("b_flow_g_per_s", "g/s", Values::Number(self.b_flow_g_per_s.clone()));
        table.push("difference_g_per_s", "g/s", Values::Number(self.difference_g_per_s.clone()));
        table.push("difference_low_g_per_s", "g/s", edge(&self.low_g_per_s));
        table.push("difference_high_g_per_s", "g/s", edge(&self.high_g_per_s));
        table
    }
}
