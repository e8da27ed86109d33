//! The key of a layout: the same headings give the same key, whatever the date, the week or the number of questions.
//!
//! In:  the first rows and where the headings seem to be. Out: a [`LayoutKey`] that carries no text of the sheet.
//! Words are compared in plain letters, any number as `#`, months left out, each once; then hashed, since headings may be names.
//! Keeps: `next_week_has_the_same_key`, `another_layout_has_another_key`.

use super::super::asked::LayoutKey;
use super::super::words::plain;
use super::KeptRow;
use super::across::Across;
use sha2::{Digest, Sha256};
use std::collections::BTreeSet;

/// Words of months, English and Spanish, by their first three letters.
const MONTHS: &[&str] =
    &["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec", "ene", "abr", "ago", "dic"];
/// Longest word that may be a month.
const LONGEST_MONTH: usize = 10;

/// The key, where the sheet has anything like headings.
pub fn layout_key(rows: &[KeptRow], guess: Option<usize>, seen: &Across) -> Option<LayoutKey> {
    let words: BTreeSet<String> = match seen {
        Across::No => {
            let (_, cells) = rows.get(guess.or_else(|| widest(rows))?)?;
            cells.iter().map(|(_, cell)| normal(&cell.shown())).collect()
        }
        Across::Clearly(_) | Across::Perhaps(_) => {
            let firsts = rows.iter().filter_map(|(_, cells)| cells.first());
            firsts.map(|(_, cell)| normal(&cell.shown())).chain(["\u{2192}".to_owned()]).collect()
        }
    };
    let words: Vec<String> = words.into_iter().filter(|w| !w.is_empty()).collect();
    if words.is_empty() {
        return None;
    }
    let hash = Sha256::digest(words.join("|").as_bytes());
    Some(LayoutKey(hash.iter().take(8).map(|b| format!("{b:02x}")).collect()))
}

/// The first row that is about as wide as the widest.
fn widest(rows: &[KeptRow]) -> Option<usize> {
    let most = rows.iter().map(|(_, cells)| cells.len()).max().filter(|n| *n > 1)?;
    rows.iter().position(|(_, cells)| cells.len() * 5 >= most * 4)
}

/// A heading without what changes from week to week.
fn normal(text: &str) -> String {
    let mut parts: Vec<String> = Vec::new();
    for word in text.split(|c: char| !c.is_alphanumeric()).map(plain).filter(|w| !w.is_empty()) {
        let word = numbers_out(&word);
        let is_month = word.len() <= LONGEST_MONTH
            && MONTHS.iter().any(|m| word.starts_with(m))
            && word.chars().all(char::is_alphabetic);
        if !(is_month && text.chars().any(|c| c.is_ascii_digit())) && parts.last() != Some(&word) {
            parts.push(word);
        }
    }
    parts.join(" ")
}

fn numbers_out(word: &str) -> String {
    let mut out = String::new();
    for c in word.chars() {
        match c {
            c if c.is_numeric() && out.ends_with('#') => {}
            c if c.is_numeric() => out.push('#'),
            c => out.push(c),
        }
    }
    out
}
