//! The weekly jobs on a store in memory, with a small quiz typed out as text.
//!
//! Each test is one thing that a person could see go wrong: kept twice, kept half, planned from what is gone.

use super::small_quiz::{QUIZ, file, week, weeks};
use super::*;
use crate::progress::{Step, Watcher};
use sheaf_core::plan::Plan;

fn take_in(weeks: &Weeks, text: &str) -> TakenIn {
    weeks.take_in(week(), vec![file("quiz.csv", text)], None, Keeping::Keep).unwrap()
}

fn id_of(taken: &TakenIn) -> i64 {
    match taken.taken {
        Taken::New(id) | Taken::AlreadyHere(id) => id,
        Taken::LookedAt => panic!("the sheet was only looked at"),
    }
}

#[test]
fn sheets_that_cannot_be_read_are_not_kept() {
    let weeks = weeks();
    let error = weeks.take_in(week(), vec![file("x.csv", "no scores here")], None, Keeping::Keep).unwrap_err();
    assert_eq!(error.kind, ErrorKind::Input);
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::Empty);
    assert_eq!(weeks.take_in(week(), vec![], None, Keeping::Keep).unwrap_err().code, "no-file");
}

#[test]
fn the_same_sheets_again_are_already_here() {
    let weeks = weeks();
    let first = take_in(&weeks, QUIZ);
    assert_eq!((first.reading.table.n_students(), first.reading.table.n_items()), (6, 6));
    let again = take_in(&weeks, QUIZ);
    assert_eq!(again.taken, Taken::AlreadyHere(id_of(&first)));
    assert_eq!(weeks.uploads(week()).unwrap().len(), 1);
}

#[test]
fn looking_only_keeps_nothing() {
    let weeks = weeks();
    let looked = weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::LookOnly).unwrap();
    assert_eq!((looked.taken, looked.reading.table.n_students()), (Taken::LookedAt, 6));
    assert_eq!(weeks.weeks().unwrap(), vec![]);
}

#[test]
fn a_week_without_sheets_has_no_plan() {
    let weeks = weeks();
    assert_eq!(weeks.plan_week(week(), None).unwrap_err().code, "no-score-sheets");
    assert_eq!(weeks.plan(week()).unwrap_err().kind, ErrorKind::NotFound);
    assert_eq!(weeks.workbook(week()).unwrap_err().code, "no-plan");
}

/// Lets a job go on until a step, and notes what it was told.
#[derive(Debug)]
struct StopsAt(Option<Step>, Mutex<Vec<Step>>);

impl Watcher for StopsAt {
    fn reached(&self, step: Step) -> bool {
        self.1.lock().unwrap().push(step);
        Some(step) != self.0
    }
    fn is_stopped(&self) -> bool {
        false
    }
}

#[test]
fn a_job_that_is_stopped_changes_nothing() {
    let weeks = weeks();
    let watched = |at: Option<Step>| {
        let watcher = Arc::new(StopsAt(at, Mutex::default()));
        (weeks.watched_by(watcher.clone()), watcher)
    };
    for step in [Step::Reading, Step::Comparing, Step::Keeping] {
        let (handle, _) = watched(Some(step));
        let stopped = handle.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap_err();
        assert_eq!((stopped, weeks.uploads(week()).unwrap().len()), (AppError::stopped(), 0), "{step:?}");
    }
    take_in(&weeks, QUIZ);
    let steps = [Step::Reading, Step::Profiles, Step::Groups, Step::Rotation, Step::Tickets, Step::Keeping];
    for step in steps {
        let (handle, _) = watched(Some(step));
        assert_eq!(handle.plan_week(week(), None).unwrap_err(), AppError::stopped(), "{step:?}");
        assert_eq!(weeks.plan(week()).unwrap_err().code, "no-plan", "{step:?}");
    }
    let (handle, watcher) = watched(None);
    let plan = handle.plan_week(week(), None).unwrap();
    assert_eq!(*watcher.1.lock().unwrap(), steps);
    assert_eq!(plan.plan, weeks.plan(week()).unwrap().plan);
}

#[test]
fn a_tag_names_its_revision_with_and_without_a_digest() {
    let names = |tag: &str| super::plan_week::is_tag_of(tag, week(), 1);
    let own = super::plan_week::tag_of(week(), 1);
    let open = own.trim_end_matches('"').to_owned();
    assert!(names(&own) && names(&format!("{open}-0f1e2d\"")));
    for other in ["", "\"", &open, &format!("{open}2\""), &format!("{open}2-0f1e2d\""), "\"2001-01-01.1\""] {
        assert!(!names(other), "{other}");
    }
}

#[test]
fn a_kept_plan_is_made_again_the_same() {
    let weeks = weeks();
    take_in(&weeks, QUIZ);
    let made = weeks.plan_week(week(), Some(7)).unwrap();
    assert!(!made.plan.groups.is_empty());
    weeks.forget_remembered();
    let again = weeks.plan(week()).unwrap();
    assert_eq!((again.remade, &again.plan, &again.tag), (Remade::Same, &made.plan, &made.tag));
    assert_eq!(weeks.published_plan(week()).unwrap(), (made.published.clone(), made.tag.clone()));
}

#[test]
fn planning_again_keeps_the_seed_and_changes_the_tag() {
    let weeks = weeks();
    take_in(&weeks, QUIZ);
    let first = weeks.plan_week(week(), Some(7)).unwrap();
    let second = weeks.plan_week(week(), None).unwrap();
    assert_eq!(second.plan, first.plan);
    assert_ne!(second.tag, first.tag);
}

#[test]
fn taking_back_takes_the_plan_too() {
    let weeks = weeks();
    let id = id_of(&take_in(&weeks, QUIZ));
    weeks.plan_week(week(), None).unwrap();
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::Planned);
    assert_eq!(weeks.take_back(id).unwrap(), week());
    assert_eq!(weeks.plan(week()).unwrap_err().code, "no-plan");
    assert_eq!(weeks.take_back(id).unwrap_err().code, "no-such-upload");
    assert_eq!(weeks.look_over(id).unwrap_err().kind, ErrorKind::NotFound);
}

#[test]
fn sheets_that_come_late_leave_the_plan_behind() {
    let weeks = weeks();
    take_in(&weeks, QUIZ);
    weeks.plan_week(week(), None).unwrap();
    take_in(&weeks, &QUIZ.replace("0006,Fi Fir,5P,A", "0006,Fi Fir,5P,B"));
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::PlanBehind);
}

#[test]
fn who_is_listed_without_scores_is_in_the_plan() {
    let weeks = weeks();
    let list = file("students.csv", "id,name,grade,homeroom,supports\n0001,Ada Ash,5,5P,\n0099,Zoe Zelkova,5,5P,\n");
    weeks.put_students(&list).unwrap();
    take_in(&weeks, QUIZ);
    let made = weeks.plan_week(week(), None).unwrap();
    let zoe = made.plan.students.iter().position(|s| s.id.as_str() == "0099").unwrap();
    let unplaced = made.plan.unplaced.iter().find(|u| u.student == zoe).unwrap();
    assert_eq!(unplaced.kind, sheaf_core::plan::UnplacedKind::NoScores);
}

#[test]
fn looking_back_sees_every_planned_week() {
    let weeks = weeks();
    take_in(&weeks, QUIZ);
    weeks.plan_week(week(), None).unwrap();
    weeks.take_in(week().next(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
    weeks.plan_week(week().next(), None).unwrap();
    let back = weeks.movement(None, None).unwrap();
    assert_eq!(back.weeks.len(), 2);
    assert!(back.students.len() >= 3, "{}", back.students.len());
    let (_, flows) = &back.flows[0];
    assert!(flows.iter().all(|f| f.from == f.to), "{flows:?}");
    assert!(back.students.iter().all(|s| s.weeks.iter().all(Option::is_some) && !s.student.homeroom.is_empty()));
}

#[test]
fn records_in_a_file_are_there_after_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.db");
    let open = || Weeks::open(&path, SchoolSetup::builtin().unwrap()).unwrap();
    let id = id_of(&take_in(&open(), QUIZ));
    let later = open();
    assert_eq!(later.look_over(id).unwrap().file_names, vec!["quiz.csv"]);
    let made = later.plan_week(week(), None).unwrap();
    drop(later);
    assert_eq!(open().plan(week()).unwrap().plan, made.plan);
}

fn files(scores: &str, attendance: Option<&str>) -> WeekFiles {
    WeekFiles {
        scores: vec![file("quiz.csv", scores)],
        items: None,
        students: None,
        attendance: attendance.map(|text| file("attendance.csv", text)),
    }
}

#[test]
fn attendance_stands_beside_the_reason_and_stays_as_it_was_planned() {
    let weeks = weeks();
    let noted = "id,Mon,Tue\n0004,present,absent\n0005,absent,absent\n0009,present,present\n";
    let planned = weeks.plan_at_once(Some(week()), files(QUIZ, Some(noted)), 1).unwrap();
    let why = |plan: &Plan, id: &str| plan.students.iter().find(|s| s.id.as_str() == id).unwrap().why.clone();
    assert!(
        why(&planned.plan.plan, "0004").ends_with(" There at 1 of 2 sessions."),
        "{}",
        why(&planned.plan.plan, "0004")
    );
    assert!(
        why(&planned.plan.plan, "0005").ends_with("There at 0 of 2 sessions: not yet taught, rather than not learnt.")
    );
    // What is noted later is for the next plan; what was handed out stays what it was.
    weeks.put_attendance(week(), &file("friday.csv", "id,Fri\n0004,absent\n")).unwrap();
    weeks.forget_remembered();
    let again = weeks.plan(week()).unwrap();
    assert_eq!((again.remade, &again.plan), (Remade::Same, &planned.plan.plan));
    let next = weeks.plan_week(week(), None).unwrap();
    assert!(why(&next.plan, "0004").ends_with("There at 1 of 3 sessions: not yet taught, rather than not learnt."));
}

#[test]
fn a_week_that_cannot_be_planned_is_left_as_it_was() {
    let setup = SchoolSetup::parse("school.toml", "[groups]\nmin_size = 8\nmax_size = 9\n").unwrap();
    let weeks = Weeks::in_memory(setup).unwrap();
    assert_eq!(weeks.plan_at_once(Some(week()), files(QUIZ, None), 1).map(|_| ()).unwrap_err().kind, ErrorKind::NoPlan);
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::Empty);
}

#[test]
fn files_that_cannot_be_read_leave_no_records_behind() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("records.db");
    let setup = || SchoolSetup::builtin().unwrap();
    for bad in [files("no scores here", None), files(QUIZ, Some("nobody,was,there\n"))] {
        assert_eq!(Weeks::open_for(&path, setup(), &bad).unwrap_err().kind, ErrorKind::Input);
        assert!(!path.exists());
    }
    assert!(Weeks::open_for(&path, setup(), &files(QUIZ, None)).is_ok() && path.exists());
}

#[test]
fn a_week_that_no_sheet_names_must_be_named() {
    let error = weeks().plan_at_once(None, files(QUIZ, None), 1).unwrap_err();
    assert_eq!((error.kind, error.code), (ErrorKind::Input, "week-not-known"));
}
