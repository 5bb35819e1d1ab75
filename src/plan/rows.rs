//! In: the result of a plan, or a person's progress. Out: their tables.

use crate::estimate::{Estimate, Maybe};
use crate::plan::progress::Progress;
use crate::plan::result::{ExtraPour, PlanResult, PlannedPourResult};
use crate::plan::within::WithinTolerance;
use crate::rows::{sd_name, unit};
use crate::table::{Table, Values};

type Planned = fn(&PlannedPourResult) -> f64;
type Found = fn(&PlannedPourResult) -> &Maybe;
type Decision = fn(&PlannedPourResult) -> Option<WithinTolerance>;

/// One of start, mass and flow: names of its columns, planned, poured, deviation, whether that is within its tolerance.
struct Part {
    /// Column names: planned, tolerance, poured, deviation, within tolerance.
    names: [&'static str; 5],
    planned: [Planned; 2],
    found: [Found; 2],
    decision: Decision,
}

const PARTS: [Part; 3] = [
    Part {
        names: [
            "planned_start_s",
            "start_within_s",
            "start_s",
            "start_deviation_s",
            "start_within_tolerance",
        ],
        planned: [|r| r.planned.start_s, |r| r.planned.start_within_s],
        found: [|r| &r.start_s, |r| &r.start_deviation_s],
        decision: |r| r.start_within_tolerance,
    },
    Part {
        names: ["planned_mass_g", "mass_within_g", "mass_g", "mass_deviation_g", "mass_within_tolerance"],
        planned: [|r| r.planned.mass_g, |r| r.planned.mass_within_g],
        found: [|r| &r.mass_g, |r| &r.mass_deviation_g],
        decision: |r| r.mass_within_tolerance,
    },
    Part {
        names: [
            "planned_flow_g_per_s",
            "flow_within_g_per_s",
            "flow_g_per_s",
            "flow_deviation_g_per_s",
            "flow_within_tolerance",
        ],
        planned: [
            |r| r.planned.flow_g_per_s.unwrap_or(f64::NAN),
            |r| r.planned.flow_g_per_s.map_or(f64::NAN, |_| r.planned.flow_within_g_per_s),
        ],
        found: [|r| &r.flow_g_per_s, |r| &r.flow_deviation_g_per_s],
        decision: |r| r.flow_within_tolerance,
    },
];

impl PlanResult {
    /// One row per planned pour, then one per pour that the plan does not have; NaN or empty if a row has no such
    /// value.
    #[must_use]
    pub fn table(&self) -> Table {
        let (rows, extra) = (&self.pours, &self.extra);
        let n = rows.len() + extra.len();
        let mut table = Table::default();
        let text = |value: &str| Values::Text(vec![value.into(); n]);
        let none = || std::iter::repeat_n(f64::NAN, extra.len());
        table.push("brew", "", text(self.meta.name.as_deref().unwrap_or_default()));
        table.push("plan", "", text(&self.plan));
        let planned = (1..=rows.len()).map(|place| place as f64).chain(none());
        table.push("planned_pour", "", Values::Number(planned.collect()));
        let poured = rows.iter().map(|row| row.pour).chain(extra.iter().map(|one| Some(one.pour)));
        let poured = poured.map(|pour| pour.map_or(f64::NAN, |pour| pour as f64));
        table.push("pour", "", Values::Number(poured.collect()));
        for part in &PARTS {
            let [planned, within, value, deviation, decision] = part.names;
            for (name, of) in [planned, within].into_iter().zip(part.planned) {
                table.push(name, unit(name), Values::Number(rows.iter().map(of).chain(none()).collect()));
            }
            let of_extra = |name, one: &ExtraPour| match name {
                "start_s" => one.start_s.clone().ok(),
                "mass_g" => Some(one.mass_g),
                _ => None,
            };
            for (name, of) in [value, deviation].into_iter().zip(part.found) {
                let of_rows = rows.iter().map(|row| of(row).clone().ok());
                let known: Vec<Option<Estimate>> =
                    of_rows.chain(extra.iter().map(|one| of_extra(name, one))).collect();
                let of = |part: fn(&Estimate) -> f64| {
                    Values::Number(known.iter().map(|e| e.as_ref().map_or(f64::NAN, part)).collect())
                };
                table.push(name, unit(name), of(|e| e.value));
                table.push(&sd_name(name), unit(name), of(|e| e.sd));
            }
            let words =
                rows.iter().map(|row| (part.decision)(row).map_or("", WithinTolerance::word).to_string());
            let words = words.chain(std::iter::repeat_n(String::new(), extra.len()));
            table.push(decision, "", Values::Text(words.collect()));
        }
        table.push("score", "", Values::Number(vec![self.score.value; n]));
        table.push("score_sd", "", Values::Number(vec![self.score.sd; n]));
        for (name, value) in [("kettle", &self.meta.kettle), ("person", &self.meta.person)] {
            table.push(name, "", text(value.as_deref().unwrap_or_default()));
        }
        for (name, value) in &self.meta.factors {
            if table.column(name).is_none() {
                table.push(name, "", text(value));
            }
        }
        table
    }
}

impl Progress {
    /// One row per day.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        table.push("day", "", Values::Whole(self.days.iter().map(|day| day.day).collect()));
        table.push("brews", "", Values::Whole(self.days.iter().map(|day| day.brews as i64).collect()));
        table.push("mean", "", Values::Number(self.days.iter().map(|day| day.mean).collect()));
        table
    }
}
