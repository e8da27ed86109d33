//! The setup as a person sees it: a part for each section, a field for each key, rows for what there may be several of.
//!
//! In:  values by name of field, and the one mistake there may be. Out: views for the template.
//! Keeps: every key of the setup has a field (acceptance test `every_key_of_the_setup_has_its_field`).
//! Not here: the explanations themselves (`config/default.toml`).

use sheaf_app::setup::{Fields, KeyAbout, Kind, SectionAbout, about_setup, kind_of};

/// Empty rows at the end of a list, to add with.
const ROWS_TO_ADD: usize = 2;

/// A field.
pub(super) struct FieldView {
    pub(super) name: String,
    pub(super) label: String,
    /// The key as the text has it.
    pub(super) key: &'static str,
    pub(super) more: String,
    pub(super) value: String,
    /// What holds while it is left empty; empty where the setup does not say.
    pub(super) built_in: String,
    /// `choice`, `lines`, `list` or `words`.
    pub(super) kind: &'static str,
    /// Value, words, whether it is the one.
    pub(super) choices: Vec<(String, String, bool)>,
    pub(super) error: Option<String>,
}

/// A column of a list.
pub(super) struct ColumnView {
    pub(super) label: String,
    pub(super) key: &'static str,
    pub(super) more: String,
}

/// A section.
pub(super) struct SectionView {
    pub(super) id: &'static str,
    pub(super) title: &'static str,
    pub(super) about: String,
    /// Of a section that there is once.
    pub(super) fields: Vec<FieldView>,
    /// Of a list.
    pub(super) columns: Vec<ColumnView>,
    pub(super) rows: Vec<Vec<FieldView>>,
    /// A mistake of the section, or of a row as a whole.
    pub(super) error: Option<String>,
}

/// Every section; `fault` is a field, or a section, and what is wrong there.
pub(super) fn sections(fields: &Fields, fault: Option<&(String, String)>) -> Vec<SectionView> {
    about_setup().iter().map(|about| section(about, fields, fault)).collect()
}

fn section(about: &SectionAbout, fields: &Fields, fault: Option<&(String, String)>) -> SectionView {
    let n_rows = if about.is_list { n_rows(about.section, fields) + ROWS_TO_ADD } else { 0 };
    let row = |n: usize| {
        let place = format!("{}.{n}", about.section);
        about.keys.iter().map(|key| field(about.section, &place, key, fields, fault)).collect()
    };
    let is_own = |place: &str| {
        let rest = place.strip_prefix(about.section);
        rest.is_some_and(|r| r.is_empty() || r.strip_prefix('.').is_some_and(|n| n.parse::<usize>().is_ok()))
    };
    SectionView {
        id: about.section,
        title: title(about.section),
        about: about.about.replace(", one section for each", ""),
        fields: if about.is_list {
            Vec::new()
        } else {
            about.keys.iter().map(|key| field(about.section, about.section, key, fields, fault)).collect()
        },
        columns: if about.is_list { about.keys.iter().map(column).collect() } else { Vec::new() },
        rows: (0..n_rows).map(row).collect(),
        error: fault.filter(|(place, _)| is_own(place)).map(|(_, what)| what.clone()),
    }
}

/// Rows up to the last one that holds something.
fn n_rows(section: &str, fields: &Fields) -> usize {
    let number = |(name, value): (&String, &String)| {
        let n = name.strip_prefix(section)?.strip_prefix('.')?.split('.').next()?.parse::<usize>().ok()?;
        (!value.is_empty()).then_some(n + 1)
    };
    fields.iter().filter_map(number).max().unwrap_or(0)
}

fn field(section: &str, place: &str, about: &KeyAbout, fields: &Fields, fault: Option<&(String, String)>) -> FieldView {
    let name = format!("{place}.{}", about.key);
    let value = fields.get(&name).cloned().unwrap_or_default();
    let kind = kind_of(section, about.key);
    FieldView {
        label: about.what.clone(),
        key: about.key,
        more: about.more.clone(),
        built_in: built_in(about),
        kind: match kind {
            Kind::OneOf(_) | Kind::YesNo => "choice",
            Kind::Lists => "lines",
            Kind::List => "list",
            _ => "words",
        },
        choices: choices(kind, &value),
        error: fault.filter(|(at, _)| *at == name).map(|(_, what)| what.clone()),
        value,
        name,
    }
}

fn choices(kind: Kind, value: &str) -> Vec<(String, String, bool)> {
    let known: Vec<(&str, &str)> = match kind {
        Kind::YesNo => vec![("true", "yes"), ("false", "no")],
        Kind::OneOf(words) => words.iter().map(|w| (*w, in_words(w))).collect(),
        _ => return Vec::new(),
    };
    let mut choices = vec![(String::new(), "not set".to_owned(), value.is_empty())];
    choices.extend(known.iter().map(|(v, w)| ((*v).to_owned(), (*w).to_owned(), *v == value)));
    // What was typed into the text and is none of them is shown as it is.
    if !choices.iter().any(|(.., is_chosen)| *is_chosen) {
        choices.push((value.to_owned(), value.to_owned(), true));
    }
    choices
}

/// The value that holds while a field is empty, as a person would write it.
fn built_in(about: &KeyAbout) -> String {
    let shown = about.shown.trim_matches('"');
    match (about.is_on, shown) {
        (true, "[]") => "none".to_owned(),
        (true, shown) => shown.to_owned(),
        (false, _) => "not set".to_owned(),
    }
}

fn in_words(choice: &'static str) -> &'static str {
    match choice {
        "need" => "need: an unmet skill",
        "all" => "all: everyone",
        "grade" => "grade: one grade",
        "homeroom" => "homeroom: one class",
        "ignore" => "ignore: says nothing",
        "wrong" => "wrong: as a wrong answer",
        day => day,
    }
}

fn column(about: &KeyAbout) -> ColumnView {
    ColumnView { label: short(about.key).to_owned(), key: about.key, more: format!("{}. {}", about.what, about.more) }
}

/// The head of a column.
fn short(key: &str) -> &str {
    match key {
        "id" => "Short name",
        "day" => "Day",
        "start" => "From",
        "end" => "To",
        "homerooms" => "Homerooms",
        "name" => "Name",
        "blocks" => "Blocks",
        "leads" => "Leads",
        "seats" => "Seats",
        "staffed" => "Needs an adult",
        "capacity" => "Groups at a time",
        "homeroom" => "Homeroom",
        "student" => "Student",
        other => other,
    }
}

fn title(section: &str) -> &'static str {
    match section {
        "groups" => "Groups",
        "intensive" => "Intensive groups",
        "mastery" => "When a skill counts as met",
        "block" => "Blocks of the timetable",
        "staff" => "Adults",
        "room" => "Rooms",
        "station" => "Stations",
        "busy" => "When children are busy",
        "ticket" => "Exit tickets",
        "core" => "Core lessons",
        "limits" => "Limits",
        "cycle" => "The cycle",
        "reading" => "Reading files",
        "records" => "Records",
        _ => "More",
    }
}
