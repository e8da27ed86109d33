//! A person's way through the look-over in a real browser: a messy workbook is corrected once and confirmed, next week's reads
//! itself, the same file changes nothing, a corrected one shows what changed and replaces, taking back restores.
//!
//! The workbook has the adults of the room above the headings, so that the wrong row looks like the row of headings, and calls
//! the id "Code". Not here: rules of correcting and replacing (`sheaf-app`), HTML (`http`).

use crate::browser::{Browser, Script};
use crate::served::Served;
use rust_xlsxwriter::{Workbook, XlsxError};
use std::path::{Path, PathBuf};
use thirtyfour::prelude::*;

/// Row of the real headings.
const HEADINGS: &str = "7";

const ROWS: [&str; 13] = [
    "ID,Given name,Family name,Grade",
    "77,Marta,Ortiz,teacher",
    "78,Sol,Reyes,aide",
    "",
    "skill,,,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1",
    "key,,,A,B,C,D,A,B",
    "Code,Pupil,Set,Q1,Q2,Q3,Q4,Q5,Q6",
    "0001,Ada Ash,5P,B,A,A,D,A,B",
    "0002,Bo Birch,5P,B,A,B,D,A,B",
    "0003,Cy Cedar,5P,C,A,A,D,A,B",
    "0004,Di Dogwood,5P,A,B,C,A,B,A",
    "0005,Ed Elm,5P,A,B,C,A,C,A",
    "0006,Fi Fir,5P,A,B,C,B,B,C",
];

/// A workbook of these rows, with one cell changed.
fn workbook(folder: &Path, name: &str, changed: Option<(&str, &str)>) -> Result<PathBuf, XlsxError> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    for (r, row) in ROWS.iter().enumerate() {
        let row = changed.map_or_else(|| (*row).to_owned(), |(from, to)| row.replace(from, to));
        for (c, cell) in row.split(',').enumerate().filter(|(_, cell)| !cell.is_empty()) {
            sheet.write(r as u32, c as u16, cell)?;
        }
    }
    let path = folder.join(name);
    book.save(&path)?;
    Ok(path)
}

impl Browser {
    /// Hands a file in for a week by the form; ends on the look-over.
    async fn hand_in(&self, served: &Served, week: &str, path: &Path) {
        self.driver.goto(format!("{}/score-sheets?week={week}", served.base)).await.unwrap();
        self.arrive_at("Score sheets").await;
        let file = self.driver.find(By::Id("file")).await.unwrap();
        file.send_keys(path.display().to_string()).await.unwrap();
        self.press(".sheet-form button").await;
        self.arrive_at("Look over").await;
    }

    /// Types into a field in place of what stands there.
    async fn write(&self, id: &str, text: &str) {
        let field = self.driver.find(By::Id(id)).await.unwrap();
        field.clear().await.unwrap();
        field.send_keys(text).await.unwrap();
    }

    /// Presses a button and waits until the page says something.
    async fn press_until(&self, button: &str, css: &str, words: &str) {
        self.press(button).await;
        let mut said = String::new();
        for _ in 0..100 {
            if let Ok(found) = self.driver.find(By::Css(css)).await {
                said = found.text().await.unwrap_or_default();
            }
            if said.contains(words) {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(100)).await;
        }
        panic!("{css} says {said:?}, not {words:?}");
    }

    /// What the week's pages and its plan say.
    async fn seen(&self, served: &Served, week: &str) -> String {
        self.driver.goto(format!("{}/score-sheets?week={week}", served.base)).await.unwrap();
        self.arrive_at("Score sheets").await;
        let list = self.text("main").await;
        self.driver.goto(format!("{}/groups/{week}", served.base)).await.unwrap();
        self.arrive_at("Groups").await;
        format!("{list}\n{}", self.text("main").await)
    }
}

async fn started() -> (Served, Browser, tempfile::TempDir) {
    let served = tokio::task::spawn_blocking(Served::empty).await.unwrap();
    // Off, so that every form is known to work without script.
    let browser = Browser::start(Script::Off).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    browser.arrive_at("This week").await;
    (served, browser, tempfile::tempdir().unwrap())
}

async fn ended(served: Served, browser: Browser) {
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}

/// Says where the headings stand and that the column "Code" is the id, as a person does on the page.
async fn correct(browser: &Browser) {
    assert!(browser.text(".lead").await.contains("nothing could be read yet"));
    browser.picture("messy-unread").await;
    browser.write("out-0-header", HEADINGS).await;
    browser.press_until(".read-again", ".lead", "6 students and 6 items").await;
    let code = browser.driver.find(By::Id("sheet-0-use-0")).await.unwrap();
    thirtyfour::components::SelectElement::new(&code).await.unwrap().select_by_value("id").await.unwrap();
    browser.picture("messy-half-way").await;
    browser.press_until(".read-again", "table.dense:not(.as-it-looks) tbody th", "0001").await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_messy_workbook_is_corrected_once_and_next_weeks_reads_itself() {
    let (served, browser, folder) = started().await;
    let messy = workbook(folder.path(), "room 12.xlsx", None).unwrap();
    browser.hand_in(&served, "2026-02-09", &messy).await;
    correct(&browser).await;
    browser.picture("messy-corrected").await;
    browser.press(".confirm").await;
    browser.arrive_at("Groups").await;
    assert!(browser.text("main").await.contains("Di Dogwood"));

    let next = workbook(folder.path(), "room 12 next.xlsx", Some(("0001,Ada Ash,5P,B", "0001,Ada Ash,5P,A"))).unwrap();
    browser.hand_in(&served, "2026-02-16", &next).await;
    assert!(browser.text(".lead").await.contains("6 students and 6 items"));
    assert_eq!(browser.text("table.dense:not(.as-it-looks) tbody th").await, "0001");
    assert!(browser.text("main").await.contains("A sheet of this layout was corrected before"));
    browser.press(".confirm").await;
    browser.arrive_at("Groups").await;
    ended(served, browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_corrected_file_shows_what_changed_replaces_and_is_taken_back() {
    const WEEK: &str = "2026-02-09";
    let (served, browser, folder) = started().await;
    let first = workbook(folder.path(), "room 12.xlsx", None).unwrap();
    browser.hand_in(&served, WEEK, &first).await;
    correct(&browser).await;
    browser.press(".confirm").await;
    browser.arrive_at("Groups").await;
    let before = browser.seen(&served, WEEK).await;

    browser.hand_in(&served, WEEK, &first).await;
    assert!(browser.text(".notice[role=status]").await.contains("nothing changed"));
    assert_eq!(browser.seen(&served, WEEK).await, before, "the same file twice");

    let changed = Some(("0001,Ada Ash,5P,B", "0001,Ada Ash,5P,A"));
    let second = workbook(folder.path(), "room 12 mended.xlsx", changed).unwrap();
    browser.hand_in(&served, WEEK, &second).await;
    let offer = browser.text("section.next").await;
    assert!(offer.contains("1 mark changed") && offer.contains("Ada Ash (0001)") && offer.contains("Q1"), "{offer}");
    browser.picture("replacement").await;
    let address = browser.driver.current_url().await.unwrap();
    browser.press("section.next button").await;
    browser.arrive_at("Score sheets").await;
    assert!(browser.text("main").await.contains("was replaced"));
    browser.picture("replaced-list").await;

    browser.driver.goto(address.as_str()).await.unwrap();
    browser.arrive_at("Look over").await;
    browser.press("form[action$='take-back'] button").await;
    browser.arrive_at("Score sheets").await;
    assert_eq!(browser.seen(&served, WEEK).await, before, "taking back restores");
    ended(served, browser).await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_correction_that_fails_keeps_what_was_typed() {
    let (served, browser, folder) = started().await;
    let messy = workbook(folder.path(), "room 12.xlsx", None).unwrap();
    browser.hand_in(&served, "2026-02-09", &messy).await;
    browser.write("out-0-header", "the seventh").await;
    browser.press_until(".read-again", "#out-0-header-error", "not the number of a row").await;
    let typed = browser.driver.find(By::Id("out-0-header")).await.unwrap().prop("value").await.unwrap();
    assert_eq!(typed.as_deref(), Some("the seventh"));
    browser.write("out-0-header", "2").await;
    browser.press_until(".read-again", "#out-0-header-error", "no students and items are found").await;
    browser.driver.goto(format!("{}/students", served.base)).await.unwrap();
    browser.arrive_at("Students").await;
    let list = folder.path().join("list.csv");
    std::fs::write(&list, "id,name,grade,homeroom,supports\n0001,Ada Ash,5,5P,read aloud; extra time\n").unwrap();
    let file = browser.driver.find(By::Id("file")).await.unwrap();
    file.send_keys(list.display().to_string()).await.unwrap();
    browser.press_until(".sheet-form button", ".notice", "Taken in: 1 student").await;
    std::fs::write(&list, "id,name,grade,homeroom,supports\n9001,\"Ash, Ada\",5,5Q,read aloud\n").unwrap();
    let file = browser.driver.find(By::Id("file")).await.unwrap();
    file.send_keys(list.display().to_string()).await.unwrap();
    browser.press_until(".sheet-form button", "#same-h", "Same child?").await;
    browser.picture("students").await;
    ended(served, browser).await;
}
