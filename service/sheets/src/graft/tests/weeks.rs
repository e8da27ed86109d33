//! Week after week: last week's sheets are replaced, whatever became of the workbook in between.
//! The rest of the workbook stays byte for byte, and formats do not pile up. Not here: the first week (`corpus`).

use super::*;
use std::collections::HashSet;

/// Sheets of one week.
const N_OURS: usize = 11;

#[test]
fn a_second_week_replaces_the_first() {
    for (name, theirs) in corpus() {
        let first = graft(&theirs, &week(2));
        let second = graft(&first, &week(9));
        keep_for_other_programs(&name, &second);
        assert_eq!(sheet_names(&first), sheet_names(&second), "{name}");
        let (one, two) = (parts(&first), parts(&second));
        let names = |parts: &[(String, Vec<u8>)]| parts.iter().map(|(n, _)| n.clone()).collect::<Vec<_>>();
        assert_eq!(names(&one), names(&two), "{name}: parts");
        let styles = book(&first).related("styles").map(str::to_owned).unwrap();
        let is_ours =
            |part: &str| book(&first).sheets.iter().rev().take(N_OURS).any(|s| s.part.as_deref() == Some(part));
        for ((part, old), (_, new)) in one.iter().zip(&two) {
            let is_workbook = part.replace('\\', "/") == book(&first).part;
            assert!(old == new || is_ours(part) || is_workbook, "{name}: {part} changed");
            assert!(*part != styles || old == new, "{name}: formats piled up");
        }
        assert!(graft(&second, &week(2)) == first, "{name}: and back again");
    }
}

#[test]
fn sheets_that_other_programs_saved_are_known_again() {
    for name in ["last_week_as_made", "last_week_saved_by_openpyxl", "last_week_saved_by_libreoffice"] {
        let grafted = graft(&fixture(&format!("{name}.xlsx")), &week(2));
        let names = sheet_names(&grafted);
        assert_eq!(names[..2], ["Quiz", "Items"], "{name}");
        assert_eq!(names.len(), 2 + N_OURS, "{name}: {names:?}");
        assert!(names.contains(&"Items (2)".to_owned()), "{name}: {names:?}");
    }
    for name in ["last_week_ours_alone", "last_week_ours_alone_saved_by_libreoffice"] {
        assert_eq!(sheet_names(&graft(&fixture(&format!("{name}.xlsx")), &week(2))).len(), N_OURS, "{name}");
    }
}

#[test]
fn our_sheets_are_told_from_theirs() {
    let ours = crate::graft::our_sheets(&fixture("last_week_saved_by_libreoffice.xlsx"));
    assert_eq!(ours.len(), N_OURS);
    assert!(ours.iter().any(|n| n == "Items (2)") && !ours.iter().any(|n| n == "Items" || n == "Quiz"), "{ours:?}");
    assert!(crate::graft::our_sheets(&fixture("hand_names_that_collide.xlsx")).is_empty());
    assert!(crate::graft::our_sheets(b"id,Q1").is_empty());
}

#[test]
fn the_shown_sheet_and_names_for_one_sheet_follow() {
    let grafted = graft(&fixture("hand_last_week_in_front.xlsx"), &week(2));
    let after = book(&grafted);
    let names = sheet_names(&grafted);
    assert_eq!(
        names[..5],
        ["Quiz", "Groups (copy)", "Notes", "Start here", "Our groups"],
        "a copy of a sheet is theirs"
    );
    assert!(after.text.text.contains(r#"<workbookView activeTab="2" firstSheet="0"/>"#), "{}", after.text.text);
    let scopes = |name: &str| {
        let found = after.names.iter().filter(|n| n.name == name && n.scope.is_some_and(|s| s < 3));
        found.map(|n| (n.scope.unwrap(), n.content.clone())).collect::<Vec<_>>()
    };
    assert_eq!(scopes("_xlnm.Print_Area"), [(0, "Quiz!$A$1:$B$1".to_owned()), (2, "Notes!$A$1:$B$1".to_owned())]);
    assert_eq!(scopes("Sheaf_sheet_Groups"), [(1, "'Groups (copy)'!$1:$1048576".to_owned())]);
    assert!(!after.text.text.contains("#REF!"), "the mark of a sheet that is gone goes too");
}

#[test]
fn the_order_of_calculation_loses_only_cells_of_sheets_that_go() {
    let theirs = fixture("hand_calc_chain_of_last_week.xlsx");
    let grafted = graft(&theirs, &week(2));
    let chain = part(&grafted, "xl/calcChain.xml");
    assert!(chain.contains(r#"<c r="A1" i="1"/>"#) && !chain.contains(r#"i="2""#), "{chain}");
    let names: HashSet<String> = parts(&grafted).into_iter().map(|(n, _)| n).collect();
    assert!(!names.contains("xl/drawings/vmlDrawing1.vml"), "a part that only last week's sheet needed goes with it");
    let shown = &book(&grafted).text.text;
    assert!(shown.contains(r#"activeTab="2""#), "the sheet that was shown is shown again: {shown}");
    let untouched = fixture("hand_calc_chain.xlsx");
    assert_eq!(part(&graft(&untouched, &week(2)), "xl/calcChain.xml"), part(&untouched, "xl/calcChain.xml"));
}

#[test]
fn marks_are_hidden_and_name_each_sheet() {
    let grafted = graft(&fixture("openpyxl_formulas.xlsx"), &week(2));
    let after = book(&grafted);
    let marks: Vec<_> = after.names.iter().filter(|n| n.name.starts_with("Sheaf_")).collect();
    assert_eq!(marks.len(), N_OURS + 1);
    assert!(marks.iter().all(|n| n.is_hidden && n.scope.is_none()));
    for sheet in &after.sheets[1..] {
        let reference = format!("'{}'!$1:$1048576", sheet.name);
        assert!(marks.iter().any(|n| n.content == reference), "{}", sheet.name);
    }
}

#[test]
fn a_name_that_only_looks_like_a_mark_marks_nothing() {
    let theirs = fixture("hand_names_that_collide.xlsx");
    let first = graft(&theirs, &week(2));
    let second = graft(&first, &week(9));
    for grafted in [&first, &second] {
        assert_eq!(sheet_names(grafted)[..2], ["Quiz", "Groups"]);
        assert_eq!(sheet_names(grafted).len(), 2 + N_OURS);
        let text = &book(grafted).text.text;
        assert!(text.contains(r#"<definedName name="Sheaf_sheet_Groups">Groups!$A$1:$B$2</definedName>"#), "{text}");
        assert!(text.contains(r#"name="Sheaf_workbook_2" hidden="1""#), "{text}");
    }
}
