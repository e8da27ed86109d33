//! Sheets with students across: a column a student, a row a question.
//!
//! In:  the first rows, and where the headings seem to be. Out: whether such a sheet is seen clearly, perhaps, or not; and the sheet
//! turned. Clearly means that nearly all first cells of rows are labels of items and the cells beside the first heading are none;
//! it is then read turned, with a warning. Perhaps means that it is left out with an error, and offered.
//! Keeps: `tables_with_students_across_are_told_apart`, `a_clear_sheet_with_students_across_is_turned`, `a_doubtful_one_is_offered_and_not_read`, `classes_in_rows_are_not_turned`.
//! Not here: choices (they come first).

use super::super::cell::{Cell, column_letters};
use super::super::cell_marks::could_be_mark;
use super::super::labels::{is_item_label, number};
use super::super::words::{Role, plain, role_of};
use super::{Columns, KeptRow, Remark, header};
use sheaf_core::finding::Severity;
use std::collections::BTreeMap;

/// What was seen; with the 0-based row of the students and the column of the questions.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Across {
    No,
    Perhaps((u32, u32)),
    Clearly((u32, u32)),
}

/// Looks at the first cells of rows against the headings.
pub fn judge(rows: &[KeptRow], guess: Option<usize>) -> Across {
    let Some((at, row)) = first_wide_row(rows, guess) else { return Across::No };
    let (number_of_row, cells) = row;
    let Some((column, corner)) = cells.first().map(|(c, cell)| (*c, cell.shown().into_owned())) else {
        return Across::No;
    };
    let body: Vec<(&KeptRow, String)> = rows[at + 1..]
        .iter()
        .filter_map(|row| row.1.first().filter(|(c, _)| *c <= column).map(|(_, cell)| (row, cell.shown().into_owned())))
        .filter(|(_, text)| role_of(text).is_none())
        .collect();
    // What stands beside the next corner is of another table.
    let cells = &cells[..next_corner(cells).unwrap_or(cells.len())];
    let roles: Vec<Role> = cells.iter().skip(1).filter_map(|(_, cell)| role_of(&cell.shown())).collect();
    let heads: Vec<(u32, String)> = cells
        .iter()
        .skip(1)
        .map(|(c, cell)| (*c, cell.shown().into_owned()))
        .filter(|(_, text)| role_of(text).is_none())
        .collect();
    let runs_down = roles.iter().any(|r| r.is_of_a_student() || matches!(r, Role::Item | Role::Answer));
    let n_heads = heads.iter().filter(|(_, h)| is_item_label(h)).count();
    if body.len() < 2 || heads.is_empty() || runs_down || n_heads * 3 > heads.len() || !are_marks(&body, &heads) {
        return Across::No;
    }
    let is_items = matches!(role_of(&corner), Some(Role::Item));
    let n_labels = body.iter().filter(|(_, t)| is_item_label(t)).count();
    let n_people = heads.iter().filter(|(_, h)| is_a_person(h)).count();
    let place = (*number_of_row, column);
    if n_labels * 10 >= body.len() * 8 && n_people * 10 >= heads.len() * 7 {
        return Across::Clearly(place);
    }
    let is_count = role_of(&corner) != Some(Role::Id) && body.iter().zip(1..).all(|((_, t), n)| number(t) == Some(n));
    let may_be_questions = n_labels * 2 >= body.len() || (is_count && (is_items || n_people == heads.len()));
    let may_be_people = n_people * 2 >= heads.len() || (is_items && roles.is_empty());
    if may_be_questions && may_be_people { Across::Perhaps(place) } else { Across::No }
}

/// The place in the row of students where its first text stands again, with a student after it.
fn next_corner(cells: &[(u32, Cell<'static>)]) -> Option<usize> {
    let corner = plain(&cells.first()?.1.shown());
    let again = (2..cells.len().saturating_sub(1)).find(|i| plain(&cells[*i].1.shown()) == corner);
    again.filter(|_| !corner.is_empty())
}

/// Where other tables begin in a sheet with students across: the row below and the column beside in which the corner stands again.
pub fn next_tables(rows: &[KeptRow]) -> (Option<u32>, Option<u32>) {
    let Some((at, (first_row, cells))) = first_wide_row(rows, header::choose(rows)) else { return (None, None) };
    let Some((column, corner)) = cells.first().map(|(c, cell)| (*c, plain(&cell.shown()))) else { return (None, None) };
    let is_corner = |(n, below): &&KeptRow| {
        let first = below.first().filter(|(c, _)| *c == column);
        *n > first_row + 1 && below.len() > 1 && first.is_some_and(|(_, cell)| plain(&cell.shown()) == corner)
    };
    let below = rows[at + 1..].iter().find(is_corner).map(|(n, _)| *n).filter(|_| !corner.is_empty());
    (below, next_corner(cells).map(|i| cells[i].0))
}

/// Whether most of what stands under these headings can be marks.
fn are_marks(body: &[(&KeptRow, String)], heads: &[(u32, String)]) -> bool {
    let cells = body.iter().flat_map(|(row, _)| row.1.iter()).filter(|(c, _)| heads.iter().any(|(h, _)| h == c));
    let (mut n, mut n_marks) = (0, 0);
    for (_, cell) in cells {
        n += 1;
        n_marks += usize::from(could_be_mark(cell));
    }
    n > 0 && n_marks * 2 >= n
}

/// The row of headings, or else the first row with three cells or more.
fn first_wide_row(rows: &[KeptRow], guess: Option<usize>) -> Option<(usize, &KeptRow)> {
    let at = guess.or_else(|| rows.iter().position(|(_, cells)| cells.len() > 2))?;
    // Names may stand above or below ids: the first row of the block counts.
    let is_of_students =
        |row: &KeptRow| row.1.len() > 2 && row.1.first().is_some_and(|(_, c)| role_of(&c.shown()).is_some());
    let at = (0..at).rev().take_while(|i| is_of_students(&rows[*i])).last().unwrap_or(at);
    rows.get(at).map(|row| (at, row))
}

/// Letters that are no label, or digits of an id.
fn is_a_person(heading: &str) -> bool {
    let n_letters = heading.chars().filter(|c| c.is_alphabetic()).count();
    let n_digits = heading.chars().filter(char::is_ascii_digit).count();
    !is_item_label(heading)
        && role_of(heading).is_none()
        && ((n_letters > 1 && n_digits == 0) || (n_letters == 0 && n_digits >= 3))
}

/// What is said of it.
pub fn remark(rows: &[KeptRow], place: (u32, u32), severity: Severity) -> Remark {
    let (row, column) = place;
    let last = rows.iter().find(|(n, _)| *n == row).and_then(|(_, cells)| cells.last()).map_or(column, |(c, _)| *c);
    let (from, to) = (column_letters(column + 1), column_letters(last.max(column + 1)));
    let (code, what, action) = match severity {
        Severity::Error => (
            "students-perhaps-across",
            "may run",
            "not read, so that nothing is read wrongly; say that students run across, or turn rows into columns",
        ),
        _ => ("students-across", "run", "read with a column a student; say so if a row is a student"),
    };
    let message =
        format!("Students {what} across, in columns {from} to {to} of row {}, with a row a question.", row + 1);
    Remark::new(severity, code, place, message, action)
}

/// The corner names the questions that it stands above; once turned, students stand below it.
pub fn free_the_corner(columns: &mut Columns) {
    let corner = columns.labels.keys().next().copied();
    if let Some(corner) = corner.filter(|c| columns.roles.get(c) == Some(&Role::Item)) {
        columns.roles.remove(&corner);
    }
}

/// Rows become columns.
pub fn turned(rows: &[KeptRow]) -> Vec<KeptRow> {
    let mut columns: BTreeMap<u32, Vec<(u32, Cell<'static>)>> = BTreeMap::new();
    for (row, cells) in rows {
        for (column, cell) in cells {
            columns.entry(*column).or_default().push((*row, cell.clone()));
        }
    }
    columns.into_iter().collect()
}

#[cfg(test)]
mod tests {
    use super::super::super::tests::read_text;

    fn marks_of(text: &str) -> Vec<String> {
        let reading = read_text(&[("f.csv", text)]);
        let table = &reading.table;
        let marks = |s: usize| {
            let points = (0..table.n_items()).filter_map(|i| table.mark(s, i).points.map(|p| (i, p)));
            points.map(|(i, p)| format!(" {}={p}", table.items()[i].label)).collect::<String>()
        };
        table.students().iter().enumerate().map(|(s, student)| format!("{}{}", student.name, marks(s))).collect()
    }

    #[test]
    fn tables_with_students_across_are_told_apart() {
        for corner in ["Question", "Item", "Name"] {
            let below = format!(
                "{corner},Ann Lee,Bo Ray,Cy Day\nQ1,1,0,1\nQ2,0,1,1\n\n{corner},Di Fox,Eva Ash\nQ1,0,0\nQ2,1,1\n"
            );
            let beside = format!(
                "{corner},Ann Lee,Bo Ray,Cy Day,,{corner},Di Fox,Eva Ash\nQ1,1,0,1,,Q1,0,0\nQ2,0,1,1,,Q2,1,1\n"
            );
            let want =
                ["Ann Lee Q1=1 Q2=0", "Bo Ray Q1=0 Q2=1", "Cy Day Q1=1 Q2=1", "Di Fox Q1=0 Q2=1", "Eva Ash Q1=0 Q2=1"];
            assert_eq!(marks_of(&below), want, "{corner} below");
            assert_eq!(marks_of(&beside), want, "{corner} beside");
        }
    }
}
