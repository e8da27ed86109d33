//! Draws for the places of a ticket: none twice, key letters spread, the shared wrong idea among the options where it can be.

use super::code::mix;
use super::models::Slot;
use super::request::TicketGap;
use crate::scores::ItemKind;
use crate::skills::SkillCode;
use crate::tickets::draw::{TURN, draw_fingerprint, draw_item, redraw};
use crate::tickets::model::{Body, Face, ItemModel};
use crate::tickets::{ParamValue, TicketItem};
use std::collections::{BTreeMap, BTreeSet};

/// Draws that are looked at for one place.
const N_LOOKED_AT: u64 = 16;

/// Remembers what was drawn.
pub(super) struct Drawer<'a> {
    seed: u64,
    pattern: Option<&'a str>,
    drawn: BTreeSet<u64>,
    n_draws: u64,
    /// Keys on this form by letter.
    letters: BTreeMap<String, usize>,
}

impl<'a> Drawer<'a> {
    pub(super) fn new(seed: u64, pattern: Option<&'a str>) -> Self {
        Drawer { seed, pattern, drawn: BTreeSet::new(), n_draws: 0, letters: BTreeMap::new() }
    }

    /// Key letters are counted anew on each form.
    pub(super) fn begin_form(&mut self, form_idx: usize) {
        self.letters.clear();
        self.seed = mix(self.seed.wrapping_add(form_idx as u64), &["form"]);
    }

    /// An item for each slot, numbered. Those whose key has the least freedom are drawn first, and the others fill the
    /// letters that are left.
    pub(super) fn draw_all(&mut self, slots: &[Slot<'_>], skill: &SkillCode) -> Result<Vec<TicketItem>, TicketGap> {
        let mut order: Vec<usize> = (0..slots.len()).collect();
        order
            .sort_by_key(|idx| slots.get(*idx).and_then(|s| s.first()).is_none_or(|model| !has_ordered_options(model)));
        let mut items = Vec::with_capacity(slots.len());
        for (idx, slot) in order.into_iter().filter_map(|idx| Some((idx, slots.get(idx)?))) {
            let item = self.draw(slot, skill)?;
            items.push(TicketItem { number: idx + 1, ..item });
        }
        items.sort_by_key(|item| item.number);
        Ok(items)
    }

    /// An item of the first model of the slot that gives one not drawn before; a draw made before only where none is new.
    pub(super) fn draw(&mut self, slot: &[&ItemModel], skill: &SkillCode) -> Result<TicketItem, TicketGap> {
        let mut reason = String::new();
        let mut repeated = None;
        for model in slot {
            match self.best(model) {
                Ok((item, true)) => return Ok(self.keep(item)),
                Ok((item, false)) => repeated = repeated.or(Some(item)),
                Err(e) => reason = e,
            }
        }
        match repeated {
            Some(item) => Ok(self.keep(item)),
            None => Err(TicketGap::NoDraw { skill: skill.clone(), reason }),
        }
    }

    fn keep(&mut self, item: TicketItem) -> TicketItem {
        self.drawn.insert(draw_fingerprint(&item.model, &item.params));
        for key in letters_of(&item) {
            *self.letters.entry(key).or_insert(0) += 1;
        }
        item
    }

    /// The best of several draws of a model, and whether it is new.
    fn best(&mut self, model: &ItemModel) -> Result<(TicketItem, bool), String> {
        let mut best: Option<((bool, bool, usize), TicketItem)> = None;
        for _ in 0..N_LOOKED_AT {
            self.n_draws += 1;
            let seed = mix(self.seed.wrapping_add(self.n_draws), &[model.slug()]);
            let item = self.turned(model, draw_item(model, seed).map_err(|e| e.to_string())?);
            let rank = self.rank(&item);
            if best.as_ref().is_none_or(|(b, _)| rank < *b) {
                best = Some((rank, item));
            }
            if rank == (false, false, 0) {
                break;
            }
        }
        best.map(|((is_repeated, ..), item)| (item, !is_repeated)).ok_or_else(|| "nothing was drawn".to_owned())
    }

    /// Smaller is better: drawn before; without the shared wrong idea; how often its key letters were the key already.
    fn rank(&self, item: &TicketItem) -> (bool, bool, usize) {
        let is_repeated = self.drawn.contains(&draw_fingerprint(&item.model, &item.params));
        let is_silent = self.pattern.is_some_and(|p| !shows(item, p));
        let least = ["A", "B", "C", "D"].iter().map(|l| self.n_keys(l)).min().unwrap_or(0);
        let crowd = letters_of(item).iter().map(|l| self.n_keys(l).saturating_sub(least)).sum();
        (is_repeated, is_silent, crowd)
    }

    fn n_keys(&self, letter: &str) -> usize {
        self.letters.get(letter).copied().unwrap_or(0)
    }

    /// The item with its shuffled options turned so that its key stands at a letter that was seldom the key.
    fn turned(&self, model: &ItemModel, item: TicketItem) -> TicketItem {
        if !matches!(model.body, Body::Choice(_) | Body::TwoPart(_)) {
            return item;
        }
        let n_turns = item.options.len().max(4);
        let start = draw_fingerprint(&item.model, &item.params) as usize % n_turns;
        let mut best = item.clone();
        for turn in (0..n_turns).map(|t| (t + start) % n_turns).filter(|t| *t > 0) {
            let mut params = item.params.clone();
            params.insert(TURN.to_owned(), ParamValue::Int(turn as i64));
            match redraw(model, &params) {
                Ok(other) if other.options != item.options || other.parts != item.parts => {
                    if self.rank(&other) < self.rank(&best) {
                        best = other;
                    }
                }
                _ => {}
            }
        }
        best
    }
}

/// Whether the options are numbers, whose order is given.
fn has_ordered_options(model: &ItemModel) -> bool {
    matches!(&model.body, Body::Choice(spec) if matches!(spec.key.face, Face::Value(_)))
}

/// Letters that are keys of a choice, its own or of its parts; parts with options that are always the same do not count.
fn letters_of(item: &TicketItem) -> Vec<String> {
    match item.kind {
        ItemKind::Choice => item.key.clone(),
        ItemKind::TwoPart => item.parts.iter().filter(|p| p.options.len() >= 4).flat_map(|p| p.key.clone()).collect(),
        ItemKind::MultiSelect | ItemKind::Match | ItemKind::Numeric => Vec::new(),
    }
}

/// Whether an answer to the item can show the wrong idea.
fn shows(item: &TicketItem, pattern: &str) -> bool {
    item.options.iter().any(|o| o.patterns.iter().any(|p| p == pattern))
        || item.rows.iter().any(|r| r.patterns.values().chain(r.also.values()).any(|p| p == pattern))
        || item.wrong_entries.iter().any(|(_, p)| p == pattern)
        || item.parts.iter().any(|p| shows(p, pattern))
}
