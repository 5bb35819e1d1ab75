//! In: the bytes of the next lines. Out: the numbers of one line whose needed cells are all plain numbers, and its
//! length. Any other line is read by the full rules.
//!
//! A plain number has digits and at most one decimal point. Up to 2^53 without the point, and with no more than 22
//! digits after it, both the number and the power of ten are exact in f64. One division then rounds correctly, to the
//! same bits as the standard library (Clinger 1990, "How to read floating point numbers accurately").

use crate::log::columns::Chosen;

/// The largest power of ten that an f64 holds exactly.
const MOST_DECIMALS: usize = 22;
const POWERS: [f64; MOST_DECIMALS + 1] = [
    1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11, 1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18,
    1e19, 1e20, 1e21, 1e22,
];
/// This many digits cannot overflow a u64.
const MOST_DIGITS: usize = 19;

/// Layout of a plain line.
pub(super) struct Plain {
    separator: u8,
    /// For each column whether it is time (0), water (1), beverage (2) or is not needed.
    parts: Vec<Option<usize>>,
}

impl Plain {
    pub(super) fn new(separator: u8, width: usize, chosen: &Chosen) -> Self {
        let mut parts = vec![None; width];
        let water = chosen.water.as_ref().map(|pick| pick.index);
        let beverage = chosen.beverage.as_ref().map(|pick| pick.index);
        for (part, index) in [Some(chosen.time.index), water, beverage].into_iter().enumerate() {
            if let Some(place) = index.and_then(|index| parts.get_mut(index)) {
                *place = Some(part);
            }
        }
        Self { separator, parts }
    }

    /// The numbers of the first line of `text`, and its length with its end. Without `points` no number may have a
    /// point.
    #[inline]
    pub(super) fn line(&self, text: &[u8], points: bool) -> Option<([f64; 3], usize)> {
        let mut numbers = [f64::NAN; 3];
        let mut at = 0;
        let mut left = self.parts.len();
        for part in &self.parts {
            at += match part {
                Some(part) => {
                    let (number, length) = number(&text[at..], points)?;
                    numbers[*part] = number;
                    length
                }
                None => self.other(&text[at..])?,
            };
            left -= 1;
            if left > 0 {
                if *text.get(at)? != self.separator {
                    return None;
                }
                at += 1;
            }
        }
        at += usize::from(*text.get(at)? == b'\r');
        (*text.get(at)? == b'\n').then_some((numbers, at + 1))
    }

    /// The length of an unused field. A quote, a comment or a NUL ends it, and the line is then not plain.
    fn other(&self, text: &[u8]) -> Option<usize> {
        text.iter().position(|b| *b == self.separator || matches!(b, b'\n' | b'\r' | b'"' | b'#' | 0))
    }
}

/// The number at the start of `text`, and its length.
#[inline]
fn number(text: &[u8], points: bool) -> Option<(f64, usize)> {
    let negative = *text.first()? == b'-';
    let begin = usize::from(negative);
    let (mut at, mut whole, mut point) = (begin, 0u64, None);
    loop {
        let byte = *text.get(at)?;
        let digit = byte.wrapping_sub(b'0');
        if digit < 10 {
            whole = whole.wrapping_mul(10).wrapping_add(u64::from(digit));
        } else if byte == b'.' && points && point.is_none() {
            point = Some(at);
        } else {
            break;
        }
        at += 1;
    }
    let digits = at - begin - usize::from(point.is_some());
    let decimals = point.map_or(0, |point| at - point - 1);
    if digits == 0 || digits > MOST_DIGITS || whole > 1 << 53 {
        return None;
    }
    let value = whole as f64 / POWERS[decimals];
    Some((if negative { -value } else { value }, at))
}

#[cfg(test)]
mod tests {
    use super::number;
    use crate::math::random::Random;

    /// Against the standard library, which rounds correctly.
    #[test]
    fn a_plain_number_has_the_same_bits_as_the_standard_library_gives() {
        let mut random = Random::new(5);
        let mut plain = 0;
        for _ in 0..200_000 {
            let mut digits = |most: f64| -> String {
                let n = (random.unit() * (most + 1.0)) as usize;
                (0..n).map(|_| char::from(b'0' + (random.unit() * 10.0) as u8)).collect()
            };
            let (whole, rest) = (digits(10.0), digits(10.0));
            for text in
                [whole.clone(), format!("-{whole}"), format!("{whole}.{rest}"), format!("-{whole}.{rest}")]
            {
                match number(format!("{text},").as_bytes(), true) {
                    Some((value, length)) => {
                        assert_eq!(length, text.len());
                        assert_eq!(value.to_bits(), text.parse::<f64>().unwrap().to_bits(), "{text}");
                        plain += 1;
                    }
                    None => assert!(text.parse::<f64>().is_err() || text.len() > 16, "{text}"),
                }
            }
        }
        assert!(plain > 500_000, "{plain}");
    }

    #[test]
    fn other_numbers_are_left_to_the_full_rules() {
        for text in
            [",", "-,", ".,", "-.,", "+1,", " 1,", "1e5,", "nan,", "1.2.3,", "9007199254740993,", "12"]
        {
            assert!(number(text.as_bytes(), true).is_none_or(|(_, n)| text.as_bytes()[n] != b','), "{text}");
        }
        assert_eq!(number(b"9007199254740992;", true), Some((9_007_199_254_740_992.0, 16)));
        assert_eq!(number(b"0.5,", false), Some((0.0, 1)));
        assert_eq!(number(b"0.5,", true), Some((0.5, 3)));
    }
}
