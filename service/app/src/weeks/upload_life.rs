//! The life of an upload, from waiting to counted, replaced and taken back, on a store in memory.
//!
//! Each test is one promise to the person at the page: nothing counts before a yes, nothing is lost by one.

use super::small_quiz::{QUIZ, file, week, weeks};
use super::*;
use sheaf_core::scores::MarkState;

const LATE: &str = "\
,,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1
,,key,A,B,C,D,A,B
student_id,student,class,Q1,Q2,Q3,Q4,Q5,Q6
0011,Gil Gum,5Q,B,A,A,D,A,B
0012,Hal Hazel,5Q,B,A,B,D,A,B
0013,Ina Ivy,5Q,C,A,A,A,B,A
0014,Jo Juniper,5Q,A,B,C,A,B,A
";

fn give(weeks: &Weeks, week: Week, text: &str, keeping: Keeping) -> i64 {
    match weeks.take_in(week, vec![file("quiz.csv", text)], None, keeping).unwrap().taken {
        Taken::New(id) | Taken::AlreadyHere(id) => id,
        Taken::LookedAt => panic!("only looked at"),
    }
}

/// All that a page or a script can see of a week.
fn seen(weeks: &Weeks) -> String {
    let plan = weeks.published_plan(week()).ok();
    format!("{:?} {:?} {plan:?}", weeks.overview(week()).unwrap(), weeks.uploads(week()).unwrap())
}

#[test]
fn what_waits_does_not_count() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    let overview = weeks.overview(week()).unwrap();
    assert_eq!((overview.stage, overview.n_uploads, overview.n_waiting), (Stage::Empty, 0, 1));
    assert_eq!(weeks.plan_week(week(), None).unwrap_err().code, "no-score-sheets");
    assert_eq!(weeks.confirm(id, None).unwrap(), week());
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::ScoresIn);
    assert!(!weeks.plan_week(week(), None).unwrap().plan.groups.is_empty());
    assert_eq!(weeks.confirm(id, None).unwrap_err().code, "upload-not-waiting");
}

#[test]
fn the_same_file_twice_changes_nothing() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    weeks.confirm(id, None).unwrap();
    weeks.plan_week(week(), None).unwrap();
    let before = seen(&weeks);
    for keeping in [Keeping::Wait, Keeping::Keep] {
        assert_eq!(give(&weeks, week(), QUIZ, keeping), id);
    }
    assert_eq!(seen(&weeks), before);
}

#[test]
fn a_corrected_file_shows_the_difference_and_replaces_on_yes() {
    let weeks = weeks();
    let first = give(&weeks, week(), QUIZ, Keeping::Keep);
    weeks.plan_week(week(), Some(7)).unwrap();
    let before = seen(&weeks);

    let corrected = QUIZ.replace("0001,Ada Ash,5P,B", "0001,Ada Ash,5P,A").replace("0006,Fi Fir,5P,A,B,C,B,B,C\n", "");
    let id = give(&weeks, week(), &corrected, Keeping::Wait);
    assert!(seen(&weeks).contains("Planned"), "nothing changes before a yes");
    let look = weeks.look_over(id).unwrap();
    let [replacement] = look.may_replace.as_slice() else { panic!("one upload may be replaced") };
    assert_eq!(replacement.id, first);
    let difference = &replacement.difference;
    assert_eq!((difference.gone.len(), difference.added.len(), difference.marks.len()), (1, 0, 1));
    assert_eq!((difference.marks[0].student.id.as_str(), difference.marks[0].item.as_str()), ("0001", "Q1"));

    weeks.confirm(id, Some(first)).unwrap();
    assert_eq!(weeks.look_over(first).unwrap().standing, Standing::ReplacedBy(id));
    assert_eq!(weeks.overview(week()).unwrap().stage, Stage::PlanBehind);
    let plan = weeks.plan_week(week(), None).unwrap();
    assert_eq!(plan.plan.students.len(), 5);

    weeks.take_back(id).unwrap();
    assert_eq!(seen(&weeks), before);
    assert_eq!(weeks.plan(week()).unwrap().remade, Remade::Same);
}

#[test]
fn a_correction_may_also_stand_beside_the_first() {
    let weeks = weeks();
    give(&weeks, week(), QUIZ, Keeping::Keep);
    let id = give(&weeks, week(), &QUIZ.replace("Ada Ash,5P,B", "Ada Ash,5P,A"), Keeping::Wait);
    weeks.confirm(id, None).unwrap();
    let plan = weeks.plan_week(week(), None).unwrap();
    assert!(plan.plan.findings.iter().any(|f| f.code == "student-twice"), "{:?}", plan.plan.findings);
}

#[test]
fn last_weeks_file_again_is_told_with_its_week() {
    let weeks = weeks();
    give(&weeks, week(), QUIZ, Keeping::Keep);
    let told = |text: &str| {
        let file = GivenFile { name: "new name.csv".into(), bytes: text.as_bytes().to_vec() };
        let taken = weeks.take_in(week().next(), vec![file], None, Keeping::LookOnly).unwrap();
        taken.reading.findings.into_iter().filter(|f| f.code == "sheet-of-another-week").collect::<Vec<_>>()
    };
    for again in [QUIZ.to_owned(), QUIZ.replace('\n', "\r\n")] {
        assert!(told(&again)[0].message.contains("2026-02-02"));
    }
    assert_eq!(told(&QUIZ.replace("Ada Ash,5P,B", "Ada Ash,5P,A")), []);
}

#[test]
fn a_week_is_planned_the_same_after_its_originals_are_gone() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Keep);
    let made = weeks.plan_week(week(), Some(3)).unwrap();
    let removed = weeks.remove_old_originals(week().monday().saturating_add(jiff::Span::new().weeks(41))).unwrap();
    assert_eq!(removed.n_originals, 1);
    weeks.forget_remembered();
    let again = weeks.plan(week()).unwrap();
    assert_eq!((again.remade, &again.plan), (Remade::Same, &made.plan));
    let look = weeks.look_over(id).unwrap();
    assert!(!look.has_originals && look.reading.sheets.is_empty());
    assert_eq!(look.reading.table.n_students(), 6);
}

#[test]
fn originals_stay_as_long_as_the_setup_says() {
    let weeks = Weeks::in_memory(SchoolSetup::parse("s", "[records]\nkeep_originals_weeks = 2").unwrap()).unwrap();
    give(&weeks, week(), QUIZ, Keeping::Keep);
    let after = |days| week().monday().saturating_add(jiff::Span::new().days(days));
    assert_eq!(weeks.remove_old_originals(after(20)).unwrap().n_originals, 0);
    assert_eq!(weeks.remove_old_originals(after(21)).unwrap().n_originals, 1);
}

#[test]
fn a_late_class_is_added_without_reshuffling_the_rest() {
    let weeks = weeks();
    give(&weeks, week(), QUIZ, Keeping::Keep);
    let before = weeks.plan_week(week(), None).unwrap();
    give(&weeks, week(), LATE, Keeping::Keep);
    let after = weeks.plan_week(week(), None).unwrap();
    assert_eq!(after.plan.students.len(), 10);
    let kept = weeks.store.plan(week().monday()).unwrap().unwrap();
    assert_ne!(kept.holds, "[]", "the groups before are part of the recipe");
    for group in &before.plan.groups {
        let ids: Vec<_> = group.members.iter().map(|&m| &before.plan.students[m].id).collect();
        let now: std::collections::BTreeSet<_> =
            after.plan.students.iter().filter(|s| ids.contains(&&s.id)).map(|s| s.group).collect();
        assert_eq!(now.len(), 1, "{ids:?} were together");
    }
    weeks.forget_remembered();
    assert_eq!(weeks.plan(week()).unwrap().remade, Remade::Same);
}

#[test]
fn a_typed_key_counts_in_place_of_the_sheets() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    let look = weeks.look_over(id).unwrap();
    let items: Vec<KnownItem> = look
        .reading
        .table
        .items()
        .iter()
        .map(|i| KnownItem {
            label: i.label.clone(),
            skills: i.skills.clone(),
            key: if i.label == "Q1" { Some("B".into()) } else { i.key.clone() },
            points: Some(i.points),
            kind: Some(i.kind),
            meanings: i.meanings.clone(),
        })
        .collect();
    let mut corrections = look.corrections.clone();
    corrections.remember(RememberedItems { layout: look.reading.sheets[0].layout.clone(), items });
    weeks.correct(id, &corrections).unwrap();
    let table = weeks.look_over(id).unwrap().reading.table;
    assert_eq!((table.mark(0, 0).state, table.mark(0, 0).points), (MarkState::Scored, Some(1.0)));
    weeks.confirm(id, None).unwrap();
    assert_eq!(weeks.correct(id, &corrections).unwrap_err().kind, ErrorKind::Conflict);
}

fn labels(reading: &Reading) -> Vec<&str> {
    reading.table.items().iter().map(|i| i.label.as_str()).collect()
}

/// The upload's corrections with Q3 left out.
fn without_q3(look: &LookOver) -> Corrections {
    let layout = look.reading.sheets[0].layout.clone();
    let mut corrections = look.corrections.clone();
    let uses = std::collections::BTreeMap::from([("Q3".to_owned(), ColumnUse::LeftOut)]);
    corrections.choose(SheetChoice { uses, ..SheetChoice::open(layout) });
    corrections
}

#[test]
fn a_corrected_column_is_read_so() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    let look = weeks.look_over(id).unwrap();
    assert_eq!(labels(&look.reading), ["Q1", "Q2", "Q3", "Q4", "Q5", "Q6"]);
    weeks.correct(id, &without_q3(&look)).unwrap();
    assert_eq!(labels(&weeks.look_over(id).unwrap().reading), ["Q1", "Q2", "Q4", "Q5", "Q6"]);
    weeks.confirm(id, None).unwrap();
    assert_eq!(labels(&weeks.look_over(id).unwrap().reading), ["Q1", "Q2", "Q4", "Q5", "Q6"]);
}

#[test]
fn the_next_file_of_a_layout_needs_no_correction() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    weeks.correct(id, &without_q3(&weeks.look_over(id).unwrap())).unwrap();
    let next = Week::parse("2026-02-09").unwrap();
    let text = QUIZ.replace("0001,Ada Ash,5P,B", "0001,Ada Ash,5P,A");
    let early = give(&weeks, next, &text, Keeping::Wait);
    assert_eq!(labels(&weeks.look_over(early).unwrap().reading).len(), 6, "nothing is kept before a yes");
    weeks.take_back(early).unwrap();
    weeks.confirm(id, None).unwrap();
    let reading = weeks.look_over(give(&weeks, next, &text, Keeping::Wait)).unwrap().reading;
    assert_eq!(labels(&reading), ["Q1", "Q2", "Q4", "Q5", "Q6"]);
    assert!(reading.findings.iter().any(|f| f.code == "layout-known"), "{:?}", reading.findings);
}

#[test]
fn a_key_typed_for_the_second_check_counts_for_that_one() {
    let weeks = weeks();
    let ticket = ",key,A,\nid,name,Q1,Q2\n0001,Ada Ash,B,C\n0002,Bo Birch,A,C\n";
    let files = vec![file("quiz.csv", QUIZ), file("ticket.csv", ticket)];
    let Taken::New(id) = weeks.take_in(week(), files, None, Keeping::Wait).unwrap().taken else { panic!("not new") };
    let look = weeks.look_over(id).unwrap();
    let sheet = &look.reading.sheets[1];
    let item = &look.reading.table.items()[sheet.places[1]];
    assert_eq!((sheet.items[1].as_str(), item.label.as_str()), ("Q2", "Q2 (ticket)"));
    let known = KnownItem {
        label: "Q2".into(),
        skills: Vec::new(),
        key: Some("C".into()),
        points: Some(1.0),
        kind: Some(item.kind),
        meanings: Vec::new(),
    };
    let mut corrections = look.corrections.clone();
    corrections.remember(RememberedItems { layout: sheet.layout.clone(), items: vec![known] });
    weeks.correct(id, &corrections).unwrap();
    let table = weeks.look_over(id).unwrap().reading.table;
    let key_of = |label: &str| table.items().iter().find(|i| i.label == label).unwrap().key.clone();
    assert_eq!((key_of("Q2"), key_of("Q2 (ticket)")), (Some("B".into()), Some("C".into())));
    let place = table.items().iter().position(|i| i.label == "Q2 (ticket)").unwrap();
    assert_eq!(table.mark(0, place).points, Some(1.0));
}

#[test]
fn what_waits_counts_when_it_is_handed_in_to_count() {
    let weeks = weeks();
    let id = give(&weeks, week(), QUIZ, Keeping::Wait);
    assert_eq!(weeks.plan_week(week(), None).unwrap_err().code, "no-score-sheets");
    assert_eq!(give(&weeks, week(), QUIZ, Keeping::Keep), id);
    assert!(weeks.plan_week(week(), None).is_ok());
}

#[test]
fn taking_back_a_replacement_in_the_middle_frees_nothing_twice() {
    let weeks = weeks();
    let version = |answer: &str| QUIZ.replace("0001,Ada Ash,5P,B", &format!("0001,Ada Ash,5P,{answer}"));
    let first = give(&weeks, week(), QUIZ, Keeping::Keep);
    let second = give(&weeks, week(), &version("A"), Keeping::Wait);
    weeks.confirm(second, Some(first)).unwrap();
    let third = give(&weeks, week(), &version("C"), Keeping::Wait);
    weeks.confirm(third, Some(second)).unwrap();
    weeks.take_back(second).unwrap();
    let counted: Vec<i64> =
        weeks.uploads(week()).unwrap().iter().filter(|u| u.standing.counts()).map(|u| u.id).collect();
    assert_eq!(counted, [third]);
    weeks.take_back(third).unwrap();
    assert!(weeks.uploads(week()).unwrap().iter().any(|u| u.id == first && u.standing.counts()));
}
