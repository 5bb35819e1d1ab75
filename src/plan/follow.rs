//! In: a plan and a brew. Out: the comparison of both.
//!
//! Starts are compared by half-rise: its sd is several times smaller than that of the onset of the flow, and for pours
//! of equal rise both give the same time between them. A pour without half-rise counts from its start.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::plan::advice::advice;
use crate::plan::pair::{StartMass, pair};
use crate::plan::planned::Plan;
use crate::plan::pour::PlannedPour;
use crate::plan::result::{ExtraPour, PlanResult, PlannedPourResult};
use crate::plan::score::{Item, score};
use crate::plan::within::WithinTolerance;
use crate::segment::pour::Pour;

/// Items of the score for a pour that is not in the plan: its start and its mass.
const ITEMS_OF_EXTRA: usize = 2;

/// The pour at which the clocks agree: its place in the plan from 0, and the zero of the plan's clock on the log's.
#[derive(Clone, Copy)]
struct Clock {
    planned: usize,
    zero_s: Estimate,
}

impl Plan {
    /// Compares a brew with the plan.
    ///
    /// ```
    /// use pourline::{Options, Plan, PlannedPour, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let plan = Plan::new("bloom alone", vec![PlannedPour::new(0.0, 40.0)])?;
    /// println!("{}", plan.follow(&brew)?.work_on);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `column` if the water was not weighed.
    pub fn follow(&self, brew: &Brew) -> Result<PlanResult> {
        if brew.trace.water.is_none() {
            let message = "the water was not weighed: a plan needs the poured water".into();
            return Err(Error::Column { message });
        }
        let all = &brew.segments.pours;
        let sound = |pour: &Pour| begin_s(pour).value.is_finite() && pour.mass_g.value > 0.0;
        let places: Vec<usize> = (0..all.len()).filter(|k| sound(&all[*k])).collect();
        let poured: Vec<StartMass> =
            places.iter().map(|k| (begin_s(&all[*k]).value, all[*k].mass_g.value)).collect();
        let planned: Vec<StartMass> = self.pours().iter().map(|p| (p.start_s, p.mass_g)).collect();
        let pairs: Vec<(usize, usize)> =
            pair(&planned, &poured).into_iter().map(|(p, q)| (p, places[q])).collect();
        let clock = pairs.first().map(|&(p, q)| Clock {
            planned: p,
            zero_s: begin_s(&all[q]).minus(Estimate::exact(planned[p].0)),
        });
        let partner = |p: usize| pairs.iter().find(|pair| pair.0 == p).map(|pair| pair.1);
        let pours: Vec<PlannedPourResult> =
            (0..planned.len()).map(|p| row(&self.pours()[p], p, partner(p), brew, clock)).collect();
        let alone = (0..all.len()).filter(|k| pairs.iter().all(|pair| pair.1 != *k));
        let extra: Vec<ExtraPour> = alone
            .map(|k| ExtraPour { pour: k + 1, start_s: on_clock(&all[k], clock), mass_g: all[k].mass_g })
            .collect();
        let (items, mut lost) = items(&pours, brew, clock);
        lost += ITEMS_OF_EXTRA * extra.len();
        Ok(PlanResult {
            plan: self.name().into(),
            meta: brew.meta.clone(),
            zero_s: clock.map(|clock| clock.zero_s).ok_or_else(no_clock),
            work_on: advice(&pours, &extra),
            score: score(&items, lost, clock.map_or(0.0, |clock| clock.zero_s.sd)),
            pours,
            extra,
        })
    }
}

/// Half-rise of a pour; a pour that is too gentle for one counts from its start.
fn begin_s(pour: &Pour) -> Estimate {
    pour.half_rise_s.clone().unwrap_or(pour.start_s)
}

fn no_clock() -> Undefined {
    Undefined::because("no pour of the brew belongs to the plan")
}

fn on_clock(pour: &Pour, clock: Option<Clock>) -> Maybe {
    clock.map(|clock| begin_s(pour).minus(clock.zero_s)).ok_or_else(no_clock)
}

fn row(
    planned: &PlannedPour,
    place: usize,
    pour: Option<usize>,
    brew: &Brew,
    clock: Option<Clock>,
) -> PlannedPourResult {
    let missed = || Undefined::because("the pour was missed");
    let found = pour.map(|k| &brew.segments.pours[k]).ok_or_else(missed);
    let starts_clock = clock.is_some_and(|clock| clock.planned == place);
    let start_s = match &found {
        Ok(_) if starts_clock => Ok(Estimate::exact(planned.start_s)),
        Ok(pour) => on_clock(pour, clock),
        Err(why) => Err(why.clone()),
    };
    let start_deviation_s = match &start_s {
        Ok(_) if starts_clock => Err(Undefined::because("the clock starts with this pour")),
        start_s => start_s.clone().map(|start| start.minus(Estimate::exact(planned.start_s))),
    };
    let mass_g = found.as_ref().map(|pour| pour.mass_g).map_err(Clone::clone);
    let mass_deviation_g = mass_g.clone().map(|mass| mass.minus(Estimate::exact(planned.mass_g)));
    let unmeasured = || Undefined::because("the pour was not measured");
    let flow_g_per_s = found.and_then(|_| {
        let measured = pour.and_then(|k| brew.metrics.pours.get(k)).ok_or_else(unmeasured)?;
        measured.plateau_flow_g_per_s.clone()
    });
    let flow_deviation_g_per_s = match planned.flow_g_per_s {
        Some(target) => flow_g_per_s.clone().map(|flow| flow.minus(Estimate::exact(target))),
        None => Err(Undefined::because("the plan states no flow")),
    };
    let within_tolerance =
        |deviation: &Maybe, within| deviation.as_ref().ok().map(|d| WithinTolerance::of(*d, within));
    PlannedPourResult {
        start_within_tolerance: within_tolerance(&start_deviation_s, planned.start_within_s),
        mass_within_tolerance: within_tolerance(&mass_deviation_g, planned.mass_within_g),
        flow_within_tolerance: within_tolerance(&flow_deviation_g_per_s, planned.flow_within_g_per_s),
        planned: *planned,
        pour: pour.map(|k| k + 1),
        start_s,
        mass_g,
        flow_g_per_s,
        start_deviation_s,
        mass_deviation_g,
        flow_deviation_g_per_s,
    }
}

/// The items of the score, and the number of items of missed pours.
fn items(pours: &[PlannedPourResult], brew: &Brew, clock: Option<Clock>) -> (Vec<Item>, usize) {
    let (mut items, mut lost) = (Vec::new(), 0);
    for (place, row) in pours.iter().enumerate() {
        let Some(pour) = row.pour.and_then(|k| brew.segments.pours.get(k - 1)) else {
            // Without a clock the plan's first pour is the one that would start it.
            let starts_clock = clock.is_none() && place == 0;
            lost += 2 + usize::from(row.planned.flow_g_per_s.is_some()) - usize::from(starts_clock);
            continue;
        };
        let mut add = |by: &Maybe, sd: f64, by_clock, within| {
            if let Ok(by) = by {
                items.push(Item { difference: by.value, sd, by_clock, within });
            }
        };
        let sd = |by: &Maybe| by.as_ref().map_or(0.0, |by| by.sd);
        add(&row.start_deviation_s, begin_s(pour).sd, true, row.planned.start_within_s);
        add(&row.mass_deviation_g, sd(&row.mass_deviation_g), false, row.planned.mass_within_g);
        add(
            &row.flow_deviation_g_per_s,
            sd(&row.flow_deviation_g_per_s),
            false,
            row.planned.flow_within_g_per_s,
        );
    }
    (items, lost)
}
