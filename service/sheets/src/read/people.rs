//! Who a row is about: id, name, grade, homeroom, supports.
//!
//! In:  the columns and a row. Out: a [`RowStudent`], and what is wrong with its id. An id is what the cell shows, without spaces,
//! apostrophes and marks of no width; an id that a spreadsheet has damaged (`1.0E+05`, more than fifteen digits) is not used where there
//! is a name. Names stay as given.
//! Keeps: `ids_are_cleaned_and_damage_is_told`, `names_stay_as_given`.
//! Not here: whether two rows are one child (`merge`).

use super::cell::{Cell, trim};
use super::cell_marks::is_error_text;
use super::forms;
use super::layout::Columns;
use super::numbers::is_scientific;
use super::words::Role;

/// A student's row.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct RowStudent {
    pub row: u32,
    pub id: String,
    pub name: String,
    pub grade: String,
    pub homeroom: String,
    pub supports: String,
    /// The form code of the ticket that the row answers, as typed.
    pub form: String,
}

/// What a spreadsheet did to an id.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum IdDamage {
    /// It became a number with an exponent.
    Exponent,
    /// It has more digits than a number keeps.
    Digits,
    /// It is an error value or a date.
    NoId,
    /// It is not there, though the sheet has a column for it.
    Missing,
}

/// A number from here on has lost digits.
const LARGEST_EXACT: f64 = 1e15;

/// Where the students stand, looked up once a sheet.
#[derive(Debug, Clone)]
pub struct StudentColumns {
    header_row: u32,
    pub id: Option<u32>,
    name: Option<u32>,
    given: Option<u32>,
    family: Option<u32>,
    grade: Option<u32>,
    homeroom: Option<u32>,
    supports: Option<u32>,
    form: Option<u32>,
}

impl StudentColumns {
    pub fn of(columns: &Columns) -> Self {
        StudentColumns {
            header_row: columns.header_row,
            id: columns.column(Role::Id),
            name: columns.column(Role::Name),
            given: columns.column(Role::Given),
            family: columns.column(Role::Family),
            grade: columns.column(Role::Grade),
            homeroom: columns.column(Role::Homeroom),
            supports: columns.column(Role::Supports),
            form: columns.labels.iter().find(|(_, label)| forms::is_heading(label)).map(|(c, _)| *c),
        }
    }

    /// The student of a row, or `None` where it has neither an id nor a name; and what is wrong with the id.
    pub fn student(&self, row: u32, cells: &[(u32, Cell<'_>)]) -> Option<(RowStudent, Option<IdDamage>)> {
        if row == self.header_row {
            return None;
        }
        let name = self.name_in(cells);
        let cell = self.id.and_then(|column| cell_at(cells, column));
        let shown = cell.map(clean_id).unwrap_or_default();
        if shown.is_empty() && name.is_empty() {
            return None;
        }
        let damage = match cell {
            Some(cell) => damage_of(cell),
            None => self.id.map(|_| IdDamage::Missing),
        };
        let id = if shown.is_empty() || (damage.is_some() && !name.is_empty()) { name.clone() } else { shown };
        let text = |column: Option<u32>| {
            column.and_then(|c| cell_at(cells, c)).map(|cell| cell.shown().into_owned()).unwrap_or_default()
        };
        let student = RowStudent {
            row,
            id,
            name,
            grade: text(self.grade),
            homeroom: text(self.homeroom),
            supports: text(self.supports),
            form: text(self.form),
        };
        Some((student, damage))
    }

    /// The id of a row as shown; empty where there is none.
    pub fn id_in(&self, cells: &[(u32, Cell<'_>)]) -> String {
        self.id.and_then(|column| cell_at(cells, column)).map(clean_id).unwrap_or_default()
    }

    fn name_in(&self, cells: &[(u32, Cell<'_>)]) -> String {
        let text = |column: Option<u32>| column.and_then(|c| cell_at(cells, c)).map(|cell| cell.shown());
        one_line(match text(self.name) {
            Some(name) if !name.is_empty() => name.into_owned(),
            _ => {
                let (given, family) = (text(self.given).unwrap_or_default(), text(self.family).unwrap_or_default());
                format!("{given} {family}").trim().to_owned()
            }
        })
    }

    /// Whether a column tells who the row is about.
    pub fn names_a_student(&self, column: u32) -> bool {
        [self.id, self.name, self.given, self.family].contains(&Some(column))
    }
}

/// A text without the line breaks inside it.
pub fn one_line(text: String) -> String {
    if text.bytes().any(|b| b.is_ascii_control()) {
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    } else {
        text
    }
}

fn cell_at<'a, 'c>(cells: &'a [(u32, Cell<'c>)], column: u32) -> Option<&'a Cell<'c>> {
    // Columns come in order, and students stand near the left.
    cells.iter().take_while(|(c, _)| *c <= column).find(|(c, _)| *c == column).map(|(_, cell)| cell)
}

/// An id as it is used: what the cell shows, without what cannot be seen, and without the `.0` of a number saved as text.
fn clean_id(cell: &Cell<'_>) -> String {
    if matches!(cell, Cell::Error(_) | Cell::Date(_)) {
        return String::new();
    }
    let shown = cell.shown();
    let text = trim(&shown);
    if is_error_text(text) {
        return String::new();
    }
    let is_plain = text.bytes().all(|b| b.is_ascii_graphic());
    let text: String = if is_plain {
        text.to_owned()
    } else {
        let seen: String = text
            .chars()
            .filter(|c| !matches!(c, '\u{200b}'..='\u{200f}' | '\u{2060}' | '\u{feff}' | '\u{ad}'))
            .map(|c| if c == '\u{a0}' { ' ' } else { c })
            .collect();
        seen.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    match text.split_once('.') {
        Some((whole, zeros)) if is_digits(whole) && !zeros.is_empty() && zeros.bytes().all(|b| b == b'0') => {
            whole.to_owned()
        }
        _ => text,
    }
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit())
}

fn damage_of(cell: &Cell<'_>) -> Option<IdDamage> {
    match cell {
        Cell::Number { value, .. } if value.abs() >= LARGEST_EXACT => Some(IdDamage::Digits),
        Cell::Text(t) if is_scientific(trim(t)) => Some(IdDamage::Exponent),
        Cell::Error(_) | Cell::Date(_) => Some(IdDamage::NoId),
        Cell::Text(t) if is_error_text(trim(t)) => Some(IdDamage::NoId),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn columns() -> StudentColumns {
        let roles = BTreeMap::from([(0, Role::Id), (1, Role::Name)]);
        StudentColumns::of(&Columns { header_row: 0, roles, labels: BTreeMap::new() })
    }

    fn student(id: Cell<'static>, name: &'static str) -> (RowStudent, Option<IdDamage>) {
        columns().student(1, &[(0, id), (1, Cell::Text(name.into()))]).unwrap()
    }

    #[test]
    fn ids_are_cleaned_and_damage_is_told() {
        for (text, id) in [("\u{a0}04\u{200b}17 ", "0417"), ("'0042", "0042"), ("100000.0", "100000"), ("A 12", "A 12")]
        {
            assert_eq!(student(Cell::Text(text.into()), "Ann").0.id, id);
        }
        let (damaged, why) = student(Cell::Text("1.0E+05".into()), "Ann");
        assert_eq!((damaged.id.as_str(), why), ("Ann", Some(IdDamage::Exponent)));
        let long = Cell::Number { value: 1_234_567_890_123_456.0, zeros: 0, is_percent: false };
        assert_eq!(student(long.clone(), "Ann").0.id, "Ann");
        for cell in [Cell::Error("#N/A".into()), Cell::Text("#REF!".into()), Cell::Date("2026-01-02".into())] {
            let (damaged, why) = student(cell, "Ann");
            assert_eq!((damaged.id.as_str(), why), ("Ann", Some(IdDamage::NoId)));
        }
        let without = columns().student(1, &[(1, Cell::Text("Ann".into()))]).unwrap();
        assert_eq!((without.0.id.as_str(), without.1), ("Ann", Some(IdDamage::Missing)));
        let alone = columns().student(1, &[(0, long)]).unwrap();
        assert_eq!((alone.0.id.as_str(), alone.1), ("1234567890123456", Some(IdDamage::Digits)));
    }

    #[test]
    fn names_stay_as_given() {
        for name in ["O'Neil, Ana-María de la Cruz Jr.", "محمد", "李小龍", "Zoe\u{301}"] {
            assert_eq!(student(Cell::Text("7".into()), name).0.name, name);
        }
        assert_eq!(student(Cell::Text("7".into()), "Bela\n\u{a0}T.").0.name, "Bela T.");
        assert_eq!(columns().student(0, &[(0, Cell::Text("id".into()))]), None);
        assert_eq!(columns().student(1, &[(3, Cell::Text("1".into()))]), None);
    }
}
