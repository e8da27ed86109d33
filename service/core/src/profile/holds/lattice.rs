//! The exact posterior over every combination of skills.
//!
//! A combination is a number whose bit k says whether skill k is held; there are 2^K of them. An answer speaks for every combination
//! that holds all skills of its item, so its weight is added to the item's set and then passed up to all sets that contain it.
//! Prior: the common factor summed out, once for the class.
//! Keeps: `equals_the_hand_value`. Time: K × 2^K additions a student.

use super::Evidence;
use super::answers::{Answer, Answers};
use super::noise::Noise;
use super::prior::{NODES, NodeCounts, SkillPrior};

/// Prior of every combination, and how likely each node is behind it.
pub(super) struct Lattice {
    n_skills: usize,
    log_prior: Vec<f64>,
    prior: SkillPrior,
}

/// Room for the sums over combinations of one student.
pub(super) struct Scratch {
    posterior: Vec<f64>,
    /// Probability of holding every skill of a set, by set.
    held: Vec<f64>,
}

impl Lattice {
    pub(super) fn new(prior: &SkillPrior) -> Self {
        let n_skills = prior.n_skills();
        let mut total = vec![0.0; 1 << n_skills];
        for (q, (_, weight)) in NODES.iter().enumerate() {
            let at_node = combinations(prior, q);
            total.iter_mut().zip(&at_node).for_each(|(t, p)| *t += weight * p);
        }
        Lattice { n_skills, log_prior: total.iter().map(|p| p.max(1e-300).ln()).collect(), prior: prior.clone() }
    }

    pub(super) fn scratch(&self) -> Scratch {
        Scratch { posterior: vec![0.0; 1 << self.n_skills], held: vec![0.0; 1 << self.n_skills] }
    }

    /// Works out one student; the probability of holding all skills of a set is then `scratch.held(set)`.
    pub(super) fn solve(&self, scratch: &mut Scratch, answers: &Answers<'_>, noise: &[Noise], given: &[Answer]) {
        let posterior = &mut scratch.posterior;
        posterior.fill(0.0);
        for answer in given {
            let set = answers.sets[answers.items[answer.item].set] as usize;
            posterior[set] += noise[answer.item].log_ratio(answer);
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
        scratch.held.copy_from_slice(posterior);
        for k in 0..self.n_skills {
            pass_down(&mut scratch.held, k);
        }
    }

    /// Adds the student just solved to what the class shows.
    pub(super) fn add(&self, scratch: &Scratch, evidence: &mut Evidence) {
        evidence.combinations.iter_mut().zip(&scratch.posterior).for_each(|(c, p)| *c += p);
    }

    /// Expected students at each node, from those in each combination.
    pub(super) fn node_counts(&self, combinations_seen: &[f64]) -> NodeCounts {
        let n_skills = self.n_skills;
        let mut counts = NodeCounts::new(n_skills);
        for (q, (_, weight)) in NODES.iter().enumerate() {
            let at_node = combinations(&self.prior, q);
            let mut here: Vec<f64> = combinations_seen
                .iter()
                .zip(&at_node)
                .zip(&self.log_prior)
                .map(|((n, p), log_prior)| n * weight * p / log_prior.exp())
                .collect();
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

impl Scratch {
    /// Probability of holding all skills of the set.
    pub(super) fn held(&self, set: u32) -> f64 {
        self.held[set as usize]
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
