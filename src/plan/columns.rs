//! The columns of this stage's tables.

use crate::rows::columns;

columns! {
    /// Name of the plan.
    plan {
        reference: "metadata",
    },
    /// Place of the pour in the plan, from 1.
    planned_pour {
        valid: "the plan has it",
        reference: "the plan",
    },
    /// Planned start, relative to that of the plan's first pour.
    planned_start_s {
        valid: "the plan has it",
        reference: "the plan",
    },
    /// Tolerance of the start, to either side.
    start_within_s {
        valid: "the plan has it",
        reference: "the plan",
    },
    /// Planned mass of this pour alone.
    planned_mass_g {
        valid: "the plan has it",
        reference: "the plan",
    },
    /// Tolerance of the mass, to either side.
    mass_within_g {
        valid: "the plan has it",
        reference: "the plan",
    },
    /// Planned flow on the plateau.
    planned_flow_g_per_s {
        valid: "the plan states a flow",
        reference: "the plan",
    },
    /// Tolerance of the flow, to either side.
    flow_within_g_per_s {
        valid: "the plan states a flow",
        reference: "the plan",
    },
    /// Planned least share of the time near the plateau flow, %.
    planned_time_near_plateau_pct {
        valid: "the plan states a steadiness",
        reference: "the plan",
    },
    /// Tolerance of that share, below.
    time_near_plateau_within_pct {
        valid: "the plan states a steadiness",
        reference: "the plan",
    },
    /// Planned most pauses.
    planned_pauses {
        valid: "the plan states it",
        reference: "the plan",
    },
    /// Points of the score that the pour loses.
    points_lost {
        formula: "100 over the number of items times the sum of 1 - min(1, 1/z), z the deviation in tolerances",
        valid: "the plan has it",
    },
    /// The day: as given, or the ordinal of its date.
    day {
        reference: "metadata",
    },
}
