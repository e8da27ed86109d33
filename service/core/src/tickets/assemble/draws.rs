//! Draws for the places of a ticket: none twice, key letters spread, the shared wrong idea among the options where it can be.
//! The same request and seed give the same draws; a place that no draw can fill is left to the next model.

use super::code::mix;
use super::models::Slot;
use super::request::TicketGap;
use crate::skills::SkillCode;
use crate::tickets::draw::{TURN, draw_fingerprint, draw_item_at, redraw};
use crate::tickets::model::{Body, Face, ItemModel, Level};
use crate::tickets::{ParamValue, TicketItem};
use std::collections::{BTreeMap, BTreeSet};

/// Draws that are looked at for one place.
const N_LOOKED_AT: u64 = 5;

/// Times that [`N_LOOKED_AT`] draws are looked at where one new draw is asked for.
const N_FOR_ANOTHER: u64 = 40;

/// Items of a form that offer one idea besides the shared one, where others can be drawn: a child who guesses then seldom shows it
/// often enough to be called likely.
const MOST_OFFERS: usize = 2;

/// Letters over which keys are spread.
const KEY_LETTERS: [&str; 4] = ["A", "B", "C", "D"];

/// Remembers what was drawn.
pub(super) struct Drawer<'a> {
    seed: u64,
    pattern: Option<&'a str>,
    drawn: BTreeSet<u64>,
    n_draws: u64,
    /// Keys on this form by letter.
    letters: BTreeMap<String, usize>,
    /// Items on this form that offer an idea, by its code.
    offers: BTreeMap<String, usize>,
    /// Which of equally seldom letters is wanted first, by lot for each form.
    lot: [usize; 4],
}

impl<'a> Drawer<'a> {
    /// Draws in `met` count as drawn before.
    pub(super) fn new(seed: u64, pattern: Option<&'a str>, met: &BTreeSet<u64>) -> Self {
        Drawer {
            seed,
            pattern,
            drawn: met.clone(),
            n_draws: 0,
            letters: BTreeMap::new(),
            offers: BTreeMap::new(),
            lot: lot(seed),
        }
    }

    /// Key letters are counted anew on each form.
    pub(super) fn begin_form(&mut self, form_idx: usize) {
        self.letters.clear();
        self.offers.clear();
        self.seed = mix(self.seed.wrapping_add(form_idx as u64), &["form"]);
        self.lot = lot(self.seed);
    }

    /// An item for each slot, numbered. Those whose key has the least freedom are drawn first, and the others fill the
    /// letters that are left.
    pub(super) fn draw_all(&mut self, slots: &[Slot<'_>], skill: &SkillCode) -> Result<Vec<TicketItem>, TicketGap> {
        let mut order: Vec<usize> = (0..slots.len()).collect();
        order.sort_by_key(|idx| slots.get(*idx).and_then(|s| s.models.first()).is_none_or(|m| !has_ordered_options(m)));
        let mut items = Vec::with_capacity(slots.len());
        for (idx, slot) in order.into_iter().filter_map(|idx| Some((idx, slots.get(idx)?))) {
            let item = self.draw(&slot.models, slot.level, skill)?;
            items.push(TicketItem { number: idx + 1, ..item });
        }
        items.sort_by_key(|item| item.number);
        Ok(items)
    }

    /// An item of the first model of the slot that gives one not drawn before; a draw made before only where none is new.
    pub(super) fn draw(
        &mut self,
        models: &[&ItemModel],
        level: Level,
        skill: &SkillCode,
    ) -> Result<TicketItem, TicketGap> {
        let mut reason = String::new();
        let mut repeated = None;
        for model in models {
            match self.best(model, level) {
                Ok((item, true)) => return Ok(self.keep(model, item)),
                Ok((item, false)) => repeated = repeated.or(Some((*model, item))),
                Err(e) => reason = e,
            }
        }
        match repeated {
            Some((model, item)) => Ok(self.keep(model, item)),
            None => Err(TicketGap::NoDraw { skill: skill.clone(), reason }),
        }
    }

    fn keep(&mut self, model: &ItemModel, item: TicketItem) -> TicketItem {
        self.drawn.insert(draw_fingerprint(&item.model, &item.params));
        for key in letters_of(model, &item) {
            *self.letters.entry(key).or_insert(0) += 1;
        }
        for code in item.codes() {
            *self.offers.entry(code.to_owned()).or_insert(0) += 1;
        }
        item
    }

    /// The best of several draws of a model, and whether it is new. Where the model has no such level, as it is written.
    fn best(&mut self, model: &ItemModel, level: Level) -> Result<(TicketItem, bool), String> {
        let level = if model.has_level(level) { level } else { Level::AsWritten };
        let mut best: Option<(Rank, TicketItem)> = None;
        for _ in 0..N_LOOKED_AT {
            self.n_draws += 1;
            let seed = mix(self.seed.wrapping_add(self.n_draws), &[model.slug()]);
            let item = self.turned(model, draw_item_at(model, seed, level).map_err(|e| e.to_string())?);
            let item = TicketItem { level, ..item };
            let rank = self.rank(model, &item);
            if best.as_ref().is_none_or(|(b, _)| rank < *b) {
                best = Some((rank, item));
            }
            if rank == (false, false, 0, 0) {
                break;
            }
        }
        best.map(|((is_repeated, ..), item)| (item, !is_repeated)).ok_or_else(|| "nothing was drawn".to_owned())
    }

    /// A new draw of a model alone, for a place whose other items stay; `None` where no draw is new.
    pub(super) fn another(&mut self, model: &ItemModel, level: Level) -> Result<Option<TicketItem>, String> {
        for _ in 0..N_FOR_ANOTHER {
            if let (item, true) = self.best(model, level)? {
                return Ok(Some(item));
            }
        }
        Ok(None)
    }

    fn rank(&self, model: &ItemModel, item: &TicketItem) -> Rank {
        let is_repeated = self.drawn.contains(&draw_fingerprint(&item.model, &item.params));
        let is_silent = self.pattern.is_some_and(|p| !item.can_show(p));
        let wanted = self.wanted_letters();
        let place = |letter: &String| wanted.iter().position(|w| w == letter).unwrap_or(wanted.len());
        let is_full =
            |code: &&str| Some(*code) != self.pattern && self.offers.get(*code).is_some_and(|n| *n >= MOST_OFFERS);
        let n_crowded = item.codes().into_iter().filter(|code| is_full(code)).count();
        (is_repeated, is_silent, n_crowded, letters_of(model, item).iter().map(place).sum())
    }

    /// Letters from the one that was the key most seldom on this form.
    fn wanted_letters(&self) -> [&'static str; 4] {
        let mut places = [0, 1, 2, 3];
        places.sort_by_key(|place| {
            let n_keys = KEY_LETTERS.get(*place).and_then(|l| self.letters.get(*l)).copied().unwrap_or(0);
            (n_keys, self.lot.get(*place).copied())
        });
        places.map(|place| KEY_LETTERS.get(place).copied().unwrap_or("A"))
    }

    /// The item with its key at the most wanted letter that its options allow.
    fn turned(&self, model: &ItemModel, item: TicketItem) -> TicketItem {
        let [Some(current)] = letters_of(model, &item).iter().map(|l| place_of(l)).collect::<Vec<_>>()[..] else {
            return item;
        };
        let is_ordered = has_ordered_options(model);
        for wanted in self.wanted_letters().iter().filter_map(|l| place_of(l)) {
            let turn = if is_ordered { wanted + 1 } else { (wanted + 4 - current) % 4 };
            if wanted == current {
                return item;
            }
            let mut params = item.params.clone();
            params.insert(TURN.to_owned(), ParamValue::Int(turn as i64));
            match redraw(model, &params) {
                Ok(other) if letters_of(model, &other).iter().any(|l| place_of(l) == Some(wanted)) => return other,
                _ => {}
            }
        }
        item
    }
}

/// Smaller is better: drawn before; without the shared wrong idea; ideas that enough items offer already; how far its key letters are
/// from the most wanted one.
type Rank = (bool, bool, usize, usize);

/// A permutation of four places.
fn lot(seed: u64) -> [usize; 4] {
    let mut places = [0, 1, 2, 3];
    places.sort_by_key(|place| mix(seed.wrapping_add(*place as u64), &["lot"]));
    places
}

fn place_of(letter: &str) -> Option<usize> {
    KEY_LETTERS.iter().position(|l| *l == letter)
}

/// Whether the options are numbers, whose order is given.
fn has_ordered_options(model: &ItemModel) -> bool {
    matches!(&model.body, Body::Choice(spec) if matches!(spec.key.face, Face::Value(_)))
}

/// Letters that are keys of a choice, its own or of its parts; parts with options that are always the same do not count.
fn letters_of(model: &ItemModel, item: &TicketItem) -> Vec<String> {
    match &model.body {
        Body::Choice(_) => item.key.clone(),
        Body::TwoPart(specs) => {
            let moving = specs.iter().zip(&item.parts).filter(|(spec, _)| spec.choice.show.is_empty());
            moving.flat_map(|(_, part)| part.key.clone()).collect()
        }
        Body::MultiSelect { .. } | Body::Match { .. } | Body::Numeric { .. } => Vec::new(),
    }
}
