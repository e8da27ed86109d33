//! Typed looks into a TOML table that remember where everything stands.
//!
//! A [`Section`] is one table with its name and line; its methods give a value of a type within a range, or a mistake with the line.
//! Not here: which keys there are (`sections`).

use super::mistake;
use crate::error::AppError;
use std::ops::RangeInclusive;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// 1-based line of a byte offset.
pub fn line_of(text: &str, offset: usize) -> usize {
    text.as_bytes().iter().take(offset).filter(|b| **b == b'\n').count() + 1
}

/// One table of the file.
pub struct Section<'a> {
    file: &'a str,
    text: &'a str,
    /// Name as written, e.g. `groups` or `block`; empty for the file itself.
    name: &'a str,
    table: &'a DeTable<'a>,
    offset: usize,
}

impl<'a> Section<'a> {
    pub fn new(file: &'a str, text: &'a str, name: &'a str, table: &'a DeTable<'a>, offset: usize) -> Self {
        Section { file, text, name, table, offset }
    }

    /// A mistake at the section itself.
    pub fn mistake(&self, what: &str) -> AppError {
        mistake(self.file, line_of(self.text, self.offset), what)
    }

    /// A mistake at a key.
    pub fn mistake_at(&self, key: &str, what: &str) -> AppError {
        let offset = self.table.iter().find(|(k, _)| k.get_ref() == key).map_or(self.offset, |(k, _)| k.span().start);
        mistake(self.file, line_of(self.text, offset), what)
    }

    fn full(&self, key: &str) -> String {
        if self.name.is_empty() { key.to_owned() } else { format!("{}.{key}", self.name) }
    }

    /// Refuses a key that is not among the known ones, naming the nearest.
    pub fn only_known(&self, known: &[&str]) -> Result<(), AppError> {
        for key in self.table.keys() {
            let key = key.get_ref().as_ref();
            if !known.contains(&key) {
                let nearest = known.iter().max_by(|a, b| strsim::jaro(a, key).total_cmp(&strsim::jaro(b, key)));
                let hint = nearest.map_or(String::new(), |n| format!("; did you mean {}?", self.full(n)));
                return Err(self.mistake_at(key, &format!("{} is not a key of the setup{hint}", self.full(key))));
            }
        }
        Ok(())
    }

    fn value(&self, key: &str) -> Option<&'a Spanned<DeValue<'a>>> {
        self.table.get(key)
    }

    pub fn has(&self, key: &str) -> bool {
        self.value(key).is_some()
    }

    fn wrong(&self, key: &str, expected: &str) -> AppError {
        self.mistake_at(key, &format!("{} must be {expected}", self.full(key)))
    }

    /// A text.
    pub fn text(&self, key: &str) -> Result<Option<String>, AppError> {
        match self.value(key).map(Spanned::get_ref) {
            None => Ok(None),
            Some(DeValue::String(s)) if !s.trim().is_empty() => Ok(Some(s.trim().to_owned())),
            Some(_) => Err(self.wrong(key, "a text in quotes")),
        }
    }

    /// A text that must be there.
    pub fn needed_text(&self, key: &str) -> Result<String, AppError> {
        self.text(key)?.ok_or_else(|| self.mistake(&format!("this [[{}]] needs {key}", self.name)))
    }

    /// A whole number in a range.
    pub fn whole(&self, key: &str, range: RangeInclusive<usize>) -> Result<Option<usize>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let expected = format!("a whole number from {} to {}", range.start(), range.end());
        let DeValue::Integer(n) = value.get_ref() else { return Err(self.wrong(key, &expected)) };
        let n: Option<usize> = i64::from_str_radix(n.as_str(), n.radix()).ok().and_then(|n| n.try_into().ok());
        match n {
            Some(n) if range.contains(&n) => Ok(Some(n)),
            _ => Err(self.wrong(key, &expected)),
        }
    }

    /// A share in a range.
    pub fn share(&self, key: &str, range: RangeInclusive<f64>) -> Result<Option<f64>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let number: Option<f64> = match value.get_ref() {
            DeValue::Float(f) => f.as_str().replace('_', "").parse().ok(),
            DeValue::Integer(n) => n.as_str().replace('_', "").parse().ok(),
            _ => None,
        };
        match number {
            Some(x) if range.contains(&x) => Ok(Some(x)),
            _ => Err(self.wrong(key, &format!("a number from {} to {}", range.start(), range.end()))),
        }
    }

    /// Yes or no.
    pub fn yes_no(&self, key: &str) -> Result<Option<bool>, AppError> {
        match self.value(key).map(Spanned::get_ref) {
            None => Ok(None),
            Some(DeValue::Boolean(b)) => Ok(Some(*b)),
            Some(_) => Err(self.wrong(key, "true or false")),
        }
    }

    /// One of some words.
    pub fn word<T: Copy>(&self, key: &str, words: &[(&str, T)]) -> Result<Option<T>, AppError> {
        let Some(text) = self.text(key)? else { return Ok(None) };
        let found = words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
        let listed = words.iter().map(|(w, _)| format!("\"{w}\"")).collect::<Vec<_>>().join(" or ");
        found.map(Some).ok_or_else(|| self.wrong(key, &listed))
    }

    /// A list of texts.
    pub fn texts(&self, key: &str) -> Result<Option<Vec<String>>, AppError> {
        match self.value(key).map(Spanned::get_ref) {
            None => Ok(None),
            Some(value) => texts_of(value).map(Some).ok_or_else(|| self.wrong(key, "a list of texts in quotes")),
        }
    }

    /// A list of lists of texts.
    pub fn text_lists(&self, key: &str) -> Result<Option<Vec<Vec<String>>>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let expected = "a list of lists of ids, such as [[\"0417\", \"0533\"]]";
        let DeValue::Array(lists) = value.get_ref() else { return Err(self.wrong(key, expected)) };
        let lists: Option<Vec<Vec<String>>> = lists.iter().map(|l| texts_of(l.get_ref())).collect();
        lists.map(Some).ok_or_else(|| self.wrong(key, expected))
    }

    /// One table under a key, e.g. `[groups]`.
    pub fn table(&self, key: &'a str) -> Result<Option<Section<'a>>, AppError> {
        match self.value(key) {
            None => Ok(None),
            Some(value) => match value.get_ref() {
                DeValue::Table(t) => Ok(Some(Section::new(self.file, self.text, key, t, value.span().start))),
                _ => Err(self.wrong(key, &format!("a section, written [{key}]"))),
            },
        }
    }

    /// Tables under a key, e.g. each `[[block]]`; `None` where there is none.
    pub fn tables(&self, key: &'a str) -> Result<Option<Vec<Section<'a>>>, AppError> {
        let Some(value) = self.value(key) else { return Ok(None) };
        let expected = format!("a list of sections, each written [[{key}]]");
        let DeValue::Array(list) = value.get_ref() else { return Err(self.wrong(key, &expected)) };
        let sections: Option<Vec<Section<'a>>> = list
            .iter()
            .map(|entry| match entry.get_ref() {
                DeValue::Table(t) => Some(Section::new(self.file, self.text, key, t, entry.span().start)),
                _ => None,
            })
            .collect();
        sections.map(Some).ok_or_else(|| self.wrong(key, &expected))
    }
}

fn texts_of(value: &DeValue<'_>) -> Option<Vec<String>> {
    let DeValue::Array(list) = value else { return None };
    list.iter()
        .map(|entry| match entry.get_ref() {
            DeValue::String(s) => Some(s.trim().to_owned()),
            _ => None,
        })
        .collect()
}
