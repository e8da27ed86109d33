//! Claims about typed results that hold over several jobs: typed, typed again, emptied, beside sheets and plans, forgotten.
//! On the small quiz, whose six children sit in two groups of three; answers are each ticket's own key.

use super::super::small_quiz::{QUIZ, file, week};
use super::super::{Keeping, SchoolSetup, Stage, Taken};
use super::*;
use sheaf_core::scores::ItemKind;

fn planned() -> Weeks {
    let setup = SchoolSetup::parse("school.toml", "[groups]\ninclude = \"all\"\nmin_size = 2\nmax_size = 3\n");
    let weeks = Weeks::in_memory(setup.unwrap()).unwrap();
    weeks.take_in(week(), vec![file("quiz.csv", QUIZ)], None, Keeping::Keep).unwrap();
    weeks.plan_week(week(), None).unwrap();
    weeks
}

/// The key of each item of a form as a person would type it.
fn key_of(weeks: &Weeks, form_code: &str) -> Vec<String> {
    let plan = weeks.plan(week()).unwrap();
    let ticket = ticket_of(&plan.plan, form_code).unwrap();
    let typed = |item: &sheaf_core::tickets::TicketItem| match item.kind {
        ItemKind::Match => item.points.to_string(),
        ItemKind::Numeric => item.key[0].clone(),
        _ => item.key.concat(),
    };
    ticket.items.iter().map(typed).collect()
}

/// A row of right answers for a child of the first group.
fn right(weeks: &Weeks, child: usize) -> TypedRow {
    let (groups, _) = weeks.results_to_type(week()).unwrap();
    let child = &groups[0].children[child];
    let form_code = child.forms[0].form_code.clone();
    TypedRow { student: child.id.to_string(), entries: key_of(weeks, &form_code), form_code, is_away: false }
}

fn keep(weeks: &Weeks, rows: Vec<TypedRow>) -> KeptResults {
    let tag = weeks.plan(week()).unwrap().tag.clone();
    weeks.type_results(week(), &TypedResults { tag, rows }).unwrap()
}

fn first_group(weeks: &Weeks) -> Vec<ChildToType> {
    weeks.results_to_type(week()).unwrap().0.remove(0).children
}

fn standings(weeks: &Weeks) -> Vec<ResultStanding> {
    first_group(weeks).iter().map(|c| c.standing).collect()
}

#[test]
fn what_was_typed_stands_in_the_fields_and_is_booked_for_the_next_week() {
    let weeks = planned();
    let mut row = right(&weeks, 0);
    row.entries[1].clear();
    let away = TypedRow { is_away: true, entries: Vec::new(), ..right(&weeks, 1) };
    assert_eq!(keep(&weeks, vec![row.clone(), away]), KeptResults { n_kept: 2, faults: Vec::new() });
    assert_eq!(standings(&weeks), [ResultStanding::In, ResultStanding::Away, ResultStanding::Open]);
    // Nobody has answered the second item yet: it was not given.
    assert_eq!(first_group(&weeks)[0].entries, row.entries);
    let uploads = weeks.uploads(week().next()).unwrap();
    assert_eq!((uploads.len(), uploads[0].file_names.as_slice()), (1, &[TYPED_FILE.to_owned()][..]));
    let table = weeks.look_over(uploads[0].id).unwrap().reading.table;
    let at = table.student_index(&StudentId::parse(&row.student).unwrap()).unwrap();
    let points: f64 = (0..table.n_items()).filter_map(|i| table.mark(at, i).points).sum();
    let plan = weeks.plan(week()).unwrap();
    let items = &ticket_of(&plan.plan, &row.form_code).unwrap().items;
    let all: f64 = items.iter().map(|i| i.points).sum();
    assert!((points - (all - items[1].points)).abs() < 1e-9, "{points} of {all}");
    assert_eq!(weeks.make_ups(week()).unwrap()[0].missing.len(), 2, "absent and open are still to take it");

    keep(&weeks, vec![right(&weeks, 2)]);
    assert_eq!(first_group(&weeks)[0].entries, row.entries, "left out stays left out beside another child's answer");
    assert_eq!(standings(&weeks), [ResultStanding::In, ResultStanding::Away, ResultStanding::In]);
}

#[test]
fn only_absent_children_are_kept_too() {
    let weeks = planned();
    let row = TypedRow { entries: vec!["-".into()], ..right(&weeks, 0) };
    assert_eq!(keep(&weeks, vec![row]).n_kept, 1);
    assert_eq!(standings(&weeks), [ResultStanding::Away, ResultStanding::Open, ResultStanding::Open]);
}

#[test]
fn a_row_with_a_fault_stays_as_it_was() {
    let weeks = planned();
    let before = right(&weeks, 0);
    keep(&weeks, vec![before.clone()]);
    let mut wrong = before.clone();
    wrong.entries[0] = "Z".into();
    let both = TypedRow { is_away: true, ..right(&weeks, 2) };
    let kept = keep(&weeks, vec![wrong, right(&weeks, 1), both]);
    assert_eq!((kept.n_kept, kept.refused().len()), (1, 2));
    assert_eq!((kept.faults[0].number, kept.faults[1].number), (Some(1), None));
    assert_eq!(first_group(&weeks)[0].entries, before.entries);
    assert_eq!(standings(&weeks), [ResultStanding::In, ResultStanding::In, ResultStanding::Open]);
}

#[test]
fn what_the_reader_leaves_out_is_told() {
    let weeks = planned();
    let (groups, plan) = (weeks.results_to_type(week()).unwrap().0, weeks.plan(week()).unwrap());
    let number_on = |form: &FormToType| {
        let items = &ticket_of(&plan.plan, &form.form_code).unwrap().items;
        items.iter().position(|i| i.kind == ItemKind::Numeric)
    };
    let children = groups.iter().flat_map(|g| &g.children);
    let forms = children.flat_map(|c| c.forms.iter().map(move |form| (c, form)));
    let (child, form, at) = forms.filter_map(|(c, form)| Some((c, form, number_on(form)?))).next().unwrap();
    let row = TypedRow {
        student: child.id.to_string(),
        entries: key_of(&weeks, &form.form_code),
        form_code: form.form_code.clone(),
        is_away: false,
    };
    let mut dated = row;
    dated.entries[at] = "4-Mar".into();
    let other = (0..3).map(|at| right(&weeks, at)).find(|r| r.student != dated.student).unwrap();
    let kept = keep(&weeks, vec![dated.clone(), other]);
    assert_eq!((kept.n_kept, kept.faults.len(), kept.faults[0].number), (1, 1, Some(at + 1)));
    let all = weeks.results_to_type(week()).unwrap().0;
    let in_or_open = |id: &str| all.iter().flat_map(|g| &g.children).find(|c| c.id.as_str() == id).unwrap().standing;
    assert_eq!(in_or_open(&dated.student), ResultStanding::Open);
}

#[test]
fn the_same_rows_again_change_nothing() {
    let weeks = planned();
    let rows = || vec![right(&weeks, 0), right(&weeks, 1)];
    keep(&weeks, rows());
    let upload = || weeks.store.uploads_of(week().next().monday()).unwrap();
    let before = upload();
    keep(&weeks, rows());
    assert_eq!(upload(), before);
}

#[test]
fn an_emptied_row_is_open_again_and_the_last_one_takes_the_upload_along() {
    let weeks = planned();
    keep(&weeks, vec![right(&weeks, 0), right(&weeks, 1)]);
    let empty = |child| TypedRow { entries: Vec::new(), ..right(&weeks, child) };
    keep(&weeks, vec![empty(0)]);
    assert_eq!(standings(&weeks), [ResultStanding::Open, ResultStanding::In, ResultStanding::Open]);
    keep(&weeks, vec![empty(1)]);
    assert_eq!(weeks.uploads(week().next()).unwrap(), []);
}

#[test]
fn typing_after_the_next_plan_leaves_it_behind() {
    let weeks = planned();
    let next = week().next();
    keep(&weeks, vec![right(&weeks, 0), right(&weeks, 1), right(&weeks, 2)]);
    weeks.plan_week(next, None).unwrap();
    let mut other = right(&weeks, 0);
    other.entries[0] = "w".into();
    keep(&weeks, vec![other.clone()]);
    assert_eq!(weeks.overview(next).unwrap().stage, Stage::PlanBehind);
    assert!(weeks.plan(next).is_ok(), "the plan is there");
    assert_eq!(first_group(&weeks)[0].entries, other.entries);
    keep(&weeks, vec![right(&weeks, 0)]);
    assert_eq!(first_group(&weeks)[0].entries, right(&weeks, 0).entries, "back to what the plan knows");
    weeks.plan_week(next, None).unwrap();
    let empty = (0..3).map(|child| TypedRow { entries: Vec::new(), ..right(&weeks, child) }).collect();
    let tag = weeks.plan(week()).unwrap().tag.clone();
    let error = weeks.type_results(week(), &TypedResults { tag, rows: empty }).unwrap_err();
    assert_eq!(error.code, "answer-missing");
}

#[test]
fn results_of_a_score_sheet_are_not_typed_over() {
    let weeks = planned();
    let row = right(&weeks, 0);
    let text = format!("id,form code,1,2\n{},{},right,wrong\n", row.student, row.form_code);
    let taken = weeks.take_in(week().next(), vec![file("r.csv", &text)], None, Keeping::Keep).unwrap().taken;
    assert_eq!(standings(&weeks)[0], ResultStanding::InBySheet);
    let kept = keep(&weeks, vec![row.clone()]);
    assert_eq!((kept.n_kept, kept.faults[0].number), (0, None));
    let Taken::New(id) = taken else { panic!("not new") };
    weeks.take_back(id).unwrap();
    assert_eq!(keep(&weeks, vec![row]).n_kept, 1);
}

#[test]
fn rows_on_another_plan_or_of_strangers_are_refused() {
    let weeks = planned();
    let row = right(&weeks, 0);
    let tag = weeks.plan(week()).unwrap().tag.clone();
    let stranger = TypedRow { student: "nobody".into(), ..row.clone() };
    let error = weeks.type_results(week(), &TypedResults { tag: tag.clone(), rows: vec![stranger] }).unwrap_err();
    assert_eq!(error.code, "no-such-student");
    let no_form = TypedRow { form_code: "QQQQQ-9A".into(), ..row.clone() };
    assert_eq!(keep(&weeks, vec![no_form]).faults[0].number, None);
    keep(&weeks, vec![right(&weeks, 1)]);
    weeks.plan_week(week(), Some(9)).unwrap();
    let error = weeks.type_results(week(), &TypedResults { tag, rows: vec![row] }).unwrap_err();
    assert_eq!((error.kind, error.code), (ErrorKind::Stale, "plan-changed"));
    let groups = weeks.results_to_type(week()).unwrap().0;
    let kept = |s| groups.iter().flat_map(|g| &g.children).filter(|c| c.standing == s).count();
    assert_eq!(kept(ResultStanding::OnEarlierForm) + kept(ResultStanding::In), 1, "what was typed before stays");
}

#[test]
fn a_forgotten_child_is_forgotten_here_and_the_others_stay() {
    let weeks = planned();
    keep(&weeks, vec![right(&weeks, 0), right(&weeks, 1)]);
    let (gone, stays) = (right(&weeks, 0).student, right(&weeks, 1));
    weeks.forget(&gone).unwrap();
    let known = weeks.known_results(week()).unwrap();
    assert_eq!(known.rows.iter().map(|r| r.id.to_string()).collect::<Vec<_>>(), [stays.student]);
}
