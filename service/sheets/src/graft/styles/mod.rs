//! Our formats beside theirs, in one styles part.
//!
//! In:  the text of their styles part and of ours. Out: theirs with ours at the end of each list, and where each of ours is
//! now. Keeps: changed by addition alone, in the order of the schema (`theirs_stays_and_ours_is_added_at_the_end`); a format
//! that is there already is used again, so that nothing piles up week by week (`a_second_week_adds_nothing`).
//! Source: ECMA-376 part 1, 18.8. Not here: cells that use the formats (`rewrite`).

mod canon;
mod pool;

use super::error::GraftError;
use super::outline::{Node, Outline, must_be_main};
use super::splice::{Edits, escaped};
use canon::Look;
use pool::Pool;
use std::collections::HashMap;
use std::fmt::Write;

/// Children of a styles part, in the order of the schema.
const ORDER: [&str; 11] = [
    "numFmts",
    "fonts",
    "fills",
    "borders",
    "cellStyleXfs",
    "cellXfs",
    "cellStyles",
    "dxfs",
    "tableStyles",
    "colors",
    "extLst",
];

/// Cell formats that a workbook may have. Source: limits that the most used spreadsheet program publishes.
const MOST_FORMATS: u32 = 64_000;
/// First number of a number format that is not built in.
const FIRST_OWN_FORMAT: u32 = 164;

/// Where our formats are now.
#[derive(Debug, Clone, Default)]
pub(super) struct StyleMap {
    cells: Vec<u32>,
    rules: Vec<u32>,
}

impl StyleMap {
    /// The new number of a cell format.
    pub(super) fn cell(&self, ours: u32) -> u32 {
        new_number(&self.cells, ours)
    }

    /// Whether every number stays.
    pub(super) fn is_as_before(&self) -> bool {
        (0..).zip(&self.cells).all(|(old, new): (u32, &u32)| old == *new)
    }

    #[cfg(test)]
    pub(super) fn of(cells: &[u32], rules: &[u32]) -> Self {
        StyleMap { cells: cells.to_vec(), rules: rules.to_vec() }
    }

    /// The new number of a format of conditions and tables.
    pub(super) fn rule(&self, ours: u32) -> u32 {
        new_number(&self.rules, ours)
    }
}

/// An empty map changes nothing: our styles part was taken as it is.
fn new_number(map: &[u32], ours: u32) -> u32 {
    if map.is_empty() { ours } else { map.get(ours as usize).copied().unwrap_or(0) }
}

/// Puts ours beside theirs.
pub(super) fn merge(theirs: &str, ours: &str) -> Result<(String, StyleMap), GraftError> {
    let theirs = &opened(theirs)?;
    let their_outline = Outline::of(theirs, 2)?;
    must_be_main(&their_outline)?;
    let our_outline = Outline::of(ours, 2)?;
    let mut merging = Merging::new(&their_outline, &our_outline)?;
    let map = merging.run()?;
    if merging.formats.len() > MOST_FORMATS {
        return Err(GraftError::TooManyFormats);
    }
    Ok((merging.edits().apply(theirs), map))
}

/// The text with a root that can take children, where it is one tag.
fn opened(text: &str) -> Result<String, GraftError> {
    let outline = Outline::of(text, 0)?;
    let mut edits = Edits::default();
    if outline.root().is_one_tag() {
        edits.append(&outline, outline.root(), "\n");
    }
    Ok(edits.apply(text))
}

/// The lists of both while they become one.
struct Merging<'t, 'o> {
    theirs: &'o Outline<'t>,
    ours: &'o Outline<'t>,
    numbers: NumberFormats,
    fonts: Pool,
    fills: Pool,
    borders: Pool,
    rules: Pool,
    formats: Pool,
    base: Option<String>,
}

impl<'t, 'o> Merging<'t, 'o> {
    fn new(theirs: &'o Outline<'t>, ours: &'o Outline<'t>) -> Result<Self, GraftError> {
        let formats = looks(theirs, "cellXfs", "xf")?.into_iter().map(|(look, _)| format_text(look));
        Ok(Merging {
            numbers: NumberFormats::of(theirs),
            fonts: pool_of(theirs, "fonts", "font")?,
            fills: pool_of(theirs, "fills", "fill")?,
            borders: pool_of(theirs, "borders", "border")?,
            rules: pool_of(theirs, "dxfs", "dxf")?,
            formats: Pool::new(formats),
            base: base_style(theirs),
            theirs,
            ours,
        })
    }

    fn run(&mut self) -> Result<StyleMap, GraftError> {
        let (prefix, ours) = (self.theirs.prefix(), self.ours);
        let numbers = self.numbers.place_all(ours, prefix);
        let fonts = place_all(ours, "fonts", "font", prefix, &mut self.fonts)?;
        let fills = place_all(ours, "fills", "fill", prefix, &mut self.fills)?;
        let borders = place_all(ours, "borders", "border", prefix, &mut self.borders)?;
        let rules = place_all(ours, "dxfs", "dxf", prefix, &mut self.rules)?;
        let mut cells = Vec::new();
        for (mut look, inner) in looks(ours, "cellXfs", "xf")? {
            let number = look.number("numFmtId");
            set(&mut look, "numFmtId", *numbers.get(&number).unwrap_or(&number));
            for (key, map) in [("fontId", &fonts), ("fillId", &fills), ("borderId", &borders)] {
                let place = map.get(look.number(key) as usize).copied().unwrap_or(0);
                set(&mut look, key, place);
            }
            look.attributes.retain(|(key, _)| key != "xfId");
            look.attributes.extend(self.base.clone().map(|id| ("xfId".to_owned(), id)));
            let xml = format_xml(&look, prefix, &inner);
            cells.push(self.formats.place(format_text(look), || xml));
        }
        Ok(StyleMap { cells, rules })
    }

    fn edits(&self) -> Edits {
        let mut edits = Edits::default();
        let lists = [
            ("numFmts", self.numbers.added.as_str(), self.numbers.len()),
            ("fonts", &self.fonts.added, self.fonts.len()),
            ("fills", &self.fills.added, self.fills.len()),
            ("borders", &self.borders.added, self.borders.len()),
            ("cellXfs", &self.formats.added, self.formats.len()),
            ("dxfs", &self.rules.added, self.rules.len()),
        ];
        for (list, added, n_items) in lists.into_iter().filter(|(_, added, _)| !added.is_empty()) {
            let count = self.theirs.part(list).and_then(|node| self.theirs.raw_attribute(node, "count"));
            if let Some(place) = count {
                edits.replace(place, n_items.to_string());
            }
            edits.append_in(self.theirs, &ORDER, list, added);
        }
        edits
    }
}

/// Number formats that every program knows by number, as far as ours use them; programs write them so when they save.
const BUILT_IN: [(&str, u32); 8] =
    [("General", 0), ("0", 1), ("0.00", 2), ("#,##0", 3), ("#,##0.00", 4), ("0%", 9), ("0.00%", 10), ("@", 49)];

/// Number formats by their code.
#[derive(Default)]
struct NumberFormats {
    ids: HashMap<String, u32>,
    n_items: u32,
    next: u32,
    added: String,
}

impl NumberFormats {
    fn of(theirs: &Outline<'_>) -> Self {
        let mut formats = NumberFormats { next: FIRST_OWN_FORMAT, ..NumberFormats::default() };
        for (id, code) in number_formats(theirs) {
            formats.ids.entry(code).or_insert(id);
            formats.next = formats.next.max(id.saturating_add(1));
            formats.n_items += 1;
        }
        formats
    }

    fn len(&self) -> u32 {
        self.n_items
    }

    /// The new number of each of our own formats.
    fn place_all(&mut self, ours: &Outline<'_>, prefix: &str) -> HashMap<u32, u32> {
        number_formats(ours).into_iter().map(|(id, code)| (id, self.place(code, prefix))).collect()
    }

    fn place(&mut self, code: String, prefix: &str) -> u32 {
        let built_in = BUILT_IN.iter().find(|(built_in, _)| *built_in == code);
        if let (Some((_, id)), false) = (built_in, self.ids.contains_key(&code)) {
            return *id;
        }
        let next = self.next;
        let text = escaped(&code);
        *self.ids.entry(code).or_insert_with(|| {
            self.next += 1;
            self.n_items += 1;
            // Writing to a string cannot fail.
            _ = write!(self.added, "<{prefix}numFmt numFmtId=\"{next}\" formatCode=\"{text}\"/>");
            next
        })
    }
}

fn number_formats(outline: &Outline<'_>) -> Vec<(u32, String)> {
    let Some(list) = outline.part("numFmts") else { return Vec::new() };
    let entry = |node: &Node| {
        let id = outline.attribute(node, "numFmtId")?.trim().parse().ok()?;
        Some((id, outline.attribute(node, "formatCode")?))
    };
    outline.children(list, "numFmt").filter_map(entry).collect()
}

/// Items of a list, taken apart, with what stands between their tags.
fn looks(outline: &Outline<'_>, list: &str, item: &str) -> Result<Vec<(Look, String)>, GraftError> {
    let Some(parent) = outline.part(list) else { return Ok(Vec::new()) };
    let prefix = outline.prefix();
    let look = |node: &Node| {
        let inner = outline.text[node.inner.clone()].to_owned();
        Ok((Look::of(&outline.text[node.whole.clone()], prefix)?, inner))
    };
    outline.children(parent, item).map(look).collect()
}

fn pool_of(outline: &Outline<'_>, list: &str, item: &str) -> Result<Pool, GraftError> {
    Ok(Pool::new(looks(outline, list, item)?.into_iter().map(|(look, _)| look.text())))
}

fn place_all(
    ours: &Outline<'_>,
    list: &str,
    item: &str,
    prefix: &str,
    pool: &mut Pool,
) -> Result<Vec<u32>, GraftError> {
    let Some(parent) = ours.part(list) else { return Ok(Vec::new()) };
    let place = |node: &Node| {
        let fragment = &ours.text[node.whole.clone()];
        Ok(pool.place(Look::of(fragment, ours.prefix())?.text(), || with_prefix(fragment, prefix)))
    };
    ours.children(parent, item).map(place).collect()
}

/// The cell style that all formats begin with, where the workbook has cell styles at all.
fn base_style(theirs: &Outline<'_>) -> Option<String> {
    let bases = theirs.part("cellStyleXfs")?;
    theirs.children(bases, "xf").next()?;
    let styles = theirs.part("cellStyles").map(|list| theirs.children(list, "cellStyle"));
    let normal = styles.and_then(|mut list| list.find(|s| theirs.attribute(s, "builtinId").as_deref() == Some("0")));
    Some(normal.and_then(|s| theirs.attribute(s, "xfId")).unwrap_or_else(|| "0".to_owned()))
}

/// A cell format as it is compared: whether a part of it is said to apply changes nothing in a cell.
fn format_text(mut look: Look) -> String {
    look.attributes.retain(|(key, _)| !key.starts_with("apply"));
    if look.attribute("xfId").is_none() {
        set(&mut look, "xfId", 0);
    }
    look.text()
}

fn format_xml(look: &Look, prefix: &str, inner: &str) -> String {
    let mut attributes = String::new();
    for (key, value) in &look.attributes {
        // Writing to a string cannot fail.
        _ = write!(attributes, " {key}=\"{}\"", escaped(value));
    }
    if inner.is_empty() {
        return format!("<{prefix}xf{attributes}/>");
    }
    format!("<{prefix}xf{attributes}>{}</{prefix}xf>", with_prefix(inner, prefix))
}

fn set(look: &mut Look, key: &str, value: u32) {
    match look.attributes.iter_mut().find(|(k, _)| k == key) {
        Some((_, held)) => *held = value.to_string(),
        None => look.attributes.push((key.to_owned(), value.to_string())),
    }
}

/// Elements of ours, which have no prefix, with the prefix of theirs.
fn with_prefix(fragment: &str, prefix: &str) -> String {
    if prefix.is_empty() {
        return fragment.to_owned();
    }
    fragment.replace("</", "\u{0}").replace('<', &format!("<{prefix}")).replace('\u{0}', &format!("</{prefix}"))
}

#[cfg(test)]
mod tests;
