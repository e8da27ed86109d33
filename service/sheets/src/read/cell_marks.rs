//! What one cell of an item column says, given what the column takes.
//!
//! In:  a cell, and [`Takes`]: whether the column's key makes cells options, numbers, words or truth. Out: a [`Reading`].
//! A cell that says nothing known is unreadable, with a code and words for it; never wrong, never zero.
//! Keeps: `a_fraction_is_an_answer_where_the_key_is_one`, `a_letter_among_points_is_no_option`, `a_date_that_was_a_fraction_is_named`,
//! `several_options_are_an_answer_and_not_a_word_for_absent`, `an_error_value_in_a_text_file_is_not_taken_and_never_wrong`.
//! Not here: points (`marks`).

use super::cell::{Cell, trim};
use super::mark_words::{is_not_taken, is_omitted, right_or_wrong};
use super::numbers::{number_of, ordinary, out_of};
use super::options::{is_several, options_of, options_run_together, parts_of};

/// What a cell says, before the item's points are known.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    NotTaken,
    Omitted,
    Points(f64),
    /// Points of how many.
    OutOf(f64, f64),
    Right(bool),
    Answer(String),
    /// A level of a scale: `P`, `M`, `A`.
    Level(String),
    Unreadable(&'static str, String),
}

/// What the cells of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Takes {
    /// Nothing is known: points, options, right or wrong.
    Anything,
    /// Options, by a key of one letter.
    Options,
    /// Options, by a key of several letters.
    Several,
    /// Options of two parts, in their order, by a key such as `B,A`.
    Parts,
    /// Numbers as answers, by a key that is a number or a fraction.
    Numbers,
    /// Words as answers, by a key of another kind.
    Words,
    /// True or false as answers.
    Truth,
    /// Points, since most cells are numbers.
    Points,
    /// Levels of a scale that the points row gives.
    Levels,
}

/// Longest answer in characters.
const LONGEST_ANSWER: usize = 60;

/// What a cell says.
pub fn read_cell(cell: &Cell<'_>, comma: bool, takes: Takes) -> Reading {
    match cell {
        Cell::Number { value, .. } if takes == Takes::Numbers => Reading::Answer(value.to_string()),
        Cell::Number { value, is_percent: true, .. } => Reading::OutOf(*value, 1.0),
        Cell::Number { value, .. } => Reading::Points(*value),
        Cell::Bool(b) if takes == Takes::Truth => Reading::Answer(truth(*b)),
        Cell::Bool(b) => Reading::Right(*b),
        Cell::Date(d) => date_in_answers(&fraction_of_date(d).unwrap_or_default(), d),
        // The sheet's findings name each of these with its place.
        Cell::NoResult => Reading::NotTaken,
        Cell::Error(e) => Reading::Unreadable("error-value", format!("the error value {e}")),
        Cell::Text(t) => read_text(&ordinary(trim(t)), comma, takes),
    }
}

/// Whether a cell can be a mark of a column of which nothing is known.
pub fn could_be_mark(cell: &Cell<'_>) -> bool {
    match cell {
        Cell::Date(_) => false,
        Cell::Error(_) | Cell::NoResult => true,
        Cell::Text(t) => {
            is_level(trim(t))
                || is_cross(trim(t))
                || !matches!(read_text(&ordinary(trim(t)), true, Takes::Anything), Reading::Unreadable(..))
        }
        _ => true,
    }
}

fn truth(is_true: bool) -> String {
    if is_true { "TRUE" } else { "FALSE" }.to_owned()
}

/// What a text says of truth, in a column whose key is true or false.
pub fn truth_of(text: &str) -> Option<String> {
    match super::words::plain(text).as_str() {
        "true" | "t" | "yes" | "y" | "verdadero" | "v" | "si" => Some(truth(true)),
        "false" | "f" | "no" | "n" | "falso" => Some(truth(false)),
        _ => None,
    }
}

fn read_text(text: &str, comma: bool, takes: Takes) -> Reading {
    if is_error_text(text) {
        return Reading::Unreadable("error-value", format!("the error value {text}"));
    }
    if takes == Takes::Parts
        && let Some(parts) = parts_of(text)
    {
        return Reading::Answer(parts);
    }
    // Before the words: without its comma, `A,B` would read like a short form of absent.
    if let Some(options) = options_of(text).filter(|o| is_several(o) && takes != Takes::Points) {
        return Reading::Answer(options);
    }
    if takes == Takes::Several
        && let Some(options) = options_run_together(text)
    {
        return Reading::Answer(options);
    }
    if is_not_taken(text) && !(takes == Takes::Truth && truth_of(text).is_some()) {
        return Reading::NotTaken;
    }
    if is_omitted(text) {
        return Reading::Omitted;
    }
    let by_key = match takes {
        Takes::Truth => truth_of(text),
        Takes::Numbers if fraction_of_words(text).is_some() => None,
        Takes::Numbers => Some(text.to_owned()).filter(|t| t.chars().any(|c| c.is_numeric())),
        Takes::Levels => return Reading::Level(text.to_uppercase()),
        _ => None,
    };
    by_key.map_or_else(|| read_unkeyed(text, comma, takes), Reading::Answer)
}

/// An error value as a text file shows it.
pub fn is_error_text(text: &str) -> bool {
    if !text.starts_with(['#', 'E', 'e']) {
        return false;
    }
    let word = text.to_uppercase();
    let known = ["#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!"];
    known.contains(&word.as_str()) || word.strip_prefix("ERR:").is_some_and(|n| n.parse::<u16>().is_ok())
}

fn read_unkeyed(text: &str, comma: bool, takes: Takes) -> Reading {
    if let Some(points) = number_of(text, comma) {
        return Reading::Points(points);
    }
    if let Some((got, of)) = out_of(text, comma) {
        return Reading::OutOf(got, of);
    }
    if let Some(options) = options_of(text) {
        return if takes == Takes::Points { letter_among_points(text) } else { Reading::Answer(options) };
    }
    if let Some(is_right) = right_or_wrong(text) {
        return Reading::Right(is_right);
    }
    if let Some(fraction) = fraction_of_words(text) {
        return date_in_answers(&fraction, text);
    }
    if matches!(takes, Takes::Words | Takes::Numbers | Takes::Options | Takes::Several | Takes::Parts)
        && text.chars().count() <= LONGEST_ANSWER
    {
        return if matches!(takes, Takes::Options | Takes::Several | Takes::Parts) {
            not_understood(text)
        } else {
            Reading::Answer(text.to_owned())
        };
    }
    if takes != Takes::Points && is_level(text) {
        return Reading::Level(text.to_uppercase());
    }
    not_understood(text)
}

fn letter_among_points(text: &str) -> Reading {
    Reading::Unreadable("letter-among-points", format!("\u{201c}{text}\u{201d} among points"))
}

fn not_understood(text: &str) -> Reading {
    let shown: String = text.chars().take(30).collect();
    Reading::Unreadable("mark-not-understood", format!("\u{201c}{shown}\u{201d}"))
}

/// One letter of any script, alone or with a plus or minus: a level of a scale.
fn is_level(text: &str) -> bool {
    let bare = text.trim_end_matches(['+', '-']);
    if is_cross(text) {
        return false;
    }
    let mut chars = bare.chars();
    chars.next().is_some_and(char::is_alphabetic) && chars.next().is_none() && text.chars().count() <= 2
}

/// An `x`: wrong beside ticks; alone it may mean right as well as wrong.
pub fn is_cross(text: &str) -> bool {
    text.eq_ignore_ascii_case("x")
}

fn date_in_answers(fraction: &str, shown: &str) -> Reading {
    let what = if fraction.is_empty() {
        format!("a date ({shown})")
    } else {
        format!("a date ({shown}), perhaps the fraction {fraction} that was turned into one")
    };
    Reading::Unreadable("date-in-answers", what)
}

/// The fraction that a day of a year may have been: month over day.
fn fraction_of_date(date: &str) -> Option<String> {
    let mut parts = date.split('-').skip(1);
    let (month, day) = (parts.next()?.parse::<u32>().ok()?, parts.next()?.parse::<u32>().ok()?);
    Some(format!("{month}/{day}"))
}

/// `4-Mar`, `Mar-4`, `3/4/2026`: a date as text.
fn fraction_of_words(text: &str) -> Option<String> {
    const MONTHS: [&str; 12] = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
    let parts: Vec<&str> = text.split(['-', '/', ' ', '.']).filter(|p| !p.is_empty()).collect();
    let month_of =
        |word: &str| MONTHS.iter().position(|m| word.len() >= 3 && word.to_lowercase().starts_with(m)).map(|m| m + 1);
    let day_of = |word: &str| word.parse::<u32>().ok().filter(|d| (1..=31).contains(d));
    match parts[..] {
        [a, b] if text.len() <= 9 => {
            let (month, day) = month_of(b).zip(day_of(a)).or_else(|| month_of(a).zip(day_of(b)))?;
            Some(format!("{month}/{day}"))
        }
        [a, b, year] if year.len() == 4 && year.starts_with("20") => Some(format!("{}/{}", day_of(a)?, day_of(b)?)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(t: &str, takes: Takes) -> Reading {
        read_cell(&Cell::Text(t.to_owned().into()), false, takes)
    }

    #[test]
    fn a_fraction_is_an_answer_where_the_key_is_one() {
        assert_eq!(text("3/4", Takes::Numbers), Reading::Answer("3/4".into()));
        assert_eq!(text("3/4", Takes::Anything), Reading::OutOf(3.0, 4.0));
    }

    #[test]
    fn a_letter_among_points_is_no_option() {
        assert!(matches!(text("A", Takes::Points), Reading::Unreadable("letter-among-points", _)));
        assert_eq!(text("abs", Takes::Points), Reading::NotTaken);
        assert_eq!(text("AB", Takes::Several), Reading::Answer("A,B".into()));
        assert_eq!(text("AB", Takes::Options), Reading::NotTaken);
    }

    #[test]
    fn a_date_that_was_a_fraction_is_named() {
        for (shown, takes) in [
            ("4-Mar", Takes::Options),
            ("Mar-4", Takes::Anything),
            ("3/4/2026", Takes::Numbers),
            ("4-Mar", Takes::Numbers),
        ] {
            let Reading::Unreadable(code, what) = text(shown, takes) else { panic!("{shown}") };
            assert_eq!(code, "date-in-answers");
            assert!(what.contains("fraction 3/4"), "{what}");
        }
    }

    #[test]
    fn levels_of_any_script_are_levels() {
        for level in ["P", "М", "A+", "優"] {
            assert!(matches!(text(level, Takes::Levels), Reading::Level(_)), "{level}");
        }
        assert_eq!(text("P", Takes::Anything), Reading::Level("P".into()));
        assert!(could_be_mark(&Cell::Text("P".into())) && !could_be_mark(&Cell::Text("Sits at the front".into())));
    }
}
