//! Tarrowby, a school of three grades with more need than adults: who waits, who sits when, and a Monday without one adult.
//!
//! In:  `fixtures/schools/tarrowby/`, by the command, each of its five weeks. Keeps: nobody is pulled when busy, pairs sit apart,
//! every group gets the sessions it asks for, and those who wait are named with what would seat them.
//! Not here: whether the groups fit the planted needs (the fixtures' truth is for other tests).

mod story;

pub use story::keep_five_weeks;

use crate::command::{root, sheaf};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

const N_WEEKS: usize = 5;

fn folder() -> String {
    root().join("fixtures/schools/tarrowby").to_str().unwrap().to_owned()
}

/// The published plan of a week, as text.
fn text_of(week: usize) -> String {
    let file = |name: String| format!("{}/{name}", folder());
    let mut args = vec!["plan".to_owned()];
    args.extend((3..=5).map(|grade| file(format!("grade{grade}_week{week}.xlsx"))));
    for (flag, name) in [("--school", "school.toml"), ("--students", "students.csv")] {
        args.extend([flag.to_owned(), file(name.to_owned())]);
    }
    args.extend(["--json".to_owned(), "-".to_owned()]);
    let ran = sheaf(args);
    assert_eq!(ran.code, 0, "{}", ran.err);
    String::from_utf8(ran.out).unwrap()
}

/// All five weeks, planned once.
fn plans() -> &'static [Value] {
    static PLANS: OnceLock<Vec<Value>> = OnceLock::new();
    PLANS.get_or_init(|| (1..=N_WEEKS).map(|week| serde_json::from_str(&text_of(week)).unwrap()).collect())
}

fn list(v: &Value) -> &[Value] {
    v.as_array().unwrap()
}

fn is_led(session: &Value) -> bool {
    session["station"] == "Teacher table"
}

fn led(plan: &Value) -> impl Iterator<Item = &Value> {
    list(&plan["rotation"]).iter().filter(|s| is_led(s))
}

fn is_there(session: &Value, id: &str) -> bool {
    list(&session["students"]).iter().any(|s| s == id)
}

#[test]
fn who_waits_in_grade_5_is_named_with_what_would_seat_them() {
    let waits: Vec<&Value> = list(&plans()[0]["unplaced"])
        .iter()
        .filter(|u| u["kind"] == "waits" && u["id"].as_str().unwrap().starts_with('5'))
        .collect();
    assert!(waits.len() >= 3, "{waits:?}");
    for unplaced in waits {
        let reason = unplaced["reason"].as_str().unwrap();
        assert!(
            reason.contains("grade 5") && reason.contains("9 led blocks") && reason.contains("more led blocks seat"),
            "{reason}"
        );
    }
}

#[test]
fn every_group_gets_the_sessions_it_asks_for() {
    for plan in plans() {
        let mut n_led: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for session in led(plan) {
            n_led.entry(session["group"].as_str().unwrap()).or_default().push(session["day"].as_str().unwrap());
        }
        for ask in list(&plan["setup"]["groups"]) {
            let days = &n_led[ask["group"].as_str().unwrap()];
            assert_eq!(days.len() as u64, ask["sessions"].as_u64().unwrap(), "{ask}");
            assert_eq!(days.iter().collect::<BTreeSet<_>>().len(), days.len(), "on different days: {ask} {days:?}");
        }
    }
}

#[test]
fn children_who_read_elsewhere_on_monday_and_wednesday_sit_on_other_days() {
    let mut n_sat = 0;
    for plan in plans() {
        for id in ["3003", "3012"] {
            let days: Vec<&str> = led(plan).filter(|s| is_there(s, id)).map(|s| s["day"].as_str().unwrap()).collect();
            assert!(days.iter().all(|d| !["Mon", "Wed"].contains(d)), "{id}: {days:?}");
            let is_seated = list(&plan["students"]).iter().any(|s| s["id"] == id && !s["group"].is_null());
            assert_eq!(is_seated, !days.is_empty(), "{id} is seated and never led");
            n_sat += usize::from(is_seated);
        }
    }
    assert!(n_sat >= 5, "{n_sat}");
}

#[test]
fn pairs_of_the_setup_never_share_a_group() {
    let setup: toml::Table = std::fs::read_to_string(format!("{}/school.toml", folder())).unwrap().parse().unwrap();
    let pairs = setup["groups"]["keep_apart"].as_array().unwrap();
    assert!(pairs.len() >= 3);
    for plan in plans() {
        for group in list(&plan["groups"]) {
            let sits = |id: &toml::Value| list(&group["members"]).iter().any(|m| m.as_str() == id.as_str());
            assert!(pairs.iter().all(|p| !(sits(&p[0]) && sits(&p[1]))), "{group}");
        }
    }
}

#[test]
fn on_fridays_only_the_adult_who_may_lead_does() {
    for plan in plans() {
        let adults: BTreeSet<&str> =
            led(plan).filter(|s| s["day"] == "Fri").map(|s| s["staff"].as_str().unwrap()).collect();
        assert_eq!(adults.into_iter().collect::<Vec<_>>(), ["I1"]);
    }
    let assistants = ["A1", "A2"];
    assert!(plans().iter().flat_map(led).all(|s| !assistants.contains(&s["staff"].as_str().unwrap())));
}

#[test]
fn monday_without_one_adult_changes_only_monday() {
    let folder = tempfile::tempdir().unwrap();
    let plan = folder.path().join("plan.json");
    let before = text_of(1);
    std::fs::write(&plan, &before).unwrap();
    let ran = sheaf(["repair", plan.to_str().unwrap(), "--without", "I2@Mon", "--json", "-"]);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let after = String::from_utf8(ran.out).unwrap();
    let (old, new): (BTreeSet<&str>, BTreeSet<&str>) = (before.lines().collect(), after.lines().collect());
    let trimmed =
        |lines: Vec<&str>| -> Vec<String> { lines.iter().map(|l| l.trim().trim_end_matches(',').to_owned()).collect() };
    for line in trimmed(old.difference(&new).copied().collect()) {
        assert!(line.contains("\"day\": \"Mon\"") || line == "}", "{line}");
    }
    for line in trimmed(new.difference(&old).copied().collect()) {
        let is_change = line.contains("\"day\": \"Mon\"") || line.starts_with("{\"without\"");
        assert!(is_change || line == "}" || line == "\"repairs\": [" || line == "]", "{line}");
    }
    let after: Value = serde_json::from_str(&after).unwrap();
    assert!(list(&after["rotation"]).iter().all(|s| s["day"] != "Mon" || s["staff"] != "I2"));
    assert!(!list(&after["repairs"][0]["changes"]).is_empty());
    for child in ["3004", "4009"] {
        let is_led_on_monday = |plan: &Value| led(plan).any(|s| s["day"] == "Mon" && is_there(s, child));
        assert_eq!(is_led_on_monday(&after), is_led_on_monday(&serde_json::from_str(&before).unwrap()), "{child}");
    }
}
