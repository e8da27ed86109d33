//! Whole sheets, read: what becomes of students, marks and findings.
//! Sheets are written as text here, so that a reader of a test sees each row and its address.

use super::*;
use sheaf_core::scores::MarkState;

fn read_text(files: &[(&str, &str)]) -> Reading {
    let sources: Vec<SourceFile<'_>> =
        files.iter().map(|(name, text)| SourceFile { name, bytes: text.as_bytes() }).collect();
    read_score_sheets(&ReadRequest::new(&sources, &SkillGraph::default())).unwrap()
}

fn codes(reading: &Reading) -> Vec<&str> {
    reading.findings.iter().map(|f| f.code.as_str()).collect()
}

fn points(reading: &Reading, id: &str) -> Vec<Option<f64>> {
    let s = reading.table.student_index(&StudentId::parse(id).unwrap()).unwrap();
    (0..reading.table.n_items()).map(|i| reading.table.mark(s, i).points).collect()
}

#[test]
fn rows_that_are_no_students_are_left_out() {
    let reading = read_text(&[(
        "f.csv",
        "id,name,Q1,Q2,total\n1,Ann,1,0,1\nPeriod 2\nid,name,Q1,Q2,total\n2,Bo,1,1,2\nClass mean,,1,.5,1.5\n",
    )]);
    assert_eq!(reading.table.n_students(), 2);
    assert_eq!(reading.table.n_items(), 2);
    let found = codes(&reading);
    for code in ["total-left-out", "section-row-skipped", "header-repeated", "summary-row-left-out"] {
        assert!(found.contains(&code), "{code} is not in {found:?}");
    }
}

#[test]
fn a_blank_row_is_absent_and_a_blank_cell_omitted() {
    let reading = read_text(&[("f.csv", ",key,A,B\nid,name,Q1,Q2\n1,Ann,A,\n2,Bo,,\n3,Cy,abs,abs\n")]);
    let state = |s: usize, i: usize| reading.table.mark(s, i).state;
    assert_eq!((state(0, 0), state(0, 1)), (MarkState::Scored, MarkState::Omitted));
    assert_eq!((state(1, 0), state(1, 1)), (MarkState::NotTaken, MarkState::NotTaken));
    assert_eq!(state(2, 0), MarkState::NotTaken);
}

#[test]
fn a_student_seen_twice_keeps_the_first_row() {
    let reading = read_text(&[("f.csv", "id,name,Q1\n1,Ann,1\n1,Ann,0\n")]);
    assert_eq!(points(&reading, "1"), [Some(1.0)]);
    let finding = reading.findings.iter().find(|f| f.code == "student-twice").unwrap();
    assert_eq!(finding.cell, "C3");
}

#[test]
fn two_checks_with_the_same_labels_stay_apart() {
    let reading = read_text(&[
        ("quiz.csv", ",key,A,B\nid,name,Q1,Q2\n1,Ann,A,A\n"),
        ("ticket.csv", ",key,C,D\nid,name,Q1,Q2\n1,Ann,C,D\n"),
    ]);
    let labels: Vec<&str> = reading.table.items().iter().map(|i| i.label.as_str()).collect();
    assert_eq!(labels, ["Q1", "Q2", "Q1 (ticket)", "Q2 (ticket)"]);
    assert_eq!(points(&reading, "1"), [Some(1.0), Some(0.0), Some(1.0), Some(1.0)]);
}

#[test]
fn two_classes_of_one_check_become_one() {
    let reading = read_text(&[("5p.csv", ",key,A\nid,name,Q1\n1,Ann,A\n"), ("5q.csv", ",key,A\nid,name,Q1\n2,Bo,B\n")]);
    assert_eq!((reading.table.n_items(), reading.table.n_students()), (1, 2));
    assert_eq!(points(&reading, "2"), [Some(0.0)]);
}

#[test]
fn item_facts_come_from_a_file_of_their_own() {
    let sheet = SourceFile { name: "f.csv", bytes: b"id,name,Q1,Q2\n1,Ann,B,C\n" };
    let items = SourceFile { name: "i.csv", bytes: b"item,skill,key,A,B\nQ1,5.NF.5a; X,A,,bigger\n2,Y,C,,\n" };
    let graph = SkillGraph::builtin().unwrap();
    let reading = read_score_sheets(&ReadRequest { items: Some(items), ..ReadRequest::new(&[sheet], &graph) }).unwrap();
    let first = &reading.table.items()[0];
    assert_eq!(first.skills.iter().map(|s| s.as_str()).collect::<Vec<_>>(), ["5.NF.B.5a", "X"]);
    assert_eq!(first.meanings[0].patterns, ["bigger"]);
    assert_eq!(points(&reading, "1"), [Some(0.0), Some(1.0)]);
}

#[test]
fn long_sheets_read_like_wide_ones() {
    let reading = read_text(&[("f.csv", "student id,name,item,points\n1,Ann,Q1,1\n1,Ann,Q2,0\n2,Bo,Q1,1\n")]);
    assert_eq!(points(&reading, "1"), [Some(1.0), Some(0.0)]);
    assert_eq!(points(&reading, "2"), [Some(1.0), None]);
}

#[test]
fn the_one_date_of_a_sheet_is_its_week() {
    let reading = read_text(&[("f.csv", "Grade 5 check,2026-02-04\nid,name,Q1\n1,Ann,1\n")]);
    assert_eq!(reading.week.unwrap().to_string(), "2026-02-02");
}

#[test]
fn unrelated_files_are_refused_with_a_sentence() {
    let source = SourceFile { name: "list.csv", bytes: b"milk,2\nbread,1\n" };
    let error = read_score_sheets(&ReadRequest::new(&[source], &SkillGraph::default())).unwrap_err();
    assert_eq!(error.code, "not-a-score-sheet");
    assert!(error.message.starts_with("list.csv is not a score sheet"));
}

mod any_bytes {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn give_a_reading_or_one_sentence(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
            let source = SourceFile { name: "f", bytes: &bytes };
            match read_score_sheets(&ReadRequest::new(&[source], &SkillGraph::default())) {
                Ok(reading) => prop_assert!(reading.table.n_students() > 0),
                Err(error) => prop_assert!(error.message.starts_with("f ")),
            }
        }
    }
}
