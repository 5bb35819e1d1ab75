//! In: the bytes of a text. Out: the text, and the encoding if it is not UTF-8.

use std::borrow::Cow;

/// Whether these are the first bytes of a text in UTF-16.
pub(super) fn is_utf16(sample: &[u8]) -> bool {
    sample.starts_with(b"\xff\xfe") || sample.starts_with(b"\xfe\xff")
}

/// The text in UTF-16, without its byte order mark; None if it is broken, or an odd number of bytes.
pub(super) fn utf16(bytes: &[u8]) -> Option<String> {
    let is_little = bytes.starts_with(b"\xff\xfe");
    let (pairs, rest) = bytes.get(2..)?.as_chunks::<2>();
    let unit = |pair: &[u8; 2]| if is_little { u16::from_le_bytes(*pair) } else { u16::from_be_bytes(*pair) };
    let text: Result<String, _> = char::decode_utf16(pairs.iter().map(unit)).collect();
    text.ok().filter(|_| rest.is_empty())
}

/// The text in UTF-8, or otherwise in ISO 8859-1, in which each byte is the character of its number.
pub(super) fn text(bytes: &[u8]) -> (Cow<'_, str>, Option<&'static str>) {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => (text.into(), None),
        Err(_) => {
            let text: String = bytes.iter().map(|byte| char::from(*byte)).collect();
            (text.into(), Some("the text is not UTF-8 and was read as Latin-1 (ISO 8859-1)"))
        }
    }
}

/// The text with LF as the end of each line, of those that end in CR LF, or all in CR.
pub(super) fn with_line_feeds(text: Cow<'_, str>) -> Cow<'_, str> {
    match (text.contains('\r'), text.contains('\n')) {
        (false, _) => text,
        (true, true) => text.replace("\r\n", "\n").into(),
        (true, false) => text.replace('\r', "\n").into(),
    }
}

#[cfg(test)]
mod tests {
    use super::{text, utf16};

    /// RFC 2781, section 5: U+12345 is D808 DF45; either order of bytes.
    #[test]
    fn utf_16_is_decoded_in_either_order_of_bytes() {
        let big = [0xfe, 0xff, 0xd8, 0x08, 0xdf, 0x45, 0x00, 0x3d, 0x00, 0x52];
        let little = [0xff, 0xfe, 0x08, 0xd8, 0x45, 0xdf, 0x3d, 0x00, 0x52, 0x00];
        assert_eq!(utf16(&big).as_deref(), Some("\u{12345}=R"));
        assert_eq!(utf16(&little).as_deref(), Some("\u{12345}=R"));
        assert_eq!(utf16(&big[..9]), None, "half a unit");
        assert_eq!(utf16(&big[..4]), None, "half a pair");
    }

    #[test]
    fn a_byte_that_is_no_utf_8_is_a_character_of_latin_1() {
        assert_eq!(text(b"\xb5s").0, "\u{b5}s");
        assert!(text(b"\xb5s").1.is_some() && text("\u{b5}s".as_bytes()).1.is_none());
    }
}
