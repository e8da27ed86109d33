//! Suspicion, not correction: what is worth a second look, with its reason and one step to take. Nothing is changed.
//!
//! In:  one sheet read, or all of them and the students known before. Out: warnings with their place.
//! Judged on the first [`MOST_STUDENTS`] rows, so that a large sheet costs no more than a school.
//! Not here: what the marks say of a child (`sheaf-core`).

mod answers;
mod keys;
mod rolls;
mod rows;
mod shifted;

#[cfg(test)]
mod tests;

use super::notes::Notes;
use super::table::SheetTable;
use answers::Answers;

pub use rolls::{missing_classes, of_another_grade};

/// Rows judged.
const MOST_STUDENTS: usize = 2_000;

/// Looks at one sheet.
pub fn look(table: &SheetTable, notes: &mut Notes<'_>) {
    rows::all_zeros(table, notes);
    let answers = Answers::of(table);
    if answers.n_keyed() == 0 {
        return;
    }
    rows::option_out_of_range(table, &answers, notes);
    let is_shifted = shifted::columns(table, &answers, notes);
    if !is_shifted && !keys::near_chance(table, &answers, notes) {
        keys::contradicted(table, &answers, notes);
        shifted::rows(table, &answers, notes);
    }
}
