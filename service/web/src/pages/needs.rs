//! A child's strip of needs: a drawn cell for each skill, points as numbers, the state as a pattern that a copier keeps.
//!
//! In:  the plan, a group, one of its members. Out: a [`Cell`] for each skill that anybody in the group was asked, in the plan's order, so
//! that the strips of a group stand cell under cell. Dense lines: a need. Dots: near the cut. Nothing with a broken edge: too few items
//! to say. Nothing with a tick: holds. Keeps: each state has a look and words of its own (`no_two_states_look_alike`).
//! Not here: patterns (`templates/hatches.html`), what a state means (`sheaf-core`).

use super::text;
use sheaf_core::plan::{Group, Plan, SkillReport, SkillState, StudentReport};

/// Width of a cell's drawing, and of one character of its text, in its own units.
const WIDTH: usize = 60;
const LETTER: usize = 7;
/// Longest text that needs no squeezing, characters.
const LONGEST: usize = 7;

/// One skill in a strip.
pub(super) struct Cell {
    pub(super) skill: String,
    /// What stands in the cell: `3/4`, `3/4 ✓`, `–`.
    pub(super) counts: String,
    pub(super) look: Look,
    /// All of it in words.
    pub(super) words: String,
    pub(super) is_target: bool,
    /// Where the paper under the text begins, and how wide it is.
    pub(super) hole_x: usize,
    pub(super) hole_width: usize,
    /// Whether the text is longer than the cell has room for, and is drawn narrower.
    pub(super) is_squeezed: bool,
}

/// How a state looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Look {
    /// Id of the pattern that fills the cell; empty where nothing does.
    pub(super) pattern: &'static str,
    /// Class of its edge.
    pub(super) edge: &'static str,
    /// After the counts.
    pub(super) sign: &'static str,
    pub(super) words: &'static str,
}

const NOT_ASKED: Look = Look { pattern: "", edge: "edge-none", sign: "", words: "not asked" };

/// In the order of the legend.
const STATES: [SkillState; 6] = [
    SkillState::NotYet,
    SkillState::Lost,
    SkillState::Close,
    SkillState::NotEnough,
    SkillState::MetOnce,
    SkillState::Confirmed,
];

fn look(state: SkillState) -> Look {
    let (pattern, edge, sign, words) = match state {
        SkillState::NotYet => ("need-not", "edge-full", "", "not yet"),
        SkillState::Lost => ("need-lost", "edge-full", "", "met before, now not"),
        SkillState::Close => ("need-close", "edge-full", "", "near the cut"),
        SkillState::NotEnough => ("", "edge-open", "?", "too few items to say"),
        SkillState::MetOnce => ("", "edge-thin", "✓", "met once"),
        SkillState::Confirmed => ("", "edge-thin", "✓✓", "holds, confirmed"),
    };
    Look { pattern, edge, sign, words }
}

/// Each state with an empty cell, for the legend.
pub(super) fn legend() -> Vec<Look> {
    STATES.into_iter().map(look).chain([NOT_ASKED]).collect()
}

/// The strip of a member.
pub(super) fn strip(plan: &Plan, group: &Group, student: &StudentReport) -> Vec<Cell> {
    let members = group.members.iter().filter_map(|&m| plan.students.get(m));
    let mut asked: Vec<usize> = members.flat_map(|m| m.profile.iter().map(|s| s.skill)).collect();
    asked.sort_unstable();
    asked.dedup();
    asked.into_iter().filter_map(|skill| cell(plan, group, student, skill)).collect()
}

fn cell(plan: &Plan, group: &Group, student: &StudentReport, skill_idx: usize) -> Option<Cell> {
    let skill = plan.skills.get(skill_idx)?;
    let report = student.profile.iter().find(|r| r.skill == skill_idx);
    let look = report.map_or(NOT_ASKED, |r| look(r.state));
    let counts = report.map_or_else(|| "–".to_owned(), |r| format!("{} {}", counts_of(r), look.sign).trim().to_owned());
    let is_target = skill.code == group.target_skill;
    let hole_width = (LETTER * (counts.chars().count() + 1)).min(WIDTH - 8);
    Some(Cell {
        skill: skill.code.to_string(),
        words: words(skill, report, look, is_target),
        look,
        is_squeezed: counts.chars().count() > LONGEST,
        counts,
        is_target,
        hole_x: (WIDTH - hole_width) / 2,
        hole_width,
    })
}

fn counts_of(report: &SkillReport) -> String {
    format!("{}/{}", text::points(report.points), text::points(report.points_possible))
}

fn words(skill: &sheaf_core::plan::MeasuredSkill, report: Option<&SkillReport>, look: Look, is_target: bool) -> String {
    let code = skill.code.to_string();
    let name = if skill.name == code { String::new() } else { format!(" ({})", skill.name) };
    let got = report.map_or_else(String::new, |r| {
        format!(", {} of {} points", text::points(r.points), text::points(r.points_possible))
    });
    let target = if is_target { ", taught in this group" } else { "" };
    format!("{code}{name}: {}{got}{target}", look.words)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_states_look_alike() {
        let looks = legend();
        assert_eq!(looks.len(), 7);
        let drawn = include_str!("../../templates/hatches.html");
        for (at, look) in looks.iter().enumerate() {
            let is_drawn = look.pattern.is_empty() || drawn.contains(&format!("id=\"{}\"", look.pattern));
            assert!(is_drawn, "{}", look.pattern);
            for other in &looks[at + 1..] {
                assert_ne!((look.pattern, look.edge, look.sign), (other.pattern, other.edge, other.sign));
                assert_ne!(look.words, other.words);
            }
        }
    }
}
