//! In: pours as somebody set them by hand. Out: [`Labels`], kept beside the log and never in it; and [`Labelled`], what
//! they changed.

use crate::error::{Error, Result};
use crate::log::record::Log;
use crate::rows::rows;
use crate::segment::pour::Pour;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// One pour set by hand.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LabelledPour {
    /// Its start, s, as true time at the bed.
    pub start_s: f64,
    /// Its end, s.
    pub end_s: f64,
}

rows! { $
/// All the pours of a brew as somebody set them by hand, in order; kept beside the log, never in it.
///
/// They stand in place of what [`segment`](fn@crate::segment) finds. An edge within 1 ms of one that was found counts
/// as found.
///
/// ```
/// use pourline::{LabelledPour, Labels, Options, Recipe, analyze, analyze_labelled, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let mut labels = Labels::of(&analyze(&log, &Options::default())?);
/// let first: &mut LabelledPour = &mut labels.pours[0];
/// first.end_s += 0.4;
/// let brew = analyze_labelled(&log, &labels, &Options::default())?;
/// assert_eq!(brew.segments.pours[0].end_s.value, labels.pours[0].end_s);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Labels {
    /// The pours, each its start and its end, s.
    pub pours: Vec<LabelledPour>,
    /// How well a hand places an edge: sd, s.
    ///
    /// 0.001 to 1.
    #[serde(default = "usual_sd_s")]
    pub sd_s: f64,
    /// Who set them.
    #[serde(default)]
    pub by: Option<String>,
    /// A note on them.
    #[serde(default)]
    pub note: Option<String>,
    /// SHA-256 of the samples of the log that they belong to, if it was stated; see [`Log::digest`].
    #[serde(default)]
    pub log_digest: Option<String>,
}
}

impl LabelledPour {
    /// Whether it overlaps a pour.
    pub(super) fn meets(&self, pour: &Pour) -> bool {
        self.start_s < pour.end_s.value && pour.start_s.value < self.end_s
    }
}

fn usual_sd_s() -> f64 {
    0.05
}

impl Labels {
    /// Labels with the default sd, if they are valid.
    ///
    /// # Errors
    /// As [`Labels::check`].
    pub fn new(pours: Vec<LabelledPour>) -> Result<Self> {
        let labels = Self { pours, sd_s: usual_sd_s(), by: None, note: None, log_digest: None };
        labels.check()?;
        Ok(labels)
    }

    pub(crate) fn of_pours(pours: &[Pour], labelled: Option<&Labelled>) -> Self {
        let pour = |p: &Pour| LabelledPour { start_s: p.start_s.value, end_s: p.end_s.value };
        let before = labelled.map(|labelled| &labelled.labels);
        Self {
            pours: pours.iter().map(pour).collect(),
            sd_s: before.map_or(usual_sd_s(), |labels| labels.sd_s),
            by: before.and_then(|labels| labels.by.clone()),
            note: before.and_then(|labels| labels.note.clone()),
            log_digest: before.and_then(|labels| labels.log_digest.clone()),
        }
    }

    /// Whether every pour starts before it ends and after the one before it ended, and the sd is in its range.
    ///
    /// # Errors
    /// `not_finite` and `out_of_range` with the number of the pour as the row.
    pub fn check(&self) -> Result<()> {
        if !(self.sd_s >= 0.001 && self.sd_s <= 1.0) {
            let rule = "it must be from 0.001 to 1".into();
            return Err(Error::OutOfRange { name: "labels.sd_s".into(), value: self.sd_s, rule, row: 0 });
        }
        let mut before_s = f64::NEG_INFINITY;
        for (row, pour) in (1..).zip(&self.pours) {
            for (name, value) in [("labels.start_s", pour.start_s), ("labels.end_s", pour.end_s)] {
                if !value.is_finite() {
                    return Err(Error::NotFinite { column: name.into(), row, value });
                }
            }
            if pour.start_s < before_s {
                let rule = format!("it must not come before {before_s} s, the end of the pour before");
                return Err(refused("start_s", pour.start_s, rule, row));
            }
            if pour.end_s <= pour.start_s {
                let rule = format!("it must come after {} s, the start of the same pour", pour.start_s);
                return Err(refused("end_s", pour.end_s, rule, row));
            }
            before_s = pour.end_s;
        }
        Ok(())
    }

    /// Whether they are of that log, if they state one.
    pub(super) fn are_of(&self, log: &Log) -> Result<()> {
        let Some(stated) = &self.log_digest else { return Ok(()) };
        let found = log.digest();
        if *stated == found {
            return Ok(());
        }
        let message = format!("the labels are of a log with the digest {stated}, this one has {found}");
        Err(Error::Argument { name: "labels".into(), message })
    }

    /// As JSON.
    #[must_use]
    pub fn to_json(&self) -> String {
        // Plain numbers and texts always serialise.
        serde_json::to_string_pretty(self).unwrap_or_default()
    }

    /// From that JSON.
    ///
    /// # Errors
    /// `format` for a text that is not JSON or a key that does not exist or is missing; else as [`Labels::check`].
    pub fn from_json(text: &str) -> Result<Self> {
        let labels: Self = serde_json::from_str(text)
            .map_err(|e| Error::Format { row: 0, message: format!("these are no labels: {e}") })?;
        labels.check()?;
        Ok(labels)
    }
}

pub(super) fn refused(edge: &str, value: f64, rule: String, row: usize) -> Error {
    Error::OutOfRange { name: format!("labels.{edge}"), value, rule, row }
}

/// The edges of one pour that were set by hand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct EdgesByHand {
    /// Whether its start was set by hand.
    pub start: bool,
    /// Whether its end was.
    pub end: bool,
    /// Whether it overlaps no detected pour.
    pub added: bool,
}

impl EdgesByHand {
    /// `none`, `start`, `end` or `both`.
    #[must_use]
    pub fn word(self) -> &'static str {
        match (self.start, self.end) {
            (false, false) => "none",
            (true, false) => "start",
            (false, true) => "end",
            (true, true) => "both",
        }
    }
}

rows! { $
/// What labels changed in a brew.
///
/// ```
/// use pourline::{EdgesByHand, Labelled, Labels, Options, Recipe, analyze, analyze_labelled, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let mut labels = Labels::of(&analyze(&log, &Options::default())?);
/// labels.pours[0].start_s -= 0.2;
/// let brew = analyze_labelled(&log, &labels, &Options::default())?;
/// let changed: &Labelled = brew.labelled.as_ref().unwrap();
/// assert_eq!(changed.pours[0], EdgesByHand { start: true, end: false, added: false });
/// assert_eq!(changed.removed, 0);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Labelled {
    /// The labels, as they were given.
    pub labels: Labels,
    /// What was set by hand, one row per pour.
    pub pours: Vec<EdgesByHand> { hidden },
    /// Number of found pours that share no time with any label.
    pub removed: usize,
    /// Warnings on the labels, each a sentence without its full stop.
    pub warnings: Vec<String>,
}
}

impl Labelled {
    /// One row per pour: its label, what was set by hand (none, start, end, both), and whether it was added (yes, no).
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let numbers =
            |of: fn(&LabelledPour) -> f64| Values::Number(self.labels.pours.iter().map(of).collect());
        let words = |of: fn(&EdgesByHand) -> &'static str| {
            Values::Text(self.pours.iter().map(|pour| of(pour).into()).collect())
        };
        table.push("pour", "", Values::Whole((1..=self.pours.len() as i64).collect()));
        table.push("start_s", "s", numbers(|p| p.start_s));
        table.push("end_s", "s", numbers(|p| p.end_s));
        table.push("by_hand", "", words(|p| p.word()));
        table.push("added", "", words(|p| if p.added { "yes" } else { "no" }));
        table
    }
}
