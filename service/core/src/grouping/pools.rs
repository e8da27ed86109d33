//! Who may sit together, how many groups that makes, and who has to wait.
//!
//! A pool is one grade, one homeroom or everyone, as the setup says; students listed as intensive form pools of their own.
//! Number of groups with `auto`: as many as the led blocks give the sessions asked for, once intensive groups have theirs, and no
//! more than floor(n / min). Where that is under ceil(n / max), the furthest behind are seated and the rest wait; a number in the
//! setup instead of `auto` seats everyone and thins the sessions. Without sessions asked for the fewest groups that hold everyone,
//! at most one for each led block; without a timetable the fewest, and nobody waits for staff.
//! Where the sizes cannot hold everyone, the furthest behind are seated and the rest wait, with the arithmetic.
//! Led blocks open to several pools are shared by size.
//! Keeps: `who_waits_is_said_with_what_would_seat_them`, `eleven_in_groups_of_four_or_five_leave_one_waiting`, `auto_follows_the_led_blocks`.

use super::needs::Needs;
use crate::roster::{Block, Day, GroupCount, Include, School, Student, Within};
use crate::scores::ResponseTable;
use std::collections::{BTreeMap, BTreeSet};

/// Students who may sit together, seated students only.
#[derive(Debug, Clone, PartialEq)]
pub struct Pool {
    /// `grade 5`, `homeroom 5P` or empty.
    pub name: String,
    /// Whether it holds the students that the school lists as intensive.
    pub is_intensive: bool,
    /// Indexes of students who get a seat, in order of id.
    pub seated: Vec<usize>,
    /// Students who wait, with the reason.
    pub waiting: Vec<(usize, String)>,
    /// Groups to form; 0 where none can be.
    pub n_groups: usize,
    /// Smallest group.
    pub min_size: usize,
    /// Largest group.
    pub max_size: usize,
    /// One sentence where the numbers did not fit.
    pub note: Option<String>,
}

/// Whose pool it is; intensive ones come first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum PoolKind {
    /// Students whom the school lists as intensive.
    Intensive,
    /// Everyone else.
    Ordinary,
}

/// How many groups of `min..=max` to make of `n` students, and how many they seat.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Split {
    n_groups: usize,
    n_seated: usize,
}

/// Splits students with scores into pools. Students whom `include` leaves out are in none.
#[must_use]
pub fn make_pools(table: &ResponseTable, needs: &Needs, school: &School) -> Vec<Pool> {
    let mut by_key: BTreeMap<(PoolKind, String), Vec<usize>> = BTreeMap::new();
    for (idx, student) in table.students().iter().enumerate() {
        let is_intensive = school.intensive.students.contains(&student.id);
        let is_included = school.groups.include == Include::All || is_intensive || needs.lacks_any(idx);
        if table.has_scores(idx) && is_included {
            let kind = if is_intensive { PoolKind::Intensive } else { PoolKind::Ordinary };
            by_key.entry((kind, pool_name(student, school.groups.within))).or_default().push(idx);
        }
    }
    let places = Places::new(table, school, &by_key);
    by_key
        .iter()
        .map(|((kind, name), students)| make_pool(name, *kind, students, needs, school, places.of(*kind, name)))
        .collect()
}

fn pool_name(student: &Student, within: Within) -> String {
    match within {
        Within::Grade if !student.grade.is_empty() => format!("grade {}", student.grade),
        Within::Homeroom if !student.homeroom.is_empty() => format!("homeroom {}", student.homeroom),
        _ => String::new(),
    }
}

/// Led sessions that a week can give each pool of ordinary groups.
struct Places(Option<BTreeMap<String, usize>>);

type PoolKey = (PoolKind, String);

impl Places {
    fn new(table: &ResponseTable, school: &School, pools: &BTreeMap<PoolKey, Vec<usize>>) -> Self {
        if school.blocks.is_empty() || school.staff.is_empty() {
            return Places(None);
        }
        let can_come = |students: &[usize], block: &Block| {
            students.iter().any(|&s| {
                let student = &table.students()[s];
                !school.is_busy(&student.id, &student.homeroom, block)
            })
        };
        let ordinary: Vec<(&String, &Vec<usize>)> =
            pools.iter().filter(|((kind, _), _)| *kind == PoolKind::Ordinary).map(|((_, name), s)| (name, s)).collect();
        let mut places: BTreeMap<String, f64> = ordinary.iter().map(|(name, _)| ((*name).clone(), 0.0)).collect();
        for block in &school.blocks {
            let here: Vec<_> = ordinary.iter().filter(|(_, students)| can_come(students, block)).collect();
            let demand: usize = here.iter().map(|(_, students)| students.len()).sum();
            for (name, students) in here {
                let share = students.len() as f64 / demand.max(1) as f64;
                *places.entry((*name).clone()).or_default() += school.leaders_in(block).count() as f64 * share;
            }
        }
        for ((_, name), students) in pools.iter().filter(|((kind, _), _)| *kind == PoolKind::Intensive) {
            let is_led = |b: &&Block| school.leaders_in(b).next().is_some() && can_come(students, b);
            let days: BTreeSet<Day> = school.blocks.iter().filter(is_led).map(|b| b.time.day).collect();
            let n_groups = students.len().div_ceil(school.intensive.max_size.max(1));
            if let Some(left) = places.get_mut(name) {
                *left -= (n_groups * school.intensive.sessions.min(days.len())) as f64;
            }
        }
        Places(Some(places.into_iter().map(|(name, n)| (name, (n + 1e-9).floor().max(0.0) as usize)).collect()))
    }

    /// `None` without a timetable, and for intensive groups, which have theirs first.
    fn of(&self, kind: PoolKind, name: &str) -> Option<usize> {
        let places = self.0.as_ref().filter(|_| kind == PoolKind::Ordinary)?;
        places.get(name).copied()
    }
}

fn make_pool(
    name: &str,
    kind: PoolKind,
    students: &[usize],
    needs: &Needs,
    school: &School,
    led: Option<usize>,
) -> Pool {
    let (min_size, max_size) = match kind {
        PoolKind::Intensive => (school.intensive.min_size, school.intensive.max_size),
        PoolKind::Ordinary => (school.groups.min_size, school.groups.max_size),
    };
    let (min_size, max_size) = (min_size.max(1), max_size.max(1));
    let wanted = match kind {
        PoolKind::Intensive => Wanted::fewest(students.len(), max_size),
        PoolKind::Ordinary => Wanted::of_setup(students.len(), min_size, max_size, school, led),
    };
    let split = fit(students.len(), min_size, max_size, wanted);
    let mut order = students.to_vec();
    order.sort_by(|&a, &b| needs.behind(b).total_cmp(&needs.behind(a)).then(a.cmp(&b)));
    let mut seated: Vec<usize> = order[..split.n_seated].to_vec();
    seated.sort_unstable();
    let note = (split.n_seated < students.len() || (wanted.is_fixed && split.n_groups != wanted.n_groups))
        .then(|| size_note(name, students.len(), min_size, max_size, split, wanted, led));
    let reason = note.clone().unwrap_or_default();
    let mut waiting: Vec<(usize, String)> = order[split.n_seated..].iter().map(|&s| (s, reason.clone())).collect();
    waiting.sort_unstable();
    let is_intensive = kind == PoolKind::Intensive;
    Pool { name: name.to_owned(), is_intensive, seated, waiting, n_groups: split.n_groups, min_size, max_size, note }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Wanted {
    n_groups: usize,
    /// A number in the setup, not `auto`.
    is_fixed: bool,
    /// No more than this many groups, for want of led blocks.
    cap: usize,
    /// Led sessions that each asks for, where the cap comes of that.
    sessions: usize,
}

impl Wanted {
    /// As few as hold everyone, whatever the timetable.
    fn fewest(n: usize, max: usize) -> Wanted {
        Wanted { n_groups: n.div_ceil(max), is_fixed: false, cap: usize::MAX, sessions: 1 }
    }

    /// What the setup asks for, by the rules in the header.
    fn of_setup(n: usize, min: usize, max: usize, school: &School, led: Option<usize>) -> Wanted {
        if let GroupCount::Fixed(count) = school.groups.count {
            return Wanted { n_groups: count, is_fixed: true, cap: usize::MAX, sessions: 1 };
        }
        let fewest = n.div_ceil(max);
        let most = (n / min).max(fewest);
        match (led, school.groups.sessions) {
            (Some(places), Some(sessions)) => {
                let sessions = sessions.max(1);
                // One led block is worth a group, even where it asks for more.
                let cap = (places / sessions).max(usize::from(places > 0));
                Wanted { n_groups: cap.min(most), is_fixed: false, cap, sessions }
            }
            (led, _) => {
                let cap = led.unwrap_or(usize::MAX);
                Wanted { n_groups: fewest.min(cap), is_fixed: false, cap, sessions: 1 }
            }
        }
    }
}

/// The number of groups nearest to the wanted one that seats the most students.
fn fit(n: usize, min: usize, max: usize, wanted: Wanted) -> Split {
    (1..=(n / min).min(wanted.cap))
        .map(|k| Split { n_groups: k, n_seated: n.min(k * max) })
        .max_by_key(|s| (s.n_seated, std::cmp::Reverse(s.n_groups.abs_diff(wanted.n_groups)), s.n_groups))
        .unwrap_or(Split { n_groups: 0, n_seated: 0 })
}

fn size_note(name: &str, n: usize, min: usize, max: usize, split: Split, wanted: Wanted, led: Option<usize>) -> String {
    let who = if name.is_empty() { "students".to_owned() } else { format!("students of {name}") };
    if split.n_groups == 0 {
        return if led == Some(0) {
            format!("{n} {who} need a group, but no block has an adult who leads; add one to the timetable.")
        } else {
            format!("{n} {who} cannot form a group of {min} to {max}; a smallest size of {n} would do.", n = n.max(1))
        };
    }
    if split.n_seated == n {
        return format!(
            "{} groups were asked for, but {n} {who} make {} groups of {min} to {max}.",
            wanted.n_groups, split.n_groups
        );
    }
    if wanted.cap == split.n_groups {
        return staff_note(&who, n, max, split, wanted, led.unwrap_or(wanted.cap));
    }
    let smaller = (1..min).rev().find(|m| fit(n, *m, max, wanted).n_seated == n);
    let hint = smaller.map_or(String::new(), |m| format!("; {m} to {max} would do"));
    format!("{n} {who} cannot all sit in groups of {min} to {max}{hint}. {} wait.", n - split.n_seated)
}

/// Too few led blocks: how many wait, and how many more blocks seat the next group.
fn staff_note(who: &str, n: usize, max: usize, split: Split, wanted: Wanted, led: usize) -> String {
    let n_waiting = n - split.n_seated;
    let missing = ((split.n_groups + 1) * wanted.sessions).saturating_sub(led).max(1);
    let (blocks, seat) = if missing == 1 { ("block", "seats") } else { ("blocks", "seat") };
    let groups = if split.n_groups == 1 { "1 group".to_owned() } else { format!("{} groups", split.n_groups) };
    let each = if wanted.sessions == 1 { String::new() } else { format!(" with {} sessions each", wanted.sessions) };
    format!(
        "{n} {who} need a group; the {led} led blocks open to them hold {groups} of at most {max}{each}, so {n_waiting} wait. \
         {missing} more led {blocks} {seat} up to {} of them.",
        n_waiting.min(max)
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn auto(n_groups: usize) -> Wanted {
        Wanted { n_groups, is_fixed: false, cap: usize::MAX, sessions: 1 }
    }

    #[test]
    fn eleven_in_groups_of_four_or_five_leave_one_waiting() {
        let split = fit(11, 4, 5, auto(3));
        assert_eq!(split, Split { n_groups: 2, n_seated: 10 });
        let note = size_note("", 11, 4, 5, split, auto(3), None);
        assert_eq!(note, "11 students cannot all sit in groups of 4 to 5; 3 to 5 would do. 1 wait.");
    }

    #[test]
    fn auto_follows_the_led_blocks() {
        let mut school = School::default();
        let wanted = |school: &School, led| Wanted::of_setup(26, 3, 5, school, led).n_groups;
        school.groups.sessions = Some(3);
        assert_eq!(wanted(&school, Some(18)), 6);
        assert_eq!(wanted(&school, Some(9)), 3, "eleven of 26 wait");
        assert_eq!(wanted(&school, Some(60)), 8);
        assert_eq!(wanted(&school, Some(2)), 1, "one thin group is better than none");
        school.groups.sessions = None;
        assert_eq!(wanted(&school, Some(18)), 6);
        assert_eq!(wanted(&school, None), 6);
    }

    #[test]
    fn who_waits_is_said_with_what_would_seat_them() {
        let mut school = School::default();
        school.groups.sessions = Some(3);
        let wanted = Wanted::of_setup(18, 3, 5, &school, Some(9));
        let split = fit(18, 3, 5, wanted);
        assert_eq!(split, Split { n_groups: 3, n_seated: 15 });
        assert_eq!(
            size_note("grade 5", 18, 3, 5, split, wanted, Some(9)),
            "18 students of grade 5 need a group; the 9 led blocks open to them hold 3 groups of at most 5 with 3 sessions \
             each, so 3 wait. 3 more led blocks seat up to 3 of them."
        );
    }

    #[test]
    fn too_few_for_one_group_form_none() {
        assert_eq!(fit(2, 3, 5, auto(1)), Split { n_groups: 0, n_seated: 0 });
    }

    #[test]
    fn a_fixed_count_is_kept_where_the_sizes_allow() {
        let fixed = Wanted { n_groups: 4, is_fixed: true, cap: usize::MAX, sessions: 1 };
        assert_eq!(fit(14, 3, 5, fixed), Split { n_groups: 4, n_seated: 14 });
        assert_eq!(fit(10, 3, 5, fixed), Split { n_groups: 3, n_seated: 10 });
    }
}
