//! The digest of columns of numbers, SHA-256 by FIPS 180-4, of the values and not of their text in a file.

use sha2::{Digest, Sha256};

/// Digest of columns by name: of each its name, a line feed, and its values as IEEE 754 doubles, the least
/// significant byte first; a negative zero as zero, any missing value as `0x7ff8_0000_0000_0000`.
pub(crate) fn of_columns<'a>(columns: impl IntoIterator<Item = (&'a str, &'a [f64])>) -> String {
    let mut found = Sha256::new();
    for (name, values) in columns {
        found.update(name.as_bytes());
        found.update(b"\n");
        for value in values {
            let bits = if value.is_nan() { 0x7ff8_0000_0000_0000 } else { (value + 0.0).to_bits() };
            found.update(bits.to_le_bytes());
        }
    }
    found.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn missing_values_have_one_digest_and_a_negative_zero_is_zero() {
        let of = |values: &[f64]| of_columns([("time_s", values)]);
        assert_eq!(of(&[-0.0, f64::from_bits(0xfff8_0000_0000_0001)]), of(&[0.0, f64::NAN]));
        assert_ne!(of(&[0.0, 1.0]), of(&[0.0, 1.0_f64.next_up()]));
    }
}
