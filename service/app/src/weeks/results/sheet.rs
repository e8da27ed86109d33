//! Typed results as a sheet: the table that the workbook's own sheet of ticket results holds, as a text file.
//!
//! In:  a row a child with the form code and a cell an item. Out: the file's bytes; and the way back, from what was read of such a sheet
//! to its rows, so that rows that are not typed anew stay. The form of a child who was absent is not in the records; it is the first.
//! Keeps: what was read of a sheet gives its rows again (`rows_come_back_from_what_was_read`). Not here: reading it (`sheaf-sheets`).

use super::entry::{ABSENT, cell_of_mark};
use crate::error::AppError;
use crate::weeks::merged::NewestIds;
use sheaf_core::roster::StudentId;
use sheaf_core::scores::{MarkState, ResponseTable};
use std::collections::BTreeMap;

/// One child's row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct SheetRow {
    pub(super) id: StudentId,
    pub(super) name: String,
    /// Empty where the child was absent and the records do not say of which form.
    pub(super) form_code: String,
    /// A cell an item, in order.
    pub(super) cells: Vec<String>,
}

impl SheetRow {
    /// Whether the child took nothing.
    pub(super) fn is_away(&self) -> bool {
        self.cells.iter().any(|c| c == ABSENT) && self.cells.iter().all(|c| c == ABSENT || c.is_empty())
    }
}

/// The sheet.
pub(super) fn to_csv(rows: &[SheetRow]) -> Result<Vec<u8>, AppError> {
    let n_items = rows.iter().map(|r| r.cells.len()).max().unwrap_or(0);
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    let titles = (1..=n_items).map(|number| format!("Item {number}"));
    let head = ["Id", "Name", "Form code"].map(str::to_owned).into_iter().chain(titles);
    writer.write_record(head).map_err(AppError::our_fault)?;
    for row in rows {
        let cells = (0..n_items).map(|at| row.cells.get(at).map_or("", String::as_str));
        let record = [row.id.as_str(), &row.name, &row.form_code].into_iter().chain(cells);
        writer.write_record(record).map_err(AppError::our_fault)?;
    }
    writer.into_inner().map_err(AppError::our_fault)
}

/// The rows of a sheet that was read, children in order of id; whose ids are one child's, under the newest.
pub(super) fn rows_in(table: &ResponseTable, newest: &NewestIds) -> Vec<SheetRow> {
    let mut rows = Vec::new();
    for (s, student) in table.students().iter().enumerate() {
        let id = newest.get(&student.id).unwrap_or(&student.id).clone();
        let forms = forms_of(table, s);
        let none = forms.is_empty().then(|| (String::new(), vec![ABSENT.to_owned()]));
        rows.extend(forms.into_iter().chain(none).map(|(form_code, cells)| SheetRow {
            id: id.clone(),
            name: student.name.clone(),
            form_code,
            cells,
        }));
    }
    rows.sort_by(|a, b| (&a.id, &a.form_code).cmp(&(&b.id, &b.form_code)));
    rows
}

/// The forms that a child took anything of, each with its cells.
fn forms_of(table: &ResponseTable, student_idx: usize) -> BTreeMap<String, Vec<String>> {
    let mut forms: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (check, assessment) in table.assessments().iter().enumerate() {
        let items = || table.items().iter().enumerate().filter(move |(_, item)| item.assessment == check);
        if items().all(|(i, _)| table.mark(student_idx, i).state == MarkState::NotTaken) {
            continue;
        }
        let cells = forms.entry(assessment.name.clone()).or_default();
        for (i, item) in items() {
            let Some(at) = number_of(&item.label).and_then(|n| n.checked_sub(1)) else { continue };
            if cells.len() <= at {
                cells.resize(at + 1, String::new());
            }
            let was_given = (0..table.n_students()).any(|s| table.mark(s, i).state != MarkState::NotTaken);
            if let Some(cell) = cells.get_mut(at).filter(|_| was_given) {
                *cell = cell_of_mark(item, table.mark(student_idx, i));
            }
        }
    }
    forms
}

/// The number of `Item 3` or `Item 3 (KTRWB-3B)`.
pub(super) fn number_of(label: &str) -> Option<usize> {
    let digits = label.trim_start_matches(|c: char| !c.is_ascii_digit());
    digits.split(|c: char| !c.is_ascii_digit()).next()?.parse().ok().filter(|n| (1..=99).contains(n))
}

#[cfg(test)]
mod tests {
    use super::*;
    use sheaf_core::roster::Student;
    use sheaf_core::scores::{Item, Mark};

    #[test]
    fn rows_come_back_from_what_was_read() {
        let mut table = ResponseTable::new();
        let [a, b] = ["KTRWB-3A", "KTRWB-3B"].map(|code| table.add_assessment(code));
        for (label, check) in [("Item 1", a), ("Item 2", a), ("Item 1 (KTRWB-3B)", b), ("Item 3 (KTRWB-3B)", b)] {
            table.add_item(Item::new(label, check));
        }
        for id in ["2", "1", "3"] {
            table.add_student(Student::unnamed(StudentId::parse(id).unwrap()));
        }
        let letter = |l: &str| Mark::scored(Some(l.to_owned()), Some(1.0));
        for (student, item, mark) in [(0, 0, letter("A,C")), (0, 1, Mark::OMITTED), (1, 2, letter("B"))] {
            table.set(student, item, mark).unwrap();
        }
        let rows = rows_in(&table, &NewestIds::new());
        let told: Vec<String> =
            rows.iter().map(|r| format!("{} {} {} {}", r.id, r.form_code, r.cells.join("|"), r.is_away())).collect();
        assert_eq!(told, ["1 KTRWB-3B B|| false", "2 KTRWB-3A A,C| false", "3  absent true"]);
        let text = String::from_utf8(to_csv(&rows[..2]).unwrap()).unwrap();
        assert_eq!(text, "Id,Name,Form code,Item 1,Item 2,Item 3\n1,,KTRWB-3B,B,,\n2,,KTRWB-3A,\"A,C\",,\n");
    }
}
