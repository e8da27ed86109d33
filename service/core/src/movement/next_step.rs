//! What to try next with a child, from the verdict and the skills before the target.
//!
//! In:  the child's last week, the skill last taught, how it went, the skill graph. Out: one sentence; empty where nothing needs to change.
//! Keeps: `one_step_down_comes_before_other_ways`, `who_was_away_is_given_time`. A suggestion: the team decides.
//! Source: the order (step down, representation, size, adult) is common practice, no source. Not here: the verdict (`verdict`).

use super::facts::ChildFacts;
use super::{Judged, Verdict};
use crate::plan::SkillState;
use crate::profile::ErrorCatalogue;
use crate::skills::{SkillCode, SkillGraph};

pub(super) fn next_step(
    last: &ChildFacts,
    skill: &SkillCode,
    judged: &Judged,
    graph: &SkillGraph,
    catalogue: &ErrorCatalogue,
) -> String {
    if last.looks_guessed && judged.verdict == Verdict::NotEnough {
        return "The last answers look guessed: sit beside the child for two items before deciding.".to_owned();
    }
    if let Some(changed) = &judged.changed_idea {
        return format!(
            "The wrong idea is another one now (“{}”): teach against that one.",
            catalogue.idea(&changed.to)
        );
    }
    match judged.verdict {
        Verdict::ChangeSomething => change(last, skill, graph),
        Verdict::NotYetTaught => "Give the time first: find sessions that the child can come to.".to_owned(),
        Verdict::Lost => "Two items a week again, and a short reteach before the next skill.".to_owned(),
        Verdict::Close => "One more ticket decides; keep the target for a week.".to_owned(),
        Verdict::NotEnough => "More items on this skill, or more weeks, before anything is said.".to_owned(),
        Verdict::Met | Verdict::Left => String::new(),
    }
}

/// One step down where a skill before this one is lacked or was never seen; else another way to the same skill.
fn change(last: &ChildFacts, skill: &SkillCode, graph: &SkillGraph) -> String {
    let before = || graph.get(skill).into_iter().flat_map(|s| &s.prerequisites);
    let named = |code: &SkillCode| format!("{code} ({})", graph.name(code));
    if let Some(lacked) = before().find(|code| last.lacked.contains(code)) {
        return format!("Teach one step down first: {}.", named(lacked));
    }
    let is_unseen = |code: &&SkillCode| matches!(last.states.get(code), None | Some(SkillState::NotEnough));
    if let Some(unseen) = before().find(is_unseen) {
        return format!(
            "Ask two items one step down first: {}; else another representation, size or adult.",
            named(unseen)
        );
    }
    "The steps before are there: another representation, a smaller group, or another adult.".to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::facts::made_up::child;
    use super::*;

    fn judged(verdict: Verdict) -> Judged {
        Judged { verdict, reason: String::new(), changed_idea: None, has_gained: false, n_weeks: 0 }
    }

    fn code(text: &str) -> SkillCode {
        SkillCode::parse(text).unwrap()
    }

    #[test]
    fn one_step_down_comes_before_other_ways() {
        let graph = SkillGraph::builtin().unwrap();
        let skill = code("4.NF.A.2");
        let before = graph.get(&skill).unwrap().prerequisites.clone();
        let mut last = child("1", Some("g1"), "4.NF.A.2", 1.0, 5.0);
        let says = |last: &ChildFacts| {
            next_step(last, &skill, &judged(Verdict::ChangeSomething), &graph, &ErrorCatalogue::default())
        };
        assert!(says(&last).starts_with("Ask two items one step down"), "{}", says(&last));
        last.states.extend(before.iter().map(|code| (code.clone(), SkillState::Confirmed)));
        assert!(
            says(&last).contains("another representation") && !says(&last).contains("step down"),
            "{}",
            says(&last)
        );
        last.lacked.insert(before[0].clone());
        assert!(says(&last).contains(before[0].as_str()), "{}", says(&last));
    }

    #[test]
    fn who_was_away_is_given_time() {
        let graph = SkillGraph::builtin().unwrap();
        let mut last = child("1", Some("g1"), "4.NF.A.2", 1.0, 5.0);
        let says = |last: &ChildFacts, verdict| {
            next_step(last, &code("4.NF.A.2"), &judged(verdict), &graph, &ErrorCatalogue::default())
        };
        assert!(says(&last, Verdict::NotYetTaught).starts_with("Give the time first"));
        assert_eq!(says(&last, Verdict::Met), "");
        last.looks_guessed = true;
        assert!(says(&last, Verdict::NotEnough).contains("look guessed"));
        assert!(says(&last, Verdict::NotYetTaught).starts_with("Give the time first"));
    }
}
