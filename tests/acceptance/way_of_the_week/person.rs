//! A person at a browser who has nothing but the pages: what they press, choose, write and tick, and how many steps that was.
//!
//! In:  CSS of what they go for. Out: the page that comes, its words, its printed pages. Every page that comes is looked at once: it has
//! its heading, and nothing of it lies beside the window, however narrow.
//! Not here: what they do in which order (`weeks`), the same by keys alone (`keyboard`).

use crate::browser::{Browser, Script};
use crate::served::Served;
use crate::ticket_pages::n_pages;
use thirtyfour::common::print::PrintParameters;
use thirtyfour::prelude::*;

/// Height of the window, CSS pixels.
const HEIGHT: u32 = 900;

/// Who sits there.
pub struct Person {
    pub browser: Browser,
    pub served: Served,
    /// Presses, choices of a file or of an entry, ticks, and fields written into.
    n_steps: usize,
}

impl Person {
    /// Opens the launch address of a service without records in a window of this width.
    pub async fn sits_down(script: Script, width: u32) -> Self {
        let served = tokio::task::spawn_blocking(Served::empty).await.unwrap();
        let browser = Browser::start(script).await;
        browser.driver.set_window_rect(0, 0, width, HEIGHT).await.unwrap();
        browser.driver.goto(served.launch_address()).await.unwrap();
        let person = Person { browser, served, n_steps: 0 };
        person.sees("This week").await;
        assert_eq!(person.number("return innerWidth").await, i64::from(width), "the window is as wide as asked");
        person
    }

    pub async fn leaves(self) {
        self.browser.stop().await;
        let served = self.served;
        tokio::task::spawn_blocking(move || drop(served)).await.unwrap();
    }

    /// Steps since this was asked last.
    pub fn steps(&mut self) -> usize {
        std::mem::take(&mut self.n_steps)
    }

    /// The page has this heading, and is no wider than its window.
    pub async fn sees(&self, heading: &str) {
        self.browser.arrive_at(heading).await;
        let over =
            self.number("return document.documentElement.scrollWidth - document.documentElement.clientWidth").await;
        assert!(over <= 0, "{heading} is {over} px too wide");
    }

    /// Presses what leads to the page of this heading.
    pub async fn goes(&mut self, css: &str, heading: &str) {
        self.n_steps += 1;
        self.browser.press(css).await;
        self.sees(heading).await;
    }

    /// By the bar over every page.
    pub async fn goes_by_bar(&mut self, path: &str, heading: &str) {
        self.goes(&format!(".top nav a[href^='{path}']"), heading).await;
    }

    pub async fn picks_files(&mut self, id: &str, files: &[String]) {
        self.n_steps += 1;
        self.browser.driver.find(By::Id(id)).await.unwrap().send_keys(files.join("\n")).await.unwrap();
    }

    pub async fn chooses(&mut self, css: &str, value: &str) {
        self.n_steps += 1;
        self.browser.click(&format!("{css} option[value='{value}']")).await;
    }

    pub async fn ticks(&mut self, css: &str) {
        self.n_steps += 1;
        self.browser.click(css).await;
    }

    /// Writes into a field in place of what stands there.
    pub async fn writes(&mut self, css: &str, words: &str) {
        self.n_steps += 1;
        let field = self.browser.driver.find(By::Css(css)).await.unwrap();
        field.clear().await.unwrap();
        field.send_keys(words).await.unwrap();
    }

    /// Writes a day, `2026-02-09`, into a field of a date, as it is written into one: month, day, year.
    pub async fn writes_day(&mut self, id: &str, day: &str) {
        self.n_steps += 1;
        let (year, rest) = day.split_once('-').unwrap();
        let keys = format!("{}{year}", rest.replace('-', ""));
        let field = self.browser.driver.find(By::Id(id)).await.unwrap();
        field.send_keys(keys).await.unwrap();
        assert_eq!(field.prop("value").await.unwrap().as_deref(), Some(day));
    }

    pub async fn reads(&self, css: &str) -> String {
        self.browser.text(css).await
    }

    /// What stands in a field.
    pub async fn stands_in(&self, css: &str) -> String {
        let field = self.browser.driver.find(By::Css(css)).await.unwrap();
        field.prop("value").await.unwrap().unwrap_or_default()
    }

    /// Values of an attribute of all that fit.
    pub async fn all(&self, css: &str, attribute: &str) -> Vec<String> {
        let mut values = Vec::new();
        for found in self.browser.driver.find_all(By::Css(css)).await.unwrap() {
            values.push(found.attr(attribute).await.unwrap().unwrap_or_default());
        }
        values
    }

    async fn number(&self, script: &str) -> i64 {
        self.browser.driver.execute(script, vec![]).await.unwrap().convert().unwrap()
    }

    /// How many fit.
    pub async fn n(&self, css: &str) -> usize {
        let script = "return document.querySelectorAll(arguments[0]).length";
        self.browser.driver.execute(script, vec![css.into()]).await.unwrap().convert().unwrap()
    }

    /// Prints the page as it stands; gives the number of pages.
    async fn n_printed(&self) -> usize {
        let printed = PrintParameters { background: true, ..PrintParameters::default() };
        n_pages(&self.browser.driver.print_page(printed).await.unwrap())
    }

    /// The page prints so many pages; asked once more where a busy machine printed one too many, as what runs over does so again.
    pub async fn prints(&self, what: &str, n_wanted: usize) {
        let mut n_printed = self.n_printed().await;
        if n_printed != n_wanted {
            self.browser.driver.refresh().await.unwrap();
            n_printed = self.n_printed().await;
        }
        assert_eq!(n_printed, n_wanted, "{what}: printed pages");
    }
}

/// The path of a file of the invented school.
pub fn file(name: &str) -> String {
    crate::command::root().join("fixtures/schools/quillmere").join(name).display().to_string()
}
