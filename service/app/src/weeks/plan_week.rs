//! Making a week's plan and keeping it; reading it; its workbook.
//!
//! The plan is computed outside any transaction; it is kept only if the week's uploads are still those it was made from.
//! Keeps: a plan made again from its recipe is the plan that was kept (`a_kept_plan_is_made_again_the_same`); where the program,
//! the list of students, or what counts of earlier weeks or their groups changed since and it gives another one, the reader is told
//! ([`Remade::Differs`]).

use super::holds::{Holds, holds_from_json, holds_of, holds_to_json, previous_groups, with_holds};
use super::overrule::Decisions;
use super::repair::{applied, still_known};
use super::{SchoolSetup, Week, WeekOverview, Weeks};
use crate::error::{AppError, ErrorKind};
use crate::progress::Step;
use crate::shared::{Naming, SharedFile, shared_files};
use crate::student_list::merge_students;
use crate::workbook::{Form, StaffWorkbook};
use sheaf_core::grouping::{Overrule, PreviousGroups};
use sheaf_core::movement::TimeReceived;
use sheaf_core::plan::published::write_plan_json;
use sheaf_core::plan::{Plan, PlanInput, make_plan_watched};
use sheaf_core::profile::weeks_that_count;
use sheaf_core::roster::{School, StudentId};
use sheaf_core::scores::{ResponseTable, Strangers};
use sheaf_sheets::read::SourceFile;
use sheaf_store::{FileKind, KeptPlan, NewPlan, StoredFile, Upload};
use std::io::Cursor;
use std::sync::Arc;
use std::time::Instant;

/// The most weeks looked back over.
const MOST_WEEKS_BACK: usize = 26;

/// Seed of a week's first plan, where nobody asks for another.
const FIRST_SEED: u64 = 1;

/// Whether the plan made again is the one that was handed out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Remade {
    /// It is.
    Same,
    /// It is not: the program, the list of students or what counts of earlier weeks changed since. Plan again to hand out the new one.
    Differs,
}

/// A week's plan.
#[derive(Debug, Clone)]
pub struct WeekPlan {
    /// The week.
    pub week: Week,
    /// The plan.
    pub plan: Plan,
    /// A tag that changes with each plan of the week, with its quotes, as `ETag` wants it.
    pub tag: String,
    /// Its published JSON, as handed out.
    pub published: String,
    /// Whether `plan` is what was handed out.
    pub remade: Remade,
}

/// What a plan is made with besides answers and rules: who was there, and what a person decided.
type Besides<'a> = (&'a [(StudentId, TimeReceived)], &'a [Overrule]);

/// The staff workbook of a week.
#[derive(Debug)]
pub struct WeekWorkbook {
    /// With macros or without.
    pub form: Form,
    /// The file.
    pub bytes: Vec<u8>,
}

impl Weeks {
    /// Makes the week's plan from all its uploads and keeps it in place of the last one. Without a seed: the last
    /// plan's, else the first.
    ///
    /// # Errors
    /// [`AppError`] of kind not found (no uploads), no plan (no group can be formed), conflict (uploads changed
    /// meanwhile), or of the records; the last plan stays then.
    pub fn plan_week(&self, week: Week, seed: Option<u64>) -> Result<Arc<WeekPlan>, AppError> {
        let started = Instant::now();
        let begun = self.round()?;
        let setup = self.setup();
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| u.standing.counts());
        if uploads.is_empty() {
            return Err(no_sheets());
        }
        let kept = self.store.plan(week.monday())?;
        let seed = seed.or(kept.as_ref().map(|k| k.seed)).unwrap_or(FIRST_SEED);
        let sources: Vec<i64> = uploads.iter().map(|u| u.id).collect();
        let attended = self.time_received(week)?;
        let decisions = match &kept {
            Some(kept) => Decisions::from_json(&kept.overrules)?,
            None => self.held_from_before(week)?,
        };
        let besides = (attended.as_slice(), decisions.overrules());
        let (plan, holds) = self.compute_beside(
            &setup.school,
            kept.as_ref(),
            week,
            (&sources, &uploads),
            seed,
            (besides.0, &besides.1),
        )?;
        // Who was out is out of the new plan too, unless it no longer knows them.
        let repairs = still_known(&plan, kept.as_ref().map_or("[]", |k| &k.repairs))?;
        let plan = applied(plan, &repairs)?;
        let (published, holds) = (published_json(&plan)?, holds_to_json(&holds)?);
        let overrules = decisions.to_json()?;
        let new = NewPlan {
            week: week.monday(),
            seed,
            setup: &setup.toml,
            holds: &holds,
            repairs: &repairs,
            overrules: &overrules,
            published: &published,
            attended: &attended,
            sources: &sources,
        };
        self.reach(Step::Keeping)?;
        let revision = self.store.keep_plan(new)?;
        tracing::info!(
            job = "plan_week",
            n_students = plan.students.len(),
            n_groups = plan.groups.len(),
            duration_ms = started.elapsed().as_millis() as u64,
        );
        Ok(self
            .remember_new(begun, WeekPlan { week, plan, tag: tag_of(week, revision), published, remade: Remade::Same }))
    }

    /// The week's plan, made again from what was kept unless it is remembered.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn plan(&self, week: Week) -> Result<Arc<WeekPlan>, AppError> {
        let begun = self.round()?;
        let kept = self.kept(week)?;
        let tag = tag_of(week, kept.revision);
        if let Some(plan) = self.recall(&tag) {
            return Ok(plan);
        }
        let plan = applied(self.unrepaired(week, &kept)?, &kept.repairs)?;
        let remade = if published_json(&plan)? == kept.published { Remade::Same } else { Remade::Differs };
        Ok(self.remember(begun, WeekPlan { week, plan, tag, published: kept.published, remade }))
    }

    /// The plan made again from what was kept, without its repairs.
    pub(super) fn unrepaired(&self, week: Week, kept: &KeptPlan) -> Result<Plan, AppError> {
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| kept.sources.contains(&u.id));
        let setup = SchoolSetup::parse("the setup kept with the plan", &kept.setup)?;
        let school = with_holds(&setup.school, &holds_from_json(&kept.holds)?);
        let overrules = Decisions::from_json(&kept.overrules)?.overrules();
        self.compute(week, &uploads, &school, kept.seed, (&kept.attended, &overrules))
    }

    /// The week's published plan and its tag, as handed out; nothing is computed.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn published_plan(&self, week: Week) -> Result<(String, String), AppError> {
        let kept = self.kept(week)?;
        Ok((kept.published, tag_of(week, kept.revision)))
    }

    /// The staff workbook of the week's plan.
    ///
    /// # Errors
    /// As [`Weeks::plan`]; our fault where the workbook cannot be written.
    pub fn workbook(&self, week: Week) -> Result<WeekWorkbook, AppError> {
        let week_plan = self.plan(week)?;
        let own = self.own_workbook(week)?;
        // After the time for which originals are kept there is nothing to add sheets to.
        let source = own.as_ref().and_then(|f| Some(SourceFile { name: &f.name, bytes: f.bytes.as_deref()? }));
        let back = self.look_back(week)?;
        let (workbook, plan) = StaffWorkbook::decide(&self.knowledge, &week_plan.plan, back.as_ref(), source)?;
        let (form, mut sink) = (workbook.form(), Cursor::new(Vec::new()));
        workbook.write(&self.knowledge, &plan, &mut sink)?;
        Ok(WeekWorkbook { form, bytes: sink.into_inner() })
    }

    /// One of the week's groups, needs and their dictionary as a text file; `None` where no file has that name.
    ///
    /// # Errors
    /// As [`Weeks::plan`]; our fault where the file cannot be written.
    pub fn shared_file(&self, week: Week, naming: Naming, name: &str) -> Result<Option<SharedFile>, AppError> {
        let week_plan = self.plan(week)?;
        let smallest = self.setup().school.records.smallest_count;
        let files = shared_files(&self.knowledge, &week_plan.plan, naming, smallest)?;
        Ok(files.into_iter().find(|file| file.name == name))
    }

    /// The one file that the week's scores came from, if it was one.
    fn own_workbook(&self, week: Week) -> Result<Option<StoredFile>, AppError> {
        let kept = self.kept(week)?;
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| kept.sources.contains(&u.id));
        let mut files: Vec<StoredFile> = uploads.into_iter().flat_map(|u| u.files).collect();
        files.retain(|f| f.kind == FileKind::Scores);
        files.dedup_by(|a, b| a.sha256 == b.sha256);
        Ok(if files.len() == 1 { files.pop() } else { None })
    }

    pub(super) fn kept(&self, week: Week) -> Result<KeptPlan, AppError> {
        self.store.plan(week.monday())?.ok_or_else(no_plan)
    }

    /// With the groups of the plan before kept together where sheets were only added; without, where the limits forbid it.
    fn compute_beside(
        &self,
        school: &School,
        before: Option<&KeptPlan>,
        week: Week,
        (sources, uploads): (&[i64], &[Upload]),
        seed: u64,
        besides: Besides<'_>,
    ) -> Result<(Plan, Holds), AppError> {
        let holds = holds_of(before, sources)?;
        if !holds.is_empty() {
            match self.compute(week, uploads, &with_holds(school, &holds), seed, besides) {
                Err(e) if e.kind == ErrorKind::NoPlan => {}
                made => return Ok((made?, holds)),
            }
        }
        Ok((self.compute(week, uploads, school, seed, besides)?, Holds::new()))
    }

    pub(super) fn compute(
        &self,
        week: Week,
        uploads: &[Upload],
        school: &School,
        seed: u64,
        (attended, overrules): Besides<'_>,
    ) -> Result<Plan, AppError> {
        self.reach(Step::Reading)?;
        let mut reading = self.read_together(uploads)?;
        let earlier = self.earlier(week, school)?;
        let previous = self.previous(week)?;
        stamp(&mut reading.table, week);
        merge_students(&mut reading, self.store.students()?);
        let input = PlanInput {
            table: reading.table,
            earlier,
            previous,
            overrules,
            inputs: reading.inputs,
            findings: reading.findings,
            school,
            graph: &self.knowledge.graph,
            catalogue: &self.knowledge.catalogue,
            attended,
            item_models: &self.knowledge.item_models,
            met: &self.met_items(week)?,
            week: Some(week.monday()),
            seed,
        };
        Ok(make_plan_watched(input, &|step| self.reach(step.into()).is_ok())?)
    }

    /// What was handed in for the weeks before, as long as it counts as evidence.
    fn earlier(&self, week: Week, school: &School) -> Result<Option<ResponseTable>, AppError> {
        let n_weeks = weeks_that_count(school.mastery.half_life_weeks).min(MOST_WEEKS_BACK);
        let before: Vec<Week> =
            self.weeks()?.iter().map(|o| o.week).filter(|w| (1..=n_weeks).contains(&w.until(week))).collect();
        let mut earlier: Option<ResponseTable> = None;
        // The latest comes first in the list; the oldest is to come first here, so that a label keeps its number.
        for past in before.into_iter().rev() {
            let mut uploads = self.store.uploads_of(past.monday())?;
            uploads.retain(|u| u.standing.counts());
            let mut table = self.read_together(&uploads)?.table;
            stamp(&mut table, past);
            match &mut earlier {
                Some(all) => all.join(&table, Strangers::ComeIn).map_err(AppError::our_fault)?,
                None => earlier = Some(table),
            }
        }
        Ok(earlier)
    }

    /// The groups of the last plan before this week's, of the weeks that are looked back over.
    fn previous(&self, week: Week) -> Result<Option<PreviousGroups>, AppError> {
        let is_near = |o: &&WeekOverview| (1..=MOST_WEEKS_BACK).contains(&o.week.until(week));
        for before in self.weeks()?.iter().filter(is_near).map(|o| o.week) {
            if let Some(kept) = self.store.plan(before.monday())? {
                return Ok(Some(previous_groups(before, &kept, &self.newest_ids()?)?));
            }
        }
        Ok(None)
    }
}

/// Every check of the table was given in this week, but for those that carry an earlier one of their own.
fn stamp(table: &mut ResponseTable, week: Week) {
    let weeks: Vec<_> = table.assessments().iter().map(|a| a.week).collect();
    for (at, own) in weeks.into_iter().enumerate() {
        table.set_week(at, own.map_or(week.monday(), |own| own.min(week.monday())));
    }
}

pub(super) fn tag_of(week: Week, revision: i64) -> String {
    format!("\"{week}.{revision}\"")
}

/// Whether a tag names the plan of this week and revision.
pub(super) fn is_tag_of(tag: &str, week: Week, revision: i64) -> bool {
    names_plan(tag, &tag_of(week, revision))
}

/// Whether a tag names the plan that bears `own`: alike, or with what a caller put after it to tell texts of one revision apart.
pub(super) fn names_plan(tag: &str, own: &str) -> bool {
    let more = own.strip_suffix('"').and_then(|open| tag.strip_prefix(open));
    tag == own || more.is_some_and(|more| more.starts_with('-'))
}

pub(super) fn published_json(plan: &Plan) -> Result<String, AppError> {
    let mut json = Vec::new();
    write_plan_json(plan, &mut json).map_err(AppError::our_fault)?;
    String::from_utf8(json).map_err(AppError::our_fault)
}

fn no_sheets() -> AppError {
    AppError::new(ErrorKind::NotFound, "no-score-sheets", "This week has no score sheets yet; upload them first.")
}

fn no_plan() -> AppError {
    AppError::new(
        ErrorKind::NotFound,
        "no-plan",
        "This week has no plan yet; upload its score sheets, look them over, then plan.",
    )
}
