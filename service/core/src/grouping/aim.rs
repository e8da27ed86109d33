//! What a group of students is worth: the useful minutes of its best target, and one wrong idea that belongs to that target.
//!
//! In:  sums over the members of each skill's gain (`n_skills` numbers) and of each wrong idea's strength (`n_codes` numbers).
//! Out: the greatest, over skills, of the summed gain plus [`IDEA_WEIGHT`] times the strongest summed idea of that skill.
//! The weights keep the order of wishes: one student's need outweighs a shared idea, a shared idea outweighs any spread.
//! Keeps: `looking_ahead_agrees_with_the_sums`, `worth_grows_and_never_by_more_than_the_part`.

use super::needs::Needs;
use crate::numeric::GroupAim;

/// Weight of a shared wrong idea against one student's need.
const IDEA_WEIGHT: f64 = 0.30;
/// Weight of spread against the same.
const SPREAD_WEIGHT: f64 = 0.02;

/// The aim of seating, on sums of gains, then ideas.
#[derive(Debug)]
pub(super) struct NeedAim<'a> {
    n_skills: usize,
    ideas_of_skill: &'a [Vec<usize>],
}

impl<'a> NeedAim<'a> {
    pub(super) fn new(needs: &'a Needs) -> Self {
        NeedAim { n_skills: needs.gain.ncols(), ideas_of_skill: &needs.ideas_of_skill }
    }

    /// The aim where there are gains alone.
    pub(super) fn of_gains(n_skills: usize, no_ideas: &'a [Vec<usize>]) -> Self {
        NeedAim { n_skills, ideas_of_skill: no_ideas }
    }

    /// Worth of a group whose sums are `sum` of a base and a unit.
    fn best(&self, base: &[f64], unit: &[f64], sum: impl Fn(f64, f64) -> f64) -> f64 {
        let (gains, ideas) = base.split_at(self.n_skills.min(base.len()));
        let (unit_gains, unit_ideas) = unit.split_at(self.n_skills.min(unit.len()));
        // No skill gains more from ideas than the strongest of them all: most skills are ruled out by that.
        let strongest = IDEA_WEIGHT * largest(ideas, unit_ideas, &sum).max(0.0);
        if strongest == 0.0 {
            return largest(gains, unit_gains, &sum).max(0.0);
        }
        let mut best = 0.0;
        for (k, (a, b)) in gains.iter().zip(unit_gains).enumerate() {
            let gain = sum(*a, *b);
            if gain + strongest > best {
                let shared = self.ideas_of_skill[k].iter().map(|&c| sum(ideas[c], unit_ideas[c])).fold(0.0, f64::max);
                best = f64::max(best, gain + IDEA_WEIGHT * shared);
            }
        }
        best
    }
}

/// The largest sum, in four lanes that the compiler keeps in wide registers.
fn largest(base: &[f64], unit: &[f64], sum: &impl Fn(f64, f64) -> f64) -> f64 {
    let larger = |a: f64, b: f64| if b > a { b } else { a };
    let mut lanes = [f64::NEG_INFINITY; 4];
    let (heads_base, heads_unit) = (base.chunks_exact(4), unit.chunks_exact(4));
    for (i, (a, b)) in heads_base.remainder().iter().zip(heads_unit.remainder()).enumerate() {
        lanes[i] = larger(lanes[i], sum(*a, *b));
    }
    for (a, b) in heads_base.zip(heads_unit) {
        for lane in 0..4 {
            lanes[lane] = larger(lanes[lane], sum(a[lane], b[lane]));
        }
    }
    larger(larger(lanes[0], lanes[1]), larger(lanes[2], lanes[3]))
}

impl GroupAim for NeedAim<'_> {
    fn spread_weight(&self) -> f64 {
        SPREAD_WEIGHT
    }
    fn worth(&self, sums: &[f64]) -> f64 {
        self.best(sums, sums, |a, _| a)
    }
    fn worth_with(&self, base: &[f64], joins: &[f64]) -> f64 {
        self.best(base, joins, |a, b| a + b)
    }
    fn worth_without(&self, base: &[f64], leaves: &[f64]) -> f64 {
        self.best(base, leaves, |a, b| a - b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The definition of the header, word for word.
    fn by_hand(sums: &[f64], n_skills: usize, ideas_of_skill: &[Vec<usize>]) -> f64 {
        (0..n_skills)
            .map(|k| sums[k] + IDEA_WEIGHT * ideas_of_skill[k].iter().map(|c| sums[n_skills + c]).fold(0.0, f64::max))
            .fold(0.0, f64::max)
    }

    proptest! {
        #[test]
        fn looking_ahead_agrees_with_the_sums(
            base in prop::collection::vec(0.0..5.0_f64, 11),
            part in prop::collection::vec(0.0..1.0_f64, 11),
        ) {
            let ideas_of_skill = vec![vec![0], vec![], vec![1, 2], vec![2], vec![], vec![3, 4]];
            let aim = NeedAim { n_skills: 6, ideas_of_skill: &ideas_of_skill };
            let unit: Vec<f64> = base.iter().zip(&part).map(|(b, p)| b * p).collect();
            let with: Vec<f64> = base.iter().zip(&unit).map(|(a, b)| a + b).collect();
            let without: Vec<f64> = base.iter().zip(&unit).map(|(a, b)| a - b).collect();
            let near = |a: f64, b: f64| (a - b).abs() < 1e-12;
            prop_assert!(near(aim.worth(&base), by_hand(&base, 6, &ideas_of_skill)));
            prop_assert!(near(aim.worth_with(&base, &unit), by_hand(&with, 6, &ideas_of_skill)));
            prop_assert!(near(aim.worth_without(&base, &unit), by_hand(&without, 6, &ideas_of_skill)));
        }

        #[test]
        fn worth_grows_and_never_by_more_than_the_part(
            base in prop::collection::vec(0.0..5.0_f64, 11),
            part in prop::collection::vec(0.0..1.0_f64, 11),
        ) {
            let ideas_of_skill = vec![vec![0], vec![], vec![1, 2], vec![2], vec![], vec![3, 4]];
            let aim = NeedAim { n_skills: 6, ideas_of_skill: &ideas_of_skill };
            let grown = aim.worth_with(&base, &part) - aim.worth(&base);
            prop_assert!(grown >= -1e-12 && grown <= aim.worth(&part) + 1e-12, "{grown} of {}", aim.worth(&part));
        }
    }
}
