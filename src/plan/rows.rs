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

/// One item of a planned pour: the columns of the plan, those of the pour, and that of the decision.
struct Part {
    planned: &'static [(&'static str, Planned)],
    found: [(&'static str, Found); 2],
    decision: (&'static str, Decision),
}

const PARTS: [Part; 5] = [
    Part {
        planned: &[
            ("planned_start_s", |r| r.planned.start_s),
            ("start_within_s", |r| r.planned.start_within_s),
        ],
        found: [("start_s", |r| &r.start_s), ("start_deviation_s", |r| &r.start_deviation_s)],
        decision: ("start_within_tolerance", |r| r.start_within_tolerance),
    },
    Part {
        planned: &[("planned_mass_g", |r| r.planned.mass_g), ("mass_within_g", |r| r.planned.mass_within_g)],
        found: [("mass_g", |r| &r.mass_g), ("mass_deviation_g", |r| &r.mass_deviation_g)],
        decision: ("mass_within_tolerance", |r| r.mass_within_tolerance),
    },
    Part {
        planned: &[
            ("planned_flow_g_per_s", |r| r.planned.flow_g_per_s.unwrap_or(f64::NAN)),
            ("flow_within_g_per_s", |r| {
                r.planned.flow_g_per_s.map_or(f64::NAN, |_| r.planned.flow_within_g_per_s)
            }),
        ],
        found: [
            ("flow_g_per_s", |r| &r.flow_g_per_s),
            ("flow_deviation_g_per_s", |r| &r.flow_deviation_g_per_s),
        ],
        decision: ("flow_within_tolerance", |r| r.flow_within_tolerance),
    },
    Part {
        planned: &[
            ("planned_time_near_plateau_pct", |r| r.planned.time_near_plateau_pct.unwrap_or(f64::NAN)),
            ("time_near_plateau_within_pct", |r| {
                r.planned.time_near_plateau_pct.map_or(f64::NAN, |_| r.planned.time_near_plateau_within_pct)
            }),
        ],
        found: [
            ("time_near_plateau_pct", |r| &r.time_near_plateau_pct),
            ("time_near_plateau_deviation_pct", |r| &r.time_near_plateau_deviation_pct),
        ],
        decision: ("time_near_plateau_within_tolerance", |r| r.time_near_plateau_within_tolerance),
    },
    Part {
        planned: &[("planned_pauses", |r| r.planned.pauses.unwrap_or(f64::NAN))],
        found: [("pauses", |r| &r.pauses), ("pauses_deviation", |r| &r.pauses_deviation)],
        decision: ("pauses_within_tolerance", |r| r.pauses_within_tolerance),
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
            for (name, of) in part.planned {
                table.push(name, unit(name), Values::Number(rows.iter().map(of).chain(none()).collect()));
            }
            let of_extra = |name, one: &ExtraPour| match name {
                "start_s" => one.start_s.clone().ok(),
                "mass_g" => Some(one.mass_g),
                _ => None,
            };
            for (name, of) in part.found {
                let of_rows = rows.iter().map(|row| of(row).clone().ok());
                let known: Vec<Option<Estimate>> =
                    of_rows.chain(extra.iter().map(|one| of_extra(name, one))).collect();
                let of = |part: fn(&Estimate) -> f64| {
                    Values::Number(known.iter().map(|e| e.as_ref().map_or(f64::NAN, part)).collect())
                };
                table.push(name, unit(name), of(|e| e.value));
                table.push(&sd_name(name), unit(name), of(|e| e.sd));
            }
            let (name, decision) = part.decision;
            let words = rows.iter().map(|row| decision(row).map_or("", WithinTolerance::word).to_string());
            let words = words.chain(std::iter::repeat_n(String::new(), extra.len()));
            table.push(name, "", Values::Text(words.collect()));
        }
        let points = rows.iter().map(|row| row.points_lost).chain(none());
        table.push("points_lost", "", Values::Number(points.collect()));
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
