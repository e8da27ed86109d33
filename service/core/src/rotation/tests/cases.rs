//! Named cases: what a school would notice first if it went wrong.
//! Each case is a week that can be checked by hand; random weeks are in `random`.

use super::setups::{assistant, block, group, intensive, mixed, room, school, staff, station};
use crate::roster::{Block, Busy, BusyWhen, BusyWho, Day, Limits, Minutes, School, Station, StudentId, TimeSpan};
use crate::rotation::{DEFAULT_STATION, GroupToPlace, Proof, Rotation, plan_rotation, violations};

fn planned(school: &School, groups: &[GroupToPlace]) -> Rotation {
    let rotation = plan_rotation(school, groups);
    assert_eq!(violations(school, groups, &rotation), Vec::new());
    rotation
}

fn n_led(school: &School, rotation: &Rotation, group: &str) -> usize {
    rotation.sessions.iter().filter(|s| s.group == group && s.is_led(school)).count()
}

fn busy_homeroom(homeroom: &str, days: &[Day]) -> Vec<Busy> {
    let span = |&day: &Day| TimeSpan::new(day, Minutes(13 * 60 + 10), Minutes(13 * 60 + 50)).unwrap();
    let who = BusyWho::Homeroom(homeroom.to_owned());
    days.iter().map(|day| Busy { who: who.clone(), when: BusyWhen::Span(span(day)) }).collect()
}

/// Two blocks a day, one interventionist, two class teachers, four rooms, six groups of two homerooms.
pub(super) fn two_homerooms() -> (School, Vec<GroupToPlace>) {
    let days = ["Mon", "Tue", "Wed", "Thu", "Fri"];
    let named = |id: &str, when: String| Block { id: id.to_owned(), ..block(&when, 30) };
    let first = days.map(|d| named(&format!("{d}-w1"), format!("{d} 10:30")));
    let second = days.map(|d| named(&format!("{d}-w2"), format!("{d} 13:10")));
    let blocks: Vec<Block> = first.into_iter().chain(second).collect();
    let ids: Vec<&str> = blocks.iter().map(|b| b.id.as_str()).collect();
    let adults =
        vec![staff("I1", &ids), staff("TP", &ids[..4]), staff("TQ", &ids[..4]), assistant("A1", &["Tue-w1", "Thu-w1"])];
    let mut school = school(blocks.clone(), adults);
    school.rooms = vec![room("R5P", 26), room("R5Q", 26), room("SmallRoom", 6), room("HallTable", 4)];
    school.busy = busy_homeroom("5P", &[Day::Tue, Day::Thu]);
    school.busy.extend(busy_homeroom("5Q", &[Day::Mon, Day::Wed]));
    let shapes = [[2, 2], [3, 2], [2, 3], [3, 1], [1, 4], [2, 2]];
    let groups = shapes
        .iter()
        .enumerate()
        .map(|(idx, [p, q])| mixed(&format!("g{}", idx + 1), &[("5P", *p), ("5Q", *q)], Some(3)));
    let groups = groups.collect();
    (school, groups)
}

#[test]
fn six_groups_of_two_homerooms_get_three_sessions_each() {
    let (school, groups) = two_homerooms();
    let rotation = planned(&school, &groups);
    assert_eq!(rotation.floor, 3);
    assert_eq!(rotation.sessions.len(), 18, "every led place of the week is used");
    assert_eq!(rotation.proof, Proof::Optimal);
    // Thirteen places before lunch and the one on Friday afternoon see whole groups; four afternoons see one homeroom.
    assert!(rotation.attended > 13 * 4, "{}", rotation.attended);
    assert_eq!(rotation.notes, Vec::<String>::new());
}

#[test]
fn the_same_week_comes_out_the_same_twice() {
    let (school, groups) = two_homerooms();
    assert_eq!(plan_rotation(&school, &groups), plan_rotation(&school, &groups));
}

#[test]
fn a_busy_member_is_not_expected() {
    let (mut school, groups) =
        (school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"])]), vec![group("g1", "5P", 3, None)]);
    let who = BusyWho::Student(StudentId::parse("g1-02").unwrap());
    school.busy = vec![Busy { who, when: BusyWhen::Blocks(vec!["Mon 09:00".to_owned()]) }];
    let rotation = planned(&school, &groups);
    assert_eq!(rotation.sessions[0].expected, ["g1-01", "g1-03"]);
    assert_eq!(rotation.sessions[0].station, DEFAULT_STATION);
    assert!(
        rotation.notes.contains(&"Busy at every led session of their group: g1-02 (g1).".to_owned()),
        "{:?}",
        rotation.notes
    );
}

#[test]
fn a_group_whose_members_are_all_busy_does_not_meet_and_is_named() {
    let mut school = school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"])]);
    school.busy =
        vec![Busy { who: BusyWho::Homeroom("5P".to_owned()), when: BusyWhen::Blocks(vec!["Mon 09:00".to_owned()]) }];
    let groups = vec![group("g1", "5P", 3, Some(1)), group("g2", "5Q", 3, Some(1))];
    let rotation = planned(&school, &groups);
    assert_eq!((n_led(&school, &rotation, "g1"), n_led(&school, &rotation, "g2")), (0, 1));
    assert_eq!(rotation.floor, 1, "a group that cannot meet does not pull the floor down");
    assert_eq!(rotation.notes[0], "Cannot meet, because no member is free in any block: g1.");
}

#[test]
fn only_homerooms_that_a_block_is_open_to_are_pulled() {
    let mut only_q = block("Mon 09:00", 30);
    only_q.homerooms = vec!["5Q".to_owned()];
    let school = school(vec![only_q], vec![staff("A", &["Mon 09:00"])]);
    let rotation = planned(&school, &[mixed("g1", &[("5P", 2), ("5Q", 1)], None)]);
    assert_eq!(rotation.sessions[0].expected, ["g1-03"]);
}

#[test]
fn an_assistant_never_counts_as_a_leader() {
    let blocks = vec![block("Mon 09:00", 30), block("Tue 09:00", 30)];
    let school = school(blocks, vec![staff("A", &["Mon 09:00"]), assistant("B", &["Mon 09:00", "Tue 09:00"])]);
    let rotation = planned(&school, &[group("g1", "5P", 3, None), group("g2", "5P", 3, None)]);
    assert_eq!(rotation.sessions.len(), 1);
    assert_eq!(rotation.sessions[0].staff.as_deref(), Some("A"));
}

#[test]
fn without_a_timetable_a_note_says_how_to_add_one() {
    let groups = [group("g1", "5P", 3, None)];
    let rotation = plan_rotation(&School::default(), &groups);
    assert!(rotation.sessions.is_empty());
    assert!(rotation.notes[0].contains("[[block]]") && rotation.notes[0].contains("[[staff]]"));
    let no_adults = plan_rotation(&school(vec![block("Mon 09:00", 30)], Vec::new()), &groups);
    assert!(no_adults.notes[0].contains("[[staff]]"));
}

#[test]
fn without_a_staffed_station_nothing_is_led() {
    let mut school = school(vec![block("Mon 09:00", 30)], vec![staff("A", &["Mon 09:00"])]);
    school.stations = vec![station("Partner practice", Some(2))];
    let rotation = plan_rotation(&school, &[group("g1", "5P", 3, None)]);
    assert!(rotation.sessions.is_empty());
    assert!(rotation.notes[0].contains("staffed = true"));
}

#[test]
fn intensive_groups_are_led_every_day_before_others_get_their_floor() {
    let blocks = ["Mon 09:00", "Tue 09:00", "Wed 09:00", "Thu 09:00", "Fri 09:00"].map(|w| block(w, 30)).to_vec();
    let ids: Vec<&str> = blocks.iter().map(|b| b.id.as_str()).collect();
    let school = school(blocks.clone(), vec![staff("A", &ids), staff("B", &ids[..2])]);
    let groups = [group("g1", "5P", 5, Some(3)), intensive("g2", "5P", 2, 5)];
    let rotation = planned(&school, &groups);
    assert_eq!((n_led(&school, &rotation, "g1"), n_led(&school, &rotation, "g2")), (2, 5));
    assert_eq!(rotation.floor, 2);
}

#[test]
fn two_intensive_groups_share_one_adult_evenly() {
    let blocks = ["Mon 09:00", "Tue 09:00", "Wed 09:00", "Thu 09:00"].map(|w| block(w, 30)).to_vec();
    let ids: Vec<&str> = blocks.iter().map(|b| b.id.as_str()).collect();
    let school = school(blocks.clone(), vec![staff("A", &ids)]);
    let groups = [intensive("g1", "5P", 3, 5), intensive("g2", "5P", 1, 5)];
    let rotation = planned(&school, &groups);
    assert_eq!((n_led(&school, &rotation, "g1"), n_led(&school, &rotation, "g2")), (2, 2));
}

#[test]
fn a_group_that_gets_less_than_asked_is_named() {
    let school =
        school(vec![block("Mon 09:00", 30), block("Tue 09:00", 30)], vec![staff("A", &["Mon 09:00", "Tue 09:00"])]);
    let rotation = planned(&school, &[group("g1", "5P", 3, Some(3)), group("g2", "5P", 3, Some(1))]);
    assert_eq!(rotation.notes[0], "Fewer led sessions than asked for: g1 (1 of 3).");
    assert!(rotation.notes[1].contains("as few as 1 led session of 30 minutes"), "{}", rotation.notes[1]);
}

#[test]
fn one_more_adult_is_promised_what_planning_again_gives() {
    let school = school(vec![block("Mon 09:00", 30), block("Tue 09:00", 30)], vec![staff("A", &["Mon 09:00"])]);
    let groups = [group("g1", "5P", 3, Some(1)), group("g2", "5Q", 4, Some(1))];
    let rotation = planned(&school, &groups);
    assert_eq!((rotation.floor, rotation.attended), (0, 4));
    let note = rotation.notes.iter().find(|n| n.starts_with("One more adult")).unwrap();
    assert!(note.contains("every group gets from 0 to 1, and attended places from 4 to 7"), "{note}");
    let named = ["Mon 09:00", "Tue 09:00"].into_iter().find(|id| note.contains(&format!("block {id} ("))).unwrap();
    let mut wider = school;
    wider.staff.push(staff("B", &[named]));
    let again = planned(&wider, &groups);
    assert_eq!((again.floor, again.attended), (1, 7));
}

#[test]
fn a_later_wish_never_costs_an_earlier_one() {
    // The group furthest behind is small; attendance comes before need, and the floor before both.
    let ids = ["Mon 09:00", "Tue 09:00", "Wed 09:00"];
    let blocks = ids.map(|w| block(w, 30)).to_vec();
    let school = school(blocks, vec![staff("A", &ids)]);
    let small = GroupToPlace { need: 1.0, ..group("g1", "5P", 2, None) };
    let rotation = planned(&school, &[small, group("g2", "5P", 5, None)]);
    assert_eq!((rotation.floor, rotation.attended), (1, 12));
    let equal = GroupToPlace { need: 1.0, ..group("g1", "5P", 5, None) };
    let rotation = planned(&school, &[group("g2", "5P", 5, None), equal]);
    assert_eq!(n_led(&school, &rotation, "g1"), 2, "of equal groups the one furthest behind gets more");
}

#[test]
fn a_group_meets_on_different_days_where_that_costs_nothing() {
    let ids = ["Mon 09:00", "Mon 10:00", "Tue 09:00", "Tue 10:00"];
    let school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
    let rotation = planned(&school, &[group("g1", "5P", 4, Some(2)), group("g2", "5P", 4, Some(2))]);
    for id in ["g1", "g2"] {
        let days: Vec<Day> = rotation.sessions.iter().filter(|s| s.group == id).map(|s| s.time.day).collect();
        assert_eq!(days, [Day::Mon, Day::Tue]);
    }
}

#[test]
fn overlapping_blocks_exclude_each_other() {
    let ids = ["Mon 09:00", "Mon 09:20"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), staff("B", &ids)]);
    let groups = [group("g1", "5P", 3, None), group("g2", "5P", 3, None)];
    assert_eq!(planned(&school, &groups).sessions.len(), 2, "one block for each adult and group");
    school.rooms = vec![room("R", 5)];
    assert_eq!(planned(&school, &groups).sessions.len(), 1, "one room at a time");
}

#[test]
fn a_student_of_two_groups_is_in_one_place() {
    let ids = ["Mon 09:00"];
    let school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), staff("B", &ids)]);
    let (first, mut second) = (group("g1", "5P", 3, None), group("g2", "5P", 3, None));
    second.members.push(first.members[0].clone());
    assert_eq!(planned(&school, &[first, second]).sessions.len(), 1);
}

#[test]
fn an_assistant_needs_walking_time_too() {
    let mut school = with_practice(1, &["Mon"]);
    school.blocks.push(block("Mon 09:30", 30));
    school.staff.iter_mut().for_each(|s| s.blocks = vec!["Mon 09:00".to_owned(), "Mon 09:30".to_owned()]);
    let groups = [group("g1", "5P", 3, Some(1)), group("g2", "5P", 3, Some(1))];
    let held =
        |school: &School| planned(school, &groups).sessions.iter().filter(|s| s.staff.as_deref() == Some("B")).count();
    assert_eq!(held(&school), 2);
    school.staff.push(staff("C", &["Mon 09:30"]));
    school.limits = Limits { walk_minutes: Some(5), ..Limits::default() };
    assert_eq!(held(&school), 1);
}

#[test]
fn walking_time_keeps_an_adult_from_two_blocks_that_touch() {
    let ids = ["Mon 09:00", "Mon 09:30", "Mon 10:10"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
    let groups = [group("g1", "5P", 3, None)];
    assert_eq!(planned(&school, &groups).sessions.len(), 3);
    school.limits = Limits { walk_minutes: Some(5), ..Limits::default() };
    assert_eq!(planned(&school, &groups).sessions.len(), 2);
}

#[test]
fn a_free_block_breaks_a_run() {
    let ids = ["Mon 09:00", "Mon 09:30", "Mon 10:00", "Mon 10:30", "Mon 11:00"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
    school.limits = Limits { max_in_a_row: Some(2), ..Limits::default() };
    let rotation = planned(&school, &[group("g1", "5P", 3, None)]);
    assert_eq!(rotation.sessions.len(), 4, "two, a break, two");
}

#[test]
fn departures_count_the_expected_only() {
    let ids = ["Mon 09:00"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), staff("B", &ids)]);
    school.limits = Limits { max_departures: Some(6), ..Limits::default() };
    let groups = [group("g1", "5P", 4, None), group("g2", "5P", 4, None)];
    assert_eq!(planned(&school, &groups).sessions.len(), 1);
    let busy = |id: &str| Busy {
        who: BusyWho::Student(StudentId::parse(id).unwrap()),
        when: BusyWhen::Blocks(vec!["Mon 09:00".to_owned()]),
    };
    school.busy = vec![busy("g1-01"), busy("g2-01")];
    assert_eq!(planned(&school, &groups).sessions.len(), 2, "three of each are free");
}

#[test]
fn nobody_is_pulled_out_more_often_than_allowed() {
    let ids = ["Mon 09:00", "Mon 10:00", "Mon 11:00"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids)]);
    school.stations = vec![station("Teacher table", None), station("Partner practice", Some(2))];
    school.limits = Limits { max_pullouts: Some(2), ..Limits::default() };
    let rotation = planned(&school, &[group("g1", "5P", 3, Some(1))]);
    assert_eq!(rotation.sessions.len(), 2, "one led, one practice");
}

fn with_practice(capacity: usize, days: &[&str]) -> School {
    let mut school = school(days.iter().map(|d| block(&format!("{d} 09:00"), 30)).collect(), Vec::new());
    let ids: Vec<String> = school.blocks.iter().map(|b| b.id.clone()).collect();
    let ids: Vec<&str> = ids.iter().map(String::as_str).collect();
    school.staff = vec![staff("A", &ids), assistant("B", &ids)];
    school.stations = vec![station("Teacher table", None), station("Partner practice", Some(capacity))];
    school
}

#[test]
fn practice_is_never_twice_running() {
    let school = with_practice(3, &["Mon", "Tue", "Wed", "Thu", "Fri"]);
    let rotation = planned(&school, &[group("g1", "5P", 4, Some(2))]);
    assert_eq!(n_led(&school, &rotation, "g1"), 2);
    let kinds: Vec<bool> = rotation.sessions.iter().map(|s| s.is_led(&school)).collect();
    assert!(kinds.windows(2).all(|w| w[0] || w[1]), "{kinds:?}");
    assert!(kinds.contains(&false), "there is some practice");
}

#[test]
fn an_intensive_group_practises_only_where_it_is_led() {
    let mut school = with_practice(2, &["Mon", "Tue", "Wed"]);
    school.staff[0].blocks.truncate(1);
    let rotation = planned(&school, &[intensive("g1", "5P", 2, 5)]);
    assert_eq!(n_led(&school, &rotation, "g1"), 1);
    assert!(rotation.sessions.iter().all(|s| s.time.day == Day::Mon), "{:?}", rotation.sessions);
}

#[test]
fn an_assistant_holds_one_station_at_a_time() {
    let school = with_practice(2, &["Mon", "Tue", "Wed"]);
    let groups = [1, 2, 3].map(|n| group(&format!("g{n}"), "5P", 3, Some(1)));
    let rotation = planned(&school, &groups);
    let monday: Vec<Option<&str>> = rotation
        .sessions
        .iter()
        .filter(|s| s.time.day == Day::Mon && !s.is_led(&school))
        .map(|s| s.staff.as_deref())
        .collect();
    assert_eq!(monday, [Some("B"), None]);
}

#[test]
fn nobody_has_practice_only() {
    let mut school = with_practice(2, &["Mon", "Tue"]);
    school.staff[0].blocks = vec!["Mon 09:00".to_owned()];
    let who = BusyWho::Student(StudentId::parse("g1-01").unwrap());
    school.busy = vec![Busy { who, when: BusyWhen::Blocks(vec!["Mon 09:00".to_owned()]) }];
    let rotation = planned(&school, &[group("g1", "5P", 3, None), group("g2", "5P", 2, Some(0))]);
    let practice: Vec<&str> =
        rotation.sessions.iter().filter(|s| !s.is_led(&school)).map(|s| s.group.as_str()).collect();
    assert_eq!(practice, Vec::<&str>::new(), "g1-01 is never led, and neither is g2");
}

#[test]
fn a_group_of_two_stations_goes_to_the_adults_own_one() {
    let ids = ["Mon 09:00"];
    let mut school = school(ids.map(|w| block(w, 30)).to_vec(), vec![staff("A", &ids), staff("B", &ids)]);
    school.stations =
        vec![station("Red table", None), Station { name: "Window table".to_owned(), ..station("", None) }];
    let rotation = planned(&school, &[group("g1", "5P", 3, None), group("g2", "5P", 3, None)]);
    let stations: Vec<&str> = rotation.sessions.iter().map(|s| s.station.as_str()).collect();
    assert_eq!(stations, ["Red table", "Window table"]);
}

#[test]
fn a_week_beyond_the_exact_size_says_best_found() {
    let days = ["Mon", "Tue", "Wed", "Thu", "Fri"];
    let whens: Vec<String> =
        days.iter().flat_map(|d| ["09:00", "10:00", "11:00", "13:00"].map(|t| format!("{d} {t}"))).collect();
    let ids: Vec<&str> = whens.iter().map(String::as_str).collect();
    let adults = ["A", "B", "C"].map(|name| staff(name, &ids)).to_vec();
    let mut school = school(ids.iter().map(|w| block(w, 30)).collect(), adults);
    school.rooms = vec![room("R1", 6), room("R2", 6), room("R3", 4)];
    school.limits =
        Limits { max_departures: Some(9), max_pullouts: Some(1), walk_minutes: Some(5), max_in_a_row: Some(3) };
    let groups: Vec<GroupToPlace> =
        (0..80).map(|n| group(&format!("g{}", n + 1), ["5P", "5Q", "5R"][n % 3], 3 + n % 3, Some(3))).collect();
    let rotation = planned(&school, &groups);
    assert_eq!(rotation.proof, Proof::BestFound);
    assert!(rotation.notes.iter().any(|n| n.contains("best found")));
    assert!(rotation.sessions.len() >= 40, "{}", rotation.sessions.len());
    assert_eq!(rotation, plan_rotation(&school, &groups));
}
