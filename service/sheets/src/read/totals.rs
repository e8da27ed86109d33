//! Sums that the sheet gives, held against the points that were read.
//!
//! In:  the number of each student in the total column, and the points read. Out: findings where they differ; one alone where most do,
//! since the column then counts something else. Keeps: `a_total_that_differs_is_told`, `a_total_that_counts_otherwise_is_told_once`.
//! Not here: leaving the column out (`layout`).

use super::notes::Notes;
use super::table::SheetTable;
use super::words::plain;
use sheaf_core::scores::MarkState;

/// Whether a total column holds a sum of points and not a percent or an average.
pub fn is_sum(label: &str) -> bool {
    let word = plain(label);
    let is_other = label.contains('%')
        || ["percent", "pct", "average", "avg", "mean", "median", "promedio", "porcentaje", "media", "grade"]
            .iter()
            .any(|w| word.contains(w));
    !is_other
}

/// Compares.
pub fn compare(table: &SheetTable, column: u32, totals: &[Option<f64>], notes: &mut Notes<'_>) {
    let sums: Vec<Option<f64>> = (0..table.students.len()).map(|s| sum_of(table, s)).collect();
    let differ: Vec<(usize, f64, f64)> = sums
        .iter()
        .zip(totals)
        .enumerate()
        .filter_map(|(s, (sum, total))| Some((s, (*sum)?, (*total)?)))
        .filter(|(_, sum, total)| (sum - total).abs() > 0.005)
        .collect();
    let n_compared = sums.iter().zip(totals).filter(|(a, b)| a.is_some() && b.is_some()).count();
    let Some((first, _, _)) = differ.first() else { return };
    if differ.len() * 2 > n_compared {
        let place = notes.place(table.students[*first].row, column);
        let message =
            format!("{} of {n_compared} totals differ from the sum of the points that were read.", differ.len());
        notes.note("totals-count-otherwise", place, message, "the marks count; the totals may count something else");
        return;
    }
    for (s, sum, total) in differ {
        let message = format!("The total is {total}, and the marks come to {sum}.");
        notes.warn(
            "total-differs",
            notes.place(table.students[s].row, column),
            message,
            "the marks count; look at the row",
        );
    }
}

/// The sum of a student's points; `None` where a mark has none or was not taken.
fn sum_of(table: &SheetTable, student: usize) -> Option<f64> {
    (0..table.items.len()).try_fold(0.0, |sum, item| {
        let mark = table.mark(student, item);
        match mark.state {
            MarkState::Scored => mark.points.map(|p| sum + p),
            MarkState::Omitted => Some(sum),
            MarkState::NotTaken => None,
        }
    })
}
