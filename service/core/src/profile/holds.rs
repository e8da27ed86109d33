//! The probability that a student holds a skill, from a few noisy answers.
//!
//! In:  shares of points (n_students, n_items, missing allowed), which items need which skills.
//! Out: mastery (n_students, n_skills), 0 to 1; one guess rate, one slip rate, one base rate a skill, fitted to the class.
//! Model: an item is answered by one who holds all its skills with probability 1 - slip, by anyone else with probability guess;
//! partial points count in proportion. Skills are independent given the base rates; an item of several skills is
//! weighed by how likely its other skills are held at the moment (repeated until it settles).
//! Few answers leave the estimate near the base rate: that is the shrinkage. Weak priors keep guess, slip and base rates off 0 and 1.
//! Keeps: 1. no answer, no change from the base rate (`no_answers_give_the_base_rate`)
//!        2. for fixed noise, one more right answer never lowers its only skill (`a_right_answer_never_lowers_its_skill`)
//!        3. an item of one skill is weighed exactly as by hand (`matches_the_hand_value`).
//! Source: the conjunctive ("DINA") response model: Haertel 1989; Junker & Sijtsma 2001, APM 25:258-272 (pages from memory);
//! one noise level for all items as advised for classes under 100 students: Nájera, Abad, Chiu & Sorrel 2023.
//! Not here: correlated skills (a joint prior over profiles), evidence of earlier weeks.

use super::{ShareTable, SkillMap};
use crate::scores::ResponseTable;
use ndarray::{Array2, ArrayViewMut1, Axis};
use rayon::prelude::*;

/// Students that the noise is fitted on at most; more add nothing to one guess and one slip rate.
const FIT_STUDENTS: usize = 1_500;
/// Rounds of fitting.
const FIT_ROUNDS: usize = 25;
/// Looks at every skill for one student; settles in two or three where items have one skill.
const SWEEPS: usize = 4;
/// Prior guess rate and its weight in answers: with four options a blind guess is right one time in four.
const PRIOR_GUESS: (f64, f64) = (0.20, 12.0);
/// Prior slip rate and its weight.
const PRIOR_SLIP: (f64, f64) = (0.10, 12.0);
/// Prior base rate and its weight in students.
const PRIOR_BASE: (f64, f64) = (0.5, 3.0);
/// Mastery is never surer than this.
const SUREST: f64 = 1e-6;

/// Noise and base rates of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldModel {
    /// Probability of a right answer without the skills, 0.02 to 0.45.
    pub guess: f64,
    /// Probability of a wrong answer with them, 0.01 to 0.40.
    pub slip: f64,
    /// Share of students who hold each skill.
    pub base_rates: Vec<f64>,
}

/// Log-likelihood ratios of one answer with share x: of a holder against another.
impl HoldModel {
    fn start(n_skills: usize) -> Self {
        HoldModel { guess: PRIOR_GUESS.0, slip: PRIOR_SLIP.0, base_rates: vec![0.6; n_skills] }
    }

    /// Likelihood of a share under "holds all" and under "does not".
    fn likelihoods(&self, share: f64) -> (f64, f64) {
        let of = |right: f64| (share * right.ln() + (1.0 - share) * (1.0 - right).ln()).exp();
        (of(1.0 - self.slip), of(self.guess))
    }
}

/// One scored answer: item's skills and share.
struct Answer<'a> {
    skills: &'a [usize],
    share: f64,
}

/// Fits the model and gives every student's mastery; see the module header.
#[must_use]
pub fn fit_hold_model(table: &ResponseTable, skills: &SkillMap, shares: &ShareTable) -> (HoldModel, Array2<f64>) {
    let n_skills = skills.n_skills();
    let mut model = HoldModel::start(n_skills);
    let stride = table.n_students().div_ceil(FIT_STUDENTS).max(1);
    let sample: Vec<Vec<Answer<'_>>> = (0..table.n_students())
        .step_by(stride)
        .map(|s| answers_of(s, table, skills, shares))
        .filter(|a| !a.is_empty())
        .collect();
    for _ in 0..FIT_ROUNDS {
        let next = refit(&model, &sample);
        let moved = (next.guess - model.guess).abs() + (next.slip - model.slip).abs();
        model = next;
        if moved < 1e-5 {
            break;
        }
    }
    let mut mastery = Array2::zeros((table.n_students(), n_skills));
    mastery.axis_iter_mut(Axis(0)).into_par_iter().enumerate().for_each(|(student, row)| {
        hold_student(&model, &answers_of(student, table, skills, shares), row);
    });
    (model, mastery)
}

fn answers_of<'a>(student: usize, table: &ResponseTable, skills: &'a SkillMap, shares: &ShareTable) -> Vec<Answer<'a>> {
    (0..table.n_items())
        .filter(|&j| !skills.of_item[j].is_empty())
        .filter_map(|j| shares.share(table, student, j).map(|share| Answer { skills: &skills.of_item[j], share }))
        .collect()
}

/// Mastery of one student under a model, into `row`.
fn hold_student(model: &HoldModel, answers: &[Answer<'_>], mut row: ArrayViewMut1<'_, f64>) {
    row.iter_mut().zip(&model.base_rates).for_each(|(m, b)| *m = *b);
    let likelihoods: Vec<(f64, f64)> = answers.iter().map(|a| model.likelihoods(a.share)).collect();
    let several = answers.iter().any(|a| a.skills.len() > 1);
    for _ in 0..if several { SWEEPS } else { 1 } {
        for k in 0..row.len() {
            let base = model.base_rates[k].clamp(SUREST, 1.0 - SUREST);
            let mut log_odds = (base / (1.0 - base)).ln();
            for (answer, &(held, not)) in answers.iter().zip(&likelihoods) {
                if !answer.skills.contains(&k) {
                    continue;
                }
                let others: f64 = answer.skills.iter().filter(|&&l| l != k).map(|&l| row[l]).product();
                log_odds += ((others * held + (1.0 - others) * not) / not).ln();
            }
            row[k] = (1.0 / (1.0 + (-log_odds).exp())).clamp(SUREST, 1.0 - SUREST);
        }
    }
}

/// One round: expected counts of right and wrong answers with and without the skills, and of holders.
fn refit(model: &HoldModel, sample: &[Vec<Answer<'_>>]) -> HoldModel {
    let n_skills = model.base_rates.len();
    let mut row = ndarray::Array1::zeros(n_skills);
    let (mut right_held, mut n_held, mut right_not, mut n_not) = (0.0, 0.0, 0.0, 0.0);
    let mut holders = vec![0.0; n_skills];
    let mut measured = vec![0.0; n_skills];
    for answers in sample {
        hold_student(model, answers, row.view_mut());
        let mut touched = vec![false; n_skills];
        for answer in answers {
            let held: f64 = answer.skills.iter().map(|&k| row[k]).product();
            right_held += held * answer.share;
            n_held += held;
            right_not += (1.0 - held) * answer.share;
            n_not += 1.0 - held;
            answer.skills.iter().for_each(|&k| touched[k] = true);
        }
        for k in (0..n_skills).filter(|&k| touched[k]) {
            holders[k] += row[k];
            measured[k] += 1.0;
        }
    }
    let blend = |got: f64, n: f64, prior: (f64, f64)| (got + prior.0 * prior.1) / (n + prior.1);
    HoldModel {
        guess: blend(right_not, n_not, PRIOR_GUESS).clamp(0.02, 0.45),
        slip: blend(n_held - right_held, n_held, PRIOR_SLIP).clamp(0.01, 0.40),
        base_rates: holders.iter().zip(&measured).map(|(h, n)| blend(*h, *n, PRIOR_BASE)).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array1;
    use proptest::prelude::*;

    fn model(n_skills: usize) -> HoldModel {
        HoldModel { guess: 0.2, slip: 0.1, base_rates: vec![0.5; n_skills] }
    }

    fn mastery(model: &HoldModel, answers: &[(Vec<usize>, f64)]) -> Array1<f64> {
        let answers: Vec<Answer<'_>> = answers.iter().map(|(s, x)| Answer { skills: s, share: *x }).collect();
        let mut row = Array1::zeros(model.base_rates.len());
        hold_student(model, &answers, row.view_mut());
        row
    }

    /// Exact by hand: base 1/2, guess .2, slip .1, one right and one wrong answer: odds (.9/.2)(.1/.8) = 9/16.
    #[test]
    fn matches_the_hand_value() {
        let row = mastery(&model(1), &[(vec![0], 1.0), (vec![0], 0.0)]);
        assert!((row[0] - 9.0 / 25.0).abs() < 1e-12, "{}", row[0]);
    }

    #[test]
    fn no_answers_give_the_base_rate() {
        assert!((mastery(&model(2), &[(vec![0], 1.0)])[1] - 0.5).abs() < 1e-12);
    }

    /// Items on A, on B and on both; the exact posteriors are 225/261 and 85/261 (guess .2, slip .1, uniform prior, answers 1, 0, 1).
    #[test]
    fn an_item_of_two_skills_comes_near_the_exact_posterior() {
        let row = mastery(&model(2), &[(vec![0], 1.0), (vec![1], 0.0), (vec![0, 1], 1.0)]);
        assert!((row[0] - 225.0 / 261.0).abs() < 0.05, "{}", row[0]);
        assert!((row[1] - 85.0 / 261.0).abs() < 0.05, "{}", row[1]);
    }

    proptest! {
        #[test]
        fn a_right_answer_never_lowers_its_skill(
            answers in prop::collection::vec((0_usize..3, 0_usize..3, 0.0..=1.0_f64), 0..12),
            skill in 0_usize..3,
        ) {
            let mut answers: Vec<(Vec<usize>, f64)> = answers
                .into_iter()
                .map(|(a, b, x)| (if a == b { vec![a] } else { vec![a, b] }, x))
                .collect();
            let before = mastery(&model(3), &answers)[skill];
            answers.push((vec![skill], 1.0));
            let after = mastery(&model(3), &answers)[skill];
            prop_assert!(after >= before - 1e-9, "{before} -> {after}");
        }
    }
}
