//! Every section and key that a school setup may have: one table for the reader and for `config/default.toml`.
//!
//! Keeps: the shipped file shows these keys and no other (`the_shipped_file_and_the_reader_know_the_same_keys`).
//! Not here: types and ranges (`groups`, `timetable`, `rules`).

/// How a section is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// Once, as `[groups]`.
    Once,
    /// Once for each thing, as `[[block]]`.
    Each,
}

/// One section and its keys.
#[derive(Debug, PartialEq, Eq)]
pub struct Keys {
    /// Name, e.g. `groups`; empty for the file itself.
    pub section: &'static str,
    /// How it is written.
    pub written: Written,
    /// Its keys.
    pub keys: &'static [&'static str],
}

impl Keys {
    const fn once(section: &'static str, keys: &'static [&'static str]) -> Keys {
        Keys { section, written: Written::Once, keys }
    }

    const fn each(section: &'static str, keys: &'static [&'static str]) -> Keys {
        Keys { section, written: Written::Each, keys }
    }

    /// `[groups]` or `[[block]]`.
    pub fn heading(&self) -> String {
        match self.written {
            Written::Once => format!("[{}]", self.section),
            Written::Each => format!("[[{}]]", self.section),
        }
    }
}

pub static ROOT: Keys = Keys::once(
    "",
    &[
        "groups",
        "intensive",
        "mastery",
        "block",
        "staff",
        "room",
        "station",
        "busy",
        "ticket",
        "core",
        "limits",
        "cycle",
        "reading",
        "records",
    ],
);
pub static GROUPS: Keys = Keys::once(
    "groups",
    &[
        "include",
        "within",
        "min_size",
        "max_size",
        "count",
        "sessions",
        "keep_apart",
        "keep_together",
        "max_swap_share",
    ],
);
pub static INTENSIVE: Keys = Keys::once("intensive", &["students", "min_size", "max_size", "sessions"]);
pub static MASTERY: Keys = Keys::once("mastery", &["omitted", "cut", "confirm", "half_life_weeks"]);
pub static BLOCK: Keys = Keys::each("block", &["id", "day", "start", "end", "homerooms"]);
pub static STAFF: Keys = Keys::each("staff", &["name", "blocks", "leads"]);
pub static ROOM: Keys = Keys::each("room", &["name", "seats", "blocks"]);
pub static STATION: Keys = Keys::each("station", &["name", "staffed", "capacity"]);
pub static BUSY: Keys = Keys::each("busy", &["homeroom", "student", "day", "start", "end", "blocks"]);
pub static TICKET: Keys = Keys::once("ticket", &["items"]);
pub static CORE: Keys = Keys::once("core", &["skills"]);
pub static LIMITS: Keys = Keys::once("limits", &["max_departures", "max_pullouts", "walk_minutes", "max_in_a_row"]);
pub static CYCLE: Keys = Keys::once("cycle", &["starts", "weeks"]);
pub static READING: Keys = Keys::once("reading", &["max_megabytes", "max_rows", "max_columns"]);
pub static RECORDS: Keys =
    Keys::once("records", &["keep_originals_weeks", "smallest_count", "year_begins", "keep_years"]);

/// Every section, in the order of the shipped file.
pub static SECTIONS: [&Keys; 14] = [
    &GROUPS, &INTENSIVE, &MASTERY, &BLOCK, &STAFF, &ROOM, &STATION, &BUSY, &TICKET, &CORE, &LIMITS, &CYCLE, &READING,
    &RECORDS,
];

/// Headings of the sections that have a key of this name.
pub fn sections_with(key: &str) -> Vec<String> {
    SECTIONS.iter().filter(|s| s.keys.contains(&key)).map(|s| s.heading()).collect()
}

/// The word that is most like `word`; `None` where there is none at all.
pub fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let likeness = |a: &str| strsim::normalized_damerau_levenshtein(&a.to_lowercase(), &word.to_lowercase());
    known.into_iter().max_by(|a, b| likeness(a).total_cmp(&likeness(b)).then_with(|| b.cmp(a)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_section_of_the_file_has_its_keys() {
        let names: Vec<&str> = SECTIONS.iter().map(|s| s.section).collect();
        assert_eq!(names, ROOT.keys);
    }

    #[test]
    fn the_nearest_word_ignores_case_and_swapped_letters() {
        assert_eq!(nearest("Mxa_size", GROUPS.keys.iter().copied()), Some("max_size"));
        assert_eq!(nearest("mon1", ["tue-1", "mon-1"]), Some("mon-1"));
        assert_eq!(nearest("x", []), None);
    }
}
