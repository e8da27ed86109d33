//! Text files: bytes to text, text to rows.
//!
//! Order of trust: a byte-order mark, then valid UTF-8, then a guess of the old encoding, which is told. The delimiter is the one of
//! `,` `;` tab `|` that cuts the first lines most evenly; a first line `sep=;` is honoured and dropped.
//! Keeps: `utf16_and_old_encodings_read`, `semicolons_and_sep_lines_are_understood`.

use super::cell::{Cell, RowSink};
use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
use std::borrow::Cow;

/// Lines that the delimiter is judged by.
const JUDGED_LINES: usize = 50;

/// A decoded text and, where it was guessed, the encoding's name.
pub struct Decoded<'a> {
    pub text: Cow<'a, str>,
    pub guessed: Option<&'static str>,
}

/// Decodes a file's bytes.
pub fn decode(bytes: &[u8]) -> Decoded<'_> {
    if let Some((encoding, bom)) = Encoding::for_bom(bytes) {
        return Decoded { text: encoding.decode_without_bom_handling(&bytes[bom..]).0, guessed: None };
    }
    if let Ok(text) = std::str::from_utf8(bytes) {
        return Decoded { text: Cow::Borrowed(text), guessed: None };
    }
    let encoding = guess(bytes);
    Decoded { text: encoding.decode_without_bom_handling(bytes).0, guessed: Some(encoding.name()) }
}

/// Every second byte zero is UTF-16 without its mark; the rest is an old one-byte encoding.
fn guess(bytes: &[u8]) -> &'static Encoding {
    let head = &bytes[..bytes.len().min(2000)];
    let zeros = |offset: usize| head.iter().skip(offset).step_by(2).filter(|b| **b == 0).count() * 3 > head.len();
    if zeros(1) {
        return UTF_16LE;
    }
    if zeros(0) {
        return UTF_16BE;
    }
    let mut detector = chardetng::EncodingDetector::new(chardetng::Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    let found = detector.guess(None, chardetng::Utf8Detection::Allow);
    if found == UTF_8 { WINDOWS_1252 } else { found }
}

/// Calls `row` with each row that holds something.
pub fn for_each_row(text: &str, row: &mut RowSink<'_>) -> Result<(), String> {
    let (delimiter, body, first_line) = delimiter_of(text);
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(body.as_bytes());
    let mut record = csv::StringRecord::new();
    let mut number = first_line;
    while reader.read_record(&mut record).map_err(|e| e.to_string())? {
        let cells: Vec<(u32, Cell<'_>)> = record
            .iter()
            .enumerate()
            .filter(|(_, field)| !super::cell::trim(field).is_empty())
            .map(|(c, field)| (c as u32, Cell::Text(Cow::Borrowed(field))))
            .collect();
        // The reader skips blank lines after it has noted where it stands: count them, so that addresses are right.
        if let Some(position) = record.position() {
            let rest = body.as_bytes().get(position.byte() as usize..).unwrap_or_default();
            let n_blank = rest.iter().take_while(|b| matches!(b, b'\r' | b'\n')).filter(|b| **b == b'\n').count();
            number = first_line + position.line() as u32 - 1 + n_blank as u32;
        }
        if !cells.is_empty() {
            row(number, &cells);
        }
    }
    Ok(())
}

/// Delimiter, the text without a `sep=` line, and the 0-based number of its first line.
fn delimiter_of(text: &str) -> (u8, &str, u32) {
    let first = text.lines().next().unwrap_or_default();
    if let Some(sep) = first.trim().strip_prefix("sep=").and_then(|s| s.bytes().next()) {
        return (sep, text[first.len()..].trim_start_matches(['\r', '\n']), 1);
    }
    let lines: Vec<&str> = text.lines().filter(|l| !l.trim().is_empty()).take(JUDGED_LINES).collect();
    let evenness = |d: char| {
        let counts: Vec<usize> = lines.iter().map(|l| count_outside_quotes(l, d)).collect();
        let mut sorted = counts.clone();
        sorted.sort_unstable();
        let middle = sorted.get(sorted.len() / 2).copied().unwrap_or(0);
        let same = counts.iter().filter(|c| **c == middle).count();
        if middle == 0 { (0, 0) } else { (same, middle) }
    };
    let best = [',', ';', '\t', '|'].into_iter().rev().max_by_key(|d| evenness(*d)).unwrap_or(',');
    (best as u8, text, 0)
}

fn count_outside_quotes(line: &str, delimiter: char) -> usize {
    let mut is_quoted = false;
    line.chars()
        .filter(|c| {
            is_quoted ^= *c == '"';
            !is_quoted && *c == delimiter
        })
        .count()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<(u32, Vec<String>)> {
        let mut rows = Vec::new();
        for_each_row(text, &mut |n, cells| rows.push((n, cells.iter().map(|(_, c)| c.shown().into_owned()).collect())))
            .unwrap();
        rows
    }

    #[test]
    fn utf16_and_old_encodings_read() {
        let wide: Vec<u8> = [0xFF, 0xFE].into_iter().chain("id,é".encode_utf16().flat_map(u16::to_le_bytes)).collect();
        assert_eq!(decode(&wide).text, "id,é");
        let old = decode(b"id,Jos\xE9\n1,A\n2,B\n");
        assert_eq!(old.text.lines().next().unwrap(), "id,José");
        assert!(old.guessed.is_some());
    }

    #[test]
    fn semicolons_and_sep_lines_are_understood() {
        assert_eq!(
            rows("id;Q1\n1;\"2,5\"\n"),
            vec![(0, vec!["id".into(), "Q1".into()]), (1, vec!["1".into(), "2,5".into()])]
        );
        assert_eq!(rows("sep=;\nid;Q1\n")[0], (1, vec!["id".into(), "Q1".into()]));
        assert_eq!(rows("id\tQ1\n\n3\tA\n")[1], (2, vec!["3".into(), "A".into()]));
    }
}
