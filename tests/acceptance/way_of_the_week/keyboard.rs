//! The first week by keys alone: from the launch address to a plan, a moved child, a repaired day, typed results, movement.
//!
//! In:  the invented school's setup and list, its first quiz; Tab, Enter, Space, arrows and letters. A file is named to the field that has
//! the focus, as the dialog of the operating system is beyond a browser. Out: what stands on the pages.
//! Keeps: every stop of the focus is drawn around, in sight, and comes after the one before it, in the page and for the eye; on every page Tab
//! reaches every control. Not here: typing results by arrows (`results_pages`), dragging and what stands for it (`groups_pages`).

use super::person::file;
use crate::browser::{Browser, Script};
use crate::http::{OF_A_CHILD, PAGES};
use crate::served::{Served, quillmere};
use thirtyfour::TypingData;
use thirtyfour::prelude::*;

/// More stops than any page of the way has.
const MOST_STOPS: usize = 300;

/// What is wrong with the stop that has the focus, and who it is; the stop before it is kept on the page. Behind the last stop the page itself
/// has the focus, and the next is the first again.
const STOP: &str = "
  const e = document.activeElement;
  if (e === document.body) { window.lastStop = null; return ['', '']; }
  const named = (e.getAttribute('aria-label') || e.textContent.trim().slice(0, 60) || e.id || e.name || e.type || e.tagName);
  const faults = [];
  const style = getComputedStyle(e);
  if (style.outlineStyle === 'none' || parseFloat(style.outlineWidth) < 2) faults.push('is not drawn around');
  const box = e.getBoundingClientRect();
  if (box.bottom <= 0 || box.top >= innerHeight || box.right <= 0 || box.left >= innerWidth) faults.push('is out of sight');
  const region = e.parentElement.closest('.scroll');
  const place = {
    top: box.top + scrollY, bottom: box.bottom + scrollY,
    left: box.left + (region?.scrollLeft ?? 0), right: box.right + (region?.scrollLeft ?? 0),
  };
  const last = window.lastStop;
  if (last && last.e !== e && last.e.isConnected) {
    if (!(last.e.compareDocumentPosition(e) & Node.DOCUMENT_POSITION_FOLLOWING)) faults.push(`comes before ${last.named} in the page`);
    if (place.bottom <= last.place.top && place.left < last.place.right) faults.push(`stands over ${last.named}`);
  }
  window.lastStop = { e, named, place };
  return [e.id || e.name || named, faults.join(', ')];";

struct Keys {
    browser: Browser,
    served: Served,
}

impl Keys {
    async fn start() -> Self {
        let served = tokio::task::spawn_blocking(of_quillmere).await.unwrap();
        let browser = Browser::start(Script::On).await;
        browser.driver.goto(served.launch_address()).await.unwrap();
        browser.arrive_at("This week").await;
        Keys { browser, served }
    }

    async fn end(self) {
        self.browser.stop().await;
        tokio::task::spawn_blocking(move || drop(self.served)).await.unwrap();
    }

    async fn types(&self, keys: impl Into<TypingData>) {
        self.browser.driver.action_chain().send_keys(keys).perform().await.unwrap();
    }

    /// Whether the focus is on what fits.
    async fn is_at(&self, css: &str) -> bool {
        let script = "return document.activeElement.matches(arguments[0])";
        self.browser.driver.execute(script, vec![css.into()]).await.unwrap().convert().unwrap()
    }

    /// One stop on; fails where it cannot be seen or is out of order.
    async fn tabs(&self) -> String {
        self.types(Key::Tab + "").await;
        let [named, fault]: [String; 2] = self.browser.driver.execute(STOP, vec![]).await.unwrap().convert().unwrap();
        let page = self.browser.text("h1").await;
        assert!(fault.is_empty(), "{page}: {named} {fault}");
        named
    }

    /// On by Tab to what fits.
    async fn goes_to(&self, css: &str) {
        for _ in 0..MOST_STOPS {
            self.tabs().await;
            if self.is_at(css).await {
                return;
            }
        }
        panic!("Tab does not reach {css}");
    }

    /// Enter on what has the focus, which leads to another page.
    async fn enters(&self) {
        let page = self.browser.driver.find(By::Css("html")).await.unwrap();
        self.types(Key::Enter + "").await;
        for _ in 0..600 {
            if page.tag_name().await.is_err() {
                return;
            }
            tokio::time::sleep(std::time::Duration::from_millis(50)).await;
        }
        panic!("Enter leads nowhere");
    }

    async fn opens(&self, css: &str, heading: &str) {
        self.goes_to(css).await;
        self.enters().await;
        self.browser.arrive_at(heading).await;
    }

    async fn reads(&self, css: &str) -> String {
        self.browser.text(css).await
    }
}

/// Records with the setup and the list of the school and no sheets yet.
fn of_quillmere() -> Served {
    let served = Served::empty_of_quillmere();
    let list = reqwest::blocking::multipart::Part::bytes(quillmere("students.csv")).file_name("students.csv");
    let form = reqwest::blocking::multipart::Form::new().part("file", list);
    let sent = served.script("POST", "/api/v1/students").multipart(form).send().unwrap();
    assert!(sent.status().is_success(), "{}", sent.text().unwrap());
    served
}

/// The skip link is the first stop and leads past the bar.
async fn skips_the_bar(keys: &Keys) {
    assert_eq!(keys.tabs().await, "Skip to the page");
    let bar = "return document.querySelector('.skip').getBoundingClientRect().width > 40";
    assert!(keys.browser.driver.execute(bar, vec![]).await.unwrap().convert::<bool>().unwrap(), "it is shown");
    keys.types(Key::Enter + "").await;
    assert!(keys.is_at("#main").await);
    keys.tabs().await;
    let is_in_page = "return document.activeElement.closest('main') !== null";
    assert!(keys.browser.driver.execute(is_in_page, vec![]).await.unwrap().convert::<bool>().unwrap());
}

async fn plans(keys: &Keys) {
    keys.opens(".next a.button", "Score sheets").await;
    keys.goes_to("#week").await;
    keys.types("02022026").await;
    keys.goes_to("#file").await;
    keys.browser.driver.active_element().await.unwrap().send_keys(file("week1_quiz.xlsx")).await.unwrap();
    keys.opens(".sheet-form button", "Look over").await;
    keys.opens(".actions .confirm", "Groups").await;
}

/// Down in a child's select is the next group; a reason and the hold by Space.
async fn moves_a_child(keys: &Keys) {
    keys.goes_to("#g1 li.member select").await;
    keys.types(Key::Down + "").await;
    keys.goes_to("#g1 li.member button").await;
    keys.enters().await;
    assert!(keys.reads("h1").await.ends_with(" in Group 2?"));
    keys.goes_to("input[name=usual]").await;
    keys.types(Key::Space + "").await;
    keys.goes_to("input[name=hold]").await;
    keys.types(Key::Space + "").await;
    keys.opens("#decide button", "Groups").await;
    let decided = keys.reads("#decided").await;
    assert!(decided.contains("also in the weeks to come"), "{decided}");
}

async fn repairs_a_day(keys: &Keys) {
    keys.opens(".actions a.button", "Rotation").await;
    keys.goes_to("#who").await;
    keys.types("TP").await;
    keys.goes_to("#when").await;
    keys.types("Tues").await;
    keys.opens("form[action$='/repair'] button", "Rotation").await;
    let changes = keys.reads("#changes").await;
    assert!(changes.contains("Without TP") && changes.contains("Tue"), "{changes}");
}

#[tokio::test(flavor = "multi_thread")]
async fn a_first_week_by_keys_alone() {
    let keys = Keys::start().await;
    skips_the_bar(&keys).await;
    plans(&keys).await;
    moves_a_child(&keys).await;
    repairs_a_day(&keys).await;
    keys.opens(".top nav a[href^='/tickets/']", "Exit tickets").await;
    keys.opens(".actions a[href^='/results/']", "Ticket results").await;
    keys.goes_to("#f-g1-0-1").await;
    for item in 1..=5 {
        assert!(keys.is_at(&format!("#f-g1-0-{item}")).await, "a mark leads to the next item");
        keys.types(if item == 2 { "w" } else { "r" }).await;
    }
    keys.opens("#g1 button", "Ticket results").await;
    assert!(keys.reads("#counts").await.starts_with("Results in: 1 of "));
    keys.opens(".top nav a[href='/movement']", "Movement").await;
    assert!(keys.reads("main").await.contains("One week is planned"));
    keys.end().await;
}

/// Stops that Tab makes on the page as it stands, each told once: faults of the way, and controls that it passed by.
const WATCH: &str = "
  window.stops = new Set();
  window.faults = [];
  window.look = new Function(arguments[0]);
  document.addEventListener('focusin', (event) => {
    if (stops.has(event.target)) return;
    stops.add(event.target);
    const [named, fault] = look();
    if (fault) faults.push(`${named} ${fault}`);
  });
  window.controls = [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex=\"0\"]')]
    .filter((e) => e.checkVisibility({ visibilityProperty: true }));
  return controls.length;";

const TOLD: &str = "
  const names = new Set([...stops].filter((e) => e.type === 'radio').map((e) => e.name));
  const passed = controls.filter((e) => !stops.has(e) && !names.has(e.name));
  return faults.concat(passed.map((e) => `${e.outerHTML.slice(0, 120)} is not reached`));";

#[tokio::test(flavor = "multi_thread")]
async fn tab_reaches_every_control_of_every_page_in_sight_and_in_order() {
    let served = tokio::task::spawn_blocking(Served::demo).await.unwrap();
    let browser = Browser::start(Script::On).await;
    browser.driver.goto(served.launch_address()).await.unwrap();
    let mut found = Vec::new();
    for path in PAGES.into_iter().chain(OF_A_CHILD).chain(["/score-sheets/1", "/attendance/2026-02-02"]) {
        browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
        let n_controls: usize = browser.driver.execute(WATCH, vec![STOP.into()]).await.unwrap().convert().unwrap();
        assert!(n_controls > 5, "{path}: {n_controls} controls");
        // A field of a date is three stops and a button.
        for _ in 0..(n_controls + 10).div_ceil(50) {
            browser.driver.action_chain().send_keys("\u{e004}".repeat(50)).perform().await.unwrap();
        }
        let faults: Vec<String> = browser.driver.execute(TOLD, vec![]).await.unwrap().convert().unwrap();
        found.extend(faults.into_iter().map(|fault| format!("{path}: {fault}")));
    }
    assert!(found.is_empty(), "\n  {}", found.join("\n  "));
    browser.stop().await;
    tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
}
