//! Which models a ticket has, in order. A slot lists models by preference: the first that gives an item is used.
//! Order: target, target in another type (harder or easier by the group's state), two-part or match, nearest prerequisite, review of an earlier skill.

use super::code::mix;
use super::request::{Evidence, TicketGap, TicketRequest};
use crate::scores::ItemKind;
use crate::skills::{SkillCode, SkillGraph};
use crate::tickets::draw::draw_item;
use crate::tickets::model::{ItemModel, Level, ModelLibrary};
use std::collections::BTreeSet;

/// Models of a ticket that may show one idea before others are preferred.
const MOST_OFFERS: usize = 2;

/// Draws that are looked at to tell whether a model can show a wrong idea.
const N_TRIED: u64 = 6;

/// Place of the item that is harder or easier where the group's state asks for one: the second at the target.
const LEVELLED: usize = 1;

/// One place on a ticket.
pub(super) struct Slot<'a> {
    /// Models for it, best first.
    pub(super) models: Vec<&'a ItemModel>,
    /// How hard its item is, where the model that is taken has that level.
    pub(super) level: Level,
}

/// The places of a ticket.
pub(super) fn slots<'a>(
    library: &'a ModelLibrary,
    graph: &SkillGraph,
    target: &SkillCode,
    request: &TicketRequest<'_>,
) -> Result<Vec<Slot<'a>>, TicketGap> {
    let models = library.models_for(target);
    if models.is_empty() {
        return Err(TicketGap::no_model(target));
    }
    let seed = mix(request.seed, &["models", request.group]);
    let n_items = request.n_items.max(1);
    let n_before = n_items.saturating_sub(3).min(2);
    let before = earlier_skills(library, graph, target, &models, request, n_before);
    let mut slots = target_slots(&models, n_items - before.len(), request, seed);
    slots.extend(before.into_iter().map(|models| Slot { models: simple_first(models, seed), level: Level::AsWritten }));
    Ok(slots)
}

/// Places for the target: first a model that can show the shared wrong idea, then other types, with one in two parts or a
/// grid among the first three. Every place may fall back on the other models. The seed decides among equals.
fn target_slots<'a>(models: &[&'a ItemModel], n_slots: usize, request: &TicketRequest<'_>, seed: u64) -> Vec<Slot<'a>> {
    let mut used: Vec<&ItemModel> = Vec::new();
    let mut slots = Vec::with_capacity(n_slots);
    let silent: BTreeSet<&str> = match request.error_pattern {
        Some(pattern) => models.iter().filter(|m| !can_show(m, pattern, seed)).map(|m| m.slug()).collect(),
        None => BTreeSet::new(),
    };
    for slot_idx in 0..n_slots {
        let wants_depth = slot_idx == n_slots.min(3) - 1 && n_slots > 1;
        let level = if slot_idx == LEVELLED { request.level } else { Level::AsWritten };
        let mut ranked = models.to_vec();
        ranked.sort_by_key(|model| {
            let n_uses = used.iter().filter(|u| u.slug() == model.slug()).count();
            let is_deep = is_deep(model);
            let is_misplaced = if wants_depth { !is_deep } else { is_deep };
            let is_silent = silent.contains(model.slug());
            let n_of_kind = used.iter().filter(|u| u.kind() == model.kind()).count();
            let n_carry = |code: &String| used.iter().filter(|u| u.carries(code)).count();
            let n_crowded = model.patterns().iter().filter(|code| n_carry(code) >= MOST_OFFERS).count();
            let lot = mix(seed, &[model.slug()]);
            (
                n_uses,
                !model.has_level(level),
                is_misplaced,
                is_silent && slot_idx == 0,
                n_of_kind,
                is_silent,
                n_crowded,
                lot,
            )
        });
        used.extend(ranked.first());
        slots.push(Slot { models: ranked, level });
    }
    slots
}

/// Whether one of a few draws of the model offers the wrong idea. Its codes alone do not tell: a code may stand at an
/// option that is right.
fn can_show(model: &ItemModel, pattern: &str, seed: u64) -> bool {
    let mut draws = (0..N_TRIED).filter_map(|n| draw_item(model, seed.wrapping_add(n)).ok());
    model.carries(pattern) && draws.any(|item| item.can_show(pattern))
}

fn is_deep(model: &ItemModel) -> bool {
    matches!(model.kind(), ItemKind::TwoPart | ItemKind::Match)
}

/// Models of so many skills that come before the target, nearest first; among equally near ones an unmeasured skill first,
/// then the one taught latest. The second is the review item. Only models of the skills taken are compiled.
fn earlier_skills<'a>(
    library: &'a ModelLibrary,
    graph: &SkillGraph,
    target: &SkillCode,
    own: &[&ItemModel],
    request: &TicketRequest<'_>,
    n_skills: usize,
) -> Vec<Vec<&'a ItemModel>> {
    let parts: BTreeSet<&SkillCode> = own.iter().map(|m| m.skill()).collect();
    let is_measured = |skill: &SkillCode| {
        !request.prerequisites.iter().any(|p| p.skill == *skill && p.evidence == Evidence::Unmeasured)
    };
    let mut found = Vec::new();
    let mut seen: BTreeSet<SkillCode> = parts.iter().map(|p| (*p).clone()).chain([target.clone()]).collect();
    let mut level: Vec<SkillCode> = seen.iter().cloned().collect();
    while !level.is_empty() && found.len() < n_skills {
        level = next_level(graph, &level, &mut seen);
        level.sort_by_key(|skill| (is_measured(skill), std::cmp::Reverse(graph.rank(skill))));
        let n_wanted = n_skills - found.len();
        found.extend(level.iter().map(|skill| library.models_for(skill)).filter(|m| !m.is_empty()).take(n_wanted));
    }
    found
}

fn next_level(graph: &SkillGraph, level: &[SkillCode], seen: &mut BTreeSet<SkillCode>) -> Vec<SkillCode> {
    let needed = level.iter().filter_map(|code| graph.get(code)).flat_map(|skill| &skill.prerequisites);
    let mut next: Vec<SkillCode> = needed.filter(|code| !seen.contains(*code)).cloned().collect();
    next.sort();
    next.dedup();
    seen.extend(next.iter().cloned());
    next
}

/// Short types before long ones; the seed decides among equals.
fn simple_first(mut models: Vec<&ItemModel>, seed: u64) -> Vec<&ItemModel> {
    models.sort_by_key(|m| (is_deep(m), m.kind() == ItemKind::MultiSelect, mix(seed, &[m.slug()])));
    models
}
