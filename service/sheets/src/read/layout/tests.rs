//! Layouts of small sheets, written as text, and what is found in them.
//! Rows and columns in the assertions count from 0, as the code does; remarks are compared by code and place.

use super::*;
use crate::read::asked::ColumnUse;

fn rows(text: &str) -> Vec<KeptRow> {
    let mut rows = Vec::new();
    crate::read::text::for_each_row(text, &mut |n, cells| {
        rows.push((n, cells.iter().map(|(c, v)| (*c, v.clone().into_owned())).collect()));
    })
    .unwrap();
    rows
}

fn found(text: &str) -> Found {
    find_layout(&rows(text), Said::choices(&[]))
}

fn wide_with(text: &str, choices: &[SheetChoice]) -> (Wide, Vec<&'static str>) {
    let found = find_layout(&rows(text), Said::choices(choices));
    let codes = found.remarks.iter().map(|r| r.code).collect();
    match found.verdict {
        Verdict::Read(Layout::Wide(w)) => (*w, codes),
        other => panic!("{other:?}"),
    }
}

fn wide(text: &str) -> (Wide, Vec<&'static str>) {
    wide_with(text, &[])
}

fn labels(wide: &Wide) -> Vec<&str> {
    wide.items.iter().map(|(_, l)| l.as_str()).collect()
}

#[test]
fn labels_above_and_below_the_header_are_found() {
    let above = wide(",,skill,4.NF.A.1,4.NF.A.2\n,,key,A,B\nstudent_id,student,class,Q1,Q2\n1,Reko,5P,A,A\n");
    let below = wide("StudentID,Name,Homeroom,Q1,Q2\n,,Key,A,B\n,,Skill,4.NF.A.1,4.NF.A.2\n1,Reko,5P,A,A\n");
    for (w, _) in [above, below] {
        assert_eq!(labels(&w), ["Q1", "Q2"]);
        assert_eq!(w.facts[&Role::Key].texts.values().collect::<Vec<_>>(), ["A", "B"]);
        assert_eq!(w.facts[&Role::Skill].texts.len(), 2);
    }
}

#[test]
fn a_title_is_not_a_header() {
    let (w, _) = wide("Grade 5 check,,\nweek of,2026-02-02,\nid,name,Q1,total\n1,Reko,A,1\n");
    assert_eq!((w.columns.header_row, w.items.len(), w.totals.len()), (2, 1, 1));
}

#[test]
fn other_layouts_are_told_apart() {
    let is = |text: &str, want: fn(&Layout) -> bool| matches!(found(text).verdict, Verdict::Read(l) if want(&l));
    assert!(is("item,skill,key\nQ1,A,B\n", |l| matches!(l, Layout::Items(_))));
    assert!(is("item,skill,key,A,B,C,D\nQ1,4.NF.A.1,B,x,,y,z\nQ2,4.NF.A.1,B,x,,y,z\n", |l| matches!(
        l,
        Layout::Items(_)
    )));
    assert!(is("student id,item,answer\n1,Q1,B\n", |l| matches!(l, Layout::Long(_))));
    assert!(is("id,name,grade\n1,Reko,5\n", |l| matches!(l, Layout::Students(_))));
    assert_eq!(found("a,b\n1,2\n").verdict, Verdict::LeftOut(LeftOutReason::NoHeadings));
}

#[test]
fn a_choice_comes_before_what_is_judged() {
    let text = "id,name,Q1,Effort,Q2\n1,Reko,1,2,0\n2,Bo,0,1,1\n";
    let key = found(text).key.unwrap();
    let mut choice = SheetChoice::open(key);
    choice.uses = BTreeMap::from([("Effort".to_owned(), ColumnUse::LeftOut), ("name".to_owned(), ColumnUse::Homeroom)]);
    let (w, _) = wide_with(text, &[choice.clone()]);
    assert_eq!(labels(&w), ["Q1", "Q2"]);
    assert_eq!((w.columns.column(Role::Homeroom), w.columns.column(Role::Name)), (Some(1), None));
    choice.standing = Standing::LeftOut;
    assert_eq!(find_layout(&rows(text), Said::choices(&[choice])).verdict, Verdict::LeftOut(LeftOutReason::Chosen));
}

#[test]
fn a_chosen_header_row_is_taken() {
    let text = "id,name,Q1,Q2\nroom,id,7,8\n1,Reko,1,0\n";
    let choice = SheetChoice { header_row: Some(2), ..SheetChoice::open(found(text).key.unwrap()) };
    let (w, _) = wide_with(text, &[choice]);
    assert_eq!((w.columns.header_row, labels(&w)), (1, vec!["7", "8"]));
}

#[test]
fn next_week_has_the_same_key() {
    let key = |text: &str| found(text).key.unwrap();
    let week1 = key("Quiz,2026-02-02\nid,name,Q1,Q2,Week 1 total\n1,Reko,1,0,1\n");
    assert_eq!(
        week1,
        key("Quiz,2026-02-09\nextra title\nID,Name,Q1,Q2,Q3,Week 2 total\n1,Reko,1,0,1,2\n7,Bo,1,1,1,3\n")
    );
    assert_eq!(week1.0.len(), 16);
}

#[test]
fn another_layout_has_another_key() {
    let key = |text: &str| found(text).key.unwrap();
    assert_ne!(key("id,name,Q1\n1,Reko,1\n"), key("id,name,class,Q1\n1,Reko,5P,1\n"));
}

#[test]
fn a_row_number_is_no_id_beside_an_id() {
    let (w, _) = wide("No.,Student ID,Name,Q1\n1,0417,Reko,1\n");
    assert_eq!(w.columns.column(Role::Id), Some(1));
    let (alone, _) = wide("No.,Name,Q1\n1,Reko,1\n");
    assert_eq!(alone.columns.column(Role::Id), Some(0));
}

#[test]
fn headings_without_a_word_for_students_are_found() {
    let (w, codes) = wide("Kiddos,Q1,Q2\nReko V.,1,0\nBo L.,0,1\n");
    assert_eq!((w.columns.column(Role::Name), codes), (Some(0), vec!["student-column-guessed"]));
}

#[test]
fn a_blank_heading_over_names_is_read_as_name() {
    let (w, codes) = wide(",Q1,Q2\nReko V.,1,0\nBo L.,0,1\n");
    assert_eq!((w.columns.column(Role::Name), labels(&w)), (Some(0), vec!["Q1", "Q2"]));
    assert_eq!(codes, ["student-column-guessed"]);
}

#[test]
fn a_column_of_remarks_is_no_item() {
    let (w, codes) = wide("id,name,Q1,Behaviour\n1,Reko,1,sat still\n2,Bo,0,talked\n");
    assert_eq!((labels(&w), codes), (vec!["Q1"], vec!["column-not-marks"]));
}

#[test]
fn a_score_beside_items_is_a_total() {
    let (w, _) = wide("id,name,Q1,Q2,Score\n1,Reko,1,1,2\n");
    assert_eq!((labels(&w), w.totals.len()), (vec!["Q1", "Q2"], 1));
    assert_eq!(labels(&wide("id,name,Score\n1,Reko,2\n").0), ["Score"]);
}

#[test]
fn units_are_joined_where_numbers_repeat() {
    let (w, codes) = wide(",,Unit 3,,Unit 4,\nid,name,Q1,Q2,Q1,Q2\n1,Reko,1,0,1,1\n");
    assert_eq!(labels(&w), ["Unit 3 > Q1", "Unit 3 > Q2", "Unit 4 > Q1", "Unit 4 > Q2"]);
    assert_eq!(codes, ["headings-joined"]);
}

#[test]
fn a_title_over_clear_labels_stays_out_of_them() {
    let (w, codes) = wide(",,Equal shares,,Comparing,\nid,name,Q1,Q2,Q3,Q4\n1,Reko,1,0,1,1\n");
    assert_eq!((labels(&w), codes), (vec!["Q1", "Q2", "Q3", "Q4"], vec![]));
}

#[test]
fn questions_may_stand_under_the_header() {
    let (w, _) = wide("id,name,Unit 3,,Unit 4,\n,,1,2,1,2\n7,Reko,1,0,1,1\n");
    assert_eq!(labels(&w), ["Unit 3 > 1", "Unit 3 > 2", "Unit 4 > 1", "Unit 4 > 2"]);
    assert!(w.other_rows.contains(&1));
}

#[test]
fn an_unlabelled_row_of_letters_is_a_key_with_a_warning() {
    let (w, codes) = wide(",,B,C\nid,name,Q1,Q2\n1,Reko,B,A\n");
    assert_eq!((w.facts[&Role::Key].texts.len(), codes), (2, vec!["row-read-as-key"]));
    let (points, codes) = wide("id,name,Q1,Q2\n,,2,3\n1,Reko,2,1\n");
    assert_eq!((points.facts[&Role::Points].texts.len(), codes), (2, vec!["row-read-as-points"]));
    let (none, _) = wide("id,name,Q1,Q2\n,,2,3\n1,Reko,4,1\n");
    assert!(none.facts.is_empty());
}

#[test]
fn a_row_of_highest_marks_below_is_no_maximum() {
    let (w, _) = wide("id,name,Q1,Q2\n1,Reko,1,0\n2,Bo,0,1\nAverage,,.5,.5\nMax,,1,1\nMin,,0,0\n");
    assert!(w.facts.is_empty());
    let (w, _) = wide("id,name,Q1,Q2\n1,Reko,1,0\n,Out of,1,2\n");
    assert_eq!(w.facts[&Role::Points].texts.len(), 2);
}

#[test]
fn two_keys_that_differ_are_no_key() {
    let (w, codes) = wide(",key,A,B\n,key,A,C\nid,name,Q1,Q2\n1,Ann,A,B\n");
    assert_eq!(w.facts[&Role::Key].texts.values().collect::<Vec<_>>(), ["A"]);
    assert_eq!(codes, ["keys-differ"]);
}

#[test]
fn a_column_of_one_number_out_of_is_the_maximum() {
    let (w, codes) = wide("id,name,Score,Out of\n1,Ann,7,10\n2,Bo,4,10\n");
    assert_eq!((labels(&w), codes), (vec!["Score"], vec!["points-column-used"]));
    assert_eq!(w.facts[&Role::Points].texts[&2], "10");
    assert_eq!(labels(&wide("id,name,Score,Out of\n1,Ann,7,10\n2,Bo,4,8\n").0).len(), 2);
}

#[test]
fn a_child_called_max_is_no_row_of_facts() {
    for text in ["id,name,Q1,Q2\n1,Ann,1,0\n2,Max,1,1\n", "name,class,Q1,Q2\nMax,5P,1,1\nAnn,5P,1,0\n"] {
        assert!(wide(text).0.facts.is_empty(), "{text}");
    }
    assert_eq!(wide("id,name,Q1,Q2\n,Max,2,2\n1,Ann,1,0\n").0.facts.len(), 1);
}

#[test]
fn a_clear_sheet_with_students_across_is_turned() {
    let f = found("Name,Reko,Bo,Ana\nid,0417,0418,0419\nQ1,1,0,1\nQ2,0,1,1\n");
    assert_eq!(f.verdict, Verdict::Turn);
    assert_eq!((f.remarks[0].code, f.remarks[0].severity), ("students-across", Severity::Warning));
}

#[test]
fn a_doubtful_one_is_offered_and_not_read() {
    let f = found("Question,Reko,Bo,Ana\n1,1,0,1\n2,0,1,1\n");
    assert_eq!(f.verdict, Verdict::LeftOut(LeftOutReason::PerhapsAcross));
    assert_eq!((f.remarks[0].code, f.remarks[0].severity), ("students-perhaps-across", Severity::Error));
    let text = "Question,Reko,Bo,Ana\n1,1,0,1\n2,0,1,1\n";
    let choice = SheetChoice { orientation: Some(Orientation::StudentsAcross), ..SheetChoice::open(f.key.unwrap()) };
    assert_eq!(find_layout(&rows(text), Said::choices(&[choice])).verdict, Verdict::Turn);
}

#[test]
fn classes_in_rows_are_not_turned() {
    for text in
        ["id,Fractions,Decimals\n1,3,4\n2,1,2\n", "name,Q1,Q2\nReko,1,0\nBo,0,1\n", "id,name,Q1\n1,Q Lee,1\n2,P Bo,0\n"]
    {
        assert!(matches!(found(text).verdict, Verdict::Read(Layout::Wide(_))), "{text}");
    }
}
