//! What the workbook part says: sheets, defined names, and how to reach the rest.
//!
//! In:  a package. Out: its workbook part with sheets, names, relationships and content types; the part is found by the package's
//! relationships, never by its usual name. Used for the staff's workbook and for ours.
//! Not here: which workbooks are left alone (`refuse`), which sheets are ours (`mark`).

use super::coding::PartText;
use super::error::GraftError;
use super::outline::{Outline, must_be_main};
use super::package::{GraftLimits, Package};
use super::refuse::declared_form;
use super::relations::{self, Relation};
use super::types::{self, Types};
use std::ops::Range;

/// A sheet as the workbook lists it.
#[derive(Debug, Clone)]
pub(super) struct SheetEntry {
    /// Name.
    pub name: String,
    /// Number that the workbook gave it.
    pub id: u32,
    /// Its part, where there is one.
    pub part: Option<String>,
    /// Its relationship.
    pub relation: Option<String>,
    /// Where the entry stands.
    pub whole: Range<usize>,
}

/// A defined name.
#[derive(Debug, Clone)]
pub(super) struct DefinedName {
    /// Name.
    pub name: String,
    /// Place in the list of sheets of the one sheet that it is for.
    pub scope: Option<usize>,
    /// Place of the attribute that says so.
    pub scope_place: Option<Range<usize>>,
    /// What it stands for.
    pub content: String,
    /// Whether lists of names leave it out.
    pub is_hidden: bool,
    /// Where it stands.
    pub whole: Range<usize>,
}

/// A package with its workbook part looked at.
#[derive(Debug)]
pub(super) struct Book<'b> {
    pub package: Package<'b>,
    pub types_text: PartText,
    pub types: Types,
    pub root_relations: Vec<Relation>,
    /// Name of the workbook part.
    pub part: String,
    pub text: PartText,
    pub relations_text: PartText,
    pub relations: Vec<Relation>,
    pub sheets: Vec<SheetEntry>,
    pub names: Vec<DefinedName>,
}

impl<'b> Book<'b> {
    /// Opens a workbook.
    pub(super) fn open(bytes: &'b [u8], limits: GraftLimits) -> Result<Self, GraftError> {
        let mut package = Package::open(bytes, limits)?;
        let types_text = package.text_of(types::PART)?.ok_or(GraftError::NotAWorkbook)?;
        let types = Types::read(&types_text.text)?;
        let root_relations = relations::of_part(&mut package, "")?;
        let part = workbook_part(&package, &root_relations)?;
        declared_form(&types, &part)?;
        let missing = || GraftError::damaged("its workbook part is missing");
        let text = package.text_of(&part)?.ok_or_else(missing)?;
        let relations_text = package.text_of(&relations::relations_part(&part))?.ok_or_else(missing)?;
        let relations = relations::read(&relations_text.text, &part)?;
        let outline = Outline::of(&text.text, 2)?;
        must_be_main(&outline)?;
        let sheets = sheets(&outline, &relations)?;
        let names = names(&outline);
        Ok(Book { package, types_text, types, root_relations, part, text, relations_text, relations, sheets, names })
    }

    /// The part that a relationship of the workbook leads to, by the last word of its type.
    pub(super) fn related(&self, kind: &str) -> Option<&str> {
        self.relations.iter().find(|r| r.is(kind)).and_then(|r| r.part.as_deref())
    }
}

fn workbook_part(package: &Package<'_>, root: &[Relation]) -> Result<String, GraftError> {
    let main = root.iter().find(|r| r.is("officeDocument")).ok_or(GraftError::NotAWorkbook)?;
    if main.kind.starts_with("http://purl.oclc.org/") {
        return Err(GraftError::Strict);
    }
    let place = main.part.as_deref().and_then(|part| package.find(part));
    // The name as the package writes it, so that parts beside it lie in the same folder.
    let name = place.and_then(|idx| package.names().get(idx));
    name.map(|n| n.replace('\\', "/")).ok_or_else(|| GraftError::damaged("its workbook part is missing"))
}

fn sheets(outline: &Outline<'_>, relations: &[Relation]) -> Result<Vec<SheetEntry>, GraftError> {
    let list = outline.part("sheets").ok_or_else(|| GraftError::damaged("it lists no sheets"))?;
    let entry = |node: &super::outline::Node| {
        let relation = relations.iter().find(|r| Some(&r.id) == node.relation.as_ref());
        SheetEntry {
            name: outline.attribute(node, "name").unwrap_or_default(),
            id: outline.attribute(node, "sheetId").and_then(|id| id.trim().parse().ok()).unwrap_or(0),
            part: relation.and_then(|r| r.part.clone()),
            relation: node.relation.clone(),
            whole: node.whole.clone(),
        }
    };
    Ok(outline.children(list, "sheet").map(entry).collect())
}

fn names(outline: &Outline<'_>) -> Vec<DefinedName> {
    let Some(list) = outline.part("definedNames") else { return Vec::new() };
    let entry = |node: &super::outline::Node| DefinedName {
        name: outline.attribute(node, "name").unwrap_or_default(),
        scope: outline.attribute(node, "localSheetId").and_then(|id| id.trim().parse().ok()),
        scope_place: outline.raw_attribute(node, "localSheetId"),
        content: outline.content(node),
        is_hidden: outline.is_on(node, "hidden"),
        whole: node.whole.clone(),
    };
    outline.children(list, "definedName").map(entry).collect()
}
