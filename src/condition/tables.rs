//! A trace as tables: its samples, and its events.

use crate::condition::trace::{Channel, ChannelTrace, Event, Trace};
use crate::rows::columns;
use crate::table::{Table, Values};

columns! {
    /// What became of the reading of the water, in a word.
    water_flag { kind: Kind::Text, },
    /// What became of the reading of the beverage, in a word.
    beverage_flag { kind: Kind::Text, },
}

impl Trace {
    /// One row per sample: time, index in the log, and for each weight its mass with its flag.
    ///
    /// ```
    /// use pourline::{ConditionOptions, Recipe, condition, simulate};
    /// let trace = condition(&simulate(&Recipe::default(), 7)?.0, &ConditionOptions::default())?;
    /// assert_eq!(trace.table().rows(), trace.time_s.len());
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let whole = |number: &usize| *number as i64;
        table.push("time_s", "s", Values::Number(self.time_s.clone()));
        table.push("log_index", "", Values::Whole(self.log_index.iter().map(whole).collect()));
        for (channel, weight) in [(Channel::Water, &self.water), (Channel::Beverage, &self.beverage)] {
            if let Some(ChannelTrace { mass_g, flag, .. }) = weight {
                table.push(&format!("{}_g", channel.name()), "g", Values::Number(mass_g.clone()));
                let words = flag.iter().map(|flag| flag.name().into()).collect();
                table.push(&format!("{}_flag", channel.name()), "", Values::Text(words));
            }
        }
        table
    }

    /// One row per event, in order of time, on the clock of the log.
    ///
    /// ```
    /// use pourline::{ConditionOptions, Recipe, condition, simulate};
    /// let trace = condition(&simulate(&Recipe::default(), 7)?.0, &ConditionOptions::default())?;
    /// assert_eq!(trace.events_table().rows(), trace.events.len());
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn events_table(&self) -> Table {
        let mut table = Table::default();
        let text = |of: fn(&Event) -> &str| Values::Text(self.events.iter().map(|e| of(e).into()).collect());
        table.push("kind", "", text(|event| event.kind.name()));
        table.push("channel", "", text(|event| event.channel.name()));
        let number = |of: fn(&Event) -> f64| Values::Number(self.events.iter().map(of).collect());
        table.push("start_s", "s", number(|event| event.start_s));
        table.push("end_s", "s", number(|event| event.end_s));
        table.push("size_g", "g", number(|event| event.size_g));
        let samples = self.events.iter().map(|event| event.samples as i64);
        table.push("samples", "", Values::Whole(samples.collect()));
        table.push("action", "", text(|event| &event.action));
        table
    }
}
