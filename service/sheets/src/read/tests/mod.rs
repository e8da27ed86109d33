//! Whole sheets, read: what becomes of students, marks and findings.
//! Sheets are written as text here, so that a reader of a test sees each row and its address.

mod any_bytes;
mod broken;
mod by_library;
mod same_responses;
mod tables;
mod written;
mod written_binary;

use super::*;
use sheaf_core::roster::{Student, StudentId};
use sheaf_core::scores::MarkState;
use sheaf_core::skills::SkillGraph;

pub fn read_text(files: &[(&str, &str)]) -> Reading {
    let sources: Vec<SourceFile<'_>> =
        files.iter().map(|(name, text)| SourceFile { name, bytes: text.as_bytes() }).collect();
    read_score_sheets(&ReadRequest::new(&sources, &SkillGraph::default())).unwrap()
}

pub fn read_known(sources: &[SourceFile<'_>], known: &[Student]) -> Reading {
    read_score_sheets(&ReadRequest { known, ..ReadRequest::new(sources, &SkillGraph::default()) }).unwrap()
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
fn each_sheet_of_several_weeks_is_of_its_own_week() {
    let quiz =
        |date: &str, answers: &str| format!("Check of {date}\n,key,A,B\nid,name,Q1,Q2\n1,Ann,{answers}\n2,Bo,A,A\n");
    let weeks = |files: &[(&str, &str)]| {
        let reading = read_text(files);
        let weeks = reading.table.assessments().iter().map(|a| a.week.map(|w| w.to_string())).collect::<Vec<_>>();
        (reading.week.map(|w| w.to_string()), weeks)
    };
    let of = |date: &str| Some(date.to_owned());
    // The very same items again, a week later, are another check.
    let (first, second) = (quiz("2026-02-04", "A,B"), quiz("2026-02-11", "A,A"));
    let both = [("a.csv", first.as_str()), ("b.csv", second.as_str())];
    assert_eq!(weeks(&both), (None, vec![of("2026-02-02"), of("2026-02-09")]));
    // Two classes of one week are one check; the file's name tells the week where the sheet does not.
    let plain = quiz("then", "A,B");
    let other = plain.replace("1,Ann", "8,Cy").replace("2,Bo", "9,Di");
    assert_eq!(
        weeks(&[("5P 2026-02-04.csv", &plain), ("5Q 2026-02-05.csv", &other)]),
        (of("2026-02-02"), vec![of("2026-02-02")])
    );
    assert_eq!(weeks(&[("a.csv", &plain)]), (None, vec![None]));
}

#[test]
fn unrelated_files_are_refused_with_a_sentence() {
    let source = SourceFile { name: "list.csv", bytes: b"milk,2\nbread,1\n" };
    let error = read_score_sheets(&ReadRequest::new(&[source], &SkillGraph::default())).unwrap_err();
    assert_eq!(error.code, "not-a-score-sheet");
    assert!(error.message.starts_with("list.csv is not a score sheet"));
}

#[test]
fn a_child_called_like_a_sum_is_a_child() {
    let reading = read_text(&[("f.csv", "id,name,Q1,Q2\n1,Ana Sum,1,0\n2,Average,1,1\n,Class Average,1,.5\n")]);
    let names: Vec<&str> = reading.table.students().iter().map(|s| s.name.as_str()).collect();
    assert_eq!(names, ["Ana Sum"]);
}

#[test]
fn a_section_fills_the_class() {
    let reading = read_text(&[("f.csv", "id,name,Q1\nPeriod 2\n1,Ann,1\nRoom 5B:\n2,Bo,0\n")]);
    let classes: Vec<&str> = reading.table.students().iter().map(|s| s.homeroom.as_str()).collect();
    assert_eq!(classes, ["Period 2", "Room 5B"]);
}

#[test]
fn a_row_that_slid_is_not_taken() {
    let reading = read_text(&[("f.csv", "id,name,class,Q1,Q2\n1,Luna, Ana,5P,1,0\n2,Bo,5P,0,1\n")]);
    assert_eq!(points(&reading, "1"), [None, None]);
    assert_eq!(reading.table.students()[0].homeroom, "");
    assert_eq!(points(&reading, "2"), [Some(0.0), Some(1.0)]);
    let finding = reading.findings.iter().find(|f| f.code == "row-slid").unwrap();
    assert_eq!((finding.cell.as_str(), finding.severity.word()), ("F2", "error"));
}

#[test]
fn a_missing_row_is_not_taken() {
    let reading = read_text(&[("f.csv", "id,item,points\n1,Q1,1\n1,Q2,0\n2,Q1,1\n3,Q1,0\n3,Q2,\n")]);
    let states: Vec<MarkState> = (0..3).map(|s| reading.table.mark(s, 1).state).collect();
    assert_eq!(states, [MarkState::Scored, MarkState::NotTaken, MarkState::Omitted]);
}

#[test]
fn a_response_seen_twice_keeps_the_first() {
    let reading = read_text(&[("f.csv", "id,item,points\n1,Q1,1\n1,Q1,0\n")]);
    assert_eq!(points(&reading, "1"), [Some(1.0)]);
    assert_eq!(reading.findings.iter().find(|f| f.code == "response-twice").unwrap().cell, "C3");
}

#[test]
fn items_of_two_assessments_in_one_long_sheet_stay_apart() {
    let reading = read_text(&[("f.csv", "id,quiz,item,points\n1,Monday,Q1,1\n1,Friday,Q1,0\n1,Friday,Q2,0\n")]);
    let labels: Vec<&str> = reading.table.items().iter().map(|i| i.label.as_str()).collect();
    assert_eq!(labels, ["Q1 (Monday)", "Q1 (Friday)", "Q2"]);
}

#[test]
fn a_file_that_cannot_be_read_does_not_block_the_others() {
    let reading = read_text(&[("list.csv", "milk,2\nbread,1\n"), ("f.csv", "id,name,Q1\n1,Ann,1\n")]);
    let finding = reading.findings.iter().find(|f| f.code == "not-a-score-sheet").unwrap();
    assert_eq!((finding.file.as_str(), finding.severity.word()), ("list.csv", "error"));
    assert_eq!(reading.table.n_students(), 1);
}

#[test]
fn a_sheet_left_out_is_named_with_its_reason() {
    let reading = read_text(&[("f.csv", "id,name,Q1\n1,Ann,1\n"), ("list.csv", "milk,2\nbread,1\n")]);
    assert_eq!(reading.left_out.len(), 1);
    assert_eq!(
        (reading.left_out[0].file.as_str(), reading.left_out[0].reason),
        ("list.csv", LeftOutReason::NoHeadings)
    );
    assert_eq!(reading.left_out[0].rows[0].cells, ["milk", "2"]);
}

#[test]
fn a_sheet_with_students_across_has_the_addresses_of_the_paper() {
    let reading =
        read_text(&[("f.csv", "Name,,Reko V.,Bo L.,Ana M.\nid,key,0417,0418,0419\nQ1,B,B,A,b\nQ2,C,C,#,A\n")]);
    assert_eq!(points(&reading, "0417"), [Some(1.0), Some(1.0)]);
    assert_eq!(points(&reading, "0418"), [Some(0.0), None]);
    let find = |code: &str| {
        reading.findings.iter().find(|f| f.code == code).unwrap_or_else(|| panic!("{:?}", codes(&reading)))
    };
    assert_eq!(find("students-across").cell, "A1");
    assert_eq!(find("mark-not-understood").cell, "D4");
    let sheet = &reading.sheets[0];
    assert_eq!((sheet.orientation, sheet.header_row, sheet.n_students), (Orientation::StudentsAcross, 1, 3));
}

#[test]
fn what_people_look_over_is_what_was_read() {
    let reading = read_text(&[("f.csv", "Quiz,2026-02-02\nid,name,class,Q1,Total\n1,Ann,5P,1,1\n2,Bo,5P,,0\n")]);
    let sheet = &reading.sheets[0];
    assert_eq!((sheet.header_row, sheet.n_students, sheet.shape), (2, 2, SheetShape::Wide));
    let uses: Vec<(&str, ColumnUse)> = sheet.columns.iter().map(|c| (c.letters.as_str(), c.column_use)).collect();
    let want = [ColumnUse::Id, ColumnUse::Name, ColumnUse::Homeroom, ColumnUse::Item, ColumnUse::Total];
    assert_eq!(uses, ["A", "B", "C", "D", "E"].into_iter().zip(want).collect::<Vec<_>>());
    assert_eq!(sheet.rows[1], ShownRow { row: 4, cells: ["2", "Bo", "5P", "", "0"].map(str::to_owned).to_vec() });
    assert_eq!(sheet.items, ["Q1"]);
}

#[test]
fn facts_typed_once_are_used_for_the_layout() {
    let week = |answers: &str| format!("id,name,Q1,Q2\n1,Ann,{answers}\n");
    let first = read_text(&[("w1.csv", &week("A,B"))]);
    let item = |label: &str, key: &str| KnownItem {
        label: label.to_owned(),
        skills: skills::skill_codes("4.NF.A.1", &SkillGraph::default()),
        key: Some(key.to_owned()),
        points: None,
        kind: None,
        meanings: Vec::new(),
    };
    let remembered =
        [RememberedItems { layout: first.sheets[0].layout.clone(), items: vec![item("Q1", "B"), item("Q2", "b")] }];
    let read = |text: &str| {
        let source = [SourceFile { name: "w2.csv", bytes: text.as_bytes() }];
        read_score_sheets(&ReadRequest { remembered: &remembered, ..ReadRequest::new(&source, &SkillGraph::default()) })
            .unwrap()
    };
    let next = read(&week("A,B"));
    assert_eq!(points(&next, "1"), [Some(0.0), Some(1.0)]);
    assert_eq!(next.table.items()[0].skills.len(), 1);
    assert!(codes(&next).contains(&"facts-remembered"));
    let longer = read("id,name,Q1,Q2,Q3\n1,Ann,A,B,C\n");
    assert_eq!(points(&longer, "1"), [None, None, None]);
}

#[test]
fn one_name_in_two_classes_is_two_children() {
    let reading = read_text(&[("f.csv", "name,class,Q1\nAna L.,5P,1\nAna L.,5Q,0\nBo M.,5P,1\n")]);
    assert_eq!(points(&reading, "Ana L. (5P)"), [Some(1.0)]);
    assert_eq!(points(&reading, "Ana L. (5Q)"), [Some(0.0)]);
    assert_eq!(points(&reading, "Bo M."), [Some(1.0)]);
}

#[test]
fn lost_zeros_come_back_where_the_name_agrees() {
    let reading = read_text(&[
        ("a.csv", ",key,A\nid,name,Q1\n00042,Luna José,A\n00043,Bo,A\n"),
        ("b.csv", ",key,B\nid,name,Q1\n42,\"José, Luna\",B\n43,Cy,B\n"),
    ]);
    assert_eq!(reading.table.n_students(), 3);
    assert_eq!(points(&reading, "00042"), [Some(1.0), Some(1.0)]);
    let found = codes(&reading);
    assert!(found.contains(&"id-zeros-restored") && found.contains(&"id-perhaps-without-zeros"), "{found:?}");
}

#[test]
fn an_id_without_zeros_beside_one_with_them_is_told_in_one_sheet() {
    let reading = read_text(&[("f.csv", "name,id,Q1\nAnn,0042,1\nBo,42,0\nCy,0043,0\n")]);
    assert_eq!(reading.table.n_students(), 3);
    let told: Vec<(&str, &str)> = reading.findings.iter().map(|f| (f.code.as_str(), f.cell.as_str())).collect();
    assert_eq!(told, [("id-perhaps-without-zeros", "B3")]);
}

#[test]
fn an_item_that_nobody_has_a_mark_for_is_not_taken() {
    let reading = read_text(&[("f.csv", "id,name,Q1,Q2\n1,Ann,1,\n2,Bo,0,\n3,Cy,,\n")]);
    let states: Vec<MarkState> = (0..3).map(|s| reading.table.mark(s, 1).state).collect();
    assert_eq!(states, [MarkState::NotTaken; 3]);
    assert_eq!(reading.table.mark(2, 0).state, MarkState::NotTaken);
}

#[test]
fn a_date_among_the_answers_is_not_the_week() {
    let reading = read_text(&[("f.csv", ",,key,A\nid,name,date of birth,Q1\n1,Ann,2016-03-04,2026-03-04\n")]);
    assert_eq!(reading.week, None);
    let reading = read_text(&[("f.csv", "id,name,Date,Q1\n1,Ann,2026-02-04,1\n2,Bo,2026-02-05,0\n")]);
    assert_eq!(reading.week.unwrap().to_string(), "2026-02-02");
}

#[test]
fn a_file_whose_name_says_another_kind_is_told() {
    let codes_of = |name: &str| codes(&read_text(&[(name, "id,name,Q1\n1,Ann,1\n")])).join(" ");
    assert_eq!(
        (codes_of("f.xlsx").as_str(), codes_of("f.csv").as_str(), codes_of("f").as_str()),
        ("file-of-another-kind", "", "")
    );
}

#[test]
fn names_alike_are_offered() {
    let reading = read_text(&[("a.csv", "name,Q1\nJosé Luna,1\n"), ("b.csv", "name,Q1\n\"LUNA, Jose\",1\n")]);
    assert_eq!(reading.table.n_students(), 2);
    assert!(codes(&reading).contains(&"name-alike"));
}

#[test]
fn a_total_that_differs_is_told() {
    let reading = read_text(&[("f.csv", "id,name,Q1,Q2,Total\n1,Ann,1,1,2\n2,Bo,1,0,2\n3,Cy,0,1,1\n")]);
    let told: Vec<&str> =
        reading.findings.iter().filter(|f| f.code == "total-differs").map(|f| f.cell.as_str()).collect();
    assert_eq!(told, ["E3"]);
}

#[test]
fn a_total_that_counts_otherwise_is_told_once() {
    let reading = read_text(&[("f.csv", "id,name,Q1,Q2,Total\n1,Ann,1,1,20\n2,Bo,1,0,10\n")]);
    assert_eq!(codes(&reading).iter().filter(|c| c.starts_with("total")).count(), 2);
    assert!(codes(&reading).contains(&"totals-count-otherwise"));
}

#[test]
fn a_row_of_keys_in_the_id_column_is_no_child() {
    let mut text = "id,name,Q1,Q2\n".to_owned();
    (0..60).for_each(|n| text.push_str(&format!("{:04},Child {n},A,B\n", n + 1)));
    text.push_str("key,,A,B\n");
    let reading = read_text(&[("f.csv", &text)]);
    assert_eq!(reading.table.n_students(), 60);
    assert!(reading.table.students().iter().all(|s| s.id.as_str() != "key"));
}

#[test]
fn a_given_items_file_leaves_the_workbooks_own_keys() {
    let mut book = rust_xlsxwriter::Workbook::new();
    let scores = book.add_worksheet().set_name("Scores").unwrap();
    for (r, row) in [["id", "name", "Q1"], ["1", "Ann", "B"], ["2", "Bo", "A"]].iter().enumerate() {
        row.iter().enumerate().for_each(|(c, text)| {
            scores.write_string(r as u32, c as u16, *text).unwrap();
        });
    }
    let items = book.add_worksheet().set_name("Items").unwrap();
    for (r, row) in [["item", "key"], ["Q1", "B"]].iter().enumerate() {
        row.iter().enumerate().for_each(|(c, text)| {
            items.write_string(r as u32, c as u16, *text).unwrap();
        });
    }
    let bytes = book.save_to_buffer().unwrap();
    let scores = [SourceFile { name: "f.xlsx", bytes: &bytes }];
    let graph = SkillGraph::default();
    let given = SourceFile { name: "items.csv", bytes: b"item,skill\nQ1,4.NF.A.1\n" };
    let request = ReadRequest { items: Some(given), ..ReadRequest::new(&scores, &graph) };
    let reading = read_score_sheets(&request).unwrap();
    let item = &reading.table.items()[0];
    assert_eq!((item.key.as_deref(), item.skills[0].as_str()), (Some("B"), "4.NF.A.1"));
}

#[test]
fn a_list_beyond_the_limits_is_refused_and_not_cut() {
    let limits = ReadLimits { max_rows: 3, ..ReadLimits::default() };
    let list = SourceFile { name: "list.csv", bytes: b"id,name\n1,Ann\n2,Bo\n3,Cy\n4,Di\n" };
    assert_eq!(read_students(list, limits).unwrap_err().code, "file-too-large");
    assert_eq!(read_students(list, ReadLimits::default()).unwrap().0.len(), 4);
}

#[test]
fn one_of_two_tabs_of_a_layout_is_left_out_by_itself() {
    let grid = |child: &str| -> tables::Grid {
        [["id", "name", "Q1", "Q2"], [child, "Ann", "A", "B"]]
            .iter()
            .map(|row| row.map(tables::text).to_vec())
            .collect()
    };
    let bytes = written::xlsx(&[("5A", grid("0101")), ("5A old", grid("0102"))], written::Ids::Texts);
    let graph = SkillGraph::builtin().unwrap();
    let source = [SourceFile { name: "f.xlsx", bytes: &bytes }];
    let read = |choices: &[SheetChoice]| {
        let reading = read_score_sheets(&ReadRequest { choices, ..ReadRequest::new(&source, &graph) }).unwrap();
        let ids: Vec<String> = reading.table.students().iter().map(|s| s.id.to_string()).collect();
        (ids, reading.sheets, reading.left_out)
    };
    let (ids, sheets, _) = read(&[]);
    assert_eq!(ids, ["0101", "0102"]);
    let second = sheets[1].layout.clone();
    assert_eq!((&second.first(), second == sheets[0].layout), (&sheets[0].layout, false));
    let (ids, _, left_out) = read(&[SheetChoice { standing: Standing::LeftOut, ..SheetChoice::open(second.clone()) }]);
    assert_eq!((ids, left_out[0].sheet.as_str()), (vec!["0101".to_owned()], "5A old"));
    assert_eq!(left_out[0].layout, Some(second));
    let without_the_first = SheetChoice { standing: Standing::LeftOut, ..SheetChoice::open(sheets[0].layout.clone()) };
    assert_eq!(read(&[without_the_first]).0, ["0102"]);
}
