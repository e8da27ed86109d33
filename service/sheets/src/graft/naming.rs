//! Names that are free: for sheets, defined names, tables and parts.
//!
//! In:  what is taken, and what ours would like to be called. Out: a name that nobody has.
//! Keeps: a name of theirs is never taken (`a_sheet_of_theirs_keeps_its_name`); a sheet's name has at most 31 UTF-16 units
//! (`a_long_name_is_cut_to_make_room_for_its_number`). Source: sheet limits as the file format's specification gives them.

use std::collections::HashSet;

/// Longest name of a sheet, UTF-16 units.
const MAX_SHEET_NAME: usize = 31;

/// Names that are taken, in any case.
#[derive(Debug, Default)]
pub(super) struct Taken {
    names: HashSet<String>,
}

impl Taken {
    /// Takes names.
    pub(super) fn of<'n>(names: impl IntoIterator<Item = &'n str>) -> Self {
        Taken { names: names.into_iter().map(str::to_lowercase).collect() }
    }

    fn take(&mut self, name: &str) -> bool {
        self.names.insert(name.to_lowercase())
    }

    /// The first of some names that is free; it is taken then.
    fn first(&mut self, names: impl Iterator<Item = String>) -> Option<String> {
        let mut names = names;
        names.find(|name| self.take(name))
    }

    /// A sheet's name: the first choice, the second, or the second with a number.
    pub(super) fn sheet(&mut self, first: &str, second: &str) -> String {
        let numbered = (2_u32..).map(|n| numbered_sheet(second, n));
        let choices = [first.to_owned(), second.to_owned()].into_iter().chain(numbered);
        self.first(choices).unwrap_or_default()
    }

    /// A defined name or a table's name: as it is, or with a number.
    pub(super) fn word(&mut self, wanted: &str) -> String {
        let numbered = (2_u32..).map(|n| format!("{wanted}_{n}"));
        self.first(std::iter::once(wanted.to_owned()).chain(numbered)).unwrap_or_default()
    }
}

fn numbered_sheet(name: &str, number: u32) -> String {
    let tail = format!(" ({number})");
    let mut units = MAX_SHEET_NAME - tail.len();
    let fits = |c: &char| {
        let left = units.checked_sub(c.len_utf16());
        units = left.unwrap_or(0);
        left.is_some()
    };
    let head: String = name.chars().take_while(fits).collect();
    format!("{}{tail}", head.trim_end())
}

/// A part's name with the first number that is free: `xl/worksheets/sheet4.xml`.
pub(super) fn part(wanted: &str, is_taken: impl Fn(&str) -> bool) -> String {
    let (stem, ending) = wanted.rsplit_once('.').unwrap_or((wanted, "xml"));
    let stem = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let mut names = (1_u32..).map(|n| format!("{stem}{n}.{ending}"));
    names.find(|name| !is_taken(name)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sheet_of_theirs_keeps_its_name() {
        let mut taken = Taken::of(["GROUPS", "Groups (2)"]);
        assert_eq!(taken.sheet("Groups", "Groups"), "Groups (3)");
        assert_eq!(taken.sheet("Needs of the week", "Needs"), "Needs of the week");
        assert_eq!(taken.sheet("groups", "Items"), "Items");
        assert_eq!(taken.word("Sheaf_workbook"), "Sheaf_workbook");
        assert_eq!(taken.word("sheaf_workbook"), "sheaf_workbook_2");
    }

    #[test]
    fn a_long_name_is_cut_to_make_room_for_its_number() {
        let long = "An exit ticket with a long name";
        assert_eq!(long.len(), MAX_SHEET_NAME);
        assert_eq!(numbered_sheet(long, 2), "An exit ticket with a long (2)");
        assert_eq!(numbered_sheet(&"🦊".repeat(15), 10).encode_utf16().count(), 31);
    }

    #[test]
    fn a_part_takes_the_first_free_number() {
        let is_taken = |name: &str| name == "xl/sheet1.xml";
        assert_eq!(part("xl/sheet7.xml", is_taken), "xl/sheet2.xml");
        assert_eq!(part("xl/media/image.png", is_taken), "xl/media/image1.png");
    }
}
