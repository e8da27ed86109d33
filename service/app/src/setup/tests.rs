//! Every mistake of a setup file is said with its line.

use super::*;
use sheaf_core::roster::{GroupCount, Include, Within};

fn mistake_in(text: &str) -> String {
    parse_school("school.toml", text).unwrap_err().message
}

#[test]
fn an_empty_file_is_the_built_in_setup() {
    assert_eq!(parse_school("school.toml", "").unwrap(), School::default());
}

#[test]
fn the_shipped_file_is_the_built_in_setup() {
    assert_eq!(parse_school("default.toml", DEFAULT_TOML).unwrap(), School::default());
}

#[test]
fn the_shipped_file_names_every_key() {
    let keys = [
        "include",
        "within",
        "min_size",
        "max_size",
        "count",
        "sessions",
        "keep_apart",
        "keep_together",
        "max_swap_share",
        "students",
        "omitted",
        "cut",
        "confirm",
        "id",
        "day",
        "start",
        "end",
        "homerooms",
        "name",
        "blocks",
        "leads",
        "seats",
        "staffed",
        "capacity",
        "homeroom",
        "student",
        "items",
        "skills",
        "max_departures",
        "max_pullouts",
        "walk_minutes",
        "max_in_a_row",
        "starts",
        "weeks",
    ];
    for key in keys {
        let is_there = DEFAULT_TOML.lines().any(|l| {
            l.trim_start_matches(['#', ' ']).strip_prefix(key).is_some_and(|r| r.trim_start().starts_with('='))
        });
        assert!(is_there, "config/default.toml does not show {key}");
    }
    for section in SECTIONS {
        assert!(DEFAULT_TOML.contains(&format!("[{section}]")), "config/default.toml does not show [{section}]");
    }
}

#[test]
fn keys_are_read() {
    let school = parse_school(
        "school.toml",
        r#"
[groups]
include = "all"
within = "homeroom"
min_size = 2
max_size = 4
count = 6
sessions = 3
keep_apart = [["0417", "0533"]]
[[block]]
id = "mon-1"
day = "Mon"
start = "09:00"
end = "09:30"
[[staff]]
name = "Teacher A"
blocks = ["mon-1"]
[[busy]]
homeroom = "5P"
blocks = ["mon-1"]
[limits]
walk_minutes = 5
[cycle]
starts = "2026-01-26"
"#,
    )
    .unwrap();
    assert_eq!((school.groups.include, school.groups.within), (Include::All, Within::Homeroom));
    assert_eq!((school.groups.count, school.groups.sessions), (GroupCount::Fixed(6), Some(3)));
    assert_eq!(school.groups.keep_apart.len(), 1);
    assert_eq!(school.blocks[0].time.length_minutes(), 30);
    assert!(school.staff[0].leads);
    assert_eq!(school.limits.walk_minutes, Some(5));
}

#[test]
fn an_unknown_key_names_the_nearest() {
    let message = mistake_in("[groups]\n\nmin_siz = 3\n");
    assert_eq!(
        message,
        "school.toml, line 3: groups.min_siz is not a key of the setup; did you mean groups.min_size?."
    );
    assert!(mistake_in("[group]\nmin_size = 3\n").contains("did you mean groups?"));
}

#[test]
fn values_out_of_range_name_key_and_line() {
    for (text, part) in [
        ("[groups]\nmin_size = 0", "line 2: groups.min_size must be a whole number from 1 to 40"),
        ("[groups]\nmin_size = 6", "line 2: min_size 6 is above max_size 5"),
        ("[groups]\nwithin = \"school\"", "line 2: groups.within must be \"grade\" or \"homeroom\" or \"all\""),
        ("[mastery]\ncut = 1.5", "line 2: mastery.cut must be a number from 0.05 to 1"),
        ("[ticket]\nitems = 11", "line 2: ticket.items"),
        ("[[room]]\nname = \"Nook\"\nseats = 0", "line 3: room.seats must be a whole number from 1"),
        ("[[block]]\nid = \"a\"\nday = \"Sun\"\nstart = \"09:00\"\nend = \"10:00\"", "line 3: Sun is not a school day"),
        (
            "[[block]]\nid = \"a\"\nday = \"Mon\"\nstart = \"10:00\"\nend = \"09:00\"",
            "line 5: 10:00 to 09:00 ends before",
        ),
        ("[[staff]]\nname = \"A\"\nblocks = [\"x\"]", "line 3: there is no block x; there is no [[block]]"),
        ("[cycle]\nstarts = \"2026-01-27\"", "line 2: cycle.starts must be a Monday"),
        ("[[busy]]\nday = \"Mon\"", "line 1: each [[busy]] needs either homeroom or student"),
        ("[groups\nmin_size = 3", "line 1:"),
    ] {
        let message = mistake_in(text);
        assert!(message.contains(part), "{message} lacks {part}");
    }
}

#[test]
fn names_are_unique() {
    let text = "[[room]]\nname = \"Nook\"\nseats = 4\n[[room]]\nname = \"Nook\"\nseats = 5\n";
    assert!(mistake_in(text).contains("line 5: room Nook is there twice"));
}

#[test]
fn a_pair_apart_and_together_is_a_clash() {
    let text = "[groups]\nkeep_apart = [[\"1\", \"2\"]]\nkeep_together = [[\"1\", \"2\"]]\n";
    let error = parse_school("school.toml", text).unwrap_err();
    assert_eq!((error.kind, error.code), (ErrorKind::NoPlan, "limits-clash"));
}
