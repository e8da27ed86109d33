//! The staff workbook on paper, as LibreOffice prints it: what stands on each page of the two invented schools' first week.
//!
//! In:  `sheaf plan`, `soffice`, `pdftotext`. Out: the text of each page.
//! Keeps: one group a page; a heading over every page of a table; no table runs over the side of its page; a ticket begins a page.
//! Not here: how it looks, which people look at; what stands in the cells (`quillmere`, `tarrowby`).

use crate::command::{root, sheaf};
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;

/// The pages of a school's first week, each as its lines of text, and its plan.
fn printed(school: &str, scores: &[&str]) -> (Vec<Vec<String>>, Value) {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| root().join("fixtures/schools").join(school).join(name).into_os_string();
    let (book, json) = (folder.path().join("week.xlsx"), folder.path().join("week.json"));
    let mut args = vec!["plan".into()];
    args.extend(scores.iter().map(|name| at(name)));
    args.extend(["--school".into(), at("school.toml"), "--students".into(), at("students.csv")]);
    args.extend(["--new-workbook".into(), "--out".into(), book.clone().into_os_string()]);
    args.extend(["--json".into(), json.clone().into_os_string()]);
    let ran = sheaf(&args);
    assert_eq!(ran.code, 0, "{}", ran.err);
    let plan = serde_json::from_slice(&std::fs::read(json).unwrap()).unwrap();
    (pages(folder.path(), &book), plan)
}

fn pages(folder: &Path, book: &Path) -> Vec<Vec<String>> {
    let profile = format!("-env:UserInstallation=file://{}/profile", folder.display());
    let made = Command::new("soffice")
        .args(["--headless", &profile, "--convert-to", "pdf", "--outdir"])
        .args([folder, book])
        .output()
        .unwrap_or_else(|e| panic!("soffice does not start ({e}); Debian package: libreoffice-calc"));
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    let text = Command::new("pdftotext").arg("-layout").arg(folder.join("week.pdf")).arg("-").output();
    let text = text.unwrap_or_else(|e| panic!("pdftotext does not start ({e}); Debian package: poppler-utils"));
    let text = String::from_utf8(text.stdout).unwrap();
    let lines = |page: &str| page.lines().map(str::trim).filter(|l| !l.is_empty()).map(str::to_owned).collect();
    text.trim_end_matches('\u{c}').split('\u{c}').map(lines).collect()
}

/// Pages of each sheet of the staff, by what stands over them; children's pages have nothing over them.
fn by_sheet(pages: &[Vec<String>]) -> BTreeMap<String, Vec<&Vec<String>>> {
    let mut found: BTreeMap<String, Vec<&Vec<String>>> = BTreeMap::new();
    for page in pages {
        let head = page.first().map_or("", String::as_str);
        let name = head.split("  ").next().unwrap_or_default().trim();
        let is_of_staff = page.iter().any(|line| line.contains("contains student information"));
        found.entry(if is_of_staff { name.to_owned() } else { String::new() }).or_default().push(page);
    }
    found
}

fn prints_as_expected(school: &str, scores: &[&str]) {
    let (pages, plan) = printed(school, scores);
    let sheets = by_sheet(&pages);
    let says = |page: &[String], words: &str| page.iter().any(|line| line.contains(words));

    let groups = plan["groups"].as_array().unwrap();
    let cards = &sheets["Group cards"];
    assert_eq!(cards.len(), groups.len(), "{school}: one group a page");
    for (card, group) in cards.iter().zip(groups) {
        let name = group["name"].as_str().unwrap();
        assert!(card[1].starts_with(name) && says(card, "How sure"), "{school}: {card:?}");
    }

    for (sheet, headings) in [
        ("Groups", ["Id", "Why here"]),
        ("Needs", ["Id", "Homeroom"]),
        ("Answer keys", ["Form", "Right answer"]),
        ("Ticket results", ["Form code", "Item 1"]),
        ("Attendance", ["Id", "Homeroom"]),
    ] {
        for page in &sheets[sheet] {
            assert!(
                headings.iter().all(|h| says(page, h)),
                "{school}: a page of {sheet} without {headings:?}: {page:?}"
            );
        }
    }
    let meetings: Vec<_> = sheets["Rotation"].iter().filter(|page| says(page, "Station")).collect();
    assert!(!meetings.is_empty(), "{school}: the list of meetings");
    for page in &sheets["Rotation"] {
        assert!(page.len() > 8, "{school}: a page of Rotation with next to nothing on it: {page:?}");
    }

    // Rows of a child take one page across, so no child's id stands on two pages of a sheet.
    for sheet in ["Groups", "Needs"] {
        for student in plan["students"].as_array().unwrap() {
            let id = student["id"].as_str().unwrap();
            let n =
                sheets[sheet].iter().flat_map(|p| p.iter()).filter(|l| l.split_whitespace().any(|w| w == id)).count();
            assert_eq!(n, 1, "{school}: {id} on {sheet}");
        }
    }
    assert!(
        says(sheets["Needs"].last().unwrap(), "Students who lack each skill, of those measured"),
        "{school}: the bars"
    );

    let tickets = plan["tickets"].as_array().unwrap();
    let begun = sheets[""].iter().filter(|page| page[0].starts_with("Exit ticket")).count();
    assert_eq!(begun, tickets.len(), "{school}: each ticket begins a page");
}

#[test]
fn every_sheet_prints_as_a_teacher_expects() {
    prints_as_expected("quillmere", &["week1_quiz.xlsx"]);
    prints_as_expected("tarrowby", &["grade3_week1.xlsx", "grade4_week1.xlsx", "grade5_week1.xlsx"]);
}
