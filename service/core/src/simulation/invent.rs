//! One invented class: who holds what, what the items ask, and the answers.
//!
//! Skills come from normal scores with one common part; student i holds skill k where the score is at least the skill's level.
//! Items: two on each skill alone where there are enough (else one), the rest on two skills (seven in ten), one or three.

use super::{BaseRates, ItemNoise, SimulationSettings};
use crate::profile::Noise;
use crate::roster::{Student, StudentId};
use crate::scores::{Item, Mark, ResponseTable};
use crate::skills::SkillCode;
use ndarray::Array2;
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use statrs::distribution::{ContinuousCDF, Normal};

/// A class and its truth.
pub(super) struct Classroom {
    /// Answers as points.
    pub table: ResponseTable,
    /// Who holds what, shape (n_students, n_skills).
    pub holds: Array2<bool>,
    /// Skills of each item.
    pub needed: Vec<Vec<usize>>,
    /// True rates of each item.
    pub noise: Vec<Noise>,
    /// Right or wrong, shape (n_students, n_items).
    pub right: Array2<bool>,
}

/// The level of a skill on the normal score.
pub(super) fn level(settings: &SimulationSettings, skill: usize) -> f64 {
    let normal = Normal::standard();
    match settings.base {
        BaseRates::Ladder => normal.inverse_cdf((skill + 1) as f64 / (settings.n_skills + 1) as f64),
        BaseRates::Half => 0.0,
        BaseRates::SevenTenths => normal.inverse_cdf(0.3),
    }
}

pub(super) fn invent(settings: &SimulationSettings, seed: u64) -> Classroom {
    let mut rng = Xoshiro256Plus::seed_from_u64(seed);
    let normal = Normal::standard();
    let score = |rng: &mut Xoshiro256Plus| normal.inverse_cdf(rng.gen_range(1e-12..1.0));
    let (n, k) = (settings.n_students, settings.n_skills);
    let mut holds = Array2::from_elem((n, k), false);
    for s in 0..n {
        let common = score(&mut rng);
        for skill in 0..k {
            let own = score(&mut rng);
            let z = settings.correlation.sqrt() * common + (1.0 - settings.correlation).sqrt() * own;
            holds[(s, skill)] = z >= level(settings, skill);
        }
    }
    let needed = needed_skills(settings, &mut rng);
    let (low, high) = match settings.noise {
        ItemNoise::Low => (0.05, 0.15),
        ItemNoise::High => (0.10, 0.30),
    };
    let noise: Vec<Noise> =
        needed.iter().map(|_| Noise { guess: rng.gen_range(low..high), slip: rng.gen_range(low..high) }).collect();
    let right = Array2::from_shape_fn((n, needed.len()), |(s, j)| {
        let has_all = needed[j].iter().all(|&skill| holds[(s, skill)]);
        rng.r#gen::<f64>() < if has_all { 1.0 - noise[j].slip } else { noise[j].guess }
    });
    Classroom { table: table_of(&needed, &right), holds, needed, noise, right }
}

fn needed_skills(settings: &SimulationSettings, rng: &mut Xoshiro256Plus) -> Vec<Vec<usize>> {
    let (n_items, k) = (settings.n_items, settings.n_skills);
    let alone = if n_items >= 2 * k { 2 } else { 1 };
    let mut needed: Vec<Vec<usize>> = (0..alone * k).map(|j| vec![j % k]).collect();
    let all: Vec<usize> = (0..k).collect();
    while needed.len() < n_items {
        let throw = rng.r#gen::<f64>();
        let n_skills = if throw < 0.7 {
            2
        } else if throw < 0.9 {
            1
        } else {
            3
        };
        let mut skills: Vec<usize> = all.choose_multiple(rng, n_skills.min(k)).copied().collect();
        skills.sort_unstable();
        needed.push(skills);
    }
    needed
}

fn table_of(needed: &[Vec<usize>], right: &Array2<bool>) -> ResponseTable {
    let mut table = ResponseTable::new();
    let check = table.add_assessment("check");
    for (j, skills) in needed.iter().enumerate() {
        let codes = skills.iter().filter_map(|k| SkillCode::parse(&format!("S{}", k + 1))).collect();
        table.add_item(Item { skills: codes, ..Item::new(&format!("Q{}", j + 1), check) });
    }
    for (s, row) in right.rows().into_iter().enumerate() {
        let Some(id) = StudentId::parse(&format!("{:04}", s + 1)) else { continue };
        let place = table.add_student(Student {
            id,
            name: String::new(),
            grade: String::new(),
            homeroom: String::new(),
            supports: Vec::new(),
        });
        for (j, &is_right) in row.iter().enumerate() {
            // A point or none is always within an item's one point.
            let _ = table.set(place, j, Mark::scored(None, Some(f64::from(u8::from(is_right)))));
        }
    }
    table
}
