//! In: a plan and a brew. Out: the comparison of both.
//!
//! Starts are compared by half-rise: its sd is several times smaller than that of the onset of the flow, and for pours
//! of equal rise both give the same time between them. A pour without half-rise counts from its start.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::metrics::result::PourMetrics;
use crate::plan::advice::advice;
use crate::plan::pair::{StartMass, pair};
use crate::plan::planned::Plan;
use crate::plan::pour::PlannedPour;
use crate::plan::result::{ExtraPour, PlanResult, PlannedPourResult};
use crate::plan::score::{Item, PlanItem, score};
use crate::plan::within::WithinTolerance;
use crate::segment::pour::Pour;

/// Tolerance of a number of pauses: one too many halves its item.
const PAUSES_WITHIN: f64 = 0.5;
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
        let mut pours: Vec<PlannedPourResult> =
            (0..planned.len()).map(|p| row(&self.pours()[p], p, partner(p), brew, clock)).collect();
        let alone = (0..all.len()).filter(|k| pairs.iter().all(|pair| pair.1 != *k));
        let extra: Vec<ExtraPour> = alone
            .map(|k| ExtraPour { pour: k + 1, start_s: on_clock(&all[k], clock), mass_g: all[k].mass_g })
            .collect();
        let items: Vec<Vec<Item>> = pours.iter().map(|row| items(row, brew)).collect();
        let missed: Vec<usize> =
            (0..pours.len()).map(|place| items_of_missed(&pours[place], place, clock)).collect();
        let (lost_pours, lost_extra) = (missed.iter().sum::<usize>(), ITEMS_OF_EXTRA * extra.len());
        let all: Vec<Item> = items.iter().flatten().copied().collect();
        let points = 100.0 / (all.len() + lost_pours + lost_extra).max(1) as f64;
        let loss = |item: &Item| points * (1.0 - item.kept(item.deviation));
        for ((row, own), missed) in pours.iter_mut().zip(&items).zip(&missed) {
            row.points_lost = own.iter().map(loss).sum::<f64>() + points * *missed as f64;
        }
        let of = |what: PlanItem| all.iter().filter(|item| item.what == what).map(loss).sum::<f64>();
        let mut lost: Vec<(String, f64)> =
            PlanItem::ALL.map(|what| (what.name().to_string(), of(what))).into();
        lost.push(("missed pours".into(), points * lost_pours as f64));
        lost.push(("pours not planned".into(), points * lost_extra as f64));
        lost.retain(|(_, points)| *points > 0.0);
        lost.sort_by(|x, y| y.1.total_cmp(&x.1));
        Ok(PlanResult {
            plan: self.name().into(),
            meta: brew.meta.clone(),
            zero_s: clock.map(|clock| clock.zero_s).ok_or_else(no_clock),
            work_on: advice(&pours, &extra),
            score: score(&all, lost_pours + lost_extra, clock.map_or(0.0, |clock| clock.zero_s.sd)),
            lost,
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
    let measured = found.and_then(|_| pour.and_then(|k| brew.metrics.pours.get(k)).ok_or_else(unmeasured));
    let of = |number: fn(&PourMetrics) -> &Maybe| measured.clone().and_then(|row| number(row).clone());
    let flow_g_per_s = of(|row| &row.plateau_flow_g_per_s);
    let time_near_plateau_pct = of(|row| &row.time_near_plateau_pct);
    let pauses = of(|row| &row.pauses);
    let less = |number: &Maybe, target: Option<f64>, what: &str| match target {
        Some(target) => number.clone().map(|found| found.minus(Estimate::exact(target))),
        None => Err(Undefined::because(format!("the plan states no {what}"))),
    };
    let flow_deviation_g_per_s = less(&flow_g_per_s, planned.flow_g_per_s, "flow");
    let time_near_plateau_deviation_pct =
        less(&time_near_plateau_pct, planned.time_near_plateau_pct, "steadiness");
    let pauses_deviation = less(&pauses, planned.pauses, "number of pauses");
    let within_tolerance = |deviation: &Maybe, what| {
        deviation.as_ref().ok().map(|d| WithinTolerance::between(*d, within(planned, what)))
    };
    PlannedPourResult {
        start_within_tolerance: within_tolerance(&start_deviation_s, PlanItem::Start),
        mass_within_tolerance: within_tolerance(&mass_deviation_g, PlanItem::Mass),
        flow_within_tolerance: within_tolerance(&flow_deviation_g_per_s, PlanItem::Flow),
        time_near_plateau_within_tolerance: within_tolerance(
            &time_near_plateau_deviation_pct,
            PlanItem::Steadiness,
        ),
        pauses_within_tolerance: within_tolerance(&pauses_deviation, PlanItem::Pauses),
        planned: *planned,
        pour: pour.map(|k| k + 1),
        start_s,
        mass_g,
        flow_g_per_s,
        start_deviation_s,
        mass_deviation_g,
        flow_deviation_g_per_s,
        time_near_plateau_pct,
        time_near_plateau_deviation_pct,
        pauses,
        pauses_deviation,
        points_lost: 0.0,
    }
}

/// Tolerances below and above 0.
fn within(planned: &PlannedPour, what: PlanItem) -> [f64; 2] {
    match what {
        PlanItem::Start => [planned.start_within_s; 2],
        PlanItem::Mass => [planned.mass_within_g; 2],
        PlanItem::Flow => [planned.flow_within_g_per_s; 2],
        PlanItem::Steadiness => [planned.time_near_plateau_within_pct, f64::INFINITY],
        PlanItem::Pauses => [f64::INFINITY, PAUSES_WITHIN],
    }
}

impl PlannedPourResult {
    pub(super) fn deviation(&self, what: PlanItem) -> &Maybe {
        match what {
            PlanItem::Start => &self.start_deviation_s,
            PlanItem::Mass => &self.mass_deviation_g,
            PlanItem::Flow => &self.flow_deviation_g_per_s,
            PlanItem::Steadiness => &self.time_near_plateau_deviation_pct,
            PlanItem::Pauses => &self.pauses_deviation,
        }
    }

    /// The item of the score, if its deviation is defined.
    pub(super) fn item(&self, what: PlanItem) -> Option<Item> {
        let Estimate { value, sd } = *self.deviation(what).as_ref().ok()?;
        let by_clock = what == PlanItem::Start;
        Some(Item { what, deviation: value, sd, by_clock, within: within(&self.planned, what) })
    }
}

/// The items of the score of a pour; the sd of its start is without that of the clock.
fn items(row: &PlannedPourResult, brew: &Brew) -> Vec<Item> {
    let own_sd = row.pour.and_then(|k| brew.segments.pours.get(k - 1)).map_or(0.0, |pour| begin_s(pour).sd);
    let own = |item: Item| if item.by_clock { Item { sd: own_sd, ..item } } else { item };
    PlanItem::ALL.into_iter().filter_map(|what| row.item(what)).map(own).collect()
}

/// The number of items of a missed pour; 0 if it was poured.
fn items_of_missed(row: &PlannedPourResult, place: usize, clock: Option<Clock>) -> usize {
    if row.pour.is_some() {
        return 0;
    }
    // Without a clock the plan's first pour is the one that would start it.
    let starts_clock = clock.is_none() && place == 0;
    let PlannedPour { flow_g_per_s, time_near_plateau_pct, pauses, .. } = row.planned;
    let stated = [flow_g_per_s, time_near_plateau_pct, pauses].iter().filter(|one| one.is_some()).count();
    2 + stated - usize::from(starts_clock)
}
