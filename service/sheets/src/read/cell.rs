//! One cell as it came, and its address.
//! In:  values as the library gives them. Out: what a person would see in the cell, and its address.
//!
//! Borrowed text where the file allows it, so that a large sheet is not copied. Not here: what a cell means (`marks`, `layout`).

use std::borrow::Cow;

/// Cells of a row that hold something, with their 0-based columns.
pub type RowCells<'a> = [(u32, Cell<'a>)];

/// Takes a row with its 0-based number.
pub type RowSink<'s> = dyn FnMut(u32, &RowCells<'_>) + 's;

/// A cell that holds something.
#[derive(Debug, Clone, PartialEq)]
pub enum Cell<'a> {
    /// Text, as given.
    Text(Cow<'a, str>),
    /// A number; `zeros` is the least number of digits that its format shows (`00000` gives 5, otherwise 0); `percent` its format.
    Number { value: f64, zeros: u8, is_percent: bool },
    /// True or false.
    Bool(bool),
    /// A date or time, with its day as text where it has one.
    Date(String),
    /// An error value.
    Error(String),
    /// A formula without a stored result.
    NoResult,
}

/// A cell more than so many blank columns behind the last one of its row is far: it is named and not read.
pub const FAR: u32 = 1_000;

impl Cell<'_> {
    /// The same cell, owning its text.
    pub fn into_owned(self) -> Cell<'static> {
        match self {
            Cell::Text(t) => Cell::Text(Cow::Owned(t.into_owned())),
            Cell::Number { value, zeros, is_percent } => Cell::Number { value, zeros, is_percent },
            Cell::Bool(b) => Cell::Bool(b),
            Cell::Date(d) => Cell::Date(d),
            Cell::Error(e) => Cell::Error(e),
            Cell::NoResult => Cell::NoResult,
        }
    }

    /// What the cell shows, trimmed: numbers with the zeros of their format and without a needless `.0`.
    pub fn shown(&self) -> Cow<'_, str> {
        match self {
            Cell::Text(t) => Cow::Borrowed(trim(t)),
            Cell::Number { value, zeros, .. } if value.fract() == 0.0 && value.abs() < 1e15 => {
                Cow::Owned(format!("{:0width$}", *value as i64, width = usize::from(*zeros)))
            }
            Cell::Number { value, .. } => Cow::Owned(value.to_string()),
            Cell::Bool(b) => Cow::Borrowed(if *b { "true" } else { "false" }),
            Cell::Date(d) => Cow::Borrowed(d),
            Cell::Error(e) => Cow::Borrowed(e),
            Cell::NoResult => Cow::Borrowed(""),
        }
    }
}

/// Trims spaces, no-break spaces and zero-width characters, and one leading apostrophe that marks text.
pub fn trim(text: &str) -> &str {
    let is_space = |c: char| c.is_whitespace() || matches!(c, '\u{a0}' | '\u{200b}' | '\u{feff}' | '\u{2060}');
    let text = text.trim_matches(is_space);
    text.strip_prefix('\'').map_or(text, |rest| rest.trim_matches(is_space))
}

/// The cell, unless it is a text of blanks.
pub fn holds_something(cell: Cell<'_>) -> Option<Cell<'_>> {
    match &cell {
        Cell::Text(t) if trim(t).is_empty() => None,
        _ => Some(cell),
    }
}

/// The day of a serial number as `2026-02-03`; `None` for what is no day. Day 60 of the epoch of 1900 never was.
pub fn date_of_serial(serial: f64, is_1904: bool) -> Option<String> {
    if !(0.0..3_000_000.0).contains(&serial) {
        return None;
    }
    let days = serial.floor() as i64;
    let first = match (is_1904, days) {
        (true, _) => jiff::civil::date(1904, 1, 1),
        (false, 0..60) => jiff::civil::date(1899, 12, 31),
        (false, _) => jiff::civil::date(1899, 12, 30),
    };
    first.checked_add(jiff::Span::new().days(days)).ok().map(|date| date.to_string())
}

/// `A1` address of a 0-based row and column.
pub fn address(row: u32, column: u32) -> String {
    format!("{}{}", column_letters(column), u64::from(row) + 1)
}

/// Letters of a 0-based column: 0 is `A`, 26 `AA`.
pub fn column_letters(column: u32) -> String {
    let mut letters = Vec::new();
    let mut rest = u64::from(column) + 1;
    while rest > 0 {
        rest -= 1;
        letters.push(b'A' + (rest % 26) as u8);
        rest /= 26;
    }
    letters.reverse();
    String::from_utf8(letters).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_read_like_a_spreadsheet() {
        assert_eq!(address(0, 0), "A1");
        assert_eq!(address(16, 2), "C17");
        assert_eq!(address(1_048_575, 16_383), "XFD1048576");
    }

    #[test]
    fn a_serial_number_is_a_day_of_its_epoch() {
        let shown = |serial, is_1904| date_of_serial(serial, is_1904);
        assert_eq!(shown(1.0, false).as_deref(), Some("1900-01-01"));
        assert_eq!(shown(61.0, false).as_deref(), Some("1900-03-01"));
        assert_eq!(shown(46_057.5, false).as_deref(), Some("2026-02-04"));
        assert_eq!(shown(44_595.0, true).as_deref(), Some("2026-02-04"));
        assert_eq!((shown(-1.0, false), shown(f64::NAN, false), shown(1e300, true)), (None, None, None));
    }

    #[test]
    fn a_number_shows_the_zeros_of_its_format() {
        assert_eq!(Cell::Number { value: 42.0, zeros: 5, is_percent: false }.shown(), "00042");
        assert_eq!(Cell::Number { value: 100_000.0, zeros: 0, is_percent: false }.shown(), "100000");
        assert_eq!(Cell::Text("\u{a0} 'B \u{200b}".into()).shown(), "B");
        assert_eq!(Cell::Text("'0042".into()).shown(), "0042");
    }
}
