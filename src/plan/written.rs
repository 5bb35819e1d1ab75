//! The plan as in a file. `N` is a number, with or without its place in the text.

use crate::plan::pour::PlannedPour;
use serde::Deserialize;

/// A plan; tolerances that a pour omits are those at the top, or the defaults.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Written<N> {
    #[serde(default)]
    pub name: String,
    pub start_within_s: Option<N>,
    pub mass_within_g: Option<N>,
    pub flow_within_g_per_s: Option<N>,
    pub time_near_plateau_within_pct: Option<N>,
    #[serde(default = "Vec::new")]
    pub pour: Vec<WrittenPour<N>>,
}

/// One pour of it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct WrittenPour<N> {
    pub start_s: N,
    pub start_within_s: Option<N>,
    pub mass_g: N,
    pub mass_within_g: Option<N>,
    pub flow_g_per_s: Option<N>,
    pub flow_within_g_per_s: Option<N>,
    pub time_near_plateau_pct: Option<N>,
    pub time_near_plateau_within_pct: Option<N>,
    pub pauses: Option<N>,
}

impl<N> Written<N> {
    /// The number that stands for a key of a pour, if one was written.
    pub fn number(&self, pour: usize, key: &str) -> Option<&N> {
        let p = self.pour.get(pour)?;
        match key {
            "start_s" => Some(&p.start_s),
            "mass_g" => Some(&p.mass_g),
            "flow_g_per_s" => p.flow_g_per_s.as_ref(),
            "time_near_plateau_pct" => p.time_near_plateau_pct.as_ref(),
            "pauses" => p.pauses.as_ref(),
            "time_near_plateau_within_pct" => {
                p.time_near_plateau_within_pct.as_ref().or(self.time_near_plateau_within_pct.as_ref())
            }
            "start_within_s" => p.start_within_s.as_ref().or(self.start_within_s.as_ref()),
            "mass_within_g" => p.mass_within_g.as_ref().or(self.mass_within_g.as_ref()),
            _ => p.flow_within_g_per_s.as_ref().or(self.flow_within_g_per_s.as_ref()),
        }
    }

    /// The pours with omitted values filled in.
    pub fn pours(&self, value: impl Fn(&N) -> f64) -> Vec<PlannedPour> {
        let of = |pour, key| self.number(pour, key).map(&value);
        let one = |(k, p): (usize, &WrittenPour<N>)| {
            let plain = PlannedPour::new(value(&p.start_s), value(&p.mass_g));
            PlannedPour {
                flow_g_per_s: of(k, "flow_g_per_s"),
                start_within_s: of(k, "start_within_s").unwrap_or(plain.start_within_s),
                mass_within_g: of(k, "mass_within_g").unwrap_or(plain.mass_within_g),
                flow_within_g_per_s: of(k, "flow_within_g_per_s").unwrap_or(plain.flow_within_g_per_s),
                time_near_plateau_pct: of(k, "time_near_plateau_pct"),
                time_near_plateau_within_pct: of(k, "time_near_plateau_within_pct")
                    .unwrap_or(plain.time_near_plateau_within_pct),
                pauses: of(k, "pauses"),
                ..plain
            }
        };
        self.pour.iter().enumerate().map(one).collect()
    }
}
