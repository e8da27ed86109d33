//! Several sheets become one table: who is the same student, what is the same check.
//!
//! The same labels with the same facts are one check over several classes; otherwise checks stay apart, and a clashing label of the
//! later one carries its name: `Q1 (week1_ticket)`. Where neither sheet has any facts, the same students with other marks make
//! another check, and so do sheets of two weeks with the same students. A check is of the week of its first sheet. A student seen twice in one check with other marks is an error finding; the first stays.

use super::notes::Notes;
use super::table::SheetTable;
use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::{Item, Mark, MarkState, ResponseTable, TableError};
use std::collections::HashSet;

/// A sheet with its names.
pub struct NamedSheet {
    pub file: String,
    pub sheet: String,
    /// What the check is called: the file's stem, with the sheet's name where a file has several.
    pub name: String,
    /// Monday of the week it was given in, where the sheet or else the file carries one date.
    pub week: Option<Date>,
    pub table: SheetTable,
    /// Which of the readings that are looked over it is.
    pub reading: usize,
    /// Whether students run across, so that rows are the sheet's columns.
    pub is_turned: bool,
    /// The form code of the ticket that it answers; results of two forms are two checks.
    pub form: Option<String>,
}

impl NamedSheet {
    /// Findings of this sheet.
    pub fn notes(&self) -> Notes<'_> {
        notes(&self.file, &self.sheet, self.is_turned)
    }
}

/// Findings of a sheet, with the addresses that it has on paper.
pub fn notes<'a>(file: &'a str, sheet: &'a str, is_turned: bool) -> Notes<'a> {
    let mut notes = Notes::new(file, sheet);
    if is_turned {
        notes.turn();
    }
    notes
}

/// One check of the merged table and where its items stand.
struct Check {
    items: Vec<usize>,
    originals: Vec<Item>,
    students: HashSet<StudentId>,
    form: Option<String>,
    week: Option<Date>,
}

/// What the sheets are together.
pub struct Merged {
    pub table: ResponseTable,
    pub findings: Vec<Finding>,
    /// For each sheet, which reading it is and where its items stand in the table.
    pub places: Vec<(usize, Vec<usize>)>,
}

/// Merges sheets, in order.
pub fn merge(sheets: Vec<NamedSheet>) -> Merged {
    let mut table = ResponseTable::new();
    let mut checks: Vec<Check> = Vec::new();
    let mut findings = Vec::new();
    let mut places = Vec::new();
    for sheet in sheets {
        let mut notes = sheet.notes();
        if !sheet.table.has_ids {
            notes.warn("no-id-column", "", "The sheet has no id column.", "the name serves as id");
        }
        let at = match checks.iter().position(|c| c.form == sheet.form && is_same_check(c, &sheet, &table)) {
            Some(at) => at,
            None => {
                checks.push(add_check(&mut table, &sheet, &mut notes));
                checks.len() - 1
            }
        };
        add_students(&mut table, &mut checks[at], &sheet.table, &mut notes);
        places.push((sheet.reading, checks[at].items.clone()));
        findings.extend(notes.into_findings());
    }
    Merged { table, findings, places }
}

fn is_same_check(check: &Check, named: &NamedSheet, table: &ResponseTable) -> bool {
    let sheet = &named.table;
    let same_facts = check.originals.len() == sheet.items.len()
        && check.originals.iter().zip(&sheet.items).all(|(a, b)| {
            a.label == b.label && a.key == b.key && a.skills == b.skills && (a.points - b.points).abs() < 1e-9
        });
    if !same_facts {
        return false;
    }
    let is_known =
        |s: &&super::people::RowStudent| StudentId::parse(&s.id).is_some_and(|id| check.students.contains(&id));
    let n_known = sheet.students.iter().filter(is_known).count();
    if named.week.zip(check.week).is_some_and(|(new, old)| new != old) && n_known * 2 > sheet.students.len() {
        return false;
    }
    if sheet.items.iter().any(|i| i.key.is_some() || !i.skills.is_empty()) {
        return true;
    }
    let (mut n_both, mut n_differ) = (0, 0);
    for (s, student) in sheet.students.iter().enumerate() {
        let Some(id) = StudentId::parse(&student.id).filter(|id| check.students.contains(id)) else { continue };
        let Some(idx) = table.student_index(&id) else { continue };
        n_both += 1;
        n_differ += usize::from((0..sheet.items.len()).any(|i| sheet.mark(s, i) != table.mark(idx, check.items[i])));
    }
    n_both * 2 < sheet.students.len().min(check.students.len()) || n_differ * 2 < n_both
}

fn add_check(table: &mut ResponseTable, sheet: &NamedSheet, notes: &mut Notes<'_>) -> Check {
    let assessment = table.add_dated_assessment(&sheet.name, sheet.week);
    let mut taken: HashSet<String> = table.items().iter().map(|i| i.label.clone()).collect();
    let mut n_renamed = 0;
    let mut items = Vec::new();
    for original in &sheet.table.items {
        let mut item = Item { assessment, ..original.clone() };
        if taken.contains(&item.label) {
            n_renamed += 1;
            let mut label = format!("{} ({})", original.label, sheet.name);
            let mut n = 2;
            while taken.contains(&label) {
                label = format!("{} ({} {n})", original.label, sheet.name);
                n += 1;
            }
            item.label = label;
        }
        taken.insert(item.label.clone());
        items.push(table.add_item(item));
    }
    if n_renamed > 0 {
        let message = format!("{n_renamed} labels are also those of another check.");
        notes.note("labels-shared", "", message, &format!("those of this one carry its name, ({})", sheet.name));
    }
    let (form, week) = (sheet.form.clone(), sheet.week);
    Check { items, originals: sheet.table.items.clone(), students: HashSet::new(), form, week }
}

fn add_students(table: &mut ResponseTable, check: &mut Check, sheet: &SheetTable, notes: &mut Notes<'_>) {
    let mut places = Places::new(sheet);
    for (s, row) in sheet.students.iter().enumerate() {
        let Some(id) = StudentId::parse(&row.id) else { continue };
        let idx = table.add_student(Student {
            id: id.clone(),
            name: row.name.clone(),
            grade: row.grade.clone(),
            homeroom: row.homeroom.clone(),
            supports: split_supports(&row.supports),
        });
        fill_in(table, idx, row);
        let is_again = !check.students.insert(id.clone());
        if is_again {
            tell_twice(table, check, sheet, s, idx, &id, notes);
            continue;
        }
        for (i, &item) in check.items.iter().enumerate() {
            // Marks were judged against the same item's points: none is out of range.
            let _ = places.of(table, item, s, i).and_then(|place| table.set_place(idx, item, place));
        }
    }
}

/// Where the distinct marks of a sheet stand in the table, so that each is looked up once and not once a student.
struct Places<'s> {
    sheet: &'s SheetTable,
    /// For each item by the code of its cells.
    known: Vec<Vec<Option<u32>>>,
}

impl<'s> Places<'s> {
    fn new(sheet: &'s SheetTable) -> Self {
        Places { sheet, known: sheet.marks.iter().map(|marks| vec![None; marks.len()]).collect() }
    }

    fn of(&mut self, table: &mut ResponseTable, item: usize, s: usize, i: usize) -> Result<u32, TableError> {
        let code = self.sheet.codes[s * self.sheet.items.len() + i] as usize;
        // A blank says something else in another row.
        if code == 0 {
            return table.mark_place(item, self.sheet.mark(s, i).clone());
        }
        if let Some(place) = self.known[i][code - 1] {
            return Ok(place);
        }
        let place = table.mark_place(item, self.sheet.marks[i][code - 1].clone())?;
        self.known[i][code - 1] = Some(place);
        Ok(place)
    }
}

fn fill_in(table: &mut ResponseTable, idx: usize, row: &super::people::RowStudent) {
    if let Some(student) = table.student_mut(idx) {
        for (own, new) in
            [(&mut student.name, &row.name), (&mut student.grade, &row.grade), (&mut student.homeroom, &row.homeroom)]
        {
            if own.is_empty() {
                own.clone_from(new);
            }
        }
    }
}

fn tell_twice(
    table: &ResponseTable,
    check: &Check,
    sheet: &SheetTable,
    s: usize,
    idx: usize,
    id: &StudentId,
    notes: &mut Notes<'_>,
) {
    let row = sheet.students[s].row;
    let differs = |i: &usize| {
        let (new, old): (&Mark, &Mark) = (sheet.mark(s, *i), table.mark(idx, check.items[*i]));
        new != old && new.state != MarkState::NotTaken
    };
    match (0..sheet.items.len()).find(differs) {
        Some(i) => notes.error(
            "student-twice",
            notes.place(row, sheet.item_columns[i]),
            format!("Student {id} is here again with other marks."),
            "the first row was kept",
        ),
        None => notes.note(
            "student-twice-alike",
            notes.place(row, sheet.who_column),
            format!("Student {id} is here again with the same marks."),
            "read once",
        ),
    }
}

pub fn split_supports(text: &str) -> Vec<String> {
    text.split(';').map(|s| s.trim().to_owned()).filter(|s| !s.is_empty()).collect()
}
