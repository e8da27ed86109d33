//! What the items cannot tell: skills that these items do not keep apart.
//!
//! Two skills that are asked by the same items always come out alike: whoever misses one of the items lacks either of them. A skill
//! that is asked only together with another shows nothing for a student who lacks the other. In: which items need which skills.
//! Out: [`Blurred`] pairs, each with the item that would mend it: one on the blurred skill alone.
//! Keeps: `skills_of_the_same_items_are_not_told_apart`, `a_skill_with_an_item_of_its_own_is_told`,
//! `a_published_test_of_fractions_tells_two_skills_of_five`.
//! Source: the condition that each skill has an item of its own makes all profiles tell apart (Chiu, Douglas & Li 2009,
//! Psychometrika 74:633-665; from memory).

use super::SkillMap;

/// A skill that the items blur.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Blurred {
    /// Index of the skill that is not seen by itself.
    pub skill: usize,
    /// Index of the skill that is asked with it every time.
    pub with: usize,
    /// How.
    pub kind: BlurKind,
}

/// How two skills are blurred.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BlurKind {
    /// The same items ask both.
    SameItems,
    /// Every item on the skill asks the other too, which has items of its own.
    OnlyTogether,
    /// No item asks the skill alone, though no one other skill comes with it every time; the other is the one that comes most often.
    NeverAlone,
}

/// Skills that the items blur, in order of skill; of skills with the same items each pair comes once.
#[must_use]
pub fn blurred_skills(skills: &SkillMap) -> Vec<Blurred> {
    let is_within = |a: usize, b: usize| skills.items_of[a].iter().all(|j| skills.items_of[b].binary_search(j).is_ok());
    let mut blurred = Vec::new();
    for skill in 0..skills.n_skills() {
        for with in (0..skills.n_skills()).filter(|&w| w != skill && is_within(skill, w)) {
            match is_within(with, skill) {
                true if skill < with => blurred.push(Blurred { skill, with, kind: BlurKind::SameItems }),
                true => {}
                false => blurred.push(Blurred { skill, with, kind: BlurKind::OnlyTogether }),
            }
        }
        if (0..skills.n_skills()).all(|with| with == skill || !is_within(skill, with)) {
            blurred.extend(never_alone(skills, skill));
        }
    }
    blurred
}

/// A skill whose every item asks another skill too, now this one and now that.
fn never_alone(skills: &SkillMap, skill: usize) -> Option<Blurred> {
    let items = &skills.items_of[skill];
    let is_alone = |j: &usize| skills.of_item[*j].len() == 1;
    let times = |with: usize| items.iter().filter(|j| skills.of_item[**j].contains(&with)).count();
    let with = (0..skills.n_skills()).filter(|w| *w != skill).max_by_key(|w| (times(*w), std::cmp::Reverse(*w)))?;
    let is_never = !items.is_empty() && !items.iter().any(is_alone);
    is_never.then_some(Blurred { skill, with, kind: BlurKind::NeverAlone })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scores::{Item, ResponseTable};
    use crate::skills::{SkillCode, SkillGraph};

    fn blurred(items: &[&str]) -> Vec<(usize, usize, BlurKind)> {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        for (j, codes) in items.iter().enumerate() {
            let skills = codes.split(' ').filter_map(SkillCode::parse).collect();
            table.add_item(Item { skills, ..Item::new(&format!("Q{j}"), check) });
        }
        let map = SkillMap::new(&table, &SkillGraph::default());
        blurred_skills(&map).into_iter().map(|b| (b.skill, b.with, b.kind)).collect()
    }

    #[test]
    fn skills_of_the_same_items_are_not_told_apart() {
        assert_eq!(blurred(&["A B", "A B", "C"]), [(0, 1, BlurKind::SameItems)]);
    }

    #[test]
    fn a_skill_that_is_never_asked_alone_is_named() {
        assert_eq!(blurred(&["A", "A B", "A B"]), [(1, 0, BlurKind::OnlyTogether)]);
    }

    #[test]
    fn a_skill_that_comes_now_with_one_and_now_with_another_is_named() {
        assert_eq!(blurred(&["A B", "A C", "A C", "B", "C"]), [(0, 2, BlurKind::NeverAlone)]);
    }

    /// Fifteen items on subtracting fractions and the five skills that they need, as in de la Torre 2009, JEBS 34:115-130 (the table is
    /// from memory). Only 1 and 3 have items of their own: ten of thirty-two profiles are told apart.
    #[test]
    fn a_published_test_of_fractions_tells_two_skills_of_five() {
        let items = "1|1 2 3 4|1|1 2 3 4 5|3|1 2 3 4|1 2 3 4|1 2|1 3|1 3 4 5|1 3|1 3 4|1 2 3 4|1 2 3 4 5|1 2 3 4";
        let together = |skill, with| (skill, with, BlurKind::OnlyTogether);
        let expected = [together(1, 0), together(3, 0), together(3, 2), together(4, 0), together(4, 2), together(4, 3)];
        assert_eq!(blurred(&items.split('|').collect::<Vec<_>>()), expected);
    }

    #[test]
    fn a_skill_with_an_item_of_its_own_is_told() {
        assert_eq!(blurred(&["A", "B", "A B", "C"]), []);
    }
}
