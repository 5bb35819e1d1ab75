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
    /// The day: as given, or the ordinal of its date.
    day {
        reference: "metadata",
    },
}
