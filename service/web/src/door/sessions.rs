//! Sessions of those who signed in: in memory alone, under the hash of a random token, each with two ends.
//!
//! In:  tokens as cookies carry them, and the time by the door's clock. Out: whose session it is, if it is one still.
//! Keeps: 1. each sign-in gets a token of its own (`a_token_that_was_planted_is_no_session`)
//!        2. a session ends after doing nothing, and after a day's work at most (`a_session_ends_by_itself`)
//!        3. the table is bounded (`the_oldest_goes_where_there_are_too_many`)
//! Not here: ends by a removed account or another passphrase: the guard compares the stamp with each request.

use sha2::{Digest, Sha256};
use sheaf_app::error::AppError;
use sheaf_app::weeks::SignedIn;
use std::collections::HashMap;
use std::time::Duration;

/// A session ends after so long without a request: a lesson's length, so that a machine left alone is not open all day.
const IDLE: Duration = Duration::from_secs(30 * 60);
/// A session ends after so long whatever is done: longer than a school day, shorter than until the next.
const LONGEST: Duration = Duration::from_secs(12 * 60 * 60);
/// Sessions at a time: more than a building has staff.
const MAX_SESSIONS: usize = 500;

/// Whose session it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Holder {
    pub(crate) name: String,
    pub(crate) stamp: [u8; 32],
}

impl From<&SignedIn> for Holder {
    fn from(person: &SignedIn) -> Self {
        Holder { name: person.name.clone(), stamp: person.stamp }
    }
}

struct Session {
    holder: Holder,
    began: Duration,
    used: Duration,
}

/// All sessions.
#[derive(Default)]
pub(crate) struct Sessions {
    open: HashMap<[u8; 32], Session>,
}

impl Sessions {
    /// Opens one and gives its token: 256 random bits in hex.
    pub(crate) fn open(&mut self, holder: Holder, now: Duration) -> Result<String, AppError> {
        let mut bytes = [0_u8; 32];
        getrandom::fill(&mut bytes).map_err(AppError::our_fault)?;
        let token: String = bytes.iter().map(|byte| format!("{byte:02x}")).collect();
        self.open.retain(|_, session| goes_on(session, now));
        if self.open.len() >= MAX_SESSIONS
            && let Some(oldest) = self.open.iter().min_by_key(|(_, s)| s.used).map(|(key, _)| *key)
        {
            self.open.remove(&oldest);
        }
        self.open.insert(key_of(&token), Session { holder, began: now, used: now });
        Ok(token)
    }

    /// Whose session a token is of, and that it is used now.
    pub(crate) fn of(&mut self, token: &str, now: Duration) -> Option<Holder> {
        let key = key_of(token);
        let session = self.open.get_mut(&key)?;
        if !goes_on(session, now) {
            self.open.remove(&key);
            return None;
        }
        session.used = now;
        Some(session.holder.clone())
    }

    /// Ends the session of a token, where there is one.
    pub(crate) fn end(&mut self, token: &str) {
        self.open.remove(&key_of(token));
    }
}

/// Kept in place of the token, so that what memory holds opens nothing; a look-up by a hash also tells nothing of a near miss.
fn key_of(token: &str) -> [u8; 32] {
    Sha256::digest(token.as_bytes()).into()
}

fn goes_on(session: &Session, now: Duration) -> bool {
    now.saturating_sub(session.used) < IDLE && now.saturating_sub(session.began) < LONGEST
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE: Duration = Duration::from_secs(60);

    fn ana() -> Holder {
        Holder { name: "ana".into(), stamp: [1; 32] }
    }

    #[test]
    fn a_session_ends_by_itself() {
        let mut sessions = Sessions::default();
        let token = sessions.open(ana(), Duration::ZERO).unwrap();
        assert_eq!(sessions.of(&token, 29 * MINUTE), Some(ana()));
        assert_eq!(sessions.of(&token, 58 * MINUTE), Some(ana()), "used, so it goes on");
        assert_eq!(sessions.of(&token, 88 * MINUTE), None, "30 minutes without a request");
        assert_eq!(sessions.of(&token, 88 * MINUTE), None);

        let token = sessions.open(ana(), Duration::ZERO).unwrap();
        for minute in (0..720).step_by(20) {
            assert!(sessions.of(&token, minute * MINUTE).is_some(), "{minute}");
        }
        assert_eq!(sessions.of(&token, 720 * MINUTE), None, "12 hours in all");
    }

    #[test]
    fn a_token_that_was_planted_is_no_session() {
        let mut sessions = Sessions::default();
        let planted = "0".repeat(64);
        let token = sessions.open(ana(), Duration::ZERO).unwrap();
        assert_eq!(token.len(), 64);
        assert_ne!(token, sessions.open(ana(), Duration::ZERO).unwrap());
        assert_eq!(sessions.of(&planted, Duration::ZERO), None);
        assert_eq!(sessions.of("", Duration::ZERO), None);
        sessions.end(&token);
        assert_eq!(sessions.of(&token, Duration::ZERO), None);
    }

    #[test]
    fn the_oldest_goes_where_there_are_too_many() {
        let mut sessions = Sessions::default();
        let first = sessions.open(ana(), Duration::ZERO).unwrap();
        let second = sessions.open(ana(), Duration::from_millis(1)).unwrap();
        for _ in 1..MAX_SESSIONS {
            sessions.open(ana(), MINUTE).unwrap();
        }
        assert_eq!(sessions.open.len(), MAX_SESSIONS);
        assert_eq!(sessions.of(&first, MINUTE), None);
        assert!(sessions.of(&second, MINUTE).is_some());
    }
}
