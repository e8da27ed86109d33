//! Whether a student's answers look guessed.
//!
//! A blind guesser is right about once in every m options and shows every wrong idea now and then and none of them again and again.
//! So does nobody who holds something or who follows a wrong idea. In: chosen options of items of one right option, on which wrong
//! options carry ideas. Out: for each student, true where the right answers are no more than guessing gives (one-sided binomial at
//! [`MORE_THAN_CHANCE`], over all items and over the easier half of them) and no idea is likely. Fewer than [`ENOUGH_ANSWERS`] such
//! answers say nothing.
//! Keeps: `a_guesser_is_told_from_one_who_follows_an_idea`, `one_who_holds_half_is_no_guesser`,
//! `one_who_holds_what_most_hold_is_no_guesser`.
//! Common practice, no source.

use super::{IdeaSureness, PatternTable, ShareTable, Timing};
use crate::scores::{Item, ItemKind, MarkState, ResponseTable};

/// Answers from which guessing can be told.
const ENOUGH_ANSWERS: usize = 8;
/// Under this probability of as many right answers by guessing they are more than chance.
const MORE_THAN_CHANCE: f64 = 0.2;
/// Wrong ideas that a sheet must offer: with one or two a guesser shows one of them again and again.
const ENOUGH_IDEAS: usize = 3;

/// For each student, whether the answers look guessed.
#[must_use]
pub fn answers_look_guessed(
    table: &ResponseTable,
    shares: &ShareTable,
    timing: &Timing,
    patterns: &PatternTable,
) -> Vec<bool> {
    let chances: Vec<Option<f64>> =
        table.items().iter().map(|item| chance_of(item).filter(|_| timing.counts(item.assessment))).collect();
    let class: Vec<ClassCount> = (0..table.n_items()).map(|item| ClassCount::of_item(item, table, shares)).collect();
    (0..table.n_students())
        .map(|student| {
            let counts = &patterns.counts[student];
            let follows_an_idea = counts.iter().any(|c| c.sureness() == IdeaSureness::Likely);
            counts.len() >= ENOUGH_IDEAS && !follows_an_idea && is_chance(student, table, shares, &chances, &class)
        })
        .collect()
}

/// The chance of hitting the one right option: one in as many options as are known; `None` for other items.
fn chance_of(item: &Item) -> Option<f64> {
    let has_one_key = item.key.as_ref().is_some_and(|k| k.chars().count() == 1);
    if item.kind != ItemKind::Choice || !has_one_key || item.meanings.is_empty() {
        return None;
    }
    Some(1.0 / (item.meanings.len() + 1).max(3) as f64)
}

/// Right answers of the whole class to one item.
#[derive(Clone, Copy, Default)]
struct ClassCount {
    sum: f64,
    n: usize,
}

impl ClassCount {
    fn of_item(item: usize, table: &ResponseTable, shares: &ShareTable) -> Self {
        (0..table.n_students())
            .filter_map(|student| shares.share(table, student, item))
            .fold(ClassCount::default(), |count, share| ClassCount { sum: count.sum + share, n: count.n + 1 })
    }

    /// Share of the others that have the item right.
    fn without(self, own: f64) -> f64 {
        (self.sum - own) / self.n.saturating_sub(1).max(1) as f64
    }
}

/// One answer: the chance of hitting it, whether it is right, how many of the others have it right.
struct Answer {
    chance: f64,
    is_right: bool,
    ease: f64,
}

fn is_chance(
    student: usize,
    table: &ResponseTable,
    shares: &ShareTable,
    chances: &[Option<f64>],
    class: &[ClassCount],
) -> bool {
    let answer = |item: usize| {
        let mark = table.mark(student, item);
        let (Some(chance), MarkState::Scored, Some(_)) = (chances[item], mark.state, &mark.answer) else { return None };
        let own = shares.share(table, student, item).unwrap_or(0.0);
        Some(Answer { chance, is_right: own > 0.5, ease: class[item].without(own) })
    };
    let mut answers: Vec<Answer> = (0..table.n_items()).filter_map(answer).collect();
    if answers.len() < ENOUGH_ANSWERS || is_more_than_chance(&answers) {
        return false;
    }
    // Stable: items that are equally easy stay in the order of the table.
    answers.sort_by(|a, b| b.ease.total_cmp(&a.ease));
    !is_more_than_chance(&answers[..answers.len() / 2])
}

fn is_more_than_chance(answers: &[Answer]) -> bool {
    let n_right = answers.iter().filter(|a| a.is_right).count();
    let chances: Vec<f64> = answers.iter().map(|a| a.chance).collect();
    at_least(n_right, &chances) <= MORE_THAN_CHANCE
}

/// Probability of at least `n` hits where each is hit with its own chance.
fn at_least(n: usize, chances: &[f64]) -> f64 {
    let mut exactly = vec![0.0; chances.len() + 1];
    exactly[0] = 1.0;
    for (done, chance) in chances.iter().enumerate() {
        for hits in (0..=done).rev() {
            exactly[hits + 1] += exactly[hits] * chance;
            exactly[hits] *= 1.0 - chance;
        }
    }
    exactly.iter().skip(n).sum()
}

#[cfg(test)]
mod tests {
    use super::super::count_patterns;
    use super::*;
    use crate::roster::{OmittedCounts, Student, StudentId};
    use crate::scores::{Mark, OptionMeaning};

    /// Twelve items of four options: the key is A; B, C, D show ideas that turn from item to item among six.
    fn looks_guessed(answers: &str) -> bool {
        looks_guessed_of(&[answers])[0]
    }

    fn looks_guessed_of(rows: &[&str]) -> Vec<bool> {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        for j in 0..rows[0].len() {
            let idea = |at: usize| vec![format!("idea-{}", (j + at) % 6)];
            let meaning = |(at, option): (usize, &str)| OptionMeaning { option: option.into(), patterns: idea(at) };
            let meanings = ["B", "C", "D"].into_iter().enumerate().map(meaning).collect();
            let item = Item { key: Some("A".into()), meanings, ..Item::new(&format!("Q{j}"), check) };
            table.add_item(item);
        }
        for (s, answers) in rows.iter().enumerate() {
            let student = table.add_student(Student::unnamed(StudentId::parse(&s.to_string()).unwrap()));
            for (item, answer) in answers.chars().enumerate() {
                let points = f64::from(u8::from(answer == 'A'));
                table.set(student, item, Mark::scored(Some(answer.to_string()), Some(points))).unwrap();
            }
        }
        let shares = ShareTable::new(&table, OmittedCounts::Nothing);
        let timing = Timing::new(table.assessments(), None, 3.0);
        let patterns = count_patterns(&table, &timing);
        answers_look_guessed(&table, &shares, &timing, &patterns)
    }

    #[test]
    fn a_guesser_is_told_from_one_who_follows_an_idea() {
        // Ideas 0, 4, 4, 0, 5, 2, 2, 5, 1 beside three right answers: none three times.
        assert!(looks_guessed("BADCDBACBDAD"));
        // Idea 5 four times: three times and more is an idea.
        assert!(!looks_guessed("BCBACDBDADCB"));
    }

    #[test]
    fn one_who_holds_half_is_no_guesser() {
        assert!(!looks_guessed("AABAACADACAB"));
    }

    /// Nine classmates answer the first six items right and the rest wrong.
    fn looks_guessed_in_class(answers: &str) -> bool {
        let mut rows = vec!["AAAAAABCDBCD"; 9];
        rows.push(answers);
        looks_guessed_of(&rows)[9]
    }

    #[test]
    fn one_who_holds_what_most_hold_is_no_guesser() {
        // Four of twelve right is what one guesser in three has, but all four lie in the half that the class has right.
        assert!(!looks_guessed_in_class("AAAABDBCBCCC"));
        assert!(looks_guessed_in_class("BADCDBACBDAD"));
    }

    #[test]
    fn few_answers_say_nothing() {
        assert!(!looks_guessed("BDCADBC"));
    }

    #[test]
    fn the_chance_of_hits_is_the_binomial_one() {
        // 4 of 12 or more at one in four: 1 - .03168 - .12671 - .23229 - .25810 (binomial, worked out by hand).
        assert!((at_least(4, &[0.25; 12]) - 0.351_22).abs() < 1e-4);
        assert!((at_least(0, &[0.25; 3]) - 1.0).abs() < 1e-12);
    }
}
