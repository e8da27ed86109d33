//! The probability that a student holds a skill, from a few noisy answers.
//!
//! In:  shares of points (n_students, n_items, missing allowed), which items need which skills, a weight for each assessment.
//! Out: mastery (n_students, n_skills), 0 to 1; guess and slip rates of each item; levels of the skills and the strength of their
//! common factor, fitted to the class.
//! Model: an item is answered by one who holds all its skills with probability 1 - slip, by anyone else with probability guess
//! (`noise`); partial points count in proportion, older answers by their weight. Skills rise and fall together through one common
//! factor (`prior`). With up to twelve skills every combination of them is weighed (`lattice`); with more, or where every item needs
//! one skill and that is exact too, skill by skill (`factored`). Few answers leave the estimate near what the class and the
//! student's other answers suggest: that is the shrinkage.
//! Keeps: 1. no answers at all, no change from the base rate (`no_answers_give_the_base_rate`)
//!        2. for fixed noise and prior, one more right answer never lowers its only skill (`a_right_answer_never_lowers_its_skill`)
//!        3. without a common factor the posteriors are those worked out by hand (`equals_the_hand_value`)
//!        4. with it, a student who holds everything else is doubted less for one slip (`other_skills_speak_for_a_student`)
//!        5. both ways agree where both are exact (`one_skill_items_are_exact`).
//! Source: the conjunctive ("DINA") response model: Haertel 1989; Junker & Sijtsma 2001, APM 25:258-272 (pages from memory);
//! one noise level as advised for classes under 100 students: Nájera, Abad, Chiu & Sorrel 2023.
//! Not here: which combinations the items cannot tell apart (`telling`), how old an answer is (`mod`).

mod answers;
mod factored;
mod lattice;
mod noise;
mod prior;

#[cfg(test)]
mod tests;

pub use noise::Noise;
pub use prior::SkillPrior;

use super::{ShareTable, SkillMap};
use crate::scores::ResponseTable;
use answers::{Answer, Answers, MOST_EXACT_SKILLS};
use factored::Factored;
use lattice::Lattice;
use ndarray::{Array2, Axis};
use noise::{LogRatios, NoiseCounts, refit_noise};
use prior::NodeCounts;
use rayon::prelude::*;

/// Students that the model is fitted on at most; more add nothing to so few numbers.
const FIT_STUDENTS: usize = 1_500;
/// Rounds of fitting at most.
const FIT_ROUNDS: usize = 60;
/// A round that moves no number by more than this is the last.
const SETTLED: f64 = 1e-3;
/// Students whose sums are taken together, so that sums do not depend on the number of threads.
const CHUNK: usize = 64;
/// Mastery is never surer than this.
const SUREST: f64 = 1e-6;

/// Noise and prior of a class.
#[derive(Debug, Clone, PartialEq)]
pub struct HoldModel {
    /// Rates of items with options (or of points alone), then of open ones.
    pub kinds: [Noise; 2],
    /// Rates of each item that needs a skill, by what it needs and its label.
    pub items: Vec<Noise>,
    /// How skills are held in the class.
    pub prior: SkillPrior,
}

/// What a class shows under a model.
pub(crate) struct Evidence {
    noise: Vec<NoiseCounts>,
    /// Expected students in each combination of skills; empty for the factored way.
    combinations: Vec<f64>,
    nodes: NodeCounts,
}

impl Evidence {
    fn new(n_items: usize, n_skills: usize, n_combinations: usize) -> Self {
        Evidence {
            noise: vec![NoiseCounts::default(); n_items],
            combinations: vec![0.0; n_combinations],
            nodes: NodeCounts::new(n_skills),
        }
    }

    fn join(&mut self, other: &Evidence) {
        let add = |into: &mut [f64], from: &[f64]| into.iter_mut().zip(from).for_each(|(a, b)| *a += b);
        self.noise.iter_mut().zip(&other.noise).for_each(|(a, b)| a.join(b));
        add(&mut self.combinations, &other.combinations);
        add(&mut self.nodes.students, &other.nodes.students);
        add(&mut self.nodes.holding, &other.nodes.holding);
    }
}

/// A way to weigh the skills of one student after another under a prior.
trait Way: Sync {
    /// Room for one student at a time.
    type Room: Send;

    fn new(prior: &SkillPrior, answers: &Answers<'_>) -> Self;
    fn room(&self) -> Self::Room;
    /// Combinations of skills that the way counts; 0 where it takes skills one by one.
    fn n_combinations(&self) -> usize;
    /// Works out one student; what follows is about the student just worked out.
    fn solve(&self, room: &mut Self::Room, answers: &Answers<'_>, ratios: &[LogRatios], given: &[Answer]);
    /// Probability of holding all skills of an item.
    fn held(&self, room: &Self::Room, answers: &Answers<'_>, item: usize) -> f64;
    /// Probability of holding a skill.
    fn mastery(&self, room: &Self::Room, skill: usize) -> f64;
    /// Adds the student to what the class shows.
    fn add(&self, room: &Self::Room, evidence: &mut Evidence);
    /// Expected students at each node, from what the class showed.
    fn node_counts(&self, evidence: Evidence) -> NodeCounts;
}

/// Fits the model and gives every student's mastery; see the module header. `weights` has a number for each assessment, above 0 to 1.
#[must_use]
pub fn fit_hold_model(
    table: &ResponseTable,
    skills: &SkillMap,
    shares: &ShareTable,
    weights: &[f64],
) -> (HoldModel, Array2<f64>) {
    let answers = Answers::new(table, skills, shares, weights);
    if skills.n_skills() <= MOST_EXACT_SKILLS && answers.has_shared_items() {
        fit_and_weigh::<Lattice>(&answers, skills.n_skills())
    } else {
        fit_and_weigh::<Factored>(&answers, skills.n_skills())
    }
}

fn fit_and_weigh<W: Way>(answers: &Answers<'_>, n_skills: usize) -> (HoldModel, Array2<f64>) {
    let model = fit::<W>(answers, n_skills);
    let mastery = mastery_under::<W>(&model, answers);
    (model, mastery)
}

fn fit<W: Way>(answers: &Answers<'_>, n_skills: usize) -> HoldModel {
    let kinds = Noise::start();
    let of_kind = |i: &answers::ModelItem<'_>| kinds[i.guessing.idx()];
    let mut model =
        HoldModel { kinds, items: answers.items.iter().map(of_kind).collect(), prior: SkillPrior::start(n_skills) };
    let stride = answers.of_student.len().div_ceil(FIT_STUDENTS).max(1);
    let sample: Vec<&[Answer]> =
        answers.of_student.iter().step_by(stride).map(Vec::as_slice).filter(|a| !a.is_empty()).collect();
    for _ in 0..FIT_ROUNDS {
        let next = refit::<W>(&model, answers, &sample);
        let moved = next.distance(&model);
        model = next;
        if moved < SETTLED {
            break;
        }
    }
    model
}

/// One round: what the sample shows under the model, then the model that this speaks for.
fn refit<W: Way>(model: &HoldModel, answers: &Answers<'_>, sample: &[&[Answer]]) -> HoldModel {
    let n_skills = model.prior.n_skills();
    let way = W::new(&model.prior, answers);
    let ratios = model.log_ratios();
    let shown = |chunk: &[&[Answer]]| {
        let mut evidence = Evidence::new(answers.items.len(), n_skills, way.n_combinations());
        let mut room = way.room();
        for given in chunk {
            way.solve(&mut room, answers, &ratios, given);
            given.iter().for_each(|a| evidence.noise[a.item].add(way.held(&room, answers, a.item), a));
            way.add(&room, &mut evidence);
        }
        evidence
    };
    let parts: Vec<Evidence> = sample.par_chunks(CHUNK).map(shown).collect();
    let mut evidence = Evidence::new(answers.items.len(), n_skills, way.n_combinations());
    parts.iter().for_each(|part| evidence.join(part));
    let (kinds, items) = refit_noise(answers, &evidence.noise);
    let prior = model.prior.refitted(&way.node_counts(evidence));
    HoldModel { kinds, items, prior }
}

impl HoldModel {
    fn log_ratios(&self) -> Vec<LogRatios> {
        self.items.iter().map(Noise::log_ratios).collect()
    }

    fn distance(&self, other: &HoldModel) -> f64 {
        let noise = |a: &Noise, b: &Noise| (a.guess - b.guess).abs().max((a.slip - b.slip).abs());
        let kinds = self.kinds.iter().zip(&other.kinds).map(|(a, b)| noise(a, b)).fold(0.0, f64::max);
        kinds.max(self.prior.distance(&other.prior))
    }
}

/// Mastery of every student under a model, shape (n_students, n_skills).
fn mastery_under<W: Way>(model: &HoldModel, answers: &Answers<'_>) -> Array2<f64> {
    let n_skills = model.prior.n_skills();
    let way = W::new(&model.prior, answers);
    let ratios = model.log_ratios();
    let mut mastery = Array2::zeros((answers.of_student.len(), n_skills));
    if n_skills == 0 {
        return mastery;
    }
    mastery.axis_iter_mut(Axis(0)).into_par_iter().zip(&answers.of_student).for_each_init(
        || way.room(),
        |room, (mut row, given)| {
            way.solve(room, answers, &ratios, given);
            row.iter_mut().enumerate().for_each(|(k, m)| *m = way.mastery(room, k).clamp(SUREST, 1.0 - SUREST));
        },
    );
    mastery
}
