//! Tickets for a group: which models, which draws, in which order.
//!
//! In:  item models, the skill graph, a [`TicketRequest`].
//! Out: one [`Ticket`] a form: items at the target of different models and types, one of them in two parts or a grid where
//!      there is one, then the nearest prerequisite (an unmeasured one first, as a probe), then a review item.
//! Keeps: 1. the same request gives the same tickets (`the_same_request_gives_the_same_tickets`)
//!        2. no draw twice, within a form or between forms (`no_draw_comes_twice`)
//!        3. forms have the same models in the same order (`forms_are_alike_and_differ_in_their_numbers`)
//!        4. key letters are spread over a ticket (`key_letters_are_spread`)
//! Not here: what children met in weeks before, hand swaps (`app`), paper (`web`, `sheets`).
//! Source: common practice for the mix of items, no source.

mod code;
mod draws;
mod models;
mod request;

pub use code::sheet_code;
pub use request::{Evidence, PrerequisiteEvidence, TicketGap, TicketRequest};

use super::model::ModelLibrary;
use super::{Ticket, TicketItem};
use crate::skills::{SkillCode, SkillGraph};
use draws::Drawer;

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
    let mut drawer = Drawer::new(seed, request.error_pattern);
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
    let mut drawer = Drawer::new(code::mix(seed, &["sample", skill.as_str()]), None);
    let mut items: Vec<TicketItem> = Vec::with_capacity(count);
    for model in models.iter().cycle().take(count) {
        let mut item = drawer.draw(&[*model], skill)?;
        item.number = items.len() + 1;
        items.push(item);
    }
    Ok(items)
}

#[cfg(test)]
mod tests;
