//! The stage: a log becomes a trace.

use crate::condition::options::ConditionOptions;
use crate::condition::order::{self, Order};
use crate::condition::reading_times::{ReadingTimes, reading_times};
use crate::condition::several::Next;
use crate::condition::trace::{Channel, Trace};
use crate::condition::work::Work;
use crate::error::{Error, Result};
use crate::log::record::Log;

/// The samples of a log in the order of time, and the reading times if they were restored.
pub(crate) fn ordered(log: &Log) -> (Order, Option<ReadingTimes>) {
    let mut order = order::order(log.time_s());
    let channels: Vec<&[f64]> = [log.water_g(), log.beverage_g()].into_iter().flatten().collect();
    let restored = reading_times(&order, &channels);
    if let Some(restored) = &restored {
        restored.replace(&mut order);
    }
    (order, restored)
}

/// Both weights without jumps.
pub(super) fn repaired<'a>(
    log: &Log,
    order: &'a Order,
    options: &'a ConditionOptions,
) -> (Option<Work<'a>>, Option<Work<'a>>) {
    let work = |channel, logged: Option<&[f64]>| {
        logged.map(|logged| {
            let mut work = Work::new(channel, order, logged, options);
            work.stuck();
            work.repair();
            work
        })
    };
    (work(Channel::Water, log.water_g()), work(Channel::Beverage, log.beverage_g()))
}

/// Where further brews begin; the water identifies them.
pub(super) fn further_brews(water: Option<&Work>, beverage: Option<&Work>) -> Vec<Next> {
    let collected = |at| beverage.is_some_and(|beverage| beverage.holds(at));
    water.map_or_else(Vec::new, |water| water.further_brews(collected))
}

/// Conditions a log: puts it in order; detects, flags and lists artefacts of the scale.
///
/// # Errors
/// `out_of_range` for an option outside its range, `too_short` for a log of fewer than 2 samples.
pub fn condition(log: &Log, options: &ConditionOptions) -> Result<Trace> {
    options.check()?;
    if log.len() < 2 {
        return Err(Error::TooShort { samples: log.len(), needed: 2 });
    }
    let (order, restored) = ordered(log);
    let (mut water, mut beverage) = repaired(log, &order, options);
    if let Some(next) = further_brews(water.as_ref(), beverage.as_ref()).first() {
        [&mut water, &mut beverage].into_iter().flatten().for_each(|work| work.end_at(*next));
    }
    // The water identifies the start of the brew; the beverage is used only if there is no water.
    let dose_g = log.meta.dose_g;
    let start = match (&water, &beverage) {
        _ if !options.zeroing_starts_brew => None,
        (Some(water), beverage) => {
            water.brew_start(dose_g, |at| beverage.as_ref().is_some_and(|beverage| beverage.holds(at)))
        }
        (None, Some(beverage)) => beverage.brew_start(dose_g, |_| false),
        (None, None) => None,
    };
    let mut first_water_s = None;
    for work in [&mut water, &mut beverage].into_iter().flatten() {
        if let Some(start) = start {
            work.prepare(start);
        }
        match work.channel {
            Channel::Water => {
                work.subtract_drift();
                first_water_s = work.first_water_s();
            }
            Channel::Beverage => work.estimate_first_walk(),
        }
        work.zero(first_water_s);
    }
    let brew_start_s = order.time_s[start.unwrap_or(0)];
    let mut events = Vec::new();
    let mut finish = |work: Work| {
        let (trace, mut found) = work.finish();
        events.append(&mut found);
        trace
    };
    let (water, beverage) = (water.map(&mut finish), beverage.map(&mut finish));
    events.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    Ok(Trace {
        rate_hz: 1.0 / order.interval_s,
        time_sd_s: restored.map_or(0.0, |restored| restored.sd_s),
        time_s: order.time_s,
        log_index: order.log_index,
        water,
        beverage,
        events,
        brew_start_s,
        scale: options.response(),
        meta: log.meta.clone(),
    })
}
