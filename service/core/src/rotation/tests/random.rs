//! Random weeks: 10 to 40 students, 2 to 10 blocks, 1 to 3 adults who lead, 0 to 3 rooms, busy times, stations, limits.
//!
//! A week is drawn from a seed, so a failing case is one number.

use super::setups::{assistant, block, room, staff, station};
use crate::roster::{Block, Busy, BusyWhen, BusyWho, Limits, School, StudentId};
use crate::rotation::week::Week;
use crate::rotation::{GroupToPlace, Member, keep_week, plan_rotation, stages, violations};
use proptest::prelude::*;
use rand::seq::SliceRandom;
use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use std::collections::BTreeSet;

/// What a random week may have beside blocks, adults, groups and busy times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Extras {
    /// Blocks that never overlap, no optional limit, no intensive group.
    Plain,
    /// Overlapping blocks, rooms free at times, limits, intensive groups, practice stations.
    Everything,
}

const HOMEROOMS: [&str; 3] = ["5P", "5Q", "5R"];
const DAYS: [&str; 5] = ["Mon", "Tue", "Wed", "Thu", "Fri"];

/// A random week of at most `n_blocks` blocks and `n_groups` groups.
pub(super) fn week(seed: u64, extras: Extras, n_blocks: usize, n_groups: usize) -> (School, Vec<GroupToPlace>) {
    let rng = &mut Xoshiro256Plus::seed_from_u64(seed);
    let blocks = blocks(rng, extras, n_blocks);
    let mut school = School { blocks, ..School::default() };
    school.staff = (0..rng.gen_range(1..=3)).map(|n| staff(&format!("T{n}"), &some_ids(rng, &school.blocks))).collect();
    school.rooms = (0..rng.gen_range(0..=3)).map(|n| room(&format!("R{n}"), rng.gen_range(2..=6))).collect();
    let mut groups = groups(rng, extras, n_groups);
    if extras == Extras::Everything && rng.gen_bool(0.2) {
        let in_two_groups = groups[0].members[0].clone();
        groups[1].members.push(in_two_groups);
    }
    school.busy = (0..rng.gen_range(0..6)).map(|_| busy(rng, &school.blocks, &groups)).collect();
    if extras == Extras::Everything {
        add_extras(rng, &mut school);
    }
    (school, groups)
}

fn blocks(rng: &mut Xoshiro256Plus, extras: Extras, n_blocks: usize) -> Vec<Block> {
    let gap = if extras == Extras::Plain { 40 } else { 15 };
    let mut times: Vec<(usize, u32)> = (0..5).flat_map(|day| (0..4).map(move |slot| (day, slot))).collect();
    times.shuffle(rng);
    times.truncate(rng.gen_range(2..=n_blocks));
    let at = |(day, slot): (usize, u32)| {
        let minute = 9 * 60 + slot * gap;
        format!("{} {:02}:{:02}", DAYS[day], minute / 60, minute % 60)
    };
    let mut blocks: Vec<Block> = times.into_iter().map(|time| block(&at(time), 30)).collect();
    for block in blocks.iter_mut().filter(|_| rng.gen_bool(0.15)) {
        block.homerooms = vec![HOMEROOMS[0].to_owned(), HOMEROOMS[1].to_owned()];
    }
    blocks
}

fn some_ids<'a>(rng: &mut Xoshiro256Plus, blocks: &'a [Block]) -> Vec<&'a str> {
    blocks.iter().filter(|_| rng.gen_bool(0.7)).map(|b| b.id.as_str()).collect()
}

fn groups(rng: &mut Xoshiro256Plus, extras: Extras, n_groups: usize) -> Vec<GroupToPlace> {
    let wanted = if rng.gen_bool(0.7) { Some(rng.gen_range(1..=3)) } else { None };
    let one = |n: usize, rng: &mut Xoshiro256Plus| {
        let is_intensive = extras == Extras::Everything && rng.gen_bool(0.2);
        let size = if is_intensive { rng.gen_range(1..=3) } else { rng.gen_range(2..=5) };
        let member = |m: usize, rng: &mut Xoshiro256Plus| Member {
            id: StudentId::parse(&format!("{n:02}{m}")).unwrap(),
            homeroom: HOMEROOMS[rng.gen_range(0..3)].to_owned(),
        };
        GroupToPlace {
            id: format!("g{}", n + 1),
            members: (0..size).map(|m| member(m, rng)).collect(),
            need: f64::from(rng.gen_range(0..=10u32)) / 10.0,
            is_intensive,
            sessions_wanted: if is_intensive { Some(5) } else { wanted },
            skill: "4.NF.A.1".to_owned(),
        }
    };
    (0..rng.gen_range(2..=n_groups)).map(|n| one(n, rng)).collect()
}

fn busy(rng: &mut Xoshiro256Plus, blocks: &[Block], groups: &[GroupToPlace]) -> Busy {
    let who = if rng.gen_bool(0.5) {
        BusyWho::Homeroom(HOMEROOMS[rng.gen_range(0..3)].to_owned())
    } else {
        BusyWho::Student(groups[rng.gen_range(0..groups.len())].members[0].id.clone())
    };
    let block = &blocks[rng.gen_range(0..blocks.len())];
    let when = if rng.gen_bool(0.5) { BusyWhen::Span(block.time) } else { BusyWhen::Blocks(vec![block.id.clone()]) };
    Busy { who, when }
}

fn add_extras(rng: &mut Xoshiro256Plus, school: &mut School) {
    let maybe = |rng: &mut Xoshiro256Plus, from: usize, to: usize| rng.gen_bool(0.5).then(|| rng.gen_range(from..=to));
    school.limits = Limits {
        max_departures: maybe(rng, 2, 7),
        max_pullouts: maybe(rng, 1, 2),
        walk_minutes: maybe(rng, 5, 20).map(|minutes| minutes as u16),
        max_in_a_row: maybe(rng, 1, 3),
    };
    let (for_assistant, for_room) = (some_ids(rng, &school.blocks), some_ids(rng, &school.blocks));
    let held = assistant("A", &for_assistant);
    let room_blocks: Vec<String> = for_room.into_iter().map(str::to_owned).collect();
    if let Some(room) = school.rooms.first_mut() {
        room.blocks = room_blocks;
    }
    if rng.gen_bool(0.6) {
        school.stations = vec![station("Teacher table", None), station("Facts", Some(1)), station("Partners", Some(2))];
        school.staff.push(held);
    }
}

/// A week as it is judged: who counts towards the floor, the floor, attended places, led days of each intensive group.
struct Judged {
    counted: Vec<usize>,
    floor: usize,
    attended: usize,
    intensive_days: Vec<usize>,
}

fn judged(school: &School, groups: &[GroupToPlace]) -> Judged {
    let rotation = plan_rotation(school, groups);
    let days = |g: &GroupToPlace| {
        let led = rotation.sessions.iter().filter(|s| s.group == g.id && s.is_led(school));
        led.map(|s| s.time.day).collect::<BTreeSet<_>>().len()
    };
    Judged {
        counted: stages::counted(&Week::new(school, groups)),
        floor: rotation.floor,
        attended: rotation.attended,
        intensive_days: groups.iter().filter(|g| g.is_intensive).map(days).collect(),
    }
}

/// More blocks or adults are never for the worse: the intensive group that is led on fewest days is led on as many; where all of
/// them are led as before, the floor is no lower, and at the same floor as many places are attended. A group that can meet only now
/// joins those that count, and may pull either down.
fn more_is_no_worse(less: &Judged, more: &Judged) -> bool {
    let fewest = |j: &Judged| j.intensive_days.iter().copied().min().unwrap_or(0);
    let (before, after) = ((less.floor, less.attended), (more.floor, more.attended));
    less.counted != more.counted
        || (fewest(less) <= fewest(more) && (less.intensive_days != more.intensive_days || before <= after))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn violations_are_never_found_in_random_weeks(seed in any::<u64>()) {
        for extras in [Extras::Plain, Extras::Everything] {
            let (school, groups) = week(seed, extras, 10, 10);
            let rotation = plan_rotation(&school, &groups);
            prop_assert_eq!(violations(&school, &groups, &rotation), Vec::new());
        }
    }

    #[test]
    fn a_kept_week_is_legal_or_not_kept(seed in any::<u64>()) {
        let (school, mut groups) = week(seed, Extras::Everything, 8, 6);
        let planned = plan_rotation(&school, &groups);
        let moved = groups[0].members.remove(0);
        groups[1].members.push(moved);
        if let Some(kept) = keep_week(&school, &groups, &planned) {
            prop_assert_eq!(violations(&school, &groups, &kept), Vec::new());
            prop_assert_eq!(kept.sessions.len(), planned.sessions.len());
            let same = |(a, b): (&crate::rotation::Session, &crate::rotation::Session)| {
                (&a.block, &a.group, &a.staff, &a.room) == (&b.block, &b.group, &b.staff, &b.room)
            };
            prop_assert!(kept.sessions.iter().zip(&planned.sessions).all(same));
        }
    }

    #[test]
    fn a_new_block_never_lowers_the_floor(seed in any::<u64>()) {
        for extras in [Extras::Plain, Extras::Everything] {
            let (with, groups) = week(seed, extras, 10, 8);
            let mut without = with.clone();
            without.blocks.swap_remove((seed % with.blocks.len() as u64) as usize);
            let (less, more) = (judged(&without, &groups), judged(&with, &groups));
            prop_assert!(without.blocks.is_empty() || more_is_no_worse(&less, &more), "{extras:?}");
        }
    }

    #[test]
    fn losing_an_adult_never_raises_the_floor(seed in any::<u64>()) {
        for extras in [Extras::Plain, Extras::Everything] {
            let (with, groups) = week(seed, extras, 10, 8);
            let mut without = with.clone();
            without.staff.swap_remove((seed % with.staff.len() as u64) as usize);
            prop_assert!(more_is_no_worse(&judged(&without, &groups), &judged(&with, &groups)), "{extras:?}");
        }
    }
}
