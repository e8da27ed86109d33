//! The whole workbook, written and read again.
//! Contents are compared as cells, not as bytes of the package; one test holds that the bytes are the same twice.

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
fn many_groups_put_the_adults_across() {
    let mut plan = sample::many_groups(12);
    let one = sample::plan().rotation[0].clone();
    plan.rotation = (1..=12).map(|i| Session { group: format!("g{i}"), ..one.clone() }).collect();
    let cells = cells(&bytes(&plan), "Rotation");
    assert_eq!(row_with(&cells, "Day")[..5], ["Day", "Start", "End", "TP", ""]);
    assert!(row_with(&cells, "Mon")[3].contains("Group 12 · Small room\nTeacher table"));
}

#[test]
fn sixteen_groups_take_two_pages_of_the_grid() {
    let mut plan = sample::many_groups(16);
    let one = sample::plan().rotation[0].clone();
    let meeting = |i: usize| Session { group: format!("g{i}"), staff: Some(format!("Adult {i}")), ..one.clone() };
    plan.rotation = (1..=16).map(meeting).collect();
    let workbook = bytes(&plan);
    let cells = cells(&workbook, "Rotation");
    let grids: Vec<&[String]> = cells.iter().filter(|row| row[0] == "Day").map(|row| &row[3..5]).collect();
    assert_eq!(grids, [["Group 1", "Group 2"], ["Group 9", "Group 10"], ["Group", "Adult"]]);
    assert_eq!(n_breaks(&workbook, "Rotation"), 2);
    let mut crowd = sample::many_groups(41);
    crowd.rotation = (1..=41).map(meeting).collect();
    assert_eq!(n_breaks(&bytes(&crowd), "Rotation"), 0, "no page is begun for nothing");
}

#[test]
fn many_skills_stand_on_one_page_with_marks_alone() {
    let mut plan = sample::plan();
    let one = plan.skills[1].clone();
    plan.skills.extend(std::iter::repeat_n(one, 10));
    let workbook = bytes(&plan);
    let cells = cells(&workbook, "Needs");
    assert_eq!(row_with(&cells, "0001")[5], "1 of 5 ○\n8–45 %");
    let xml = sheet_xml(&workbook, "Needs");
    let scale: f64 = attribute(xml.split("<pageSetup").nth(1).unwrap(), "scale").unwrap().parse().unwrap();
    // 46 digits in four columns and 132 in twelve, seven pixels each and five a column, on 9.8 inches.
    assert!(scale * (178.0 * 7.0 + 16.0 * 5.0) <= 9.8 * 96.0 * 100.0 && scale > 60.0, "{scale}");
    assert!(cells.iter().any(|row| row[0].contains("○○ lost")));
}

#[test]
fn bars_tell_how_many_lack_each_skill() {
    let workbook = bytes(&sample::plan());
    let chart = part(&workbook, "xl/charts/chart1.xml");
    assert!(
        chart.contains("<c:f>Needs!$E$18:$F$18</c:f>") && chart.contains("<c:f>Needs!$E$19:$F$19</c:f>"),
        "{chart}"
    );
    assert!(chart.contains("pattFill") && chart.contains("<a:solidFill>"), "told apart without colour: {chart}");
    let cells = cells(&workbook, "Needs");
    assert_eq!((cells[18][1].as_str(), cells[18][5].as_str()), ("Students who lack it", "8"));
}

#[test]
fn a_table_has_a_name() {
    let names = part(&bytes(&sample::plan()), "xl/workbook.xml");
    for said in ["\"Groups_list\">'Groups'!$A$3:$J$11<", "\"Ticket_results_list\">'Ticket results'!$A$4:$I$9<"] {
        assert!(names.contains(said), "{said} not in {names}");
    }
}

#[test]
fn absent_turns_grey_where_it_is_typed() {
    let workbook = bytes(&sample::plan());
    for (sheet, area) in [("Ticket results", "E5:I9"), ("Attendance", "E4:F8")] {
        let xml = sheet_xml(&workbook, sheet);
        assert!(xml.contains(&format!("<conditionalFormatting sqref=\"{area}\">")), "{sheet}: {xml}");
        assert!(xml.contains("<formula>\"absent\"</formula>"), "{sheet}");
    }
}

#[test]
fn an_empty_rotation_says_how_to_get_one() {
    let mut plan = sample::plan();
    plan.rotation.clear();
    let text = format!("{:?}", cells(&bytes(&plan), "Rotation"));
    assert!(text.contains("[[block]]") && text.contains("[[staff]]"), "{text}");
    assert_eq!(row_with(&cells(&bytes(&plan), "Attendance"), "Id")[4..], ["Mon", "Tue", "Wed", "Thu", "Fri"]);
}

#[test]
fn each_card_begins_a_page() {
    let workbook = bytes(&sample::plan());
    assert_eq!(n_breaks(&workbook, "Group cards"), 1);
    let cells = cells(&workbook, "Group cards");
    let text = format!("{cells:?}");
    for said in [
        "5.NF.B.5a  Scaling without working out",
        "Takes multiplying to make every number larger.",
        "says 8 times 3/4 is more than 8",
        "Mon 09:00–09:30 · TP · Teacher table · Small room (without Cy Moor)",
        "0202-g1-A; for neighbours and make-ups 0202-g1-B",
        "to 5P: Ana Reyes, Bo Lindt, Cy Moor",
        "None that most here share",
        "The score sheets have 5 items on the target.",
        "How do you know?",
        "read aloud",
    ] {
        assert!(text.contains(said), "{said} not in {text}");
    }
    assert_eq!(n_breaks(&bytes(&sample::many_groups(200)), "Group cards"), 199);
}

#[test]
fn past_two_hundred_groups_the_cards_are_rows() {
    let workbook = bytes(&sample::many_groups(201));
    assert_eq!(n_breaks(&workbook, "Group cards"), 0);
    let cells = cells(&workbook, "Group cards");
    assert_eq!(cells.iter().filter(|row| row[0].starts_with("Group ")).count(), 201 + 1);
    assert_eq!(row_with(&cells, "Group 201")[3], "Kim (5P)");
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
    let n_pages: usize = plan.tickets.iter().map(|t| ticket_page::lay_out(t).len()).sum();
    assert_eq!(n_breaks(&workbook, "Exit tickets"), n_pages - 1);
    let cells = cells(&workbook, "Exit tickets");
    assert_eq!(cells.iter().filter(|row| row[0] == "Exit ticket").count(), 3);
    assert_eq!(cells.iter().filter(|row| row[0] == "Name").count(), n_pages);
    assert_eq!(cells.iter().filter(|row| row[1] == "8 × 3/4 = ?").count(), 3);
    assert_eq!(row_with(&cells, "8 × 2/3")[2..], ["", "", ""]);
    assert_eq!(row_with(&cells, "less than 8")[2..4], ["less than 8", "more than 8"]);
    assert_eq!(row_with(&cells, "5/3")[..4], ["C", "5/3", "D", "2"]);
}

/// Font sizes of the formats that the cells of a sheet have.
fn font_sizes(workbook: &[u8], sheet: &str) -> Vec<f64> {
    let styles = part(workbook, "xl/styles.xml");
    let between =
        |text: &str, open: &str, close: &str| text.split(open).nth(1).unwrap().split(close).next().unwrap().to_owned();
    let numbers_after = |text: &str, mark: &str| -> Vec<f64> {
        text.split(mark).skip(1).map(|rest| rest.split('"').next().unwrap().parse().unwrap()).collect()
    };
    let sizes = numbers_after(&between(&styles, "<fonts", "</fonts>"), "<sz val=\"");
    let fonts = numbers_after(&between(&styles, "<cellXfs", "</cellXfs>"), "fontId=\"");
    let used = numbers_after(&sheet_xml(workbook, sheet), " s=\"");
    used.into_iter().map(|format| sizes[fonts[format as usize] as usize]).collect()
}

#[test]
fn pages_that_are_handed_out_are_in_large_type() {
    let workbook = bytes(&sample::plan());
    for sheet in ["Exit tickets", "Group cards"] {
        let sizes = font_sizes(&workbook, sheet);
        assert!(sizes.len() > 40 && sizes.iter().all(|points| *points >= 12.0), "{sheet}: {sizes:?}");
    }
    let small = font_sizes(&workbook, "Exit tickets").into_iter().filter(|points| *points < 16.0).count();
    let n_pages: usize = sample::plan().tickets.iter().map(|t| ticket_page::lay_out(t).len()).sum();
    assert_eq!(small, n_pages, "only the form code of each page is smaller");
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
fn nasty_names_stay_text() {
    let long = "x".repeat(40_000);
    let names = [
        "=cmd|' /C calc'!A0",
        "+1+1",
        "-2",
        "@SUM(A1)",
        "\tTab",
        "Zoë 🦊",
        "عمر",
        "A\u{0}\u{1b}B",
        "_x0041_",
        "a<&>\"b",
        &long,
    ];
    let mut plan = sample::plan();
    let ids: Vec<String> = (0..names.len()).map(|i| format!("=0{i:03}")).collect();
    plan.students = ids.iter().zip(names).map(|(id, name)| sample::student(id, name, Some(0))).collect();
    plan.groups.truncate(1);
    plan.groups[0].members = (0..names.len()).collect();
    plan.groups[0].name = "=Group".into();
    plan.unplaced.clear();
    let workbook = bytes(&plan);
    let mut xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(&workbook)).unwrap();
    let range = xlsx.worksheet_range("Groups").unwrap();
    let shown: Vec<&Data> = range.rows().skip(3).map(|row| &row[2]).collect();
    let expected: Vec<Data> = names.iter().map(|name| Data::String(text::clean(name).into_owned())).collect();
    assert_eq!(shown, expected.iter().collect::<Vec<_>>());
    for sheet in xlsx.sheet_names() {
        assert!(!sheet_xml(&workbook, &sheet).contains("<f>"), "a formula on {sheet}");
    }
}

/// The cell formats of a workbook, as XML, in order.
fn cell_formats(workbook: &[u8]) -> Vec<String> {
    let styles = part(workbook, "xl/styles.xml");
    let list = styles.split("<cellXfs").nth(1).unwrap().split("</cellXfs>").next().unwrap().to_owned();
    list.split("<xf ").skip(1).map(str::to_owned).collect()
}

/// What an attribute says in a piece of XML.
fn attribute<'x>(xml: &'x str, key: &str) -> Option<&'x str> {
    xml.split(&format!(" {key}=\"")).nth(1).and_then(|rest| rest.split('"').next())
}

fn format_number(mark: &str) -> usize {
    attribute(mark, "s").unwrap().parse().unwrap()
}

#[test]
fn a_cell_names_the_format_of_its_look() {
    let looks = Looks::new();
    let workbook = bytes(&sample::plan());
    let formats = cell_formats(&workbook);
    let styles = part(&workbook, "xl/styles.xml");
    let fonts: Vec<&str> = styles.split("<font>").skip(1).collect();
    let size_of = |look: &look::Look| {
        let font = attribute(&formats[format_number(&look.mark)], "fontId").unwrap();
        attribute(fonts[font.parse::<usize>().unwrap()], "val").unwrap().parse::<f64>().unwrap()
    };
    for (look, points) in [
        (&looks.title, 18.0),
        (&looks.section, 13.0),
        (&looks.cell, 11.0),
        (&looks.link, 12.0),
        (&looks.card.name, 22.0),
        (&looks.card.strong, 14.0),
        (&looks.ticket.heading, 18.0),
        (&looks.ticket.code, 12.0),
        (&looks.ticket.label, 16.0),
    ] {
        assert!((size_of(look) - points).abs() < 0.01, "{} of {points}", size_of(look));
    }
    for look in [&looks.id, &looks.entry] {
        let number = &formats[format_number(&look.mark)];
        let code = format!("<numFmt {} formatCode=\"@\"/>", number.split(' ').next().unwrap());
        assert!(styles.contains(&code), "kept as text: {number}");
        assert!(formats[format_number(&look.quoted_mark)].contains("quotePrefix=\"1\""));
    }
    assert!(formats[format_number(&looks.header.mark)].contains("applyFill=\"1\""));
}

#[test]
fn only_text_that_looks_like_a_formula_is_quoted() {
    let mut plan = sample::plan();
    plan.students[0] = sample::student("0001", "=1+1", Some(0));
    let workbook = bytes(&plan);
    let (formats, xml) = (cell_formats(&workbook), sheet_xml(&workbook, "Groups"));
    let is_quoted = |cell: &str| {
        let tag = xml.split(&format!("<c r=\"{cell}\"")).nth(1).unwrap().split('>').next().unwrap();
        formats[format_number(tag)].contains("quotePrefix=\"1\"")
    };
    assert!(is_quoted("C4") && !is_quoted("C5") && !is_quoted("B4"), "{xml}");
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

#[test]
fn staff_pages_say_what_they_contain() {
    let workbook = bytes(&sample::plan());
    let xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(&workbook)).unwrap();
    for sheet in xlsx.sheet_names() {
        let xml = sheet_xml(&workbook, &sheet);
        assert_eq!(xml.contains("contains student information"), sheet != "Exit tickets", "{sheet}");
        assert_eq!(xml.contains("Page &amp;P of &amp;N"), sheet != "Exit tickets", "{sheet}");
        assert!(xml.contains("blackAndWhite=\"1\""), "{sheet}");
        assert!(xml.contains("Week of 2026-02-02"), "{sheet}");
        assert_eq!(xml.contains("&amp;L&amp;12Week"), sheet == "Exit tickets", "large type below, {sheet}");
    }
}

#[test]
fn tables_repeat_their_header_and_can_be_filtered() {
    let names = part(&bytes(&sample::plan()), "xl/workbook.xml");
    for said in
        ["'Answer keys'!$3:$3", "'Answer keys'!$A$1:$G$", "Groups!$3:$3", "Needs!$8:$8", "'Ticket results'!$A$4:$I$9"]
    {
        assert!(names.contains(said), "{said} not in {names}");
    }
}
