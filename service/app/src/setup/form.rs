//! The setup as fields of a form, and back into the text that the school wrote, comments and order kept.
//!
//! In / out: the text, and fields by name: `groups.min_size`, or `block.0.start` for the first `[[block]]`. A field left empty is a key
//! left out. A list is written with commas, a list of lists with a line each.
//! Keeps: 1. fields that do not change leave the text as it is (`unchanged_fields_change_nothing`)
//!        2. what is read back is what was typed (`fields_come_back_as_typed`)
//!        3. a mistake is found at its field (`a_mistake_is_found_at_its_field`)
//! Not here: whether a value is right: the text is read anew by `parse_school`, which says so.

use super::keys::{Keys, SECTIONS, Written};
use crate::error::{AppError, ErrorKind};
use std::collections::{BTreeMap, BTreeSet};
use toml_edit::{Array, ArrayOfTables, DocumentMut, Item, TableLike, Value, value};

/// Values by name of the field.
pub type Fields = BTreeMap<String, String>;

/// How a value is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A text.
    Words,
    /// A number; a word where one is known, as `auto`.
    Number,
    /// Yes or no.
    YesNo,
    /// One of these.
    OneOf(&'static [&'static str]),
    /// Several texts.
    List,
    /// Several lists.
    Lists,
}

/// How the value of a key is asked for.
#[must_use]
pub fn kind_of(section: &str, key: &str) -> Kind {
    match (section, key) {
        ("groups", "include") => Kind::OneOf(&["need", "all"]),
        ("groups", "within") => Kind::OneOf(&["grade", "homeroom", "all"]),
        ("mastery", "omitted") => Kind::OneOf(&["ignore", "wrong"]),
        ("block" | "busy", "day") => Kind::OneOf(&["Mon", "Tue", "Wed", "Thu", "Fri"]),
        ("staff", "leads") | ("station", "staffed") => Kind::YesNo,
        (_, "keep_apart" | "keep_together") => Kind::Lists,
        (_, "students" | "homerooms" | "blocks" | "skills") => Kind::List,
        (_, "id" | "name" | "start" | "end" | "homeroom" | "student" | "starts") => Kind::Words,
        _ => Kind::Number,
    }
}

/// Every value of a text, by name of its field.
///
/// # Errors
/// [`AppError`] of kind input where the text is not TOML.
pub fn fields_of(text: &str) -> Result<Fields, AppError> {
    let document = read(text)?;
    let mut fields = Fields::new();
    for keys in SECTIONS {
        for (place, table) in tables_of(document.get(keys.section), keys) {
            let given = keys.keys.iter().filter_map(|key| Some((key, table.get(key)?.as_value()?)));
            fields.extend(given.map(|(key, found)| (format!("{place}.{key}"), words_of(found))));
        }
    }
    Ok(fields)
}

/// The text with these values in place of its own; a section without a field among them stays as it is.
///
/// # Errors
/// [`AppError`] of kind input where the text is not TOML.
pub fn text_with(text: &str, fields: &Fields) -> Result<String, AppError> {
    let mut document = read(text)?;
    for keys in SECTIONS {
        let prefix = format!("{}.", keys.section);
        if !fields.keys().any(|name| name.starts_with(&prefix)) {
            continue;
        }
        match keys.written {
            Written::Once => put_section(&mut document, keys, fields),
            Written::Each => put_list(&mut document, keys, fields),
        }
    }
    Ok(document.to_string())
}

/// The field that stands on a line (1-based) of a text: `block.0.start`, or `block.0` for its heading.
#[must_use]
pub fn field_at(text: &str, line: usize) -> Option<String> {
    let mut n_of: BTreeMap<&str, usize> = BTreeMap::new();
    let (mut place, mut key) = (String::new(), String::new());
    for line in text.lines().take(line) {
        let line = line.trim();
        if let Some(name) = line.strip_prefix("[[").and_then(|l| l.split("]]").next()) {
            let n = n_of.entry(name.trim()).or_default();
            (place, key) = (format!("{}.{n}", name.trim()), String::new());
            *n += 1;
        } else if let Some(name) = line.strip_prefix('[').and_then(|l| l.split(']').next()).filter(|n| is_section(n)) {
            (place, key) = (name.trim().to_owned(), String::new());
        } else if let Some((name, _)) = line.split_once('=').filter(|(name, _)| !name.starts_with('#')) {
            key = name.trim().to_owned();
        }
    }
    match (place.is_empty(), key.is_empty()) {
        (true, true) => None,
        (true, false) => Some(key),
        (false, true) => Some(place),
        (false, false) => Some(format!("{place}.{key}")),
    }
}

fn is_section(name: &str) -> bool {
    SECTIONS.iter().any(|s| s.section == name.trim())
}

fn read(text: &str) -> Result<DocumentMut, AppError> {
    let text = text.trim_start_matches('\u{feff}');
    let not_toml =
        |_| AppError::new(ErrorKind::Input, "setup-mistake", "The setup as it stands is no TOML; mend its text.");
    text.parse().map_err(not_toml)
}

/// The tables of a section with the names of their places.
fn tables_of<'a>(item: Option<&'a Item>, keys: &Keys) -> Vec<(String, &'a dyn TableLike)> {
    match (keys.written, item) {
        (Written::Once, Some(item)) => item.as_table_like().map(|t| (keys.section.to_owned(), t)).into_iter().collect(),
        (Written::Each, Some(Item::ArrayOfTables(list))) => {
            let place = |(i, table)| (format!("{}.{i}", keys.section), table as &dyn TableLike);
            list.iter().enumerate().map(place).collect()
        }
        (Written::Each, Some(Item::Value(Value::Array(list)))) => {
            let place = |(i, v): (usize, &'a Value)| {
                Some((format!("{}.{i}", keys.section), v.as_inline_table()? as &dyn TableLike))
            };
            list.iter().enumerate().filter_map(place).collect()
        }
        _ => Vec::new(),
    }
}

fn put_section(document: &mut DocumentMut, keys: &Keys, fields: &Fields) {
    let is_asked =
        keys.keys.iter().any(|key| fields.get(&format!("{}.{key}", keys.section)).is_some_and(|v| !v.is_empty()));
    if is_asked && document.get(keys.section).is_none() {
        document.insert(keys.section, toml_edit::table());
    }
    if let Some(table) = document.get_mut(keys.section).and_then(Item::as_table_like_mut) {
        put_values(table, keys, keys.section, fields);
    }
}

fn put_list(document: &mut DocumentMut, keys: &Keys, fields: &Fields) {
    let old = document.remove(keys.section).and_then(|item| item.into_array_of_tables().ok());
    let mut old: Vec<Option<toml_edit::Table>> =
        old.map(|list| list.into_iter().map(Some).collect()).unwrap_or_default();
    let prefix = format!("{}.", keys.section);
    let number = |name: &String| name.strip_prefix(&prefix)?.split('.').next()?.parse::<usize>().ok();
    let numbers: BTreeSet<usize> = fields.keys().filter_map(number).collect();
    let mut list = ArrayOfTables::new();
    for n in numbers {
        let place = format!("{prefix}{n}");
        let is_empty =
            keys.keys.iter().all(|key| fields.get(&format!("{place}.{key}")).is_none_or(|v| v.trim().is_empty()));
        if is_empty {
            continue;
        }
        let mut table = old.get_mut(n).and_then(Option::take).unwrap_or_default();
        put_values(&mut table, keys, &place, fields);
        list.push(table);
    }
    if !list.is_empty() {
        document.insert(keys.section, Item::ArrayOfTables(list));
    }
}

/// Sets what is given, removes what is left empty, and leaves alone what is as it was.
fn put_values(table: &mut dyn TableLike, keys: &Keys, place: &str, fields: &Fields) {
    for key in keys.keys {
        let Some(typed) = fields.get(&format!("{place}.{key}")).map(|v| v.trim()) else { continue };
        let now = table.get(key).and_then(Item::as_value).map(words_of);
        if now.as_deref() == Some(typed) {
            continue;
        }
        if typed.is_empty() {
            table.remove(key);
        } else {
            let new = value_of(kind_of(keys.section, key), typed);
            match table.get_mut(key).and_then(Item::as_value_mut) {
                Some(old) => {
                    let decor = old.decor().clone();
                    *old = new;
                    *old.decor_mut() = decor;
                }
                None => {
                    table.insert(key, value(new));
                }
            }
        }
    }
}

fn value_of(kind: Kind, typed: &str) -> Value {
    match kind {
        Kind::Words | Kind::OneOf(_) => typed.into(),
        Kind::Number => typed
            .parse::<i64>()
            .map(Value::from)
            .or_else(|_| typed.parse::<f64>().map(Value::from))
            .unwrap_or_else(|_| typed.into()),
        Kind::YesNo => typed.parse::<bool>().map_or_else(|_| typed.into(), Value::from),
        Kind::List => list_of(typed).into(),
        Kind::Lists => typed.lines().filter(|l| !l.trim().is_empty()).map(list_of).collect::<Array>().into(),
    }
}

fn list_of(typed: &str) -> Array {
    typed.split([',', ';']).map(str::trim).filter(|t| !t.is_empty()).collect()
}

/// A value as a person writes it into a field.
fn words_of(value: &Value) -> String {
    match value {
        Value::String(text) => text.value().clone(),
        Value::Array(list) if list.iter().any(Value::is_array) => {
            list.iter().map(words_of).collect::<Vec<_>>().join("\n")
        }
        Value::Array(list) => list.iter().map(words_of).collect::<Vec<_>>().join(", "),
        other => other.clone().decorated("", "").to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{DEFAULT_TOML, parse_school};
    use super::*;

    const SETUP: &str = "# ours\n[groups]\nmin_size = 3 # at least\nkeep_apart = [[\"01\", \"02\"], [\"03\", \"04\"]]\n\n\
        [[block]] # first\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n\n[[block]]\nid = \"tue-1\"\nday = \"Tue\"\n\
        start = \"09:00\"\nend = \"09:30\"\n\n[mastery]\ncut = 0.8\n";

    fn changed(fields: &[(&str, &str)]) -> String {
        let mut all = fields_of(SETUP).unwrap();
        all.extend(fields.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())));
        text_with(SETUP, &all).unwrap()
    }

    #[test]
    fn unchanged_fields_change_nothing() {
        for text in [SETUP, DEFAULT_TOML, ""] {
            assert_eq!(text_with(text, &fields_of(text).unwrap()).unwrap(), text);
        }
    }

    #[test]
    fn fields_come_back_as_typed() {
        let fields = fields_of(SETUP).unwrap();
        assert_eq!((fields["groups.keep_apart"].as_str(), fields["block.1.id"].as_str()), ("01, 02\n03, 04", "tue-1"));
        let typed = [
            ("groups.min_size", "2"),
            ("groups.count", "auto"),
            ("groups.keep_apart", "01, 02"),
            ("block.2.id", "wed-1"),
            ("block.2.day", "Wed"),
            ("block.2.start", "10:00"),
            ("block.2.end", "10:30"),
            ("staff.0.name", "Teacher A"),
            ("staff.0.leads", "true"),
            ("mastery.cut", ""),
        ];
        let text = changed(&typed);
        let back = fields_of(&text).unwrap();
        for (name, value) in typed {
            assert_eq!(back.get(name).map_or("", String::as_str), value, "{name} in {text}");
        }
        let school = parse_school("setup", &text).unwrap();
        assert_eq!((school.groups.min_size, school.blocks.len(), school.staff.len()), (2, 3, 1));
        assert!(text.contains("# ours\n") && text.contains("min_size = 2 # at least"), "{text}");
    }

    #[test]
    fn a_row_left_empty_is_gone() {
        let empty = ["id", "day", "start", "end"].map(|key| (format!("block.0.{key}"), ""));
        let empty: Vec<(&str, &str)> = empty.iter().map(|(n, v)| (n.as_str(), *v)).collect();
        let school = parse_school("setup", &changed(&empty)).unwrap();
        assert_eq!(school.blocks.iter().map(|b| b.id.as_str()).collect::<Vec<_>>(), ["tue-1"]);
    }

    #[test]
    fn a_mistake_is_found_at_its_field() {
        for (field, typed) in [("groups.min_size", "many"), ("block.1.start", "9 o'clock"), ("mastery.cut", "80")] {
            let text = changed(&[(field, typed)]);
            let message = parse_school("setup", &text).unwrap_err().message;
            let line = message.strip_prefix("setup, line ").and_then(|m| m.split(':').next()).unwrap().parse().unwrap();
            assert_eq!(field_at(&text, line).as_deref(), Some(field), "{message}");
        }
    }
}
