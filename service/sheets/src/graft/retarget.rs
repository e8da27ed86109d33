//! References in our formulas, links and names, led to where things are called now.
//!
//! In:  a formula, and which sheets and names got another name. Out: the formula with the new names.
//! Keeps: only whole names change, never a text in quotation marks or a part of a longer name
//! (`only_whole_names_change`). Source: ECMA-376 part 1, 18.17 (formulas). Not here: which names are taken (`naming`).

use std::borrow::Cow;
use std::collections::HashMap;

/// New names, by the old name in lower case.
#[derive(Debug, Default, Clone)]
pub(super) struct Renames {
    sheets: HashMap<String, String>,
    names: HashMap<String, String>,
}

impl Renames {
    /// A sheet is called otherwise now.
    pub(super) fn sheet(&mut self, old: &str, new: &str) {
        if old != new {
            self.sheets.insert(old.to_lowercase(), new.to_owned());
        }
    }

    /// A defined name or table is called otherwise now.
    pub(super) fn name(&mut self, old: &str, new: &str) {
        if old != new {
            self.names.insert(old.to_lowercase(), new.to_owned());
        }
    }

    /// Whether nothing is called otherwise.
    pub(super) fn is_empty(&self) -> bool {
        self.sheets.is_empty() && self.names.is_empty()
    }

    /// The new name of a sheet, or the old one.
    pub(super) fn of_sheet<'n>(&'n self, old: &'n str) -> &'n str {
        self.sheets.get(&old.to_lowercase()).map_or(old, String::as_str)
    }

    /// The new name of a defined name or a table, or the old one.
    pub(super) fn of_name<'n>(&'n self, old: &'n str) -> &'n str {
        self.names.get(&old.to_lowercase()).map_or(old, String::as_str)
    }

    /// A formula, or the place of a link, with the new names.
    pub(super) fn retarget<'f>(&self, formula: &'f str) -> Cow<'f, str> {
        if self.is_empty() {
            return Cow::Borrowed(formula);
        }
        let mut out = String::with_capacity(formula.len() + 16);
        let mut rest = formula;
        while let Some(first) = rest.chars().next() {
            let token = token(rest, first);
            let (piece, after) = rest.split_at(token);
            match first {
                '\'' if after.starts_with('!') => out.push_str(&self.quoted(piece)),
                c if is_name_char(c) && after.starts_with('!') => out.push_str(&self.unquoted(piece)),
                c if is_name_char(c) && !after.starts_with('(') => out.push_str(self.of_name(piece)),
                _ => out.push_str(piece),
            }
            rest = after;
        }
        Cow::Owned(out)
    }

    fn quoted<'p>(&self, piece: &'p str) -> Cow<'p, str> {
        let inner = piece.get(1..piece.len() - 1).unwrap_or_default().replace("''", "'");
        self.sheets.get(&inner.to_lowercase()).map_or(Cow::Borrowed(piece), |new| Cow::Owned(in_quotes(new)))
    }

    fn unquoted<'p>(&self, piece: &'p str) -> Cow<'p, str> {
        self.sheets.get(&piece.to_lowercase()).map_or(Cow::Borrowed(piece), |new| Cow::Owned(in_quotes(new)))
    }
}

/// A sheet's name as formulas write it.
pub(super) fn in_quotes(sheet: &str) -> String {
    format!("'{}'", sheet.replace('\'', "''"))
}

/// The sheet that a reference to cells begins with, and the rest of the reference.
pub(super) fn sheet_of(reference: &str) -> Option<(String, &str)> {
    let reference = reference.trim().trim_start_matches('=');
    let first = reference.chars().next()?;
    let (piece, rest) = reference.split_at(token(reference, first));
    let rest = rest.strip_prefix('!')?;
    match first {
        '\'' => Some((piece.get(1..piece.len() - 1)?.replace("''", "'"), rest)),
        c if is_name_char(c) => Some((piece.to_owned(), rest)),
        _ => None,
    }
}

fn is_name_char(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '_' | '.' | '\\' | '?')
}

/// Bytes of the piece that begins here: a text, a name in quotes, a name, or one other character.
fn token(rest: &str, first: char) -> usize {
    match first {
        '"' | '\'' => closing(rest, first),
        c if is_name_char(c) => rest.find(|c| !is_name_char(c)).unwrap_or(rest.len()),
        c => c.len_utf8(),
    }
}

/// Bytes up to and with the closing mark; a doubled mark stands for itself.
fn closing(rest: &str, mark: char) -> usize {
    let mut at = 1;
    while let Some(found) = rest[at..].find(mark) {
        at += found + 1;
        if !rest[at..].starts_with(mark) {
            return at;
        }
        at += 1;
    }
    rest.len()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn renames() -> Renames {
        let mut renames = Renames::default();
        renames.sheet("Groups", "Groups (2)");
        renames.sheet("Tom's", "Tom's (2)");
        renames.name("Table1", "Table1_2");
        renames
    }

    #[test]
    fn only_whole_names_change() {
        for (formula, expected) in [
            ("'Groups'!A1", "'Groups (2)'!A1"),
            ("groups!$A$1:$B$2", "'Groups (2)'!$A$1:$B$2"),
            ("SUM(Groups!A1,'Tom''s'!B2)", "SUM('Groups (2)'!A1,'Tom''s (2)'!B2)"),
            ("\"Groups!A1 \"\"'Groups'!\"&Groups!A1", "\"Groups!A1 \"\"'Groups'!\"&'Groups (2)'!A1"),
            ("MyGroups!A1+'Groups 2'!A1", "MyGroups!A1+'Groups 2'!A1"),
            ("Table1[Item]+Table10[Item]+Table1(2)", "Table1_2[Item]+Table10[Item]+Table1(2)"),
            ("'open", "'open"),
            ("é🦊+Groups!A1", "é🦊+'Groups (2)'!A1"),
        ] {
            assert_eq!(renames().retarget(formula), expected);
        }
        assert!(matches!(Renames::default().retarget("Groups!A1"), Cow::Borrowed("Groups!A1")));
    }

    #[test]
    fn the_sheet_of_a_reference_is_read_back() {
        let of = |text| sheet_of(text).map(|(sheet, rest)| (sheet, rest.to_owned()));
        let pair = |sheet: &str, rest: &str| Some((sheet.to_owned(), rest.to_owned()));
        assert_eq!(of("'Tom''s'!$1:$9"), pair("Tom's", "$1:$9"));
        assert_eq!(of("Groups!$A$1"), pair("Groups", "$A$1"));
        assert_eq!(of("#REF!$1:$9"), None);
        assert_eq!(of("\"Groups!\""), None);
    }
}
