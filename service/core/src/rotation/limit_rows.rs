//! Limits that a school may set or leave out, as rows of the program: departures, pull-outs, walking, sessions in a row.
//!
//! In: the [`Week`] and its [`Model`]. Out: rows. Rules it keeps: a row counts only students who are expected
//! (`departures_count_the_expected_only`); two sessions with a free block of that adult between them are not in a row
//! (`a_free_block_breaks_a_run`). Not here: practice sessions, which come after and look at the same limits (`practice`).

use super::model::Model;
use super::program::Limit;
use super::week::{Meeting, Week, positions};
use crate::roster::{Day, StudentId};
use std::collections::BTreeMap;

/// Adds the rows for students: one place at a time, departures, pull-outs.
pub(super) fn add(week: &Week<'_>, model: &mut Model) {
    let by_student = meetings_of_students(week, model);
    add_one_place_rows(week, model, &by_student);
    if let Some(limit) = week.school.limits.max_departures {
        add_departure_rows(week, model, limit);
    }
    if let Some(limit) = week.school.limits.max_pullouts {
        add_pullout_rows(week, model, limit, &by_student);
    }
}

type ByStudent<'a> = BTreeMap<&'a StudentId, Vec<usize>>;

/// Switches of the meetings at which each student is expected.
fn meetings_of_students<'a>(week: &Week<'a>, model: &Model) -> ByStudent<'a> {
    let mut of_student: ByStudent<'a> = BTreeMap::new();
    for (switch, meeting) in model.meetings.iter().enumerate() {
        for &member in &week.expected[meeting.group][meeting.block] {
            of_student.entry(&week.groups[meeting.group].members[member].id).or_default().push(switch);
        }
    }
    of_student
}

/// Only students of several groups need a row: a group's own row keeps the rest in one place.
fn add_one_place_rows(week: &Week<'_>, model: &mut Model, by_student: &ByStudent<'_>) {
    let mut seen: Vec<Vec<(usize, i64)>> = Vec::new();
    for switches in by_student.values() {
        let first = model.meetings[switches[0]].group;
        if switches.iter().all(|&s| model.meetings[s].group == first) {
            continue;
        }
        for &switch in switches {
            let start = model.meetings[switch].block;
            let covers = |s: &usize| {
                let time = week.blocks[model.meetings[*s].block].time;
                week.clash(model.meetings[*s].block, start, 0) && time.start <= week.blocks[start].time.start
            };
            let row: Vec<(usize, i64)> = switches.iter().copied().filter(covers).map(|s| (s, 1)).collect();
            if !seen.contains(&row) {
                model.program.add_row(row.clone(), Limit::AtMost(1));
                seen.push(row);
            }
        }
    }
}

/// At each start of a block: everyone of one homeroom who is out then.
fn add_departure_rows(week: &Week<'_>, model: &mut Model, limit: usize) {
    for &homeroom in &week.homerooms {
        for start in 0..week.blocks.len() {
            let out_then = |m: &Meeting| {
                week.clash(m.block, start, 0) && week.blocks[m.block].time.start <= week.blocks[start].time.start
            };
            let leaving = |m: &Meeting| if out_then(m) { week.n_leaving(*m, homeroom) as i64 } else { 0 };
            let row: Vec<(usize, i64)> =
                model.meetings.iter().enumerate().map(|(s, m)| (s, leaving(m))).filter(|t| t.1 > 0).collect();
            add_at_once_rows(model, &row, limit as i64);
            model.program.add_row(row, Limit::AtMost(limit as i64));
        }
    }
}

/// Of meetings with more than one `n`-th of the limit leaving, at most `n - 1` are possible at once.
///
/// Follows from the limit for whole meetings, but not for the halves of a relaxation, which it makes far shorter to search.
fn add_at_once_rows(model: &mut Model, leaving: &[(usize, i64)], limit: i64) {
    let mut n_rows_of = 0;
    for n in 2..=limit + 1 {
        let large: Vec<(usize, i64)> =
            leaving.iter().filter(|(_, n_leaving)| n_leaving * n > limit).map(|&(s, _)| (s, 1)).collect();
        if large.len() > n_rows_of {
            n_rows_of = large.len();
            model.program.add_row(large, Limit::AtMost(n - 1));
        }
    }
}

fn add_pullout_rows(week: &Week<'_>, model: &mut Model, limit: usize, by_student: &ByStudent<'_>) {
    let mut seen: Vec<Vec<usize>> = Vec::new();
    for switches in by_student.values() {
        for day in Day::ALL {
            let on_day: Vec<usize> =
                switches.iter().copied().filter(|&s| week.day(model.meetings[s].block) == day).collect();
            if on_day.len() > limit && !seen.contains(&on_day) {
                let row = on_day.iter().map(|&s| (s, 1)).collect();
                model.program.add_row(row, Limit::AtMost(limit as i64));
                seen.push(on_day);
            }
        }
    }
}

/// Sets of blocks of which this adult may lead only so many: times that clash, and runs that are too long.
pub(super) fn adult_sets(week: &Week<'_>, adult: usize) -> Vec<(Vec<usize>, usize)> {
    let leads = week.school.staff[adult].leads;
    let blocks = if leads { week.blocks_of_adult(adult) } else { Vec::new() };
    let mut sets: Vec<(Vec<usize>, usize)> =
        week.cliques(&blocks, week.walk_minutes()).into_iter().map(|set| (set, 1)).collect();
    if let Some(limit) = week.school.limits.max_in_a_row {
        sets.extend(runs(week, &blocks, limit + 1).into_iter().map(|run| (run, limit)));
    }
    let ranges = ranges(week, &blocks, &sets);
    sets.extend(ranges);
    sets
}

/// Longest day, in blocks of one adult, for which stretches are counted out.
const LONGEST_DAY: usize = 12;

/// For each stretch of an adult's day, how many of its blocks can be led together under the given sets.
///
/// Says nothing new about whole sessions, but shortens the search: the sets alone let a relaxation lead half of each block.
fn ranges(week: &Week<'_>, blocks: &[usize], sets: &[(Vec<usize>, usize)]) -> Vec<(Vec<usize>, usize)> {
    let mut ranges: Vec<(Vec<usize>, usize)> = Vec::new();
    for day in Day::ALL {
        let of_day: Vec<usize> = blocks.iter().copied().filter(|&b| week.day(b) == day).collect();
        let is_free = !sets.iter().any(|(set, _)| set.iter().any(|b| of_day.contains(b)));
        if is_free || of_day.len() > LONGEST_DAY {
            continue;
        }
        let together = legal_subsets(&of_day, sets);
        for first in 0..of_day.len() {
            for last in first + 1..of_day.len() {
                let range = (2u32 << last) - (1 << first);
                let most = together.iter().map(|subset| (subset & range).count_ones()).max().unwrap_or(0) as usize;
                let stretch = of_day[first..=last].to_vec();
                if most < stretch.len() && !sets.contains(&(stretch.clone(), most)) {
                    ranges.push((stretch, most));
                }
            }
        }
    }
    ranges
}

/// Every choice of blocks, as bits, that keeps to the sets.
fn legal_subsets(blocks: &[usize], sets: &[(Vec<usize>, usize)]) -> Vec<u32> {
    let bits = |set: &[usize]| -> u32 {
        blocks.iter().enumerate().filter(|(_, b)| set.contains(b)).map(|(bit, _)| 1 << bit).sum()
    };
    let masks: Vec<(u32, usize)> = sets.iter().map(|(set, most)| (bits(set), *most)).collect();
    let keeps = |subset: &u32| masks.iter().all(|(mask, most)| (subset & mask).count_ones() as usize <= *most);
    (0..1u32 << blocks.len()).filter(keeps).collect()
}

/// Every run of `length` blocks of one day with none of the given blocks wholly between two neighbours.
fn runs(week: &Week<'_>, blocks: &[usize], length: usize) -> Vec<Vec<usize>> {
    let mut runs: Vec<Vec<usize>> = blocks.iter().map(|&block| vec![block]).collect();
    for _ in 1..length {
        let longer = |run: &Vec<usize>| -> Vec<Vec<usize>> {
            let Some(&last) = run.last() else { return Vec::new() };
            let follows = positions(blocks, |&next| is_next(week, blocks, last, next));
            follows.into_iter().map(|idx| run.iter().copied().chain([blocks[idx]]).collect()).collect()
        };
        runs = runs.iter().flat_map(longer).collect();
    }
    runs
}

/// Whether `next` comes after `last` on its day, and nothing free lies wholly between.
fn is_next(week: &Week<'_>, blocks: &[usize], last: usize, next: usize) -> bool {
    let (a, b) = (week.blocks[last].time, week.blocks[next].time);
    let between = |&m: &usize| {
        let time = week.blocks[m].time;
        m != last && m != next && time.day == a.day && time.start >= a.end && time.end <= b.start
    };
    a.day == b.day && b.start >= a.end && !blocks.iter().any(between)
}
