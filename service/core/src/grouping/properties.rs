//! Properties of a seating, over random classes: every student once, sizes and pairs always, order of rows never.
//! Classes are small and answers arbitrary, so that sizes, pairs and waiting meet in every combination.

use super::*;
use crate::profile::{ErrorCatalogue, Profiles, estimate};
use crate::roster::{GroupCount, Include, School, Student, StudentId};
use crate::scores::{Item, Mark, ResponseTable};
use crate::skills::{SkillCode, SkillGraph};
use proptest::prelude::*;
use std::collections::BTreeSet;

/// Six items on three skills of a small graph: `4.a` before `5.b`, and `5.c` apart from both.
fn table(rows: &[Vec<u8>], order: &[usize]) -> ResponseTable {
    table_of(rows, order, ["A", "A", "B", "B", "C", "C"], [0, 1, 2, 3, 4, 5])
}

/// The same with other names of the skills, the columns in another order.
fn table_of(rows: &[Vec<u8>], order: &[usize], skills: [&str; 6], columns: [usize; 6]) -> ResponseTable {
    let mut table = ResponseTable::new();
    let check = table.add_assessment("check");
    for j in columns {
        let skills = skills[j].split(';').filter_map(SkillCode::parse).collect();
        table.add_item(Item { skills, ..Item::new(&format!("Q{}", j + 1), check) });
    }
    for &i in order {
        let id = StudentId::parse(&format!("{i:03}")).unwrap();
        let s = table.add_student(Student { grade: "5".into(), ..Student::unnamed(id) });
        for (j, x) in columns.map(|column| rows[i][column]).into_iter().enumerate() {
            // 2 stands for an answer that was not taken.
            if x < 2 {
                table.set(s, j, Mark::scored(None, Some(f64::from(x)))).unwrap();
            }
        }
    }
    table.sorted_by_id()
}

fn graph() -> SkillGraph {
    SkillGraph::parse("code,grade,name,prerequisites\nA,4,first,\nB,5,second,A\nC,5,third,\n").unwrap()
}

fn id(i: usize) -> StudentId {
    StudentId::parse(&format!("{i:03}")).unwrap()
}

fn seat(rows: &[Vec<u8>], order: &[usize], school: &School) -> (ResponseTable, Seating, Told) {
    let table = table(rows, order);
    let profiles = estimate(&table, &graph(), &school.mastery, None);
    let seating = seat_students(free(&table, &profiles, school)).unwrap();
    let told = tell(&table, &profiles, &seating, &ErrorCatalogue::default());
    (table, seating, told)
}

fn free<'a>(table: &'a ResponseTable, profiles: &'a Profiles, school: &'a School) -> SeatingInput<'a> {
    SeatingInput { table, profiles, school, previous: None, swap_share: 1.0, seed: 3 }
}

fn class() -> impl Strategy<Value = Vec<Vec<u8>>> {
    prop::collection::vec(prop::collection::vec(0_u8..3, 6), 8..30)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn every_student_once_within_sizes_and_pairs(rows in class(), all in any::<bool>()) {
        let mut school = School::default();
        school.groups.include = if all { Include::All } else { Include::Need };
        school.groups.keep_apart = vec![(id(0), id(1)), (id(2), id(3))];
        school.groups.keep_together = vec![vec![id(4), id(5)]];
        let order: Vec<usize> = (0..rows.len()).collect();
        let (table, seating, told) = seat(&rows, &order, &school);
        let mut seen = BTreeSet::new();
        for group in &told.groups {
            prop_assert!((3..=5).contains(&group.members.len()));
            prop_assert!(!(group.members.contains(&0) && group.members.contains(&1)));
            prop_assert!(!(group.members.contains(&2) && group.members.contains(&3)));
            for m in &group.members {
                prop_assert!(seen.insert(*m));
            }
        }
        for unplaced in &told.unplaced {
            prop_assert!(seen.insert(unplaced.student));
            prop_assert!(!unplaced.reason.is_empty());
        }
        prop_assert_eq!(seen.len(), table.n_students());
        let group_of = |s: usize| told.groups.iter().position(|g| g.members.contains(&s));
        if let (Some(a), Some(b)) = (group_of(4), group_of(5)) {
            prop_assert_eq!(a, b);
        }
        for group in &seating.groups {
            prop_assert!(group.target < 3);
        }
    }

    #[test]
    fn the_order_of_rows_changes_nothing(rows in class(), turn in 1_usize..8) {
        let order: Vec<usize> = (0..rows.len()).collect();
        let mut shuffled = order.clone();
        shuffled.rotate_left(turn);
        shuffled.reverse();
        let school = School::default();
        let (_, _, one) = seat(&rows, &order, &school);
        let (_, _, two) = seat(&rows, &shuffled, &school);
        prop_assert_eq!(one.groups, two.groups);
    }
}

/// A class of twelve who all lack something, and its seating with these decisions.
fn decided(decisions: &[Overrule], school: &School) -> (Told, Vec<crate::finding::Finding>) {
    let rows: Vec<Vec<u8>> =
        (0..12).map(|i| vec![u8::from(i % 2 == 0); 6].into_iter().map(|x| x * u8::from(i < 6)).collect()).collect();
    let table = table(&rows, &(0..12).collect::<Vec<usize>>());
    let profiles = estimate(&table, &graph(), &school.mastery, None);
    let mut seating = seat_students(free(&table, &profiles, school)).unwrap();
    overrule(&mut seating, decisions, (&table, &profiles, school));
    let told = tell(&table, &profiles, &seating, &ErrorCatalogue::default());
    (told, seating.findings)
}

fn everyone() -> School {
    let mut school = School::default();
    school.groups.include = Include::All;
    school.groups.count = GroupCount::Fixed(3);
    (school.groups.min_size, school.groups.max_size) = (4, 4);
    school
}

fn to_sit(student: usize, to: usize) -> Overrule {
    Overrule { what: Decided::Seat { student: id(student), to }, reason: "knows the adult".into() }
}

#[test]
fn nobody_else_moves() {
    let school = everyone();
    let (before, _) = decided(&[], &school);
    let from = before.groups.iter().position(|g| g.members.contains(&0)).unwrap();
    let to = (from + 1) % 3;
    let (after, _) = decided(&[to_sit(0, to + 1)], &school);
    for (g, (old, new)) in before.groups.iter().zip(&after.groups).enumerate() {
        let mut wanted = old.members.clone();
        wanted.retain(|m| *m != 0);
        if g == to {
            wanted.insert(0, 0);
        }
        assert_eq!(new.members, wanted);
        assert_eq!(new.target_skill, old.target_skill);
    }
    let why = &after.students[0].why;
    assert!(
        why.contains("by a person (\u{201c}knows the adult\u{201d})") && why.contains(&before.groups[from].name),
        "{why}"
    );
    let (back, _) = decided(&[to_sit(0, to + 1), to_sit(0, from + 1)], &school);
    assert_eq!(back.students[0].why, before.students[0].why, "back where it was suggested");
}

#[test]
fn a_full_group_takes_one_more_and_says_so() {
    let mut school = everyone();
    let (before, _) = decided(&[], &school);
    let home = before.groups.iter().position(|g| g.members.contains(&0)).unwrap();
    let other = (0..12).find(|s| !before.groups[home].members.contains(s)).unwrap();
    school.groups.keep_apart = vec![(id(0), id(other))];
    let to = before.groups.iter().position(|g| g.members.contains(&other)).unwrap();
    let (_, findings) = decided(&[to_sit(0, to + 1)], &school);
    let has = |code: &str| findings.iter().any(|f| f.code == code);
    assert!(has("size-overruled") && has("apart-overruled"), "{findings:?}");
}

#[test]
fn what_no_longer_fits_is_told() {
    let school = everyone();
    let skill = |code: &str| SkillCode::parse(code).unwrap();
    let target = |group, code| Overrule { what: Decided::Target { group, skill: skill(code) }, reason: String::new() };
    let odd = [to_sit(99, 1), to_sit(0, 9), target(9, "A"), target(1, "D")];
    let (told, findings) = decided(&odd, &school);
    assert_eq!(told.groups, decided(&[], &school).0.groups);
    assert_eq!(findings.iter().filter(|f| f.code == "decision-without-effect").count(), 4, "{findings:?}");
    let old = decided(&[], &school).0.groups[0].target_skill.clone();
    let new = ["A", "B", "C"].into_iter().find(|c| *c != old.as_str()).unwrap();
    let (told, _) = decided(&[target(1, new)], &school);
    assert_eq!(told.groups[0].target_skill, skill(new));
    assert!(told.groups[0].notes[0].contains(&format!("{old} was suggested")), "{:?}", told.groups[0].notes);
}

#[test]
fn a_group_that_lacks_a_prerequisite_is_taught_it_first() {
    // Four lack A and B, four lack C alone.
    let rows: Vec<Vec<u8>> =
        (0..8).map(|i| if i < 4 { vec![0, 0, 0, 0, 1, 1] } else { vec![1, 1, 1, 1, 0, 0] }).collect();
    let mut school = School::default();
    school.groups.count = GroupCount::Fixed(2);
    let (_, _, told) = seat(&rows, &(0..8).collect::<Vec<_>>(), &school);
    let targets: Vec<(&str, Vec<usize>)> =
        told.groups.iter().map(|g| (g.target_skill.as_str(), g.members.clone())).collect();
    assert_eq!(targets, vec![("A", vec![0, 1, 2, 3]), ("C", vec![4, 5, 6, 7])]);
    assert!((told.quality.need_met - 1.0).abs() < 1e-12);
}

#[test]
fn contradicting_pairs_are_named() {
    let rows = vec![vec![0; 6]; 8];
    let mut school = School::default();
    school.groups.keep_apart = vec![(id(0), id(1))];
    school.groups.keep_together = vec![vec![id(0), id(1)]];
    let table = table(&rows, &(0..8).collect::<Vec<_>>());
    let profiles = estimate(&table, &graph(), &school.mastery, None);
    let clash = seat_students(free(&table, &profiles, &school)).unwrap_err();
    assert!(clash.0.contains("000 and 001"), "{}", clash.0);
}

#[test]
fn all_right_all_wrong_all_blank_and_identical_classes_are_seated_or_told() {
    for value in [0_u8, 1, 2] {
        let rows = vec![vec![value; 6]; 9];
        let (_, _, told) = seat(&rows, &(0..9).collect::<Vec<_>>(), &School::default());
        let seated: usize = told.groups.iter().map(|g| g.members.len()).sum();
        assert_eq!(seated + told.unplaced.len(), 9, "value {value}");
        assert_eq!(seated, if value == 0 { 9 } else { 0 }, "value {value}");
    }
}

/// The same children once more, on a second check with other answers.
fn with_second_check(first: ResponseTable, rows: &[Vec<u8>]) -> ResponseTable {
    let mut both = first;
    let again = table(rows, &(0..rows.len()).collect::<Vec<_>>());
    both.join(&again, crate::scores::Strangers::ComeIn).unwrap();
    both.sorted_by_id()
}

fn as_previous(table: &ResponseTable, seating: &Seating) -> PreviousGroups {
    let member = |&s: &usize| table.students()[s].id.clone();
    let group = |(g, number): (&SeatedGroup, &usize)| PreviousGroup {
        number: *number,
        members: g.members.iter().map(member).collect(),
    };
    let groups = seating.groups.iter().zip(&seating.numbers).map(group).collect();
    PreviousGroups { week: jiff::civil::date(2026, 2, 2), groups }
}

fn all_of(n_groups: usize) -> School {
    let mut school = School::default();
    school.groups.include = Include::All;
    school.groups.count = GroupCount::Fixed(n_groups);
    school.groups.keep_apart = vec![(id(0), id(1))];
    school.groups.keep_together = vec![vec![id(4), id(5)]];
    school
}

/// Number of each child's group.
fn numbers(seating: &Seating) -> std::collections::BTreeMap<usize, usize> {
    let seats = seating.groups.iter().zip(&seating.numbers);
    seats.flat_map(|(g, number)| g.members.iter().map(move |&s| (s, *number))).collect()
}

fn taken_rows(n: usize) -> impl Strategy<Value = Vec<Vec<u8>>> {
    prop::collection::vec(prop::collection::vec(0_u8..2, 6), n)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn few_seats_change_inside_a_cycle(first in taken_rows(16), second in taken_rows(16), share in 0.0..1.0_f64) {
        let school = all_of(4);
        let before = table(&first, &(0..16).collect::<Vec<_>>());
        let profiles = estimate(&before, &graph(), &school.mastery, None);
        let seated = seat_students(free(&before, &profiles, &school)).unwrap();
        let previous = as_previous(&before, &seated);
        let now = with_second_check(before, &second);
        let profiles = estimate(&now, &graph(), &school.mastery, None);
        let input = SeatingInput { previous: Some(&previous), swap_share: share, ..free(&now, &profiles, &school) };
        let next = seat_students(input).unwrap();
        let (was, is) = (numbers(&seated), numbers(&next));
        prop_assert_eq!(is.len(), 16, "every child once");
        prop_assert!(next.groups.iter().all(|g| (3..=5).contains(&g.members.len())));
        prop_assert!(is[&0] != is[&1] && is[&4] == is[&5], "pairs hold");
        let n_changed = is.iter().filter(|(s, number)| was[s] != **number).count();
        prop_assert!(n_changed as f64 <= share * 16.0 + 1e-9, "{n_changed} of 16, {share} allowed");
    }

    #[test]
    fn without_a_second_sitting_nobody_changes(first in taken_rows(16), second in taken_rows(16)) {
        let school = all_of(4);
        let order: Vec<usize> = (0..16).collect();
        let before = table(&first, &order);
        let profiles = estimate(&before, &graph(), &school.mastery, None);
        let seated = seat_students(free(&before, &profiles, &school)).unwrap();
        let previous = as_previous(&before, &seated);
        let now = table(&second, &order);
        let profiles = estimate(&now, &graph(), &school.mastery, None);
        let input = SeatingInput { previous: Some(&previous), swap_share: 0.5, ..free(&now, &profiles, &school) };
        prop_assert_eq!(numbers(&seat_students(input).unwrap()), numbers(&seated));
    }

    #[test]
    fn who_comes_and_goes_is_seated_within_the_limits(first in taken_rows(16), gone in 0_usize..8, share in 0.0..0.5_f64) {
        let mut school = all_of(4);
        school.groups.count = GroupCount::Auto;
        let order: Vec<usize> = (0..16).collect();
        let before = table(&first, &order[..12]);
        let profiles = estimate(&before, &graph(), &school.mastery, None);
        let seated = seat_students(free(&before, &profiles, &school)).unwrap();
        let previous = as_previous(&before, &seated);
        let now = table(&first, &order[gone..]);
        let profiles = estimate(&now, &graph(), &school.mastery, None);
        let input = SeatingInput { previous: Some(&previous), swap_share: share, ..free(&now, &profiles, &school) };
        let next = seat_students(input).unwrap();
        prop_assert!(next.groups.iter().all(|g| (3..=5).contains(&g.members.len())));
        let seats = next.groups.iter().map(|g| g.members.len()).sum::<usize>();
        prop_assert_eq!(numbers(&next).len(), seats, "nobody twice");
        let waiting = next.pools.iter().map(|p| p.waiting.len()).sum::<usize>() + next.waiting.len();
        prop_assert_eq!(seats + waiting, 16 - gone);
    }
}

#[test]
fn groups_keep_their_numbers() {
    let rows: Vec<Vec<u8>> =
        (0..8).map(|i| if i < 4 { vec![0, 0, 0, 0, 1, 1] } else { vec![1, 1, 1, 1, 0, 0] }).collect();
    let mut school = School::default();
    school.groups.count = GroupCount::Fixed(2);
    let table = table(&rows, &(0..8).collect::<Vec<_>>());
    let profiles = estimate(&table, &graph(), &school.mastery, None);
    let members = |ids: std::ops::Range<usize>| ids.map(id).collect::<Vec<_>>();
    let groups =
        vec![PreviousGroup { number: 1, members: members(4..8) }, PreviousGroup { number: 7, members: members(0..3) }];
    let previous = PreviousGroups { week: jiff::civil::date(2026, 2, 2), groups };
    for swap_share in [0.25, 1.0] {
        let input = SeatingInput { previous: Some(&previous), swap_share, ..free(&table, &profiles, &school) };
        let seating = seat_students(input).unwrap();
        assert_eq!((seating.numbers.clone(), seating.groups[1].members.clone()), (vec![1, 7], vec![0, 1, 2, 3]));
        let told = tell(&table, &profiles, &seating, &ErrorCatalogue::default());
        assert_eq!((told.groups[1].id.as_str(), told.groups[1].name.as_str()), ("g7", "Group 7"));
        assert!(seating.findings.iter().any(|f| f.code == "seats-changed" && f.message.starts_with("0 of the 7 ")));
    }
}

/// What a seating comes to, with skills by their place in teaching order.
fn outcome(table: &ResponseTable, graph: &SkillGraph) -> (Vec<(usize, Vec<usize>)>, ndarray::Array2<f64>) {
    let school = School::default();
    let profiles = estimate(table, graph, &school.mastery, None);
    let seating = seat_students(free(table, &profiles, &school)).unwrap();
    (seating.groups.into_iter().map(|g| (g.target, g.members)).collect(), profiles.mastery)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn renaming_skills_outside_the_graph_changes_only_names(rows in class()) {
        let order: Vec<usize> = (0..rows.len()).collect();
        let named = |skills| outcome(&table_of(&rows, &order, skills, [0, 1, 2, 3, 4, 5]), &SkillGraph::default());
        let (one, two) = (named(["A", "A", "B", "B", "C", "C"]), named(["K1", "K1", "shape", "shape", "zones", "zones"]));
        prop_assert_eq!(one, two);
    }

    #[test]
    fn the_order_of_skills_and_items_changes_neither_profile_nor_group(
        rows in class(),
        columns in Just(vec![0, 1, 2, 3, 4, 5]).prop_shuffle(),
    ) {
        let order: Vec<usize> = (0..rows.len()).collect();
        let with = |columns: &[usize]| {
            let columns = <[usize; 6]>::try_from(columns).unwrap();
            outcome(&table_of(&rows, &order, ["A", "A", "B", "B", "C", "A;B"], columns), &graph())
        };
        let (one, two) = (with(&[0, 1, 2, 3, 4, 5]), with(&columns));
        for (a, b) in one.1.iter().zip(&two.1) {
            prop_assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
        prop_assert_eq!(one.0, two.0);
    }
}

#[test]
fn bands_that_serve_as_well_are_told() {
    let told = |rows: Vec<Vec<u8>>| {
        let mut school = School::default();
        school.groups.count = GroupCount::Fixed(2);
        let (_, seating, _) = seat(&rows, &(0..8).collect::<Vec<_>>(), &school);
        seating.findings.iter().any(|f| f.code == "total-score-would-do")
    };
    // Everybody who lacks one of the three lacks all that come after it.
    let ladder = (0..8).map(|i| if i < 4 { vec![0; 6] } else { vec![1, 1, 1, 1, 0, 0] }).collect();
    assert!(told(ladder));
    // Half lack one, half lack another, all with the same total.
    let crossed = (0..8).map(|i| if i % 2 == 0 { vec![0, 0, 1, 1, 1, 1] } else { vec![1, 1, 1, 1, 0, 0] }).collect();
    assert!(!told(crossed));
}
