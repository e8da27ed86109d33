//! What a text becomes before it stands in a cell.
//!
//! In:  any text from a score sheet or a plan. Out: text that every spreadsheet program shows as written.
//! Keeps: characters that XML forbids are gone and tabs are spaces (`control_characters_are_gone`);
//! no cell passes 32,767 UTF-16 units (`a_long_text_is_cut_with_a_mark`); text that could be taken for a formula is
//! told apart (`only_a_leading_sign_looks_like_a_formula`); a row's height is guessed from whole words
//! and letter widths
//! (`lines_are_counted_by_whole_words`, `wide_letters_fill_a_line_sooner`). Source: sheet limits as published in the file format's specification.
//! Not here: formats (`looks`), where a text stands (`sheet`).

use std::borrow::Cow;

/// Longest text of one cell, UTF-16 units.
pub(super) const MAX_CELL_UNITS: usize = 32_767;

/// The text as a cell may hold it.
pub(super) fn clean(text: &str) -> Cow<'_, str> {
    if is_plain(text) {
        return Cow::Borrowed(text);
    }
    let kept = text.chars().filter_map(|c| match c {
        '\t' => Some(' '),
        '\n' => Some('\n'),
        '\u{fffe}' | '\u{ffff}' => None,
        c if c.is_control() => None,
        c => Some(c),
    });
    Cow::Owned(cap(kept))
}

/// Whether the text needs no work: a quick look at the bytes, for the twenty thousand names that are fine.
fn is_plain(text: &str) -> bool {
    // 0xC2 begins the second block of control characters, 0xEF the two forbidden code points (and much that is fine).
    text.len() <= MAX_CELL_UNITS && text.bytes().all(|b| (b >= 0x20 && !matches!(b, 0x7f | 0xc2 | 0xef)) || b == b'\n')
}

/// At most [`MAX_CELL_UNITS`], the last one an ellipsis where something was cut.
fn cap(chars: impl Iterator<Item = char>) -> String {
    let (mut kept, mut units, mut last_fit) = (String::new(), 0, 0);
    for c in chars {
        units += c.len_utf16();
        if units > MAX_CELL_UNITS {
            kept.truncate(last_fit);
            kept.push('…');
            return kept;
        }
        kept.push(c);
        if units < MAX_CELL_UNITS {
            last_fit = kept.len();
        }
    }
    kept
}

/// Whether a program might take the text for a formula once somebody edits the cell or saves it as CSV.
pub(super) fn looks_like_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@'])
}

/// Text for a page header or footer, where `&` begins a code; at most `max` characters.
pub(super) fn for_header(text: &str, max: usize) -> String {
    clean(text).replace('\n', " ").chars().take(max).collect::<String>().replace('&', "&&")
}

/// How many lines the text takes where so many tenths of a digit fit on one, at least one.
pub(super) fn lines(text: &str, line: usize) -> usize {
    text.split('\n').map(|paragraph| lines_of_paragraph(paragraph, line.max(10) * 10)).sum()
}

fn lines_of_paragraph(paragraph: &str, line: usize) -> usize {
    let (mut n_lines, mut used) = (1, 0);
    for word in paragraph.split(' ') {
        let word = hundredths(word);
        if used > 0 && used + width_of(' ') + word > line {
            n_lines += 1;
            used = 0;
        }
        used += word + if used > 0 { width_of(' ') } else { 0 };
        // A word longer than the line is broken inside.
        n_lines += used.saturating_sub(1) / line;
        used = if used > line { (used - 1) % line + 1 } else { used };
    }
    n_lines
}

/// Width of a text on one line, in tenths of a digit of the same type.
pub(super) fn width(text: &str) -> usize {
    hundredths(text).div_ceil(10)
}

fn hundredths(text: &str) -> usize {
    text.chars().map(width_of).sum()
}

/// Widths of `a` to `z` and of `A` to `Z`.
const SMALL: [usize; 26] =
    [95, 104, 83, 104, 98, 60, 93, 104, 45, 47, 90, 45, 158, 104, 104, 104, 104, 69, 77, 66, 104, 89, 141, 85, 89, 78];
const CAPITAL: [usize; 26] = [
    114, 107, 105, 121, 96, 91, 124, 123, 50, 63, 103, 83, 169, 127, 131, 102, 133, 107, 91, 96, 127, 112, 176, 102,
    96, 92,
];

/// Width of one character in hundredths of a digit, measured in Carlito, which is as wide as the font that the workbook
/// names; ideographs and emoji take two digits.
fn width_of(c: char) -> usize {
    match c {
        'a'..='z' => SMALL[usize::from(c as u8 - b'a')],
        'A'..='Z' => CAPITAL[usize::from(c as u8 - b'A')],
        '0'..='9' => 100,
        ' ' | '\'' => 45,
        '.' | ',' | ':' | ';' | '·' => 53,
        '!' | '-' | '(' | ')' => 64,
        '/' | '"' => 79,
        '%' | '&' => 141,
        '@' => 176,
        c if c >= '\u{2e80}' => 200,
        c if c >= '\u{2190}' => 150,
        _ => 104,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn control_characters_are_gone() {
        assert_eq!(clean("A\u{0}n\u{b}a\tB\u{85}\u{ffff}\r\nC"), "Ana B\nC");
        assert!(matches!(clean("Zoë 🦊 عمر"), Cow::Borrowed("Zoë 🦊 عمر")));
    }

    #[test]
    fn a_long_text_is_cut_with_a_mark() {
        for long in ["é".repeat(40_000), "x".repeat(40_000), "🦊".repeat(20_000)] {
            let cut = clean(&long);
            let units = cut.encode_utf16().count();
            assert!((MAX_CELL_UNITS - 1..=MAX_CELL_UNITS).contains(&units), "{units}");
            assert!(cut.ends_with('…'));
        }
        let exact = "x".repeat(MAX_CELL_UNITS - 1) + "\u{1}y";
        assert_eq!(clean(&exact).len(), MAX_CELL_UNITS);
        assert!(clean(&exact).ends_with("xy"));
    }

    #[test]
    fn only_a_leading_sign_looks_like_a_formula() {
        for text in ["=cmd", "+1", "-2", "@x"] {
            assert!(looks_like_formula(text), "{text}");
        }
        for text in ["", "3/4", "a=b", "– not enough"] {
            assert!(!looks_like_formula(text), "{text}");
        }
    }

    #[test]
    fn an_ampersand_in_a_header_is_doubled() {
        assert_eq!(for_header("Read & count\nnow", 9), "Read && co");
    }

    #[test]
    fn lines_are_counted_by_whole_words() {
        assert_eq!(lines("", 100), 1);
        assert_eq!(lines("one two three", 70), 2);
        assert_eq!(lines("one two three", 130), 1);
        assert_eq!(lines("a\nb", 100), 2);
        assert_eq!(lines("1234567890", 40), 3);
        assert_eq!(lines("日本語", 40), 2);
    }

    #[test]
    fn wide_letters_fill_a_line_sooner() {
        assert_eq!(lines("Willow", 50), 2);
        assert_eq!(lines("little", 50), 1);
        assert_eq!(width("0123456789"), 100);
    }
}
