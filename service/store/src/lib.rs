//! The records, in one SQLite file: uploads, plans, students, attendance, week by week.
//!
//! In / out: plain values of this crate and `sheaf-core`'s ids; the SQL of each subject stands beside its function
//! (`uploads`, `plans`, `students`, `attendance`, `child_facts`, `kept_choices`, `memo`, `same_child`, `seatings`, `care`, `copies`, `accounts`). Every public
//! call is one transaction: it happened whole or not at all, and where a person changed something an entry in the list of changes says so
//! (`changes`).
//! Keeps: 1. the schema refuses nonsense by itself (`the_schema_refuses_nonsense`)
//!        2. an upload is known by its content, once a week (`the_same_bytes_are_kept_once_a_week`)
//!        3. what is taken back leaves no trace in the file (`what_is_taken_back_leaves_the_file`)
//! Not here: what an upload means (`sheaf-app` reads it again), pages, when copies are made.
#![deny(missing_docs)]
#![cfg_attr(test, allow(clippy::unwrap_used, clippy::panic))]

mod accounts;
mod attendance;
mod care;
mod changes;
mod child_facts;
mod connection;
mod copies;
mod error;
mod kept_choices;
mod memo;
mod plans;
mod same_child;
mod seatings;
mod setup;
mod students;
mod uploads;

pub use accounts::{Account, AccountRemoval, Role};
pub use care::{Forgetting, Originals, PlanText, Removed, UploadWithout};
pub use changes::{About, Actor, Chain, Change, KeptChange};
pub use child_facts::FactsOfChildren;
pub use connection::{Mark, Store};
pub use copies::{RecordsCheck, check_records, put_back};
pub use error::StoreError;
pub use kept_choices::{KeptItems, Said};
pub use memo::MemoDecision;
pub use plans::{KeptPlan, NO_OVERRULES, NewPlan, WeekRecord};
pub use same_child::SameChild;
pub use seatings::{KeptSeating, Made};
pub use setup::KeptSetup;
pub use uploads::{Added, FileKind, NewUpload, Standing, Start, StoredFile, Upload, UploadSummary};
