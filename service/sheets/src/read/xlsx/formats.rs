//! What the number format of a cell says: digits to show, percent, date.
//!
//! In:  the styles of a workbook. Out: a [`Format`] for each cell style. Numbers of formats are those of the standard (ISO/IEC 29500-1,
//! 18.8.30), with the date formats that it gives to some languages.
//! Keeps: letters in quotes, brackets or behind a backslash say nothing (`a_word_in_quotes_makes_no_date`).

use crate::read::ReadError;
use crate::read::package::Package;
use crate::read::xml::{attribute, for_each_start};
use std::collections::HashMap;

/// What a number format says.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Format {
    /// Digits that it shows at least, where it shows zeros alone (`00000`); else 0.
    pub zeros: u8,
    pub is_percent: bool,
    pub is_date: bool,
}

impl Format {
    /// By the number of a format that needs no code.
    fn built_in(id: u32) -> Format {
        Format {
            is_percent: matches!(id, 9 | 10),
            is_date: matches!(id, 14..=22 | 27..=36 | 45..=47 | 50..=58 | 71..=81),
            zeros: 0,
        }
    }

    /// By a format's code, such as `00000` or `dd/mm/yyyy`.
    pub fn of(code: &str) -> Format {
        let first = code.split(';').next().unwrap_or_default().trim();
        let is_zeros = first.len() > 1 && first.bytes().all(|b| b == b'0');
        let plain = without_texts(first).to_ascii_lowercase();
        let is_percent = plain.contains('%');
        let is_number = plain.contains(['0', '#', '?']) && !plain.contains("ss");
        let is_date = plain != "general" && !is_number && plain.contains(['d', 'm', 'y', 'h', 's']);
        Format { zeros: if is_zeros { first.len().min(30) as u8 } else { 0 }, is_percent, is_date }
    }
}

/// The code without quoted texts, escaped letters and brackets; `[h]`, `[mm]` and `[ss]` are times and stay.
fn without_texts(code: &str) -> String {
    let mut plain = String::new();
    let mut letters = code.chars();
    while let Some(c) = letters.next() {
        match c {
            '"' => drop(letters.by_ref().take_while(|c| *c != '"').count()),
            '\\' | '_' | '*' => drop(letters.next()),
            '[' => {
                let inside: String = letters.by_ref().take_while(|c| *c != ']').collect();
                if !inside.is_empty() && inside.to_lowercase().chars().all(|c| matches!(c, 'h' | 'm' | 's')) {
                    plain.push_str(&inside);
                }
            }
            _ => plain.push(c),
        }
    }
    plain
}

/// Formats of the cell styles, in order.
pub fn read(package: &mut Package<'_>, path: &str) -> Result<Vec<Format>, ReadError> {
    let mut own: HashMap<u32, Format> = HashMap::new();
    let mut formats = Vec::new();
    // `xf` stands under `cellStyleXfs` too; only those after `cellXfs` count.
    let mut is_cell_style = false;
    for_each_start(package, path, &mut |e| {
        let id = || attribute(e, "numFmtId").and_then(|id| id.parse::<u32>().ok());
        match e.name() {
            b"numFmt" => own.extend(id().zip(attribute(e, "formatCode").map(|code| Format::of(&code)))),
            b"cellXfs" => is_cell_style = true,
            b"cellStyles" | b"cellStyleXfs" | b"dxfs" => is_cell_style = false,
            b"xf" if is_cell_style => {
                let id = id().unwrap_or(0);
                formats.push(own.get(&id).copied().unwrap_or_else(|| Format::built_in(id)));
            }
            _ => {}
        }
    })?;
    Ok(formats)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zeros_percents_and_dates_are_told_apart() {
        assert_eq!(Format::of("00000").zeros, 5);
        assert_eq!((Format::of("0").zeros, Format::of("0.00").zeros, Format::of("#,##0").zeros), (0, 0, 0));
        assert!(Format::of("0.0%").is_percent && Format::built_in(9).is_percent);
        for date in ["dd/mm/yyyy", "[$-409]d\\-mmm;@", "h:mm AM/PM", "[h]:mm:ss", "mm:ss.0"] {
            assert!(Format::of(date).is_date, "{date}");
        }
    }

    #[test]
    fn a_word_in_quotes_makes_no_date() {
        for number in ["0 \"points\"", "General", "[Red]0.00", "0.00E+00", "0\\m", "@", "#,##0 \"d\""] {
            assert!(!Format::of(number).is_date, "{number}");
        }
    }
}
