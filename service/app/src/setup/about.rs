//! What every key of the setup is for, with its unit, range, built-in value and source, as `config/default.toml` explains it.
//!
//! In:  the shipped file. Out: for each section its words and, for each key, a first sentence (what it is), the rest (range, built-in
//! value, source) and the value that is shown.
//! Keeps: every key is explained (`every_key_is_explained`). Not here: what a value means (`groups`, `timetable`, `rules`).

use super::DEFAULT_TOML;
use super::keys::{Keys, SECTIONS};

/// One key explained.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyAbout {
    /// The key, e.g. `min_size`.
    pub key: &'static str,
    /// What it is, one sentence without its end.
    pub what: String,
    /// Range, built-in value and source.
    pub more: String,
    /// The value of the shipped file as it is written there.
    pub shown: String,
    /// Whether it holds there, or is only shown.
    pub is_on: bool,
}

/// One section explained.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SectionAbout {
    /// The section, e.g. `groups`.
    pub section: &'static str,
    /// Whether there may be several, as with `[[block]]`.
    pub is_list: bool,
    /// What it is about; may be empty.
    pub about: String,
    /// Its keys, in the order of the file.
    pub keys: Vec<KeyAbout>,
}

/// Every section of the setup, explained.
#[must_use]
pub fn about_setup() -> Vec<SectionAbout> {
    let mut sections: Vec<SectionAbout> = SECTIONS.iter().map(|keys| unexplained(keys)).collect();
    let mut at = None;
    let mut words: Vec<&str> = Vec::new();
    for line in DEFAULT_TOML.lines() {
        if let Some(more) = line.strip_prefix("# ") {
            words.push(more);
            continue;
        }
        let (is_on, line) = line.strip_prefix('#').map_or((true, line), |off| (false, off));
        if let Some(name) = line.strip_prefix('[') {
            let name = name.trim_matches(['[', ']']);
            at = sections.iter().position(|s| s.section == name);
            if let Some(section) = at.and_then(|i| sections.get_mut(i)).filter(|s| s.about.is_empty()) {
                section.about = words.join(" ");
            }
        } else if let Some((key, shown)) = line.split_once(" = ") {
            let found = at.and_then(|i| sections[i].keys.iter_mut().find(|k| k.key == key && k.what.is_empty()));
            if let Some(about) = found {
                let text = words.join(" ");
                let (what, more) = text.split_once(". ").unwrap_or((text.trim_end_matches('.'), ""));
                (about.what, about.more) = (what.to_owned(), more.to_owned());
                (about.shown, about.is_on) = (shown.to_owned(), is_on);
            }
        }
        words.clear();
    }
    sections
}

fn unexplained(keys: &'static Keys) -> SectionAbout {
    let of = |key: &&'static str| KeyAbout {
        key,
        what: String::new(),
        more: String::new(),
        shown: String::new(),
        is_on: false,
    };
    SectionAbout {
        section: keys.section,
        is_list: keys.heading().starts_with("[["),
        about: String::new(),
        keys: keys.keys.iter().map(of).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_key_is_explained() {
        let sections = about_setup();
        assert_eq!(sections.len(), SECTIONS.len());
        for section in &sections {
            for key in &section.keys {
                assert!(!key.what.is_empty() && !key.shown.is_empty(), "{}.{}: {key:?}", section.section, key.key);
                let tells =
                    ["Built in", "Needed", "eft out", "Source", "Mon Tue", "Time of day", "day alone", "Ids of"];
                let text = format!("{}. {}", key.what, key.more);
                assert!(tells.iter().any(|t| text.contains(t)) || section.section == "busy", "{}: {text}", key.key);
            }
        }
        let groups = &sections[0];
        let size = groups.keys.iter().find(|k| k.key == "max_size").unwrap();
        assert_eq!((size.what.as_str(), size.shown.as_str(), size.is_on), ("Largest group, students", "5", true));
        assert!(size.more.starts_with("min_size to 10000. Built in: 5. Source: "), "{}", size.more);
        assert!(sections.iter().any(|s| s.section == "intensive" && s.about.starts_with("The smallest groups")));
    }
}
