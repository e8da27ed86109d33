//! The text of a part and how it was written down.
//!
//! In:  the bytes of an XML part. Out: its text, and after a change its bytes in the same encoding, byte order mark and all.
//! Keeps: a part comes out as it went in (`a_text_comes_out_as_it_went_in`); what is neither UTF-8, UTF-16 nor plain ASCII is
//! refused (`an_old_encoding_is_refused_unless_it_is_plain_ascii`). Source: XML 1.0, section 4.3.3. Not here: what stands in it.

use super::error::GraftError;

/// How a part was written down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Coding {
    Utf8,
    Utf8WithMark,
    Utf16Le,
    Utf16Be,
}

/// A part's text.
#[derive(Debug, Clone)]
pub(super) struct PartText {
    pub text: String,
    coding: Coding,
}

const UTF8_MARK: &[u8] = b"\xEF\xBB\xBF";

impl PartText {
    /// Reads a part.
    pub(super) fn decode(bytes: Vec<u8>) -> Result<Self, GraftError> {
        if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"<\0") {
            return Ok(PartText { text: wide(&bytes, u16::from_le_bytes)?, coding: Coding::Utf16Le });
        }
        if bytes.starts_with(b"\xFE\xFF") || bytes.starts_with(b"\0<") {
            return Ok(PartText { text: wide(&bytes, u16::from_be_bytes)?, coding: Coding::Utf16Be });
        }
        let (bytes, coding) = match bytes.strip_prefix(UTF8_MARK) {
            Some(rest) => (rest.to_vec(), Coding::Utf8WithMark),
            None => (bytes, Coding::Utf8),
        };
        let declared = declared_encoding(&bytes);
        let is_plain = declared.as_deref().is_none_or(|name| name.eq_ignore_ascii_case("utf-8"));
        if !is_plain && !bytes.is_ascii() {
            return Err(GraftError::Encoding(declared.unwrap_or_default()));
        }
        let text = String::from_utf8(bytes).map_err(|_| GraftError::damaged("a part is not valid UTF-8"))?;
        Ok(PartText { text, coding })
    }

    /// The bytes of a changed text, written down as this part was.
    pub(super) fn encode(&self, text: &str) -> Vec<u8> {
        match self.coding {
            Coding::Utf8 => text.as_bytes().to_vec(),
            Coding::Utf8WithMark => [UTF8_MARK, text.as_bytes()].concat(),
            Coding::Utf16Le => marked(text).flat_map(u16::to_le_bytes).collect(),
            Coding::Utf16Be => marked(text).flat_map(u16::to_be_bytes).collect(),
        }
    }
}

fn marked(text: &str) -> impl Iterator<Item = u16> {
    std::iter::once(0xFEFF).chain(text.encode_utf16())
}

fn wide(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, GraftError> {
    let (pairs, rest) = bytes.as_chunks::<2>();
    let text = String::from_utf16(&pairs.iter().map(|pair| unit(*pair)).collect::<Vec<u16>>());
    match text {
        Ok(text) if rest.is_empty() => Ok(text.strip_prefix('\u{feff}').map(str::to_owned).unwrap_or(text)),
        _ => Err(GraftError::damaged("a part is not valid UTF-16")),
    }
}

/// The encoding that the first line names.
fn declared_encoding(bytes: &[u8]) -> Option<String> {
    let end = bytes.iter().take(200).position(|b| *b == b'>')?;
    let head = std::str::from_utf8(bytes.get(..end)?).ok()?;
    let value = head.strip_prefix("<?xml")?.split("encoding").nth(1)?.trim_start().strip_prefix('=')?.trim_start();
    let quote = value.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    value.get(1..)?.split(quote).next().map(str::to_owned)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_comes_out_as_it_went_in() {
        let text = "<?xml version=\"1.0\"?><a b=\"Zoë 🦊\"/>";
        let wide = |unit: fn(u16) -> [u8; 2]| marked(text).flat_map(unit).collect::<Vec<u8>>();
        let forms = [
            text.as_bytes().to_vec(),
            [UTF8_MARK, text.as_bytes()].concat(),
            wide(u16::to_le_bytes),
            wide(u16::to_be_bytes),
        ];
        for bytes in forms {
            let part = PartText::decode(bytes.clone()).unwrap();
            assert_eq!(part.text, text);
            assert_eq!(part.encode(text), bytes);
        }
    }

    #[test]
    fn an_old_encoding_is_refused_unless_it_is_plain_ascii() {
        let head = b"<?xml version='1.0' encoding = 'ISO-8859-1'?><a>".to_vec();
        assert!(PartText::decode([head.clone(), b"x</a>".to_vec()].concat()).is_ok());
        let refused = PartText::decode([head, b"\xE9</a>".to_vec()].concat());
        assert!(matches!(refused, Err(GraftError::Encoding(name)) if name == "ISO-8859-1"));
        assert!(matches!(PartText::decode(b"\xFF\xFE<\0a".to_vec()), Err(GraftError::Damaged(_))));
    }
}
