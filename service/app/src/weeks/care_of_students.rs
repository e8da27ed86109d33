//! Students over time and out of the records, on a store in a file and in memory.
//! Each test is one promise about a child: one history, whatever the id was, and nothing left after a forgetting.

use super::small_quiz::{self, file, week};
use super::*;
use sheaf_core::roster::StudentId;
use std::path::Path;

/// The small quiz with a child whose id and name stand nowhere else: an id of digits alone may stand in a hash or a time by chance.
fn quiz() -> String {
    small_quiz::QUIZ.replace("0001,Ada Ash", "s4711,Quentin Quillwright")
}

fn traces(folder: &Path, needle: &str) -> usize {
    let files = std::fs::read_dir(folder).unwrap().map(|entry| std::fs::read(entry.unwrap().path()).unwrap());
    files.map(|bytes| bytes.windows(needle.len()).filter(|w| *w == needle.as_bytes()).count()).sum()
}

/// A child in a list, a setup, two uploads, two plans, a late class and a question.
fn filled(folder: &Path) -> Weeks {
    let setup = "[groups]\nkeep_apart = [[\"s4711\", \"0006\"]]\n";
    let weeks = Weeks::open(&folder.join("records.db"), SchoolSetup::parse("school.toml", setup).unwrap()).unwrap();
    let list = "id,name,grade,homeroom,supports\ns4711,Quentin Quillwright,5,5P,read aloud\n0002,Bo Birch,5,5P,\n";
    weeks.put_students(&file("students.csv", list)).unwrap();
    let noted = "id,name,Mon\ns4711,Quentin Quillwright,present\n0002,Bo Birch,absent\n";
    weeks.put_attendance(week(), &file("attendance.csv", noted)).unwrap();
    weeks.take_in(week(), vec![file("Quentin Quillwright and others.csv", &quiz())], None, Keeping::Keep).unwrap();
    weeks.plan_week(week(), None).unwrap();
    let twice = format!("{}s4711,Quentin Quillwright,5P,A,A,A,D,A,B\n", quiz()).replace("Q1,Q2", "W1,W2");
    weeks.take_in(week(), vec![file("second.csv", &twice)], None, Keeping::Keep).unwrap();
    weeks.plan_week(week(), None).unwrap();
    weeks
}

#[test]
fn a_forgotten_child_leaves_no_byte_in_the_file() {
    let folder = tempfile::tempdir().unwrap();
    let weeks = filled(folder.path());
    let plan = weeks.plan(week()).unwrap();
    let to = plan.plan.groups.iter().find(|g| g.members.iter().any(|&m| plan.plan.students[m].id.as_str() != "s4711"));
    let seat = Decision::Seat {
        student: "0006".to_owned(),
        to: to.unwrap().id.clone(),
        reason: "away from Quentin Quillwright".to_owned(),
        hold: true,
    };
    weeks.overrule(week(), &plan.tag, seat).unwrap();
    assert!(weeks.movement(None, None).is_ok(), "facts of movement are kept from here on");
    assert!(traces(folder.path(), "Quentin Quillwright") > 4 && traces(folder.path(), "s4711") > 4);
    let forgotten = weeks.forget("s4711").unwrap();
    assert_eq!((forgotten.n_uploads, forgotten.n_originals, forgotten.n_plans), (2, 2, 2));
    assert!(forgotten.is_in_setup);
    for needle in ["Quentin", "Quillwright", "s4711"] {
        assert_eq!(traces(folder.path(), needle), 0, "{needle}");
    }
    assert_eq!(weeks.students().unwrap().len(), 1);
    let left = weeks.movement(None, None).unwrap().students;
    assert!(!left.is_empty() && left.iter().all(|s| s.student.id.as_str() != "s4711"));
    assert_eq!(weeks.forget("s4711").unwrap_err().code, "no-such-student");
}

#[test]
fn a_child_who_was_out_for_a_day_is_forgotten_too() {
    let folder = tempfile::tempdir().unwrap();
    let timetable = "[groups]\nmin_size = 2\nmax_size = 6\n[[block]]\nid = \"mon-1\"\nday = \"Mon\"\n\
        start = \"09:00\"\nend = \"09:30\"\n[[staff]]\nname = \"TA\"\nblocks = [\"mon-1\"]\nleads = true\n";
    let setup = SchoolSetup::parse("school.toml", timetable).unwrap();
    let weeks = Weeks::open(&folder.path().join("records.db"), setup).unwrap();
    let quiz = small_quiz::QUIZ.replace("0004,Di Dogwood", "s4712,Quentin Quillwright");
    weeks.take_in(week(), vec![file("quiz.csv", &quiz)], None, Keeping::Keep).unwrap();
    let made = weeks.plan_week(week(), None).unwrap();
    assert!(made.plan.rotation.iter().any(|s| s.expected.contains(&"s4712".to_owned())), "{:?}", made.plan.rotation);
    weeks.repair(week(), &["s4712@mon-1".to_owned()], "Quentin is at the dentist").unwrap();
    assert!(traces(folder.path(), "s4712@") > 0);
    weeks.forget("s4712").unwrap();
    for needle in ["Quentin", "s4712"] {
        assert_eq!(traces(folder.path(), needle), 0, "{needle}");
    }
    assert!(weeks.plan(week()).is_ok());
}

#[test]
fn the_others_keep_their_records() {
    let folder = tempfile::tempdir().unwrap();
    let weeks = filled(folder.path());
    let groups = |weeks: &Weeks| -> serde_json::Value {
        serde_json::from_str::<serde_json::Value>(&weeks.published_plan(week()).unwrap().0).unwrap()["groups"].clone()
    };
    let before = groups(&weeks);
    weeks.forget("s4711").unwrap();
    let after = groups(&weeks);
    for (old, new) in before.as_array().unwrap().iter().zip(after.as_array().unwrap()) {
        let others: Vec<_> = old["members"].as_array().unwrap().iter().filter(|m| *m != "s4711").cloned().collect();
        assert_eq!(new["members"].as_array().unwrap(), &others);
    }
    let made = weeks.plan_week(week(), None).unwrap();
    assert_eq!(made.plan.students.len(), 5);
    assert_eq!(weeks.plan(week()).unwrap().plan, made.plan);
}

#[test]
fn a_record_holds_what_was_read_and_planned() {
    let folder = tempfile::tempdir().unwrap();
    let weeks = filled(folder.path());
    let record = weeks.student_record("s4711").unwrap();
    assert_eq!(
        (record["name"].as_str(), record["supports"][0].as_str()),
        (Some("Quentin Quillwright"), Some("read aloud"))
    );
    let first = &record["weeks"][0];
    assert_eq!((first["week"].as_str(), first["scores"].as_array().unwrap().len()), (Some("2026-02-02"), 12));
    assert_eq!(first["plan"]["id"], "s4711");
    assert_eq!(weeks.student_record("9999").unwrap_err().code, "no-such-student");
}

#[test]
fn one_child_of_two_ids_has_one_history() {
    let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
    let list = |id: &str, class: &str| {
        file("s.csv", &format!("id,name,grade,homeroom\n{id},Bo Birch,,{class}\n0003,Cy Cedar,,5P\n"))
    };
    weeks.put_students(&list("0002", "5P")).unwrap();
    weeks.take_in(week(), vec![file("q.csv", &quiz())], None, Keeping::Keep).unwrap();
    weeks.plan_week(week(), None).unwrap();

    let findings = weeks.put_students(&list("7002", "5Q")).unwrap();
    assert_eq!(findings.iter().filter(|f| f.code == "same-child-asked").count(), 1);
    let pair = (StudentId::parse("0002").unwrap(), StudentId::parse("7002").unwrap());
    assert_eq!(weeks.same_child_questions().unwrap(), [pair]);
    let ids = |weeks: &Weeks| {
        let students = weeks.movement(None, None).unwrap().students;
        students.into_iter().map(|s| s.student.id.to_string()).collect::<Vec<_>>()
    };
    assert!(ids(&weeks).contains(&"0002".to_owned()), "nothing is assumed before an answer");

    weeks.answer_same_child("0002", "7002", SameChild::Same).unwrap();
    assert_eq!(weeks.answer_same_child("0002", "7002", SameChild::Different).unwrap_err().code, "question-not-open");
    let next = quiz().replace("0002,", "7002,");
    weeks.take_in(week().next(), vec![file("q.csv", &next)], None, Keeping::Keep).unwrap();
    weeks.plan_week(week().next(), None).unwrap();
    let ids = ids(&weeks);
    assert!(ids.contains(&"7002".to_owned()) && !ids.contains(&"0002".to_owned()), "{ids:?}");
    assert_eq!(weeks.student_record("0002").unwrap()["weeks"].as_array().unwrap().len(), 2);
}

#[test]
fn a_child_who_changes_class_keeps_the_history() {
    let weeks = Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap();
    weeks.take_in(week(), vec![file("q.csv", &quiz())], None, Keeping::Keep).unwrap();
    weeks.plan_week(week(), None).unwrap();
    let moved = quiz().replace("0002,Bo Birch,5P", "0002,Bo Birch,5Q").replace("Q1,Q2", "W1,W2");
    weeks.take_in(week().next(), vec![file("q.csv", &moved)], None, Keeping::Keep).unwrap();
    weeks.plan_week(week().next(), None).unwrap();
    let back = weeks.movement(None, None).unwrap();
    let moved: Vec<_> = back.students.iter().filter(|s| s.student.id.as_str() == "0002").collect();
    assert_eq!((moved.len(), moved[0].student.homeroom.as_str()), (1, "5Q"));
    assert!(moved[0].weeks.iter().all(Option::is_some));
}
