//! A person's word against the suggestion: another seat for a child, another target for a group; tried out, kept, undone.
//!
//! In:  a week, the tag of the plan that the person looked at, a decision with its reason. Out: what it changes, or the plan with it.
//! Decisions are part of the plan's recipe: a plan made again has them, and planning anew keeps them. One that is to hold goes on into
//! the weeks that follow. Keeps: what was decided on another plan than the one looked at is a conflict, and nothing is kept
//! (`a_decision_on_an_old_plan_changes_nothing`); undone and done again is as it was (`undone_and_done_again_is_as_it_was`).
//! Not here: what a decision does to seats (`sheaf-core`), who may decide (`sheaf-web`).

use super::holds::{holds_from_json, with_holds};
use super::plan_week::{is_tag_of, published_json, tag_of};
use super::repair::applied;
use super::{Remade, SchoolSetup, Week, WeekPlan, Weeks};
use crate::error::{AppError, ErrorKind};
use serde::{Deserialize, Serialize};
use sheaf_core::finding::Finding;
use sheaf_core::grouping::{Decided, Overrule};
use sheaf_core::plan::{IDLE_SWAP, Plan, group_number};
use sheaf_core::roster::StudentId;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::Swap;
use sheaf_store::{About, Change, KeptPlan};
use std::time::Instant;

/// Longest reason, characters.
const LONGEST_REASON: usize = 500;

/// A decision as it is sent and kept.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(untagged, deny_unknown_fields)]
pub enum Decision {
    /// A child sits in another group.
    Seat {
        /// The child's id.
        student: String,
        /// Id of the group, e.g. `g2`.
        to: String,
        /// Why.
        #[serde(default)]
        reason: String,
        /// Whether it holds for the weeks to come.
        #[serde(default)]
        hold: bool,
    },
    /// A group is taught another skill.
    Target {
        /// Id of the group.
        group: String,
        /// Code of a skill measured this week.
        target_skill: String,
        /// Why.
        #[serde(default)]
        reason: String,
    },
    /// Another item takes the place of one on a ticket.
    Item {
        /// Id of the group.
        group: String,
        /// Form of its ticket, e.g. `A`.
        form: String,
        /// 1-based place on it.
        item: usize,
        /// `another`, `easier`, `harder` or `other-kind`.
        swap: String,
        /// Why; may be left out.
        #[serde(default)]
        reason: String,
    },
}

/// Everything decided on a week's plan.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Decisions {
    /// In order; all of them count.
    pub done: Vec<Decision>,
    /// Undone, the last first to be done again.
    pub undone: Vec<Decision>,
}

/// Figures of a plan that a decision may change.
#[derive(Debug, Clone, PartialEq)]
pub struct Figures {
    /// Seated children whose group teaches a skill that they lack.
    pub n_met: usize,
    /// Seated children.
    pub n_seated: usize,
    /// Name and members of each group.
    pub sizes: Vec<(String, usize)>,
}

/// What a decision would change.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// As it is.
    pub before: Figures,
    /// As it would be.
    pub after: Figures,
    /// What would be said then and is not now.
    pub warnings: Vec<Finding>,
    /// Sessions of the rotation that would change.
    pub n_sessions_changed: usize,
    /// Whether every meeting keeps its time, adult and room.
    pub are_times_kept: bool,
}

impl Decision {
    /// Why.
    #[must_use]
    pub fn reason(&self) -> &str {
        match self {
            Decision::Seat { reason, .. } | Decision::Target { reason, .. } | Decision::Item { reason, .. } => reason,
        }
    }

    fn trimmed(mut self) -> Self {
        let (Decision::Seat { reason, .. } | Decision::Target { reason, .. } | Decision::Item { reason, .. }) =
            &mut self;
        *reason = reason.trim().chars().take(LONGEST_REASON).collect();
        self
    }

    /// In the words of the core; `None` where an id is none.
    fn in_core_words(&self) -> Option<Overrule> {
        let what = match self {
            Decision::Seat { student, to, .. } => {
                Decided::Seat { student: StudentId::parse(student)?, to: group_number(to)? }
            }
            Decision::Target { group, target_skill, .. } => {
                Decided::Target { group: group_number(group)?, skill: SkillCode::parse(target_skill)? }
            }
            Decision::Item { group, form, item, swap, .. } => Decided::Item {
                group: group_number(group)?,
                form: form.clone(),
                number: *item,
                swap: Swap::parse(swap)?,
            },
        };
        Some(Overrule { what, reason: self.reason().to_owned() })
    }
}

impl Decisions {
    pub(super) fn from_json(json: &str) -> Result<Self, AppError> {
        serde_json::from_str(json).map_err(AppError::our_fault)
    }

    pub(super) fn to_json(&self) -> Result<String, AppError> {
        serde_json::to_string(self).map_err(AppError::our_fault)
    }

    pub(super) fn overrules(&self) -> Vec<Overrule> {
        self.done.iter().filter_map(Decision::in_core_words).collect()
    }

    /// What goes on into a week that follows: of each child the last word, if it is to hold.
    pub(super) fn held(&self) -> Decisions {
        let mut done: Vec<Decision> = Vec::new();
        for decision in &self.done {
            if let Decision::Seat { student, hold, .. } = decision {
                done.retain(|d| !matches!(d, Decision::Seat { student: s, .. } if s == student));
                done.extend(hold.then(|| decision.clone()));
            }
        }
        Decisions { done, undone: Vec::new() }
    }
}

impl Weeks {
    /// What was decided on the week's plan.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn decisions(&self, week: Week) -> Result<Decisions, AppError> {
        Decisions::from_json(&self.kept(week)?.overrules)
    }

    /// What a decision would change; nothing is kept.
    ///
    /// # Errors
    /// As [`Weeks::overrule`].
    pub fn try_out(&self, week: Week, decision: Decision) -> Result<Effect, AppError> {
        let (kept, now) = (self.kept(week)?, self.plan(week)?);
        check(&now.plan, &decision)?;
        let mut decisions = Decisions::from_json(&kept.overrules)?;
        decisions.done.push(decision.trimmed());
        let plan = self.with_decisions(week, &kept, &decisions)?;
        let is_new = |f: &&Finding| !now.plan.findings.contains(f);
        let is_changed = |s: &&sheaf_core::rotation::Session| !now.plan.rotation.contains(s);
        Ok(Effect {
            before: figures(&now.plan),
            after: figures(&plan),
            warnings: plan.findings.iter().filter(is_new).cloned().collect(),
            are_times_kept: now.plan.rotation.len() == plan.rotation.len()
                && now
                    .plan
                    .rotation
                    .iter()
                    .zip(&plan.rotation)
                    .all(|(a, b)| (&a.block, &a.group, &a.staff, &a.room) == (&b.block, &b.group, &b.staff, &b.room)),
            n_sessions_changed: plan.rotation.iter().filter(is_changed).count(),
        })
    }

    /// Keeps a decision on the plan that bears this tag. Gives the published plan and its tag.
    ///
    /// # Errors
    /// [`AppError`] of kind not found (no plan), stale (another plan than the one looked at), input (nobody, no group or no measured
    /// skill of that name), conflict (the plan cannot be made again as it was), or of the records; the plan stays as it was then.
    pub fn overrule(&self, week: Week, tag: &str, decision: Decision) -> Result<(String, String), AppError> {
        self.change(week, tag, "overrule", |plan, decisions| {
            check(plan, &decision)?;
            decisions.done.push(decision.trimmed());
            decisions.undone.clear();
            Ok(())
        })
    }

    /// Takes the last decision back.
    ///
    /// # Errors
    /// As [`Weeks::overrule`]; of kind not found where there is none.
    pub fn undo(&self, week: Week, tag: &str) -> Result<(String, String), AppError> {
        self.change(week, tag, "undo", |_, decisions| {
            let last = decisions.done.pop().ok_or_else(|| nothing("undo"))?;
            decisions.undone.push(last);
            Ok(())
        })
    }

    /// Makes the decision that was undone last again.
    ///
    /// # Errors
    /// As [`Weeks::overrule`]; of kind not found where there is none.
    pub fn redo(&self, week: Week, tag: &str) -> Result<(String, String), AppError> {
        self.change(week, tag, "redo", |_, decisions| {
            let last = decisions.undone.pop().ok_or_else(|| nothing("do again"))?;
            decisions.done.push(last);
            Ok(())
        })
    }

    fn change(
        &self,
        week: Week,
        tag: &str,
        job: &'static str,
        change: impl FnOnce(&Plan, &mut Decisions) -> Result<(), AppError>,
    ) -> Result<(String, String), AppError> {
        let started = Instant::now();
        let begun = self.round()?;
        let kept = self.kept(week)?;
        if !is_tag_of(tag, week, kept.revision) {
            let what = "Somebody changed this plan since you looked at it; look at it again, then decide.";
            return Err(AppError::new(ErrorKind::Stale, "plan-changed", what));
        }
        let now = self.plan(week)?;
        if now.remade == Remade::Differs {
            let what = "This plan cannot be made again as it was handed out; plan the week again, then decide.";
            return Err(AppError::new(ErrorKind::Conflict, "sheets-changed", what));
        }
        let mut decisions = Decisions::from_json(&kept.overrules)?;
        change(&now.plan, &mut decisions)?;
        let plan = self.with_decisions(week, &kept, &decisions)?;
        refuse_idle_swap(&now.plan, &plan)?;
        let published = published_json(&plan)?;
        let (what, about) = told(job, week, &decisions);
        let store = self.store.telling(what, about);
        let revision = store.keep_overruled(week.monday(), kept.revision, &published, &decisions.to_json()?)?;
        tracing::info!(job, n_decisions = decisions.done.len(), duration_ms = started.elapsed().as_millis() as u64);
        let new = WeekPlan { week, plan, tag: tag_of(week, revision), published, remade: Remade::Same };
        let new = self.remember_new(begun, new);
        Ok((new.published.clone(), new.tag.clone()))
    }

    /// The plan made again from what was kept, with these decisions, and with its repairs.
    fn with_decisions(&self, week: Week, kept: &KeptPlan, decisions: &Decisions) -> Result<Plan, AppError> {
        let mut uploads = self.store.uploads_of(week.monday())?;
        uploads.retain(|u| kept.sources.contains(&u.id));
        let setup = SchoolSetup::parse("the setup kept with the plan", &kept.setup)?;
        let school = with_holds(&setup.school, &holds_from_json(&kept.holds)?);
        let plan = self.compute(week, &uploads, &school, kept.seed, (&kept.attended, &decisions.overrules()))?;
        applied(plan, &kept.repairs)
    }

    /// What holds from the weeks before, for a week that has no plan yet.
    pub(super) fn held_from_before(&self, week: Week) -> Result<Decisions, AppError> {
        let mut mondays = self.store.mondays()?;
        mondays.retain(|m| *m < week.monday());
        for monday in mondays.into_iter().rev() {
            if let Some(kept) = self.store.plan(monday)? {
                return Ok(Decisions::from_json(&kept.overrules)?.held());
            }
        }
        Ok(Decisions::default())
    }
}

/// What the list of changes says of a job on decisions: the kind of the decision, never its reason.
fn told(job: &str, week: Week, decisions: &Decisions) -> (Change, About) {
    let about = About::week(week.monday());
    match (job, decisions.done.last()) {
        ("undo", _) => (Change::DecisionUndone, about),
        ("redo", _) => (Change::DecisionRedone, about),
        (_, Some(Decision::Seat { student, to, .. })) => (Change::SeatMoved, about.and_group(to).and_child(student)),
        (_, Some(Decision::Target { group, .. })) => (Change::TargetChanged, about.and_group(group)),
        (_, Some(Decision::Item { group, .. })) => (Change::ItemSwapped, about.and_group(group)),
        (_, None) => (Change::DecisionMade, about),
    }
}

/// A swap that no item can take the place in is not kept.
fn refuse_idle_swap(now: &Plan, then: &Plan) -> Result<(), AppError> {
    let idle = then.findings.iter().find(|f| f.code == IDLE_SWAP && !now.findings.contains(f));
    idle.map_or(Ok(()), |f| Err(AppError::new(ErrorKind::Input, "swap-not-possible", f.message.clone())))
}

fn nothing(what: &str) -> AppError {
    AppError::new(ErrorKind::NotFound, "no-decision", format!("There is no decision on this plan to {what}."))
}

/// Everyone and everything that a decision names is in the plan.
fn check(plan: &Plan, decision: &Decision) -> Result<(), AppError> {
    let wrong = |code, what: String| Err(AppError::new(ErrorKind::Input, code, what));
    let has_group = |id: &String| plan.groups.iter().any(|g| g.id == *id);
    match decision {
        Decision::Seat { student, .. } if !plan.students.iter().any(|s| s.id.as_str() == student) => {
            wrong("no-such-student", format!("student: this plan has no child {student:?}."))
        }
        Decision::Seat { to, .. } if !has_group(to) => {
            wrong("no-such-group", format!("to: this plan has no group {to:?}; groups are called g1, g2 and so on."))
        }
        Decision::Target { group, .. } if !has_group(group) => wrong(
            "no-such-group",
            format!("group: this plan has no group {group:?}; groups are called g1, g2 and so on."),
        ),
        Decision::Target { target_skill, .. } if !plan.skills.iter().any(|s| s.code.as_str() == target_skill) => {
            let known: Vec<&str> = plan.skills.iter().map(|s| s.code.as_str()).collect();
            let what =
                format!("target_skill: {target_skill:?} was not measured this week; choose from {}.", known.join(", "));
            wrong("no-such-skill", what)
        }
        Decision::Item { group, form, item, .. } if !has_item(plan, group, form, *item) => {
            wrong("no-such-item", format!("item: this plan has no item {item} on form {form} of group {group:?}."))
        }
        Decision::Item { swap, .. } if Swap::parse(swap).is_none() => {
            let known = Swap::ALL.map(Swap::word).join(", ");
            wrong("no-such-swap", format!("swap: {swap:?} is none; choose from {known}."))
        }
        _ => Ok(()),
    }
}

fn has_item(plan: &Plan, group: &str, form: &str, number: usize) -> bool {
    let ticket = plan.tickets.iter().find(|t| t.group == group && t.form == form);
    ticket.is_some_and(|t| t.items.iter().any(|i| i.number == number))
}

fn figures(plan: &Plan) -> Figures {
    let n_seated = plan.students.iter().filter(|s| s.group.is_some()).count();
    Figures {
        n_met: (plan.quality.need_met * n_seated as f64).round() as usize,
        n_seated,
        sizes: plan.groups.iter().map(|g| (g.name.clone(), g.members.len())).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::small_quiz::{QUIZ, file, week};
    use super::super::{Keeping, Weeks};
    use super::*;

    fn planned() -> (Weeks, String) {
        let setup = SchoolSetup::parse("school.toml", "[groups]\nmin_size = 2\nmax_size = 3\n").unwrap();
        let weeks = Weeks::in_memory(setup).unwrap();
        weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
        let tag = weeks.plan_week(week(), None).unwrap().tag.clone();
        (weeks, tag)
    }

    /// A child and a group that is not the child's.
    fn a_move(weeks: &Weeks) -> (String, String) {
        let plan = weeks.plan(week()).unwrap();
        let student = plan.plan.students.iter().find(|s| s.group.is_some()).unwrap();
        let own = student.group.unwrap();
        let to = plan.plan.groups.iter().enumerate().find(|(g, _)| *g != own).unwrap().1;
        (student.id.to_string(), to.id.clone())
    }

    fn seat(student: &str, to: &str, hold: bool) -> Decision {
        Decision::Seat { student: student.to_owned(), to: to.to_owned(), reason: " works well there ".to_owned(), hold }
    }

    fn group_of(weeks: &Weeks, week: Week, id: &str) -> Option<String> {
        let plan = weeks.plan(week).unwrap();
        let student = plan.plan.students.iter().find(|s| s.id.as_str() == id).unwrap();
        student.group.map(|g| plan.plan.groups[g].id.clone())
    }

    #[test]
    fn a_child_sits_where_a_person_says_and_the_reason_stays() {
        let (weeks, tag) = planned();
        let (id, to) = a_move(&weeks);
        let effect = weeks.try_out(week(), seat(&id, &to, false)).unwrap();
        assert_eq!(effect.before.n_seated, effect.after.n_seated);
        assert_ne!(effect.before.sizes, effect.after.sizes);
        assert_ne!(group_of(&weeks, week(), &id).as_ref(), Some(&to), "trying out keeps nothing");
        let (published, new_tag) = weeks.overrule(week(), &tag, seat(&id, &to, false)).unwrap();
        assert_ne!(new_tag, tag);
        assert_eq!(group_of(&weeks, week(), &id).as_ref(), Some(&to));
        assert!(published.contains("(\u{201c}works well there\u{201d})"), "{published}");
        assert_eq!(weeks.plan(week()).unwrap().remade, Remade::Same);
        assert_eq!(weeks.decisions(week()).unwrap().done[0].reason(), "works well there");
        let again = weeks.plan_week(week(), None).unwrap();
        assert_eq!(again.published, published, "planning again keeps what was decided");
    }

    #[test]
    fn a_decision_on_an_old_plan_changes_nothing() {
        let (weeks, tag) = planned();
        let (id, to) = a_move(&weeks);
        let (published, _) = weeks.overrule(week(), &tag, seat(&id, &to, false)).unwrap();
        let error = weeks.overrule(week(), &tag, seat(&id, &to, false)).unwrap_err();
        assert_eq!((error.kind, error.code), (ErrorKind::Stale, "plan-changed"));
        assert_eq!(weeks.published_plan(week()).unwrap().0, published);
    }

    #[test]
    fn undone_and_done_again_is_as_it_was() {
        let (weeks, tag) = planned();
        let first = weeks.published_plan(week()).unwrap().0;
        assert_eq!(weeks.undo(week(), &tag).unwrap_err().code, "no-decision");
        let (id, to) = a_move(&weeks);
        let (changed, tag) = weeks.overrule(week(), &tag, seat(&id, &to, false)).unwrap();
        let (undone, tag) = weeks.undo(week(), &tag).unwrap();
        assert_eq!(undone, first);
        let (again, tag) = weeks.redo(week(), &tag).unwrap();
        assert_eq!(again, changed);
        assert_eq!(weeks.redo(week(), &tag).unwrap_err().code, "no-decision");
    }

    #[test]
    fn a_decision_that_holds_goes_on_into_the_next_week() {
        let (weeks, tag) = planned();
        let (id, to) = a_move(&weeks);
        weeks.overrule(week(), &tag, seat(&id, &to, true)).unwrap();
        let next = Week::parse("2026-02-09").unwrap();
        weeks.take_in(next, vec![file("quiz.csv", &QUIZ.replace("Q1", "V1"))], None, Keeping::Keep).unwrap();
        weeks.plan_week(next, None).unwrap();
        assert_eq!(weeks.decisions(next).unwrap().done, [seat(&id, &to, true).trimmed()]);
        assert_eq!(group_of(&weeks, next, &id), Some(to));
    }

    #[test]
    fn what_the_plan_does_not_know_is_refused_by_name() {
        let (weeks, tag) = planned();
        let (id, to) = a_move(&weeks);
        let target = |group: &str, skill: &str| Decision::Target {
            group: group.to_owned(),
            target_skill: skill.to_owned(),
            reason: String::new(),
        };
        for (decision, code) in [
            (seat("nobody", &to, false), "no-such-student"),
            (seat(&id, "g99", false), "no-such-group"),
            (target("x", "4.NF.A.1"), "no-such-group"),
            (target(&to, "3.OA.A.1"), "no-such-skill"),
        ] {
            let error = weeks.overrule(week(), &tag, decision).unwrap_err();
            assert_eq!((error.kind, error.code), (ErrorKind::Input, code), "{}", error.message);
        }
        let (skill, other) = {
            let plan = weeks.plan(week()).unwrap();
            let group = plan.plan.groups.iter().find(|g| g.id == to).unwrap().target_skill.to_string();
            (group.clone(), plan.plan.skills.iter().map(|s| s.code.to_string()).find(|c| *c != group).unwrap())
        };
        let (published, _) = weeks.overrule(week(), &tag, target(&to, &other)).unwrap();
        assert!(published.contains(&format!("Target set by a person; {skill} was suggested.")), "{published}");
    }
}
