//! Formats of cells in the written workbook, and texts that must stay texts.
//! Not here: what stands in the cells (`mod`), paper and tables (`paper`).

use super::*;

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
    let n_pages: usize =
        sample::plan().tickets.iter().map(|t| ticket_page::lay_out(t, ticket_page::PicturesAs::Shapes).len()).sum();
    assert_eq!(small, n_pages, "only the form code of each page is smaller");
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
pub(super) fn attribute<'x>(xml: &'x str, key: &str) -> Option<&'x str> {
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
