//! Counts of a grade, without anybody's id.
//!
//! In:  the plan, the smallest count that is told. Out: a row a grade and target, and a row a grade and skill.
//! Keeps: a count is told only where it and the rest of the whole that stands beside it are at least the smallest, so that neither
//! can be worked out from the other (`a_small_count_is_an_empty_cell`). Not here: single children (`listed`).

use super::{Field, Kind, Table, field};
use sheaf_core::plan::Plan;
use std::collections::BTreeMap;

const GRADE: Field = field("grade", Kind::Text, "Grade as the school gave it.");
const SKILL: Field = field("skill", Kind::Text, "Code of the skill.");
const SKILL_NAME: Field = field("skill_name", Kind::Text, "The same in words.");

/// Children of one grade on one skill.
#[derive(Default)]
struct Counted {
    n: usize,
    n_lack: usize,
}

impl Counted {
    fn add(&mut self, is_lacked: bool) {
        self.n += 1;
        self.n_lack += usize::from(is_lacked);
    }

    /// The whole, and those of it who lack the skill.
    fn told(&self, smallest: usize) -> [String; 2] {
        let is_large = |n: usize| n >= smallest;
        let shown = |n: usize, is_told: bool| if is_told { n.to_string() } else { String::new() };
        let is_whole_told = is_large(self.n);
        let is_part_told = is_large(self.n_lack) && is_large(self.n - self.n_lack);
        [shown(self.n, is_whole_told), shown(self.n_lack, is_whole_told && is_part_told)]
    }
}

pub(super) fn groups(plan: &Plan, smallest: usize) -> Table {
    let mut by: BTreeMap<(&str, usize), Counted> = BTreeMap::new();
    for student in &plan.students {
        let target = student.group.and_then(|g| plan.groups.get(g)).map(|g| &g.target_skill);
        let Some(skill) = target.and_then(|code| plan.skills.iter().position(|s| s.code == *code)) else { continue };
        let is_lacked = student.profile.iter().any(|r| r.skill == skill && r.is_lacked());
        by.entry((&student.grade, skill)).or_default().add(is_lacked);
    }
    let fields = vec![
        GRADE,
        SKILL,
        SKILL_NAME,
        field("children", Kind::Whole, "Children whose group is taught the skill; empty where few."),
        field("lack_it", Kind::Whole, "Of these, children who lack it; empty where they or the others are few."),
    ];
    let about = "A row a grade and target skill of groups. Nobody is named; small counts are left out.";
    Table { name: "groups.csv", about, key: &["grade", "skill"], fields, rows: rows(plan, &by, smallest) }
}

pub(super) fn needs(plan: &Plan, smallest: usize) -> Table {
    let mut by: BTreeMap<(&str, usize), Counted> = BTreeMap::new();
    for student in &plan.students {
        for report in &student.profile {
            by.entry((&student.grade, report.skill)).or_default().add(report.is_lacked());
        }
    }
    let fields = vec![
        GRADE,
        SKILL,
        SKILL_NAME,
        field("measured", Kind::Whole, "Children for whom the skill was measured; empty where few."),
        field("lack_it", Kind::Whole, "Of these, children who lack it; empty where they or the others are few."),
    ];
    let about = "A row a grade and skill. Nobody is named; small counts are left out.";
    Table { name: "needs.csv", about, key: &["grade", "skill"], fields, rows: rows(plan, &by, smallest) }
}

fn rows(plan: &Plan, by: &BTreeMap<(&str, usize), Counted>, smallest: usize) -> Vec<Vec<String>> {
    let row = |(&(grade, skill), counted): (&(&str, usize), &Counted)| {
        let known = plan.skills.get(skill);
        let [whole, lack] = counted.told(smallest);
        let code = known.map_or_else(String::new, |s| s.code.to_string());
        vec![grade.to_owned(), code, known.map_or_else(String::new, |s| s.name.clone()), whole, lack]
    };
    by.iter().map(row).collect()
}
