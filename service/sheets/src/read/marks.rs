//! What the cells of one item column say: options, points, right and wrong, omitted, not taken.
//!
//! A column is judged as a whole: its distinct cells are few. Keeps: an unreadable cell is not taken, with an error finding at its first
//! place, never wrong and never zero (`an_error_value_is_not_taken`); points over the maximum or below zero likewise;
//! letters without a key are scored without points; several options are never a word for absent
//! (`several_options_are_an_answer_and_not_a_word_for_absent`); the decimal comma goes by the majority of the column.

use super::cell::{Cell, address};
use super::notes::Notes;
use super::words::{is_not_taken, is_omitted, right_or_wrong};
use sheaf_core::scores::{Item, ItemKind, Mark, score_answer};

/// One distinct cell of a column and the first row that holds it.
#[derive(Debug, Clone)]
pub struct Distinct {
    pub cell: Cell<'static>,
    pub first_row: u32,
    pub count: u32,
}

/// What a cell says, before the item's points are known.
#[derive(Debug, Clone, PartialEq)]
enum Reading {
    NotTaken,
    Omitted,
    Points(f64),
    /// Points of how many.
    OutOf(f64, f64),
    Right(bool),
    Answer(String),
    Unreadable(&'static str, String),
}

/// Item facts that a sheet gives for a column.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ColumnFacts {
    pub key: Option<String>,
    pub points: Option<f64>,
    pub kind: Option<ItemKind>,
}

/// Judges a column: fills in the item's points and kind, gives a mark for every distinct cell.
pub fn judge_column(
    item: &mut Item,
    facts: &ColumnFacts,
    distinct: &[Distinct],
    column: u32,
    notes: &mut Notes<'_>,
) -> Vec<Mark> {
    let comma = comma_is_decimal(distinct);
    let takes_numbers = facts.kind == Some(ItemKind::Numeric);
    let readings: Vec<Reading> =
        distinct.iter().map(|d| read_cell(&d.cell, comma, facts.key.is_some(), takes_numbers)).collect();
    item.key.clone_from(&facts.key);
    item.kind = facts.kind.unwrap_or_else(|| kind_of(&readings, facts));
    item.points = facts.points.unwrap_or_else(|| guessed_points(&readings, item, distinct, column, notes));
    warn_letters_without_key(item, &readings, distinct, column, notes);
    readings
        .into_iter()
        .zip(distinct)
        .map(|(reading, d)| mark_of(reading, item, &address(d.first_row, column), d, notes))
        .collect()
}

fn read_cell(cell: &Cell<'_>, comma: bool, has_key: bool, takes_numbers: bool) -> Reading {
    match cell {
        Cell::Number { value, is_percent: true, .. } if !takes_numbers => Reading::OutOf(*value, 1.0),
        Cell::Number { value, .. } if takes_numbers && has_key => Reading::Answer(value.to_string()),
        Cell::Number { value, .. } => Reading::Points(*value),
        Cell::Bool(b) => Reading::Right(*b),
        Cell::Date(d) => {
            Reading::Unreadable("date-in-answers", format!("a date ({d}), perhaps a fraction that was turned into one"))
        }
        // The sheet's findings name each of these with its place.
        Cell::NoResult => Reading::NotTaken,
        Cell::Error(e) => Reading::Unreadable("error-value", format!("the error value {e}")),
        Cell::Text(t) => read_text(super::cell::trim(t), comma, has_key, takes_numbers),
    }
}

fn read_text(text: &str, comma: bool, has_key: bool, takes_numbers: bool) -> Reading {
    if is_error_text(text) {
        return Reading::Unreadable("error-value", format!("the error value {text}"));
    }
    // Before the words: without its comma, `A,B` would read like a short form of absent.
    if is_option_list(text) {
        return Reading::Answer(text.to_uppercase());
    }
    if is_not_taken(text) {
        return Reading::NotTaken;
    }
    if is_omitted(text) {
        return Reading::Omitted;
    }
    if takes_numbers && has_key {
        return Reading::Answer(text.to_owned());
    }
    let half_width: String = text.chars().map(to_half_width).collect();
    if let Some(points) = number_of(&half_width, comma) {
        return Reading::Points(points);
    }
    if let Some((got, of)) = out_of(&half_width, comma) {
        return Reading::OutOf(got, of);
    }
    if is_options(&half_width) {
        return Reading::Answer(half_width.to_uppercase());
    }
    if let Some(is_right) = right_or_wrong(&half_width) {
        return Reading::Right(is_right);
    }
    if has_key && half_width.chars().count() <= 60 {
        return Reading::Answer(half_width);
    }
    Reading::Unreadable(
        "mark-not-understood",
        format!("\u{201c}{}\u{201d}", half_width.chars().take(30).collect::<String>()),
    )
}

/// An error value as a text file shows it.
fn is_error_text(text: &str) -> bool {
    let word = text.to_uppercase();
    let known = ["#DIV/0!", "#N/A", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#SPILL!", "#CALC!"];
    known.contains(&word.as_str()) || word.strip_prefix("ERR:").is_some_and(|n| n.parse::<u16>().is_ok())
}

/// Two or more option letters with something between them.
fn is_option_list(text: &str) -> bool {
    is_options(text) && text.chars().filter(|c| c.is_alphabetic()).count() > 1
}

/// Full-width letters and digits become their ordinary forms.
fn to_half_width(c: char) -> char {
    match c {
        '\u{ff01}'..='\u{ff5e}' => char::from_u32(c as u32 - 0xfee0).unwrap_or(c),
        '\u{a0}' | '\u{3000}' => ' ',
        _ => c,
    }
}

fn number_of(text: &str, comma: bool) -> Option<f64> {
    let text = if comma { text.replace(',', ".") } else { text.to_owned() };
    let is_number = text.chars().all(|c| c.is_ascii_digit() || matches!(c, '.' | '-' | '+'));
    if is_number { text.parse::<f64>().ok().filter(|v| v.is_finite()) } else { None }
}

/// `7/10`, `7 of 10`, `85%`.
fn out_of(text: &str, comma: bool) -> Option<(f64, f64)> {
    if let Some(percent) = text.strip_suffix('%') {
        return number_of(percent.trim(), comma).map(|p| (p, 100.0));
    }
    let (got, of) = text.split_once('/').or_else(|| text.split_once(" of ")).or_else(|| text.split_once(" de "))?;
    let (got, of) = (number_of(got.trim(), comma)?, number_of(of.trim(), comma)?);
    (of > 0.0).then_some((got, of))
}

/// One letter A–J, or several with something between.
fn is_options(text: &str) -> bool {
    let letters: Vec<&str> = text.split([',', ';', '&', '+', ' ', '|', '/']).filter(|p| !p.is_empty()).collect();
    !letters.is_empty()
        && letters.len() <= 10
        && letters.iter().all(|l| l.len() == 1 && l.chars().all(|c| matches!(c.to_ascii_uppercase(), 'A'..='J')))
}

fn comma_is_decimal(distinct: &[Distinct]) -> bool {
    let texts: Vec<&str> = distinct
        .iter()
        .filter_map(|d| match &d.cell {
            Cell::Text(t) => Some(super::cell::trim(t)),
            _ => None,
        })
        .filter(|t| t.chars().any(|c| c.is_ascii_digit()))
        .collect();
    let with = |mark: char| texts.iter().filter(|t| t.contains(mark)).count();
    with(',') > 0 && with(',') >= with('.')
}

fn kind_of(readings: &[Reading], facts: &ColumnFacts) -> ItemKind {
    let is_several = |text: &str| text.contains([',', ';', '&', '+']) && is_options(text);
    let several = facts.key.as_deref().is_some_and(is_several)
        || readings.iter().any(|r| matches!(r, Reading::Answer(a) if is_several(a)));
    let number_key = facts.key.as_deref().is_some_and(|k| !is_options(k) && number_of(k, false).is_some());
    if several {
        ItemKind::MultiSelect
    } else if number_key {
        ItemKind::Numeric
    } else {
        ItemKind::Choice
    }
}

/// The maximum of a column that does not say it: 1, or the largest points seen.
fn guessed_points(readings: &[Reading], item: &Item, distinct: &[Distinct], column: u32, notes: &mut Notes<'_>) -> f64 {
    let out_of = readings.iter().filter_map(|r| match r {
        Reading::OutOf(_, of) if *of != 100.0 && *of != 1.0 => Some(*of),
        _ => None,
    });
    if let Some(of) = out_of.reduce(f64::max) {
        return of;
    }
    let largest = readings
        .iter()
        .filter_map(|r| if let Reading::Points(p) = r { Some(*p) } else { None })
        .fold(0.0_f64, f64::max);
    if largest <= 1.0 || item.key.is_some() {
        return 1.0;
    }
    let first = distinct.iter().map(|d| d.first_row).min().unwrap_or(0);
    let points = largest.ceil();
    notes.warn(
        "maximum-not-given",
        address(first, column),
        format!("{} has no maximum; the largest points seen are {points}.", item.label),
        "they are taken as the maximum; add a points row to say otherwise",
    );
    points
}

fn warn_letters_without_key(
    item: &Item,
    readings: &[Reading],
    distinct: &[Distinct],
    column: u32,
    notes: &mut Notes<'_>,
) {
    if item.key.is_some() {
        return;
    }
    let answers: Vec<&Distinct> =
        readings.iter().zip(distinct).filter(|(r, _)| matches!(r, Reading::Answer(_))).map(|(_, d)| d).collect();
    if let Some(first) = answers.iter().map(|d| d.first_row).min() {
        let n: u32 = answers.iter().map(|d| d.count).sum();
        notes.error(
            "letters-without-key",
            address(first, column),
            format!("{} holds {n} chosen options, but no key says which is right.", item.label),
            "kept without points; add a key row, an items sheet or --items",
        );
    }
}

fn mark_of(reading: Reading, item: &Item, place: &str, d: &Distinct, notes: &mut Notes<'_>) -> Mark {
    let times = if d.count > 1 { format!(" ({} times, first here)", d.count) } else { String::new() };
    let points = match reading {
        Reading::NotTaken => return Mark::NOT_TAKEN,
        Reading::Omitted => return Mark::OMITTED,
        Reading::Unreadable(code, what) => {
            notes.error(
                code,
                place,
                format!("{} holds {what}{times}.", item.label),
                "taken as not taken, never as wrong",
            );
            return Mark::NOT_TAKEN;
        }
        Reading::Answer(answer) => {
            let points = score_answer(item, &answer);
            return Mark::scored(Some(answer), points);
        }
        Reading::Right(is_right) => return Mark::scored(None, Some(if is_right { item.points } else { 0.0 })),
        Reading::OutOf(got, of) if of == item.points => got,
        Reading::OutOf(got, of) => got / of * item.points,
        Reading::Points(points) => points,
    };
    let code = if points < 0.0 {
        "points-below-zero"
    } else if points > item.points + 1e-9 {
        "points-over-maximum"
    } else {
        return Mark::scored(None, Some(points.min(item.points)));
    };
    let message = format!("{} holds {points} points of {}{times}.", item.label, item.points);
    notes.error(code, place, message, "taken as not taken, never as wrong");
    Mark::NOT_TAKEN
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::scores::MarkState;

    fn judge(facts: &ColumnFacts, cells: &[Cell<'static>]) -> (Item, Vec<Mark>, Vec<String>) {
        let distinct: Vec<Distinct> = cells
            .iter()
            .enumerate()
            .map(|(i, c)| Distinct { cell: c.clone(), first_row: i as u32 + 1, count: 1 })
            .collect();
        let mut item = Item::new("Q1", 0);
        let mut notes = Notes::new("f.csv", "");
        let marks = judge_column(&mut item, facts, &distinct, 3, &mut notes);
        let codes = notes.into_findings().into_iter().map(|f| format!("{} {}", f.code, f.cell)).collect();
        (item, marks, codes)
    }

    fn text(t: &str) -> Cell<'static> {
        Cell::Text(t.to_owned().into())
    }

    fn points(marks: &[Mark]) -> Vec<Option<f64>> {
        marks.iter().map(|m| m.points).collect()
    }

    fn number(value: f64) -> Cell<'static> {
        Cell::Number { value, zeros: 0, is_percent: false }
    }

    #[test]
    fn an_error_value_is_not_taken() {
        let (_, marks, codes) = judge(&ColumnFacts::default(), &[Cell::Error("#N/A".into()), number(1.0)]);
        assert_eq!(marks[0].state, MarkState::NotTaken);
        assert_eq!(codes, ["error-value D2"]);
    }

    #[test]
    fn letters_score_by_the_key() {
        let facts = ColumnFacts { key: Some("B".into()), ..ColumnFacts::default() };
        let (_, marks, codes) = judge(&facts, &[text("b"), text("A"), text("abs"), text("Ｂ"), text("E")]);
        assert_eq!(points(&marks), [Some(1.0), Some(0.0), None, Some(1.0), Some(0.0)]);
        assert_eq!(marks[2].state, MarkState::NotTaken);
        assert!(codes.is_empty());
    }

    #[test]
    fn letters_without_a_key_have_no_points() {
        let (_, marks, codes) = judge(&ColumnFacts::default(), &[text("B"), text("A")]);
        assert_eq!(points(&marks), [None, None]);
        assert_eq!(marks[0].state, MarkState::Scored);
        assert_eq!(codes, ["letters-without-key D2"]);
    }

    #[test]
    fn points_outside_their_range_are_not_taken() {
        let facts = ColumnFacts { points: Some(2.0), ..ColumnFacts::default() };
        let (_, marks, codes) = judge(&facts, &[number(3.0), number(-1.0), number(1.5)]);
        assert_eq!(points(&marks), [None, None, Some(1.5)]);
        assert_eq!(codes, ["points-over-maximum D2", "points-below-zero D3"]);
    }

    #[test]
    fn fractions_percents_and_commas_are_points() {
        assert_eq!(
            points(&judge(&ColumnFacts::default(), &[text("7/10"), text("10 of 10")]).1),
            [Some(7.0), Some(10.0)]
        );
        assert_eq!(points(&judge(&ColumnFacts::default(), &[text("50%")]).1), [Some(0.5)]);
        let facts = ColumnFacts { points: Some(3.0), ..ColumnFacts::default() };
        assert_eq!(points(&judge(&facts, &[text("2,5"), text("1")]).1), [Some(2.5), Some(1.0)]);
    }

    #[test]
    fn a_date_among_answers_is_told() {
        let (_, marks, codes) = judge(&ColumnFacts::default(), &[Cell::Date("2026-03-04".into())]);
        assert_eq!((marks[0].state, codes), (MarkState::NotTaken, vec!["date-in-answers D2".to_owned()]));
    }

    #[test]
    fn ticks_and_crosses_are_right_and_wrong() {
        let facts = ColumnFacts { points: Some(2.0), ..ColumnFacts::default() };
        assert_eq!(
            points(&judge(&facts, &[text("✓"), text("✗"), Cell::Bool(true)]).1),
            [Some(2.0), Some(0.0), Some(2.0)]
        );
    }

    #[test]
    fn an_error_value_in_a_text_file_is_not_taken_and_never_wrong() {
        let facts = ColumnFacts { key: Some("B".into()), ..ColumnFacts::default() };
        for error in ["#N/A", "#DIV/0!", "#ref!", "Err:502"] {
            let (_, marks, codes) = judge(&facts, &[text(error), text("B")]);
            assert_eq!((marks[0].state, marks[0].points), (MarkState::NotTaken, None), "{error}");
            assert_eq!(codes, ["error-value D2"], "{error}");
        }
    }

    #[test]
    fn several_options_are_an_answer_and_not_a_word_for_absent() {
        let facts = ColumnFacts { key: Some("A,B".into()), ..ColumnFacts::default() };
        for answer in ["A,B", "b; a", "A & B", "a b"] {
            let (_, marks, codes) = judge(&facts, &[text(answer)]);
            assert_eq!((marks[0].state, marks[0].points), (MarkState::Scored, Some(1.0)), "{answer}");
            assert!(codes.is_empty(), "{answer}: {codes:?}");
        }
        let (_, marks, _) = judge(&facts, &[text("ab."), text("n/a"), text("N, A")]);
        assert!(marks.iter().all(|m| m.state == MarkState::NotTaken), "{marks:?}");
    }

    #[test]
    fn several_options_need_the_exact_set() {
        let facts = ColumnFacts { key: Some("A,C".into()), ..ColumnFacts::default() };
        let (item, marks, _) = judge(&facts, &[text("c; a"), text("A")]);
        assert_eq!(item.kind, ItemKind::MultiSelect);
        assert_eq!(points(&marks), [Some(1.0), Some(0.0)]);
    }
}
