//! What the cells of one item column say: options, points, right and wrong, omitted, not taken.
//!
//! A column is judged as a whole: its distinct cells are few. Keeps: an unreadable cell is not taken, with an error finding at its first
//! place, never wrong and never zero (`an_error_value_is_not_taken`); points over the maximum or below zero likewise;
//! letters without a key are scored without points; the decimal comma goes by the majority of the column.
//! Not here: one cell alone (`cell_marks`), what the key makes of a column (`takes`), the maximum (`maximum`).

use super::cell::{Cell, trim};
use super::cell_marks::{Reading, is_cross, read_cell};
use super::maximum;
use super::notes::Notes;
use super::numbers::{number_of, out_of};
use super::options::is_several;
use super::takes::{Judged, judge_key};
use sheaf_core::scores::{Item, ItemKind, Mark, score_answer};

/// One distinct cell of a column and the first row that holds it.
#[derive(Debug, Clone)]
pub struct Distinct {
    pub cell: Cell<'static>,
    pub first_row: u32,
    pub count: u32,
}

/// Item facts that a sheet gives for a column.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ColumnFacts {
    pub key: Option<String>,
    pub points: Option<f64>,
    pub kind: Option<ItemKind>,
    /// Whether two rows of the sheet give different keys; that is said, and neither counts.
    pub is_key_disputed: bool,
    /// What levels are worth: `A` 2, `M` 1, `P` 0.
    pub scale: Vec<(String, f64)>,
    /// 0-based row and column of the key, where the sheet itself gives it.
    pub key_at: Option<(u32, u32)>,
}

impl ColumnFacts {
    /// Fills what is open.
    pub fn fill(&mut self, other: &ColumnFacts) {
        self.key = self.key.take().or_else(|| other.key.clone());
        self.points = self.points.or(other.points);
        self.kind = self.kind.or(other.kind);
        if self.scale.is_empty() {
            self.scale.clone_from(&other.scale);
        }
    }
}

/// Judges a column: fills in the item's key, points and kind, gives a mark for every distinct cell.
pub fn judge_column(
    item: &mut Item,
    facts: &ColumnFacts,
    distinct: &[Distinct],
    column: u32,
    notes: &mut Notes<'_>,
) -> Vec<Mark> {
    let comma = comma_is_decimal(distinct);
    let judged = judge_key(facts, distinct, comma);
    let mut readings: Vec<Reading> = distinct.iter().map(|d| read_cell(&d.cell, comma, judged.takes)).collect();
    crosses_beside_ticks(&mut readings, distinct);
    judged.tell(item, distinct, column, notes);
    item.key.clone_from(&judged.key);
    item.kind = facts.kind.unwrap_or_else(|| kind_of(&readings, distinct, &judged));
    let place = Column { distinct, column };
    item.points = facts.points.unwrap_or_else(|| {
        maximum::of_scale(&facts.scale).unwrap_or_else(|| maximum::judge(&mut readings, item, &place, notes))
    });
    maximum::take_out_serials(&mut readings, item);
    if facts.scale.is_empty() && !judged.is_unusable() && !facts.is_key_disputed {
        warn_letters_without_key(item, &readings, &place, notes);
    }
    let scoring = Scoring { item, scale: &facts.scale, comma };
    readings.into_iter().zip(distinct).map(|(reading, d)| scoring.mark(reading, column, d, notes)).collect()
}

/// An `x` in a column of ticks is wrong.
fn crosses_beside_ticks(readings: &mut [Reading], distinct: &[Distinct]) {
    if !readings.iter().any(|r| matches!(r, Reading::Right(true))) {
        return;
    }
    for (reading, d) in readings.iter_mut().zip(distinct) {
        if matches!(&d.cell, Cell::Text(t) if is_cross(trim(t))) {
            *reading = Reading::Right(false);
        }
    }
}

/// The distinct cells of a column, and which column it is.
pub struct Column<'a> {
    pub distinct: &'a [Distinct],
    pub column: u32,
}

fn comma_is_decimal(distinct: &[Distinct]) -> bool {
    let with = |mark: char| -> u32 {
        let is_number = |t: &str| t.chars().any(|c| c.is_ascii_digit()) && !t.chars().any(char::is_alphabetic);
        distinct
            .iter()
            .filter(|d| matches!(&d.cell, Cell::Text(t) if t.contains(mark) && is_number(t)))
            .map(|d| d.count)
            .sum()
    };
    with(',') > 0 && with(',') >= with('.')
}

fn kind_of(readings: &[Reading], distinct: &[Distinct], judged: &Judged) -> ItemKind {
    let is_answer_of_several =
        |r: &Reading| matches!(r, Reading::Answer(a) if is_several(a) && super::options::options_of(a).is_some());
    let count = |of: &dyn Fn(&Reading) -> bool| -> u32 {
        readings.iter().zip(distinct).filter(|(r, _)| of(r)).map(|(_, d)| d.count).sum()
    };
    // One child who marked two options makes no item of several.
    let are_of_several = count(&is_answer_of_several) * 3 > count(&|r| matches!(r, Reading::Answer(_)));
    match &judged.key {
        Some(key) if judged.has_number_key || number_of(key, false).is_some() => ItemKind::Numeric,
        Some(key) if judged.has_letter_key && is_several(key) => ItemKind::MultiSelect,
        _ if judged.has_letter_key || judged.key.is_none() => {
            if are_of_several {
                ItemKind::MultiSelect
            } else {
                ItemKind::Choice
            }
        }
        _ => ItemKind::Choice,
    }
}

fn warn_letters_without_key(item: &Item, readings: &[Reading], place: &Column<'_>, notes: &mut Notes<'_>) {
    if item.key.is_some() {
        return;
    }
    let is_level = |r: &Reading| matches!(r, Reading::Level(_));
    let answers: Vec<&Distinct> = readings
        .iter()
        .zip(place.distinct)
        .filter(|(r, _)| matches!(r, Reading::Answer(_)) || is_level(r))
        .map(|(_, d)| d)
        .collect();
    let Some(first) = answers.iter().map(|d| d.first_row).min() else { return };
    let n: u32 = answers.iter().map(|d| d.count).sum();
    let cell = notes.place(first, place.column);
    if readings.iter().any(is_level) {
        notes.error(
            "scale-not-given",
            cell,
            format!("{} holds {n} levels, but nothing says what each is worth.", item.label),
            "kept without points; write the scale into the points row, as in A=2; M=1; P=0",
        );
        return;
    }
    notes.error(
        "letters-without-key",
        cell,
        format!("{} holds {n} chosen options, but no key says which is right.", item.label),
        "kept without points; add a key row, an items sheet or --items",
    );
}

/// What makes points of a reading.
struct Scoring<'a> {
    item: &'a Item,
    scale: &'a [(String, f64)],
    comma: bool,
}

impl Scoring<'_> {
    fn mark(&self, reading: Reading, column: u32, d: &Distinct, notes: &mut Notes<'_>) -> Mark {
        let item = self.item;
        let times = if d.count > 1 { format!(" ({} times, first here)", d.count) } else { String::new() };
        let points = match reading {
            Reading::NotTaken => return Mark::NOT_TAKEN,
            Reading::Omitted => return Mark::OMITTED,
            Reading::Unreadable(code, what) => {
                let message = format!("{} holds {what}{times}.", item.label);
                notes.error(code, notes.place(d.first_row, column), message, "taken as not taken, never as wrong");
                return Mark::NOT_TAKEN;
            }
            Reading::Answer(answer) => {
                let points = self.points_of(&answer);
                return Mark::scored(Some(answer), points);
            }
            Reading::Level(level) => {
                let worth = self.scale.iter().find(|(name, _)| *name == level).map(|(_, p)| *p);
                if worth.is_none() && !self.scale.is_empty() {
                    let message =
                        format!("{} holds \u{201c}{level}\u{201d}{times}, which the scale does not name.", item.label);
                    notes.error(
                        "mark-not-understood",
                        notes.place(d.first_row, column),
                        message,
                        "taken as not taken, never as wrong",
                    );
                    return Mark::NOT_TAKEN;
                }
                return Mark::scored(Some(level), worth);
            }
            Reading::Right(is_right) => return Mark::scored(None, Some(if is_right { item.points } else { 0.0 })),
            Reading::OutOf(got, of) if of == item.points => got,
            Reading::OutOf(got, of) => got / of * item.points,
            Reading::Points(points) => points,
        };
        self.points_mark(points, column, d, &times, notes)
    }

    fn points_mark(&self, points: f64, column: u32, d: &Distinct, times: &str, notes: &mut Notes<'_>) -> Mark {
        let code = if points < 0.0 {
            "points-below-zero"
        } else if points > self.item.points + 1e-9 {
            "points-over-maximum"
        } else {
            return Mark::scored(None, Some(points.min(self.item.points)));
        };
        let message = format!("{} holds {points} points of {}{times}.", self.item.label, self.item.points);
        notes.error(code, notes.place(d.first_row, column), message, "taken as not taken, never as wrong");
        Mark::NOT_TAKEN
    }

    /// Points by the key. A decimal number is right where it has the value of a key that is a fraction, and the other way round;
    /// two fractions compare as written.
    fn points_of(&self, answer: &str) -> Option<f64> {
        let by_text = score_answer(self.item, answer)?;
        let key = self.item.key.as_deref().unwrap_or_default();
        if by_text > 0.0
            || self.item.kind != ItemKind::Numeric
            || key.contains('/') == answer.contains('/') && !self.comma
        {
            return Some(by_text);
        }
        let is_same = matches!((value_of(key, self.comma), value_of(answer, self.comma)), (Some(k), Some(a)) if (k - a).abs() < 1e-9);
        Some(if is_same { self.item.points } else { by_text })
    }
}

/// The value of `0.75`, `3/4`, `1 1/2`.
fn value_of(text: &str, comma: bool) -> Option<f64> {
    let text = text.trim();
    if let Some(value) = number_of(text, comma).or_else(|| number_of(text, false)) {
        return Some(value);
    }
    let (whole, part) = text.split_once(' ').unwrap_or(("0", text));
    let (got, of) = out_of(part.trim(), false).filter(|_| part.contains('/'))?;
    number_of(whole, false).map(|w| w + got / of)
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
    fn several_options_need_the_exact_set() {
        let facts = ColumnFacts { key: Some("A,C".into()), ..ColumnFacts::default() };
        let (item, marks, _) = judge(&facts, &[text("c; a"), text("A")]);
        assert_eq!(item.kind, ItemKind::MultiSelect);
        assert_eq!(points(&marks), [Some(1.0), Some(0.0)]);
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
}
