//! In: a pattern such as `{kettle}_{n}.csv`, and the name of a file. Out: the fields that the name holds.

use crate::error::{Error, Result};
use crate::log::units::cut;

/// Fields and stars of a pattern.
const MOST_PARTS: usize = 16;
/// Names that a file system allows are shorter.
const LONGEST_NAME: usize = 1024;
/// Ways to fit a name that are tried: stars may leave many that give the same fields.
const MOST_WAYS: usize = 1000;

#[derive(Debug, Clone, PartialEq)]
enum Part {
    Text(String),
    Any,
    Field(String),
}

/// A pattern of file names.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pattern {
    text: String,
    parts: Vec<Part>,
}

/// Names of fields with their texts.
pub(super) type Fields = Vec<(String, String)>;

impl Pattern {
    pub(super) fn parse(text: &str) -> Result<Self> {
        let error =
            |what: &str| Error::Argument { name: "name".into(), message: format!("{:?} {what}", cut(text)) };
        let mut parts = Vec::new();
        let mut rest = text;
        while let Some(first) = rest.chars().next() {
            let (part, left) = match first {
                '*' => (Part::Any, &rest[1..]),
                '{' => {
                    let (field, left) =
                        rest[1..].split_once('}').ok_or_else(|| error("opens a brace that is not closed"))?;
                    if field.is_empty() || !field.chars().all(|c| c.is_alphanumeric() || c == '_') {
                        return Err(error("has a field that is no word, such as {kettle}"));
                    }
                    let field = Part::Field(field.into());
                    if parts.contains(&field) {
                        return Err(error("has one field twice"));
                    }
                    (field, left)
                }
                _ => {
                    let end = rest.find(['*', '{']).unwrap_or(rest.len());
                    (Part::Text(rest[..end].into()), &rest[end..])
                }
            };
            if matches!((parts.last(), &part), (Some(Part::Field(_)), Part::Field(_))) {
                return Err(error("has two fields with nothing between them"));
            }
            parts.push(part);
            rest = left;
        }
        if parts.is_empty() || parts.len() > 2 * MOST_PARTS {
            return Err(error("is no pattern: 1 to 16 fields and stars are needed"));
        }
        Ok(Self { text: text.into(), parts })
    }

    pub(super) fn text(&self) -> &str {
        &self.text
    }

    /// The fields of a name; None if it does not fit.
    pub(super) fn fields(&self, name: &str) -> Result<Option<Fields>> {
        let ends: Vec<usize> = name.char_indices().map(|(at, _)| at).chain([name.len()]).collect();
        if name.len() > LONGEST_NAME {
            return Ok(None);
        }
        let fits = self.fitting(name, &ends);
        let mut found: Vec<Fields> = Vec::new();
        // Depth first, only along what can still fit: the part, the place in the name, the fields so far.
        let mut open = if fits[0][0] { vec![(0, 0, Fields::new())] } else { Vec::new() };
        let mut ways = 0;
        while let Some((part, at, fields)) = open.pop() {
            let Some(next) = self.parts.get(part) else {
                ways += 1;
                if !found.contains(&fields) {
                    found.push(fields);
                }
                if found.len() > 1 || ways > MOST_WAYS {
                    break;
                }
                continue;
            };
            for to in self.steps(next, name, &ends, at).filter(|to| fits[part + 1][*to]) {
                let mut fields = fields.clone();
                if let Part::Field(field) = next {
                    fields.push((field.clone(), name[ends[at]..ends[to]].into()));
                }
                open.push((part + 1, to, fields));
            }
        }
        match found.as_slice() {
            [_, _, ..] => {
                let said = [&found[1], &found[0]].map(|fields| {
                    let fields: Vec<String> =
                        fields.iter().map(|(key, text)| format!("{key} {text:?}")).collect();
                    fields.join(", ")
                });
                let message = format!(
                    "fits {:?} in several ways ({}; or {}): rename the file, or put other signs between the fields",
                    self.text, said[0], said[1]
                );
                Err(Error::Argument { name: name.into(), message })
            }
            _ => Ok(found.pop()),
        }
    }

    /// Whether the rest of the name from a place can fit the parts from a part on.
    fn fitting(&self, name: &str, ends: &[usize]) -> Vec<Vec<bool>> {
        let mut fits = vec![vec![false; ends.len()]; self.parts.len() + 1];
        fits[self.parts.len()][ends.len() - 1] = true;
        for part in (0..self.parts.len()).rev() {
            for at in 0..ends.len() {
                let fit = self.steps(&self.parts[part], name, ends, at).any(|to| fits[part + 1][to]);
                fits[part][at] = fit;
            }
        }
        fits
    }

    /// Where a part that begins at a place may end.
    fn steps<'a>(&self, part: &Part, name: &'a str, ends: &'a [usize], at: usize) -> std::ops::Range<usize> {
        match part {
            Part::Text(text) if name[ends[at]..].starts_with(text.as_str()) => {
                let to = at + text.chars().count();
                to..to + 1
            }
            Part::Text(_) => 0..0,
            Part::Any => at..ends.len(),
            Part::Field(_) => at + 1..ends.len(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Pattern;

    fn fields(pattern: &str, name: &str) -> Option<Vec<(String, String)>> {
        Pattern::parse(pattern).unwrap().fields(name).unwrap()
    }

    fn of(pairs: &[(&str, &str)]) -> Option<Vec<(String, String)>> {
        Some(pairs.iter().map(|(key, text)| (key.to_string(), text.to_string())).collect())
    }

    #[test]
    fn a_name_gives_the_fields_of_its_pattern() {
        let found = fields("{kettle}_{person}_{n}.csv", "Broadlip_Ada_07.csv");
        assert_eq!(found, of(&[("kettle", "Broadlip"), ("person", "Ada"), ("n", "07")]));
        assert_eq!(fields("*.csv", "a.b.csv"), of(&[]));
        assert_eq!(fields("brew {n},*.txt", "brew 12, Ada.txt.txt"), of(&[("n", "12")]));
        assert_eq!(fields("{day}-\u{6e6f}.csv", "\u{6708}-\u{6e6f}.csv"), of(&[("day", "\u{6708}")]));
        for name in ["Broadlip_Ada.csv", "_Ada_07.csv", "Broadlip_Ada_07.csv.bak", ""] {
            assert_eq!(fields("{kettle}_{person}_{n}.csv", name), None, "{name}");
        }
    }

    #[test]
    fn a_name_that_fits_in_several_ways_is_an_error_and_stars_alone_are_none() {
        let error = Pattern::parse("{kettle}_{n}.csv").unwrap().fields("Broad_lip_07.csv").unwrap_err();
        let said = error.to_string();
        assert!(
            said.contains("kettle \"Broad\", n \"lip_07\"") && said.contains("kettle \"Broad_lip\""),
            "{said}"
        );
        assert_eq!(fields(&"*a".repeat(15), &"a".repeat(200)), of(&[]), "many ways, no field");
    }

    #[test]
    fn what_is_no_pattern_is_refused() {
        for text in ["", "{kettle", "{}.csv", "{a}{b}.csv", "{a}_{a}.csv", "{a b}.csv"] {
            assert!(Pattern::parse(text).is_err(), "{text}");
        }
        assert!(Pattern::parse(&"*-".repeat(17)).is_err());
    }
}
