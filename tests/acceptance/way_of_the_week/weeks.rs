//! Quillmere's four weeks by the pages alone, as a person goes through them: with and without script, wide and narrow.
//!
//! In:  the fixtures' list, setup, score sheets and tickets; who was away, from the fixtures' attendance. Out: what stands on the pages.
//! Keeps: a first plan is there after six steps or fewer; what was planted stands on the pages after four weeks (fixtures' `truth/README.md`).
//! Not here: verdicts of all children (`quillmere::weeks`), how each page behaves by itself (the tests named after the pages).

use super::person::{Person, file};
use crate::browser::Script;
use std::path::Path;

pub const MONDAYS: [&str; 4] = ["2026-02-02", "2026-02-09", "2026-02-16", "2026-02-23"];
/// Steps that a first plan may take: presses, choices of files and days, from the open page to the groups.
const MOST_STEPS: usize = 6;
/// A child of whom nothing was planted that is asked below; seated elsewhere in week 1.
const MOVED: &str = "0020";
/// A skill that is none, in the form in which the pages write codes.
const MISTYPED: &str = "5.NF.85a";
const REASON: &str = "knows the adult who leads there";
/// Away for all of weeks 2 and 3.
const AWAY: &str = "0009";

/// The way to a first plan, and nothing else: no list, no setup.
async fn plans_first(person: &mut Person) {
    person.goes(".next a.button", "Score sheets").await;
    person.writes_day("week", MONDAYS[0]).await;
    person.picks_files("file", &[file("week1_quiz.xlsx")]).await;
    person.goes(".sheet-form button", "Look over").await;
    let read = person.reads(".lead").await;
    assert!(read.contains("44 students and 9 items were read"), "{read}");
    person.goes(".actions .confirm", "Groups").await;
    let n_steps = person.steps();
    assert!(n_steps <= MOST_STEPS, "{n_steps} steps to the first plan");
    assert!(person.n("section.group").await >= 3 && person.n(".member").await >= 12);
}

async fn hands_list_and_setup_in(person: &mut Person) {
    person.goes_by_bar("/students", "Students").await;
    person.picks_files("file", &[file("students.csv")]).await;
    person.goes(".sheet-form button", "Students").await;
    let taken = person.reads("main [role=status]").await;
    assert!(taken.starts_with("Taken in: 44 students"), "{taken}");
    person.goes_by_bar("/school", "School").await;
    person.goes(".lead a[href='/school/setup']", "Setup").await;
    person.picks_files("file", &[file("school.toml")]).await;
    person.goes("form[action='/school/setup/file'] button", "Setup").await;
    assert!(person.reads("main [role=status]").await.starts_with("Kept."));
}

/// Last week's ticket as a text with item facts of their own, in which somebody mistyped a skill; gives the paths of both.
fn mistyped_ticket(folder: &Path) -> [String; 2] {
    let source = |name: &str| std::fs::read_to_string(file(&format!("source/{name}"))).unwrap();
    let facts = source("week1_ticket_items.csv").replacen("5.NF.B.5a", "5.NF.8.5a", 1);
    let kept = [("ticket.csv", source("week1_ticket.csv")), ("facts.csv", facts)];
    kept.map(|(name, text)| {
        let path = folder.join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    })
}

/// Hands a ticket in, sees the mistyped skill beside its item, writes the right one, reads again, and plans.
async fn corrects_a_skill_and_plans(person: &mut Person) {
    let folder = tempfile::tempdir().unwrap();
    let [ticket, facts] = mistyped_ticket(folder.path());
    person.goes_by_bar("/score-sheets", "Score sheets").await;
    person.picks_files("file", &[ticket]).await;
    person.picks_files("items", &[facts]).await;
    person.goes(".sheet-form button", "Look over").await;
    let skill = "input[aria-label='Skill of Q1']";
    assert_eq!(person.stands_in(skill).await, MISTYPED);
    person.writes(skill, "5.NF.B.5a").await;
    person.goes(".read-again", "Look over").await;
    assert_eq!(person.stands_in(skill).await, "5.NF.B.5a");
    person.goes(".actions .confirm", "Groups").await;
    assert!(!person.reads("main").await.contains(MISTYPED), "nobody is taught a skill that is none");
    assert_eq!(person.n("section.group").await, 6, "18 led sessions for groups of three");
    assert!(person.reads("main").await.contains("Saso A."), "names of the list");
}

/// Seats a child in another group for good, with a reason; gives both groups.
async fn moves_a_child(person: &mut Person) {
    let card = format!("li.member:has(#m-{MOVED})");
    let from = person.all(&format!("section.group:has(#m-{MOVED})"), "id").await.remove(0);
    let to = if from == "g1" { "g2" } else { "g1" };
    person.chooses(&format!("#m-{MOVED}"), to).await;
    person.browser.press(&format!("{card} button")).await;
    assert!(person.reads("main").await.contains("What it would change"));
    person.writes("#words", REASON).await;
    person.ticks("input[name=hold]").await;
    person.goes("#decide button", "Groups").await;
    let decided = person.reads("#decided").await;
    assert!(decided.contains(REASON) && decided.contains("also in the weeks to come"), "{decided}");
    assert_eq!(person.n(&format!("#{to} #m-{MOVED}")).await, 1);
}

/// A teacher is out on Tuesday: a meeting of theirs is opened, and a button pressed.
async fn repairs_a_day(person: &mut Person) {
    person.goes(".actions a.button", "Rotation").await;
    assert_eq!(person.n("#changes div").await, 0);
    let meeting = "td:nth-of-type(2) details:has(form)";
    let name = person.stands_in(&format!("{meeting} input[name=who]")).await;
    person.steps();
    person.ticks(&format!("{meeting} summary")).await;
    person.goes(&format!("{meeting} button[value=Tue]"), "Rotation").await;
    assert_eq!(person.steps(), 2, "the meeting, and the button");
    let changes = person.reads("#changes").await;
    assert!(changes.contains(&name) && changes.contains("Tuesday"), "{changes}");
}

/// Everything that is handed out on paper has the pages that it should.
async fn prints(person: &mut Person) {
    let week = MONDAYS[0];
    person.prints("the week, with one day changed", 1).await;
    for by in ["adult", "homeroom", "room"] {
        person.goes(&format!("a[href='/rotation/{week}/roster?by={by}']"), "Rosters").await;
        let n_sheets = person.n("section.roster").await;
        assert!(n_sheets >= 2, "{n_sheets} rosters by {by}");
        person.prints(by, n_sheets).await;
        person.goes_by_bar("/rotation/", "Rotation").await;
    }
    person.goes_by_bar("/groups/", "Groups").await;
    person.browser.press("#g1 a[href$='/g1']").await;
    person.prints("all about a group", 1).await;
    person.goes_by_bar("/tickets/", "Exit tickets").await;
    let n_tickets = person.n("article.ticket").await;
    assert_eq!(n_tickets, 12, "two forms for each of six groups");
    person.prints("tickets", n_tickets).await;
    person.goes(".actions a[href$='/keys']", "Ticket keys, for staff").await;
    assert_eq!(person.n("section.print-page").await, n_tickets);
    person.prints("what one ticket says, and the keys of each", n_tickets + 1).await;
}

/// Types the results of the last group: each child right on all but one item.
async fn types_results(person: &mut Person) {
    person.goes_by_bar("/tickets/", "Exit tickets").await;
    person.goes(".actions a[href^='/results/']", "Ticket results").await;
    let group = "form.results > section:last-of-type";
    let n_children = person.n(&format!("{group} tbody tr")).await;
    for child in 1..=n_children {
        let row = format!("{group} tbody tr:nth-child({child})");
        for item in 2..=person.n(&format!("{row} input[type=text]")).await + 1 {
            let mark = if item == child + 1 { "w" } else { "r" };
            person.writes(&format!("{row} td:nth-child({item}) input"), mark).await;
        }
    }
    person.goes(&format!("{group} button"), "Ticket results").await;
    let counts = person.reads("#counts").await;
    assert!(counts.starts_with(&format!("Results in: {n_children} of ")), "{counts}");
    assert_eq!(person.reads(&format!("{group} tbody tr:last-child .standing")).await, "✓ in");
}

/// Ticks every session as held, and takes the ticks of who was away in weeks 2 and 3.
async fn ticks_attendance(person: &mut Person, at: usize) {
    person.goes_by_bar("/rotation/", "Rotation").await;
    person.goes(&format!("a[href='/attendance/{}']", MONDAYS[at]), "Attendance").await;
    for session in person.all("input[name=held]", "value").await {
        person.ticks(&format!("input[name=held][value='{session}']")).await;
    }
    if [1, 2].contains(&at) {
        let expected = person.all(&format!("input[name=there][value$='|{AWAY}']"), "value").await;
        assert!(!expected.is_empty(), "{AWAY} has a seat in week {}", at + 1);
        for session in expected {
            person.ticks(&format!("input[name=there][value='{session}']")).await;
        }
    }
    person.goes("section:last-of-type button", "Attendance").await;
    assert!(person.reads("main [role=status]").await.starts_with("Noted: "));
}

/// Week 1 from nothing to results, with all that a week brings.
async fn first_week(person: &mut Person) {
    plans_first(person).await;
    hands_list_and_setup_in(person).await;
    corrects_a_skill_and_plans(person).await;
    moves_a_child(person).await;
    repairs_a_day(person).await;
    prints(person).await;
    types_results(person).await;
    ticks_attendance(person, 0).await;
}

/// A later week in short: sheets in, plan, who was there.
async fn next_week(person: &mut Person, at: usize) {
    person.goes_by_bar("/?week=", "This week").await;
    person.steps();
    person.goes(&format!(".hand-out a[href='/score-sheets?week={}']", MONDAYS[at]), "Score sheets").await;
    let of_week = |kind: &str| file(&format!("week{}_{kind}.xlsx", at + 1));
    person.picks_files("file", &[of_week("quiz"), of_week("ticket")]).await;
    person.goes(".sheet-form button", "Look over").await;
    person.goes(".actions .confirm", "Groups").await;
    assert_eq!(person.steps(), 4, "link, files, hand in, confirm");
    assert!((3..=6).contains(&person.n("section.group").await), "groups of week {}", at + 1);
    let decided = person.reads("#decided").await;
    assert!(decided.contains(REASON), "the held seat stays: {decided}");
    ticks_attendance(person, at).await;
}

/// What the page of movement says of a child, in the part of this anchor.
async fn row(person: &Person, anchor: &str, child: &str) -> Option<String> {
    let rows = format!("div[aria-labelledby={anchor}] tbody tr");
    for n in 1..=person.n(&rows).await {
        let said = person.reads(&format!("{rows}:nth-child({n})")).await;
        if said.contains(child) {
            return Some(said);
        }
    }
    None
}

/// What was planted stands on the page of movement.
async fn movement_tells_what_was_planted(person: &mut Person) {
    person.goes_by_bar("/movement", "Movement").await;
    person.browser.picture("movement-of-four-weeks").await;
    let changed = row(person, "changed-idea", "0015").await.expect("0015 has another idea than before");
    let words = "the wrong idea was “takes any factor written as a fraction to make a number smaller” and is now “";
    assert!(changed.contains(words), "{changed}");
    assert!(row(person, "change-something", AWAY).await.is_none(), "who was away is not stuck");
    let away = row(person, "not-yet-taught", AWAY).await.expect("who was away is not yet taught");
    assert!(away.contains(" minutes"), "{away}");
    for child in ["0008", "0016"] {
        let stuck = row(person, "change-something", child).await;
        assert!(stuck.is_some(), "{child} learnt nothing and is told so");
    }
    person.goes_by_bar("/students", "Students").await;
    person.goes("a[href='/students/0015']", "Saso A.").await;
    let weeks = person.n("div[aria-labelledby=weeks-h] > table > tbody > tr").await;
    assert_eq!(weeks, 4);
}

async fn four_weeks(script: Script, width: u32) {
    let mut person = Person::sits_down(script, width).await;
    first_week(&mut person).await;
    for at in 1..MONDAYS.len() {
        next_week(&mut person, at).await;
    }
    movement_tells_what_was_planted(&mut person).await;
    person.leaves().await;
}

async fn one_week(script: Script, width: u32) {
    let mut person = Person::sits_down(script, width).await;
    first_week(&mut person).await;
    person.leaves().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn four_weeks_with_script_in_a_wide_window() {
    four_weeks(Script::On, 1280).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn four_weeks_without_script_in_a_narrow_window() {
    four_weeks(Script::Off, 360).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_first_week_with_script_in_a_narrow_window() {
    one_week(Script::On, 360).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_first_week_without_script_in_a_wide_window() {
    one_week(Script::Off, 1280).await;
}
