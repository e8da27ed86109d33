//! The way of a week through the real pages in a real browser: by mouse, by keys alone, in large text, in a narrow window.
//!
//! In:  the invented school's files and a browser. Out: what a person sees at each step. Keeps: the whole way can be gone without script,
//! without a mouse, at 360 pixels, and with text twice as large.
//! Not here: how each page behaves by itself (the tests named after the pages), rules of WCAG that a program checks (`axe`).

mod keyboard;
mod large_text;
mod person;
mod weeks;
