//! Classes of invented answers, profiled and grouped; a whole district one class after the other on two threads.
//! Peak memory is what the system says of this process, so the district comes before anything larger.

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use sheaf_core::grouping::{SeatingInput, seat_students, tell};
use sheaf_core::profile::{ErrorCatalogue, estimate};
use sheaf_core::roster::{School, Student, StudentId};
use sheaf_core::scores::{Item, Mark, ResponseTable};
use sheaf_core::skills::{SkillCode, SkillGraph};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

const N_CLASSES: usize = 40_000;
const N_CHILDREN: usize = 25;
const N_ITEMS: usize = 20;
const N_RUNS: usize = 21;

/// Answers by what each child holds of five to eight skills; every third item asks two.
fn invent(n_children: usize, n_items: usize, seed: u64) -> ResponseTable {
    let mut rng = Xoshiro256Plus::seed_from_u64(seed);
    let n_skills = if n_items > 30 { 8 } else { 5 };
    let mut table = ResponseTable::new();
    let check = table.add_assessment("check");
    let asked = |j: usize| if j % 3 == 2 { vec![j % n_skills, (j + 1) % n_skills] } else { vec![j % n_skills] };
    for j in 0..n_items {
        let skills = asked(j).into_iter().map(|k| SkillCode::parse(&format!("S{k}")).unwrap()).collect();
        table.add_item(Item { skills, ..Item::new(&format!("Q{j}"), check) });
    }
    for s in 0..n_children {
        let holds: Vec<bool> = (0..n_skills).map(|_| rng.gen_bool(0.6)).collect();
        let student = table.add_student(Student::unnamed(StudentId::parse(&format!("{s:04}")).unwrap()));
        for j in 0..n_items {
            let right = rng.gen_bool(if asked(j).iter().all(|k| holds[*k]) { 0.9 } else { 0.15 });
            table.set(student, j, Mark::scored(None, Some(f64::from(u8::from(right))))).unwrap();
        }
    }
    table.sorted_by_id()
}

/// Profiles and groups; gives the number of groups.
fn group(table: &ResponseTable, school: &School) -> usize {
    let profiles = estimate(table, &SkillGraph::default(), &school.mastery, None);
    let input = SeatingInput { table, profiles: &profiles, school, previous: None, swap_share: 1.0, seed: 7 };
    let seating = seat_students(input).unwrap();
    tell(table, &profiles, &seating, &ErrorCatalogue::default()).groups.len()
}

/// Median time of one class.
pub fn one(name: &str, n_children: usize, n_items: usize, goal: &str) {
    let (table, school) = (invent(n_children, n_items, 1), School::default());
    let mut times: Vec<f64> = Vec::new();
    let mut n_groups = 0;
    for _ in 0..N_RUNS {
        let began = Instant::now();
        n_groups = group(&table, &school);
        times.push(began.elapsed().as_secs_f64() * 1e3);
    }
    times.sort_by(f64::total_cmp);
    println!("{name}: {:.2} ms (goal {goal}), {n_groups} groups", times[N_RUNS / 2]);
}

/// A million children, class by class.
pub fn district() {
    let (next, n_groups) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let began = Instant::now();
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| one_thread(&next, &n_groups));
        }
    });
    println!(
        "district, {} children in {N_CLASSES} classes: {:.1} s (goal under 60 s), peak {} MiB (goal 256), {} groups",
        N_CLASSES * N_CHILDREN,
        began.elapsed().as_secs_f64(),
        peak_mib(),
        n_groups.into_inner()
    );
}

fn one_thread(next: &AtomicUsize, n_groups: &AtomicUsize) {
    let school = School::default();
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    pool.install(|| {
        loop {
            let class = next.fetch_add(1, Ordering::Relaxed);
            if class >= N_CLASSES {
                break;
            }
            let found = group(&invent(N_CHILDREN, N_ITEMS, class as u64), &school);
            n_groups.fetch_add(found, Ordering::Relaxed);
        }
    });
}

/// Most memory that this process has held, in MiB; 0 where the system does not say.
fn peak_mib() -> usize {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    line.and_then(|l| l.trim().trim_end_matches(" kB").trim().parse::<usize>().ok()).map_or(0, |kib| kib / 1024)
}
