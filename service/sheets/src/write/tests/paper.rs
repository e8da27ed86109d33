//! Pages, tables, figures and marks of the written workbook.
//! Not here: how it prints, which the acceptance tests look at; what stands in the cells (`mod`).

use super::formats::attribute;
use super::*;

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
    assert!(scale * (178.0 * 7.0 + 16.0 * 5.0) <= 9.8 * 96.0 * 100.0 && scale > 55.0, "{scale}");
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

/// The tables of a workbook: name and reach.
fn tables(workbook: &[u8]) -> Vec<(String, String)> {
    let package = zip::ZipArchive::new(Cursor::new(workbook)).unwrap();
    let names = package.file_names().map(|name| name.unwrap().into_owned());
    let parts: Vec<String> = names.filter(|name| name.starts_with("xl/tables/")).collect();
    let of = |name: &String| {
        let xml = part(workbook, name);
        let table = xml.split("<table ").nth(1).unwrap().to_owned();
        (attribute(&table, "displayName").unwrap().to_owned(), attribute(&table, "ref").unwrap().to_owned())
    };
    parts.iter().map(of).collect()
}

#[test]
fn lists_are_tables_with_a_name() {
    let tables = tables(&bytes(&sample::plan()));
    for (name, reach) in [("Groups_list", "A3:J11"), ("Ticket_results_list", "A4:I9"), ("Rotation_list", "A")] {
        assert!(tables.iter().any(|(n, r)| n == name && r.starts_with(reach)), "{name} in {tables:?}");
    }
    assert!(tables.len() >= 8, "{tables:?}");
}

#[test]
fn a_list_without_rows_is_a_name_with_a_filter() {
    let workbook = bytes(&sample::empty());
    assert_eq!(tables(&workbook), []);
    assert!(part(&workbook, "xl/workbook.xml").contains("\"Groups_list\">'Groups'!$A$3:$J$3<"));
    assert!(sheet_xml(&workbook, "Groups").contains("<autoFilter ref=\"A3:J3\""));
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
fn staff_pages_say_what_they_contain() {
    let workbook = bytes(&sample::plan());
    let xlsx: Xlsx<_> = open_workbook_from_rs(Cursor::new(&workbook)).unwrap();
    for sheet in xlsx.sheet_names() {
        let xml = sheet_xml(&workbook, &sheet);
        assert_eq!(xml.contains("contains student information"), sheet != "Exit tickets", "{sheet}");
        assert_eq!(xml.contains("Page &amp;P of &amp;N"), sheet != "Exit tickets", "{sheet}");
        // Black and grey as it is; in black and white alone the grey parts of its pictures would be lost.
        assert_eq!(xml.contains("blackAndWhite=\"1\""), sheet != "Exit tickets", "{sheet}");
        assert!(xml.contains("Week of 2026-02-02"), "{sheet}");
        assert_eq!(xml.contains("&amp;L&amp;12Week"), sheet == "Exit tickets", "large type below, {sheet}");
    }
}

#[test]
fn tables_repeat_their_header_and_can_be_filtered() {
    let names = part(&bytes(&sample::plan()), "xl/workbook.xml");
    for said in ["'Answer keys'!$4:$4", "'Answer keys'!$A$1:$G$", "Groups!$3:$3", "Needs!$8:$8"] {
        assert!(names.contains(said), "{said} not in {names}");
    }
}
