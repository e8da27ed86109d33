//! A posterior for any number of skills: given the factor, skills are taken one by one.
//!
//! Exact where every item needs one skill. An item of several is weighed by how likely its other skills are held at the moment,
//! again and again until it settles; for more skills than the exact model takes.
//! Keeps: `one_skill_items_are_exact`, `an_item_of_two_skills_comes_near_the_exact_posterior`.

use super::answers::{Answer, Answers};
use super::noise::LogRatios;
use super::prior::{NODES, NodeCounts, SkillPrior};
use super::{Evidence, SUREST, Way};

/// Looks at every skill for one student; settles in two or three where items have several skills.
const SWEEPS: usize = 4;

/// The prior at every node.
pub(super) struct Factored {
    n_skills: usize,
    at_nodes: Vec<f64>,
    several: bool,
}

/// One student's working.
pub(super) struct Room {
    ratios: Vec<f64>,
    /// Probability of holding each skill.
    mastery: Vec<f64>,
    /// How likely each node is behind the answers.
    weights: [f64; NODES.len()],
    /// Skills that an answer measures.
    touched: Vec<bool>,
}

impl Way for Factored {
    type Room = Room;

    fn new(prior: &SkillPrior, answers: &Answers<'_>) -> Self {
        Factored { n_skills: prior.n_skills(), at_nodes: prior.at_nodes(), several: answers.has_shared_items() }
    }

    fn n_combinations(&self) -> usize {
        0
    }

    fn room(&self) -> Room {
        Room {
            ratios: vec![1.0; self.n_skills],
            mastery: vec![0.0; self.n_skills],
            weights: [0.0; NODES.len()],
            touched: vec![false; self.n_skills],
        }
    }

    fn solve(&self, room: &mut Room, answers: &Answers<'_>, ratios: &[LogRatios], given: &[Answer]) {
        let likelihood_ratios: Vec<f64> = given.iter().map(|a| ratios[a.item].of(a).exp()).collect();
        room.ratios.fill(1.0);
        room.touched.fill(false);
        given.iter().flat_map(|a| answers.items[a.item].skills).for_each(|&k| room.touched[k] = true);
        self.blend_nodes(room);
        for _ in 0..if self.several { SWEEPS } else { 1 } {
            room.ratios.fill(1.0);
            for (answer, ratio) in given.iter().zip(&likelihood_ratios) {
                let skills = answers.items[answer.item].skills;
                for &k in skills {
                    let others: f64 = skills.iter().filter(|&&l| l != k).map(|&l| room.mastery[l]).product();
                    room.ratios[k] *= others * ratio + (1.0 - others);
                }
            }
            self.blend_nodes(room);
        }
    }

    fn held(&self, room: &Room, answers: &Answers<'_>, item: usize) -> f64 {
        answers.items[item].skills.iter().map(|&k| room.mastery[k]).product()
    }

    fn mastery(&self, room: &Room, skill: usize) -> f64 {
        room.mastery[skill]
    }

    fn node_counts(&self, evidence: Evidence) -> NodeCounts {
        evidence.nodes
    }

    fn add(&self, room: &Room, evidence: &mut Evidence) {
        for (q, weight) in room.weights.iter().enumerate() {
            for k in (0..self.n_skills).filter(|&k| room.touched[k]) {
                let at = q * self.n_skills + k;
                evidence.nodes.students[at] += weight;
                evidence.nodes.holding[at] += weight * self.held_at(q, k, room);
            }
        }
    }
}

impl Factored {
    fn held_at(&self, q: usize, k: usize, room: &Room) -> f64 {
        let p = self.at_nodes[q * self.n_skills + k];
        p * room.ratios[k] / (1.0 + p * (room.ratios[k] - 1.0))
    }

    /// Sums the factor out: given it, a skill's odds are its prior odds times the likelihood ratio of its answers.
    fn blend_nodes(&self, room: &mut Room) {
        let n_skills = self.n_skills;
        for (q, (_, node_weight)) in NODES.iter().enumerate() {
            let priors = &self.at_nodes[q * n_skills..(q + 1) * n_skills];
            let fits = priors.iter().zip(&room.ratios).map(|(p, r)| 1.0 + p * (r - 1.0));
            room.weights[q] = node_weight.ln() + sum_of_logs(fits);
        }
        let most = room.weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        room.weights.iter_mut().for_each(|w| *w = (*w - most).exp());
        let sum: f64 = room.weights.iter().sum();
        room.weights.iter_mut().for_each(|w| *w /= sum);
        for k in 0..n_skills {
            let held: f64 = (0..NODES.len()).map(|q| room.weights[q] * self.held_at(q, k, room)).sum();
            room.mastery[k] = held.clamp(SUREST, 1.0 - SUREST);
        }
    }
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
