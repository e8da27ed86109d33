//! Our sheets in a workbook that has taken their names, and sheets of ours with all that the writer can add.
//! Names, links, formulas and drawings of ours must point at sheets of ours alone. Not here: parts of theirs (`corpus`).

use super::*;
use rust_xlsxwriter::{Chart, ChartType, Format, Formula, Note, Sparkline, Table, Workbook};

#[test]
fn a_sheet_of_theirs_keeps_its_name_and_nothing_of_ours_points_at_it() {
    let theirs = fixture("openpyxl_names_like_ours.xlsx");
    let grafted = graft(&theirs, &week(2));
    let names = sheet_names(&grafted);
    assert_eq!(names[..6], ["Quiz", "GROUPS", "Needs", "ticket results", "Start here", "Start here (2)"]);
    for ours in ["Start here (3)", "Groups (2)", "Needs (2)", "Ticket results (2)", "Rotation"] {
        assert!(names.iter().any(|n| n == ours), "{ours}: {names:?}");
    }
    let mut after = book(&grafted);
    let theirs_in_quotes = ["groups", "needs", "ticket results", "start here", "start here (2)"];
    for name in after.names.iter().filter(|n| n.scope.is_none_or(|s| s >= 6)) {
        let sheet = crate::graft::retarget::sheet_of(&name.content).map(|(sheet, _)| sheet.to_lowercase());
        assert!(sheet.is_none_or(|s| !theirs_in_quotes.contains(&s.as_str())), "{}: {}", name.name, name.content);
    }
    let start = after.sheets[6].part.clone().unwrap();
    let start = after.package.text_of(&start).unwrap().unwrap().text;
    assert!(start.contains(r#"location="'Groups (2)'!A1""#), "{start}");
    for sheet in theirs_in_quotes {
        assert!(!start.to_lowercase().contains(&format!("location=\"'{sheet}'!")), "{sheet}");
    }
    assert!(start.contains("<t>Groups (2)</t>"), "the link shows where it leads");
}

#[test]
fn sheets_that_took_another_name_are_told() {
    let (theirs, ours) = (fixture("openpyxl_names_like_ours.xlsx"), week(2));
    let graft = Graft::prepare(&theirs, &ours, GraftLimits::default()).unwrap();
    assert!(graft.renamed().contains(&("Groups".to_owned(), "Groups (2)".to_owned())), "{:?}", graft.renamed());
    assert_eq!(graft.renamed().len(), 4);
}

/// Two sheets that refer to each other, with a table, a chart, a note, a sparkline, a shared string and a link outside.
pub(super) fn rich() -> OurSheets {
    let mut workbook = Workbook::new();
    let bold = Format::new().set_bold();
    let first = workbook.add_worksheet().set_name("Quiz").unwrap();
    first.write_with_format(0, 0, "Item", &bold).unwrap();
    first.write(1, 0, 3).unwrap();
    first.write(2, 0, Formula::new("=Sums!A1+1").set_result("4")).unwrap();
    first.add_table(4, 0, 6, 1, &Table::new().set_name("Table1")).unwrap();
    let mut chart = Chart::new(ChartType::Column);
    chart.add_series().set_values("Quiz!$A$2:$A$3");
    first.insert_chart(1, 3, &chart).unwrap();
    first.insert_note(1, 0, &Note::new("asked again")).unwrap();
    first.write_url(8, 0, "https://example.org/").unwrap();
    let second = workbook.add_worksheet().set_name("Sums").unwrap();
    second.write(0, 0, Formula::new("=SUM(Quiz!A2:A3)+SUM(Table1[Column1])").set_result("3")).unwrap();
    second.add_sparkline(1, 1, &Sparkline::new().set_range("Quiz!$A$2:$A$3")).unwrap();
    workbook.define_name("Points", "=Quiz!$A$2").unwrap();
    OurSheets::whole(workbook.save_to_buffer().unwrap())
}

#[test]
fn all_parts_that_a_sheet_of_ours_needs_come_along() {
    let theirs = fixture("openpyxl_table.xlsx");
    let grafted = graft(&theirs, &rich());
    keep_for_other_programs("rich_sheets_of_ours.xlsx", &grafted);
    let mut after = book(&grafted);
    assert_eq!(sheet_names(&grafted), ["Quiz", "Quiz (2)", "Sums"]);
    for part in ["xl/charts/chart1.xml", "xl/drawings/drawing1.xml", "xl/drawings/vmlDrawing1.vml", "xl/comments1.xml"]
    {
        assert!(after.package.has(part) && after.types.of(part).is_some(), "{part}");
    }
    let text =
        |after: &mut crate::graft::book::Book<'_>, name: &str| after.package.text_of(name).unwrap().unwrap().text;
    assert!(text(&mut after, "xl/charts/chart1.xml").contains("'Quiz (2)'!$A$2:$A$3"));
    let sums = text(&mut after, "xl/worksheets/sheet3.xml");
    assert!(sums.contains("SUM('Quiz (2)'!A2:A3)+SUM(Table1_2[Column1])"), "{sums}");
    assert!(sums.contains("<xm:f>'Quiz (2)'!A2:A3</xm:f>"), "{sums}");
    let quiz = text(&mut after, "xl/worksheets/sheet2.xml");
    assert!(
        quiz.contains("<is><t>Item</t></is>") && !quiz.contains("t=\"s\""),
        "shared strings stand in their cells: {quiz}"
    );
    let relations = text(&mut after, "xl/worksheets/_rels/sheet2.xml.rels");
    assert!(
        relations.contains("Target=\"/xl/tables/table2.xml\"") && relations.contains("TargetMode=\"External\""),
        "{relations}"
    );
}

#[test]
fn tables_take_free_names() {
    let grafted = graft(&fixture("openpyxl_table.xlsx"), &rich());
    let table = part(&grafted, "xl/tables/table2.xml");
    assert!(table.contains("id=\"2\"") && table.contains("displayName=\"Table1_2\""), "{table}");
}

#[test]
fn ours_takes_no_name_of_theirs() {
    let theirs = fixture("hand_gaps_in_names.xlsx");
    let grafted = graft(&theirs, &week(2));
    let after = book(&grafted);
    assert_eq!(after.sheets[1].part.as_deref(), Some("xl/worksheets/sheet4.xml"));
    assert_eq!(after.sheets[1].relation.as_deref(), Some("rId8"));
    let names = graft(&fixture("openpyxl_names.xlsx"), &rich());
    let points: Vec<String> =
        book(&names).names.iter().filter(|n| n.name.starts_with("Points")).map(|n| n.content.clone()).collect();
    assert_eq!(points, ["Quiz!$B$2:$C$7", "'Quiz (2)'!$A$2"]);
}

#[test]
fn a_free_number_of_a_sheet_is_found_at_the_limit() {
    let grafted = graft(&fixture("hand_sheet_ids_at_the_limit.xlsx"), &week(2));
    let ids: Vec<u32> = book(&grafted).sheets.iter().map(|s| s.id).collect();
    assert_eq!(ids[..6], [65_534, 3, 1, 2, 4, 5]);
}
