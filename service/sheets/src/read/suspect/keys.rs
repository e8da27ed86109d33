//! Keys that the answers speak against.
//!
//! In:  chosen options and keys. Out: a warning at the key where most of those who do well elsewhere chose one other option; one warning
//! for a sheet whose answers are hardly better than guessing.
//! Keeps: `a_key_that_most_high_scorers_contradict_is_doubted`, `a_hard_item_is_no_wrong_key`, `a_sheet_near_chance_is_told`.
//! Thresholds: common practice, no source.

use super::super::notes::Notes;
use super::super::table::SheetTable;
use super::answers::{Answers, letter_of};

/// Students from which on a key is doubted.
const FEWEST_STUDENTS: usize = 9;
/// The best third.
const BEST: usize = 3;
/// Share of the best third that must have chosen one other option, share that may have chosen the key, and what the best third must
/// have right elsewhere.
const OTHER_SHARE: f64 = 0.6;
const KEY_SHARE: f64 = 0.2;
const RIGHT_ELSEWHERE: f64 = 0.6;

/// Doubts keys.
pub fn contradicted(table: &SheetTable, answers: &Answers, notes: &mut Notes<'_>) {
    let keyed = answers.keyed();
    if answers.n_students < FEWEST_STUDENTS || keyed.len() < 4 {
        return;
    }
    for item in &keyed {
        let Some((other, n_other, n_best)) = contradiction(answers, &keyed, *item) else { continue };
        let (row, column) = table.key_places[*item].unwrap_or((table.header_row, table.item_columns[*item]));
        let message = format!(
            "{n_other} of the {n_best} students who do best on the other items chose {} on {}, where the key says {}.",
            letter_of(other),
            table.items[*item].label,
            letter_of(answers.key[*item])
        );
        notes.warn(
            "key-doubtful",
            notes.place(row, column),
            message,
            "scored by the key as it stands; look at the item and change the key if it is wrong",
        );
    }
}

/// The option that the best third chose against the key: option, how many, of how many.
fn contradiction(answers: &Answers, keyed: &[usize], item: usize) -> Option<(u8, usize, usize)> {
    let mut rest: Vec<(f64, usize)> = (0..answers.n_students)
        .filter(|s| answers.chosen(*s, item) > 0)
        .filter_map(|s| share_elsewhere(answers, keyed, s, item).map(|share| (share, s)))
        .collect();
    if rest.len() < FEWEST_STUDENTS {
        return None;
    }
    rest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    rest.truncate(rest.len() / BEST);
    let n = rest.len();
    let mean = rest.iter().map(|(share, _)| share).sum::<f64>() / n as f64;
    let mut counts = [0_usize; 11];
    rest.iter().for_each(|(_, s)| counts[usize::from(answers.chosen(*s, item))] += 1);
    let key = usize::from(answers.key[item]);
    let (other, n_other) = counts.iter().enumerate().skip(1).filter(|(o, _)| *o != key).max_by_key(|(_, c)| **c)?;
    let is_doubtful = *n_other as f64 >= OTHER_SHARE * n as f64
        && counts[key] as f64 <= KEY_SHARE * n as f64
        && mean >= RIGHT_ELSEWHERE;
    is_doubtful.then_some((other as u8, *n_other, n))
}

fn share_elsewhere(answers: &Answers, keyed: &[usize], student: usize, item: usize) -> Option<f64> {
    let right: Vec<bool> = keyed.iter().filter(|i| **i != item).filter_map(|i| answers.is_right(student, *i)).collect();
    (right.len() >= 3).then(|| right.iter().filter(|r| **r).count() as f64 / right.len() as f64)
}

/// Students and items from which on a sheet is held against guessing, and how far above it is still near.
const CHANCE_STUDENTS: usize = 8;
const CHANCE_ITEMS: usize = 8;
const NEAR: f64 = 0.05;

/// Whether the sheet is hardly better than guessing; said at the headings.
pub fn near_chance(table: &SheetTable, answers: &Answers, notes: &mut Notes<'_>) -> bool {
    let keyed = answers.keyed();
    if answers.n_students < CHANCE_STUDENTS || keyed.len() < CHANCE_ITEMS {
        return false;
    }
    let (mut n, mut n_right, mut most) = (0_usize, 0_usize, 0_u8);
    for s in 0..answers.n_students {
        for i in &keyed {
            most = most.max(answers.chosen(s, *i)).max(answers.key[*i]);
            if let Some(is_right) = answers.is_right(s, *i) {
                n += 1;
                n_right += usize::from(is_right);
            }
        }
    }
    let chance = 1.0 / f64::from(most.max(2));
    let share = n_right as f64 / n.max(1) as f64;
    if n < CHANCE_STUDENTS * CHANCE_ITEMS || share > chance + NEAR {
        return false;
    }
    let message = format!(
        "{:.0} % of the answers agree with the key; guessing among {most} options would give {:.0} %.",
        share * 100.0,
        chance * 100.0
    );
    let place = notes.place(table.header_row, table.item_columns[keyed[0]]);
    notes.warn(
        "near-chance",
        place,
        message,
        "scored by the key as it stands; look whether the key belongs to this sheet",
    );
    true
}
