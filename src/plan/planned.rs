//! In: numbers. Out: a [`Plan`] that can be poured, or the rule that it breaks.

use crate::error::{Error, Result};
use crate::plan::pour::PlannedPour;
use crate::plan::written::Written;
use serde::{Deserialize, Serialize};

/// The planned pours of a brew.
///
/// ```
/// use pourline::{Plan, PlannedPour};
/// let plan = Plan::new("two of sixty", vec![PlannedPour::new(0.0, 60.0), PlannedPour::new(45.0, 60.0)])?;
/// assert_eq!((plan.name(), plan.pours().len()), ("two of sixty", 2));
/// let late = Plan::new("", vec![PlannedPour::new(5.0, 60.0)]).unwrap_err();
/// assert_eq!(late.to_string(), "pour 1, start_s is 5: the plan's clock starts with its first pour, so it must be 0");
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "Written<f64>")]
pub struct Plan {
    name: String,
    #[serde(rename = "pour")]
    pours: Vec<PlannedPour>,
}

/// A number that breaks a rule of a plan.
pub(super) struct Fault {
    /// Which pour, from 0.
    pub pour: usize,
    pub key: &'static str,
    pub value: f64,
    pub rule: String,
}

impl Plan {
    /// A plan of pours, in the order of their starts.
    ///
    /// # Errors
    /// `argument` without a pour; `out_of_range` for a first start that is not 0, starts that do not increase, a pour
    /// that would still run when the next one starts, and numbers that are not above 0.
    pub fn new(name: impl Into<String>, pours: Vec<PlannedPour>) -> Result<Self> {
        if pours.is_empty() {
            return Err(Error::Argument { name: "pour".into(), message: "a plan needs at least one".into() });
        }
        match fault(&pours) {
            None => Ok(Self { name: name.into(), pours }),
            Some(Fault { pour, key, value, rule }) => {
                Err(Error::OutOfRange { name: format!("pour {}, {key}", pour + 1), value, rule, row: 0 })
            }
        }
    }

    /// Its name; empty if it has none.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its pours, in order.
    #[must_use]
    pub fn pours(&self) -> &[PlannedPour] {
        &self.pours
    }
}

/// The first number that breaks a rule.
pub(super) fn fault(pours: &[PlannedPour]) -> Option<Fault> {
    for (pour, p) in pours.iter().enumerate() {
        let broken = |key, value, rule: String| Some(Fault { pour, key, value, rule });
        for (key, value) in p.numbers() {
            let Some(value) = value else { continue };
            if !value.is_finite() {
                return broken(key, value, "it must be a finite number".into());
            }
            if !["start_s", "pauses"].contains(&key) && value <= 0.0 {
                return broken(key, value, "it must be above 0".into());
            }
            if key == "pauses" && (value < 0.0 || value.fract() != 0.0) {
                return broken(key, value, "it must be a whole number from 0".into());
            }
            if key == "time_near_plateau_pct" && value > 100.0 {
                return broken(key, value, "it must be at most 100".into());
            }
        }
        let Some(before) = pour.checked_sub(1).map(|k| &pours[k]) else {
            if p.start_s != 0.0 {
                let rule = "the plan's clock starts with its first pour, so it must be 0";
                return broken("start_s", p.start_s, rule.into());
            }
            continue;
        };
        if p.start_s <= before.start_s {
            let rule = format!("it must be later than that of pour {pour}, {} s", before.start_s);
            return broken("start_s", p.start_s, rule);
        }
        let ends_s = before.start_s + before.flow_g_per_s.map_or(0.0, |flow| before.mass_g / flow);
        if p.start_s < ends_s {
            let (mass_g, flow) = (before.mass_g, before.flow_g_per_s.unwrap_or_default());
            let rule = format!(
                "pour {pour} still runs: {mass_g} g at {flow} g/s last until {ends_s:.1} s; start later, \
                 pour less or faster"
            );
            return broken("start_s", p.start_s, rule);
        }
    }
    None
}

impl TryFrom<Written<f64>> for Plan {
    type Error = Error;

    fn try_from(written: Written<f64>) -> Result<Self> {
        let pours = written.pours(|number| *number);
        Self::new(written.name, pours)
    }
}
