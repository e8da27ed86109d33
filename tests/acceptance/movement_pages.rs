//! The coach's way through a cycle in a real browser: who is stuck, what to try, who was there, the memo, decided and printed.
//!
//! In:  Quillmere's four weeks in a file of records; no records; forms that are refused. Out: what a person sees; axe finds nothing on any
//! of these pages, none is wider than 320 pixels, the memo prints on one page. With `SHEAF_PICTURES` each is kept as a picture (`browser`).
//! Not here: the figures (`quillmere::movement`), single rules (`sheaf-core`).

use crate::axe::assert_clean;
use crate::browser::{Browser, Script};
use crate::quillmere::keep_month;
use crate::served::Served;
use crate::tarrowby::keep_five_weeks;
use thirtyfour::common::print::PrintParameters;
use thirtyfour::prelude::*;

const LAST: &str = "2026-02-23";
const MEMO: &str = "/movement/memo/2026-02-23";

/// Quillmere's month, served from a file that goes with the test.
fn month() -> (tempfile::TempDir, Served) {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    keep_month(&records);
    let served = Served::file(&records);
    (folder, served)
}

/// A browser that was let in.
async fn let_in(served: &Served, script: Script) -> Browser {
    let browser = Browser::start(script).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser
}

async fn go(browser: &Browser, served: &Served, path: &str) {
    browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
}

async fn end(browser: Browser, served: Served) {
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

async fn is_ticked(browser: &Browser, css: &str) -> bool {
    browser.driver.find(By::Css(css)).await.unwrap().is_selected().await.unwrap()
}

/// Pages of the page's print.
async fn n_printed(browser: &Browser) -> usize {
    let pdf = browser.driver.print_page(PrintParameters::default()).await.unwrap();
    let text = String::from_utf8_lossy(&pdf).replace("/Type /Pages", "");
    text.matches("/Type /Page").count()
}

/// Opens the first group's form, decides, and sends it.
async fn decide(browser: &Browser, reason: &str) {
    browser.click(".memo-table details summary").await;
    browser.click(".memo-table details select option[value=\"change-teaching\"]").await;
    let field = |css: &'static str| browser.driver.find(By::Css(css));
    field(".memo-table input[name=reason]").await.unwrap().send_keys(reason).await.unwrap();
    field(".memo-table input[name=name]").await.unwrap().send_keys("C. T.").await.unwrap();
    browser.press(".memo-table details button").await;
}

async fn through_the_cycle(script: Script) {
    let (_folder, served) = tokio::task::spawn_blocking(month).await.unwrap();
    let browser = let_in(&served, script).await;
    go(&browser, &served, "/movement").await;
    browser.arrive_at("Movement").await;
    browser.click("a[href=\"#not-yet-taught\"]").await;
    let away = browser.text("section:has(#not-yet-taught)").await;
    assert!(away.contains("0009") && away.contains("Give the time first"), "{away}");
    browser.click("#from option:last-child").await;
    browser.press("form[action=\"/movement\"] button").await;
    assert!(browser.text(".lead").await.contains("One week is planned"));
    go(&browser, &served, "/movement").await;

    browser.press("a[href^=\"/movement/memo/\"]").await;
    browser.arrive_at("Cycle memo").await;
    decide(&browser, "fold paper strips first").await;
    browser.arrive_at("Cycle memo").await;
    let decided = browser.text(".memo-table tbody tr").await;
    assert!(
        decided.contains("Change the teaching. fold paper strips first") || decided.contains("fold paper strips first"),
        "{decided}"
    );
    assert!(decided.contains("C. T., ") && decided.contains("Decide again"), "{decided}");
    browser.picture("memo").await;
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_coach_finds_who_is_stuck_and_decides() {
    through_the_cycle(Script::On).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_cycle_works_with_script_off() {
    through_the_cycle(Script::Off).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn attendance_is_ticked_and_reaches_movement() {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = let_in(&served, Script::Off).await;
    go(&browser, &served, "/rotation/2026-02-02").await;
    browser.press("a[href=\"/attendance/2026-02-02\"]").await;
    browser.arrive_at("Attendance").await;
    browser.picture("attendance").await;
    // Nobody ticked a session: nothing is noted.
    browser.press(".attendance button").await;
    assert!(browser.text("[role=alert]").await.contains("No session was ticked"));
    browser.click(".ticks thead input[type=checkbox]").await;
    browser.click(".ticks tbody tr:first-child input").await;
    let away = browser.text(".ticks tbody tr:first-child th .id").await;
    browser.press(".attendance button").await;
    assert!(browser.text("[role=status]").await.contains("Noted: "));
    assert!(
        is_ticked(&browser, ".ticks thead input[type=checkbox]").await
            && !is_ticked(&browser, ".ticks tbody tr:first-child input").await
    );

    let movement: serde_json::Value =
        tokio::task::block_in_place(|| served.script("GET", "/api/v1/movement").send().unwrap().json().unwrap());
    let of =
        |id: &str| movement["students"].as_array().unwrap().iter().find(|s| s["id"] == id).unwrap()["weeks"][0].clone();
    let planned = of(&away)["minutes_planned"].as_u64().unwrap();
    assert!(planned > 0 && of(&away)["minutes_received"] == 0, "{}", of(&away));
    let noted =
        movement["students"].as_array().unwrap().iter().filter(|s| s["weeks"][0]["minutes_received"] == planned);
    assert!(noted.count() >= 2, "the others were there");

    browser.click(".ticks thead input[type=checkbox]").await;
    browser.press(".attendance button").await;
    assert!(browser.text("[role=status]").await.contains("One session was taken back"));
    assert!(!is_ticked(&browser, ".ticks thead input[type=checkbox]").await);
    let movement: serde_json::Value =
        tokio::task::block_in_place(|| served.script("GET", "/api/v1/movement").send().unwrap().json().unwrap());
    let received = |s: &serde_json::Value| s["weeks"][0]["minutes_received"].as_u64().unwrap_or(0);
    assert!(movement["students"].as_array().unwrap().iter().all(|s| received(s) == 0), "as if never noted");
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_memo_prints_on_one_page() {
    let (_folder, served) = tokio::task::spawn_blocking(month).await.unwrap();
    let browser = let_in(&served, Script::On).await;
    go(&browser, &served, MEMO).await;
    browser.arrive_at("Cycle memo").await;
    assert_eq!(n_printed(&browser).await, 1, "to be filled in by hand");
    decide(&browser, "two of them need one step down first, the others go on with strips").await;
    browser.arrive_at("Cycle memo").await;
    assert_eq!(n_printed(&browser).await, 1, "with a decision");
    go(&browser, &served, "/movement").await;
    assert!(n_printed(&browser).await > 1, "pages are counted");
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_memo_of_three_grades_prints_on_one_page() {
    let folder = tempfile::tempdir().unwrap();
    let records = folder.path().join("school.db");
    let served = tokio::task::block_in_place(|| {
        keep_five_weeks(&records);
        Served::file(&records)
    });
    let browser = let_in(&served, Script::On).await;
    go(&browser, &served, "/movement/memo/2026-03-02").await;
    browser.arrive_at("Cycle memo").await;
    let groups = browser.driver.find_all(By::Css(".memo-table tbody tr")).await.unwrap();
    assert!(groups.len() > 8, "{}", groups.len());
    assert_eq!(n_printed(&browser).await, 1);
    end(browser, served).await;
}

/// The words of the page's print.
async fn printed(browser: &Browser) -> String {
    let pdf = browser.driver.print_page(PrintParameters::default()).await.unwrap();
    let file = tempfile::NamedTempFile::new().unwrap();
    std::fs::write(file.path(), pdf).unwrap();
    let read = std::process::Command::new("pdftotext").arg(file.path()).arg("-").output().unwrap();
    String::from_utf8(read.stdout).unwrap()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_movement_page_prints_to_its_end() {
    let (_folder, served) = tokio::task::spawn_blocking(month).await.unwrap();
    let browser = let_in(&served, Script::Off).await;
    go(&browser, &served, "/movement").await;
    browser.arrive_at("Movement").await;
    let paper = printed(&browser).await;
    let headings = browser.driver.find_all(By::Css("main h2, main summary")).await.unwrap();
    assert!(headings.len() > 9, "{} headings", headings.len());
    for heading in headings {
        let words = heading.text().await.unwrap();
        let words = words.trim_start_matches(|c: char| !c.is_ascii_alphanumeric());
        assert!(paper.contains(words), "{words} is not on paper");
    }
    assert!(paper.contains("A difference here is a question to ask"), "the last line");
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn axe_finds_nothing_on_filled_pages() {
    let (_folder, served) = tokio::task::spawn_blocking(month).await.unwrap();
    let browser = let_in(&served, Script::On).await;
    for path in ["/movement".to_owned(), MEMO.to_owned(), format!("/attendance/{LAST}")] {
        go(&browser, &served, &path).await;
        // What is folded is looked at, too.
        let open = "document.querySelectorAll('details').forEach((d) => { d.open = true; })";
        browser.driver.execute(open, vec![]).await.unwrap();
        assert_clean(&browser, &path).await;
        browser.picture(&format!("month{}", path.replace('/', "-"))).await;
        browser.driver.set_window_rect(0, 0, 320, 700).await.unwrap();
        let script = "return document.documentElement.scrollWidth - document.documentElement.clientWidth";
        let over: i64 = browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap();
        assert!(over <= 0, "{path} is {over} px too wide");
        browser.driver.set_window_rect(0, 0, 1280, 900).await.unwrap();
    }
    end(browser, served).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn axe_finds_nothing_on_empty_pages_and_on_errors() {
    let served = tokio::task::spawn_blocking(Served::empty).await.unwrap();
    let browser = let_in(&served, Script::On).await;
    for path in [
        "/movement",
        MEMO,
        "/attendance/2026-02-02",
        "/movement?from=2026-03-02&to=2026-02-02",
        "/movement/memo/someday",
    ] {
        go(&browser, &served, path).await;
        assert_clean(&browser, &format!("{path}, no records")).await;
    }
    end(browser, served).await;

    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = let_in(&served, Script::On).await;
    go(&browser, &served, "/movement?from=2026-03-02&to=2026-02-02").await;
    assert!(browser.text("[role=alert]").await.contains("first week lies after"));
    assert_clean(&browser, "weeks out of order").await;
    go(&browser, &served, "/movement/memo/2026-02-02").await;
    decide(&browser, "   ").await;
    assert!(browser.text("[role=alert]").await.contains("Write a reason"));
    assert_clean(&browser, "a decision without a reason").await;
    go(&browser, &served, "/attendance/2026-02-02").await;
    browser.press(".attendance button").await;
    assert!(browser.text("[role=alert]").await.contains("Nothing was noted"));
    assert_clean(&browser, "attendance without a session").await;
    end(browser, served).await;
}
