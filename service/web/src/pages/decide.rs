//! `/groups/{date}/decide`: what another seat for a child, or another target for a group, would change; a reason; then it is kept.
//!
//! In:  the decision as the groups page sends it, and the tag of the plan that the person looks at. Out: the effect on needs met,
//! sizes and limits, beside what is now; after keeping, back to the groups. Where somebody else changed the plan meanwhile nothing is
//! kept: the page shows both versions side by side (`versions`), and the same decision on the plan as it is now.
//! Keeps: a form that is refused comes back with what was typed (`tests/acceptance/http/decide`); a decision that the plan of now cannot
//! take is told as such (`two_people_at_once_see_both_versions`, acceptance). Not here: what a decision does (`sheaf-core`).

use super::groups::{Refused, page as groups_page, plan_of};
use super::naming::{NamesAsked, Naming};
use super::versions::{Versions, versions};
use super::{Frame, Here, PageAnswer, html, html_with, render, see_other, text};
use crate::problem::status_of;
use crate::service::{Service, run};
use actix_web::http::StatusCode;
use actix_web::web;
use askama::Template;
use serde::Deserialize;
use sheaf_app::error::{AppError, ErrorKind};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decision, Decisions, Effect, Week, WeekPlan};
use sheaf_core::plan::Plan;
use sheaf_core::tickets::Swap;

/// Reasons to choose from; words of one's own may stand in their place.
const REASONS: [&str; 5] = [
    "Works better with these children",
    "What I saw in class says otherwise",
    "Knows the adult who leads",
    "The timetable of another service",
    "The class team decided",
];

/// What the groups page asks about: a child and a group, or a group and a skill.
#[derive(Debug, Clone, Default, Deserialize)]
pub(crate) struct Asked {
    #[serde(default)]
    student: String,
    #[serde(default)]
    to: String,
    #[serde(default)]
    group: String,
    #[serde(default)]
    skill: String,
}

/// The decision to keep.
#[derive(Debug, Clone, Default, Deserialize)]
pub(crate) struct DecideForm {
    #[serde(flatten)]
    asked: Asked,
    #[serde(default)]
    tag: String,
    #[serde(default)]
    usual: String,
    #[serde(default)]
    words: String,
    hold: Option<String>,
}

/// The tag of the plan that the person looks at.
#[derive(Debug, Deserialize)]
pub(crate) struct TagForm {
    pub(super) tag: String,
}

/// A group's size before and after.
struct SizeRow {
    name: String,
    before: String,
    after: String,
    is_changed: bool,
}

struct EffectView {
    met: [String; 2],
    sizes: Vec<SizeRow>,
    warnings: Vec<String>,
    sessions: String,
    are_times_kept: bool,
}

#[derive(Template)]
#[template(path = "decide.html")]
struct DecidePage {
    frame: Frame,
    what: String,
    asked: Asked,
    tag: String,
    can_hold: bool,
    is_held: bool,
    /// `None` where the plan as it is now cannot take the decision.
    effect: Option<EffectView>,
    /// Why not.
    obstacle: String,
    reasons: Vec<(&'static str, bool)>,
    words: String,
    error: Option<String>,
    /// Both versions, where the plan is another than the one looked at.
    versions: Option<Versions>,
}

impl DecideForm {
    fn reason(&self) -> String {
        let words = self.words.trim();
        if words.is_empty() { self.usual.trim().to_owned() } else { words.to_owned() }
    }

    fn decision(&self) -> Decision {
        let (asked, reason) = (self.asked.clone(), self.reason());
        if asked.group.is_empty() {
            Decision::Seat { student: asked.student, to: asked.to, reason, hold: self.hold.is_some() }
        } else {
            Decision::Target { group: asked.group, target_skill: asked.skill, reason }
        }
    }
}

/// What the decision would change.
pub(crate) async fn show(service: Service, path: web::Path<String>, asked: web::Query<Asked>) -> PageAnswer {
    let form = DecideForm { asked: asked.into_inner(), ..DecideForm::default() };
    Ok(html(run(&service, move |s| page(s, Week::parse(&path)?, &form, Shown::First)).await?))
}

/// Keeps it; back to the groups.
pub(crate) async fn keep(service: Service, path: web::Path<String>, form: web::Form<DecideForm>) -> PageAnswer {
    let (week, form) = (Week::parse(&path)?, form.into_inner());
    if form.reason().is_empty() {
        let body = run(&service, move |s| page(s, week, &form, Shown::NoReason)).await?;
        return Ok(html_with(StatusCode::UNPROCESSABLE_ENTITY, body));
    }
    let (tag, decision) = (form.tag.clone(), form.decision());
    match run(&service, move |s| s.weeks.overrule(week, &tag, decision)).await {
        Ok(_) => Ok(see_other(format!("/groups/{week}#decided"))),
        Err(e) if e.kind == ErrorKind::Stale => {
            let body = run(&service, move |s| page(s, week, &form, Shown::Meanwhile)).await?;
            Ok(html_with(status_of(ErrorKind::Stale), body))
        }
        Err(e) => Err(e.into()),
    }
}

/// Takes the last decision back.
pub(crate) async fn undo(service: Service, path: web::Path<String>, form: web::Form<TagForm>) -> PageAnswer {
    let (week, tag) = (Week::parse(&path)?, form.into_inner().tag);
    let done = run(&service, move |s| s.weeks.undo(week, &tag)).await;
    back_to_groups(&service, week, done.map(|_| ()), "Nothing was undone.").await
}

/// Makes the decision undone last again.
pub(crate) async fn redo(service: Service, path: web::Path<String>, form: web::Form<TagForm>) -> PageAnswer {
    let (week, tag) = (Week::parse(&path)?, form.into_inner().tag);
    let done = run(&service, move |s| s.weeks.redo(week, &tag)).await;
    back_to_groups(&service, week, done.map(|_| ()), "Nothing was done again.").await
}

/// The groups again; where somebody else was faster, with that said over the plan as it is now.
async fn back_to_groups(service: &Service, week: Week, done: Result<(), AppError>, lead: &'static str) -> PageAnswer {
    match done {
        Ok(()) => Ok(see_other(format!("/groups/{week}#decided"))),
        Err(e) if matches!(e.kind, ErrorKind::Stale | ErrorKind::NotFound | ErrorKind::Conflict) => {
            let status = status_of(e.kind);
            let shown =
                move |s: &Service| groups_page(s, week, Some(&Refused { lead, error: &e }), &NamesAsked::default());
            Ok(html_with(status, run(service, shown).await?))
        }
        Err(e) => Err(e.into()),
    }
}

/// Why the page is shown.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Shown {
    First,
    NoReason,
    Meanwhile,
}

fn page(service: &Service, week: Week, form: &DecideForm, shown: Shown) -> Result<String, AppError> {
    let missing = || AppError::new(ErrorKind::NotFound, "no-plan", "This week has no plan yet.");
    let plan = plan_of(service, week)?.ok_or_else(missing)?;
    let (decision, knowledge, naming) = (form.decision(), service.weeks.knowledge(), Naming::full(&plan.plan));
    let versions = if shown == Shown::Meanwhile { both(service, week, &plan.plan, form, &naming)? } else { None };
    let (effect, obstacle) = match service.weeks.try_out(week, decision.clone()) {
        Ok(effect) => (Some(effect_view(&effect)), String::new()),
        Err(e) if versions.is_some() && e.kind == ErrorKind::Input => (None, text::as_sentence(&e.message)),
        Err(e) => return Err(e),
    };
    render(&DecidePage {
        frame: Frame::new(service, Here::Groups, "Decide", Some(week))?,
        what: question(&plan.plan, &decision, knowledge, &naming),
        asked: form.asked.clone(),
        tag: plan.tag.clone(),
        can_hold: matches!(decision, Decision::Seat { .. }),
        is_held: form.hold.is_some(),
        effect,
        obstacle,
        reasons: REASONS.iter().map(|r| (*r, form.usual == *r)).collect(),
        words: form.words.clone(),
        error: (shown == Shown::NoReason)
            .then(|| "Choose a reason or write one: it stands beside the seat for everyone who asks why.".to_owned()),
        versions,
    })
}

/// What the person looked at, beside the plan as it is now.
fn both(
    service: &Service,
    week: Week,
    plan: &Plan,
    form: &DecideForm,
    naming: &Naming,
) -> Result<Option<Versions>, AppError> {
    let then = service.weeks.seating_looked_at(week, &form.tag)?;
    let now = service.weeks.seating_now(week)?;
    let of = (service.weeks.knowledge(), naming);
    Ok(now.map(|now| versions(plan, (then.as_ref(), &now), &form.decision(), of)))
}

fn effect_view(effect: &Effect) -> EffectView {
    let met = [&effect.before, &effect.after].map(|f| format!("{} of {}", f.n_met, f.n_seated));
    let size = |list: &[(String, usize)], name: &str| list.iter().find(|(n, _)| n == name).map(|(_, n)| *n);
    let shown = |n: Option<usize>| n.map_or_else(|| "gone".to_owned(), |n| n.to_string());
    let row = |(name, before): &(String, usize)| {
        let after = size(&effect.after.sizes, name);
        SizeRow {
            name: name.clone(),
            before: before.to_string(),
            after: shown(after),
            is_changed: after != Some(*before),
        }
    };
    EffectView {
        met,
        sizes: effect.before.sizes.iter().map(row).collect(),
        warnings: effect.warnings.iter().map(|f| text::as_sentence(&f.message)).collect(),
        sessions: text::count(effect.n_sessions_changed, "session"),
        are_times_kept: effect.are_times_kept,
    }
}

/// The decision as a question.
fn question(plan: &Plan, decision: &Decision, knowledge: &Knowledge, naming: &Naming) -> String {
    match decision {
        Decision::Seat { student, to, .. } => format!("Seat {} in {}?", naming.label(student), plan.group_name(to)),
        Decision::Target { group, target_skill, .. } => {
            format!("Teach {} {}?", plan.group_name(group), skill(target_skill, knowledge))
        }
        Decision::Item { group, form, item, .. } => {
            format!("Swap item {item} of form {form} of {}?", plan.group_name(group))
        }
    }
}

/// A skill by code and name.
pub(super) fn skill(code: &str, knowledge: &Knowledge) -> String {
    let name = sheaf_core::skills::SkillCode::parse(code).map(|c| knowledge.graph.name(&c).to_owned());
    name.filter(|n| n != code).map_or_else(|| code.to_owned(), |n| format!("{code} ({n})"))
}

/// What came in an item's place.
fn swap_words(swap: Swap) -> &'static str {
    match swap {
        Swap::Another => "another of its kind",
        Swap::Easier => "an easier one",
        Swap::Harder => "a harder one",
        Swap::OtherKind => "another kind of question",
    }
}

/// Each decision as a sentence with its reason, in order.
pub(super) fn sentences(plan: &WeekPlan, decisions: &Decisions, of: (&Knowledge, &Naming)) -> Vec<String> {
    decisions.done.iter().map(|d| sentence(&plan.plan, d, of.0, of.1)).collect()
}

/// One decision as a sentence with its reason.
pub(super) fn sentence(plan: &Plan, decision: &Decision, knowledge: &Knowledge, naming: &Naming) -> String {
    let what = match decision {
        Decision::Seat { student, to, hold, .. } => {
            let held = if *hold { ", also in the weeks to come" } else { "" };
            format!("{} sits in {}{held}", naming.label(student), plan.group_name(to))
        }
        Decision::Target { group, target_skill, .. } => {
            format!("{} is taught {}", plan.group_name(group), skill(target_skill, knowledge))
        }
        Decision::Item { group, form, item, swap, .. } => {
            let how = Swap::parse(swap).map_or("another", swap_words);
            format!("Item {item} of form {form} of {} is {how}", plan.group_name(group))
        }
    };
    let reason = naming.typed(decision.reason()).trim_end_matches('.');
    if reason.is_empty() { format!("{what}.") } else { format!("{what}: {reason}.") }
}
