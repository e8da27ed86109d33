//! Ways of grouping, compared: each seats the class, each group is taught the skill that the estimates say its members lack most.
//! Out: the share of students whose group's target they truly lack.

use super::invent::Classroom;
use super::{NeedsMet, SimulationSettings};
use crate::grouping::{SeatingInput, seat_by_gain, seat_students};
use crate::numeric::{Capacity, cluster_within_sizes};
use crate::profile::Profiles;
use crate::roster::School;
use ndarray::Array2;
use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_xoshiro::Xoshiro256Plus;

/// Needs met in one class.
#[derive(Debug, Clone, Copy)]
pub(super) struct Arms(pub NeedsMet);

impl Arms {
    pub(super) fn mean(all: &[Arms]) -> NeedsMet {
        let n = all.len().max(1) as f64;
        let mean = |of: fn(&NeedsMet) -> f64| all.iter().map(|a| of(&a.0)).sum::<f64>() / n;
        NeedsMet {
            by_need: mean(|m| m.by_need),
            by_known_rates: mean(|m| m.by_known_rates),
            by_kmeans: mean(|m| m.by_kmeans),
            by_total_score: mean(|m| m.by_total_score),
            at_random: mean(|m| m.at_random),
            at_best: mean(|m| m.at_best),
        }
    }
}

pub(super) fn serve(
    settings: &SimulationSettings,
    class: &Classroom,
    profiles: &Profiles,
    known: &Array2<f64>,
    school: &School,
    seed: u64,
) -> Arms {
    let n = settings.n_students;
    let (min_size, max_size) = settings.sizes;
    let n_groups = n.div_ceil(max_size).max(1);
    let capacity = Capacity { n_groups, min_size: min_size.min(n / n_groups), max_size };
    let lacks = |mastery: &Array2<f64>| mastery.mapv(|m| 1.0 - m);
    let truth = class.holds.mapv(|h| if h { 0.0 } else { 1.0 });
    // Every way but the two that know more chooses its targets by the same estimates.
    let by_estimate = |labels: &[usize]| met(labels, n_groups, &lacks(&profiles.mastery), &truth);
    let seated =
        |gain: &Array2<f64>| seat_by_gain(gain, capacity, seed).unwrap_or_else(|| bands(&in_order(n), n_groups));
    let rates = shares_wrong(settings, class);
    let kmeans = cluster_within_sizes(rates.view(), n_groups, capacity.min_size, max_size, seed);
    let totals: Vec<usize> = class.right.rows().into_iter().map(|r| r.iter().filter(|&&x| x).count()).collect();
    let mut by_total = in_order(n);
    by_total.sort_by_key(|&s| (totals[s], s));
    let mut shuffled = in_order(n);
    shuffled.shuffle(&mut Xoshiro256Plus::seed_from_u64(seed ^ 0x5EED));
    Arms(NeedsMet {
        by_need: by_need(class, profiles, school, &truth, seed),
        by_known_rates: met(&seated(&lacks(known)), n_groups, &lacks(known), &truth),
        by_kmeans: kmeans.map_or(0.0, |c| by_estimate(&c.labels)),
        by_total_score: by_estimate(&bands(&by_total, n_groups)),
        at_random: by_estimate(&bands(&shuffled, n_groups)),
        at_best: met(&seated(&truth), n_groups, &truth, &truth),
    })
}

/// Sheaf's own groups and targets.
fn by_need(class: &Classroom, profiles: &Profiles, school: &School, truth: &Array2<f64>, seed: u64) -> f64 {
    let input = SeatingInput { table: &class.table, profiles, school, previous: None, swap_share: 1.0, seed };
    let Ok(seating) = seat_students(input) else { return 0.0 };
    let n_met: f64 = seating.groups.iter().flat_map(|g| g.members.iter().map(move |&s| truth[(s, g.target)])).sum();
    n_met / class.table.n_students().max(1) as f64
}

fn in_order(n: usize) -> Vec<usize> {
    (0..n).collect()
}

/// Cuts an order of students into groups of like size.
fn bands(order: &[usize], n_groups: usize) -> Vec<usize> {
    let mut labels = vec![0; order.len()];
    order.iter().enumerate().for_each(|(at, &s)| labels[s] = at * n_groups / order.len().max(1));
    labels
}

/// Share of wrong answers on each skill, shape (n_students, n_skills): what plain clustering of scores sees.
fn shares_wrong(settings: &SimulationSettings, class: &Classroom) -> Array2<f64> {
    Array2::from_shape_fn((settings.n_students, settings.n_skills), |(s, k)| {
        let items: Vec<usize> = (0..class.needed.len()).filter(|&j| class.needed[j].contains(&k)).collect();
        let wrong = items.iter().filter(|&&j| !class.right[(s, j)]).count();
        wrong as f64 / items.len().max(1) as f64
    })
}

/// Share of students who truly lack what their group is taught; `lack` chooses the targets.
fn met(labels: &[usize], n_groups: usize, lack: &Array2<f64>, truth: &Array2<f64>) -> f64 {
    let mut n_met = 0.0;
    for g in 0..n_groups {
        let members: Vec<usize> = (0..labels.len()).filter(|&s| labels[s] == g).collect();
        let total = |k: usize| members.iter().map(|&s| lack[(s, k)]).sum::<f64>();
        let mut target = 0;
        for k in 1..lack.ncols() {
            if total(k) > total(target) + 1e-12 {
                target = k;
            }
        }
        n_met += members.iter().map(|&s| truth[(s, target)]).sum::<f64>();
    }
    n_met / labels.len().max(1) as f64
}
