//! Results of exit tickets, typed child by child: who has results, what stands in the fields, and keeping what was typed.
//!
//! In:  a week with a plan, rows as typed. Out: groups with their forms and children ([`GroupResults`]); what was kept and what was not
//! understood ([`KeptResults`]). What is typed becomes a sheet like the workbook's own (`sheet`), which is read and booked for the week after as any
//! score sheet is, so that there is one way in which results are booked. It is one upload a week, written anew until a plan is made from
//! it; from then on a new one takes its place, as with any corrected sheet.
//! Keeps: 1. a row with a fault stays as it was, the other rows are kept (`a_row_with_a_fault_stays_as_it_was`)
//!        2. the same rows again change nothing (`the_same_rows_again_change_nothing`)
//!        3. a plan that was made from results stays, and falls behind (`typing_after_the_next_plan_leaves_it_behind`)
//!        4. who has results by a score sheet is not typed over (`results_of_a_score_sheet_are_not_typed_over`)
//! Not here: what an entry means for one item (`entry`), points (`sheaf-sheets`), the page.

mod entry;
mod keep;
mod sheet;
#[cfg(test)]
mod tests;

use super::{Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_core::plan::Plan;
use sheaf_core::roster::StudentId;
use sheaf_core::tickets::Ticket;
use sheaf_store::Upload;
use sheet::{SheetRow, rows_in};
use std::collections::{BTreeMap, BTreeSet};

/// Name of the upload that holds what was typed.
const TYPED_FILE: &str = "Ticket results, typed.csv";

/// Where a child's results stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ResultStanding {
    /// None yet.
    Open,
    /// Typed.
    In,
    /// Typed as absent.
    Away,
    /// They came with a score sheet; that one counts.
    InBySheet,
    /// Typed on a form that the plan no longer has.
    OnEarlierForm,
}

/// One item of a form, for whoever types.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryHint {
    /// From 1.
    pub number: usize,
    /// What may be typed, in a word or two.
    pub hint: String,
    /// After how many characters an entry is complete, where that is certain.
    pub complete_after: Option<usize>,
}

/// A form that a child may have had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FormToType {
    /// The code printed on it.
    pub form_code: String,
    /// Its items, in order.
    pub items: Vec<EntryHint>,
}

/// One child.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChildToType {
    /// Id.
    pub id: StudentId,
    /// Name, or the id where there is none.
    pub name: String,
    /// Where the results stand.
    pub standing: ResultStanding,
    /// Forms to choose from.
    pub forms: Vec<FormToType>,
    /// Code of the form that was kept, or the first.
    pub form_code: String,
    /// What stands in the fields, in order of the items.
    pub entries: Vec<String>,
}

/// One group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct GroupResults {
    /// Id.
    pub group: String,
    /// Members; none where the group has no ticket.
    pub children: Vec<ChildToType>,
}

/// One child's row as typed.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TypedRow {
    /// Id.
    pub student: String,
    /// Code of the form.
    pub form_code: String,
    /// Ticked as absent.
    pub is_away: bool,
    /// What was typed, in order of the items.
    pub entries: Vec<String>,
}

/// What was typed on one page.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct TypedResults {
    /// Tag of the plan that the person looked at.
    pub tag: String,
    /// Rows; children without one stay as they are.
    pub rows: Vec<TypedRow>,
}

/// What could not be understood.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EntryFault {
    /// Id.
    pub student: String,
    /// Number of the item; `None` for the whole row.
    pub number: Option<usize>,
    /// One sentence.
    pub says: String,
}

/// What became of typed rows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KeptResults {
    /// Rows that were kept and say something.
    pub n_kept: usize,
    /// Faults of the rows that were not.
    pub faults: Vec<EntryFault>,
}

impl KeptResults {
    /// Children whose row was not kept.
    #[must_use]
    pub fn refused(&self) -> BTreeSet<&str> {
        self.faults.iter().map(|f| f.student.as_str()).collect()
    }
}

/// What the records hold of a week's results.
struct Known {
    /// The upload with what was typed, if anything was.
    upload: Option<Upload>,
    /// Its rows.
    rows: Vec<SheetRow>,
    /// Who has results by a score sheet, by form code.
    by_sheet: BTreeMap<String, BTreeSet<StudentId>>,
    newest: super::merged::NewestIds,
}

impl Known {
    fn id_of(&self, id: &StudentId) -> StudentId {
        self.newest.get(id).unwrap_or(id).clone()
    }

    fn has_by_sheet(&self, plan: &Plan, id: &StudentId) -> bool {
        plan.tickets.iter().any(|t| self.by_sheet.get(&t.form_code).is_some_and(|ids| ids.contains(id)))
    }

    /// The child's row: on a form of the plan, else on any.
    fn row(&self, plan: &Plan, id: &StudentId) -> Option<&SheetRow> {
        let of_child = || self.rows.iter().filter(|r| r.id == *id);
        of_child().find(|r| ticket_of(plan, &r.form_code).is_some()).or_else(|| of_child().next())
    }
}

fn ticket_of<'p>(plan: &'p Plan, form_code: &str) -> Option<&'p Ticket> {
    plan.tickets.iter().find(|t| t.form_code == form_code)
}

impl Weeks {
    /// A week's groups with what was typed, and the tag of its plan.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn results_to_type(&self, week: Week) -> Result<(Vec<GroupResults>, String), AppError> {
        let plan = self.plan(week)?;
        let known = self.known_results(week)?;
        Ok((groups_to_type(&plan.plan, &known), plan.tag.clone()))
    }

    fn known_results(&self, week: Week) -> Result<Known, AppError> {
        let newest = self.newest_ids()?;
        let is_typed = |u: &Upload| u.standing.counts() && u.files.iter().all(|f| f.name == TYPED_FILE);
        let upload = self.store.uploads_of(week.next().monday())?.into_iter().find(is_typed);
        let rows = match &upload {
            Some(upload) => rows_in(&self.reading_of(upload)?.table, &newest),
            None => Vec::new(),
        };
        let by_sheet = self.taken_by_form(week, upload.as_ref().map(|u| u.id))?;
        Ok(Known { upload, rows, by_sheet, newest })
    }
}

fn groups_to_type(plan: &Plan, known: &Known) -> Vec<GroupResults> {
    let of_group = |group: &sheaf_core::plan::Group| {
        let tickets: Vec<&Ticket> = plan.tickets.iter().filter(|t| t.group == group.id).collect();
        let members = group.members.iter().filter_map(|&m| plan.students.get(m)).filter(|_| !tickets.is_empty());
        GroupResults {
            group: group.id.clone(),
            children: members.map(|s| child(plan, known, &tickets, (&s.id, s.shown_name()))).collect(),
        }
    };
    plan.groups.iter().map(of_group).collect()
}

fn child(plan: &Plan, known: &Known, tickets: &[&Ticket], (id, name): (&StudentId, &str)) -> ChildToType {
    let now = known.id_of(id);
    let row = known.row(plan, &now);
    let kept = row.and_then(|r| ticket_of(plan, &r.form_code));
    let standing = match row {
        _ if known.has_by_sheet(plan, &now) => ResultStanding::InBySheet,
        None => ResultStanding::Open,
        Some(row) if row.is_away() => ResultStanding::Away,
        Some(_) if kept.is_none() => ResultStanding::OnEarlierForm,
        Some(_) => ResultStanding::In,
    };
    // Who was seated elsewhere after the ticket keeps the form of it.
    let strange = kept.filter(|k| tickets.iter().all(|t| t.form_code != k.form_code));
    let forms: Vec<&Ticket> = tickets.iter().copied().chain(strange).collect();
    let form = kept.or(forms.first().copied());
    let cells = row.filter(|_| standing == ResultStanding::In).map_or(&[][..], |r| &r.cells);
    let entries = form.map_or(&[][..], |f| &f.items).iter().enumerate();
    ChildToType {
        id: id.clone(),
        name: name.to_owned(),
        standing,
        form_code: form.map(|f| f.form_code.clone()).unwrap_or_default(),
        entries: entries.map(|(at, i)| entry::typed_for(i, cells.get(at).map_or("", String::as_str))).collect(),
        forms: forms.into_iter().map(form_to_type).collect(),
    }
}

fn form_to_type(ticket: &Ticket) -> FormToType {
    let hint_of = |(at, item): (usize, &sheaf_core::tickets::TicketItem)| EntryHint {
        number: at + 1,
        hint: entry::hint(item),
        complete_after: entry::complete_after(item),
    };
    FormToType { form_code: ticket.form_code.clone(), items: ticket.items.iter().enumerate().map(hint_of).collect() }
}

fn plan_changed() -> AppError {
    let what = "The plan was changed meanwhile, so nothing more was saved. Open this page again and compare the form codes on the paper.";
    AppError::new(ErrorKind::Stale, "plan-changed", what)
}
