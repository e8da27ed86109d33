//! Single rows and cells worth a look: a row of zeros, an option that no other item has.
//!
//! In:  a sheet. Out: warnings at the row or the cell. A zero may mean "absent", and a fifth letter may be a slip of the finger.
//! Keeps: `a_row_of_zeros_is_told`, `a_fifth_option_is_told`.
//! Not here: what counts (the marks stay as they are). Thresholds: common practice, no source.

use super::super::notes::Notes;
use super::super::table::SheetTable;
use super::MOST_STUDENTS;
use super::answers::{Answers, letter_of};
use sheaf_core::scores::{Mark, MarkState};

/// Items from which on a row of zeros is told.
const FEWEST_ITEMS: usize = 3;
/// Answers from which on the letters of a sheet are known, and how rare a letter must be.
const FEWEST_ANSWERS: usize = 16;
const RAREST: usize = 40;

/// Rows in which every mark is zero.
pub fn all_zeros(table: &SheetTable, notes: &mut Notes<'_>) {
    let n_items = table.items.len();
    if n_items < FEWEST_ITEMS {
        return;
    }
    let is_zero = |m: &Mark| m.state == MarkState::Scored && m.answer.is_none() && m.points == Some(0.0);
    let zeros: Vec<Vec<bool>> = table.marks.iter().map(|marks| marks.iter().map(is_zero).collect()).collect();
    for (s, student) in table.students.iter().enumerate().take(MOST_STUDENTS) {
        let codes = &table.codes[s * n_items..(s + 1) * n_items];
        let is_all =
            codes.iter().enumerate().all(|(i, code)| *code > 0 && zeros[i].get(*code as usize - 1) == Some(&true));
        if is_all {
            let place = notes.place(student.row, table.item_columns[0]);
            let message = format!("Every mark of {} is 0.", notes.line(student.row));
            notes.warn("row-all-zeros", place, message, "counted as wrong; write abs if the child was absent");
        }
    }
}

/// A letter behind all others that hardly anybody chose.
pub fn option_out_of_range(table: &SheetTable, answers: &Answers, notes: &mut Notes<'_>) {
    let mut counts = [0_usize; 11];
    // Items without a key show what is offered as well as others.
    let n_items = table.items.len();
    for s in 0..answers.n_students {
        (0..n_items).for_each(|i| counts[usize::from(answers.chosen(s, i))] += 1);
    }
    answers.keyed().iter().for_each(|i| counts[usize::from(answers.key[*i])] += FEWEST_ANSWERS);
    let n: usize = counts.iter().skip(1).sum();
    let Some(last) = (1..counts.len()).rev().find(|o| counts[*o] > 0) else { return };
    let is_rare = counts[last] * RAREST <= n || counts[last] == 1;
    if last < 4 || !is_rare || n < FEWEST_ANSWERS {
        return;
    }
    let before = (1..last).rev().find(|o| counts[*o] > 0).unwrap_or(1) as u8;
    for s in 0..answers.n_students {
        for i in (0..n_items).filter(|i| usize::from(answers.chosen(s, *i)) == last) {
            let place = notes.place(table.students[s].row, table.item_columns[i]);
            let message = format!(
                "{} is chosen on {}, and no other answer or key of the sheet goes beyond {}.",
                letter_of(last as u8),
                table.items[i].label,
                letter_of(before)
            );
            notes.warn(
                "option-not-offered",
                place,
                message,
                "counted as a chosen option that is wrong; look at the cell",
            );
        }
    }
}
