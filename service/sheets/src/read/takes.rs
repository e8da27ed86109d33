//! What an item's key makes of its column: options, several options, numbers, words, true and false.
//!
//! In:  facts and distinct cells. Out: [`Judged`]: the key in its written form and what cells are taken for.
//! A key in lower case, in brackets or after a word is a letter; a key of words over a column of letters is no key, with an error.
//! Keeps: `a_key_is_known_in_many_forms`, `a_number_key_over_points_leaves_them_points`, `a_key_that_no_cell_can_meet_is_told`.
//! Not here: points (`marks`).

use super::cell::{Cell, trim};
use super::cell_marks::{Takes, truth_of};
use super::marks::{ColumnFacts, Distinct};
use super::notes::Notes;
use super::numbers::{number_of, ordinary, out_of};
use super::options::{is_several, options_of, options_run_together, parts_of};
use sheaf_core::scores::{Item, ItemKind};

/// The key, and what it makes of the column.
pub struct Judged {
    pub takes: Takes,
    pub key: Option<String>,
    pub has_letter_key: bool,
    pub has_number_key: bool,
    /// A key that no cell can meet, with its place where the sheet gives it.
    unusable: Option<(String, Option<(u32, u32)>)>,
}

impl Judged {
    fn new(takes: Takes, key: Option<String>) -> Self {
        let has_letter_key = matches!(takes, Takes::Options | Takes::Several);
        Judged { takes, key, has_letter_key, has_number_key: takes == Takes::Numbers, unusable: None }
    }

    /// Whether the key is one that no cell can meet; then that is said, and not that there is none.
    pub fn is_unusable(&self) -> bool {
        self.unusable.is_some()
    }

    /// Says that a key cannot be used.
    pub fn tell(&self, item: &Item, distinct: &[Distinct], column: u32, notes: &mut Notes<'_>) {
        let Some((key, at)) = &self.unusable else { return };
        let first = (distinct.iter().map(|d| d.first_row).min().unwrap_or(0), column);
        let (row, column) = at.unwrap_or(first);
        let message = format!("The key of {} is \u{201c}{key}\u{201d}, and the answers are letters.", item.label);
        notes.error(
            "key-not-an-option",
            notes.place(row, column),
            message,
            "the answers are kept without points; give the letter of the right option",
        );
    }
}

/// Judges the key of a column against its cells.
pub fn judge_key(facts: &ColumnFacts, distinct: &[Distinct], comma: bool) -> Judged {
    if !facts.scale.is_empty() {
        return Judged::new(Takes::Levels, None);
    }
    let counts = Counts::of(distinct, comma);
    let Some(key) = facts.key.as_deref().map(|k| ordinary(trim(k))).filter(|k| !k.is_empty()) else {
        let takes = if counts.n_numbers > counts.n_letters { Takes::Points } else { Takes::Anything };
        return Judged::new(takes, None);
    };
    if facts.kind == Some(ItemKind::TwoPart)
        && let Some(parts) = parts_of(&key)
    {
        return Judged::new(Takes::Parts, Some(parts));
    }
    if facts.kind == Some(ItemKind::Numeric) {
        return Judged::new(Takes::Numbers, Some(key));
    }
    if key.eq_ignore_ascii_case("f") && counts.has_truth {
        return Judged::new(Takes::Truth, truth_of(&key));
    }
    if let Some(options) = letters_of(&key, facts.kind, &counts) {
        let is_several = is_several(&options) || facts.kind == Some(ItemKind::MultiSelect);
        return Judged::new(if is_several { Takes::Several } else { Takes::Options }, Some(options));
    }
    by_other_key(key, facts, distinct, comma, &counts)
}

fn letters_of(key: &str, kind: Option<ItemKind>, counts: &Counts) -> Option<String> {
    options_of(key).or_else(|| {
        let is_of_letters = kind == Some(ItemKind::MultiSelect) || counts.n_letters > counts.n_others;
        is_of_letters.then(|| options_run_together(key)).flatten()
    })
}

fn by_other_key(key: String, facts: &ColumnFacts, distinct: &[Distinct], comma: bool, counts: &Counts) -> Judged {
    if number_of(&key, comma).is_some() || out_of(&key, comma).is_some() || is_mixed_number(&key) {
        let are_points = are_points(&key, facts.points.unwrap_or(1.0), distinct, comma);
        let mut judged = Judged::new(if are_points { Takes::Points } else { Takes::Numbers }, Some(key));
        judged.has_number_key = true;
        return judged;
    }
    if let Some(truth) = truth_of(&key) {
        return Judged::new(Takes::Truth, Some(truth));
    }
    if counts.n_letters > 0 && counts.n_letters > counts.n_others {
        let unusable = Some((key, facts.key_at));
        return Judged { unusable, ..Judged::new(Takes::Anything, None) };
    }
    Judged::new(Takes::Words, Some(key))
}

fn is_mixed_number(key: &str) -> bool {
    key.split_once(' ').is_some_and(|(whole, part)| number_of(whole, false).is_some() && out_of(part, false).is_some())
}

/// Whether numbers under a number key are points: each within the points, and none is the key.
fn are_points(key: &str, points: f64, distinct: &[Distinct], comma: bool) -> bool {
    let values: Vec<f64> = distinct.iter().filter_map(|d| value(&d.cell, comma)).collect();
    let key = number_of(key, comma);
    let is_safe_key = key.is_none_or(|k| k > points || k < 0.0);
    !values.is_empty()
        && values.iter().all(|v| (0.0..=points).contains(v))
        && (is_safe_key || !values.iter().any(|v| Some(*v) == key))
}

fn value(cell: &Cell<'_>, comma: bool) -> Option<f64> {
    match cell {
        Cell::Number { value, .. } => Some(*value),
        Cell::Text(t) => number_of(&ordinary(trim(t)), comma),
        _ => None,
    }
}

/// How many cells are numbers, option letters, something else.
struct Counts {
    n_numbers: u32,
    n_letters: u32,
    n_others: u32,
    has_truth: bool,
}

impl Counts {
    fn of(distinct: &[Distinct], comma: bool) -> Self {
        let mut counts = Counts { n_numbers: 0, n_letters: 0, n_others: 0, has_truth: false };
        for d in distinct {
            let text = match &d.cell {
                Cell::Text(t) => ordinary(trim(t)),
                Cell::Bool(_) => "true".to_owned(),
                _ => String::new(),
            };
            counts.has_truth |= ["t", "true", "false"].contains(&text.to_lowercase().as_str());
            if value(&d.cell, comma).is_some() || out_of(&text, comma).is_some() {
                counts.n_numbers += d.count;
            } else if options_of(&text).is_some() {
                counts.n_letters += d.count;
            } else if !text.is_empty() && !super::mark_words::is_not_taken(&text) {
                counts.n_others += d.count;
            }
        }
        counts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn judged(key: &str, cells: &[&str]) -> Judged {
        let distinct: Vec<Distinct> = cells
            .iter()
            .map(|t| Distinct { cell: Cell::Text((*t).to_owned().into()), first_row: 1, count: 1 })
            .collect();
        judge_key(&ColumnFacts { key: Some(key.into()), ..ColumnFacts::default() }, &distinct, false)
    }

    #[test]
    fn a_key_is_known_in_many_forms() {
        for (key, cells, takes, form) in [
            ("b", &["A", "B"][..], Takes::Options, "B"),
            ("Option B", &["A", "B"], Takes::Options, "B"),
            ("a; c", &["AC", "B"], Takes::Several, "A,C"),
            ("AC", &["A,C", "B"], Takes::Several, "A,C"),
            ("True", &["T", "F"], Takes::Truth, "TRUE"),
            ("F", &["T", "F"], Takes::Truth, "FALSE"),
            ("F", &["A", "F"], Takes::Options, "F"),
            ("3/4", &["3/4", "1/2"], Takes::Numbers, "3/4"),
            ("1 1/2", &["3/2"], Takes::Numbers, "1 1/2"),
            ("square", &["square", "circle"], Takes::Words, "square"),
        ] {
            let judged = judged(key, cells);
            assert_eq!((judged.takes, judged.key.as_deref()), (takes, Some(form)), "{key}");
        }
    }

    #[test]
    fn a_number_key_over_points_leaves_them_points() {
        assert_eq!(judged("12", &["0", "1"]).takes, Takes::Points);
        assert_eq!(judged("12", &["12", "21"]).takes, Takes::Numbers);
    }

    #[test]
    fn a_key_that_no_cell_can_meet_is_told() {
        let judged = judged("three fourths", &["A", "B", "C"]);
        assert_eq!((judged.takes, judged.key.as_deref()), (Takes::Anything, None));
        let mut notes = Notes::new("f.csv", "");
        judged.tell(&Item::new("Q1", 0), &[], 3, &mut notes);
        assert_eq!(notes.into_findings()[0].code, "key-not-an-option");
    }
}
