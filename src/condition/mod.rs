//! In: a [`Log`](crate::Log). Out: a [`Trace`]: what the scale did that the hand did not, found, flagged and listed.
//!
//! Each concern has its file: order of the stamps, readout step, noise, then the longest [chain](self::condition)
//! of samples that a vessel into which water runs could have given; what the chain leaves out is a knock, where it
//! breaks the level jumped.

mod chain;
mod noise;
mod options;
mod order;
mod step;
mod trace;
mod work;
pub use options::ConditionOptions;
pub use trace::{Channel, ChannelTrace, Event, EventKind, Flag, Trace};

use crate::{Error, Estimate, Log, Result};
use work::Work;

/// Conditions a log: puts it in order, finds what the scale did that the hand did not, flags and lists it.
///
/// # Errors
/// `out_of_range` for an option outside its range, `too_short` for a log of fewer than 2 samples.
pub fn condition(log: &Log, options: &ConditionOptions) -> Result<Trace> {
    options.check()?;
    if log.len() < 2 {
        return Err(Error::TooShort { samples: log.len(), needed: 2 });
    }
    let order = order::order(log.time_s());
    let mut events = Vec::new();
    let mut brew_start_s = order.time_s[0];
    let mut channel = |name: Channel, logged: Option<&[f64]>| {
        logged.map(|logged| {
            let mut work = Work::new(name, &order, logged, options);
            work.knocks();
            brew_start_s = brew_start_s.max(work.start_s);
            events.append(&mut work.events);
            work.finish()
        })
    };
    let water = channel(Channel::Water, log.water_g());
    let beverage = channel(Channel::Beverage, log.beverage_g());
    events.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    Ok(Trace {
        rate_hz: 1.0 / order.interval_s,
        time_s: order.time_s,
        log_index: order.log_index,
        water,
        beverage,
        events,
        brew_start_s,
        scale_lag_s: options.scale_lag_s.map(|lag| Estimate::new(lag, options.scale_lag_sd_s)),
        meta: log.meta.clone(),
    })
}
