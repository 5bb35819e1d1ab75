//! The comparison of a brew with a plan.

use crate::estimate::Estimate;
use crate::log::meta::Meta;
use crate::plan::pour::PlannedPour;
use crate::plan::within::WithinTolerance;
use crate::rows::rows;
use serde::{Deserialize, Serialize};

const PAIRED: &str = "the pour was poured";
const ANSWER: &str = "`yes` or `no` if the deviation is clear of the tolerance, else `too near to tell`";

rows! { $
/// One planned pour and what became of it. A deviation is poured less planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlannedPourResult {
    /// The planned pour.
    pub planned: PlannedPour,
    /// Place of the pour in the brew, from 1; None if the pour was missed.
    pub pour: Option<usize>,
    /// Start on the plan's clock, s: half-rise of the pour less that of the pour at which the clocks agree.
    pub start_s: Maybe,
    /// Mass that arrived, g.
    pub mass_g: Maybe,
    /// Flow on the plateau, g/s.
    pub flow_g_per_s: Maybe,
    /// Start less the planned one: above 0 is late, s.
    pub start_deviation_s: Maybe {
        formula: "start_s - planned_start_s, half-rise against half-rise",
        valid: PAIRED,
    },
    /// Poured mass less the planned one: above 0 is too much, g.
    pub mass_deviation_g: Maybe {
        formula: "mass_g - planned_mass_g",
        valid: PAIRED,
    },
    /// Flow less the planned one: above 0 is too fast, g/s.
    pub flow_deviation_g_per_s: Maybe {
        formula: "flow_g_per_s - planned_flow_g_per_s",
        valid: PAIRED,
    },
    /// Whether the start is within its tolerance.
    pub start_within_tolerance: Option<WithinTolerance> {
        formula: ANSWER,
        valid: PAIRED,
    },
    /// Whether the mass is within its tolerance.
    pub mass_within_tolerance: Option<WithinTolerance> {
        formula: ANSWER,
        valid: PAIRED,
    },
    /// Whether the flow is within its tolerance.
    pub flow_within_tolerance: Option<WithinTolerance> {
        formula: ANSWER,
        valid: PAIRED,
    },
    /// Steadiness: share of the time near the pour's own plateau flow, %.
    pub time_near_plateau_pct: Maybe,
    /// Steadiness less the planned one: below 0 is less steady, %.
    pub time_near_plateau_deviation_pct: Maybe {
        formula: "time_near_plateau_pct - planned_time_near_plateau_pct",
        valid: PAIRED,
    },
    /// Whether the steadiness is within its tolerance; more than planned always is.
    pub time_near_plateau_within_tolerance: Option<WithinTolerance> {
        formula: ANSWER,
        valid: PAIRED,
    },
    /// Pauses in the pour.
    pub pauses: Maybe,
    /// Pauses less the planned ones: above 0 is too many.
    pub pauses_deviation: Maybe {
        formula: "pauses - planned_pauses",
        valid: PAIRED,
    },
    /// Whether the pauses are no more than planned.
    pub pauses_within_tolerance: Option<WithinTolerance> {
        formula: ANSWER,
        valid: PAIRED,
    },
    /// Points of the score that the pour loses.
    pub points_lost: f64,
}
}

rows! { $
/// A pour that the plan does not have.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ExtraPour {
    /// Place in the brew, from 1.
    pub pour: usize,
    /// Start on the plan's clock, s.
    pub start_s: Maybe,
    /// Mass that arrived, g.
    pub mass_g: Estimate,
}
}

rows! { $
/// How near a brew came to a plan.
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
/// assert!(followed.score.value < 50.0);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PlanResult {
    /// Name of the plan.
    pub plan: String,
    /// Metadata of the brew.
    pub meta: Meta,
    /// Where the plan's clock stands at 0, on the log's own, s.
    pub zero_s: Maybe,
    /// One row per planned pour, in the plan's order.
    pub pours: Vec<PlannedPourResult>,
    /// Pours that are not in the plan.
    pub extra: Vec<ExtraPour>,
    /// How near the brew came to the plan, 0 to 100.
    ///
    /// 100 times the mean over all items of `min(1, 1/z)`, `z` being the deviation in tolerances.
    ///
    /// Each planned pour has the items start (but for the one that starts the clock), mass, and flow, steadiness and
    /// pauses if the plan states them. The items of a missed pour count 0; a pour that is not in the plan adds two
    /// items that count 0.
    pub score: Estimate {
        formula: "100 times the mean over all items of min(1, 1/z), z the deviation in tolerances",
    },
    /// Where the other points are, the largest loss first: each item with its points; together they make 100.
    pub lost: Vec<(String, f64)>,
    /// The one thing to work on next, in a sentence: a pour that is missed or not planned, or a habit.
    pub work_on: String,
}
}

impl PlanResult {
    /// The head, a line: the score, where the other points are, and the one thing to work on.
    ///
    /// ```
    /// use pourline::{Options, Plan, PlannedPour, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let followed = Plan::new("one pour", vec![PlannedPour::new(0.0, 45.0)])?.follow(&brew)?;
    /// assert!(followed.head().starts_with(&format!("{:.0} of 100: ", followed.score.value)), "{}", followed.head());
    /// assert!(followed.head().ends_with(&followed.work_on));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn head(&self) -> String {
        // Points that round to 0 are no loss to a reader.
        let lost: Vec<String> = self
            .lost
            .iter()
            .filter(|(_, points)| *points >= 0.5)
            .map(|(item, points)| format!("{points:.0} lost by {item}"))
            .collect();
        let lost = if lost.is_empty() { String::new() } else { format!(": {}", lost.join(", ")) };
        format!("{:.0} of 100{lost}. {}", self.score.value, self.work_on)
    }

    /// Places of the missed pours in the plan, from 1.
    #[must_use]
    pub fn missed(&self) -> Vec<usize> {
        (1..).zip(&self.pours).filter(|(_, row)| row.pour.is_none()).map(|(place, _)| place).collect()
    }
}
