//! Which skills the sheets measure, and which items need them.
//!
//! Out: skills in teaching order (prerequisites first, lower grades first; codes the graph does not know after them, by code).
//! Where no item names a skill, each item is taken as a skill of its own, named by its label, and [`SkillMap::is_by_item`] says so.

use crate::plan::MeasuredSkill;
use crate::scores::ResponseTable;
use crate::skills::{SkillCode, SkillGraph};
use std::collections::BTreeSet;

/// Skills of a table and the items that need them.
#[derive(Debug, Clone)]
pub struct SkillMap {
    /// Skills in teaching order.
    pub skills: Vec<MeasuredSkill>,
    /// For each item, indexes of the skills it needs.
    pub of_item: Vec<Vec<usize>>,
    /// For each skill, indexes of the items that need it.
    pub items_of: Vec<Vec<usize>>,
    /// For each skill, indexes of measured skills that it needs, directly or through others.
    pub prerequisites: Vec<Vec<usize>>,
    /// Grade of each skill, where known.
    pub grades: Vec<Option<u8>>,
    /// Whether items stand for skills because no item names one.
    pub is_by_item: bool,
}

impl SkillMap {
    /// Collects the skills of a table.
    #[must_use]
    pub fn new(table: &ResponseTable, graph: &SkillGraph) -> Self {
        let is_by_item = table.items().iter().all(|i| i.skills.is_empty());
        let needs: Vec<Vec<SkillCode>> = table
            .items()
            .iter()
            .map(
                |item| {
                    if is_by_item { SkillCode::parse(&item.label).into_iter().collect() } else { item.skills.clone() }
                },
            )
            .collect();
        let mut codes: Vec<SkillCode> = needs.iter().flatten().cloned().collect::<BTreeSet<_>>().into_iter().collect();
        codes.sort_by(|a, b| graph.rank(a).cmp(&graph.rank(b)).then(a.cmp(b)));
        let place = |code: &SkillCode| codes.iter().position(|c| c == code);
        let of_item: Vec<Vec<usize>> = needs
            .iter()
            .map(|codes| codes.iter().filter_map(place).collect::<BTreeSet<_>>().into_iter().collect())
            .collect();
        let items_of: Vec<Vec<usize>> =
            (0..codes.len()).map(|k| (0..of_item.len()).filter(|&j| of_item[j].contains(&k)).collect()).collect();
        let prerequisites =
            codes.iter().map(|c| graph.all_prerequisites(c).iter().filter_map(place).collect()).collect();
        let grades = codes.iter().map(|c| graph.grade(c)).collect();
        let skills = codes
            .iter()
            .zip(&items_of)
            .map(|(code, items)| MeasuredSkill {
                name: graph.name(code).to_owned(),
                code: code.clone(),
                n_items: items.len(),
            })
            .collect();
        SkillMap { skills, of_item, items_of, prerequisites, grades, is_by_item }
    }

    /// Number of skills.
    #[must_use]
    pub fn n_skills(&self) -> usize {
        self.skills.len()
    }
}
