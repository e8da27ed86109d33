//! The probability that a student holds a skill, from a few noisy answers.
//!
//! In:  shares of points (n_students, n_items, missing allowed), which items need which skills.
//! Out: mastery (n_students, n_skills), 0 to 1; one guess rate, one slip rate, one level a skill and one strength of the
//! common factor, fitted to the class.
//! Model: an item is answered by one who holds all its skills with probability 1 - slip, by anyone else with probability guess;
//! partial points count in proportion. Skills rise and fall together through one common factor: given it they are independent, and
//! it is summed out over seven nodes. An item of several skills is weighed by how likely its other skills are held at the moment
//! (repeated until it settles). Few answers leave the estimate near what the class and the student's other answers suggest:
//! that is the shrinkage. Weak priors keep every fitted number off its ends.
//! Keeps: 1. no answers at all, no change from the base rate (`no_answers_give_the_base_rate`)
//!        2. for fixed noise, one more right answer never lowers its only skill (`a_right_answer_never_lowers_its_skill`)
//!        3. without a common factor an item of one skill is weighed exactly as by hand (`matches_the_hand_value`)
//!        4. with it, a student who holds everything else is doubted less for one slip (`other_skills_speak_for_a_student`).
//! Source: the conjunctive ("DINA") response model: Haertel 1989; Junker & Sijtsma 2001, APM 25:258-272 (pages from memory);
//! one noise level for all items as advised for classes under 100 students: Nájera, Abad, Chiu & Sorrel 2023.
//! Not here: evidence of earlier weeks.

use super::{ShareTable, SkillMap};
use crate::scores::ResponseTable;
use ndarray::{Array2, ArrayViewMut1, Axis};
use rayon::prelude::*;

/// Students that the model is fitted on at most; more add nothing to so few numbers.
const FIT_STUDENTS: usize = 1_500;
/// Rounds of fitting.
const FIT_ROUNDS: usize = 40;
/// Looks at every skill for one student; settles in two or three where items have several skills.
const SWEEPS: usize = 4;
/// Prior guess rate and its weight in answers: with four options a blind guess is right one time in four.
const PRIOR_GUESS: (f64, f64) = (0.20, 12.0);
/// Prior slip rate and its weight.
const PRIOR_SLIP: (f64, f64) = (0.10, 12.0);
/// Prior weight of a skill's level at one half, in students.
const PRIOR_LEVEL: f64 = 3.0;
/// Prior strength of the common factor (logits for one standard deviation) and its weight.
const PRIOR_FACTOR: (f64, f64) = (1.5, 4.0);
/// Mastery is never surer than this.
const SUREST: f64 = 1e-6;
/// Seven-point Gauss-Hermite rule for a standard normal factor: nodes and weights (weights sum to 1).
const NODES: [(f64, f64); 7] = [
    (-3.750_439_717_725_742, 0.000_548_268_855_972_218),
    (-2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (-1.154_405_394_739_968, 0.240_123_178_605_013),
    (0.0, 0.457_142_857_142_857),
    (1.154_405_394_739_968, 0.240_123_178_605_013),
    (2.366_759_410_734_541, 0.030_757_123_967_586_5),
    (3.750_439_717_725_742, 0.000_548_268_855_972_218),
];

/// Noise, levels and common factor of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldModel {
    /// Probability of a right answer without the skills, 0.02 to 0.45.
    pub guess: f64,
    /// Probability of a wrong answer with them, 0.01 to 0.40.
    pub slip: f64,
    /// Level of each skill: the log-odds of holding it at the middle of the factor.
    pub levels: Vec<f64>,
    /// Log-odds that one standard deviation of the common factor adds to every skill, 0 to 4.
    pub factor: f64,
}

impl HoldModel {
    fn start(n_skills: usize) -> Self {
        HoldModel { guess: PRIOR_GUESS.0, slip: PRIOR_SLIP.0, levels: vec![0.4; n_skills], factor: PRIOR_FACTOR.0 }
    }

    /// Share of students who hold a skill.
    #[must_use]
    pub fn base_rate(&self, skill: usize) -> f64 {
        NODES.iter().map(|(x, w)| w * logistic(self.levels[skill] + self.factor * x)).sum()
    }

    /// Likelihood of a share under "holds all" and under "does not".
    fn likelihoods(&self, share: f64) -> (f64, f64) {
        let of = |right: f64| (share * right.ln() + (1.0 - share) * (1.0 - right).ln()).exp();
        (of(1.0 - self.slip), of(self.guess))
    }

    /// Probability of holding each skill at each node, `n_skills` numbers a node.
    fn at_nodes(&self) -> Vec<f64> {
        NODES.iter().flat_map(|(x, _)| self.levels.iter().map(move |a| logistic(a + self.factor * x))).collect()
    }
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
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
        let moved =
            (next.guess - model.guess).abs() + (next.slip - model.slip).abs() + (next.factor - model.factor).abs();
        model = next;
        if moved < 1e-4 {
            break;
        }
    }
    let at_nodes = model.at_nodes();
    let mut mastery = Array2::zeros((table.n_students(), n_skills));
    mastery.axis_iter_mut(Axis(0)).into_par_iter().enumerate().for_each(|(student, row)| {
        hold_student(&model, &at_nodes, &answers_of(student, table, skills, shares), row);
    });
    (model, mastery)
}

fn answers_of<'a>(student: usize, table: &ResponseTable, skills: &'a SkillMap, shares: &ShareTable) -> Vec<Answer<'a>> {
    (0..table.n_items())
        .filter(|&j| !skills.of_item[j].is_empty())
        .filter_map(|j| shares.share(table, student, j).map(|share| Answer { skills: &skills.of_item[j], share }))
        .collect()
}

/// What a student's answers say of the factor: the weight of each node.
type NodeWeights = [f64; NODES.len()];

/// Mastery of one student under a model, into `row`; the weights of the factor's nodes are given back.
fn hold_student(
    model: &HoldModel,
    at_nodes: &[f64],
    answers: &[Answer<'_>],
    mut row: ArrayViewMut1<'_, f64>,
) -> NodeWeights {
    let n_skills = row.len();
    let likelihoods: Vec<(f64, f64)> = answers.iter().map(|a| model.likelihoods(a.share)).collect();
    let several = answers.iter().any(|a| a.skills.len() > 1);
    let mut ratios = vec![1.0; n_skills];
    let mut weights = blend_nodes(at_nodes, &ratios, &mut row);
    for _ in 0..if several { SWEEPS } else { 1 } {
        ratios.fill(1.0);
        for (answer, &(held, not)) in answers.iter().zip(&likelihoods) {
            for &k in answer.skills {
                let others: f64 = answer.skills.iter().filter(|&&l| l != k).map(|&l| row[l]).product();
                ratios[k] *= (others * held + (1.0 - others) * not) / not;
            }
        }
        weights = blend_nodes(at_nodes, &ratios, &mut row);
    }
    weights
}

/// Sums the factor out: given it, a skill's odds are its prior odds times the likelihood ratio of its answers.
fn blend_nodes(at_nodes: &[f64], ratios: &[f64], row: &mut ArrayViewMut1<'_, f64>) -> NodeWeights {
    let n_skills = ratios.len();
    let mut weights = [0.0; NODES.len()];
    for (q, weight) in weights.iter_mut().enumerate() {
        let priors = &at_nodes[q * n_skills..(q + 1) * n_skills];
        *weight = NODES[q].1.ln() + sum_of_logs(priors.iter().zip(ratios).map(|(p, r)| 1.0 + p * (r - 1.0)));
    }
    let most = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    weights.iter_mut().for_each(|w| *w = (*w - most).exp());
    let sum: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= sum);
    for k in 0..n_skills {
        let held: f64 = weights
            .iter()
            .enumerate()
            .map(|(q, w)| {
                let p = at_nodes[q * n_skills + k];
                w * p * ratios[k] / (1.0 + p * (ratios[k] - 1.0))
            })
            .sum();
        row[k] = held.clamp(SUREST, 1.0 - SUREST);
    }
    weights
}

/// The sum of the logarithms of positive numbers: one logarithm of their product, or a few where the product nears the ends of what a
/// number can hold.
fn sum_of_logs(numbers: impl Iterator<Item = f64>) -> f64 {
    let (mut product, mut sum) = (1.0_f64, 0.0);
    for number in numbers {
        if !(1e-150..1e150).contains(&product) {
            sum += product.ln();
            product = 1.0;
        }
        product *= number;
    }
    sum + product.ln()
}

/// One round of fitting: expected counts with and without the skills, then one step for levels and factor.
fn refit(model: &HoldModel, sample: &[Vec<Answer<'_>>]) -> HoldModel {
    let n_skills = model.levels.len();
    let at_nodes = model.at_nodes();
    let mut row = ndarray::Array1::zeros(n_skills);
    let (mut right_held, mut n_held, mut right_not, mut n_not) = (0.0, 0.0, 0.0, 0.0);
    let mut steps = Steps::new(model);
    for answers in sample {
        let weights = hold_student(model, &at_nodes, answers, row.view_mut());
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
            steps.add(k, row[k], &weights, &at_nodes);
        }
    }
    let blend = |got: f64, n: f64, prior: (f64, f64)| (got + prior.0 * prior.1) / (n + prior.1);
    let (levels, factor) = steps.taken(model);
    HoldModel {
        guess: blend(right_not, n_not, PRIOR_GUESS).clamp(0.02, 0.45),
        slip: blend(n_held - right_held, n_held, PRIOR_SLIP).clamp(0.01, 0.40),
        levels,
        factor,
    }
}

/// Slopes and curvatures of the fit in the levels and in the factor, for one Newton step each.
struct Steps {
    slopes: Vec<f64>,
    curves: Vec<f64>,
    factor_slope: f64,
    factor_curve: f64,
}

impl Steps {
    /// Starts with the priors.
    fn new(model: &HoldModel) -> Self {
        let pull = |a: &f64| PRIOR_LEVEL * (0.5 - logistic(*a));
        Steps {
            slopes: model.levels.iter().map(pull).collect(),
            curves: vec![PRIOR_LEVEL * 0.25; model.levels.len()],
            factor_slope: PRIOR_FACTOR.1 * (PRIOR_FACTOR.0 - model.factor),
            factor_curve: PRIOR_FACTOR.1,
        }
    }

    /// Adds a student whose mastery of skill `k` is `held`. Mastery at each node is taken as the prior there, moved by the
    /// student's whole surprise, which keeps the step's direction and is exact in the slope of the level.
    fn add(&mut self, k: usize, held: f64, weights: &NodeWeights, at_nodes: &[f64]) {
        let n_skills = self.slopes.len();
        let expected: f64 = weights.iter().enumerate().map(|(q, w)| w * at_nodes[q * n_skills + k]).sum();
        let surprise = held - expected;
        self.slopes[k] += surprise;
        for (q, w) in weights.iter().enumerate() {
            let p = at_nodes[q * n_skills + k];
            let x = NODES[q].0;
            self.curves[k] += w * p * (1.0 - p);
            self.factor_slope += w * x * surprise;
            self.factor_curve += w * x * x * p * (1.0 - p);
        }
    }

    fn taken(&self, model: &HoldModel) -> (Vec<f64>, f64) {
        let step = |slope: f64, curve: f64| (slope / curve.max(1e-9)).clamp(-1.0, 1.0);
        let levels = model
            .levels
            .iter()
            .zip(self.slopes.iter().zip(&self.curves))
            .map(|(a, (s, c))| (a + step(*s, *c)).clamp(-6.0, 6.0))
            .collect();
        (levels, (model.factor + step(self.factor_slope, self.factor_curve)).clamp(0.0, 4.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array1;
    use proptest::prelude::*;

    fn model(n_skills: usize) -> HoldModel {
        HoldModel { guess: 0.2, slip: 0.1, levels: vec![0.0; n_skills], factor: 0.0 }
    }

    fn mastery(model: &HoldModel, answers: &[(Vec<usize>, f64)]) -> Array1<f64> {
        let answers: Vec<Answer<'_>> = answers.iter().map(|(s, x)| Answer { skills: s, share: *x }).collect();
        let mut row = Array1::zeros(model.levels.len());
        hold_student(model, &model.at_nodes(), &answers, row.view_mut());
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
        let with_factor = HoldModel { factor: 1.7, levels: vec![0.3, -1.0], ..model(2) };
        let row = mastery(&with_factor, &[]);
        for k in 0..2 {
            assert!((row[k] - with_factor.base_rate(k)).abs() < 1e-12);
        }
        assert!((mastery(&model(2), &[(vec![0], 1.0)])[1] - 0.5).abs() < 1e-12);
    }

    #[test]
    fn other_skills_speak_for_a_student() {
        let answers: Vec<(Vec<usize>, f64)> = (0..10).map(|i| (vec![i % 2], 1.0)).chain([(vec![2], 0.0)]).collect();
        let apart = mastery(&model(3), &answers)[2];
        let together = mastery(&HoldModel { factor: 2.0, ..model(3) }, &answers)[2];
        assert!(apart < 0.15 && together > apart + 0.1, "{apart} {together}");
    }

    #[test]
    fn the_nodes_are_a_standard_normal() {
        let sum = |power: i32| NODES.iter().map(|(x, w)| w * x.powi(power)).sum::<f64>();
        assert!((sum(0) - 1.0).abs() < 1e-12 && (sum(2) - 1.0).abs() < 1e-9 && (sum(4) - 3.0).abs() < 1e-9);
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
            let with_factor = HoldModel { factor: 1.5, ..model(3) };
            let before = mastery(&with_factor, &answers)[skill];
            answers.push((vec![skill], 1.0));
            let after = mastery(&with_factor, &answers)[skill];
            prop_assert!(after >= before - 1e-9, "{before} -> {after}");
        }
    }
}
