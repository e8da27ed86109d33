//! What a page breaks of WCAG 2.2 AA, as far as a program can tell: axe-core run in the browser on the page as it stands.
//!
//! In:  a [`Browser`] on a page. Out: a line for each rule that is broken, with the place and what to do; none on a clean page.
//! Keeps: a page that breaks a rule is told (`a_page_that_breaks_rules_is_told`), so that a check that looks at nothing would be noticed.
//! Pages of a week are looked at here; what a form or another state of a page shows, in the tests of that page. Not here: what only a person can see: order, wording, the picture itself.

use crate::browser::{Browser, Script};
use crate::http::{OF_A_CHILD, PAGES};
use crate::served::Served;
use std::sync::OnceLock;

/// Sets of rules: all of WCAG up to 2.2 AA, and what is good practice beside it.
const RULES: &str = r#"["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]"#;

fn source() -> &'static str {
    static SOURCE: OnceLock<String> = OnceLock::new();
    SOURCE.get_or_init(|| {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/accessibility/axe.min.js");
        std::fs::read_to_string(path).expect("tests/accessibility/axe.min.js is missing")
    })
}

/// Rules that the page breaks, each with its places.
pub async fn breaches(browser: &Browser) -> Vec<String> {
    let look = format!(
        "{};
         const done = arguments[arguments.length - 1];
         axe.run(document, {{ runOnly: {RULES}, resultTypes: ['violations'] }}).then(
           (found) => done(found.violations.map((v) => `${{v.id}}: ${{v.help}}: ` + v.nodes.map((n) => n.target.join(' ')).join(', '))),
           (error) => done([`axe did not run: ${{error}}`]));",
        source()
    );
    browser.driver.execute_async(look, vec![]).await.unwrap().convert().unwrap()
}

/// Fails with every broken rule on a line of its own.
pub async fn assert_clean(browser: &Browser, page: &str) {
    let breaches = breaches(browser).await;
    assert!(breaches.is_empty(), "{page}:\n  {}", breaches.join("\n  "));
}

#[tokio::test(flavor = "multi_thread")]
async fn a_page_that_breaks_rules_is_told() {
    let browser = Browser::start(Script::On).await;
    let page = "data:text/html,<title>x</title><main><h1>x</h1><img src=x><input></main>";
    browser.driver.goto(page).await.unwrap();
    let breaches = breaches(&browser).await;
    for rule in ["image-alt", "label", "html-has-lang"] {
        assert!(breaches.iter().any(|b| b.starts_with(&format!("{rule}: "))), "{rule} in {breaches:?}");
    }
    browser.stop().await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_page_is_clean_with_and_without_records() {
    for (records, served) in [("no records", Served::empty as fn() -> Served), ("a planned week", Served::demo)] {
        let served = tokio::task::spawn_blocking(served).await.unwrap();
        let browser = Browser::start(Script::On).await;
        browser.driver.goto(served.launch_address()).await.unwrap();
        let mut found = Vec::new();
        for path in PAGES.into_iter().chain(OF_A_CHILD) {
            browser.driver.goto(format!("{}{path}", served.base)).await.unwrap();
            found.extend(breaches(&browser).await.into_iter().map(|b| format!("{path}, {records}: {b}")));
        }
        assert!(found.is_empty(), "\n  {}", found.join("\n  "));
        browser.stop().await;
        tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
    }
}
