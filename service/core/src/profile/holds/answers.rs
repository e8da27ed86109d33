//! The answers of each student as the model sees them: which item, what share of its points, how much it counts.
//!
//! Items that name no skill are left out. Skills of an item become a set of bits for the exact model (skill k is bit k), so at most
//! [`MOST_EXACT_SKILLS`] skills fit it. Not here: what the answers say (`lattice`, `factored`).

use super::super::{ShareTable, SkillMap};
use crate::scores::{ItemKind, ResponseTable};

/// Skills up to which every combination of skills is looked at.
pub(super) const MOST_EXACT_SKILLS: usize = 12;

/// How far an item can be guessed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Guessing {
    /// Options to choose from, or points alone, which do not tell.
    Offered,
    /// A number to write: nothing to choose from.
    Open,
}

impl Guessing {
    pub(super) const ALL: [Guessing; 2] = [Guessing::Offered, Guessing::Open];

    pub(super) fn idx(self) -> usize {
        match self {
            Guessing::Offered => 0,
            Guessing::Open => 1,
        }
    }
}

/// One item of the model.
#[derive(Debug, Clone)]
pub(super) struct ModelItem<'a> {
    /// Indexes of the skills that it needs, in order, at least one.
    pub skills: &'a [usize],
    /// Place of its set of skills among [`Answers::sets`].
    pub set: usize,
    pub guessing: Guessing,
}

/// One scored answer.
#[derive(Debug, Clone, Copy)]
pub(super) struct Answer {
    /// Index of the model item.
    pub item: usize,
    /// Share of the item's points, 0 to 1.
    pub share: f64,
    /// How much the answer counts, above 0 to 1: older ones less.
    pub weight: f64,
}

/// Items and answers of a class.
#[derive(Debug)]
pub(super) struct Answers<'a> {
    pub items: Vec<ModelItem<'a>>,
    /// Distinct sets of skills, as bits (only low [`MOST_EXACT_SKILLS`] skills are told apart).
    pub sets: Vec<u32>,
    /// Answers of each student, in order of model item.
    pub of_student: Vec<Vec<Answer>>,
}

impl<'a> Answers<'a> {
    pub(super) fn new(table: &ResponseTable, skills: &'a SkillMap, shares: &ShareTable, weights: &[f64]) -> Self {
        let mut items = Vec::new();
        let mut sets: Vec<u32> = Vec::new();
        let mut columns = Vec::new();
        for j in in_own_order(table, skills) {
            let needed = &skills.of_item[j];
            let bits = needed.iter().filter(|&&k| k < MOST_EXACT_SKILLS).fold(0_u32, |bits, &k| bits | 1 << k);
            let set = sets.iter().position(|&s| s == bits).unwrap_or_else(|| {
                sets.push(bits);
                sets.len() - 1
            });
            let facts = &table.items()[j];
            let is_open = facts.kind == ItemKind::Numeric && facts.key.is_some();
            let guessing = if is_open { Guessing::Open } else { Guessing::Offered };
            items.push(ModelItem { skills: needed, set, guessing });
            columns.push((j, weights.get(facts.assessment).copied().unwrap_or(1.0)));
        }
        let of_student = (0..table.n_students())
            .map(|student| {
                let answer = |(item, &(j, weight)): (usize, &(usize, f64))| {
                    shares.share(table, student, j).map(|share| Answer { item, share, weight })
                };
                columns.iter().enumerate().filter_map(answer).collect()
            })
            .collect();
        Answers { items, sets, of_student }
    }

    /// Whether some item needs more than one skill.
    pub(super) fn has_shared_items(&self) -> bool {
        self.items.iter().any(|i| i.skills.len() > 1)
    }
}

/// Items that name a skill, by what they need and their label: sums come out alike to the last bit however the columns of a sheet are laid.
fn in_own_order(table: &ResponseTable, skills: &SkillMap) -> Vec<usize> {
    let mut order: Vec<usize> = (0..skills.of_item.len()).filter(|&j| !skills.of_item[j].is_empty()).collect();
    let key = |j: usize| (&skills.of_item[j], table.items()[j].assessment, &table.items()[j].label);
    order.sort_by(|&a, &b| key(a).cmp(&key(b)));
    order
}
