//! The weekly job with records: take score sheets in, look them over, plan, hand out, look back.
//!
//! [`Weeks`] is what a service holds; each job is one file here, one call, one transaction of the store.
//! A week's plan is kept as its recipe (what was read of its uploads, setup, seed) and its published JSON; the whole
//! [`sheaf_core::plan::Plan`] is made again from the recipe when a page asks, and remembered.
//! Keeps: 1. a job that fails leaves the records as they were (`sheets_that_cannot_be_read_are_not_kept`)
//!        2. the same bytes for the same week are one upload (`the_same_sheets_again_are_already_here`)
//!        3. the log gets codes, counts and durations, never a name, a score, a file name or a cell's text
//! Not here: the same job without records (`headless`), pages and status numbers (`sheaf-web`), SQL (`sheaf-store`).

mod accounts;
mod at_once;
mod attendance;
mod care;
#[cfg(test)]
mod care_of_students;
mod changes;
mod corrections;
mod difference;
mod facts;
mod forget;
mod handed_out;
mod holds;
mod item_facts;
mod kept_facts;
mod kept_reading;
mod last_tickets;
mod like_names;
mod look_over;
mod make_up;
mod memo;
mod merged;
mod met_items;
mod movement;
mod overrule;
mod overview;
mod plan_week;
mod record;
mod remembered;
mod repair;
mod results;
mod seatings;
mod setup;
#[cfg(test)]
mod small_quiz;
mod students;
mod take_in;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod ticket_swaps;
mod ticks;
#[cfg(test)]
mod upload_life;
mod week;
mod who;
mod year_end;

pub use accounts::{AccountLine, LONGEST_PASSPHRASE, SHORTEST_PASSPHRASE, SignedIn};
pub use at_once::{PlannedAtOnce, WeekFiles};
pub use changes::ListedChange;
pub use corrections::Corrections;
pub use difference::{ChangedMark, Difference};
pub use forget::Forgotten;
pub use last_tickets::TicketResult;
pub use look_over::{LookOver, Replacement};
pub use make_up::MakeUp;
pub use memo::Decided;
pub use overrule::{Decision, Decisions, Effect, Figures};
pub use overview::{Stage, WeekOverview};
pub use plan_week::{Remade, WeekPlan, WeekWorkbook};
pub use remembered::RecordsMark;
pub use repair::KeptRepair;
pub use results::{
    ChildToType, EntryFault, EntryHint, FormToType, GroupResults, KeptResults, ResultStanding, TypedResults, TypedRow,
};
pub use seatings::{GroupThen, Replanned, SeatChange, SeatingThen};
pub use setup::THE_SETUP;
pub use sheaf_sheets::read::{
    ColumnReading, ColumnUse, KnownItem, LayoutKey, LeftOutReason, Orientation, Reading, RememberedItems, SheetChoice,
    SheetLeftOut, SheetReading, SheetShape, ShownRow, Standing as SheetStanding,
};
pub use sheaf_store::{Actor, Change, Removed, Role, SameChild, Standing, StoredFile, UploadSummary};
pub use take_in::{GivenFile, Keeping, Taken, TakenIn};
pub use ticks::{GroupToTick, SessionToTick, Ticked, TicksKept, was_there};
pub use week::Week;
pub use year_end::PastYear;

use crate::error::{AppError, ErrorKind};
use crate::knowledge::Knowledge;
use crate::progress::{Step, Watcher, reach};
use crate::setup::parse_school;
use remembered::Remembered;
use sheaf_core::roster::School;
use sheaf_store::{Store, StoreError};
use std::path::Path;
use std::sync::{Arc, Mutex, RwLock};

/// The school setup with the text it came from; the text is kept with each plan.
#[derive(Debug, Clone)]
pub struct SchoolSetup {
    /// What is in force.
    pub school: School,
    /// As the school wrote it; empty for the built-in setup.
    pub toml: String,
    /// What is known, where the school has files of its own; else what is shipped.
    own: Option<Knowledge>,
}

impl SchoolSetup {
    /// Reads a setup. `file` is named in messages.
    ///
    /// # Errors
    /// [`AppError`] of kind input, with the line.
    pub fn parse(file: &str, toml: &str) -> Result<Self, AppError> {
        Ok(SchoolSetup { school: parse_school(file, toml)?, toml: toml.to_owned(), own: None })
    }

    /// With what the school knows besides what is shipped.
    #[must_use]
    pub fn knowing(self, knowledge: Knowledge) -> Self {
        SchoolSetup { own: Some(knowledge), ..self }
    }

    /// What is known.
    ///
    /// # Errors
    /// As [`Knowledge::builtin`].
    pub fn knowledge(&self) -> Result<Knowledge, AppError> {
        self.own.clone().map_or_else(Knowledge::builtin, Ok)
    }

    /// The built-in setup.
    ///
    /// # Errors
    /// Never for the shipped setup.
    pub fn builtin() -> Result<Self, AppError> {
        Self::parse("the built-in setup", "")
    }
}

/// The records and what is known: everything the jobs need. A cheap handle that says who acts ([`Weeks::by`]); handles of the same
/// records share everything else.
#[derive(Debug, Clone)]
pub struct Weeks {
    store: Store,
    knowledge: Arc<Knowledge>,
    setup: Arc<RwLock<Arc<SchoolSetup>>>,
    /// SHA-256 of the setup that was given at the start.
    given_sha256: String,
    /// Plans made again lately.
    remembered: Arc<Remembered>,
    /// Who waits for the jobs of this handle.
    watcher: Option<Arc<dyn Watcher>>,
    /// Held while typed results are put in place of the last ones, which are read before.
    typing: Arc<Mutex<()>>,
}

impl Weeks {
    /// With records in a file, which is made where it is missing.
    ///
    /// # Errors
    /// [`AppError`] of kind unavailable where the file cannot be opened.
    pub fn open(path: &Path, setup: SchoolSetup) -> Result<Self, AppError> {
        Self::with(Store::open(path)?, setup)
    }

    /// With the records of a file that is there.
    ///
    /// # Errors
    /// [`AppError`] of kind input where there is no such file, of kind unavailable where it cannot be opened.
    pub fn open_kept(path: &Path, setup: SchoolSetup) -> Result<Self, AppError> {
        if !path.is_file() {
            let what = format!("{} is not there; name the file that your weeks are kept in.", path.display());
            return Err(AppError::new(ErrorKind::Input, "records-not-there", what));
        }
        Self::open(path, setup)
    }

    /// With records that are gone when the program ends.
    ///
    /// # Errors
    /// [`AppError`] where there is no memory for them.
    pub fn in_memory(setup: SchoolSetup) -> Result<Self, AppError> {
        Self::with(Store::in_memory()?, setup)
    }

    fn with(store: Store, setup: SchoolSetup) -> Result<Self, AppError> {
        let given_sha256 = take_in::sha256(setup.toml.as_bytes());
        let setup = setup::in_force(&store, setup)?;
        Ok(Weeks {
            store,
            knowledge: Arc::new(setup.knowledge()?),
            setup: Arc::new(RwLock::new(Arc::new(setup))),
            given_sha256,
            remembered: Arc::default(),
            watcher: None,
            typing: Arc::default(),
        })
    }

    /// The same records for somebody else: what is changed through this handle is listed as theirs. Whoever opened the records is the
    /// command line.
    #[must_use]
    pub fn by(&self, who: Actor) -> Self {
        Weeks { store: self.store.by(who), ..self.clone() }
    }

    /// The same records with somebody who waits for each job and may stop it.
    #[must_use]
    pub fn watched_by(&self, watcher: Arc<dyn Watcher>) -> Self {
        Weeks { watcher: Some(watcher), ..self.clone() }
    }

    /// Goes on with a step unless somebody wants the job stopped.
    fn reach(&self, step: Step) -> Result<(), AppError> {
        reach(self.watcher.as_deref(), step)
    }

    fn is_stopped(&self) -> bool {
        self.watcher.as_deref().is_some_and(Watcher::is_stopped)
    }

    /// What is known before any sheet.
    #[must_use]
    pub fn knowledge(&self) -> &Knowledge {
        &self.knowledge
    }

    /// Whether the records answer.
    ///
    /// # Errors
    /// [`AppError`] of kind unavailable where they do not.
    pub fn answers(&self) -> Result<(), AppError> {
        Ok(self.store.answers()?)
    }
}

/// The store gives parts of a sentence, as error types do.
fn sentence_of(error: &StoreError) -> String {
    let text = error.to_string();
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

impl From<StoreError> for AppError {
    fn from(e: StoreError) -> Self {
        let (kind, code) = match &e {
            StoreError::Open { .. } => (ErrorKind::Unavailable, "records-not-opened"),
            StoreError::Busy(_) => (ErrorKind::Unavailable, "records-busy"),
            StoreError::SourcesChanged => (ErrorKind::Conflict, "sheets-changed"),
            StoreError::Damaged(_) => (ErrorKind::OurFault, "record-damaged"),
            StoreError::Sqlite(_) => (ErrorKind::OurFault, "records-failed"),
        };
        AppError::new(kind, code, sentence_of(&e))
    }
}
