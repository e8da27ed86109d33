//! Text files: bytes to text, text to rows.
//!
//! Order of trust: a byte-order mark, then valid UTF-8, then a guess of the old encoding, which is told. The delimiter is the one of
//! `,` `;` tab `|` that cuts the first lines most evenly; a first line `sep=;` is honoured and dropped.
//! A row's number counts rows as a spreadsheet does: a line break inside quotation marks begins none, a blank line is one.
//! Keeps: `utf16_and_old_encodings_read`, `semicolons_and_sep_lines_are_understood`, `rows_are_numbered_as_a_spreadsheet_does`,
//! `a_text_with_nul_is_refused`, `letters_of_an_old_macintosh_are_read`, `letters_of_japanese_are_read`.

use super::cell::{Cell, RowSink};
use encoding_rs::{Encoding, MACINTOSH, SHIFT_JIS, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1252};
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
    // Zeros are valid in UTF-8, and never in a table.
    if let Ok(text) = std::str::from_utf8(bytes)
        && wide_encoding(bytes).is_none()
    {
        return Decoded { text: Cow::Borrowed(text), guessed: None };
    }
    let encoding = guess(bytes);
    Decoded { text: encoding.decode_without_bom_handling(bytes).0, guessed: Some(encoding.name()) }
}

/// UTF-16 without its mark: nearly every second byte is zero.
pub fn wide_encoding(bytes: &[u8]) -> Option<&'static Encoding> {
    let head = &bytes[..bytes.len().min(2000)];
    let n_zeros = |offset: usize| head.iter().skip(offset).step_by(2).filter(|b| **b == 0).count();
    let is_second = |offset: usize| n_zeros(offset) * 3 > head.len() && n_zeros(1 - offset) * 50 < head.len();
    [(1, UTF_16LE), (0, UTF_16BE)].into_iter().find(|(offset, _)| is_second(*offset)).map(|(_, encoding)| encoding)
}

/// UTF-16 without its mark, else an old one-byte encoding.
fn guess(bytes: &[u8]) -> &'static Encoding {
    if let Some(wide) = wide_encoding(bytes) {
        return wide;
    }
    if is_shift_jis(bytes) {
        return SHIFT_JIS;
    }
    if is_macintosh(bytes) {
        return MACINTOSH;
    }
    let mut detector = chardetng::EncodingDetector::new(chardetng::Iso2022JpDetection::Deny);
    detector.feed(bytes, true);
    let found = detector.guess(None, chardetng::Utf8Detection::Allow);
    if found == UTF_8 { WINDOWS_1252 } else { found }
}

/// A Japanese text has letters of two bytes side by side; accented letters stand alone.
fn is_shift_jis(bytes: &[u8]) -> bool {
    let Some(text) = SHIFT_JIS.decode_without_bom_handling_and_without_replacement(bytes) else { return false };
    let is_japanese = |c: char| matches!(c, '\u{3041}'..='\u{30ff}' | '\u{4e00}'..='\u{9fff}');
    let letters: Vec<char> = text.chars().filter(|c| !c.is_ascii()).collect();
    let n_pairs = text.chars().zip(text.chars().skip(1)).filter(|(a, b)| is_japanese(*a) && is_japanese(*b)).count();
    n_pairs > 0 && letters.iter().filter(|c| is_japanese(**c)).count() * 10 > letters.len() * 8
}

/// In the old encoding of the Macintosh the common accented letters are 0x80 to 0x9F, beside letters; in that of Windows most of
/// these are signs, and the letters come above 0xC0. Eight of them are letters in both: there the case of the letter before decides,
/// and the line ends of an old Macintosh.
fn is_macintosh(bytes: &[u8]) -> bool {
    let letter_at = |at: Option<usize>| at.and_then(|at| bytes.get(at)).copied().filter(u8::is_ascii_alphabetic);
    let (mut n_low, mut n_either, mut n_high, mut n_signs) = (0_usize, 0_usize, 0_usize, 0_usize);
    for (i, byte) in bytes.iter().enumerate() {
        let before = letter_at(i.checked_sub(1));
        let is_beside = before.is_some() || letter_at(Some(i + 1)).is_some();
        match byte {
            // Quotation marks, dashes and the euro sign of Windows.
            0x80 | 0x85 | 0x91..=0x97 => n_signs += usize::from(is_beside),
            // Capital letters of Windows do not follow a small one.
            0x8A | 0x8C | 0x8E | 0x9F if before.is_some_and(|b| b.is_ascii_lowercase()) => n_low += 1,
            0x83 | 0x8A | 0x8C | 0x8E | 0x9A | 0x9C | 0x9E | 0x9F => n_either += usize::from(is_beside),
            0x81..=0x9F => n_low += usize::from(is_beside),
            0xC0..=0xFF => n_high += usize::from(is_beside),
            _ => {}
        }
    }
    let has_old_ends = bytes.contains(&b'\r') && !bytes.contains(&b'\n');
    n_high == 0 && (n_low > 0 || (has_old_ends && (n_either > 0 || n_signs > 1)))
}

/// Calls `row` with each row that holds something.
pub fn for_each_row(text: &str, row: &mut RowSink<'_>) -> Result<(), String> {
    if text.contains('\0') {
        return Err("NUL".to_owned());
    }
    let (delimiter, body, first_line) = delimiter_of(text);
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(delimiter).from_reader(body.as_bytes());
    let mut record = csv::StringRecord::new();
    let mut number = first_line;
    while reader.read_record(&mut record).map_err(|e| e.to_string())? {
        // The reader skips blank lines after it has noted where it stands.
        number += record.position().map_or(0, |p| n_blank_lines(body.as_bytes(), p.byte() as usize));
        let cells: Vec<(u32, Cell<'_>)> = record
            .iter()
            .enumerate()
            .filter(|(_, field)| !super::cell::trim(field).is_empty())
            .map(|(c, field)| (c as u32, Cell::Text(Cow::Borrowed(field))))
            .collect();
        if !cells.is_empty() {
            row(number, &cells);
        }
        number += 1;
    }
    Ok(())
}

/// Blank lines from a place on; the second half of a line's end is none.
fn n_blank_lines(bytes: &[u8], from: usize) -> u32 {
    let mut at = from;
    if at > 0 && bytes.get(at) == Some(&b'\n') && bytes[at - 1] == b'\r' {
        at += 1;
    }
    let mut n = 0;
    loop {
        match (bytes.get(at), bytes.get(at + 1)) {
            (Some(b'\r'), Some(b'\n')) => at += 2,
            (Some(b'\r' | b'\n'), _) => at += 1,
            _ => return n,
        }
        n += 1;
    }
}

/// Delimiter, the text without a `sep=` line, and the 0-based number of its first line.
fn delimiter_of(text: &str) -> (u8, &str, u32) {
    let is_end = |c: char| matches!(c, '\r' | '\n');
    let first = text.split(is_end).next().unwrap_or_default();
    let named = first.trim_matches(['"', ' ']);
    let is_named = named.get(..4).is_some_and(|s| s.eq_ignore_ascii_case("sep="));
    if let Some(sep) = named.as_bytes().get(4).copied().filter(|b| is_named && b.is_ascii()) {
        let rest = &text[first.len()..];
        return (sep, rest.strip_prefix("\r\n").or_else(|| rest.strip_prefix(is_end)).unwrap_or(rest), 1);
    }
    let lines: Vec<&str> = text.split(is_end).filter(|l| !l.trim().is_empty()).take(JUDGED_LINES).collect();
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
        let bare: Vec<u8> = "id,name\n1,Ann\n".encode_utf16().flat_map(u16::to_be_bytes).collect();
        assert_eq!((decode(&bare).text.as_ref(), decode(&bare).guessed), ("id,name\n1,Ann\n", Some("UTF-16BE")));
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
        assert_eq!(rows("SEP=\t\r\nid\tQ1,5\r\n")[0], (1, vec!["id".into(), "Q1,5".into()]));
        assert_eq!(rows("id\tQ1\n\n3\tA\n")[1], (2, vec!["3".into(), "A".into()]));
    }

    #[test]
    fn rows_are_numbered_as_a_spreadsheet_does() {
        for end in ["\n", "\r\n", "\r"] {
            let text = ["id,note,Q1", "", "1,\"two", "lines\",A", "", "", "2,x,B", ""].join(end);
            let numbers: Vec<u32> = rows(&text).into_iter().map(|(n, _)| n).collect();
            assert_eq!(numbers, [0, 2, 5], "{end:?}");
        }
    }

    #[test]
    fn a_text_with_nul_is_refused() {
        assert!(for_each_row("id,Q1\n1,\0\n", &mut |_, _| {}).is_err());
    }

    #[test]
    fn letters_of_an_old_macintosh_are_read() {
        let mac = decode(b"id,name\r1,Jos\x8E Nu\x96ez\r");
        assert_eq!((mac.text.as_ref(), mac.guessed), ("id,name\r1,José Nuñez\r", Some("macintosh")));
        let windows = decode(b"id,name\r\n1,Mu\xF1oz\r\n2,O\x92Neil\r\n");
        assert!(windows.text.contains("Muñoz") && windows.text.contains("O’Neil"), "{}", windows.text);
        let capitals = decode(b"id,name\n1,\x8Eeljko \x8Aari\n2,Tom\x9A\n");
        assert_eq!(capitals.text.lines().nth(1), Some("1,Željko Šari"), "{}", capitals.text);
    }

    #[test]
    fn letters_of_japanese_are_read() {
        let (bytes, ..) = SHIFT_JIS.encode("id,name\n1,たなか ゆい\n2,サトウ\n");
        let read = decode(&bytes);
        assert_eq!((read.text.as_ref(), read.guessed), ("id,name\n1,たなか ゆい\n2,サトウ\n", Some("Shift_JIS")));
    }
}
