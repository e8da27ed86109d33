//! Who may be the same child, over all sheets: told, and settled only where nothing else can be meant.
//!
//! In:  the sheets and the students known before. Out: ids told apart or joined, and findings. Without an id column, one name in two
//! classes is two children (`one_name_in_two_classes_is_two_children`). An id that lost its zeros is given them back where exactly one
//! id fits and the name agrees (`lost_zeros_come_back_where_the_name_agrees`). Names that differ in accents, case or order alone are
//! offered as one child and never joined (`names_alike_are_offered`).
//! Not here: the same student twice in one check (`merge`).

use super::merge::{self, NamedSheet};
use super::words::plain;
use sheaf_core::finding::Finding;
use sheaf_core::roster::Student;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

/// Tells children apart and joins what lost its zeros.
pub fn tell_apart(sheets: &mut [NamedSheet], known: &[Student]) -> Vec<Finding> {
    let mut findings = Vec::new();
    if sheets.iter().any(|s| !s.table.has_ids) {
        findings.extend(by_class(sheets));
        findings.extend(alike(sheets));
    }
    if sheets.len() > 1 || !known.is_empty() || sheets.iter().any(has_ids_of_several_lengths) {
        findings.extend(give_zeros_back(sheets, known));
    }
    findings
}

/// A name by its words, whatever their order, case and accents.
fn name_key(name: &str) -> String {
    let mut words: Vec<String> =
        name.split(|c: char| !c.is_alphanumeric()).map(plain).filter(|w| !w.is_empty()).collect();
    // A combining mark parts a word for `is_alphanumeric`: names in such spellings are compared whole.
    if !name.is_ascii() {
        words = name.split([' ', ',', '\u{a0}']).map(plain).filter(|w| !w.is_empty()).collect();
    }
    words.sort_unstable();
    words.join(" ")
}

/// One name in two classes.
fn by_class(sheets: &mut [NamedSheet]) -> Vec<Finding> {
    let mut classes: HashMap<String, BTreeSet<String>> = HashMap::new();
    for student in sheets.iter().filter(|s| !s.table.has_ids).flat_map(|s| &s.table.students) {
        if !student.homeroom.is_empty() {
            classes.entry(student.id.clone()).or_default().insert(plain(&student.homeroom));
        }
    }
    let mut findings = Vec::new();
    for sheet in sheets.iter_mut().filter(|s| !s.table.has_ids) {
        let mut notes = merge::notes(&sheet.file, &sheet.sheet, sheet.is_turned);
        for student in &mut sheet.table.students {
            let is_shared = classes.get(&student.id).is_some_and(|c| c.len() > 1);
            if is_shared && !student.homeroom.is_empty() {
                let message =
                    format!("Two classes have a child of the name in {}, and there is no id.", notes.line(student.row));
                student.id = format!("{} ({})", student.name, student.homeroom);
                notes.warn(
                    "name-in-two-classes",
                    notes.place(student.row, sheet.table.who_column),
                    message,
                    "taken as two children; the class stands behind the name",
                );
            }
        }
        findings.extend(notes.into_findings());
    }
    findings
}

/// Names that differ in accents, case or order alone.
fn alike(sheets: &[NamedSheet]) -> Vec<Finding> {
    let mut first: HashMap<String, String> = HashMap::new();
    let mut told: HashSet<String> = HashSet::new();
    let mut findings = Vec::new();
    for sheet in sheets.iter().filter(|s| !s.table.has_ids) {
        let mut notes = sheet.notes();
        for student in &sheet.table.students {
            let key = name_key(&student.id);
            let other = first.entry(key).or_insert_with(|| student.id.clone());
            if *other != student.id && told.insert(student.id.clone()) {
                let message = format!(
                    "The name in {} is spelt like another one but for accents, case or order.",
                    notes.line(student.row)
                );
                notes.warn(
                    "name-alike",
                    notes.place(student.row, sheet.table.who_column),
                    message,
                    "kept as two children; give both the same name or id if they are one",
                );
            }
        }
        findings.extend(notes.into_findings());
    }
    findings
}

/// Whether some ids of digits begin with zeros and others are shorter, so that these may have lost theirs.
fn has_ids_of_several_lengths(sheet: &NamedSheet) -> bool {
    let digits = || sheet.table.students.iter().map(|s| s.id.as_str()).filter(|id| digits_of(id).is_some());
    let longest = digits().filter(|id| id.starts_with('0')).map(str::len).max();
    longest.is_some_and(|longest| digits().any(|id| id.len() < longest))
}

/// Ids of digits by what is left without leading zeros: each with the names seen for it.
type ByDigits = HashMap<String, BTreeMap<String, BTreeSet<String>>>;

fn give_zeros_back(sheets: &mut [NamedSheet], known: &[Student]) -> Vec<Finding> {
    let mut ids: ByDigits = HashMap::new();
    for (id, name) in known.iter().map(|s| (s.id.as_str(), &s.name)) {
        note_id(&mut ids, id, name);
    }
    for student in sheets.iter().filter(|s| s.table.has_ids).flat_map(|s| &s.table.students) {
        note_id(&mut ids, &student.id, &student.name);
    }
    ids.retain(|_, forms| forms.len() > 1);
    let mut findings = Vec::new();
    if ids.is_empty() {
        return findings;
    }
    for sheet in sheets.iter_mut().filter(|s| s.table.has_ids) {
        findings.extend(give_back(sheet, &ids));
    }
    findings
}

fn give_back(sheet: &mut NamedSheet, ids: &ByDigits) -> Vec<Finding> {
    let here: HashSet<String> = sheet.table.students.iter().map(|s| s.id.clone()).collect();
    let mut notes = merge::notes(&sheet.file, &sheet.sheet, sheet.is_turned);
    for student in &mut sheet.table.students {
        let Some(forms) = digits_of(&student.id).and_then(|d| ids.get(d)) else { continue };
        let longer: Vec<(&String, &BTreeSet<String>)> =
            forms.iter().filter(|(id, _)| id.len() > student.id.len()).collect();
        let [(whole, names)] = longer[..] else { continue };
        let place = notes.place(student.row, sheet.table.who_column);
        let is_same_name = !student.name.is_empty() && names.contains(&name_key(&student.name));
        if is_same_name && !here.contains(whole) {
            let message = format!("Id {} seems to have lost its zeros: {whole} has the same name.", student.id);
            notes.warn("id-zeros-restored", place, message, &format!("read as {whole}"));
            student.id.clone_from(whole);
        } else {
            let message = format!("Id {} may be {whole} without its zeros.", student.id);
            notes.warn(
                "id-perhaps-without-zeros",
                place,
                message,
                "kept as another child; correct the id if it is the same",
            );
        }
    }
    notes.into_findings()
}

fn note_id(ids: &mut ByDigits, id: &str, name: &str) {
    if let Some(digits) = digits_of(id) {
        let names = ids.entry(digits.to_owned()).or_default().entry(id.to_owned()).or_default();
        names.extend(Some(name_key(name)).filter(|n| !n.is_empty()));
    }
}

fn digits_of(id: &str) -> Option<&str> {
    let digits = id.trim_start_matches('0');
    (!digits.is_empty() && digits.bytes().all(|b| b.is_ascii_digit())).then_some(digits)
}
