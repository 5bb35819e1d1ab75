//! In: the text of a cell such as `12.3 g` or `1,000.5`, and what the other cells show of the two signs. Out: its
//! number and the unit that stands in it.
//!
//! Blanks and apostrophes between digits separate thousands. Of point and comma the file shows which is which: a sign
//! that is not followed by exactly three digits is the decimal one, and so is the last one of a number with both.

use crate::log::words;

/// Signs that only separate thousands.
const BLANKS: [char; 6] = [' ', '\'', '\u{2019}', '\u{a0}', '\u{2009}', '\u{202f}'];
/// No number of a log is longer.
const LONGEST: usize = 64;

/// A cell in its parts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Quantity {
    /// Digits with their signs, thousands not separated by blanks.
    number: String,
    /// Short word of the unit.
    pub(super) unit: Option<&'static str>,
}

/// What the cells read so far show of point and comma.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Signs {
    point: bool,
    comma: bool,
    /// A point or comma before exactly three digits.
    open_comma: bool,
    open_point: bool,
}

/// The decimal sign of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Decimal {
    Point,
    Comma,
}

impl Quantity {
    /// The parts of a cell, if it is a number, perhaps with a unit.
    pub(super) fn parse(cell: &str) -> Option<Self> {
        let cell = cell.trim();
        if cell.is_empty() || cell.len() > LONGEST {
            return None;
        }
        let cell = cell.replace('\u{2212}', "-");
        if cell.parse::<f64>().is_ok_and(f64::is_finite) {
            return Some(Self { number: cell, unit: None });
        }
        let is_number = |c: char| c.is_ascii_digit() || matches!(c, '.' | ',') || BLANKS.contains(&c);
        let begin = usize::from(cell.starts_with(['+', '-']));
        let end = cell[begin..].find(|c: char| !is_number(c)).map_or(cell.len(), |at| begin + at);
        let (number, word) = (cell[..end].trim_end(), cell[end..].trim());
        let unit = if word.is_empty() { None } else { Some(words::unit(word)?) };
        Some(Self { number: without_blanks(number)?, unit })
    }

    /// Adds what this number shows of the signs.
    pub(super) fn show(&self, signs: &mut Signs) {
        let number = self.number.as_str();
        let (points, commas) = (number.matches('.').count(), number.matches(',').count());
        match (points, commas) {
            (0, 0) => {}
            (0, 1) if like_thousands(number) => signs.open_comma = true,
            (1, 0) if like_thousands(number) => signs.open_point = true,
            (1, 0) => signs.point = true,
            (0, 1) => signs.comma = true,
            // Several of a kind separate thousands, so that the other is the decimal sign.
            (0, _) if in_threes(number, ',') => signs.point = true,
            (_, 0) if in_threes(number, '.') => signs.comma = true,
            (0, _) | (_, 0) => {}
            _ if number.rfind('.') > number.rfind(',') => signs.point = true,
            _ => signs.comma = true,
        }
    }

    /// The number, if it fits the decimal sign.
    pub(super) fn value(&self, decimal: Decimal) -> Option<f64> {
        let (decimal, thousands) = if decimal == Decimal::Point { ('.', ',') } else { (',', '.') };
        if !self.number.contains(thousands) {
            return self.number.replace(decimal, ".").parse().ok();
        }
        let (whole, fraction) = self.number.split_once(decimal).unwrap_or((&self.number, ""));
        let mut groups = whole.trim_start_matches(['+', '-']).split(thousands);
        let first = groups.next()?;
        let is_whole = (1..=3).contains(&first.len()) && groups.all(|group| group.len() == 3);
        if !is_whole || fraction.contains([decimal, thousands]) {
            return None;
        }
        format!("{}.{fraction}", whole.replace(thousands, "")).parse().ok()
    }
}

impl Signs {
    /// The decimal sign; None if the file uses both as such, or if `1,000` could be either.
    pub(super) fn decimal(self) -> Option<Decimal> {
        match (self.point, self.comma) {
            (true, true) => None,
            (true, false) => Some(Decimal::Point),
            (false, true) => Some(Decimal::Comma),
            (false, false) if self.open_comma => None,
            (false, false) => Some(Decimal::Point),
        }
    }

    /// Whether a sign separates thousands: the other one is the decimal sign.
    pub(super) fn has_thousands(self) -> bool {
        (self.point && self.open_comma) || (self.comma && self.open_point)
    }
}

/// The number without blanks between its thousands; None if they stand elsewhere.
fn without_blanks(number: &str) -> Option<String> {
    if !number.contains(BLANKS) {
        return Some(number.into());
    }
    let mut groups = number.split(BLANKS);
    let first = groups.next()?.trim_start_matches(['+', '-']);
    let fits = |group: &str| group.split(['.', ',']).next().is_some_and(|whole| whole.len() == 3);
    let is_whole =
        (1..=3).contains(&first.len()) && first.bytes().all(|b| b.is_ascii_digit()) && groups.all(fits);
    is_whole.then(|| number.replace(BLANKS, ""))
}

/// Whether the groups behind a sign have three digits each.
fn in_threes(number: &str, sign: char) -> bool {
    number.split(sign).skip(1).all(|group| group.len() == 3)
}

/// One to three digits that do not begin with 0, a sign, three digits.
fn like_thousands(number: &str) -> bool {
    let digits = number.trim_start_matches(['+', '-']);
    digits.split_once(['.', ',']).is_some_and(|(whole, rest)| {
        rest.len() == 3 && (1..=3).contains(&whole.len()) && !whole.starts_with('0')
    })
}

#[cfg(test)]
mod tests {
    use super::{Decimal, Quantity, Signs};

    fn read(cells: &[&str]) -> Option<Vec<f64>> {
        let cells: Option<Vec<Quantity>> = cells.iter().map(|cell| Quantity::parse(cell)).collect();
        let (cells, mut signs) = (cells?, Signs::default());
        cells.iter().for_each(|cell| cell.show(&mut signs));
        let decimal = signs.decimal()?;
        cells.iter().map(|cell| cell.value(decimal)).collect()
    }

    #[test]
    fn each_way_to_write_a_thousand_is_read_if_the_file_shows_which_it_is() {
        for cells in [
            ["0.5", "1,000.5", "-2,000"],
            ["0,5", "1.000,5", "-2.000"],
            ["0,5", "1 000,5", "-2 000"],
            ["0.5", "1'000.5", "-2'000"],
            ["0.5", "1000.5", "\u{2212}2000"],
            ["0,5", "1\u{a0}000,5", "-2\u{202f}000"],
            ["0.5 g", "1,000.5 g", "-2000g"],
        ] {
            assert_eq!(read(&cells), Some(vec![0.5, 1000.5, -2000.0]), "{cells:?}");
        }
        assert_eq!(read(&["0", "1,234,567"]), Some(vec![0.0, 1_234_567.0]));
        assert_eq!(read(&["1.234"]), Some(vec![1.234]), "a point is a decimal point unless a comma is one");
    }

    #[test]
    fn a_thousand_that_could_be_a_decimal_is_no_number() {
        for cells in [
            ["999", "1,000"],
            ["0,5", "0.5"],
            ["0,5", "10.00"],
            ["0.5", "1,00.5"],
            ["1 00", "2"],
            ["12 x", "1"],
        ] {
            assert_eq!(read(&cells), None, "{cells:?}");
        }
        assert_eq!(Quantity::parse("inf"), None);
        assert_eq!(Quantity::parse("1.5 kg").and_then(|q| q.unit), Some("kg"));
        assert_eq!(Quantity::parse("1.5").unwrap().value(Decimal::Comma), None, "one point before one digit");
    }
}
