//! The exact posterior over every combination of skills.
//!
//! A combination is a number whose bit k says whether skill k is held; there are 2^K of them. An answer speaks for every combination
//! that holds all skills of its item, so its weight is added to the item's set and then passed up to all sets that contain it.
//! Prior: the common factor summed out, once for the class.
//! Keeps: `equals_the_hand_value`. Time: K × 2^K additions a student.

use super::answers::{Answer, Answers};
use super::noise::LogRatios;
use super::prior::{NODES, NodeCounts, SkillPrior};
use super::{Evidence, Way};

/// Prior of every combination, and how likely each node is behind it.
pub(super) struct Lattice {
    n_skills: usize,
    log_prior: Vec<f64>,
    prior: SkillPrior,
}

/// Room for the sums over combinations of one student.
pub(super) struct Room {
    posterior: Vec<f64>,
    /// Probability of holding every skill of a set, by set.
    held: Vec<f64>,
}

impl Way for Lattice {
    type Room = Room;

    fn new(prior: &SkillPrior, _answers: &Answers<'_>) -> Self {
        let n_skills = prior.n_skills();
        let mut total = vec![0.0; 1 << n_skills];
        for (q, (_, weight)) in NODES.iter().enumerate() {
            let at_node = combinations(prior, q);
            total.iter_mut().zip(&at_node).for_each(|(t, p)| *t += weight * p);
        }
        Lattice { n_skills, log_prior: total.iter().map(|p| p.max(1e-300).ln()).collect(), prior: prior.clone() }
    }

    fn n_combinations(&self) -> usize {
        1 << self.n_skills
    }

    fn room(&self) -> Room {
        Room { posterior: vec![0.0; 1 << self.n_skills], held: vec![0.0; 1 << self.n_skills] }
    }

    fn solve(&self, room: &mut Room, answers: &Answers<'_>, ratios: &[LogRatios], given: &[Answer]) {
        let posterior = &mut room.posterior;
        posterior.fill(0.0);
        for answer in given {
            let set = answers.sets[answers.items[answer.item].set] as usize;
            posterior[set] += ratios[answer.item].of(answer);
        }
        for k in 0..self.n_skills {
            pass_up(posterior, k);
        }
        let mut most = f64::NEG_INFINITY;
        for (p, log_prior) in posterior.iter_mut().zip(&self.log_prior) {
            *p += log_prior;
            most = most.max(*p);
        }
        let mut sum = 0.0;
        for p in posterior.iter_mut() {
            *p = (*p - most).exp();
            sum += *p;
        }
        posterior.iter_mut().for_each(|p| *p /= sum);
        room.held.copy_from_slice(posterior);
        for k in 0..self.n_skills {
            pass_down(&mut room.held, k);
        }
    }

    fn held(&self, room: &Room, answers: &Answers<'_>, item: usize) -> f64 {
        room.held[answers.sets[answers.items[item].set] as usize]
    }

    fn mastery(&self, room: &Room, skill: usize) -> f64 {
        room.held[1 << skill]
    }

    fn add(&self, room: &Room, evidence: &mut Evidence) {
        evidence.combinations.iter_mut().zip(&room.posterior).for_each(|(c, p)| *c += p);
    }

    fn node_counts(&self, evidence: Evidence) -> NodeCounts {
        let n_skills = self.n_skills;
        let mut counts = NodeCounts::new(n_skills);
        let shown: Vec<f64> =
            evidence.combinations.iter().zip(&self.log_prior).map(|(n, log_prior)| n / log_prior.exp()).collect();
        for (q, (_, weight)) in NODES.iter().enumerate() {
            let at_node = combinations(&self.prior, q);
            let mut here: Vec<f64> = shown.iter().zip(&at_node).map(|(n, p)| n * weight * p).collect();
            let students: f64 = here.iter().sum();
            for k in 0..n_skills {
                pass_down(&mut here, k);
            }
            for k in 0..n_skills {
                counts.students[q * n_skills + k] = students;
                counts.holding[q * n_skills + k] = here[1 << k];
            }
        }
        counts
    }
}

/// Probability of every combination at one node.
fn combinations(prior: &SkillPrior, node: usize) -> Vec<f64> {
    let mut all = vec![1.0];
    for level in &prior.levels {
        let p = super::prior::logistic(level + prior.factor * NODES[node].0);
        let with: Vec<f64> = all.iter().map(|a| a * p).collect();
        all.iter_mut().for_each(|a| *a *= 1.0 - p);
        all.extend(with);
    }
    all
}

/// Adds to every set with skill k what stands at the same set without it.
fn pass_up(values: &mut [f64], k: usize) {
    for block in values.chunks_exact_mut(2 << k) {
        let (without, with) = block.split_at_mut(1 << k);
        with.iter_mut().zip(without).for_each(|(a, b)| *a += *b);
    }
}

/// Adds to every set without skill k what stands at the same set with it.
fn pass_down(values: &mut [f64], k: usize) {
    for block in values.chunks_exact_mut(2 << k) {
        let (without, with) = block.split_at_mut(1 << k);
        without.iter_mut().zip(with).for_each(|(a, b)| *a += *b);
    }
}
