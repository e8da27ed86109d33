//! Keeping typed results: each row judged, the sheet written and read as any other, the upload put in place of the last one.
//!
//! In:  rows as typed, on the plan of a tag. Out: [`KeptResults`]. Rows that were not typed anew stay, of earlier plans of the week too.
//! Keeps: what the reader would not understand is a fault of its row and never a silent gap (`what_the_reader_leaves_out_is_told`).
//! Not here: what stands in the fields (the module above).

use super::super::plan_week::names_plan;
use super::entry::{ABSENT, cell_of};
use super::sheet::{SheetRow, number_of, to_csv};
use super::{EntryFault, KeptResults, Known, TYPED_FILE, TypedResults, TypedRow, plan_changed, ticket_of};
use crate::error::{AppError, ErrorKind};
use crate::weeks::corrections::Corrections;
use crate::weeks::kept_reading::to_json;
use crate::weeks::look_over::not_waiting;
use crate::weeks::take_in::{GivenFile, digest_of, stored};
use crate::weeks::{Week, Weeks};
use sheaf_core::plan::{Plan, StudentReport};
use sheaf_core::roster::StudentId;
use sheaf_core::scores::{MarkState, ResponseTable};
use sheaf_sheets::read::{NothingRead, Reading};
use sheaf_store::{About, Change, FileKind, NewUpload, Said, Start, StoredFile, Upload};
use std::sync::PoisonError;

impl Weeks {
    /// Keeps typed rows in place of what was typed of these children before. A row with a fault stays as it was.
    ///
    /// # Errors
    /// [`AppError`] of kind stale where the week has another plan by now, input where a child has no seat in it or nothing would be left
    /// of results that a plan was made from, or of the records; nothing is kept then.
    pub fn type_results(&self, week: Week, typed: &TypedResults) -> Result<KeptResults, AppError> {
        let _one_at_a_time = self.typing.lock().unwrap_or_else(PoisonError::into_inner);
        let plan = self.plan(week)?;
        if !names_plan(&typed.tag, &plan.tag) {
            return Err(plan_changed());
        }
        let (plan, known) = (&plan.plan, self.known_results(week)?);
        let (mut kept, mut new) = (KeptResults::default(), Vec::new());
        for row in &typed.rows {
            match judge(plan, &known, row)? {
                Ok(cells) => new.push((known.id_of(&cells.id), cells)),
                Err(faults) => kept.faults.extend(faults),
            }
        }
        let mut sheet = self.read_typed(plan, &known, &new)?;
        let unread = sheet.as_ref().map_or_else(Vec::new, |s| unread(&s.reading.table, &new));
        if !unread.is_empty() {
            new.retain(|(_, row)| unread.iter().all(|f| f.student != row.id.as_str()));
            kept.faults.extend(unread);
            sheet = self.read_typed(plan, &known, &new)?;
        }
        kept.n_kept = new.iter().filter(|(_, row)| is_full(row)).count();
        match (&sheet, &known.upload) {
            (Some(sheet), before) if before.is_none() || sheet.rows != known.rows => {
                self.put_typed(week.next(), before.as_ref(), sheet)?;
            }
            (None, Some(before)) => self.drop_typed(week.next(), before)?,
            _ => {}
        }
        tracing::info!(job = "type_results", n_rows = kept.n_kept, n_faults = kept.faults.len());
        Ok(kept)
    }

    /// What was typed before with the new rows in place of the old ones, read; `None` where no row is left.
    fn read_typed(
        &self,
        plan: &Plan,
        known: &Known,
        new: &[(StudentId, SheetRow)],
    ) -> Result<Option<TypedSheet>, AppError> {
        let is_typed_anew = |r: &SheetRow| {
            let is_of_plan = r.form_code.is_empty() || ticket_of(plan, &r.form_code).is_some();
            is_of_plan && new.iter().any(|(id, _)| *id == r.id)
        };
        let mut rows: Vec<SheetRow> = known.rows.iter().filter(|r| !is_typed_anew(r)).cloned().collect();
        rows.extend(new.iter().filter(|(_, r)| is_full(r)).map(|(id, r)| SheetRow { id: id.clone(), ..r.clone() }));
        if rows.is_empty() {
            return Ok(None);
        }
        // In the order of the workbook's own sheet: the form that comes first gives its items their bare labels.
        let place = |r: &SheetRow| seats(plan).position(|s| known.id_of(&s.id) == r.id).unwrap_or(usize::MAX);
        rows.sort_by_cached_key(|r| (place(r), r.id.clone(), r.form_code.clone()));
        let written: Vec<SheetRow> = rows.iter().map(|r| as_written(plan, known, r)).collect();
        let bytes = to_csv(&written)?;
        let files = vec![stored(FileKind::Scores, GivenFile { name: TYPED_FILE.to_owned(), bytes })];
        let reading = self.read(&files, &Corrections::default(), NothingRead::IsAnError)?;
        let rows = super::rows_in(&reading.table, &known.newest);
        Ok(Some(TypedSheet { files, reading, rows }))
    }

    fn put_typed(&self, week: Week, before: Option<&Upload>, sheet: &TypedSheet) -> Result<(), AppError> {
        let (digest, json) = (self.free_digest(week, before, &sheet.files)?, to_json(&sheet.reading)?);
        let store = self.store.telling(Change::ResultsTyped, About::week(week.monday()));
        let new =
            |start| NewUpload { week: week.monday(), digest: &digest, files: &sheet.files, start, reading: &json };
        match before {
            None => {
                store.add_upload(new(Start::Counted))?;
            }
            Some(before) if store.rewrite_upload(before.id, new(Start::Counted))? => {}
            // A plan was made from it; it stays for as long as that plan may come back.
            Some(before) => {
                let id = store.silent().add_upload(new(Start::Waiting))?.id();
                if !store.count_upload(id, Some(before.id), &Said::default())? {
                    return Err(not_waiting());
                }
            }
        }
        self.forget_from(week);
        Ok(())
    }

    /// Nothing is left of what was typed.
    fn drop_typed(&self, week: Week, before: &Upload) -> Result<(), AppError> {
        let replaces =
            |id| self.store.upload_list(week.monday()).map(|l| l.iter().any(|u| u.standing.is_replaced_by(id)));
        if self.store.is_planned_from(before.id)? || replaces(before.id)? {
            let what = "The next plan was made from these results, so some must stay; to be rid of all of them, take them back on the page of score sheets.";
            return Err(AppError::new(ErrorKind::Input, "answer-missing", what));
        }
        let store = self.store.telling(Change::ResultsTyped, About::week(week.monday()));
        Weeks { store, ..self.clone() }.take_back(before.id)?;
        Ok(())
    }

    /// A digest that no other upload of the week has: results that go back to what they were are no file handed in twice.
    fn free_digest(&self, week: Week, before: Option<&Upload>, files: &[StoredFile]) -> Result<String, AppError> {
        let mut digest = digest_of(files);
        while self.store.upload_of_digest(week.monday(), &digest)?.is_some_and(|id| before.is_none_or(|b| b.id != id)) {
            let again = StoredFile { kind: FileKind::Scores, name: String::new(), sha256: digest, bytes: None };
            digest = digest_of(&[again]);
        }
        Ok(digest)
    }
}

/// Typed results as a sheet, and what was read of it.
struct TypedSheet {
    files: Vec<StoredFile>,
    reading: Reading,
    rows: Vec<SheetRow>,
}

/// The row for the sheet, or why not.
fn judge(plan: &Plan, known: &Known, row: &TypedRow) -> Result<Result<SheetRow, Vec<EntryFault>>, AppError> {
    let fault = |number, says: String| EntryFault { student: row.student.clone(), number, says };
    let of_row = |says: &str| Ok(Err(vec![fault(None, says.to_owned())]));
    let Some(student) = seated(plan, &row.student) else {
        let what = "One of these children has no seat in the plan of this week; nothing was saved.";
        return Err(AppError::new(ErrorKind::Input, "no-such-student", what));
    };
    let Some(ticket) = ticket_of(plan, &row.form_code) else { return of_row("This form is not one of the plan’s.") };
    if known.has_by_sheet(plan, &known.id_of(&student.id)) {
        return of_row("Results of this child came with a score sheet; take that back to type them here.");
    }
    let (mut cells, mut faults) = (Vec::new(), Vec::new());
    for (at, typed) in row.entries.iter().enumerate() {
        match ticket.items.get(at) {
            Some(item) => match cell_of(item, typed) {
                Ok(cell) => cells.push(cell),
                Err(says) => faults.push(fault(Some(at + 1), says)),
            },
            None if typed.trim().is_empty() => {}
            None => faults.push(fault(Some(at + 1), format!("This form has no item {}.", at + 1))),
        }
    }
    if !faults.is_empty() {
        return Ok(Err(faults));
    }
    let has_answers = cells.iter().any(|c| !c.is_empty() && c != ABSENT);
    if row.is_away && has_answers {
        return of_row("Absent, and yet there are answers: take away the one or the other.");
    }
    if row.is_away {
        cells = vec![ABSENT.to_owned()];
    }
    let (id, name, form_code) = (student.id.clone(), student.name.clone(), row.form_code.clone());
    Ok(Ok(SheetRow { id, name, form_code, cells }))
}

fn seated<'p>(plan: &'p Plan, id: &str) -> Option<&'p StudentReport> {
    seats(plan).find(|s| s.id.as_str() == id)
}

/// Who has a seat, group by group.
fn seats(plan: &Plan) -> impl Iterator<Item = &StudentReport> {
    plan.groups.iter().flat_map(|g| &g.members).filter_map(|&m| plan.students.get(m))
}

/// Whether anything is said of the child.
fn is_full(row: &SheetRow) -> bool {
    row.cells.iter().any(|c| !c.is_empty())
}

/// The row with the name that the plan has, and who was absent absent from every item of a form.
fn as_written(plan: &Plan, known: &Known, row: &SheetRow) -> SheetRow {
    let student = plan.students.iter().find(|s| known.id_of(&s.id) == row.id);
    let name = student.map_or_else(|| row.name.clone(), |s| s.name.clone());
    let own = ticket_of(plan, &row.form_code);
    if !row.is_away() || (own.is_none() && !row.form_code.is_empty()) {
        return SheetRow { name, ..row.clone() };
    }
    let group = plan
        .groups
        .iter()
        .find(|g| g.members.iter().filter_map(|&m| plan.students.get(m)).any(|s| known.id_of(&s.id) == row.id));
    let of_group = group.and_then(|g| plan.tickets.iter().find(|t| t.group == g.id));
    let form = own.or(of_group).or(plan.tickets.first());
    SheetRow {
        name,
        form_code: form.map(|f| f.form_code.clone()).unwrap_or_default(),
        cells: vec![ABSENT.to_owned(); form.map_or(1, |f| f.items.len())],
        id: row.id.clone(),
    }
}

/// Entries of these rows that did not become a mark.
fn unread(table: &ResponseTable, new: &[(StudentId, SheetRow)]) -> Vec<EntryFault> {
    let mut faults = Vec::new();
    for (id, row) in new {
        let at = table.student_index(id);
        for (number, cell) in row.cells.iter().enumerate().map(|(at, cell)| (at + 1, cell)) {
            let is_it = |(_, item): &(usize, &sheaf_core::scores::Item)| {
                number_of(&item.label) == Some(number)
                    && table.assessments().get(item.assessment).is_some_and(|a| a.name == row.form_code)
            };
            let item = table.items().iter().enumerate().find(is_it).map(|(i, _)| i);
            let is_scored = at.zip(item).is_some_and(|(s, i)| table.mark(s, i).state == MarkState::Scored);
            if !cell.is_empty() && cell != ABSENT && !is_scored {
                let says = format!("Item {number}: this could not be read as an answer.");
                faults.push(EntryFault { student: row.id.to_string(), number: Some(number), says });
            }
        }
    }
    faults
}
