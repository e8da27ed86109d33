//! Answers that slid by one item against the key: for the whole sheet, or in one student's row.
//!
//! In:  chosen options and keys. Out: a warning at the first item that fits its neighbour's key better. The start is where the gain of
//! moving everything behind it by one is largest.
//! Keeps: `a_column_shifted_by_one_is_offered`, `a_row_that_skipped_a_line_is_offered`, `ordinary_answers_are_not_shifted`.
//! Thresholds: common practice, no source.

use super::super::notes::Notes;
use super::super::table::SheetTable;
use super::answers::Answers;

/// What must hold for a shift to be told.
struct Limits {
    fewest_items: usize,
    fewest_answers: usize,
    most_right: f64,
    least_right_moved: f64,
}

const OF_A_SHEET: Limits = Limits { fewest_items: 4, fewest_answers: 40, most_right: 0.4, least_right_moved: 0.5 };
const OF_A_ROW: Limits = Limits { fewest_items: 8, fewest_answers: 8, most_right: 0.25, least_right_moved: 0.85 };
/// How much better the moved answers must fit.
const GAIN: f64 = 0.25;

/// A shift that fits.
struct Shift {
    /// Place of the first item among the keyed ones.
    start: usize,
    is_to_the_left: bool,
    right: f64,
    right_moved: f64,
}

/// Counts at one item: answers, right, right by the neighbour's key.
#[derive(Clone, Copy, Default)]
struct Fit {
    n: usize,
    n_right: usize,
    n_moved: usize,
}

/// Whether the sheet as a whole is shifted; said at the headings.
pub fn columns(table: &SheetTable, answers: &Answers, notes: &mut Notes<'_>) -> bool {
    let keyed = answers.keyed();
    let students: Vec<usize> = (0..answers.n_students).collect();
    let Some(shift) = best(answers, &keyed, &students, &OF_A_SHEET) else { return false };
    let item = keyed[shift.start];
    let (row, column) = table.key_places[item].unwrap_or((table.header_row, table.item_columns[item]));
    let message = format!("From {} on, {}.", table.items[item].label, words(&shift));
    notes.warn(
        "answers-shifted",
        notes.place(row, column),
        message,
        "scored as they stand; look whether a column is missing or too many",
    );
    true
}

/// Rows that are shifted by themselves.
pub fn rows(table: &SheetTable, answers: &Answers, notes: &mut Notes<'_>) {
    let keyed = answers.keyed();
    if keyed.len() < OF_A_ROW.fewest_items {
        return;
    }
    for student in 0..answers.n_students {
        let Some(shift) = best(answers, &keyed, &[student], &OF_A_ROW) else { continue };
        let item = keyed[shift.start];
        let place = notes.place(table.students[student].row, table.item_columns[item]);
        let message = format!("From {} on in this row, {}.", table.items[item].label, words(&shift));
        notes.warn("row-shifted", place, message, "scored as they stand; look whether the child skipped a line");
    }
}

fn words(shift: &Shift) -> String {
    let neighbour = if shift.is_to_the_left { "the item before" } else { "the item after" };
    let percent = |share: f64| (share * 100.0).round();
    format!(
        "the answers fit the key of {neighbour}: {} % right as they stand, {} % moved by one",
        percent(shift.right),
        percent(shift.right_moved)
    )
}

/// The shift that gains most, if it is within the limits.
fn best(answers: &Answers, keyed: &[usize], students: &[usize], limits: &Limits) -> Option<Shift> {
    if keyed.len() < limits.fewest_items + 1 {
        return None;
    }
    let found = [true, false]
        .into_iter()
        .filter_map(|is_to_the_left| best_one_way(answers, keyed, students, limits, is_to_the_left));
    found.max_by(|a, b| (a.right_moved - a.right).total_cmp(&(b.right_moved - b.right)))
}

fn best_one_way(
    answers: &Answers,
    keyed: &[usize],
    students: &[usize],
    limits: &Limits,
    is_to_the_left: bool,
) -> Option<Shift> {
    let fits: Vec<Fit> = (0..keyed.len()).map(|k| fit(answers, keyed, students, k, is_to_the_left)).collect();
    let (mut sum, mut best) = (Fit::default(), None::<(i64, usize, Fit)>);
    for start in (0..keyed.len()).rev() {
        sum = Fit {
            n: sum.n + fits[start].n,
            n_right: sum.n_right + fits[start].n_right,
            n_moved: sum.n_moved + fits[start].n_moved,
        };
        let gain = sum.n_moved as i64 - sum.n_right as i64;
        let n_items = keyed.len() - start - usize::from(!is_to_the_left);
        if n_items >= limits.fewest_items && best.is_none_or(|(most, ..)| gain > most) {
            best = Some((gain, start, sum));
        }
    }
    let (_, start, sum) = best.filter(|(.., sum)| sum.n >= limits.fewest_answers)?;
    let (right, right_moved) = (sum.n_right as f64 / sum.n as f64, sum.n_moved as f64 / sum.n as f64);
    let is_shift = right <= limits.most_right && right_moved >= limits.least_right_moved && right_moved - right >= GAIN;
    is_shift.then_some(Shift { start, is_to_the_left, right, right_moved })
}

/// How the answers to one item fit its key and the neighbour's; nothing where there is no neighbour.
fn fit(answers: &Answers, keyed: &[usize], students: &[usize], k: usize, is_to_the_left: bool) -> Fit {
    let neighbour = if is_to_the_left { k.checked_sub(1) } else { Some(k + 1) };
    let Some(other) = neighbour.and_then(|n| keyed.get(n)) else { return Fit::default() };
    let (key, other_key) = (answers.key[keyed[k]], answers.key[*other]);
    let mut fit = Fit::default();
    for chosen in students.iter().map(|s| answers.chosen(*s, keyed[k])).filter(|c| *c > 0) {
        fit.n += 1;
        fit.n_right += usize::from(chosen == key);
        fit.n_moved += usize::from(chosen == other_key);
    }
    fit
}
