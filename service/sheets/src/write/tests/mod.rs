//! The whole workbook, written and read again.
//! Contents are compared as cells, not as bytes of the package; one test holds that the bytes are the same twice.

mod formats;
mod paper;

use super::sample;
use super::*;
use calamine::{Data, Reader, Xlsx, open_workbook_from_rs};
use sheaf_core::plan::Plan;
use sheaf_core::rotation::Session;
use std::io::{Cursor, Read};

fn bytes(plan: &Plan) -> Vec<u8> {
    let mut sink = Cursor::new(Vec::new());
    write_staff_workbook(plan, None, &sample::graph(), &sample::catalogue(), &mut sink).unwrap();
    sink.into_inner()
}

/// The texts of one sheet, row by row; numbers as they print.
fn cells(workbook: &[u8], sheet: &str) -> Vec<Vec<String>> {
    let mut xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(workbook)).unwrap();
    let range = xlsx.worksheet_range(sheet).unwrap();
    range.rows().map(|row| row.iter().map(ToString::to_string).collect()).collect()
}

fn row_with<'c>(cells: &'c [Vec<String>], text: &str) -> &'c [String] {
    cells.iter().find(|row| row.iter().any(|cell| cell == text)).unwrap_or_else(|| panic!("{text} not in {cells:?}"))
}

/// A part of the package as text.
fn part(workbook: &[u8], name: &str) -> String {
    let mut package = zip::ZipArchive::new(Cursor::new(workbook)).unwrap();
    let mut text = String::new();
    package.by_name(name).unwrap().read_to_string(&mut text).unwrap();
    text
}

fn sheet_xml(workbook: &[u8], sheet: &str) -> String {
    let xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(workbook)).unwrap();
    let number = xlsx.sheet_names().iter().position(|name| name == sheet).unwrap() + 1;
    part(workbook, &format!("xl/worksheets/sheet{number}.xml"))
}

fn n_breaks(workbook: &[u8], sheet: &str) -> usize {
    sheet_xml(workbook, sheet).matches("<brk ").count()
}

#[test]
fn the_sheets_stand_in_their_order() {
    let workbook = bytes(&sample::plan());
    let xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(&workbook)).unwrap();
    let expected = [
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
    assert_eq!(xlsx.sheet_names(), expected);
}

#[test]
fn the_same_plan_gives_the_same_bytes() {
    assert!(bytes(&sample::plan()) == bytes(&sample::plan()));
}

#[test]
fn the_workbook_carries_our_mark() {
    let workbook = part(&bytes(&sample::plan()), "xl/workbook.xml");
    assert!(
        workbook.contains(r#"<definedName name="Sheaf_workbook">"sheaf.workbook/1 2026-02-02"</definedName>"#),
        "{workbook}"
    );
    assert!(part(&bytes(&sample::plan()), "docProps/core.xml").contains("2000-01-01T00:00:00Z"));
}

#[test]
fn start_here_counts_what_the_plan_holds() {
    let cells = cells(&bytes(&sample::plan()), "Start here");
    for (label, value) in [
        ("Students", "8"),
        ("Seated in a group", "5"),
        ("Waiting for a seat", "1"),
        ("No need found", "1"),
        ("No scores", "1"),
        ("Groups", "2"),
        ("Findings", "1 error, 0 warnings, 1 note"),
    ] {
        assert_eq!(row_with(&cells, label)[1], value, "{label}");
    }
    let all = format!("{cells:?}");
    for caution in ["not a diagnosis", "licensed school team", "stay on this machine", "suggestion to a professional"] {
        assert!(all.contains(caution), "{caution}");
    }
    assert!(sheet_xml(&bytes(&sample::plan()), "Start here").contains("location=\"'Ticket results'!A1\""));
}

#[test]
fn every_student_has_one_row_on_groups() {
    let plan = sample::plan();
    let cells = cells(&bytes(&plan), "Groups");
    for student in &plan.students {
        assert_eq!(cells.iter().filter(|row| row[1] == student.id.as_str()).count(), 1, "{}", student.id);
    }
    assert_eq!(
        row_with(&cells, "0001"),
        [
            "Group 1",
            "0001",
            "Ana Reyes",
            "5",
            "5P",
            "5.NF.B.5a  Scaling without working out",
            "lacks it, 1 of 5",
            "takes multiplying to make every number larger (3 of 5)",
            "Lacks scaling, as the others here do.",
            "Group 2",
        ]
    );
    assert_eq!(row_with(&cells, "0004")[6], "not measured");
    assert_eq!(row_with(&cells, "0006")[0], "waits");
    assert_eq!(row_with(&cells, "0006")[8], "One more led block on Tuesday would give a seat.");
    assert_eq!(row_with(&cells, "0007")[0], "no need");
    assert_eq!(row_with(&cells, "0008")[0], "no scores");
}

#[test]
fn every_meeting_stands_in_the_list() {
    let cells = cells(&bytes(&sample::plan()), "Rotation");
    let grid = row_with(&cells, "Mon");
    assert_eq!(grid[3], "TP · Small room\nTeacher table\n5.NF.B.5a");
    assert_eq!(grid[4], "no adult · Small room\nPartner practice\n5.NF.B.5a");
    let list: Vec<_> = cells.iter().filter(|row| ["Mon", "Tue"].contains(&row[0].as_str())).collect();
    assert_eq!(list.len(), 2 + 3, "two times of the grid, three meetings");
    assert_eq!(list[2][3..9], ["Group 1", "TP", "Teacher table", "Small room", "5.NF.B.5a", "Cy Moor"]);
    assert_eq!(row_with(&cells, "Good to know").len(), 9);
    assert!(cells.iter().any(|row| row[0] == "Every group has one led session."));
}

#[test]
fn an_unmeasured_skill_is_an_empty_cell() {
    let cells = cells(&bytes(&sample::plan()), "Needs");
    let row = row_with(&cells, "0001");
    assert_eq!(row[4..], ["", "1 of 5  ○ not yet\n8–45 %"]);
    assert_eq!(row_with(&cells, "Students who lack it")[4..], ["0", "8"]);
    assert_eq!(row_with(&cells, "Students measured")[4..], ["0", "8"]);
    assert_eq!(row_with(&cells, "Id")[5], "5.NF.B.5a\nScaling without working out\n5 items");
}

#[test]
fn each_ticket_begins_a_page() {
    let plan = sample::plan();
    let workbook = bytes(&plan);
    let n_pages: usize =
        plan.tickets.iter().map(|t| ticket_page::lay_out(t, ticket_page::PicturesAs::Shapes).len()).sum();
    assert_eq!(n_breaks(&workbook, "Exit tickets"), n_pages - 1);
    let cells = cells(&workbook, "Exit tickets");
    assert_eq!(cells.iter().filter(|row| row[0] == "Exit ticket").count(), 3);
    assert_eq!(cells.iter().filter(|row| row[0] == "Name").count(), n_pages);
    assert_eq!(cells.iter().filter(|row| row[1] == "8 × 3/4 = ?").count(), 3);
    assert_eq!(row_with(&cells, "8 × 2/3")[2..], ["", "", ""]);
    assert_eq!(row_with(&cells, "less than 8")[2..4], ["less than 8", "more than 8"]);
    assert_eq!(row_with(&cells, "5/3")[..4], ["C", "5/3", "D", "2"]);
}

#[test]
fn each_page_of_a_ticket_carries_its_form_code() {
    let cells = cells(&bytes(&sample::plan()), "Exit tickets");
    let codes: Vec<&str> = cells.iter().map(|row| row[4].as_str()).filter(|code| code.contains("page")).collect();
    assert_eq!(codes[..2], ["0202-g1-A · page 1 of 2", "0202-g1-A · page 2 of 2"]);
    assert!(codes.contains(&"0202-g2-A · page 2 of 2"));
}

#[test]
fn a_child_reads_no_code_skill_group_or_name() {
    let text = format!("{:?}", cells(&bytes(&sample::plan()), "Exit tickets"));
    for hidden in ["scale-", "5.NF", "Group", "Ana", "larger", "g5-scale-one"] {
        assert!(!text.contains(hidden), "{hidden} stands on a child's page");
    }
}

#[test]
fn more_tickets_than_page_breaks_go_on_a_second_sheet() {
    let workbook = bytes(&sample::many_groups(1_100));
    let pages = n_breaks(&workbook, "Exit tickets") + 1 + n_breaks(&workbook, "Exit tickets 2") + 1;
    assert_eq!(pages, 1_100);
    assert_eq!(n_breaks(&workbook, "Exit tickets"), 1_022);
}

#[test]
fn every_ticket_item_has_its_key() {
    let cells = cells(&bytes(&sample::plan()), "Answer keys");
    let of_form: Vec<_> = cells.iter().filter(|row| row[1] == "0202-g1-A").collect();
    let items: Vec<&str> = of_form.iter().map(|row| row[2].as_str()).collect();
    assert_eq!(items, ["1", "2", "3", "4 A", "4 B", "5"]);
    let keys: Vec<&str> = of_form.iter().map(|row| row[4].as_str()).collect();
    assert_eq!(
        keys,
        ["A  3/4", "A  3/4\nC  5/3", "8 × 2/3: less than 8\n8 × 5/4: more than 8", "A  3/4", "C  5/3", "6"]
    );
    assert_eq!(of_form[0][5], "B: takes multiplying to make every number larger");
    assert!(of_form[2][5].starts_with("8 × 2/3 as more than 8: takes multiplying"));
    assert_eq!(of_form[5][5], "32/3: takes multiplying to make every number larger");
}

#[test]
fn each_result_row_carries_its_form_code() {
    let workbook = bytes(&sample::plan());
    let cells = cells(&workbook, "Ticket results");
    assert_eq!(row_with(&cells, "0002")[..4], ["0002", "Bo Lindt", "Group 1", "0202-g1-A"]);
    assert_eq!(row_with(&cells, "Id")[4..], ["Item 1", "Item 2", "Item 3", "Item 4", "Item 5"]);
    assert!(!cells.iter().any(|row| row[0] == "0006"));
    let xml = sheet_xml(&workbook, "Ticket results");
    assert!(xml.contains("<formula1>\"A,B,C,D,absent\"</formula1>"), "{xml}");
    assert!(xml.contains("<formula1>\"1,0,absent\"</formula1>"));
    assert!(xml.contains("<formula1>\"0202-g1-A,0202-g1-B\"</formula1>"));
    // The same check over both groups is one check.
    assert!(xml.contains("sqref=\"E5:E9\""), "{xml}");
}

#[test]
fn attendance_has_boxes_only_where_the_group_meets() {
    let workbook = bytes(&sample::plan());
    assert_eq!(row_with(&cells(&workbook, "Attendance"), "Id")[4..], ["Mon 09:00", "Tue 13:10"]);
    let xml = sheet_xml(&workbook, "Attendance");
    let has = |cell: &str| xml.contains(&format!("<c r=\"{cell}\""));
    // Rows 4 to 8: 0001, 0002 and 0003 (busy on Monday), then 0004 and 0005 (led on Tuesday only).
    assert!(has("E4") && has("E5") && !has("E6") && !has("F4"));
    assert!(has("F7") && has("F8") && !has("E7"));
    assert!(xml.contains("<formula1>\"present,late,absent\"</formula1>"));
}

#[test]
fn an_undefined_figure_is_an_empty_cell() {
    let cells = cells(&bytes(&sample::plan()), "Items");
    assert_eq!(row_with(&cells, "Q1")[3..], ["7", "0.5", "0.25", ""]);
    assert_eq!(row_with(&cells, "Q2")[3..], ["7", "", "", "Nobody took it."]);
    assert_eq!(row_with(&cells, "Q1")[2], "Scaling without working out\nEqual fractions");
    assert!(cells[1][0].contains("0.71"));
}

#[test]
fn findings_stand_worst_first_with_their_cell() {
    let cells = cells(&bytes(&sample::plan()), "Findings");
    assert_eq!(cells[3][..4], ["error", "week1.xlsx", "Quiz", "C17"]);
    assert_eq!(cells[4][..4], ["note", "week1.xlsx", "Quiz", "A9"]);
    assert_eq!(cells[3][4..], ["The cell holds #REF!.", "Counted as not taken."]);
}

#[test]
fn a_finding_leads_to_its_cell_in_their_workbook() {
    let links = |own_file: Option<&str>, named: &str| {
        let mut plan = sample::plan();
        plan.findings[0].sheet = named.to_owned();
        let ours = staff_sheets(&plan, None, &sample::graph(), &sample::catalogue(), own_file).unwrap();
        let mut sink = Cursor::new(Vec::new());
        write_alone(&ours, Form::Plain, &mut sink).unwrap();
        let xml = sheet_xml(&sink.into_inner(), "Findings");
        xml.matches("<hyperlink ").map(|_| ()).count() + xml.matches("location=\"'Tom''s quiz'!").count() * 10
    };
    assert_eq!(links(Some("week1.xlsx"), "Tom's quiz"), 12, "two links, one of them to the renamed sheet");
    assert_eq!(links(Some("week1.xlsx"), "groups"), 1, "a sheet of theirs that is called like one of ours");
    assert_eq!(links(Some("week2.xlsx"), "Tom's quiz"), 0, "another workbook");
    assert_eq!(links(None, "Tom's quiz"), 0, "their cells are not in this workbook");
}

#[test]
fn a_plan_without_anybody_is_still_a_workbook() {
    let workbook = bytes(&sample::empty());
    assert_eq!(row_with(&cells(&workbook, "Start here"), "Students")[1], "0");
    assert_eq!(row_with(&cells(&workbook, "Start here"), "Score sheets read")[1], "none");
    assert!(cells(&workbook, "Group cards")[1][0].contains("No groups"));
    assert!(cells(&workbook, "Exit tickets")[1][0].contains("No tickets"));
    assert_eq!(cells(&workbook, "Start here")[1][0], "Week not given");
    assert_eq!(row_with(&cells(&workbook, "Groups"), "Id").len(), 10);
}
