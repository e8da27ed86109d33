//! The jobs people do with Sheaf: one file a job.
//!
//! Not here: status numbers (`sheaf-web`), exit codes (`cli`), numbers (`sheaf-core`), SQL (`sheaf-store`).
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

pub mod apart;
mod attendance;
pub mod calendar;
pub mod copies;
pub mod error;
pub mod features;
pub mod headless;
pub mod item_bank;
pub mod knowledge;
pub mod progress;
pub mod repair;
pub mod setup;
pub mod shared;
mod student_list;
pub mod understood;
pub mod weeks;
pub mod workbook;
