//! The columns of this stage's tables.

use crate::rows::columns;

const PAIRED: &str = "the pour was poured";
const WITHIN: &str = "`yes` or `no` if the deviation is clear of the tolerance, else `too near to tell`";

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
    /// Start less planned start: above 0 is late.
    start_deviation_s {
        formula: "start_s - planned_start_s, half-rise against half-rise",
        valid: PAIRED,
    },
    /// Whether the start is within its tolerance.
    start_within_tolerance {
        formula: WITHIN,
        valid: PAIRED,
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
    /// Poured mass less planned mass: above 0 is too much.
    mass_deviation_g {
        formula: "mass_g - planned_mass_g",
        valid: PAIRED,
    },
    /// Whether the mass is within its tolerance.
    mass_within_tolerance {
        formula: WITHIN,
        valid: PAIRED,
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
    /// Flow less planned flow: above 0 is too fast.
    flow_deviation_g_per_s {
        formula: "flow_g_per_s - planned_flow_g_per_s",
        valid: PAIRED,
    },
    /// Whether the flow is within its tolerance.
    flow_within_tolerance {
        formula: WITHIN,
        valid: PAIRED,
    },
    /// Agreement of the brew with the plan, 0 to 1.
    score {
        formula: "mean over all items of 1/(1 + z^2), z the deviation in tolerances",
    },
    /// The day: as given, or the ordinal of its date.
    day {
        reference: "metadata",
    },
}
