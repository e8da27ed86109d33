//! One part of ours on its way into their workbook: formats renumbered, references led to the new names, strings inside cells.
//!
//! In:  the part as the writer made it, event by event. Out: the same with the changes; memory does not grow with its rows.
//! Keeps: every cell names its format, since the workbook's own standard look is not ours
//! (`every_cell_and_column_names_its_format`); no sheet of ours comes selected beside theirs; a link shows the name that its
//! sheet has now (`links_and_formulas_follow_a_new_name`). Not here: parts that are copied as they are (`write`).

use super::error::GraftError;
use super::retarget::Renames;
use super::splice::escaped;
use super::styles::StyleMap;
use quick_xml::events::{BytesStart, Event};
use quick_xml::{Reader, Writer};
use std::borrow::Cow;
use std::collections::HashSet;
use std::fmt::Write as _;
use std::io::{BufRead, Write};

/// What kind of part it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kind {
    /// A sheet.
    Sheet,
    /// A table, with the number and the name that are free for it.
    Table(u32, String),
    /// A chart.
    Chart,
    /// Anything else: copied packed as it is.
    AsIs,
}

/// What changes.
#[derive(Debug)]
pub(super) struct Changes<'c> {
    pub kind: &'c Kind,
    pub styles: &'c StyleMap,
    pub renames: &'c Renames,
    /// Our shared strings, each as the XML inside its element.
    pub strings: &'c [String],
    /// Cells that show the name of the sheet that they lead to.
    pub links: &'c HashSet<String>,
}

/// What is being gathered until its element ends.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Gather {
    Formula,
    LinkText,
    StringNumber,
}

/// Where the reader stands.
#[derive(Debug, Default)]
struct Place {
    gather: Option<(Gather, String)>,
    is_link: bool,
    is_shared: bool,
    scratch: String,
}

fn fault(error: impl std::fmt::Display) -> GraftError {
    GraftError::Ours(error.to_string())
}

/// Copies a part with its changes.
pub(super) fn rewrite(source: impl BufRead, sink: impl Write, changes: &Changes<'_>) -> Result<(), GraftError> {
    let mut reader = Reader::from_reader(source);
    let mut writer = Writer::new(sink);
    let (mut buffer, mut place) = (Vec::new(), Place::default());
    loop {
        buffer.clear();
        let event = reader.read_event_into(&mut buffer).map_err(fault)?;
        if matches!(event, Event::Eof) {
            return Ok(());
        }
        pass_on(event, &mut writer, &mut place, changes)?;
    }
}

fn pass_on<W: Write>(
    event: Event<'_>,
    writer: &mut Writer<W>,
    place: &mut Place,
    changes: &Changes<'_>,
) -> Result<(), GraftError> {
    let sink = |error: std::io::Error| GraftError::Sink(error.to_string());
    match event {
        Event::Start(tag) => {
            let wanted = see(&tag, place, changes);
            if wanted == Some(Gather::StringNumber) {
                writer.get_mut().write_all(b"<is>").map_err(sink)?;
            } else {
                let tag = changed(&tag, &mut place.scratch, changes);
                writer.write_event(Event::Start(tag)).map_err(sink)?;
            }
            place.gather = wanted.map(|gather| (gather, String::new()));
        }
        Event::Empty(tag) => {
            let tag = changed(&tag, &mut place.scratch, changes);
            writer.write_event(Event::Empty(tag)).map_err(sink)?;
        }
        Event::End(tag) => match place.gather.take() {
            Some((Gather::StringNumber, number)) => {
                let string = number.trim().parse::<usize>().ok().and_then(|n| changes.strings.get(n));
                let string = string.ok_or_else(|| GraftError::Ours("a string is missing".to_owned()))?;
                write!(writer.get_mut(), "{string}</is>").map_err(sink)?;
            }
            gathered => {
                if let Some((gather, text)) = gathered {
                    writer.get_mut().write_all(settled(gather, &text, changes)?.as_bytes()).map_err(sink)?;
                }
                writer.write_event(Event::End(tag)).map_err(sink)?;
            }
        },
        Event::Text(text) if place.gather.is_some() => hold(place, &text.into_inner()),
        Event::GeneralRef(name) if place.gather.is_some() => hold(place, &format!("&{};", name.into_inner())),
        other => writer.write_event(other).map_err(sink)?,
    }
    Ok(())
}

fn hold(place: &mut Place, piece: &str) {
    if let Some((_, text)) = &mut place.gather {
        text.push_str(piece);
    }
}

/// Notes what the element means for what follows it, and what is to be gathered inside it.
fn see(tag: &BytesStart<'_>, place: &mut Place, changes: &Changes<'_>) -> Option<Gather> {
    let name = tag.local_name();
    match name.as_ref() {
        "c" if changes.kind == &Kind::Sheet => {
            place.is_shared = attribute(tag, "t").as_deref() == Some("s");
            place.is_link = !changes.links.is_empty()
                && attribute(tag, "r").is_some_and(|address| changes.links.contains(address.as_ref()));
            None
        }
        "v" if place.is_shared => Some(Gather::StringNumber),
        "t" if place.is_link => Some(Gather::LinkText),
        "f" | "formula" | "formula1" | "formula2" | "calculatedColumnFormula" if !changes.renames.is_empty() => {
            Some(Gather::Formula)
        }
        _ => None,
    }
}

fn settled(gather: Gather, raw: &str, changes: &Changes<'_>) -> Result<String, GraftError> {
    let text = quick_xml::escape::unescape(raw).map_err(fault)?;
    Ok(escaped(&match gather {
        Gather::Formula => changes.renames.retarget(&text),
        _ => Cow::Borrowed(changes.renames.of_sheet(&text)),
    }))
}

fn attribute<'t>(tag: &'t BytesStart<'_>, key: &str) -> Option<Cow<'t, str>> {
    tag.attributes().flatten().find(|a| a.key.as_ref() == key).map(|a| a.value)
}

/// The tag with its changes; `scratch` holds its text.
fn changed<'s>(tag: &'s BytesStart<'_>, scratch: &'s mut String, changes: &Changes<'_>) -> BytesStart<'s> {
    let name = tag.name();
    let local = tag.local_name();
    let format = match (changes.kind, local.as_ref()) {
        (Kind::Sheet, "c" | "row") => Some("s"),
        (Kind::Sheet, "col") => Some("style"),
        _ => None,
    };
    scratch.clear();
    scratch.push_str(name.as_ref());
    let mut has_format = false;
    for held in tag.attributes().flatten() {
        let key = held.key.as_ref();
        has_format |= Some(key) == format;
        if let Some(value) = value_now(local.as_ref(), key, &held.value, Some(key) == format, changes) {
            // Writing to a string cannot fail.
            _ = write!(scratch, " {key}=\"{value}\"");
        }
    }
    if let Some(key) = format.filter(|_| !has_format && local.as_ref() != "row") {
        _ = write!(scratch, " {key}=\"{}\"", changes.styles.cell(0));
    }
    BytesStart::from_content(scratch.as_str(), name.as_ref().len())
}

/// What an attribute says now; `None` where it goes.
fn value_now<'v>(
    element: &str,
    key: &str,
    value: &'v str,
    is_format: bool,
    changes: &Changes<'_>,
) -> Option<Cow<'v, str>> {
    if is_format {
        return Some(Cow::Owned(changes.styles.cell(value.parse().unwrap_or(0)).to_string()));
    }
    if key == "dxfId" || key.ends_with("DxfId") {
        return Some(Cow::Owned(changes.styles.rule(value.parse().unwrap_or(0)).to_string()));
    }
    match (changes.kind, element, key) {
        (Kind::Sheet, "sheetView", "tabSelected") => None,
        (Kind::Sheet, "c", "t") if value == "s" => Some(Cow::Borrowed("inlineStr")),
        (Kind::Sheet, "hyperlink", "location") if !changes.renames.is_empty() => {
            let place = quick_xml::escape::unescape(value).unwrap_or(Cow::Borrowed(value));
            Some(Cow::Owned(escaped(&changes.renames.retarget(&place))))
        }
        (Kind::Sheet, "hyperlink", "display") if !changes.renames.is_empty() => {
            let shown = quick_xml::escape::unescape(value).unwrap_or(Cow::Borrowed(value));
            Some(Cow::Owned(escaped(changes.renames.of_sheet(&shown))))
        }
        (Kind::Table(id, _), "table", "id") => Some(Cow::Owned(id.to_string())),
        (Kind::Table(_, name), "table", "name" | "displayName") => Some(Cow::Owned(escaped(name))),
        _ => Some(Cow::Borrowed(value)),
    }
}

/// Cells of a sheet that lead to another sheet of the workbook.
pub(super) fn links(source: impl BufRead) -> Result<HashSet<String>, GraftError> {
    let mut reader = Reader::from_reader(source);
    let (mut buffer, mut cells) = (Vec::new(), HashSet::new());
    loop {
        buffer.clear();
        match reader.read_event_into(&mut buffer).map_err(fault)? {
            Event::Eof => return Ok(cells),
            Event::Start(tag) | Event::Empty(tag) if leads_inside(&tag) => {
                cells.extend(attribute(&tag, "ref").map(Cow::into_owned));
            }
            _ => {}
        }
    }
}

fn leads_inside(tag: &BytesStart<'_>) -> bool {
    tag.local_name().as_ref() == "hyperlink" && attribute(tag, "location").is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rewritten(text: &str, kind: &Kind, renames: &Renames) -> String {
        let links = links(text.as_bytes()).unwrap();
        let strings = ["<t>Ana &amp; Bo</t>".to_owned()];
        let styles = StyleMap::of(&[7, 8], &[4]);
        let mut out = Vec::new();
        let changes = Changes { kind, styles: &styles, renames, strings: &strings, links: &links };
        rewrite(text.as_bytes(), &mut out, &changes).unwrap();
        String::from_utf8(out).unwrap()
    }

    #[test]
    fn every_cell_and_column_names_its_format() {
        let text = "<?xml version=\"1.0\"?>\n<worksheet><sheetView tabSelected=\"1\" workbookViewId=\"0\"/>\
            <cols><col min=\"1\" max=\"2\" width=\"9\"/><col min=\"3\" max=\"3\" style=\"1\"/></cols>\
            <row r=\"1\" s=\"1\"><c r=\"A1\"/><c r=\"B1\" s=\"1\" t=\"s\"><v>0</v></c></row><row r=\"2\"/>\
            <cfRule type=\"x\" dxfId=\"0\"><formula>A1&gt;1</formula></cfRule></worksheet>";
        let expected = "<?xml version=\"1.0\"?>\n<worksheet><sheetView workbookViewId=\"0\"/>\
            <cols><col min=\"1\" max=\"2\" width=\"9\" style=\"7\"/><col min=\"3\" max=\"3\" style=\"8\"/></cols>\
            <row r=\"1\" s=\"8\"><c r=\"A1\" s=\"7\"/><c r=\"B1\" s=\"8\" t=\"inlineStr\"><is><t>Ana &amp; Bo</t></is></c></row><row r=\"2\"/>\
            <cfRule type=\"x\" dxfId=\"4\"><formula>A1&gt;1</formula></cfRule></worksheet>";
        assert_eq!(rewritten(text, &Kind::Sheet, &Renames::default()), expected);
    }

    #[test]
    fn links_and_formulas_follow_a_new_name() {
        let mut renames = Renames::default();
        renames.sheet("Groups", "Groups (2)");
        let text = "<worksheet><c r=\"A1\" s=\"0\"><is><t>Groups</t></is></c><c r=\"A2\" s=\"0\"><is><t>Groups</t></is></c>\
            <c r=\"A3\" s=\"0\"><f>Groups!A1&amp;\"Groups!\"</f><v>0</v></c>\
            <hyperlinks><hyperlink ref=\"A1\" location=\"'Groups'!A1\" display=\"Groups\"/></hyperlinks></worksheet>";
        let expected = "<worksheet><c r=\"A1\" s=\"7\"><is><t>Groups (2)</t></is></c><c r=\"A2\" s=\"7\"><is><t>Groups</t></is></c>\
            <c r=\"A3\" s=\"7\"><f>'Groups (2)'!A1&amp;&quot;Groups!&quot;</f><v>0</v></c>\
            <hyperlinks><hyperlink ref=\"A1\" location=\"'Groups (2)'!A1\" display=\"Groups (2)\"/></hyperlinks></worksheet>";
        assert_eq!(rewritten(text, &Kind::Sheet, &renames), expected);
        let chart = "<c:chart><c:f>Groups!$A$1</c:f></c:chart>";
        assert_eq!(rewritten(chart, &Kind::Chart, &renames), "<c:chart><c:f>'Groups (2)'!$A$1</c:f></c:chart>");
    }

    #[test]
    fn a_table_takes_the_name_that_is_free() {
        let text = "<table id=\"1\" name=\"Table1\" displayName=\"Table1\" headerRowDxfId=\"0\"><tableColumn id=\"1\" name=\"x\"/></table>";
        let expected = "<table id=\"5\" name=\"T2\" displayName=\"T2\" headerRowDxfId=\"4\"><tableColumn id=\"1\" name=\"x\"/></table>";
        assert_eq!(rewritten(text, &Kind::Table(5, "T2".to_owned()), &Renames::default()), expected);
    }
}
