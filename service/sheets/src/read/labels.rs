//! Labels of items: which headings look like those of an item, and what else a label tells.
//!
//! In:  a heading. Out: whether it names an item (`Q1`, `Item 12`, `3a`, `4.NF.A.1`), a bare number, its points (`Q1 (2 pts)`, `Q4 /3`).
//! Keeps: `labels_of_items_are_known`, `points_stand_in_a_label`.
//! Not here: which headings are items of a sheet (`layout`); that goes by what stands below them, too.

use super::words::{is_among, plain};
use sheaf_core::skills::SkillCode;

/// Words before an item's number, in plain letters, English and Spanish.
const BEFORE_NUMBER: &str = "q qu ques question item i p prob problem task exercise ex no part pregunta preg ejercicio reactivo \
            problema r mc cr sr rubric ticket exit warmup";

/// Whether a heading names an item by itself.
pub fn is_item_label(heading: &str) -> bool {
    let word = plain(core_of(heading));
    let n_letters = word.chars().take_while(|c| c.is_alphabetic()).map(char::len_utf8).sum();
    let (letters, rest) = word.split_at(n_letters);
    let n_digits = rest.chars().take_while(char::is_ascii_digit).count();
    let (digits, tail) = rest.split_at(n_digits);
    let is_numbered = (1..=3).contains(&digits.len())
        && tail.len() <= 2
        && tail.chars().all(|c| c.is_ascii_alphanumeric())
        && (is_among(BEFORE_NUMBER, letters) || (letters.is_empty() && is_part(heading, tail)));
    is_numbered || has_standard(heading) || heading.trim().strip_prefix('#').is_some_and(|n| number(n).is_some())
}

/// Whether the letter behind a number names a part of an item: `3a`, where `5B` is a class.
fn is_part(heading: &str, tail: &str) -> bool {
    tail.len() == 1 && ('a'..='f').any(|c| tail.starts_with(c) && core_of(heading).ends_with(c))
}

/// The number of a heading that is a bare number, with or without a dot or bracket.
pub fn number(heading: &str) -> Option<u32> {
    let text = core_of(heading).trim().trim_end_matches(['.', ')']);
    if text.len() > 3 { None } else { text.parse().ok() }
}

/// Whether a heading is a standard's code.
pub fn has_standard(heading: &str) -> bool {
    SkillCode::parse(heading).is_some_and(|code| {
        let mut parts = code.as_str().split('.');
        parts.next().is_some_and(|g| g.len() == 1)
            && parts.next().is_some_and(|d| ["OA", "NBT", "NF", "MD", "G"].contains(&d))
            && parts.next().is_some()
    })
}

/// A heading without what stands in brackets or behind a slash or a line break.
fn core_of(heading: &str) -> &str {
    let heading = heading.trim();
    let end = heading.find(['(', '[', '\n', '/']).filter(|at| *at > 0).unwrap_or(heading.len());
    heading[..end].trim()
}

/// Points that a label tells.
pub fn points_in(label: &str) -> Option<f64> {
    let lower = label.to_lowercase();
    let words: Vec<&str> =
        lower.split(|c: char| !(c.is_alphanumeric() || c == '.' || c == '/')).filter(|w| !w.is_empty()).collect();
    let by_word = words.windows(2).find_map(|pair| {
        let is_word = ["pt", "pts", "point", "points", "punto", "puntos"].contains(&pair[1]);
        is_word.then(|| pair[0].trim_start_matches('/').parse::<f64>().ok()).flatten()
    });
    let glued = || {
        words.iter().skip(1).find_map(|w| {
            ["pts", "pt"].iter().find_map(|unit| w.strip_suffix(unit)).and_then(|n| n.parse::<f64>().ok())
        })
    };
    let slash = || {
        let (before, after) = label.rsplit_once('/')?;
        (is_item_label(before.trim_end_matches(['(', ' '])) && !has_standard(label))
            .then(|| after.trim_matches([')', ' ']).parse::<f64>().ok())
            .flatten()
    };
    by_word.or_else(glued).or_else(slash).filter(|p| *p > 0.0 && *p <= 100.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_of_items_are_known() {
        for label in ["Q1", "Q 12b", "Item 3", "#4", "1a", "Pregunta 7", "Q1 (2 pts)", "4.NF.A.1", "Question 10", "P3."]
        {
            assert!(is_item_label(label), "{label}");
        }
        for label in ["Name", "5P", "0417", "Ana", "Total", "12", "Room 2041", "Fractions", "2026-02-03"] {
            assert!(!is_item_label(label), "{label}");
        }
        assert_eq!((number("7."), number("12"), number("0417"), number("Q1")), (Some(7), Some(12), None, None));
    }

    #[test]
    fn points_stand_in_a_label() {
        assert_eq!(points_in("Q1 (2 pts)"), Some(2.0));
        assert_eq!(points_in("Q4 /3"), Some(3.0));
        assert_eq!(points_in("Pregunta 2 (1 punto)"), Some(1.0));
        assert_eq!(points_in("Q2 2pts"), Some(2.0));
        assert_eq!(points_in("Q12"), None);
        assert_eq!(points_in("4.NF.A.1"), None);
    }
}
