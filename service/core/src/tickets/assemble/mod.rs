//! Tickets for a group: which models, which draws, in which order.
//!
//! In:  item models, the skill graph, a [`TicketRequest`].
//! Out: one [`Ticket`] a form: items at the target of different models and types, one of them in two parts or a grid where
//!      there is one, then the nearest prerequisite (an unmeasured one first, as a probe), then a review item.
//! Keeps: 1. the same request gives the same tickets (`the_same_request_gives_the_same_tickets`)
//!        2. no draw twice, within a form or between forms (`no_draw_comes_twice`)
//!        3. forms have the same models in the same order (`forms_are_alike_and_differ_in_their_numbers`)
//!        4. key letters are spread over a ticket (`key_letters_are_spread`)
//!        5. a draw that members met of late does not come (`a_draw_that_was_met_does_not_come_again`), nor when one item is
//!           swapped by hand, and the others stay (`a_swap_changes_one_item`)
//! Not here: which draws were met (`app` keeps the weeks), paper (`web`, `sheets`).
//! Source: common practice for the mix of items, no source.

mod code;
mod draws;
mod models;
mod request;

pub use code::sheet_code;
pub use request::{Evidence, PrerequisiteEvidence, TicketGap, TicketRequest};

use super::draw::draw_fingerprint;
use super::model::ModelLibrary;
use super::{Ticket, TicketItem};
use crate::skills::{SkillCode, SkillGraph};
use draws::Drawer;
use std::collections::BTreeSet;

/// Makes the tickets of a group, one for each form.
///
/// # Errors
/// [`TicketGap`] where no model asks for the target skill, or none of those that do gives an item.
pub fn assemble_tickets(
    library: &ModelLibrary,
    graph: &SkillGraph,
    request: &TicketRequest<'_>,
) -> Result<Vec<Ticket>, TicketGap> {
    let target = graph.resolve(request.target);
    let slots = models::slots(library, graph, &target, request)?;
    let seed = code::mix(request.seed, &[request.group, target.as_str()]);
    let mut drawer = Drawer::new(seed, request.error_pattern, request.met);
    let mut tickets = Vec::with_capacity(request.forms.len());
    for (form_idx, form) in request.forms.iter().enumerate() {
        drawer.begin_form(form_idx);
        let items = drawer.draw_all(&slots, &target)?;
        let form_code = code::form_code(request.group, form, request.seed, &target);
        tickets.push(Ticket { group: request.group.to_owned(), form: form.clone(), form_code, items });
    }
    Ok(tickets)
}

/// Draws single items for a skill: every model in turn, no draw twice where that can be.
///
/// # Errors
/// [`TicketGap`] where no model asks for the skill, or none of those that do gives an item.
pub fn sample_items(
    library: &ModelLibrary,
    skill: &SkillCode,
    count: usize,
    seed: u64,
) -> Result<Vec<TicketItem>, TicketGap> {
    let models = library.models_for(skill);
    if models.is_empty() {
        return Err(TicketGap::no_model(skill));
    }
    let mut drawer = Drawer::new(code::mix(seed, &["sample", skill.as_str()]), None, &BTreeSet::new());
    let mut items: Vec<TicketItem> = Vec::with_capacity(count);
    for model in models.iter().cycle().take(count) {
        let mut item = drawer.draw(&[*model], skill)?;
        item.number = items.len() + 1;
        items.push(item);
    }
    Ok(items)
}

/// The ticket with another draw of the model in place of one item; every other item stays as it is.
///
/// `met` are draws that must not come (those of the ticket itself never do); another seed gives another item.
///
/// # Errors
/// [`TicketGap`] where the ticket has no such item, its model is gone, or the model has no draw that is new.
pub fn swap_item(
    library: &ModelLibrary,
    ticket: &Ticket,
    number: usize,
    met: &BTreeSet<u64>,
    seed: u64,
) -> Result<Ticket, TicketGap> {
    let no_item = || TicketGap::NoItem { form_code: ticket.form_code.clone(), number };
    let place = ticket.items.iter().position(|item| item.number == number).ok_or_else(no_item)?;
    let old = ticket.items.get(place).ok_or_else(no_item)?;
    let skill = SkillCode::parse(&old.skill).ok_or_else(no_item)?;
    let model = library.get(&old.model).ok_or_else(|| TicketGap::no_model(&skill))?;
    let own = ticket.items.iter().map(|item| draw_fingerprint(&item.model, &item.params));
    let drawn: BTreeSet<u64> = met.iter().copied().chain(own).collect();
    let mut drawer = Drawer::new(code::mix(seed, &["swap", &ticket.form_code]), None, &drawn);
    let no_draw = |reason| TicketGap::NoDraw { skill: skill.clone(), reason };
    let other = drawer.another(model).map_err(no_draw)?;
    let other = other.ok_or_else(|| no_draw("every draw that was looked at has been met".to_owned()))?;
    let mut swapped = ticket.clone();
    if let Some(item) = swapped.items.get_mut(place) {
        *item = TicketItem { number, ..other };
    }
    Ok(swapped)
}

#[cfg(test)]
mod tests;
