//! Everything that is decided before the first byte is written.
//!
//! In:  both workbooks, opened. Out: what becomes of each part of theirs, which parts of ours come, with which names and formats.
//! Not here: copying (`copy`), the single decisions (their own files).

use super::attach::{NewSheet, attach};
use super::book::Book;
use super::calc_chain;
use super::error::GraftError;
use super::mark::{LastWeek, last_week};
use super::naming::Taken;
use super::ours::{self, Moving, relation_parts, shared_strings};
use super::outline::Outline;
use super::package::key;
use super::relations::{self, new_ids, reached, relations_part};
use super::retarget::Renames;
use super::splice::{Edits, escaped};
use super::styles::{self, StyleMap};
use super::tables::{self, tables};
use super::types;
use super::{names, naming};
use crate::write::mark_of;
use std::collections::{HashMap, HashSet};

const RELATION: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
const STYLES_TYPE: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml";

/// What becomes of a part of theirs that is not copied as it is.
#[derive(Debug)]
pub(super) enum Fate {
    /// It goes.
    Dropped,
    /// It is changed to these bytes.
    Changed(Vec<u8>),
}

/// All decisions.
#[derive(Debug)]
pub(super) struct Decided {
    /// By the part's place in theirs.
    pub fates: HashMap<usize, Fate>,
    /// Parts of ours.
    pub moving: Vec<Moving>,
    /// New parts of a few bytes: name and content.
    pub small: Vec<(String, Vec<u8>)>,
    pub styles: StyleMap,
    pub renames: Renames,
    pub strings: Vec<String>,
    /// Our sheets that had to take another name: old and new.
    pub renamed: Vec<(String, String)>,
}

/// Decides everything.
pub(super) fn decide(theirs: &mut Book<'_>, ours: &mut Book<'_>) -> Result<Decided, GraftError> {
    let week = last_week(theirs, &workbook_names(ours));
    let gone = parts_that_go(theirs, &week)?;
    let goes = |part: &str| gone.contains(&key(part));
    let (sheet_names, mut renames) = name_sheets(theirs, ours, &week);
    let their_tables = tables(theirs, goes)?;
    let mut taken = taken_words(theirs, &week, &their_tables.names);
    names::settle(&ours.names, &mut taken, &mut renames);
    let folder = theirs.part.rsplit_once('/').map_or_else(String::new, |(folder, _)| format!("{folder}/"));
    let is_taken = |name: &str| !goes(name) && (theirs.package.has(name) || theirs.types.names(name));
    let mut moving = ours::moving(ours, &format!("{folder}worksheets/"), is_taken).map_err(of_ours)?;
    tables::settle(ours, &mut moving, &their_tables, &mut taken, &mut renames).map_err(of_ours)?;
    let strings = shared_strings(ours).map_err(of_ours)?;

    let renamed: Vec<(String, String)> = ours.sheets.iter().map(|s| s.name.clone()).zip(sheet_names).collect();
    let leaving = relations_that_go(theirs, &week);
    let mut parts =
        Parts { theirs, leaving, fates: HashMap::new(), small: Vec::new(), added: Vec::new(), related: Vec::new() };
    let styles = parts.take_styles(ours, &folder)?;
    parts.take_sheets(&moving);
    parts.take_workbook(ours, &week, &renamed, &renames)?;
    let chain = parts.take_calc_chain(&week)?;
    parts.close(&gone, chain.as_deref())?;
    let Parts { fates, small, .. } = parts;
    let renamed = renamed.into_iter().filter(|(old, new)| old != new).collect();
    Ok(Decided { fates, moving, small, styles, renames, strings, renamed })
}

/// A fault in our own workbook is ours.
pub(super) fn of_ours(error: GraftError) -> GraftError {
    if error.is_refusal() { GraftError::Ours(error.to_string()) } else { error }
}

fn workbook_names(book: &Book<'_>) -> HashSet<String> {
    book.names.iter().filter(|n| n.scope.is_none()).map(|n| n.name.to_lowercase()).collect()
}

/// Parts that only last week's sheets needed, and their lists of relationships.
fn parts_that_go(theirs: &mut Book<'_>, week: &LastWeek) -> Result<HashSet<String>, GraftError> {
    let old: Vec<String> = week.sheets.iter().filter_map(|(idx, _)| theirs.sheets[*idx].part.clone()).collect();
    if old.is_empty() {
        return Ok(HashSet::new());
    }
    let cut: HashSet<String> = old.iter().map(|part| key(part)).collect();
    let roots: Vec<String> = theirs.root_relations.iter().filter_map(|r| r.part.clone()).collect();
    let kept = reached(&mut theirs.package, roots, &cut)?;
    let gone = reached(&mut theirs.package, old, &HashSet::new())?;
    let gone = gone.into_iter().filter(|part| !kept.contains(part));
    Ok(gone.flat_map(|part| [key(&relations_part(&part)), part]).collect())
}

/// Relationships that lead to last week's sheets.
fn relations_that_go(theirs: &Book<'_>, week: &LastWeek) -> HashSet<String> {
    week.sheets.iter().filter_map(|(idx, _)| theirs.sheets[*idx].relation.clone()).collect()
}

/// What our sheets are called: as last week where they are replaced, else as we call them, else with a number.
fn name_sheets(theirs: &Book<'_>, ours: &Book<'_>, week: &LastWeek) -> (Vec<String>, Renames) {
    let kept = theirs.sheets.iter().enumerate().filter(|(idx, _)| !week.holds(*idx));
    let mut taken = Taken::of(kept.map(|(_, sheet)| sheet.name.as_str()));
    let mut renames = Renames::default();
    let names = ours.sheets.iter().map(|sheet| {
        let before = week.sheets.iter().find(|(_, key)| key_of(&sheet.name) == *key);
        let before =
            before.and_then(|(idx, _)| theirs.sheets.get(*idx)).map_or(sheet.name.as_str(), |s| s.name.as_str());
        let name = taken.sheet(before, &sheet.name);
        renames.sheet(&sheet.name, &name);
        name
    });
    (names.collect(), renames)
}

/// Key of what a sheet shows, as its mark carries it, in lower case.
fn key_of(sheet: &str) -> String {
    mark_of(sheet)[crate::write::SHEET_MARK.len()..].to_lowercase()
}

/// Words that defined names and tables of ours may not take; a name for one sheet takes nothing from the workbook.
fn taken_words(theirs: &Book<'_>, week: &LastWeek, tables: &[String]) -> Taken {
    let names = theirs.names.iter().enumerate().filter(|(idx, n)| n.scope.is_none() && !week.names.contains(idx));
    Taken::of(names.map(|(_, n)| n.name.as_str()).chain(tables.iter().map(String::as_str)))
}

/// The parts of theirs that change, while it is decided how.
struct Parts<'p, 'b> {
    theirs: &'p mut Book<'b>,
    /// Ids of relationships of the workbook that go.
    leaving: HashSet<String>,
    fates: HashMap<usize, Fate>,
    small: Vec<(String, Vec<u8>)>,
    /// New parts with their content types.
    added: Vec<(String, String)>,
    /// New relationships of the workbook: id, type, part.
    related: Vec<(String, String, String)>,
}

impl Parts<'_, '_> {
    fn change(&mut self, part: &str, bytes: Vec<u8>) {
        if let Some(part_idx) = self.theirs.package.find(part) {
            self.fates.insert(part_idx, Fate::Changed(bytes));
        }
    }

    fn next_id(&self) -> String {
        let stay = self.theirs.relations.iter().filter(|r| !self.leaving.contains(&r.id)).map(|r| r.id.as_str());
        new_ids(stay.chain(self.related.iter().map(|(id, ..)| id.as_str()))).next().unwrap_or_default()
    }

    fn relate(&mut self, kind: &str, part: &str) -> String {
        let id = self.next_id();
        self.related.push((id.clone(), format!("{RELATION}/{kind}"), part.to_owned()));
        id
    }

    /// Theirs with ours added; or ours as it is where they have none.
    fn take_styles(&mut self, ours: &mut Book<'_>, folder: &str) -> Result<StyleMap, GraftError> {
        let our_part = ours.related("styles").map(str::to_owned);
        let our_text = our_part.and_then(|part| ours.package.text_of(&part).transpose()).transpose();
        let Some(our_text) = our_text.map_err(of_ours)? else { return Ok(StyleMap::default()) };
        let part = self.theirs.related("styles").map(str::to_owned).filter(|part| self.theirs.package.has(part));
        if let Some(part) = part
            && let Some(text) = self.theirs.package.text_of(&part)?
        {
            let (merged, map) = styles::merge(&text.text, &our_text.text)?;
            if merged != text.text {
                self.change(&part, text.encode(&merged));
            }
            return Ok(map);
        }
        let name = format!("{folder}styles.xml");
        let name =
            if self.theirs.package.has(&name) { naming::part(&name, |n| self.theirs.package.has(n)) } else { name };
        self.relate("styles", &name);
        self.added.push((name.clone(), STYLES_TYPE.to_owned()));
        self.small.push((name, our_text.text.into_bytes()));
        Ok(StyleMap::default())
    }

    fn take_sheets(&mut self, moving: &[Moving]) {
        self.added.extend(moving.iter().map(|m| (m.new_name.clone(), m.content_type.clone())));
        for (name, content_type, text) in relation_parts(moving) {
            self.added.push((name.clone(), content_type));
            self.small.push((name, text.into_bytes()));
        }
        for sheet in moving.iter().filter(|m| m.content_type == ours::SHEET_TYPE) {
            self.relate("worksheet", &sheet.new_name);
        }
    }

    fn take_workbook(
        &mut self,
        ours: &Book<'_>,
        week: &LastWeek,
        sheets: &[(String, String)],
        renames: &Renames,
    ) -> Result<(), GraftError> {
        let ids = self.related.iter().filter(|(_, kind, _)| kind.ends_with("/worksheet")).map(|(id, ..)| id);
        let new = ids.zip(sheets).map(|(id, (old, new))| NewSheet {
            name: new.clone(),
            key: key_of(old),
            relation: id.clone(),
        });
        let new: Vec<NewSheet> = new.collect();
        let first = self.theirs.sheets.len() - week.sheets.len();
        let elements = |prefix: &str| names::elements(&ours.names, first, renames, prefix);
        let text = attach(self.theirs, week, &new, elements)?;
        let (part, bytes) = (self.theirs.part.clone(), self.theirs.text.encode(&text));
        self.change(&part, bytes);
        Ok(())
    }

    /// The order of calculation without cells of sheets that go; its name where nothing is left of it.
    fn take_calc_chain(&mut self, week: &LastWeek) -> Result<Option<String>, GraftError> {
        let ids: HashSet<u32> = week.sheets.iter().map(|(idx, _)| self.theirs.sheets[*idx].id).collect();
        let part = self.theirs.related("calcChain").filter(|_| !ids.is_empty()).map(str::to_owned);
        let Some(part) = part else { return Ok(None) };
        let Some(text) = self.theirs.package.text_of(&part)? else { return Ok(None) };
        let Some(left) = calc_chain::without(&text.text, &ids)? else { return Ok(Some(part)) };
        if left != text.text {
            self.change(&part, text.encode(&left));
        }
        Ok(None)
    }

    /// Relationships and content types, and what goes.
    fn close(&mut self, gone: &HashSet<String>, chain: Option<&str>) -> Result<(), GraftError> {
        let dropped: Vec<String> = gone.iter().cloned().chain(chain.map(key)).collect();
        for part_idx in dropped.iter().filter_map(|part| self.theirs.package.find(part)) {
            self.fates.insert(part_idx, Fate::Dropped);
        }
        let text = self.relations_text(chain.is_some())?;
        let bytes = self.theirs.relations_text.encode(&text);
        self.change(&relations_part(&self.theirs.part.clone()), bytes);
        let text = self.theirs.types.change(&self.theirs.types_text.text, &self.added, &dropped)?;
        let bytes = self.theirs.types_text.encode(&text);
        self.change(types::PART, bytes);
        Ok(())
    }

    fn relations_text(&self, chain_goes: bool) -> Result<String, GraftError> {
        let text = &self.theirs.relations_text.text;
        let outline = Outline::of(text, 1)?;
        let mut edits = Edits::default();
        let goes = |r: &relations::Relation| self.leaving.contains(&r.id) || (chain_goes && r.is("calcChain"));
        for relation in self.theirs.relations.iter().filter(|r| goes(r)) {
            edits.remove(relation.whole.clone());
        }
        let prefix = outline.prefix();
        let element = |(id, kind, part): &(String, String, String)| {
            format!("<{prefix}Relationship Id=\"{id}\" Type=\"{kind}\" Target=\"/{}\"/>", escaped(part))
        };
        edits.append(&outline, outline.root(), &self.related.iter().map(element).collect::<String>());
        Ok(edits.apply(text))
    }
}
