//! The single options chosen in a sheet, as a table of small numbers.
//!
//! In:  a [`SheetTable`]. Out: for each student and item the number of the chosen option, from 1, or 0 where there is none; and the key.
//! Shape (n_students, n_items), row by row. Answers of several options count as none.
//! Not here: any judgement.

use super::super::table::SheetTable;
use super::MOST_STUDENTS;

/// Chosen options.
pub struct Answers {
    pub n_students: usize,
    pub n_items: usize,
    /// 0 for none, 1 for `A` …
    chosen: Vec<u8>,
    /// 0 where the item has no key of one letter.
    pub key: Vec<u8>,
}

impl Answers {
    pub fn of(table: &SheetTable) -> Self {
        let n_students = table.students.len().min(MOST_STUDENTS);
        let n_items = table.items.len();
        let key: Vec<u8> = table.items.iter().map(|i| i.key.as_deref().map_or(0, letter)).collect();
        let by_code: Vec<Vec<u8>> = table
            .marks
            .iter()
            .map(|marks| marks.iter().map(|m| m.answer.as_deref().map_or(0, letter)).collect())
            .collect();
        let at = |code: u32, item: usize| {
            let place = (code as usize).checked_sub(1);
            place.and_then(|p| by_code[item].get(p)).copied().unwrap_or(0)
        };
        let codes = table.codes.iter().take(n_students * n_items).enumerate();
        let chosen = codes.map(|(i, code)| at(*code, i % n_items.max(1))).collect();
        Answers { n_students, n_items, chosen, key }
    }

    pub fn chosen(&self, student: usize, item: usize) -> u8 {
        self.chosen[student * self.n_items + item]
    }

    /// Items with a key of one letter.
    pub fn keyed(&self) -> Vec<usize> {
        (0..self.n_items).filter(|i| self.key[*i] > 0).collect()
    }

    pub fn n_keyed(&self) -> usize {
        self.key.iter().filter(|k| **k > 0).count()
    }

    /// Whether an answer is right; `None` where there is none.
    pub fn is_right(&self, student: usize, item: usize) -> Option<bool> {
        let chosen = self.chosen(student, item);
        (chosen > 0 && self.key[item] > 0).then(|| chosen == self.key[item])
    }
}

fn letter(text: &str) -> u8 {
    match text.as_bytes() {
        [c @ b'A'..=b'J'] => c - b'A' + 1,
        _ => 0,
    }
}

/// The letter of a number.
pub fn letter_of(number: u8) -> char {
    char::from(b'A' + number.saturating_sub(1).min(25))
}
