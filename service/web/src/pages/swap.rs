//! `/tickets/{date}/swap`: another item in the place of one that a person does not want; and taking the last swap back.
//!
//! In:  group, form, item, what is to come, the tag of the plan that the person looks at. Out: back to the ticket, which has a code of
//! its own from then on. Keeps: only what an item's model can give is offered (`tests/acceptance/http/swap`).
//! Not here: drawing (`sheaf-core`), what was decided on groups (`decide`).

use super::decide::{TagForm, sentence};
use super::naming::Naming;
use super::{PageAnswer, see_other};
use crate::service::{Service, run};
use actix_web::web;
use serde::Deserialize;
use sheaf_app::knowledge::Knowledge;
use sheaf_app::weeks::{Decision, Decisions, Week};
use sheaf_core::plan::Plan;
use sheaf_core::skills::SkillCode;
use sheaf_core::tickets::{Level, Swap, TicketItem};

/// What may take an item's place: the word of the form, and the words of the page.
pub(super) type SwapChoice = (&'static str, String);

/// The item to swap.
#[derive(Debug, Deserialize)]
pub(crate) struct SwapForm {
    tag: String,
    group: String,
    form: String,
    item: usize,
    swap: String,
}

/// Keeps it; back to the ticket.
pub(crate) async fn swap(service: Service, path: web::Path<String>, form: web::Form<SwapForm>) -> PageAnswer {
    let (week, form) = (Week::parse(&path)?, form.into_inner());
    let back = format!("/tickets/{week}#t-{}-{}", form.group, form.form);
    let decision =
        Decision::Item { group: form.group, form: form.form, item: form.item, swap: form.swap, reason: String::new() };
    run(&service, move |s| s.weeks.overrule(week, &form.tag, decision)).await?;
    Ok(see_other(back))
}

/// Takes the last decision back; back to the tickets.
pub(crate) async fn undo(service: Service, path: web::Path<String>, form: web::Form<TagForm>) -> PageAnswer {
    let (week, tag) = (Week::parse(&path)?, form.into_inner().tag);
    run(&service, move |s| s.weeks.undo(week, &tag)).await?;
    Ok(see_other(format!("/tickets/{week}#swapped")))
}

/// What an item's model, and the other models of its skill, can give.
pub(super) fn choices(item: &TicketItem, knowledge: &Knowledge) -> Vec<SwapChoice> {
    let library = &knowledge.item_models;
    let Some(model) = library.get(&item.model) else { return Vec::new() };
    let others = SkillCode::parse(&item.skill).map_or(0, |skill| library.models_for(&skill).len());
    let words = |swap: Swap| match swap {
        Swap::Another => Some("another of its kind".to_owned()),
        Swap::Easier => model.has_level(Level::Easier).then(|| format!("an easier one: {}", model.easier())),
        Swap::Harder => model.has_level(Level::Harder).then(|| format!("a harder one: {}", model.harder())),
        Swap::OtherKind => (others > 1).then(|| "another kind of question".to_owned()),
    };
    Swap::ALL.into_iter().filter_map(|swap| Some((swap.word(), words(swap)?))).collect()
}

/// The swaps among what was decided, as sentences; and whether the last decision is one.
pub(super) fn swapped(plan: &Plan, decisions: &Decisions, knowledge: &Knowledge) -> (Vec<String>, bool) {
    let is_swap = |d: &&Decision| matches!(d, Decision::Item { .. });
    let naming = Naming::full(plan);
    let told = decisions.done.iter().filter(is_swap).map(|d| sentence(plan, d, knowledge, &naming)).collect();
    (told, decisions.done.last().is_some_and(|d| is_swap(&d)))
}
