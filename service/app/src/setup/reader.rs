//! Typed looks into a TOML table that remember where everything stands.
//!
//! A [`Section`] is one table with its known keys; its methods give a value of a type within a range, or a mistake with the
//! line of the value (`a_mistake_inside_a_long_list_has_its_own_line`).
//! Not here: which keys there are (`keys`), which type and range each has (`groups`, `timetable`, `rules`).

use super::keys::{Keys, Written, nearest, sections_with};
use crate::error::{AppError, ErrorKind};
use std::ops::{Range, RangeInclusive};
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// The file that is read.
#[derive(Clone, Copy)]
pub struct Source<'a> {
    /// Name, for messages.
    pub file: &'a str,
    /// Content.
    pub text: &'a str,
}

impl Source<'_> {
    /// A mistake at a byte offset.
    pub fn mistake(&self, offset: usize, what: &str) -> AppError {
        let message = format!("{}, line {}: {what}.", self.file, self.line_of(offset));
        AppError::new(ErrorKind::Input, "setup-mistake", message)
    }

    /// 1-based line of a byte offset.
    pub fn line_of(&self, offset: usize) -> usize {
        self.text.as_bytes().iter().take(offset).filter(|b| **b == b'\n').count() + 1
    }
}

/// A text and where it stands.
pub type Placed = Spanned<String>;

/// Which end of a share is open.
#[derive(Clone, Copy)]
pub enum ShareRange {
    /// 0 to 1.
    FromZero,
    /// Above 0, up to 1.
    AboveZero,
}

/// One table of the file.
pub struct Section<'a> {
    pub source: Source<'a>,
    keys: &'static Keys,
    table: &'a DeTable<'a>,
    offset: usize,
}

impl<'a> Section<'a> {
    /// Takes a table, and refuses it if it holds a key that is not known.
    pub fn new(
        source: Source<'a>,
        keys: &'static Keys,
        table: &'a DeTable<'a>,
        offset: usize,
    ) -> Result<Self, AppError> {
        let section = Section { source, keys, table, offset };
        match table.keys().find(|key| !keys.keys.contains(&key.get_ref().as_ref())) {
            Some(unknown) => Err(section.unknown(unknown.get_ref(), unknown.span().start)),
            None => Ok(section),
        }
    }

    fn unknown(&self, key: &str, offset: usize) -> AppError {
        let shown = self.full(key);
        let elsewhere = sections_with(key);
        let hint = if elsewhere.is_empty() {
            let near = nearest(key, self.keys.keys.iter().copied()).map(|n| self.full(n)).unwrap_or_default();
            format!("the nearest known key is {near}")
        } else {
            format!("{key} belongs under {}", elsewhere.join(" or "))
        };
        self.source.mistake(offset, &format!("there is no key {shown}; {hint}"))
    }

    /// A mistake at the section itself.
    pub fn mistake(&self, what: &str) -> AppError {
        self.source.mistake(self.offset, what)
    }

    /// A mistake at a key.
    pub fn mistake_at(&self, key: &str, what: &str) -> AppError {
        let offset = self.table.iter().find(|(k, _)| k.get_ref() == key).map_or(self.offset, |(k, _)| k.span().start);
        self.source.mistake(offset, what)
    }

    /// `[groups]` or `[[block]]`.
    pub fn heading(&self) -> String {
        self.keys.heading()
    }

    fn full(&self, key: &str) -> String {
        if self.keys.section.is_empty() { key.to_owned() } else { format!("{}.{key}", self.keys.section) }
    }

    fn value(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        debug_assert!(self.keys.keys.contains(&key), "{key} is missing in the table of keys");
        self.table.get(key)
    }

    /// Whether the key is given.
    pub fn has(&self, key: &str) -> bool {
        self.value(key).is_some()
    }

    fn wrong(&self, key: &str, found: &Spanned<DeValue<'_>>, expected: &str) -> AppError {
        let what = format!("{} must be {expected}, not {}", self.full(key), shown(found.get_ref()));
        self.source.mistake(found.span().start, &what)
    }

    /// A text. A date or a time without quotes is taken as its text.
    pub fn text(&self, key: &str) -> Result<Option<String>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        match value.get_ref() {
            DeValue::String(s) if !s.trim().is_empty() => Ok(Some(s.trim().to_owned())),
            DeValue::Datetime(d) => Ok(Some(d.to_string())),
            _ => Err(self.wrong(key, value, "a text in quotes")),
        }
    }

    /// A text that must be there.
    pub fn needed_text(&self, key: &str) -> Result<String, AppError> {
        self.text(key)?.ok_or_else(|| self.mistake(&format!("this {} needs {key}", self.heading())))
    }

    /// A whole number in a range.
    pub fn whole(&self, key: &str, range: RangeInclusive<usize>) -> Result<Option<usize>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let expected = format!("a whole number from {} to {}", range.start(), range.end());
        self.number(key, value, &range, &expected).map(Some)
    }

    /// A whole number in a range, or a word that stands for none (`None`).
    pub fn whole_or(&self, key: &str, word: &str, range: RangeInclusive<usize>) -> Result<Option<usize>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        if matches!(value.get_ref(), DeValue::String(s) if s.trim() == word) {
            return Ok(None);
        }
        let expected = format!("\"{word}\" or a whole number from {} to {}", range.start(), range.end());
        self.number(key, value, &range, &expected).map(Some)
    }

    fn number(
        &self,
        key: &str,
        value: &Spanned<DeValue<'_>>,
        range: &RangeInclusive<usize>,
        expected: &str,
    ) -> Result<usize, AppError> {
        let number = match value.get_ref() {
            DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok(),
            _ => None,
        };
        let number: Option<usize> = number.and_then(|n| n.try_into().ok());
        number.filter(|n| range.contains(n)).ok_or_else(|| self.wrong(key, value, expected))
    }

    /// A share.
    pub fn share(&self, key: &str, range: ShareRange) -> Result<Option<f64>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let number: Option<f64> = match value.get_ref() {
            DeValue::Float(f) => f.as_str().parse().ok(),
            DeValue::Integer(n) => i64::from_str_radix(n.as_str(), n.radix()).ok().map(|n| n as f64),
            _ => None,
        };
        let (is_inside, expected): (fn(f64) -> bool, _) = match range {
            ShareRange::FromZero => (|x| (0.0..=1.0).contains(&x), "a share from 0 to 1, such as 0.25"),
            ShareRange::AboveZero => (|x| x > 0.0 && x <= 1.0, "a share above 0 and up to 1, such as 0.8"),
        };
        number.filter(|&x| is_inside(x)).map(Some).ok_or_else(|| self.wrong(key, value, expected))
    }

    /// Yes or no.
    pub fn yes_no(&self, key: &str) -> Result<Option<bool>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        match value.get_ref() {
            DeValue::Boolean(b) => Ok(Some(*b)),
            _ => Err(self.wrong(key, value, "true or false")),
        }
    }

    /// One of some words.
    pub fn word<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Result<Option<T>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let found = match value.get_ref() {
            DeValue::String(s) => words.iter().find(|(word, _)| *word == s.trim()).map(|(_, meaning)| *meaning),
            _ => None,
        };
        let listed = words.iter().map(|(w, _)| format!("\"{w}\"")).collect::<Vec<_>>().join(" or ");
        found.map(Some).ok_or_else(|| self.wrong(key, value, &listed))
    }

    /// A list of texts, none of them blank.
    pub fn texts(&self, key: &str) -> Result<Option<Vec<Placed>>, AppError> {
        self.value(key).map(|value| self.texts_of(key, value)).transpose()
    }

    /// A list of lists of texts.
    pub fn text_lists(&self, key: &str) -> Result<Option<Vec<Spanned<Vec<Placed>>>>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let DeValue::Array(lists) = value.get_ref() else {
            return Err(self.wrong(key, value, "a list of lists of ids, such as [[\"0417\", \"0533\"]]"));
        };
        lists
            .iter()
            .map(|list| Ok(Spanned::new(list.span(), self.texts_of(key, list)?)))
            .collect::<Result<_, _>>()
            .map(Some)
    }

    fn texts_of(&self, key: &str, value: &Spanned<DeValue<'_>>) -> Result<Vec<Placed>, AppError> {
        let DeValue::Array(list) = value.get_ref() else {
            return Err(self.wrong(key, value, "a list of texts, such as [\"0417\", \"0533\"]"));
        };
        list.iter()
            .map(|entry| match entry.get_ref() {
                DeValue::String(s) if !s.trim().is_empty() => Ok(Spanned::new(entry.span(), s.trim().to_owned())),
                other => {
                    let what =
                        format!("{} holds {}; write each entry as a text in quotes", self.full(key), shown(other));
                    Err(self.source.mistake(entry.span().start, &what))
                }
            })
            .collect()
    }

    /// One section of the file, e.g. `[groups]`.
    pub fn section(&self, keys: &'static Keys) -> Result<Option<Section<'a>>, AppError> {
        let Some(value) = self.value(keys.section) else { return Ok(None) };
        match value.get_ref() {
            DeValue::Table(table) => Section::new(self.source, keys, table, value.span().start).map(Some),
            _ => Err(self.misheaded(keys, value.span())),
        }
    }

    /// Sections of one name, e.g. each `[[block]]`.
    pub fn sections(&self, keys: &'static Keys) -> Result<Vec<Section<'a>>, AppError> {
        let Some(value) = self.value(keys.section) else { return Ok(Vec::new()) };
        let DeValue::Array(list) = value.get_ref() else { return Err(self.misheaded(keys, value.span())) };
        list.iter()
            .map(|entry| match entry.get_ref() {
                DeValue::Table(table) => Section::new(self.source, keys, table, entry.span().start),
                _ => Err(self.misheaded(keys, entry.span())),
            })
            .collect()
    }

    fn misheaded(&self, keys: &Keys, at: Range<usize>) -> AppError {
        let brackets = match keys.written {
            Written::Once => "once, with single brackets",
            Written::Each => "with double brackets, once for each",
        };
        self.source.mistake(at.start, &format!("{} must be written {brackets}: {}", keys.section, keys.heading()))
    }
}

/// What was found, as a person would say it.
fn shown(value: &DeValue<'_>) -> String {
    match value {
        DeValue::String(s) if s.trim().is_empty() => "an empty text".to_owned(),
        DeValue::String(s) => format!("\"{s}\""),
        DeValue::Integer(n) => n.to_string(),
        DeValue::Float(f) => f.as_str().to_owned(),
        DeValue::Boolean(b) => b.to_string(),
        DeValue::Datetime(d) => d.to_string(),
        DeValue::Array(_) => "a list".to_owned(),
        DeValue::Table(_) => "a section".to_owned(),
    }
}
