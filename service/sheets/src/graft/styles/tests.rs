//! Two styles parts become one, whatever is in them.
//! In:  styles drawn at random or typed out. Out: every format of theirs keeps its place, every one of ours is found again.
//! Not here: whole workbooks (`graft::tests`).

use super::*;
use crate::graft::outline::MAIN;
use proptest::prelude::*;

const OURS: &str = "<styleSheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\">\
    <numFmts count=\"1\"><numFmt numFmtId=\"164\" formatCode=\"0 &quot;of&quot; 9\"/></numFmts>\
    <fonts count=\"2\"><font><sz val=\"11\"/></font><font><b/><sz val=\"18\"/></font></fonts>\
    <fills count=\"2\"><fill><patternFill patternType=\"none\"/></fill><fill><patternFill patternType=\"gray125\"/></fill></fills>\
    <borders count=\"1\"><border><left/><right/></border></borders>\
    <cellStyleXfs count=\"1\"><xf numFmtId=\"0\"/></cellStyleXfs>\
    <cellXfs count=\"2\"><xf numFmtId=\"0\" fontId=\"0\" fillId=\"0\" borderId=\"0\" xfId=\"0\"/>\
    <xf numFmtId=\"164\" fontId=\"1\" fillId=\"0\" borderId=\"0\" xfId=\"0\" applyFont=\"1\"><alignment wrapText=\"1\"/></xf></cellXfs>\
    <dxfs count=\"1\"><dxf><font><b/></font></dxf></dxfs></styleSheet>";

fn names_in_order(text: &str) -> Vec<String> {
    let outline = Outline::of(text, 1).unwrap();
    outline.parts().map(|n| n.local.clone()).collect()
}

#[test]
fn theirs_stays_and_ours_is_added_at_the_end() {
    let theirs = format!(
        "<x:styleSheet xmlns:x='{MAIN}'><x:numFmts count='1'><x:numFmt numFmtId='200' formatCode='0.0'/></x:numFmts>\
         <x:fonts count='1'><x:font><x:name val='Arial'/></x:font></x:fonts>\
         <x:cellXfs><x:xf fontId='0'/></x:cellXfs><x:extLst/></x:styleSheet>"
    );
    let (text, map) = merge(&theirs, OURS).unwrap();
    assert_eq!(names_in_order(&text), ["numFmts", "fonts", "fills", "borders", "cellXfs", "dxfs", "extLst"]);
    for kept in
        ["<x:numFmt numFmtId='200' formatCode='0.0'/>", "<x:fonts count='3'><x:font><x:name val='Arial'/></x:font>"]
    {
        assert!(text.contains(kept), "{text}");
    }
    assert!(text.contains("<x:numFmt numFmtId=\"201\" formatCode=\"0 &quot;of&quot; 9\"/></x:numFmts>"), "{text}");
    let format = "<x:xf numFmtId=\"201\" fontId=\"2\" fillId=\"0\" borderId=\"0\" applyFont=\"1\"><x:alignment wrapText=\"1\"/></x:xf>";
    assert!(text.contains(format), "{text}");
    assert_eq!((map.cell(0), map.cell(1), map.rule(0)), (1, 2, 0));
}

#[test]
fn a_second_week_adds_nothing() {
    let theirs = format!("<styleSheet xmlns='{MAIN}'><dxfs count=\"0\"/></styleSheet>");
    let (first, map) = merge(&theirs, OURS).unwrap();
    let (second, again) = merge(&first, OURS).unwrap();
    assert_eq!(first, second);
    assert_eq!((map.cells, map.rules), (again.cells, again.rules));
}

#[test]
fn formats_that_another_program_saved_are_found_again() {
    let saved = "<styleSheet xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\">\
        <numFmts count=\"1\"><numFmt numFmtId=\"170\" formatCode=\"0 &quot;of&quot; 9\"/></numFmts>\
        <fonts count=\"2\"><font><sz val=\"18\"/><b val=\"1\"/></font><font><sz val=\"11\"/></font></fonts>\
        <fills count=\"2\"><fill><patternFill/></fill><fill><patternFill patternType=\"gray125\"/></fill></fills>\
        <borders count=\"1\"><border><left/><right/></border></borders>\
        <cellStyleXfs count=\"1\"><xf numFmtId=\"0\"/></cellStyleXfs>\
        <cellXfs count=\"2\"><xf numFmtId=\"170\" fontId=\"0\" fillId=\"0\" borderId=\"0\" applyAlignment=\"1\" pivotButton=\"0\" quotePrefix=\"0\" xfId=\"0\"><alignment wrapText=\"1\"/></xf>\
        <xf numFmtId=\"0\" fontId=\"1\" fillId=\"0\" borderId=\"0\" pivotButton=\"0\" quotePrefix=\"0\" xfId=\"0\"/></cellXfs>\
        <dxfs count=\"1\"><dxf><font><b val=\"1\"/></font></dxf></dxfs></styleSheet>";
    let (text, map) = merge(saved, OURS).unwrap();
    assert_eq!(text, saved);
    assert_eq!((map.cell(0), map.cell(1)), (1, 0));
}

#[test]
fn a_number_format_that_every_program_knows_goes_by_its_number() {
    let ours = OURS.replace("0 &quot;of&quot; 9", "0.00");
    let (text, _) = merge(&format!("<styleSheet xmlns='{MAIN}'/>"), &ours).unwrap();
    assert!(!text.contains("numFmts") && text.contains("numFmtId=\"2\""), "{text}");
    assert!(text.ends_with("</dxfs>\n</styleSheet>"), "a root of one tag is opened: {text}");
}

#[test]
fn a_workbook_full_of_formats_is_left_alone() {
    let formats: String = (0..MOST_FORMATS).map(|n| format!("<xf numFmtId=\"{n}\" fontId=\"7\"/>")).collect();
    let full = format!("<styleSheet xmlns='{MAIN}'><cellXfs>{formats}</cellXfs></styleSheet>");
    assert!(matches!(merge(&full, OURS), Err(GraftError::TooManyFormats)));
}

/// A styles part of drawn fonts, number formats and cell formats that combine them.
fn sheet_of(fonts: &[u8], numbers: &[u8], formats: &[(u8, u8)]) -> String {
    let font = |size: &u8| format!("<font><sz val=\"{size}\"/></font>");
    let number = |(idx, code): (usize, &u8)| format!("<numFmt numFmtId=\"{}\" formatCode=\"0.{code}\"/>", 164 + idx);
    let format = |(font, number): &(u8, u8)| {
        let font = usize::from(*font) % fonts.len();
        let number = 164 + usize::from(*number) % numbers.len();
        format!("<xf numFmtId=\"{number}\" fontId=\"{font}\" fillId=\"0\" borderId=\"0\" xfId=\"0\"/>")
    };
    let fonts_xml: String = fonts.iter().map(font).collect();
    let numbers_xml: String = numbers.iter().enumerate().map(number).collect();
    let formats_xml: String = formats.iter().map(format).collect();
    format!(
        "<styleSheet xmlns=\"{MAIN}\"><numFmts>{numbers_xml}</numFmts><fonts>{fonts_xml}</fonts>\
         <fills><fill/></fills><borders><border/></borders><cellStyleXfs><xf/></cellStyleXfs>\
         <cellXfs>{formats_xml}</cellXfs></styleSheet>"
    )
}

/// What each cell format looks like: size of its font and code of its number format.
fn meanings(text: &str) -> Vec<(String, String)> {
    let outline = Outline::of(text, 2).unwrap();
    let fonts = looks(&outline, "fonts", "font").unwrap();
    let codes: HashMap<u32, String> = number_formats(&outline).into_iter().collect();
    let formats = looks(&outline, "cellXfs", "xf").unwrap();
    let meaning = |(look, _): (Look, String)| {
        let font = fonts[look.number("fontId") as usize].0.children[0].attribute("val").unwrap().to_owned();
        (font, codes[&look.number("numFmtId")].clone())
    };
    formats.into_iter().map(meaning).collect()
}

proptest! {
    #[test]
    fn each_format_of_both_looks_as_before(
        theirs in (prop::collection::vec(8_u8..14, 1..6), prop::collection::vec(0_u8..6, 1..6), prop::collection::vec((0_u8..9, 0_u8..9), 1..12)),
        ours in (prop::collection::vec(8_u8..14, 1..6), prop::collection::vec(0_u8..6, 1..6), prop::collection::vec((0_u8..9, 0_u8..9), 1..12)),
    ) {
        let theirs = sheet_of(&theirs.0, &theirs.1, &theirs.2);
        let ours = sheet_of(&ours.0, &ours.1, &ours.2);
        let (text, map) = merge(&theirs, &ours).unwrap();
        let (before, after) = (meanings(&theirs), meanings(&text));
        prop_assert_eq!(&after[..before.len()], &before[..], "theirs keep their numbers");
        for (number, meaning) in meanings(&ours).iter().enumerate() {
            prop_assert_eq!(&after[map.cell(number as u32) as usize], meaning);
        }
        prop_assert_eq!(merge(&text, &ours).unwrap().0, text, "the next week adds nothing");
    }
}
