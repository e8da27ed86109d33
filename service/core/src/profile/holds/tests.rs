//! What the model must say, by values worked out by hand and by properties.
//! The exact way and the factored one are asked the same small classes. Not here: which items count for what (`answers`).

use super::answers::{Guessing, ModelItem};
use super::*;
use proptest::prelude::*;

/// A class of one: items by their skills, answers in the same order.
fn class<'a>(skills: &'a [Vec<usize>], shares: &[f64]) -> Answers<'a> {
    let bits = |needed: &[usize]| needed.iter().fold(0_u32, |b, &k| b | 1 << k);
    let sets: Vec<u32> = skills.iter().map(|s| bits(s)).collect();
    let items = skills.iter().enumerate().map(|(set, s)| ModelItem { skills: s, set, guessing: Guessing::Offered });
    let given = shares.iter().enumerate().map(|(item, &share)| Answer { item, share, weight: 1.0 }).collect();
    Answers { items: items.collect(), sets, of_student: vec![given] }
}

fn model(n_items: usize, levels: Vec<f64>, factor: f64) -> HoldModel {
    let noise = Noise { guess: 0.2, slip: 0.1 };
    HoldModel { kinds: [noise; 2], items: vec![noise; n_items], prior: SkillPrior { levels, factor } }
}

/// Mastery of the only student, one way or the other.
fn weighed<W: Way>(model: &HoldModel, answers: &Answers<'_>) -> Vec<f64> {
    let way = W::new(&model.prior, answers);
    let mut room = way.room();
    way.solve(&mut room, answers, &model.log_ratios(), &answers.of_student[0]);
    (0..model.prior.n_skills()).map(|k| way.mastery(&room, k)).collect()
}

fn exact(model: &HoldModel, answers: &Answers<'_>) -> Vec<f64> {
    weighed::<Lattice>(model, answers)
}

fn factored(model: &HoldModel, answers: &Answers<'_>) -> Vec<f64> {
    weighed::<Factored>(model, answers)
}

/// Items on A, on B and on both; guess .2, slip .1, uniform prior, answers 1, 0, 1: likelihoods of neither, A, B, both are
/// .032, .144, .004, .081, so A is held with 225/261 and B with 85/261 (by arithmetic).
#[test]
fn equals_the_hand_value() {
    let skills = [vec![0], vec![1], vec![0, 1]];
    let got = exact(&model(3, vec![0.0, 0.0], 0.0), &class(&skills, &[1.0, 0.0, 1.0]));
    assert!((got[0] - 225.0 / 261.0).abs() < 1e-12 && (got[1] - 85.0 / 261.0).abs() < 1e-12, "{got:?}");
}

/// The same answers with one noise number .2: 32, 128, 8 and 128 parts of 296, so 256/296 and 136/296 (by arithmetic).
#[test]
fn equals_the_hand_value_with_one_noise_number() {
    let skills = [vec![0], vec![1], vec![0, 1]];
    let mut model = model(3, vec![0.0, 0.0], 0.0);
    model.items.fill(Noise { guess: 0.2, slip: 0.2 });
    let got = exact(&model, &class(&skills, &[1.0, 0.0, 1.0]));
    assert!((got[0] - 256.0 / 296.0).abs() < 1e-12 && (got[1] - 136.0 / 296.0).abs() < 1e-12, "{got:?}");
}

#[test]
fn an_item_of_two_skills_comes_near_the_exact_posterior() {
    let skills = [vec![0], vec![1], vec![0, 1]];
    let got = factored(&model(3, vec![0.0, 0.0], 0.0), &class(&skills, &[1.0, 0.0, 1.0]));
    assert!((got[0] - 225.0 / 261.0).abs() < 0.05 && (got[1] - 85.0 / 261.0).abs() < 0.05, "{got:?}");
}

#[test]
fn no_answers_give_the_base_rate() {
    let model = model(0, vec![0.3, -1.0], 1.7);
    let answers = Answers { items: vec![], sets: vec![], of_student: vec![vec![]] };
    for got in [exact(&model, &answers), factored(&model, &answers)] {
        for (k, mastery) in got.iter().enumerate() {
            assert!((mastery - model.prior.base_rate(k)).abs() < 1e-12);
        }
    }
}

#[test]
fn other_skills_speak_for_a_student() {
    let skills: Vec<Vec<usize>> = (0..10).map(|i| vec![i % 2]).chain([vec![2]]).collect();
    let shares: Vec<f64> = (0..11).map(|i| if i < 10 { 1.0 } else { 0.0 }).collect();
    let apart = exact(&model(11, vec![0.0; 3], 0.0), &class(&skills, &shares))[2];
    let together = exact(&model(11, vec![0.0; 3], 2.0), &class(&skills, &shares))[2];
    assert!(apart < 0.15 && together > apart + 0.1, "{apart} {together}");
}

/// A class whose answers follow the model exactly (expected shares): the fit must find the skills that each student holds.
#[test]
fn a_clear_class_is_read_rightly() {
    let skills: Vec<Vec<usize>> = (0..12).map(|i| if i % 3 == 2 { vec![0, 1] } else { vec![i % 3] }).collect();
    let mut answers = class(&skills, &[]);
    answers.of_student = (0..24)
        .map(|s| {
            let holds = [s % 2 == 0, s % 3 == 0];
            let share = |i: usize| if skills[i].iter().all(|&k| holds[k]) { 1.0 } else { 0.0 };
            (0..12).map(|item| Answer { item, share: share(item), weight: 1.0 }).collect()
        })
        .collect();
    let (_, mastery) = fit_and_weigh::<Lattice>(&answers, 2);
    for s in 0..24 {
        assert_eq!([mastery[(s, 0)] > 0.9, mastery[(s, 1)] > 0.9], [s % 2 == 0, s % 3 == 0], "student {s}");
        assert_eq!([mastery[(s, 0)] < 0.1, mastery[(s, 1)] < 0.1], [s % 2 != 0, s % 3 != 0], "student {s}");
    }
}

proptest! {
    #[test]
    fn one_skill_items_are_exact(
        items in prop::collection::vec((0_usize..4, 0.0..=1.0_f64), 0..14),
        levels in prop::collection::vec(-2.0..2.0_f64, 4),
        factor in 0.0..3.0_f64,
    ) {
        let skills: Vec<Vec<usize>> = items.iter().map(|(k, _)| vec![*k]).collect();
        let shares: Vec<f64> = items.iter().map(|(_, x)| *x).collect();
        let model = model(items.len(), levels, factor);
        let answers = class(&skills, &shares);
        for (a, b) in exact(&model, &answers).iter().zip(factored(&model, &answers)) {
            prop_assert!((a - b).abs() < 2e-6, "{a} {b}");
        }
    }

    #[test]
    fn a_right_answer_never_lowers_its_skill(
        items in prop::collection::vec((0_usize..3, 0_usize..3, 0.0..=1.0_f64), 0..12),
        skill in 0_usize..3,
    ) {
        let mut skills: Vec<Vec<usize>> =
            items.iter().map(|&(a, b, _)| if a == b { vec![a] } else { vec![a.min(b), a.max(b)] }).collect();
        let mut shares: Vec<f64> = items.iter().map(|(_, _, x)| *x).collect();
        let model = model(items.len() + 1, vec![0.0; 3], 1.5);
        let before = exact(&model, &class(&skills, &shares))[skill];
        skills.push(vec![skill]);
        shares.push(1.0);
        let after = exact(&model, &class(&skills, &shares))[skill];
        prop_assert!(after >= before - 1e-12, "{before} -> {after}");
    }
}
