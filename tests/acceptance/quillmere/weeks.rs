//! Quillmere's four weeks in order, through the jobs of the service: verdicts, changed ideas, seats that stay.
//!
//! In:  score sheets, attendance, list and setup of the fixtures; what was planted comes from `truth/needs.csv`.
//! Where chance plays, a rate is asked, and a failure names it; the four children whose story was planted are asked one by one.
//! Not here: the rules (`sheaf_core::movement`), the first week by the command (the folder's own tests).
#![allow(clippy::print_stdout)]

use super::week::planted_states;
use crate::command::root;
use sheaf_app::weeks::{GivenFile, SchoolSetup, Week, WeekFiles, WeekPlan, Weeks};
use sheaf_core::movement::{ChildWeeks, Seats, Verdict, seat_changes};
use sheaf_core::roster::StudentId;
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

const MONDAYS: [&str; 4] = ["2026-02-02", "2026-02-09", "2026-02-16", "2026-02-23"];

struct Month {
    plans: Vec<Arc<WeekPlan>>,
    /// After the third and after the fourth week.
    verdicts: [BTreeMap<String, ChildWeeks>; 2],
}

fn given(name: &str) -> GivenFile {
    let bytes = std::fs::read(root().join("fixtures/schools/quillmere").join(name)).unwrap();
    GivenFile { name: name.to_owned(), bytes }
}

fn month() -> &'static Month {
    static MONTH: OnceLock<Month> = OnceLock::new();
    MONTH.get_or_init(|| {
        let toml = String::from_utf8(given("school.toml").bytes).unwrap();
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", &toml).unwrap()).unwrap();
        let plan = |(at, monday): (usize, &&str)| {
            let n = at + 1;
            let files = WeekFiles {
                scores: ["quiz", "ticket"].map(|kind| given(&format!("week{n}_{kind}.xlsx"))).to_vec(),
                items: None,
                students: Some(given("students.csv")),
                attendance: Some(given(&format!("week{n}_attendance.csv"))),
            };
            weeks.plan_at_once(Some(Week::parse(monday).unwrap()), files, 1).unwrap().plan
        };
        let plans = MONDAYS.iter().enumerate().map(plan).collect();
        let verdicts = [2, 3].map(|week| {
            let movement = weeks.movement(None, Some(Week::parse(MONDAYS[week]).unwrap())).unwrap();
            movement.students.into_iter().map(|s| (s.student.id.to_string(), s)).collect()
        });
        Month { plans, verdicts }
    })
}

fn seats(plan: &WeekPlan) -> Seats {
    let plan = &plan.plan;
    let members = |g: &sheaf_core::plan::Group| -> Vec<StudentId> {
        g.members.iter().map(|&m| plan.students[m].id.clone()).collect()
    };
    let groups: Vec<(String, Vec<StudentId>)> = plan.groups.iter().map(|g| (g.id.clone(), members(g))).collect();
    Seats::new(groups.iter().map(|(id, members)| (id.as_str(), members.as_slice())))
}

const SCALING: &str = "5.NF.B.5a";

fn after_four_weeks(id: &str) -> &'static ChildWeeks {
    &month().verdicts[1][id]
}

#[test]
fn a_changed_idea_is_reported_as_changed() {
    let changed = after_four_weeks("0015").judged.changed_idea.clone().unwrap();
    let truth = planted_states(SCALING);
    let idea = |week| truth[&("0015".to_owned(), week)].1.clone();
    assert_eq!((changed.from, changed.to), (idea(1), idea(4)));
    let reason = &after_four_weeks("0015").judged.reason;
    let before = "the wrong idea was “takes any factor written as a fraction to make a number smaller” and is now “";
    assert!(reason.contains(before), "{reason}");
}

#[test]
fn few_ideas_that_stayed_are_said_to_have_changed() {
    let truth = planted_states(SCALING);
    let is_same = |id: &&String| {
        let ideas: Vec<&String> =
            (1..=4).map(|week| &truth[&((*id).clone(), week)].1).filter(|i| !i.is_empty()).collect();
        ideas.len() > 1 && ideas.iter().all(|i| *i == ideas[0])
    };
    let same: Vec<&String> = month().verdicts[1].keys().filter(is_same).collect();
    let said = same.iter().filter(|id| after_four_weeks(id).judged.changed_idea.is_some()).count();
    assert!(same.len() >= 10 && said * 10 <= same.len(), "{said} of {}", same.len());
}

#[test]
fn who_was_away_is_not_yet_taught_and_not_stuck() {
    for verdicts in &month().verdicts {
        let judged = &verdicts["0009"].judged;
        assert_eq!(judged.verdict, Verdict::NotYetTaught, "{}", judged.reason);
        assert!(judged.reason.contains("90 of 270 minutes"), "{}", judged.reason);
    }
}

#[test]
fn who_learnt_nothing_shows_no_gain_and_is_stuck() {
    for id in ["0008", "0016"] {
        let judged = &after_four_weeks(id).judged;
        assert!(!judged.has_gained, "{id}: {}", judged.reason);
        assert_eq!(judged.verdict, Verdict::ChangeSomething, "{id}: {}", judged.reason);
    }
}

#[test]
fn verdicts_follow_what_was_planted() {
    let truth = planted_states(SCALING);
    let state = |id: &String, week| truth[&(id.clone(), week)].0.as_str();
    let on_scaling: Vec<&ChildWeeks> = month().verdicts[1].values().filter(|v| v.skill.as_str() == SCALING).collect();
    let of = |is_meant: &dyn Fn(&String) -> bool| -> Vec<Verdict> {
        on_scaling.iter().filter(|v| is_meant(&v.student.id.to_string())).map(|v| v.judged.verdict).collect()
    };
    let never = of(&|id| (1..=4).all(|week| state(id, week) == "not"));
    let learnt = of(&|id| state(id, 1) == "not" && state(id, 4) == "knows");
    let count = |all: &[Verdict], verdict| all.iter().filter(|v| **v == verdict).count();
    assert!(never.len() >= 4 && count(&never, Verdict::Met) == 0, "{never:?}");
    assert!(count(&never, Verdict::ChangeSomething) * 2 >= never.len(), "{never:?}");
    assert!(learnt.len() >= 8 && count(&learnt, Verdict::ChangeSomething) == 0, "{learnt:?}");
    assert!(count(&learnt, Verdict::Met) * 10 >= learnt.len() * 8, "{learnt:?}");
}

#[test]
fn groups_keep_their_numbers_and_few_seats_change() {
    for (at, pair) in month().plans.windows(2).enumerate() {
        let changes = seat_changes(&seats(&pair[0]), &seats(&pair[1]));
        let share = changes.share_moved().unwrap();
        assert!(share <= 0.25, "week {}: {changes:?}", at + 2);
        let told = pair[1].plan.findings.iter().find(|f| f.code == "seats-changed").unwrap();
        assert!(told.message.starts_with(&format!("{} of the ", changes.n_moved)), "{}", told.message);
        let kept = pair[1].plan.groups.iter().filter(|g| pair[0].plan.groups.iter().any(|b| b.id == g.id)).count();
        assert!(kept * 2 > pair[1].plan.groups.len(), "most groups go on under their number");
    }
    assert!(month().plans[0].plan.findings.iter().all(|f| f.code != "seats-changed"), "nothing came before week 1");
}

#[test]
fn pairs_hold_in_every_week() {
    for plan in &month().plans {
        let seats = seats(plan);
        let group = |id: &str| seats.group_of(&StudentId::parse(id).unwrap()).map(str::to_owned);
        for (a, b) in [("0002", "0007"), ("0011", "0012")] {
            assert!(group(a).is_none() || group(a) != group(b), "{a} and {b}");
        }
        assert!(group("0004").zip(group("0023")).is_none_or(|(a, b)| a == b));
        let sizes: Vec<usize> = plan.plan.groups.iter().map(|g| g.members.len()).collect();
        assert!(sizes.iter().all(|n| (3..=5).contains(n)), "{sizes:?}");
    }
}
