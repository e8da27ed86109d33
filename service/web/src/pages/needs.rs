//! A child's strip of needs: a drawn cell for each skill, points as numbers, the state as a pattern that a copier keeps.
//!
//! In:  the plan, a group, one of its members. Out: a [`Cell`] for each skill that anybody in the group was asked, in the plan's order, so
//! that the strips of a group stand cell under cell. Dense lines: a need. Dots: near the cut. Nothing with a broken edge: too few items
//! to say. Nothing with a tick: holds. Keeps: each state has a look and words of its own (`no_two_states_look_alike`),
//! drawn once a page (`every_pattern_and_hole_is_drawn_once`).
//! Not here: patterns (`templates/hatches.html`), what a state means (`sheaf-core`).

use super::text;
use sheaf_core::plan::{Group, Plan, SkillReport, SkillState, StudentReport};

/// Shortest and longest text that paper is cut out for, characters.
const HOLES: (usize, usize) = (3, 7);
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
    /// For how many characters the pattern is left out under the text; `None` where there is no pattern.
    pub(super) hole: Option<usize>,
    /// Whether the text is longer than the cell has room for, and is drawn narrower.
    pub(super) is_squeezed: bool,
}

/// How a state looks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Look {
    /// The drawing is `cell-` and this.
    pub(super) name: &'static str,
    is_hatched: bool,
    /// After the counts.
    pub(super) sign: &'static str,
    pub(super) words: &'static str,
}

const NOT_ASKED: Look = Look { name: "none", is_hatched: false, sign: "", words: "not asked" };

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
    let (name, is_hatched, sign, words) = match state {
        SkillState::NotYet => ("not", true, "", "not yet"),
        SkillState::Lost => ("lost", true, "", "met before, now not"),
        SkillState::Close => ("close", true, "", "near the cut"),
        SkillState::NotEnough => ("open", false, "?", "too few items to say"),
        SkillState::MetOnce => ("met", false, "✓", "met once"),
        SkillState::Confirmed => ("met", false, "✓✓", "holds, confirmed"),
    };
    Look { name, is_hatched, sign, words }
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
    let length = counts.chars().count();
    Some(Cell {
        skill: skill.code.to_string(),
        words: words(skill, report, look, is_target),
        look,
        is_squeezed: length > LONGEST,
        hole: look.is_hatched.then(|| length.clamp(HOLES.0, HOLES.1)),
        counts,
        is_target,
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
            let tag = drawn.split_once(&format!("<rect id=\"cell-{}\"", look.name)).unwrap().1.lines().next().unwrap();
            assert_eq!(tag.contains("url(#need-"), look.is_hatched, "{tag}");
            for other in &looks[at + 1..] {
                assert_ne!((look.name, look.sign), (other.name, other.sign));
                assert_ne!(look.words, other.words);
            }
        }
    }

    #[test]
    fn every_pattern_and_hole_is_drawn_once() {
        let drawn = include_str!("../../templates/hatches.html");
        for n in HOLES.0..=HOLES.1 {
            assert_eq!(drawn.matches(&format!("id=\"hole-{n}\"")).count(), 1, "{n}");
        }
        for name in ["need-not", "need-lost", "need-close"] {
            assert_eq!(drawn.matches(&format!("<pattern id=\"{name}\"")).count(), 1, "{name}");
            assert_eq!(drawn.matches(&format!("url(#{name})")).count(), 1, "{name}");
        }
    }
}
