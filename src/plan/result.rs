//! The comparison of a brew with a plan.

use crate::estimate::maybe;
use crate::estimate::{Estimate, Maybe};
use crate::log::meta::Meta;
use crate::plan::pour::PlannedPour;
use crate::plan::within::WithinTolerance;
use serde::{Deserialize, Serialize};

/// One planned pour and its deviations. A deviation is poured less planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedPourResult {
    /// The plan.
    pub planned: PlannedPour,
    /// Place of the pour in the brew, from 1; absent: the pour was missed.
    pub pour: Option<usize>,
    /// Start on the plan's clock, s: half-rise of the pour less that of the pour at which the clocks agree.
    #[serde(with = "maybe")]
    pub start_s: Maybe,
    /// Mass that arrived, g.
    #[serde(with = "maybe")]
    pub mass_g: Maybe,
    /// Flow on the plateau, g/s.
    #[serde(with = "maybe")]
    pub flow_g_per_s: Maybe,
    /// Start less planned start, s: above 0 is late.
    #[serde(with = "maybe")]
    pub start_deviation_s: Maybe,
    /// Poured mass less planned mass, g: above 0 is too much.
    #[serde(with = "maybe")]
    pub mass_deviation_g: Maybe,
    /// Flow less planned flow, g/s: above 0 is too fast.
    #[serde(with = "maybe")]
    pub flow_deviation_g_per_s: Maybe,
    /// Whether the start is within its tolerance; absent if there is no deviation.
    pub start_within_tolerance: Option<WithinTolerance>,
    /// Whether the mass is within its tolerance.
    pub mass_within_tolerance: Option<WithinTolerance>,
    /// Whether the flow is within its tolerance.
    pub flow_within_tolerance: Option<WithinTolerance>,
}

/// A pour that is not in the plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExtraPour {
    /// Place in the brew, from 1.
    pub pour: usize,
    /// Start on the plan's clock, s.
    #[serde(with = "maybe")]
    pub start_s: Maybe,
    /// Mass that arrived, g.
    pub mass_g: Estimate,
}

/// The comparison of a brew with a plan.
///
/// ```
/// use pourline::{ExtraPour, PlanResult, PlannedPourResult, Options, Plan, PlannedPour, Recipe, analyze, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let first = &brew.segments.pours[0];
/// let plan = Plan::new("the first pour alone", vec![PlannedPour::new(0.0, first.mass_g.value + 5.0)])?;
/// let followed: PlanResult = plan.follow(&brew)?;
/// let pour: &PlannedPourResult = &followed.pours[0];
/// let extra: &[ExtraPour] = &followed.extra;
/// assert!((pour.mass_deviation_g.as_ref().unwrap().value + 5.0).abs() < 1e-9);
/// assert_eq!(extra.len() + 1, brew.segments.pours.len());
/// assert!(followed.score.value < 0.5);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanResult {
    /// Name of the plan.
    pub plan: String,
    /// Metadata of the brew.
    pub meta: Meta,
    /// Zero of the plan's clock on the log's clock, s.
    #[serde(with = "maybe")]
    pub zero_s: Maybe,
    /// One row per planned pour, in the plan's order.
    pub pours: Vec<PlannedPourResult>,
    /// Pours that are not in the plan.
    pub extra: Vec<ExtraPour>,
    /// Agreement with the plan, 0 to 1: the mean over all items of `1/(1 + z^2)`, `z` the deviation in tolerances.
    ///
    /// Each planned pour has the items start (except the one that starts the clock), mass, and flow if the plan states
    /// one. The items of a missed pour count 0; a pour that is not in the plan adds two items that count 0.
    pub score: Estimate,
    /// The deviation to work on next, in a sentence; pours are numbered as in the plan.
    pub work_on: String,
}

impl PlanResult {
    /// Places of the missed pours in the plan, from 1.
    #[must_use]
    pub fn missed(&self) -> Vec<usize> {
        (1..).zip(&self.pours).filter(|(_, row)| row.pour.is_none()).map(|(place, _)| place).collect()
    }
}
