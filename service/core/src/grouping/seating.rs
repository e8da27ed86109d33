//! Seats the students of every pool: starts, search, targets.
//!
//! Cost of a group, to be low: minus the useful minutes of its best target, then minus what members share of one wrong idea that
//! belongs to that target (`aim`), then the spread of their error profiles.
//! Starts: linfa's k-means on the error profile, with an exact assignment to its centres within the sizes; random ones after it;
//! as many as its size affords, each improved by moves and swaps (`numeric::search_partition`).
//! Keep-together sets move as one. Where keep-apart pairs cannot hold in the groups there are, the students least behind wait.

use super::aim::NeedAim;
use super::bands::bands_finding;
use super::needs::Needs;
use super::overruled::Overruled;
use super::pools::{Pool, make_pools};
use super::previous::{PreviousGroups, PreviousSeats, numbered, seats_changed};
use crate::finding::Finding;
use crate::numeric::{
    Capacity, SearchEffort, Units, assign_within_sizes, fit_kmeans, partition_near_home, search_partition,
};
use crate::profile::Profiles;
use crate::roster::{School, StudentId};
use crate::scores::ResponseTable;
use ndarray::{Array2, Axis};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Starts for every pool of a whole district, and how many are followed to the end.
const WIDE_EFFORT: SearchEffort = SearchEffort { n_starts: 50, n_finalists: 6, n_agreeing: 50 };
/// The same for a grade: every start is followed, until five agree.
const GRADE_EFFORT: SearchEffort = SearchEffort { n_starts: 40, n_finalists: 40, n_agreeing: 5 };
/// Students in all up to whom the effort for a grade is affordable.
const GRADE_UP_TO: usize = 60;
/// Students of one pool searched together; a larger pool is cut into slices of like needs, or time would grow with its square.
const MOST_IN_ONE_SEARCH: usize = 800;
/// Runs of k-means for its start, and units up to which so many are affordable; above, one run.
const KMEANS_RUNS: usize = 4;
const SEVERAL_RUNS_UP_TO: usize = 100;
/// Largest seat matrix (rows) solved exactly for a start.
const MOST_SEATS: usize = 900;

/// What seating needs.
#[derive(Debug, Clone, Copy)]
pub struct SeatingInput<'a> {
    /// Answers, students in order of id.
    pub table: &'a ResponseTable,
    /// Profiles of the same students.
    pub profiles: &'a Profiles,
    /// The school's rules.
    pub school: &'a School,
    /// The groups of the plan before, where there is one.
    pub previous: Option<&'a PreviousGroups>,
    /// Share of the seats of that plan that may change, 0 to 1; 1: seats are free.
    pub swap_share: f64,
    /// Seed.
    pub seed: u64,
}

/// One group before it has a name.
#[derive(Debug, Clone, PartialEq)]
pub struct SeatedGroup {
    /// Indexes of students, in order.
    pub members: Vec<usize>,
    /// Index of the target skill.
    pub target: usize,
    /// Index of the pool.
    pub pool: usize,
}

/// Who sits where.
#[derive(Debug)]
pub struct Seating {
    /// Needs that the seating rests on.
    pub needs: Needs,
    /// Pools.
    pub pools: Vec<Pool>,
    /// Groups, in order of number.
    pub groups: Vec<SeatedGroup>,
    /// The number of each group: that of the group of the week before which it continues, else by target, then first member.
    pub numbers: Vec<usize>,
    /// Whether few seats could change since the plan before.
    pub is_held: bool,
    /// Students who wait, with the reason, beyond those listed in the pools.
    pub waiting: Vec<(usize, String)>,
    /// What a person decided against the suggestion.
    pub(super) overruled: Overruled,
    /// What was noticed.
    pub findings: Vec<Finding>,
    /// The error profile of every student, shape (n_students, n_skills + n_codes).
    pub error_profiles: Array2<f64>,
}

/// Fixed limits that contradict each other, in one sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LimitsClash(pub String);

/// Seats everyone that can be seated.
///
/// # Errors
/// [`LimitsClash`] where keep-together sets contradict sizes, pools or keep-apart pairs.
pub fn seat_students(input: SeatingInput<'_>) -> Result<Seating, LimitsClash> {
    let needs = Needs::new(input.profiles, &input.school.core.skills);
    let pools = make_pools(input.table, &needs, input.school);
    let limits = PairLimits::new(&input, &pools)?;
    let mut findings = limits.findings.clone();
    findings.extend(pools.iter().filter_map(|p| {
        p.note.as_ref().map(|n| Finding::warning("sizes-do-not-fit", n.clone(), "the furthest behind are seated first"))
    }));
    let error_profiles = error_profiles(input.profiles, &needs);
    let is_held = input.previous.is_some() && input.swap_share < 1.0;
    let before = if is_held { PreviousSeats::new(&input, &needs, &pools, input.swap_share) } else { None };
    let room = Room {
        input: &input,
        needs: &needs,
        limits: &limits,
        before: before.as_ref(),
        error_profiles: &error_profiles,
    };
    let seated: Vec<PoolResult> = pools.par_iter().enumerate().map(|(idx, pool)| room.seat_pool(idx, pool)).collect();
    let mut groups = Vec::new();
    let mut waiting = Vec::new();
    for result in seated {
        groups.extend(result.groups);
        waiting.extend(result.waiting);
    }
    groups.sort_by(|a, b| a.target.cmp(&b.target).then(a.members.cmp(&b.members)));
    findings.extend(bands_finding(&needs, input.profiles, &groups, pools.len()));
    let numbers = numbered(&mut groups, &input);
    findings.extend(seats_changed(&groups, &numbers, &input, input.swap_share));
    let overruled = Overruled::default();
    Ok(Seating { needs, pools, groups, numbers, is_held, waiting, overruled, findings, error_profiles })
}

/// Keep-apart pairs and keep-together sets, by student index.
struct PairLimits {
    apart: Vec<(usize, usize)>,
    /// For each student in a set, the least index of the set.
    together: BTreeMap<usize, usize>,
    findings: Vec<Finding>,
}

impl PairLimits {
    fn new(input: &SeatingInput<'_>, pools: &[Pool]) -> Result<Self, LimitsClash> {
        let mut pool_of = BTreeMap::new();
        for (p, pool) in pools.iter().enumerate() {
            pool.seated.iter().for_each(|&s| {
                pool_of.insert(s, p);
            });
        }
        let index = |id: &StudentId| input.table.student_index(id);
        let apart = input
            .school
            .groups
            .keep_apart
            .iter()
            .filter_map(|(a, b)| Some((index(a)?, index(b)?)))
            .filter(|(a, b)| a != b)
            .collect();
        let mut limits = PairLimits { apart, together: BTreeMap::new(), findings: Vec::new() };
        for set in &input.school.groups.keep_together {
            let known: Vec<usize> = set.iter().filter_map(index).filter(|s| pool_of.contains_key(s)).collect();
            limits.join(&known, set, &pool_of, pools)?;
        }
        limits.check_apart(input)?;
        Ok(limits)
    }

    fn join(
        &mut self,
        known: &[usize],
        set: &[StudentId],
        pool_of: &BTreeMap<usize, usize>,
        pools: &[Pool],
    ) -> Result<(), LimitsClash> {
        let names = set.iter().map(StudentId::as_str).collect::<Vec<_>>().join(", ");
        let Some(first) = known.first() else { return Ok(()) };
        if known.len() < set.len() {
            self.findings.push(Finding::note(
                "keep-together-not-needed",
                format!("Not all of {names} get a seat this week."),
                "the others are seated without them",
            ));
        }
        if known.iter().any(|s| pool_of[s] != pool_of[first]) {
            return Err(LimitsClash(format!(
                "keep_together holds {names} together, but `within` puts them in different groups; take one of the two out of the setup."
            )));
        }
        let mut root = known.iter().map(|s| self.together.get(s).copied().unwrap_or(*s)).min().unwrap_or(*first);
        let old: Vec<usize> = known.iter().filter_map(|s| self.together.get(s).copied()).collect();
        root = root.min(*first);
        for r in self.together.values_mut().filter(|r| old.contains(r)) {
            *r = root;
        }
        known.iter().for_each(|&s| {
            self.together.insert(s, root);
        });
        let size = self.together.values().filter(|&&r| r == root).count();
        let pool = &pools[pool_of[first]];
        if size > pool.max_size {
            return Err(LimitsClash(format!(
                "keep_together holds {size} students together ({names}), but a group seats at most {}; raise max_size or split the set.",
                pool.max_size
            )));
        }
        Ok(())
    }

    fn check_apart(&self, input: &SeatingInput<'_>) -> Result<(), LimitsClash> {
        let clash = self
            .apart
            .iter()
            .find(|(a, b)| matches!((self.together.get(a), self.together.get(b)), (Some(x), Some(y)) if x == y));
        match clash {
            Some(&(a, b)) => Err(LimitsClash(format!(
                "{} and {} are in keep_apart and, through keep_together, in one group; take one of the two out of the setup.",
                input.table.students()[a].id,
                input.table.students()[b].id
            ))),
            None => Ok(()),
        }
    }
}

struct PoolResult {
    groups: Vec<SeatedGroup>,
    waiting: Vec<(usize, String)>,
}

/// What every pool is seated from.
struct Room<'a> {
    input: &'a SeatingInput<'a>,
    needs: &'a Needs,
    limits: &'a PairLimits,
    /// Last week's seats, where few of them may change.
    before: Option<&'a PreviousSeats>,
    error_profiles: &'a Array2<f64>,
}

impl Room<'_> {
    /// Seats one pool; while its pairs cannot hold, the student in a pair who is least behind waits.
    fn seat_pool(&self, pool_idx: usize, pool: &Pool) -> PoolResult {
        let mut result = PoolResult { groups: Vec::new(), waiting: Vec::new() };
        let mut seated = pool.seated.clone();
        while pool.n_groups > 0 && seated.len() >= pool.min_size {
            let n_groups = pool.n_groups.min(seated.len() / pool.min_size);
            let capacity = Capacity { n_groups, min_size: pool.min_size, max_size: pool.max_size };
            if let Some(labels) = self.seat_in(&seated, capacity, pool_idx) {
                result.groups = groups_of(self.needs, &seated, &labels, n_groups, pool_idx);
                return result;
            }
            let Some(out) = self.next_to_wait(&seated) else { break };
            seated.retain(|&s| s != out);
            let why = "Keep-apart and keep-together cannot all hold in the groups there are; one more group would seat this student.";
            result.waiting.push((out, why.to_owned()));
        }
        let why = format!("No group of {} to {} could be formed.", pool.min_size, pool.max_size);
        result.waiting.extend(seated.into_iter().map(|s| (s, why.clone())));
        result
    }

    fn next_to_wait(&self, seated: &[usize]) -> Option<usize> {
        let is_paired = |s: usize| {
            self.limits.apart.iter().any(|&(a, b)| (a == s && seated.contains(&b)) || (b == s && seated.contains(&a)))
        };
        let least_behind =
            |a: &usize, b: &usize| self.needs.behind(*a).total_cmp(&self.needs.behind(*b)).then(b.cmp(a));
        let paired = seated.iter().copied().filter(|&s| is_paired(s)).min_by(least_behind);
        paired.or_else(|| seated.iter().copied().min_by(least_behind))
    }

    /// Labels of the students of `seated`, or `None` where the pairs cannot hold.
    fn seat_in(&self, seated: &[usize], capacity: Capacity, pool_idx: usize) -> Option<Vec<usize>> {
        let unit_members = units_of(self.limits, seated);
        if let Some(labels) = self.seat_near_home(&unit_members, capacity, pool_idx) {
            let of = unit_members.iter().zip(labels).flat_map(|(unit, label)| unit.iter().map(move |&s| (s, label)));
            let label_of: BTreeMap<usize, usize> = of.collect();
            return seated.iter().map(|s| label_of.get(s).copied()).collect();
        }
        let seed = self.input.seed.wrapping_add((pool_idx as u64).wrapping_mul(0x1_0000_0001));
        let mut slices = self.slices(unit_members, capacity);
        let labelled: Option<Vec<Vec<usize>>> = slices
            .par_iter()
            .map(|slice| self.search(&slice.units, slice.capacity, seed.wrapping_add(slice.first_group as u64)))
            .collect();
        let mut label_of = BTreeMap::new();
        for (slice, labels) in slices.drain(..).zip(labelled?) {
            for (members, label) in slice.units.into_iter().zip(labels) {
                label_of.extend(members.into_iter().map(|s| (s, slice.first_group + label)));
            }
        }
        seated.iter().map(|s| label_of.get(s).copied()).collect()
    }

    /// Near last week's seats, where few of them may change and the limits can be kept so.
    fn seat_near_home(&self, unit_members: &[Vec<usize>], capacity: Capacity, pool_idx: usize) -> Option<Vec<usize>> {
        let homes = self.before?.homes(pool_idx, unit_members, capacity.n_groups);
        let is_new = homes.of_unit.iter().all(Vec::is_empty);
        let units = self.build_units(unit_members);
        if is_new { None } else { partition_near_home(&units, capacity, &NeedAim::new(self.needs), &homes) }
    }

    /// Cuts a very large pool into slices of students with like needs, each with its part of the groups; any other pool is one slice.
    fn slices(&self, mut units: Vec<Vec<usize>>, capacity: Capacity) -> Vec<Slice> {
        let n: usize = units.iter().map(Vec::len).sum();
        let n_slices = n.div_ceil(MOST_IN_ONE_SEARCH).clamp(1, capacity.n_groups.max(1));
        if n_slices > 1 {
            let target = |unit: &Vec<usize>| {
                unit.first().map_or((0, 0.0), |&s| (target_of(self.needs, &[s]), self.needs.behind(s)))
            };
            units
                .sort_by(|a, b| target(a).0.cmp(&target(b).0).then(target(b).1.total_cmp(&target(a).1)).then(a.cmp(b)));
        }
        let mut rest = units.into_iter();
        let mut n_taken = 0;
        (0..n_slices)
            .map(|slice| {
                let first_group = slice * capacity.n_groups / n_slices;
                let end_group = (slice + 1) * capacity.n_groups / n_slices;
                let end = end_group * n / capacity.n_groups.max(1);
                let mut taken = Vec::new();
                while n_taken < end
                    && let Some(unit) = rest.next()
                {
                    n_taken += unit.len();
                    taken.push(unit);
                }
                Slice {
                    first_group,
                    capacity: Capacity { n_groups: end_group - first_group, ..capacity },
                    units: taken,
                }
            })
            .collect()
    }

    /// A label for every unit.
    fn search(&self, unit_members: &[Vec<usize>], capacity: Capacity, seed: u64) -> Option<Vec<usize>> {
        let units = self.build_units(unit_members);
        let given: Vec<Vec<usize>> = kmeans_start(&units, capacity, self.input.seed).into_iter().collect();
        let effort = if self.needs.gain.nrows() <= GRADE_UP_TO { GRADE_EFFORT } else { WIDE_EFFORT };
        search_partition(&units, capacity, &NeedAim::new(self.needs), &given, effort, seed)
    }

    fn build_units(&self, members: &[Vec<usize>]) -> Units {
        let (needs, features) = (self.needs, self.error_profiles);
        let mut worths = Array2::zeros((members.len(), needs.gain.ncols() + needs.ideas.ncols()));
        let mut points = Array2::zeros((members.len(), features.ncols()));
        let mut squares = vec![0.0; members.len()];
        let mut unit_of = BTreeMap::new();
        for (u, students) in members.iter().enumerate() {
            for &s in students {
                unit_of.insert(s, u);
                let parts = needs.gain.row(s).into_iter().chain(needs.ideas.row(s));
                worths.row_mut(u).iter_mut().zip(parts).for_each(|(a, b)| *a += b);
                points.row_mut(u).scaled_add(1.0, &features.row(s));
                squares[u] += features.row(s).dot(&features.row(s));
            }
        }
        let mut apart = vec![Vec::new(); members.len()];
        for (a, b) in &self.limits.apart {
            if let (Some(&x), Some(&y)) = (unit_of.get(a), unit_of.get(b)) {
                apart[x].push(y);
                apart[y].push(x);
            }
        }
        Units { sizes: members.iter().map(Vec::len).collect(), worths, points, squares, apart }
    }
}

/// A part of a pool that is searched by itself.
struct Slice {
    first_group: usize,
    capacity: Capacity,
    units: Vec<Vec<usize>>,
}

/// Groups of students by what each skill would be worth to each of them, shape (n_students, n_skills), and nothing else: the search
/// by itself. A label for every student, or `None` where the sizes cannot hold them.
pub(crate) fn seat_by_gain(gain: &Array2<f64>, capacity: Capacity, seed: u64) -> Option<Vec<usize>> {
    let n = gain.nrows();
    let units = Units {
        sizes: vec![1; n],
        worths: gain.as_standard_layout().into_owned(),
        points: gain.as_standard_layout().into_owned(),
        squares: gain.rows().into_iter().map(|r| r.dot(&r)).collect(),
        apart: vec![Vec::new(); n],
    };
    let given: Vec<Vec<usize>> = kmeans_start(&units, capacity, seed).into_iter().collect();
    let no_ideas = vec![Vec::new(); gain.ncols()];
    search_partition(&units, capacity, &NeedAim::of_gains(gain.ncols(), &no_ideas), &given, GRADE_EFFORT, seed)
}

/// Students by unit: alone, or a keep-together set.
fn units_of(limits: &PairLimits, seated: &[usize]) -> Vec<Vec<usize>> {
    let mut units: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for &s in seated {
        units.entry(limits.together.get(&s).copied().unwrap_or(s)).or_default().push(s);
    }
    units.into_values().collect()
}

/// The error profile: for each skill the probability of lacking it, for each wrong idea how strongly it shows. All 0 to 1.
fn error_profiles(profiles: &Profiles, needs: &Needs) -> Array2<f64> {
    let lack = profiles.mastery.mapv(|m| 1.0 - m);
    ndarray::concatenate(Axis(1), &[lack.view(), needs.ideas.view()]).unwrap_or(lack)
}

/// k-means on the error profile, then the exact assignment to its centres within the sizes.
fn kmeans_start(units: &Units, capacity: Capacity, seed: u64) -> Option<Vec<usize>> {
    let n = units.sizes.len();
    if units.sizes.iter().any(|&s| s > 1) || capacity.n_groups * capacity.max_size > MOST_SEATS {
        return None;
    }
    let n_runs = if n <= SEVERAL_RUNS_UP_TO { KMEANS_RUNS } else { 1 };
    // Every unit is one student here, so its points are the student's own.
    let fit = fit_kmeans(units.points.view(), capacity.n_groups.min(n), seed, n_runs).ok()?;
    let mut costs = Array2::from_elem((n, capacity.n_groups), 0.0);
    for ((i, g), cost) in costs.indexed_iter_mut() {
        // Centres that k-means did without stand at the first one: any member will do.
        let centre = fit.means.row(g.min(fit.means.nrows() - 1));
        *cost = units.points.row(i).iter().zip(centre).map(|(x, m)| (x - m) * (x - m)).sum();
    }
    assign_within_sizes(costs.view(), capacity.min_size, capacity.max_size)
}

fn groups_of(needs: &Needs, seated: &[usize], labels: &[usize], n_groups: usize, pool: usize) -> Vec<SeatedGroup> {
    (0..n_groups)
        .map(|g| {
            let members: Vec<usize> = seated.iter().zip(labels).filter(|(_, l)| **l == g).map(|(s, _)| *s).collect();
            let target = target_of(needs, &members);
            SeatedGroup { members, target, pool }
        })
        .filter(|g| !g.members.is_empty())
        .collect()
}

/// The skill most useful to the members together; the earlier in teaching order where two are alike.
pub(super) fn target_of(needs: &Needs, members: &[usize]) -> usize {
    let total = |k: usize| members.iter().map(|&s| needs.gain[(s, k)]).sum::<f64>();
    let mut best = (0, f64::NEG_INFINITY);
    for k in 0..needs.gain.ncols() {
        if total(k) > best.1 + 1e-9 {
            best = (k, total(k));
        }
    }
    best.0
}
