//! In: the text of a file of rules, and the name of a log's file. Out: the columns, units and metadata that the rules
//! state for it.

use crate::error::{Error, Result};
use crate::log::meta::Meta;
use crate::log::notes::{Notes, is_known};
use crate::log::options::ReadOptions;
use crate::log::pattern::Pattern;
use toml::{Table, Value};

/// The parser needs up to a hundred times the memory of a text, plus two kilobytes for each dot in a key.
const MOST_BYTES: usize = 1 << 16;
const MOST_DOTS: usize = 1000;

/// Rules for files by the pattern of their names: columns, units, metadata, and factors that the name holds.
///
/// ```
/// use pourline::{ReadRules, TimeUnit};
/// let rules = ReadRules::parse(r#"
///     [[files]]
///     name = "{kettle}_{person}_{n}.csv"
///     time = 1
///     water = "Reading"
///     time_unit = "ms"
///     dose_g = 15
/// "#)?;
/// let rule = rules.rule_for("Broadlip_Ada_07.csv")?.unwrap();
/// assert_eq!((rule.options.time.as_deref(), rule.options.time_unit), (Some("1"), Some(TimeUnit::Ms)));
/// assert_eq!((rule.meta.kettle.as_deref(), rule.meta.dose_g), (Some("Broadlip"), Some(15.0)));
/// assert_eq!(rule.meta.factors["n"], "07");
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone)]
pub struct ReadRules {
    rules: Vec<Rule>,
}

/// What the rules state for one file.
///
/// ```
/// use pourline::{ReadRule, ReadRules};
/// let rules = ReadRules::parse("[[files]]\nname = \"factors.csv\"\nskip = true\n")?;
/// let rule: ReadRule = rules.rule_for("factors.csv")?.unwrap();
/// assert!(rule.skip && rule.index == 0);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq)]
pub struct ReadRule {
    /// Which rule it is, from 0.
    pub index: usize,
    /// Whether the file is no log and is left out.
    pub skip: bool,
    /// Columns and units.
    pub options: ReadOptions,
    /// Metadata and factors.
    pub meta: Meta,
}

#[derive(Debug, Clone)]
struct Rule {
    pattern: Pattern,
    skip: bool,
    options: ReadOptions,
    /// Metadata as keys and texts.
    stated: Vec<(String, String)>,
}

impl ReadRules {
    /// Reads rules from TOML: one table `[[files]]` per rule.
    ///
    /// Its key `name` is a pattern of file names. `{field}` stands for one or more characters, which become the
    /// metadata or the factor of that name; `*` stands for any characters. The further keys are `time`, `water` and
    /// `beverage` (a name or a number from 1), `time_unit`, `mass_unit`, `missing`, `scale` (the field `device` of the
    /// metadata), the fields of [`Meta`], a table `factors`, and `skip = true` for files that are no logs.
    ///
    /// # Errors
    /// `format` for a text that is not TOML, has more than 64 KiB or 1000 dots, or has no rule; `argument` for a key
    /// that does not exist or a value that does not fit it.
    pub fn parse(text: &str) -> Result<Self> {
        let format = |message: String| Err(Error::Format { row: 0, message });
        if text.len() > MOST_BYTES || text.bytes().filter(|byte| *byte == b'.').count() > MOST_DOTS {
            return format(format!("more than 64 KiB or {MOST_DOTS} dots: the text is too long for rules"));
        }
        let table: Table = match toml::from_str(text) {
            Ok(table) => table,
            Err(error) => {
                let at = error.span().map_or(0, |span| span.start);
                let line = text.bytes().take(at).filter(|byte| *byte == b'\n').count() + 1;
                return format(format!("line {line}: {}", error.message().trim()));
            }
        };
        if let Some(key) = table.keys().find(|key| *key != "files") {
            return Err(argument(key, "is no key of rules; each rule begins with a line [[files]]"));
        }
        let tables = match table.get("files") {
            Some(Value::Array(tables)) => tables.as_slice(),
            _ => &[],
        };
        let rules: Vec<Rule> = tables.iter().map(Rule::of).collect::<Result<_>>()?;
        if rules.is_empty() {
            return format(
                "there is no rule; each begins with a line [[files]] and has name = \"...\"".into(),
            );
        }
        Ok(Self { rules })
    }

    /// The patterns of the rules, in their order.
    #[must_use]
    pub fn patterns(&self) -> Vec<&str> {
        self.rules.iter().map(|rule| rule.pattern.text()).collect()
    }

    /// What the rules state for a file of this name; None if no pattern fits.
    ///
    /// # Errors
    /// `argument` if two rules fit, or one in several ways, or if a field of the name does not fit its metadata.
    pub fn rule_for(&self, file_name: &str) -> Result<Option<ReadRule>> {
        let mut found = None;
        for (index, rule) in self.rules.iter().enumerate() {
            let Some(fields) = rule.pattern.fields(file_name)? else { continue };
            if let Some((first, _)) = found {
                let names = [first, index].map(|index: usize| self.rules[index].pattern.text());
                let message = format!(
                    "fits two rules, {:?} and {:?}: narrow one of the patterns, or rename the file",
                    names[0], names[1]
                );
                return Err(argument(file_name, &message));
            }
            found = Some((index, fields));
        }
        let Some((index, fields)) = found else { return Ok(None) };
        let rule = &self.rules[index];
        let mut notes = Notes::default();
        for (key, text) in rule.stated.iter().chain(&fields) {
            let known = if is_known(key) { key.clone() } else { format!("factors.{key}") };
            notes.put(&known, text).map_err(|error| argument(file_name, &error.to_string()))?;
        }
        let (options, meta) = notes.apply(&rule.options, Meta::default())?;
        Ok(Some(ReadRule { index, skip: rule.skip, options, meta }))
    }
}

impl Rule {
    fn of(value: &Value) -> Result<Self> {
        let Value::Table(table) = value else {
            return Err(argument("files", "must be tables: each rule begins with a line [[files]]"));
        };
        let Some(Value::String(name)) = table.get("name") else {
            return Err(argument(
                "name",
                "is missing in a rule: a pattern of file names, such as \"{kettle}_{n}.csv\"",
            ));
        };
        let pattern = Pattern::parse(name)?;
        let (mut skip, mut options, mut stated) = (false, ReadOptions::default(), Vec::new());
        for (key, value) in table.iter().filter(|(key, _)| *key != "name") {
            match (key.as_str(), value) {
                ("skip", Value::Boolean(is)) => skip = *is,
                ("time", value) => options.time = Some(text(key, value)?),
                ("water", value) => options.water = Some(text(key, value)?),
                ("beverage", value) => options.beverage = Some(text(key, value)?),
                ("time_unit", value) => options.time_unit = Some(text(key, value)?.parse()?),
                ("mass_unit", value) => options.mass_unit = Some(text(key, value)?.parse()?),
                ("missing", value) => options.missing = text(key, value)?.parse()?,
                ("scale", value) => stated.push(("device".into(), text(key, value)?)),
                ("factors", Value::Table(factors)) => {
                    for (factor, value) in factors {
                        stated.push((format!("factors.{factor}"), text(factor, value)?));
                    }
                }
                (known, value) if is_known(known) && !known.contains('.') => {
                    stated.push((key.clone(), text(key, value)?));
                }
                _ => {
                    let message = "is no key of a rule, or has a value of another kind; a factor of your own stands in \
                                   factors = { ... }";
                    return Err(argument(key, message));
                }
            }
        }
        Ok(Self { pattern, skip, options, stated })
    }
}

/// A text or number as text.
fn text(key: &str, value: &Value) -> Result<String> {
    match value {
        Value::String(text) => Ok(text.clone()),
        Value::Integer(number) => Ok(number.to_string()),
        Value::Float(number) => Ok(number.to_string()),
        _ => Err(argument(key, "must be a text or a number")),
    }
}

fn argument(name: &str, message: &str) -> Error {
    Error::Argument { name: name.into(), message: message.into() }
}
