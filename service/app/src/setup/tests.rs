//! Every key is read, and every mistake of a setup file is said with its line.
//! Messages are compared whole or by the part that names key and line, as a person would read them.

use super::keys::{SECTIONS, Written};
use super::*;
use crate::error::ErrorKind;
use sheaf_core::roster::{BusyWhen, BusyWho, GroupCount, Include, OmittedCounts, StudentId, Within};
use std::collections::BTreeSet;

fn mistake_in(text: &str) -> String {
    let error = parse_school("school.toml", text).unwrap_err();
    assert_eq!((error.kind, error.code), (ErrorKind::Input, "setup-mistake"), "{}", error.message);
    error.message
}

fn school(text: &str) -> School {
    parse_school("school.toml", text).unwrap()
}

fn id(text: &str) -> StudentId {
    StudentId::parse(text).unwrap()
}

/// The shipped file with every setting that is off taken into force.
fn everything_on() -> String {
    let on = |line: &str| match line.strip_prefix('#') {
        Some(rest) if !rest.is_empty() && !rest.starts_with(' ') => format!("{rest}\n"),
        _ => format!("{line}\n"),
    };
    DEFAULT_TOML.lines().map(on).collect()
}

#[test]
fn an_empty_file_is_the_built_in_setup() {
    assert_eq!(school(""), School::default());
    assert_eq!(school("\u{feff}# nothing\r\n"), School::default());
}

#[test]
fn the_shipped_file_is_the_built_in_setup() {
    assert_eq!(parse_school("default.toml", DEFAULT_TOML).unwrap(), School::default());
}

#[test]
fn the_shipped_file_and_the_reader_know_the_same_keys() {
    let text = everything_on();
    let table: toml::Table = text.parse().unwrap();
    let mut shown: BTreeSet<(String, String)> = BTreeSet::new();
    for (section, value) in &table {
        let entries = value.as_array().cloned().unwrap_or_else(|| vec![value.clone()]);
        for entry in entries {
            shown.extend(entry.as_table().unwrap().keys().map(|key| (section.clone(), key.clone())));
        }
    }
    let known: BTreeSet<(String, String)> =
        SECTIONS.iter().flat_map(|s| s.keys.iter().map(|key| (s.section.to_owned(), (*key).to_owned()))).collect();
    assert_eq!(shown, known);
}

#[test]
fn every_key_of_the_shipped_file_has_a_comment_above_it() {
    let lines: Vec<&str> = DEFAULT_TOML.lines().collect();
    for (at, line) in lines.iter().enumerate() {
        let is_key = line.trim_start_matches('#').starts_with(|c: char| c.is_ascii_lowercase()) && line.contains(" = ");
        assert!(!is_key || lines[at - 1].starts_with("# "), "line {}: {line}", at + 1);
    }
}

#[test]
fn settings_that_are_off_can_be_taken_into_force() {
    let school = school(&everything_on());
    assert_eq!(school.groups.sessions, Some(3));
    assert_eq!((school.blocks.len(), school.staff.len(), school.rooms.len()), (1, 1, 1));
    assert_eq!((school.stations[0].staffed, school.stations[0].capacity), (false, 2));
    assert_eq!(school.busy[0].who, BusyWho::Homeroom("5P".into()));
    assert_eq!(
        (&school.busy[1].who, &school.busy[1].when),
        (&BusyWho::Student(id("0417")), &BusyWhen::Blocks(vec!["mon-1".into()]))
    );
    let limits = &school.limits;
    assert_eq!(
        (limits.max_departures, limits.max_pullouts, limits.walk_minutes, limits.max_in_a_row),
        (Some(6), Some(2), Some(5), Some(4))
    );
    assert_eq!(school.cycle.starts, Some(jiff::civil::date(2026, 1, 26)));
}

#[test]
fn keys_are_read() {
    let school = school(
        r#"
[groups]
include = "all"
within = "homeroom"
min_size = 2
max_size = 4
count = 6
keep_apart = [["0417", "0533"], ["1", "2", "3"]]
keep_together = [["0417", "7"]]
max_swap_share = 1
[intensive]
students = ["0022"]
max_size = 2
[mastery]
omitted = "wrong"
cut = 1
[core]
skills = ["5.nf.5a"]
"#,
    );
    assert_eq!((school.groups.include, school.groups.within), (Include::All, Within::Homeroom));
    assert_eq!((school.groups.count, school.groups.sessions), (GroupCount::Fixed(6), None));
    assert_eq!(school.groups.keep_apart.len(), 4, "three who stay apart are three pairs");
    assert_eq!(school.groups.keep_together, vec![vec![id("0417"), id("7")]]);
    assert_eq!((school.intensive.students, school.intensive.max_size), (vec![id("0022")], 2));
    assert_eq!((school.mastery.omitted, school.mastery.cut), (OmittedCounts::Wrong, 1.0));
    assert_eq!(school.core.skills, ["5.NF.5a"]);
}

#[test]
fn what_a_timetable_leaves_out_is_filled_in() {
    let school = school(
        r#"
[[block]]
id = "a"
day = "Monday"
start = 09:00:00
end = "9:30"
[[block]]
id = "b"
day = "Mon"
start = "09:15"
end = "09:45"
[[staff]]
name = "Always"
[[staff]]
name = "Never"
blocks = []
[[busy]]
student = "5"
day = "Tue"
"#,
    );
    assert_eq!(school.blocks[0].time.length_minutes(), 30);
    assert_eq!(school.staff[0].blocks, ["a", "b"], "blocks that overlap are fine for one adult");
    assert!(school.staff[0].leads && school.staff[1].blocks.is_empty());
    let BusyWhen::Span(span) = &school.busy[0].when else { panic!("a day is a span") };
    assert_eq!(span.length_minutes(), 1440);
}

#[test]
fn an_unknown_key_names_the_nearest() {
    assert_eq!(
        mistake_in("[groups]\n\nmin_siz = 3\n"),
        "school.toml, line 3: there is no key groups.min_siz; the nearest known key is groups.min_size."
    );
    assert!(
        mistake_in("[group]\nmin_size = 3\n")
            .contains("line 1: there is no key group; the nearest known key is groups")
    );
    assert!(mistake_in("[[block]]\nid = \"a\"\nstarts = \"09:00\"").contains("line 3: there is no key block.starts"));
}

#[test]
fn a_key_of_another_section_is_sent_there() {
    assert!(
        mistake_in("[groups]\ncut = 0.8").contains("line 2: there is no key groups.cut; cut belongs under [mastery]")
    );
    assert!(mistake_in("min_size = 3").contains("min_size belongs under [groups] or [intensive]"));
}

/// A setup with one mistake, and what the message must hold.
const MISTAKES: [(&str, &str); 37] = [
    ("[groups]\nmin_size = 0", "line 2: groups.min_size must be a whole number from 1 to 10000, not 0"),
    ("[groups]\nmin_size = 6", "line 2: min_size 6 is above the built-in max_size 5"),
    ("[groups]\nmax_size = 2", "line 2: max_size 2 is below the built-in min_size 3"),
    ("[groups]\nmin_size = 4\nmax_size = 3", "line 3: max_size 3 is below min_size 4"),
    ("[groups]\nmin_size = \"3\"", "line 2: groups.min_size must be a whole number from 1 to 10000, not \"3\""),
    ("[groups]\nmin_size = 2.5", "not 2.5"),
    ("[groups]\nwithin = \"school\"", "line 2: groups.within must be \"grade\" or \"homeroom\" or \"all\""),
    ("[groups]\ncount = \"many\"", "line 2: groups.count must be \"auto\" or a whole number"),
    ("[groups]\ncount = 0", "line 2: groups.count must be \"auto\" or a whole number"),
    ("[groups]\nsessions = -1", "line 2: groups.sessions"),
    (
        "[groups]\nmax_swap_share = 25",
        "line 2: groups.max_swap_share must be a share from 0 to 1, such as 0.25, not 25",
    ),
    ("[groups]\nmax_swap_share = nan", "line 2: groups.max_swap_share"),
    ("[groups]\nkeep_apart = [\"1\", \"2\"]", "line 2: groups.keep_apart must be a list of texts"),
    ("[groups]\nkeep_apart = [[\"1\"]]", "line 2: an entry of groups.keep_apart names fewer than two students"),
    (
        "[groups]\nkeep_apart = [\n[\"1\", \"2\"],\n[\"3\", \" 3\"]]",
        "line 4: an entry of groups.keep_apart names 3 twice",
    ),
    ("[intensive]\nstudents = [417]", "line 2: intensive.students holds 417; write each entry as a text in quotes"),
    ("[intensive]\nstudents = [\"\"]", "line 2: intensive.students holds an empty text"),
    ("[mastery]\ncut = 1.5", "line 2: mastery.cut must be a share above 0 and up to 1"),
    ("[mastery]\ncut = 0", "line 2: mastery.cut must be a share above 0"),
    ("[ticket]\nitems = 11", "line 2: ticket.items must be a whole number from 1 to 10"),
    ("[[room]]\nname = \"Nook\"\nseats = 0", "line 3: room.seats must be a whole number from 1"),
    ("[[room]]\nname = \"Nook\"", "line 1: this [[room]] needs seats"),
    ("[[block]]\nid = \"a\"\nday = \"Sun\"\nstart = \"09:00\"\nend = \"10:00\"", "line 3: Sun is not a school day"),
    ("[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"9\"\nend = \"10:00\"", "line 4: 9 is not a time of day"),
    ("[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"10:00\"\nend = \"09:00\"", "line 5: 10:00 to 09:00 ends before"),
    ("[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"10:00\"", "line 4: this [[block]] has start but no end"),
    ("[[block]]\nid = \"a\"\nday = \"Mon\"", "line 1: this [[block]] needs start and end"),
    ("[block]\nid = \"a\"", "line 1: block must be written with double brackets, once for each: [[block]]"),
    ("[[groups]]\nmin_size = 3", "line 1: groups must be written once, with single brackets: [groups]"),
    (
        "staff = []\n[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"10:00\"",
        "line 1: staff is empty beside blocks",
    ),
    (
        "[[busy]]\nhomeroom = \"5P\"\nday = \"Mon\"\nstart = \"10:00\"\nend = \"10:00\"",
        "line 5: 10:00 to 10:00 ends before",
    ),
    ("[cycle]\nstarts = \"2026-01-27\"", "line 2: 2026-01-27 is not a Monday"),
    ("[cycle]\nstarts = \"soon\"", "line 2: soon is not a date"),
    ("[[busy]]\nday = \"Mon\"", "line 1: this [[busy]] needs homeroom or student"),
    ("[[busy]]\nhomeroom = \"5P\"", "line 1: this [[busy]] needs day"),
    ("[[busy]]\nhomeroom = \"5P\"\nblocks = []\nday = \"Mon\"", "line 4: this [[busy]] has both blocks and day"),
    ("[groups]\nmin_size = 3\nmin_size = 4", "line 3: this line cannot be read as TOML"),
];

#[test]
fn every_mistake_is_one_sentence_with_its_line() {
    for (text, part) in MISTAKES {
        let message = mistake_in(text);
        assert!(message.contains(part), "{message} lacks {part}");
        assert!(message.starts_with("school.toml, line ") && message.ends_with('.'), "{message}");
        assert!(!message.contains('\n') && !message.contains(". "), "{message} is more than one sentence");
    }
}

#[test]
fn a_mistake_inside_a_long_list_has_its_own_line() {
    let block = "[[block]]\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n";
    let text = format!("{block}[[staff]]\nname = \"A\"\nblocks = [\n  \"mon-1\",\n  \"mon-11\",\n]\n");
    assert_eq!(mistake_in(&text), "school.toml, line 10: there is no block mon-11; the nearest is mon-1.");
}

#[test]
fn an_unknown_block_names_the_nearest() {
    let block = "[[block]]\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n";
    for rest in
        ["[[room]]\nname = \"R\"\nseats = 4\nblocks = [\"mno-1\"]", "[[busy]]\nhomeroom = \"5P\"\nblocks = [\"mno-1\"]"]
    {
        assert!(mistake_in(&format!("{block}{rest}")).contains("no block mno-1; the nearest is mon-1"));
    }
    assert!(
        mistake_in("[[staff]]\nname = \"A\"\nblocks = [\"x\"]")
            .contains("line 3: there is no block x; add a [[block]]")
    );
}

#[test]
fn blocks_of_one_adult_that_overlap_are_remarked() {
    let block = |id: &str, start: &str| {
        format!("[[block]]\nid = \"{id}\"\nday = \"Mon\"\nstart = \"{start}\"\nend = \"10:00\"\n")
    };
    let text = format!(
        "{}{}[[staff]]\nname = \"A\"\nblocks = [\"a\", \"b\"]\n[[staff]]\nname = \"B\"\nblocks = [\"b\"]\n",
        block("a", "09:00"),
        block("b", "09:30")
    );
    let school = school(&text);
    assert_eq!(school.remarks.len(), 1);
    let remark = &school.remarks[0];
    assert_eq!(remark.code, "blocks-overlap");
    assert_eq!(remark.message, "school.toml, line 13: staff.blocks of A names a and b, which overlap.");
}

#[test]
fn names_are_unique() {
    let block = "[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n";
    assert!(mistake_in(&format!("{block}{block}")).contains("line 7: block a is there twice"));
    for (section, rest) in [("staff", ""), ("room", "seats = 4\n"), ("station", "")] {
        let entry = format!("[[{section}]]\nname = \"Nook\"\n{rest}");
        assert!(mistake_in(&format!("{entry}{entry}")).contains(&format!("{section} Nook is there twice")));
    }
}

#[test]
fn a_pair_apart_and_together_is_a_clash() {
    let direct = "[groups]\nkeep_apart = [[\"8\", \"9\"],\n  [\"1\", \"2\"]]\nkeep_together = [[\"2\", \"1\"]]\n";
    let by_way_of_others =
        "[groups]\n\nkeep_apart = [[\"1\", \"4\"]]\nkeep_together = [[\"1\", \"2\"], [\"3\", \"4\"], [\"3\", \"2\"]]";
    for text in [direct, by_way_of_others] {
        let error = parse_school("school.toml", text).unwrap_err();
        assert_eq!((error.kind, error.code), (ErrorKind::NoPlan, "limits-clash"));
        assert!(error.message.starts_with("school.toml, line 3: 1 and "), "{}", error.message);
    }
    assert!(
        parse_school(
            "school.toml",
            "[groups]\nkeep_apart = [[\"1\", \"4\"]]\nkeep_together = [[\"1\", \"2\"], [\"3\", \"4\"]]"
        )
        .is_ok()
    );
}

#[test]
fn sections_are_written_as_the_shipped_file_writes_them() {
    for keys in SECTIONS {
        let heading = if keys.written == Written::Each { format!("#{}", keys.heading()) } else { keys.heading() };
        assert!(DEFAULT_TOML.lines().any(|line| line == heading), "{heading}");
    }
}
