//! In: the path or the text of a plan. Out: a [`Plan`], or its error with file, line and key. The layout is TOML 1.1.

use crate::error::{Error, Result};
use crate::log::read::small_text;
use crate::plan::planned::{Plan, fault};
use crate::plan::written::Written;
use std::path::Path;
use toml::Spanned;

impl Plan {
    /// Reads a plan from a TOML file; without a `name` it gets that of its file.
    ///
    /// ```no_run
    /// let plan = pourline::Plan::read("three_pours.toml")?;
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `io` if the file cannot be read, else as [`Plan::parse`]; each names the file.
    pub fn read(path: impl AsRef<Path>) -> Result<Self> {
        let path = path.as_ref();
        let label = path.display().to_string();
        let text = small_text(path)?;
        let stem = path.file_stem().map(|stem| stem.to_string_lossy().into_owned());
        parse(&text, &label, &stem.unwrap_or_default())
    }

    /// Reads a plan from the text of a TOML file.
    ///
    /// ```
    /// let plan = pourline::Plan::parse("
    ///     name = 'two of sixty'
    ///     start_within_s = 2
    ///     [[pour]]
    ///     start_s = 0
    ///     mass_g = 60
    ///     [[pour]]
    ///     start_s = 45
    ///     mass_g = 60
    ///     flow_g_per_s = 5
    /// ")?;
    /// assert_eq!((plan.pours()[1].start_within_s, plan.pours()[1].flow_g_per_s), (2.0, Some(5.0)));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `format` for a text that has more than 64 KiB or 1000 dots or is not TOML, and for a key that does not exist, is
    /// missing or holds no number; else as [`Plan::new`], with line and key.
    pub fn parse(text: &str) -> Result<Self> {
        parse(text, "", "")
    }
}

/// The parser needs up to a hundred times the memory of a text, plus two kilobytes for each dot in a key: larger texts
/// are refused.
const MOST_BYTES: usize = 1 << 16;
const MOST_DOTS: usize = 1000;

fn parse(text: &str, label: &str, name: &str) -> Result<Plan> {
    let file = if label.is_empty() { String::new() } else { format!("{label}, ") };
    if text.len() > MOST_BYTES {
        return Err(Error::Format {
            row: 0,
            message: format!("{file}more than 64 KiB: the text is too long for a plan"),
        });
    }
    if text.bytes().filter(|byte| *byte == b'.').count() > MOST_DOTS {
        return Err(Error::Format {
            row: 0,
            message: format!("{file}more than {MOST_DOTS} dots: too many for a plan"),
        });
    }
    let line = |at: usize| text.as_bytes().iter().take(at).filter(|byte| **byte == b'\n').count() + 1;
    let written: Written<Spanned<f64>> = toml::from_str(text).map_err(|e| {
        let at = e.span().map_or(0, |span| span.start);
        Error::Format { row: 0, message: format!("{file}line {}: {}", line(at), e.message().trim()) }
    })?;
    let pours = written.pours(|number| *number.get_ref());
    if pours.is_empty() {
        let message = "there is no pour; each begins with a line [[pour]] and has start_s and mass_g";
        let file = if label.is_empty() { "the text given" } else { label };
        return Err(Error::Format { row: 0, message: format!("{file}: {message}") });
    }
    if let Some(wrong) = fault(&pours) {
        let place = written.number(wrong.pour, wrong.key).map(|number| line(number.span().start));
        let line = place.map_or(String::new(), |line| format!("line {line}, "));
        let name = format!("{file}{line}{} of pour {}", wrong.key, wrong.pour + 1);
        return Err(Error::OutOfRange { name, value: wrong.value, rule: wrong.rule, row: 0 });
    }
    Plan::new(if written.name.is_empty() { name.into() } else { written.name }, pours)
}
