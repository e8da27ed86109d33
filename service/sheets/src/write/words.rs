//! Plain words and marks for what the plan says.
//!
//! Keeps: a mark is told by its shape (filled, half, open, dash), never by colour (`every_state_has_a_mark_and_words`);
//! counts come before ranges (`a_skill_cell_begins_with_the_count`). Not here: where the words stand.

use sheaf_core::plan::{SkillReport, SkillState, UnplacedKind};
use sheaf_core::rotation::Session;

/// `2`, or `1.5` where it is not whole.
pub(super) fn figure(value: f64) -> String {
    let rounded = (value * 10.0).round() / 10.0;
    format!("{rounded}")
}

/// A mark and words for a state.
pub(super) fn state(state: SkillState) -> &'static str {
    match state {
        SkillState::Confirmed => "● confirmed",
        SkillState::MetOnce => "● met once",
        SkillState::Close => "◐ close",
        SkillState::NotYet => "○ not yet",
        SkillState::Lost => "○ lost",
        SkillState::NotEnough => "– not enough",
    }
}

/// What each mark means, for the legend.
pub(super) const LEGEND: [&str; 5] = [
    "● holds so far: met once, or confirmed on a later ticket.   ◐ close: the range still spans the cut.",
    "○ not yet, or lost: was confirmed and is now under the cut.",
    "– not enough: under three scored items, so no verdict.",
    "Points got of points possible, the mark, then the range in which the true share lies 8 times in 10.",
    "Bold: more likely than not, the student lacks the skill.",
];

/// The same where many skills stand side by side.
pub(super) const SHORT_LEGEND: [&str; 5] = [
    "● holds so far: met once.   ●● confirmed on a later ticket.   ◐ close: the range still spans the cut.",
    "○ not yet.   ○○ lost: was confirmed and is now under the cut.",
    LEGEND[2],
    LEGEND[3],
    LEGEND[4],
];

/// A mark alone, told apart without words.
pub(super) fn mark(state: SkillState) -> &'static str {
    match state {
        SkillState::Confirmed => "●●",
        SkillState::MetOnce => "●",
        SkillState::Close => "◐",
        SkillState::NotYet => "○",
        SkillState::Lost => "○○",
        SkillState::NotEnough => "–",
    }
}

/// `2 of 5`.
pub(super) fn count(report: &SkillReport) -> String {
    format!("{} of {}", figure(report.points), figure(report.points_possible))
}

/// The count, the mark and the range of a skill: `2 of 5  ○ not yet`, then `24–61 %` on a line of its own.
pub(super) fn skill_cell(report: &SkillReport) -> String {
    format!("{}  {}\n{}", count(report), state(report.state), range(report))
}

/// The same with the mark alone: `2 of 5 ○`.
pub(super) fn short_skill_cell(report: &SkillReport) -> String {
    format!("{} {}\n{}", count(report), mark(report.state), range(report))
}

fn range(report: &SkillReport) -> String {
    let percent = |share: f64| (share * 100.0).round();
    format!("{}–{} %", percent(report.share_low), percent(report.share_high))
}

/// Why somebody has no seat.
pub(super) fn unplaced(kind: UnplacedKind) -> &'static str {
    match kind {
        UnplacedKind::Waits => "waits",
        UnplacedKind::NoNeed => "no need",
        UnplacedKind::NoScores => "no scores",
    }
}

/// What is odd about an item, in words.
pub(super) fn item_flag(flag: &str) -> String {
    match flag {
        "everybody-right" => "Everybody has it right: it tells nobody apart.".to_owned(),
        "nobody-right" => "Nobody has it right: is the key right, was it taught?".to_owned(),
        "nobody-took-it" => "Nobody took it.".to_owned(),
        "missed-by-those-who-know-the-rest" => "Those who know the rest miss it: look at the key first.".to_owned(),
        "key-probably-wrong" => "The key is probably wrong: those who know the rest choose another option.".to_owned(),
        "options-without-use" => "An option is hardly chosen, or chosen by those who know the rest.".to_owned(),
        other => other.replace('-', " "),
    }
}

/// `Mon 09:00–09:30`.
pub(super) fn when(session: &Session) -> String {
    format!("{} {}–{}", session.time.day.short(), session.time.start, session.time.end)
}

/// Parts that are not empty, with a dot between.
pub(super) fn dotted<'t>(parts: impl IntoIterator<Item = &'t str>) -> String {
    parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" · ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn report(points: f64) -> SkillReport {
        SkillReport {
            skill: 0,
            mastery: 0.2,
            share_low: 0.236,
            share_high: 0.61,
            n_items: 5,
            points,
            points_possible: 5.0,
            state: SkillState::NotYet,
        }
    }

    #[test]
    fn a_skill_cell_begins_with_the_count() {
        assert_eq!(skill_cell(&report(2.0)), "2 of 5  ○ not yet\n24–61 %");
        assert!(skill_cell(&report(1.5)).starts_with("1.5 of 5"));
        assert_eq!(short_skill_cell(&report(2.0)), "2 of 5 ○\n24–61 %");
    }

    #[test]
    fn every_state_has_a_mark_and_words() {
        let all = [
            SkillState::NotEnough,
            SkillState::Lost,
            SkillState::Confirmed,
            SkillState::MetOnce,
            SkillState::Close,
            SkillState::NotYet,
        ];
        for each in all {
            let (mark, words) = state(each).split_once(' ').unwrap();
            assert!(["●", "◐", "○", "–"].contains(&mark) && words.len() > 3, "{mark} {words}");
            assert!(LEGEND.concat().contains(words), "{words} is not in the legend");
            let alone = format!("{} ", super::mark(each));
            assert!(SHORT_LEGEND.iter().any(|l| l.starts_with(&alone) || l.contains(&format!(" {alone}"))), "{alone}");
        }
    }

    #[test]
    fn an_unknown_flag_is_still_readable() {
        assert_eq!(item_flag("few-answers"), "few answers");
    }
}
