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
//!        6. one item at the target is easier or harder where that is asked for (`one_item_is_easier_where_that_is_asked_for`)
//!        7. tickets with one form code have the same items: what was printed keeps its key (`one_code_stands_for_one_set_of_items`)
//!        8. ideas are spread, so that a child who guesses seldom looks like holding one (`a_guesser_seldom_looks_like_a_wrong_idea`)
//! Not here: which draws were met (`app` keeps the weeks), paper (`web`, `sheets`).
//! Source: common practice for the mix of items, no source.

mod code;
mod draws;
mod models;
mod request;

pub use code::sheet_code;
pub use request::{Evidence, PrerequisiteEvidence, Swap, TicketGap, TicketRequest};

use super::draw::draw_fingerprint;
use super::model::{ItemModel, Level, ModelLibrary};
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
        let form_code = code::form_code(request.group, form, &items);
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
        let mut item = drawer.draw(&[*model], Level::AsWritten, skill)?;
        item.number = items.len() + 1;
        items.push(item);
    }
    Ok(items)
}

/// The ticket with another item in one place, and a form code of its own; the other items stay as they are.
///
/// # Errors
/// [`TicketGap`] where the ticket has no such item, its model is gone or has no such level, or no draw is new.
pub fn swap_item(
    library: &ModelLibrary,
    ticket: &Ticket,
    number: usize,
    swap: Swap,
    met: &BTreeSet<u64>,
    seed: u64,
) -> Result<Ticket, TicketGap> {
    let no_item = || TicketGap::NoItem { form_code: ticket.form_code.clone(), number };
    let place = ticket.items.iter().position(|item| item.number == number).ok_or_else(no_item)?;
    let old = ticket.items.get(place).ok_or_else(no_item)?;
    let skill = SkillCode::parse(&old.skill).ok_or_else(no_item)?;
    let no_draw = |reason: String| TicketGap::NoDraw { skill: skill.clone(), reason };
    let models = models_for_swap(library, ticket, old, &skill, swap)?;
    let own = ticket.items.iter().map(|item| draw_fingerprint(&item.model, &item.params));
    let drawn: BTreeSet<u64> = met.iter().copied().chain(own).collect();
    let mut drawer = Drawer::new(code::mix(seed, &["swap", &ticket.form_code]), None, &drawn);
    for model in models {
        if let Some(item) = drawer.another(model, swap.level()).map_err(no_draw)? {
            let mut swapped = ticket.clone();
            if let Some(place) = swapped.items.get_mut(place) {
                *place = TicketItem { number, ..item };
            }
            swapped.form_code = code::form_code(&ticket.group, &ticket.form, &swapped.items);
            return Ok(swapped);
        }
    }
    Err(no_draw("every draw that was looked at has been met".to_owned()))
}

/// Models that may fill the place of an item: its own, or others of its skill, those that the ticket has not first.
fn models_for_swap<'a>(
    library: &'a ModelLibrary,
    ticket: &Ticket,
    old: &TicketItem,
    skill: &SkillCode,
    swap: Swap,
) -> Result<Vec<&'a ItemModel>, TicketGap> {
    if swap != Swap::OtherKind {
        let model = library.get(&old.model).ok_or_else(|| TicketGap::no_model(skill))?;
        let is_there = model.has_level(swap.level());
        return is_there.then(|| vec![model]).ok_or_else(|| TicketGap::NoLevel { skill: skill.clone() });
    }
    let mut others = library.models_for(skill);
    others.retain(|model| model.slug() != old.model);
    others.sort_by_key(|model| ticket.items.iter().any(|item| item.model == model.slug()));
    if others.is_empty() { Err(TicketGap::OneKind { skill: skill.clone() }) } else { Ok(others) }
}

#[cfg(test)]
mod tests;
