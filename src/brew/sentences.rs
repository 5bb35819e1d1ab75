//! In: a brew. Out: its sentences as plain text, the same on every face: warnings, uncertainty, totals.

use crate::brew::result::Brew;
use crate::condition::trace::{ChannelTrace, Flag};
use crate::estimate::{Estimate, Maybe};
use crate::extraction::result::{BeverageSource, BudgetRow};
use crate::log::meta::Meta;
use crate::rows::{Word, sd_name};

/// Stands for a number that is undefined.
const DASH: &str = "–";

/// A number of the whole brew: its name, its text, and the reason if it is undefined (else empty).
pub(crate) type Total = (&'static str, String, String);

impl Brew {
    /// Uncertainty of the yield and its largest source, with the warnings of all stages, in sentences.
    ///
    /// ```
    /// use pourline::{Meta, Options, Recipe, analyze, simulate};
    /// let (mut log, _truth) = simulate(&Recipe::default(), 7)?;
    /// log.meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.35), ..Meta::default() };
    /// let brew = analyze(&log, &Options::default())?;
    /// assert!(brew.uncertainty().iter().any(|line| line.starts_with("The yield lies between ")));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn uncertainty(&self) -> Vec<String> {
        let found = &self.extraction;
        let mut lines: Vec<String> = self.warnings.iter().map(|text| sentence(text)).collect();
        match &found.yield_pct {
            Ok(number) => {
                let (low, high) = (number.value - 2.0 * number.sd, number.value + 2.0 * number.sd);
                lines.push(format!(
                    "The yield lies between {low:.1} and {high:.1} % with about 95 % confidence."
                ));
                lines.extend(largest(&found.budget, |name| found.assumes(name)));
            }
            Err(why) => lines.push(format!("There is no yield: {}.", why.reason)),
        }
        if not_weighed(self) {
            lines.push(
                "The beverage was not weighed: its mass follows from a stated retention, and so does the yield.".into(),
            );
        }
        lines.extend(found.warnings.iter().chain(&self.bed.warnings).map(|text| sentence(text)));
        lines.extend(by_hand(self));
        lines
    }

    /// Number of samples by flag, noise and readout step: one sentence per weight.
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// assert!(brew.samples()[0].starts_with("water: "));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn samples(&self) -> Vec<String> {
        let channels = [("water", &self.trace.water), ("beverage", &self.trace.beverage)];
        let known = channels.into_iter().filter_map(|(name, channel)| Some((name, channel.as_ref()?)));
        known.map(|(name, channel)| samples(name, channel, self.trace.rate_hz)).collect()
    }

    /// The numbers of the whole brew in order of time: name, text, and the reason if it is undefined. Instants count from
    /// [`Brew::time_zero_s`].
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let (name, text, why) = &brew.totals()[0];
    /// assert!(*name == "water poured" && text.ends_with(" g") && why.is_empty());
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn totals(&self) -> Vec<(&'static str, String, String)> {
        let Self { segments, metrics, bed, extraction, .. } = self;
        let zero_s = Estimate::exact(self.time_zero_s());
        let since_start = |number: &Maybe| number.clone().map(|at| at.minus(zero_s));
        let (first_drip_s, drawdown_end_s) =
            (since_start(&bed.first_drip_s), since_start(&bed.drawdown_end_s));
        let exponent = bed.law.as_ref().map(|law| law.exponent).map_err(Clone::clone);
        let by_retention = not_weighed(self) && extraction.assumes("retention_g_per_g");
        let of_strength = ["tds_pct", "brix_pct", "brix_factor"].iter().any(|name| extraction.assumes(name));
        let beverage = match (not_weighed(self), by_retention) {
            (true, true) => " g (not weighed, sd assumed)",
            (true, false) => " g (not weighed)",
            (false, _) => " g",
        };
        let either = |is_assumed, marked, plain| if is_assumed { marked } else { plain };
        let pct = |is_assumed| either(is_assumed, " % (sd assumed)", " %");
        let retention = either(by_retention, " g/g (sd assumed)", " g/g");
        let mut totals: Vec<Total> = [
            ("water poured", &self.water_g, " g"),
            ("flow while pouring", &metrics.pouring_flow_g_per_s, " g/s"),
            ("longest rest", &metrics.longest_rest_s, " s"),
            ("first drip", &first_drip_s, " s"),
            ("end of the drawdown", &drawdown_end_s, " s"),
            ("drawdown", &bed.drawdown_s, " s"),
            ("drain exponent", &exponent, ""),
            ("beverage", &extraction.beverage_g, beverage),
            ("retention", &extraction.retention_g_per_g, retention),
            ("retained water", &bed.retained_water_g_per_g, " g/g"),
            ("strength", &extraction.strength_pct, pct(of_strength)),
            ("extraction yield", &extraction.yield_pct, pct(extraction.is_mostly_assumed())),
            ("brew ratio", &extraction.brew_ratio, " g/g"),
        ]
        .map(|(name, number, unit)| (name, text(number, unit), reason(number)))
        .into();
        let lag = format!("{} s ({})", segments.response.delay_s, segments.response.source.word());
        totals.push(("delay of the scale", lag, String::new()));
        totals
    }
}

/// Warnings on the log as a whole and on the labels.
pub(crate) fn further(brew: &Brew) -> Vec<String> {
    let read = brew.notes.iter().map(|text| format!("From the file: {text}."));
    brew.warnings.iter().map(|text| sentence(text)).chain(by_hand(brew)).chain(read).collect()
}

impl Meta {
    /// The metadata except the name, in one line: numbers first.
    #[must_use]
    pub fn summary(&self) -> String {
        let numbers = [(self.dose_g, "g dose"), (self.tds_pct, "% TDS"), (self.water_c, "C water")];
        let numbers =
            numbers.into_iter().filter_map(|(value, unit)| Some(format!("{} {unit}", general(value?, 6))));
        let texts = [
            ("kettle", &self.kettle),
            ("person", &self.person),
            ("coffee", &self.coffee),
            ("roast", &self.roast),
            ("grinder", &self.grinder),
            ("grinder setting", &self.grinder_setting),
            ("brewer", &self.brewer),
            ("device", &self.device),
            ("note", &self.note),
            ("started at", &self.started_at),
        ];
        let texts = texts.into_iter().filter_map(|(name, text)| Some(format!("{name} {}", text.as_ref()?)));
        let factors = self.factors.iter().map(|(factor, level)| format!("{factor} {level}"));
        numbers.chain(texts).chain(factors).collect::<Vec<_>>().join(", ")
    }
}

fn by_hand(brew: &Brew) -> Vec<String> {
    let Some(labelled) = &brew.labelled else { return Vec::new() };
    let written = |text: &Option<String>| text.clone().filter(|text| !text.is_empty());
    let who = written(&labelled.labels.by).map_or_else(String::new, |by| format!(" by {by}"));
    let note = written(&labelled.labels.note).map_or_else(String::new, |note| format!(" ({note})"));
    let same = if labelled.warnings.is_empty() { ", and they are those that were found" } else { "" };
    let first = format!("The pours are those of labels set by hand{who}{note}{same}.");
    std::iter::once(first).chain(labelled.warnings.iter().map(|text| sentence(text))).collect()
}

fn largest(budget: &[BudgetRow], is_assumed: impl Fn(&str) -> bool) -> Option<String> {
    // The first of those that share the largest variance.
    let row = budget.iter().rev().max_by(|a, b| a.share.total_cmp(&b.share)).filter(|row| row.share > 0.0)?;
    let over = if row.share > 0.99 { "Over " } else { "" };
    let share = (100.0 * row.share).min(99.0);
    let assumed = match is_assumed(&row.name) {
        true => format!(". This sd is assumed: state {}", sd_name(&row.name)),
        false => String::new(),
    };
    Some(format!("{over}{share:.0} % of its variance comes from {}, {}{assumed}.", row.name, row.value))
}

fn not_weighed(brew: &Brew) -> bool {
    brew.extraction.beverage_source == Some(BeverageSource::FromRetention)
}

fn samples(name: &str, channel: &ChannelTrace, rate_hz: f64) -> String {
    let ChannelTrace { flag, noise_sd_g, step_g, .. } = channel;
    let mut counts: Vec<(Flag, usize)> = vec![(Flag::Used, 0)];
    for one in flag {
        match counts.iter_mut().find(|(of, _)| of == one) {
            Some((_, count)) => *count += 1,
            None => counts.push((*one, 1)),
        }
    }
    counts[1..].sort_by_key(|&(_, count)| std::cmp::Reverse(count));
    let parts: Vec<String> = counts.iter().map(|(of, count)| format!("{count} {}", of.word())).collect();
    let (n, parts, step) = (flag.len(), parts.join(", "), general(*step_g, 6));
    format!("{name}: {n} samples at {rate_hz:.1} Hz: {parts}; noise {noise_sd_g} g, readout step {step} g")
}

/// A number with its sd and unit, or a dash.
fn text(number: &Maybe, unit: &str) -> String {
    match number {
        Ok(number) if number.sd == 0.0 => format!("{}{unit}", general(number.value, 4)),
        Ok(number) => format!("{number}{unit}"),
        Err(_) => DASH.into(),
    }
}

fn reason(number: &Maybe) -> String {
    number.as_ref().err().map_or_else(String::new, |why| why.reason.clone())
}

fn sentence(warning: &str) -> String {
    let mut letters = warning.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}

/// A number of so many significant digits without trailing zeros, as `%g` of ISO C (ISO/IEC 9899:2011, 7.21.6.1).
fn general(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return value.to_string().to_lowercase();
    }
    let scientific = format!("{value:.*e}", digits - 1);
    let (mantissa, exponent) = scientific.split_once('e').unwrap_or((&scientific, "0"));
    let exponent: i32 = exponent.parse().unwrap_or(0);
    let bare = |text: &str| match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        false => text.to_owned(),
    };
    if exponent < -4 || exponent >= digits as i32 {
        let sign = if exponent < 0 { '-' } else { '+' };
        return format!("{}e{sign}{:02}", bare(mantissa), exponent.abs());
    }
    bare(&format!("{value:.*}", (digits as i32 - 1 - exponent) as usize))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Undefined;

    #[test]
    fn a_number_without_sd_is_written_as_printf_writes_it() {
        // From `printf '%.4g\n' ...` of GNU coreutils.
        let expected = [
            (0.0, "0"),
            (15.0, "15"),
            (1234.5, "1234"),
            (12_345.0, "1.234e+04"),
            (0.000_1, "0.0001"),
            (0.000_012_34, "1.234e-05"),
            (9999.6, "1e+04"),
            (-2.50, "-2.5"),
            (100.0, "100"),
        ];
        for (value, text) in expected {
            assert_eq!(general(value, 4), text);
        }
        assert_eq!((general(0.1, 6), general(f64::NAN, 6)), ("0.1".into(), "nan".into()));
    }

    #[test]
    fn a_number_has_its_sd_and_unit_or_a_dash() {
        assert_eq!(text(&Ok(Estimate::new(22.08, 0.502)), " %"), "22.08 ± 0.50 %");
        assert_eq!(text(&Ok(Estimate::exact(16.0)), " g/g"), "16 g/g");
        let unknown: Maybe = Err(Undefined::because("tds_pct was not given"));
        assert_eq!((text(&unknown, " %"), reason(&unknown)), ("–".into(), "tds_pct was not given".into()));
    }

    #[test]
    fn a_warning_becomes_a_sentence() {
        assert_eq!(sentence("élan 2 s"), "Élan 2 s.");
        assert_eq!(sentence(""), ".");
    }

    #[test]
    fn the_largest_share_is_named_and_never_as_all() {
        let row = |name: &str, share: f64| BudgetRow {
            name: name.into(),
            value: Estimate::new(1.35, 0.03),
            sensitivity: 1.0,
            contribution_pct: 1.0,
            share,
        };
        let named = |shares: &[f64]| {
            let rows: Vec<_> = ["a", "b", "assumed"]
                .into_iter()
                .zip(shares)
                .map(|(name, &share)| row(name, share))
                .collect();
            largest(&rows, |name| name == "assumed")
        };
        let line = |start: &str, name: &str| {
            Some(format!("{start} of its variance comes from {name}, 1.350 ± 0.030."))
        };
        assert_eq!(named(&[0.4, 0.6]), line("60 %", "b"));
        assert_eq!(named(&[0.5, 0.5]), line("50 %", "a"));
        assert_eq!(named(&[0.999, 0.001]), line("Over 99 %", "a"));
        assert_eq!((named(&[0.0, 0.0]), named(&[])), (None, None));
        let assumed = named(&[0.1, 0.1, 0.8]).unwrap_or_default();
        assert!(
            assumed.ends_with("assumed, 1.350 ± 0.030. This sd is assumed: state assumed_sd."),
            "{assumed}"
        );
    }
}
