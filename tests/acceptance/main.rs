//! Acceptance tests: one binary, so that the whole of Sheaf is linked once and every test starts from the outside.
//!
//! Each module holds one kind of promise; a test reads as a sentence and says what a person could see or rely on.
//! Not here: rules of one crate (beside its code), speed (`tests/bench`).
#![allow(clippy::unwrap_used, clippy::panic)]

mod architecture;
mod axe;
mod besieged;
mod browser;
mod claims;
mod command;
mod groups_pages;
mod hostile;
mod http;
mod initials_pages;
mod killed;
mod long_work;
mod movement_pages;
mod own_files;
mod people_pages;
mod printed;
mod quillmere;
mod results_pages;
mod served;
mod served_over_tls;
mod setup_pages;
mod tarrowby;
mod ticket_pages;
mod tickets_back;
mod upload_pages;
mod way_of_the_week;
