//! The school's setup: which one holds, and a new one kept from the page.
//!
//! In:  the setup that the program was started with, the one kept last. Out: the one in force.
//! The kept one holds as long as the program is started with the setup that it was changed from; another file at the start takes its
//! place (`another_file_at_the_start_takes_the_place_of_what_was_kept`). What does not read is not kept
//! (`a_setup_with_a_mistake_is_not_kept`); one changed meanwhile is not overwritten (`a_setup_changed_meanwhile_stays`).
//! Plans keep the setup that they were made with. Not here: what a setup may say (`setup`).

use super::take_in::sha256;
use super::{SchoolSetup, Week, Weeks};
use crate::error::{AppError, ErrorKind};
use sheaf_store::{KeptSetup, Store};
use std::sync::{Arc, PoisonError};

/// What the setup is called in messages.
pub const THE_SETUP: &str = "The setup";

/// The setup that holds: the kept one where it was changed from the one given now, else the given one.
pub(super) fn in_force(store: &Store, given: SchoolSetup) -> Result<SchoolSetup, AppError> {
    let kept = store.kept_setup()?.filter(|kept| kept.given_sha256 == sha256(given.toml.as_bytes()));
    match kept {
        Some(kept) => Ok(SchoolSetup { own: given.own, ..SchoolSetup::parse(THE_SETUP, &kept.toml)? }),
        None => Ok(given),
    }
}

impl Weeks {
    /// The setup in force.
    #[must_use]
    pub fn setup(&self) -> Arc<SchoolSetup> {
        Arc::clone(&self.setup.read().unwrap_or_else(PoisonError::into_inner))
    }

    /// A mark of the setup in force, to know it again.
    #[must_use]
    pub fn setup_tag(&self) -> String {
        sha256(self.setup().toml.as_bytes())
    }

    /// Keeps a setup in place of the one that bears this tag; it holds from now on.
    ///
    /// # Errors
    /// [`AppError`] of kind stale (another setup than the one looked at), input or no plan (a mistake in the text, with its line), or of
    /// the records; the setup stays as it was then.
    pub fn keep_setup(&self, tag: &str, toml: &str) -> Result<(), AppError> {
        let new = SchoolSetup::parse(THE_SETUP, toml)?;
        let mut setup = self.setup.write().unwrap_or_else(PoisonError::into_inner);
        if sha256(setup.toml.as_bytes()) != tag {
            let what = "Somebody changed the setup since you looked at it; look at it again, then change it.";
            return Err(AppError::new(ErrorKind::Stale, "setup-changed", what));
        }
        self.store.keep_setup(&KeptSetup { toml: new.toml.clone(), given_sha256: self.given_sha256.clone() })?;
        *setup = Arc::new(SchoolSetup { own: setup.own.clone(), ..new });
        tracing::info!(job = "keep_setup", n_bytes = toml.len());
        Ok(())
    }

    /// Whether the week's plan was made with the setup in force.
    ///
    /// # Errors
    /// [`AppError`] of kind not found where the week has no plan, or of the records.
    pub fn is_planned_with_this_setup(&self, week: Week) -> Result<bool, AppError> {
        Ok(self.kept(week)?.setup == self.setup().toml)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Weeks;
    use super::*;

    const GIVEN: &str = "[groups]\nmax_size = 4\n";

    fn max_size(weeks: &Weeks) -> usize {
        weeks.setup().school.groups.max_size
    }

    #[test]
    fn another_file_at_the_start_takes_the_place_of_what_was_kept() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("weeks.db");
        let open = |toml: &str| Weeks::open(&path, SchoolSetup::parse("school.toml", toml).unwrap()).unwrap();
        let weeks = open(GIVEN);
        weeks.keep_setup(&weeks.setup_tag(), "[groups]\nmax_size = 6\n").unwrap();
        assert_eq!(max_size(&weeks), 6);
        drop(weeks);
        assert_eq!(max_size(&open(GIVEN)), 6);
        assert_eq!(max_size(&open("[groups]\nmax_size = 3\n")), 3);
    }

    #[test]
    fn a_setup_with_a_mistake_is_not_kept() {
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", GIVEN).unwrap()).unwrap();
        let error = weeks.keep_setup(&weeks.setup_tag(), "[groups]\nmax_size = 0\n").unwrap_err();
        assert_eq!((error.code, max_size(&weeks)), ("setup-mistake", 4));
        assert!(error.message.starts_with("The setup, line 2: "), "{}", error.message);
    }

    #[test]
    fn a_setup_changed_meanwhile_stays() {
        let weeks = Weeks::in_memory(SchoolSetup::parse("school.toml", GIVEN).unwrap()).unwrap();
        let tag = weeks.setup_tag();
        weeks.keep_setup(&tag, "[groups]\nmax_size = 5\n").unwrap();
        let error = weeks.keep_setup(&tag, "[groups]\nmax_size = 6\n").unwrap_err();
        assert_eq!((error.code, max_size(&weeks)), ("setup-changed", 5));
    }
}
