//! How somebody comes to be let in: by the launch token on this machine, or by an account from other machines over TLS.
//!
//! In:  options of `serve`. Out: the one door a running service has; with accounts, who has a session, and who tries too often.
//! The launch token opens nothing where accounts do: a printed key that anybody on the network could use would go round them.
//! Keeps: at most two passphrases are worked out at a time, so that tries cannot take all memory and both cores.
//! Not here: what a request must carry (`guard`), what a role may do (`guard::may`), passphrases themselves (`sheaf-app`).

mod rate;
mod sessions;
mod tls;
mod tries;

pub(crate) use rate::Rate;
pub(crate) use sessions::{Holder, Sessions};
pub(crate) use tls::server_config;
pub(crate) use tries::Tries;

use crate::token::LaunchToken;
use std::net::{IpAddr, Ipv6Addr};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::Semaphore;

/// Passphrases worked out at a time; each takes 19 MiB and one core.
const MAX_HASHINGS: usize = 2;

/// The door of a running service.
pub(crate) enum Door {
    /// This machine alone; whoever has the token may do everything.
    Launch(LaunchToken),
    /// Over TLS; by account.
    Accounts(Box<Accounts>),
}

/// What is known of those who come over TLS.
pub(crate) struct Accounts {
    /// `NAME:PORT` under which requests are answered.
    pub(crate) authorities: Vec<String>,
    /// One permit a passphrase that is worked out.
    pub(crate) hashing: Semaphore,
    sessions: Mutex<Sessions>,
    tries: Mutex<Tries>,
    rate: Mutex<Rate>,
    started: Instant,
}

impl Accounts {
    /// Nobody is in yet.
    pub(crate) fn new(authorities: Vec<String>) -> Self {
        Accounts {
            authorities,
            hashing: Semaphore::new(MAX_HASHINGS),
            sessions: Mutex::default(),
            tries: Mutex::default(),
            rate: Mutex::default(),
            started: Instant::now(),
        }
    }

    /// The door's own clock; it never goes back.
    pub(crate) fn now(&self) -> Duration {
        self.started.elapsed()
    }

    /// Who has a session.
    pub(crate) fn sessions(&self) -> MutexGuard<'_, Sessions> {
        lock(&self.sessions)
    }

    /// Who tried to sign in and could not.
    pub(crate) fn tries(&self) -> MutexGuard<'_, Tries> {
        lock(&self.tries)
    }

    /// How fast requests come.
    pub(crate) fn rate(&self) -> MutexGuard<'_, Rate> {
        lock(&self.rate)
    }
}

/// A panic elsewhere leaves a table that is at worst a little behind.
fn lock<T>(table: &Mutex<T>) -> MutexGuard<'_, T> {
    table.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Whom an address stands for: one machine, or one network of IPv6, in which a machine takes what address it likes.
pub(crate) fn whom(address: IpAddr) -> IpAddr {
    match address {
        IpAddr::V4(_) => address,
        IpAddr::V6(v6) => v6.to_ipv4_mapped().map_or_else(
            || {
                let [a, b, c, d, ..] = v6.segments();
                IpAddr::V6(Ipv6Addr::new(a, b, c, d, 0, 0, 0, 0))
            },
            IpAddr::V4,
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_of_ipv6_is_one_and_a_mapped_address_is_its_own() {
        let one = |text: &str| whom(text.parse().unwrap()).to_string();
        assert_eq!(one("2001:db8:1:2:3:4:5:6"), one("2001:db8:1:2::9"));
        assert_ne!(one("2001:db8:1:2::9"), one("2001:db8:1:3::9"));
        assert_eq!(one("::ffff:10.0.0.5"), "10.0.0.5");
        assert_ne!(one("10.0.0.5"), one("10.0.0.6"));
    }
}
