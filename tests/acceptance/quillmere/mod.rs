//! Quillmere's first week by the whole command, as the README shows it: who sits with whom, what they are taught, when.
//!
//! In:  the README's first command and the fixtures it names; what was planted comes from `truth/needs.csv`.
//! Out: the printed summary, the plan as JSON and the workbook, looked at from outside.
//! Not here: Quillmere's other weeks, the service (`http`, `browser`).

mod kept;
mod legal;
mod movement;
mod shuffled;
mod week;
mod weeks;

pub use movement::keep_month;

use crate::command::{root, sheaf};
use calamine::{Reader, Xlsx, open_workbook};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use week::{Week, list, planted, text, with_scores};

const EQUAL_FRACTIONS: &str = "4.NF.A.1";
const ALWAYS_BIGGER: &[&str] = &["scale-always-bigger"];
const FRACTION_SHRINKS: &[&str] = &["scale-fraction-shrinks", "scale-one-changes"];

#[test]
fn children_with_a_gap_of_grade_4_are_taught_that_and_not_scaling() {
    let week = Week::first();
    let is_due = |g: &&Value| text(&g["target_skill"]) == EQUAL_FRACTIONS;
    let n_together = |g: &Value| ["0022", "0023", "0024", "0025"].iter().filter(|id| week.sits_in(id, g)).count();
    let most = week.groups().iter().filter(is_due).map(n_together).max();
    assert!(most.is_some_and(|n| n >= 3), "{:?}", week.groups());
}

#[test]
fn a_target_with_two_items_is_said_to_be_unsure() {
    let week = Week::first();
    let about = |g: &&Value| text(&g["target_skill"]) == EQUAL_FRACTIONS;
    assert!(week.groups().iter().any(|g| about(&g)));
    for group in week.groups().iter().filter(about) {
        assert!(week.told_of(group).contains("Unsure: 4.NF.A.1 rests on 2 items"), "{}", week.told_of(group));
        for id in list(&group["members"]) {
            let profile = &week.student(&text(id))["profile"];
            let skill = list(profile).iter().find(|s| s["skill"] == EQUAL_FRACTIONS).unwrap();
            assert!(skill["evidence"].as_u64().unwrap() < 3 && skill["state"] == "not-enough", "{id}: {skill}");
        }
    }
}

#[test]
fn pairs_of_the_setup_sit_together_or_apart_as_it_says() {
    let week = Week::first();
    let setup = week::setup();
    let pairs = |key: &str| setup["groups"][key].as_array().unwrap().clone();
    let group_of = |id: &toml::Value| text(&week.student(id.as_str().unwrap())["group"]);
    assert!(pairs("keep_together").iter().any(|p| p[0].as_str() == Some("0004") && p[1].as_str() == Some("0023")));
    for pair in pairs("keep_together") {
        assert_eq!(group_of(&pair[0]), group_of(&pair[1]), "{pair}");
    }
    assert_eq!(pairs("keep_apart").len(), 2);
    for pair in pairs("keep_apart") {
        assert_ne!(group_of(&pair[0]), group_of(&pair[1]), "{pair}");
    }
}

#[test]
fn two_ideas_about_scaling_share_a_group_only_where_it_is_said() {
    let week = Week::first();
    let (bigger, shrinks) = (planted(ALWAYS_BIGGER), planted(FRACTION_SHRINKS));
    assert_eq!((bigger.len(), shrinks.len()), (9, 7));
    for group in week.groups() {
        let has = |children: &BTreeSet<String>| children.iter().any(|id| week.sits_in(id, group));
        if has(&bigger) && has(&shrinks) {
            assert!(week.says_mixed(group), "{}", week.told_of(group));
        }
    }
    // Nine and seven fill two groups each: a plan that mixed them everywhere would say so and still be wrong.
    let is_of_one =
        |g: &&Value| !bigger.iter().any(|b| week.sits_in(b, g)) || !shrinks.iter().any(|s| week.sits_in(s, g));
    let scaling = week.groups().iter().filter(|g| text(&g["target_skill"]).starts_with("5.NF.B.5"));
    assert!(scaling.filter(is_of_one).count() >= 3);
}

#[test]
fn where_sizes_force_two_ideas_into_one_group_the_plan_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let setup = folder.path().join("one_group.toml");
    std::fs::write(&setup, "[groups]\ncount = 1\nmin_size = 16\nmax_size = 40\n").unwrap();
    let week = Week::plan(&[("--school", setup.to_str().unwrap())]);
    assert_eq!(week.groups().len(), 1);
    assert!(week.says_mixed(&week.groups()[0]), "{}", week.told_of(&week.groups()[0]));
}

#[test]
fn every_session_is_legal_and_every_group_meets_an_adult_as_often_as_it_asks() {
    let week = Week::first();
    let setup = week::setup();
    let faults = legal::faults(&setup, &week::homerooms(), &week.plan);
    assert!(faults.is_empty(), "{faults:#?}");
    let mut n_led: BTreeMap<String, usize> = week.groups().iter().map(|g| (text(&g["id"]), 0)).collect();
    for session in list(&week.plan["rotation"]).iter().filter(|s| s["station"] == "Teacher table") {
        *n_led.get_mut(&text(&session["group"])).unwrap() += 1;
    }
    assert!(n_led.values().all(|n| *n == 3), "18 led sessions for six groups: {n_led:?}");
}

#[test]
fn every_child_with_scores_sits_once_or_waits_for_a_reason() {
    let week = Week::first();
    let mut seats: Vec<String> = Vec::new();
    for group in week.groups() {
        let members = list(&group["members"]);
        assert!((3..=5).contains(&members.len()), "{group}");
        for id in members {
            assert_eq!(week.student(&text(id))["group"], group["id"], "{id}");
            seats.push(text(id));
        }
    }
    for unplaced in list(&week.plan["unplaced"]) {
        assert!(["waits", "no-need", "no-scores"].contains(&text(&unplaced["kind"]).as_str()), "{unplaced}");
        assert!(text(&unplaced["reason"]).len() > 10, "{unplaced}");
        assert!(week.student(&text(&unplaced["id"]))["group"].is_null(), "{unplaced}");
        seats.push(text(&unplaced["id"]));
    }
    let places: BTreeSet<String> = seats.iter().cloned().collect();
    assert_eq!(places.len(), seats.len(), "somebody is there twice");
    let scored = with_scores();
    assert_eq!(scored.len(), 44);
    assert_eq!(places, scored);
}

#[test]
fn the_same_sheets_and_seed_give_the_same_bytes() {
    let bytes = || Week::json(&[("--seed", "7")]);
    let first = bytes();
    assert!(first.starts_with(b"{"));
    assert!(first == bytes(), "the second run gave other bytes");
}

#[test]
fn rows_in_another_order_give_the_same_groups() {
    let folder = tempfile::tempdir().unwrap();
    let mut args = week::readme_args();
    let mut n_sheets = 0;
    for sheet in args.iter_mut().filter(|a| a.ends_with(".xlsx") && a.starts_with("fixtures/")) {
        let copy = folder.path().join(sheet.rsplit('/').next().unwrap());
        shuffled::copy(&root().join(&*sheet), &copy, 20 + n_sheets);
        *sheet = copy.to_str().unwrap().to_owned();
        n_sheets += 1;
    }
    assert_eq!(n_sheets, 2);
    let other = Week::run(args, folder.path());
    let week = Week::first();
    for part in ["groups", "unplaced", "rotation", "tickets", "students"] {
        assert_eq!(other.plan[part], week.plan[part], "{part}");
    }
}

#[test]
fn the_command_of_the_readme_prints_its_groups_and_where_the_workbook_lies() {
    let week = Week::first();
    for group in week.groups() {
        let heading = format!("{}: {}", text(&group["name"]), text(&group["target_skill"]));
        assert!(week.told.lines().any(|l| l.starts_with(&heading)), "{heading} is not in\n{}", week.told);
        assert!(list(&group["members"]).iter().all(|id| week.told_of(group).contains(&text(id))));
    }
    assert!(week.told.contains(&format!("Workbook: {}", week.book.display())), "{}", week.told);
}

#[test]
fn the_workbook_opens_with_every_sheet_and_every_seat() {
    let week = Week::first();
    let mut book: Xlsx<_> = open_workbook(&week.book).unwrap();
    let names = [
        "Start here",
        "Groups",
        "Rotation",
        "Group cards",
        "Needs",
        "Exit tickets",
        "Answer keys",
        "Ticket results",
        "Attendance",
        "Items",
        "Findings",
    ];
    let found: BTreeSet<String> = book.sheet_names().into_iter().collect();
    assert_eq!(found, names.iter().map(|n| (*n).to_owned()).collect());
    for name in names {
        assert!(book.worksheet_range(name).unwrap().height() > 1, "{name} is empty");
    }
    let groups = book.worksheet_range("Groups").unwrap();
    let cells: BTreeSet<String> = groups.used_cells().map(|(_, _, cell)| cell.to_string()).collect();
    for id in week.groups().iter().flat_map(|g| list(&g["members"])) {
        assert!(cells.contains(&text(id)), "{id} is not on the sheet of groups");
    }
}

#[test]
fn an_unrelated_file_is_refused_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let book = folder.path().join("week.xlsx");
    let ran = sheaf(["plan", "fixtures/broken/unrelated_list.csv", "--out", book.to_str().unwrap()]);
    assert_eq!((ran.code, ran.out.as_slice()), (3, &b""[..]), "{}", ran.err);
    assert_eq!(ran.err.lines().count(), 1, "{}", ran.err);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
