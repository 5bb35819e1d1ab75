//! In: a brew. Out: the answer as people read it: one sentence, then one line of five numbers per pour, then warnings.
//!
//! Numbers are rounded to what matters at the kettle and have no sd; all of them stand in the results. Times count from
//! the start of the first pour.

use crate::brew::result::Brew;
use crate::brew::sentences::further;
use crate::estimate::{Estimate, Maybe};
use crate::metrics::result::PourMetrics;
use crate::segment::pour::Pour;
use std::fmt;

/// Width of a terminal, in characters.
const WIDTH: usize = 80;
const DASH: &str = "–";
/// From this sd on, a number has no decimal.
const ROUGH: f64 = 0.5;

/// A number as text, and the reason if it is undefined (else empty).
pub(crate) type Cell = (String, String);
/// Number of the pour, then five numbers.
pub(crate) const HEADS: [&str; 6] =
    ["pour", "start", "water, g", "flow, g/s", "near its flow, %", "rest before, s"];

impl Brew {
    /// The answer in one sentence: pours, water, time from the first start to the last end, flow over the time of all
    /// pours, share of that time near each pour's own flow, end of the drawdown, ratio and yield. What is undefined is
    /// left out.
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// assert!(brew.head().contains(" pours, "));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn head(&self) -> String {
        let n = self.segments.pours.len();
        if n == 0 {
            return "no pours".into();
        }
        let [water, time, flow, near, drained, ratio, extracted] = self.in_brief();
        let poured = [
            Some(format!("{n} pour{}", if n == 1 { "" } else { "s" })),
            water.map(|water| format!("{water} g")),
        ];
        let poured: Vec<String> = poured.into_iter().flatten().collect();
        let timed = time.map_or_else(String::new, |time| format!(" in {time}"));
        let parts = [
            Some(format!("{}{timed}", poured.join(", "))),
            near.map(|pct| format!("{pct} % of the pouring near its own flow")),
            drained.map(|end| format!("drawdown ends at {end}")),
            ratio.map(|ratio| format!("ratio {ratio}")),
            extracted.map(|pct| format!("yield {pct} %")),
        ];
        let mut parts: Vec<String> = parts.into_iter().flatten().collect();
        if let Some(flow) = flow {
            parts[0] += &format!(", {flow} g/s");
        }
        parts.join("; ")
    }

    /// Start of the first pour on the clock of the log, s; 0 if there is no pour.
    ///
    /// Columns, results and labels keep the clock of the log. Sentences, figures and pages count from this instant.
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// assert_eq!(brew.time_zero_s(), brew.segments.pours[0].start_s.value);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn time_zero_s(&self) -> f64 {
        self.segments.time_zero_s()
    }

    /// Water (g), time from the first start to the last end, flow (g/s), share of the pouring near its own flow (%), end of
    /// the drawdown from the first start, ratio, yield (%): as text, None if undefined.
    pub(crate) fn in_brief(&self) -> [Option<String>; 7] {
        let pours = &self.segments.pours;
        let since = |t_s: f64| (!pours.is_empty()).then(|| clock(t_s - self.time_zero_s()));
        let number = |found: &Maybe| found.as_ref().ok().map(plain);
        [
            number(&self.water_g),
            pours.last().and_then(|last| since(last.end_s.value)),
            number(&self.metrics.pouring_flow_g_per_s),
            self.near_pct().map(|pct| format!("{pct:.0}")),
            self.bed.drawdown_end_s.as_ref().ok().and_then(|end| since(end.value)),
            self.extraction.brew_ratio.as_ref().ok().map(|ratio| format!("1:{:.1}", ratio.value)),
            number(&self.extraction.yield_pct),
        ]
    }

    /// One row per pour: its number, start from the first start, water, flow, time near its own flow, rest before.
    pub(crate) fn brief(&self) -> Vec<[Cell; 6]> {
        let pours = &self.segments.pours;
        let known = |text: String| (text, String::new());
        let row = |(k, (pour, metrics)): (usize, (&Pour, &PourMetrics))| {
            let rest = k.checked_sub(1).and_then(|before| self.segments.rests.get(before));
            [
                known((k + 1).to_string()),
                known(clock(pour.start_s.value - self.time_zero_s())),
                known(plain(&pour.mass_g)),
                known(plain(&pour.mean_flow_g_per_s)),
                match &metrics.time_near_plateau_pct {
                    Ok(share) => known(format!("{:.0}", share.value)),
                    Err(why) => (DASH.into(), why.reason.clone()),
                },
                known(rest.map_or_else(String::new, |rest| plain(&rest.duration_s))),
            ]
        };
        pours.iter().zip(&self.metrics.pours).enumerate().map(row).collect()
    }

    /// The answer under a name: [`Brew::head`], a line per pour, then warnings and notes, in lines of 80 characters.
    pub(crate) fn overview(&self, name: &str) -> String {
        let mut lines = wrapped(&format!("{name}: {}", self.head()), "");
        let rows = self.brief();
        if !rows.is_empty() {
            let widths = HEADS.map(|head| head.chars().count() + 2);
            let line = |cells: [&str; 6]| -> String {
                let cells = cells.iter().zip(widths).map(|(cell, width)| format!("{cell:>width$}"));
                cells.collect::<String>().trim_end().into()
            };
            lines.push(line(HEADS));
            lines.extend(rows.iter().map(|row| line(row.each_ref().map(|cell| cell.0.as_str()))));
        }
        lines.extend(missing(&rows).iter().flat_map(|why| wrapped(why, "  ")));
        lines.extend(further(self).iter().flat_map(|line| wrapped(line, "  ")));
        lines.join("\n")
    }

    /// Share of the time of all pours near each pour's own flow, over the pours for which it is defined, %.
    fn near_pct(&self) -> Option<f64> {
        let rows = self.segments.pours.iter().zip(&self.metrics.pours);
        let known = rows.filter_map(|(pour, metrics)| {
            Some((pour.duration_s.value, metrics.time_near_plateau_pct.as_ref().ok()?.value))
        });
        let (all_s, near) = known.fold((0.0, 0.0), |(all_s, near), (s, pct)| (all_s + s, near + s * pct));
        (all_s > 0.0).then(|| near / all_s)
    }
}

impl fmt::Display for Brew {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.overview(self.meta.name.as_deref().unwrap_or("brew")))
    }
}

/// The reasons of undefined numbers, each with its pours.
fn missing(rows: &[[Cell; 6]]) -> Vec<String> {
    let mut reasons: Vec<(&str, Vec<&str>)> = Vec::new();
    for row in rows {
        for (_, why) in row.iter().filter(|(_, why)| !why.is_empty()) {
            match reasons.iter_mut().find(|(known, _)| known == why) {
                Some((_, pours)) => pours.push(&row[0].0),
                None => reasons.push((why, vec![&row[0].0])),
            }
        }
    }
    let line = |(why, pours): (&str, Vec<&str>)| {
        format!("{DASH} {why} (pour{} {})", if pours.len() == 1 { "" } else { "s" }, pours.join(", "))
    };
    reasons.into_iter().map(line).collect()
}

/// A number to one decimal, or to none if its sd is large.
fn plain(number: &Estimate) -> String {
    let decimals = usize::from(number.sd < ROUGH);
    let text = format!("{:.*}", decimals, number.value);
    // There is no negative nought.
    if text.trim_start_matches('-').chars().all(|c| "0.".contains(c)) {
        text.trim_start_matches('-').into()
    } else {
        text
    }
}

/// A time as `m:ss`, from an hour on as `h:mm:ss`.
fn clock(t_s: f64) -> String {
    let all = t_s.abs().round() as u64;
    let (hours, minutes, seconds) = (all / 3600, all / 60 % 60, all % 60);
    let sign = if t_s < -0.5 { "-" } else { "" };
    match hours {
        0 => format!("{sign}{minutes}:{seconds:02}"),
        _ => format!("{sign}{hours}:{minutes:02}:{seconds:02}"),
    }
}

/// Lines of at most 80 characters, those after the first indented by four more.
fn wrapped(text: &str, indent: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let mut line = indent.to_owned();
    let mut is_empty = true;
    for word in text.split_whitespace() {
        if !is_empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
            lines.push(std::mem::replace(&mut line, format!("{indent}    ")));
            is_empty = true;
        }
        if !is_empty {
            line.push(' ');
        }
        line.push_str(word);
        is_empty = false;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_those_of_a_clock() {
        let found = [0.2, 59.6, 110.0, 3599.4, 3600.0, -3.0].map(clock);
        assert_eq!(found, ["0:00", "1:00", "1:50", "59:59", "1:00:00", "-0:03"]);
    }

    #[test]
    fn a_number_has_no_more_digits_than_matter() {
        let found = [(240.542, 0.04), (240.542, 3.0), (-0.04, 0.01), (0.0, 0.0)];
        let found = found.map(|(value, sd)| plain(&Estimate::new(value, sd)));
        assert_eq!(found, ["240.5", "241", "0.0", "0.0"]);
    }

    #[test]
    fn lines_fit_a_terminal_and_lose_no_word() {
        let text = "word ".repeat(60);
        let lines = wrapped(&text, "  ");
        assert!(lines.iter().all(|line| line.chars().count() <= WIDTH), "{lines:?}");
        assert_eq!(lines.join(" ").split_whitespace().count(), 60);
        assert!(lines[1].starts_with("      word"));
    }
}
