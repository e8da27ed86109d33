//! Which standard has which item models, as a Markdown table.
//!
//! In:  item models and the skill graph. Out: a row for every skill of grades 3 to 5 that is asked by itself, with how many
//!      models it has, of which types, and their names; below it the skills that have none.
//! Keeps: the table in `config/item_models/COVERAGE.md` is the one made here (`the_table_in_the_docs_is_current`).
//! Not here: what a model asks (`config/item_models/README.md`).

use super::model::{ItemModel, ModelLibrary};
use crate::skills::{Skill, SkillCode, SkillGraph};
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// Grades whose skills are listed.
const GRADES: std::ops::RangeInclusive<u8> = 3..=5;

/// The table, with a heading and the command that makes it.
#[must_use]
pub fn coverage_table(library: &ModelLibrary, graph: &SkillGraph) -> String {
    let skills: Vec<&Skill> = graph.iter().filter(|s| GRADES.contains(&s.grade) && !is_umbrella(s, graph)).collect();
    let rows: Vec<(&Skill, Vec<&ItemModel>)> =
        skills.iter().map(|skill| (*skill, library.iter().filter(|m| *m.skill() == skill.code).collect())).collect();
    let (with, without): (Vec<_>, Vec<_>) = rows.into_iter().partition(|(_, models)| !models.is_empty());
    let n_models: usize = with.iter().map(|(_, models)| models.len()).sum();
    let n_more = with.iter().filter(|(_, models)| models.len() > 1).count();
    let mut out = format!(
        "# Item models by standard\n\n\
         Made by `sheaf tickets --coverage`; not written by hand. {n_models} models for {} of {} skills of grades 3 to 5; \
         {n_more} skills have two or more.\n\n\
         | standard | models | types | names |\n| --- | --- | --- | --- |\n",
        with.len(),
        with.len() + without.len(),
    );
    for (skill, models) in &with {
        let names: Vec<String> = models.iter().map(|m| format!("`{}`", m.slug())).collect();
        let _ = writeln!(out, "| {} | {} | {} | {} |", skill.code, models.len(), types(models), names.join(", "));
    }
    out.push_str("\nWithout a model: ");
    let codes: Vec<&str> = without.iter().map(|(skill, _)| skill.code.as_str()).collect();
    out.push_str(&if codes.is_empty() { "none".to_owned() } else { codes.join(", ") });
    out.push_str(".\n");
    out
}

/// Types of some models, each once.
fn types(models: &[&ItemModel]) -> String {
    let types: BTreeSet<&str> = models.iter().map(|m| m.kind().word()).collect();
    types.into_iter().collect::<Vec<_>>().join(", ")
}

/// Whether a skill only stands for its lettered parts.
fn is_umbrella(skill: &Skill, graph: &SkillGraph) -> bool {
    let part = SkillCode::parse(&format!("{}a", skill.code));
    part.is_some_and(|part| graph.get(&part).is_some())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> String {
        let graph = SkillGraph::parse(include_str!("../../../../config/skills/standards.csv")).unwrap();
        coverage_table(&ModelLibrary::builtin(), &graph)
    }

    #[test]
    fn the_table_in_the_docs_is_current() {
        let kept = include_str!("../../../../config/item_models/COVERAGE.md");
        assert!(kept == table(), "make it again: sheaf tickets --coverage > config/item_models/COVERAGE.md");
    }

    #[test]
    fn every_model_stands_in_the_table_once_under_its_skill() {
        let table = table();
        for model in ModelLibrary::builtin().iter() {
            let name = format!("`{}`", model.slug());
            let lines: Vec<&str> = table.lines().filter(|line| line.contains(&name)).collect();
            assert_eq!(lines.len(), 1, "{name}");
            assert!(lines[0].starts_with(&format!("| {} |", model.skill())), "{}", lines[0]);
        }
    }
}
