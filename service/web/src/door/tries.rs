//! Who tried to sign in and could not, by name and by address; after some failures each further try waits.
//!
//! In:  a name as typed, whom the address stands for, the time. Out: go on, or how long to wait.
//! A try counts as a failure from its start, so that many at once are no way round (`many_tries_at_once_are_counted`); one that succeeds is
//! taken off again, with the earlier ones of its name, while those of its address stay: an account of one's own does not buy tries at others.
//! Keeps: `after_five_failures_each_try_waits`, `the_table_stays_small`. Common practice, no source; NIST SP 800-63B, section 5.2.2, asks for
//! a limit of at most 100.
//! Not here: whether a passphrase is right (`sheaf-app`).

use sha2::{Digest, Sha256};
use std::collections::{HashMap, VecDeque};
use std::net::IpAddr;
use std::time::Duration;

/// Failures after which a name or an address waits.
const MOST_FAILURES: usize = 5;
/// How long a failure counts.
const COUNTS_FOR: Duration = Duration::from_secs(15 * 60);
/// Names and addresses remembered at a time.
const MAX_KEPT: usize = 4096;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
enum Of {
    /// The hash, so that a long name takes no room.
    Name([u8; 32]),
    Address(IpAddr),
}

/// Failures, by name and by address.
#[derive(Default)]
pub(crate) struct Tries {
    failures: HashMap<Of, VecDeque<Duration>>,
}

impl Tries {
    /// Begins a try.
    ///
    /// # Errors
    /// How long to wait, where there were too many failures.
    pub(crate) fn begin(&mut self, name: &str, address: IpAddr, now: Duration) -> Result<(), Duration> {
        let both = [of_name(name), Of::Address(address)];
        if let Some(wait) = both.iter().filter_map(|of| self.wait(of, now)).max() {
            return Err(wait);
        }
        for of in both {
            self.make_room(now);
            let failures = self.failures.entry(of).or_default();
            failures.push_back(now);
            failures.truncate(MOST_FAILURES);
        }
        Ok(())
    }

    /// The try that began last for this name and address succeeded.
    pub(crate) fn succeeded(&mut self, name: &str, address: IpAddr) {
        self.failures.remove(&of_name(name));
        if let Some(failures) = self.failures.get_mut(&Of::Address(address)) {
            failures.pop_back();
        }
    }

    fn wait(&mut self, of: &Of, now: Duration) -> Option<Duration> {
        let failures = self.failures.get_mut(of)?;
        failures.retain(|at| counts(*at, now));
        let first = failures.front().filter(|_| failures.len() >= MOST_FAILURES)?;
        Some((*first + COUNTS_FOR).saturating_sub(now))
    }

    fn make_room(&mut self, now: Duration) {
        if self.failures.len() < MAX_KEPT {
            return;
        }
        self.failures.retain(|_, at| at.back().is_some_and(|at| counts(*at, now)));
        if self.failures.len() >= MAX_KEPT
            && let Some(oldest) = self.failures.iter().min_by_key(|(_, at)| at.back().copied()).map(|(of, _)| *of)
        {
            self.failures.remove(&oldest);
        }
    }
}

fn counts(at: Duration, now: Duration) -> bool {
    now.saturating_sub(at) < COUNTS_FOR
}

fn of_name(name: &str) -> Of {
    Of::Name(Sha256::digest(name.trim().to_lowercase().as_bytes()).into())
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECOND: Duration = Duration::from_secs(1);

    fn address(n: u32) -> IpAddr {
        IpAddr::V4(n.into())
    }

    #[test]
    fn after_five_failures_each_try_waits() {
        let mut tries = Tries::default();
        for n in 0..5 {
            assert_eq!(tries.begin("ana", address(n), SECOND * n), Ok(()));
        }
        assert_eq!(tries.begin(" ANA ", address(9), SECOND * 10), Err(SECOND * 890), "the name, whatever the address");
        assert_eq!(tries.begin("bo", address(9), SECOND * 10), Ok(()));
        assert_eq!(tries.begin("ana", address(9), SECOND * 900), Ok(()), "the first no longer counts");
        assert!(tries.begin("ana", address(9), SECOND * 900).is_err(), "and this one does");

        let mut tries = Tries::default();
        for name in ["a", "b", "c", "d", "e"] {
            tries.begin(name, address(1), Duration::ZERO).unwrap();
        }
        assert!(tries.begin("f", address(1), SECOND).is_err(), "the address, whatever the name");
        assert!(tries.begin("f", address(2), SECOND).is_ok());
    }

    #[test]
    fn many_tries_at_once_are_counted() {
        let mut tries = Tries::default();
        let begun = (0..100).filter(|n| tries.begin("ana", address(*n), SECOND).is_ok()).count();
        assert_eq!(begun, 5);
    }

    #[test]
    fn a_success_clears_its_name_and_not_its_address() {
        let mut tries = Tries::default();
        for name in ["ana", "ana", "ana", "ana"] {
            tries.begin(name, address(1), SECOND).unwrap();
        }
        tries.begin("ana", address(1), SECOND).unwrap();
        tries.succeeded("ana", address(1));
        tries.begin("ana", address(1), SECOND).unwrap();
        assert!(tries.begin("ana", address(1), SECOND).is_err(), "five failures of the address");
        assert!(tries.begin("ana", address(2), SECOND).is_ok());
    }

    #[test]
    fn the_table_stays_small() {
        let mut tries = Tries::default();
        for n in 0..10_000_u32 {
            let _ = tries.begin(&n.to_string(), address(n), Duration::from_millis(n.into()));
        }
        assert!(tries.failures.len() <= MAX_KEPT);
        assert!(tries.failures.values().all(|f| f.len() <= MOST_FAILURES));
    }
}
