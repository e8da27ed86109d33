//! How fast requests of one address may come: so many at once, then so many a second.
//!
//! In:  whom the address stands for, the time. Out: whether the request goes on.
//! Keeps: `a_burst_goes_on_and_a_flood_does_not`, `the_table_stays_small_under_many_addresses`. Common practice, no source.
//! Not here: tries at passphrases, which have a limit of their own (`tries`).

use std::collections::HashMap;
use std::net::IpAddr;
use std::time::Duration;

/// Requests that may come at once: a page of a class with all its parts, some times over.
const BURST: f64 = 200.0;
/// Requests a second after that.
const PER_SECOND: f64 = 50.0;
/// Addresses remembered at a time.
const MAX_KEPT: usize = 4096;

struct Room {
    left: f64,
    at: Duration,
}

/// What is left to each address.
#[derive(Default)]
pub(crate) struct Rate {
    rooms: HashMap<IpAddr, Room>,
}

impl Rate {
    /// Whether a request of this address goes on now.
    pub(crate) fn lets(&mut self, address: IpAddr, now: Duration) -> bool {
        self.make_room(now);
        let room = self.rooms.entry(address).or_insert(Room { left: BURST, at: now });
        room.left = left(room, now);
        room.at = now;
        if room.left < 1.0 {
            return false;
        }
        room.left -= 1.0;
        true
    }

    fn make_room(&mut self, now: Duration) {
        if self.rooms.len() < MAX_KEPT {
            return;
        }
        self.rooms.retain(|_, room| left(room, now) < BURST);
        if self.rooms.len() >= MAX_KEPT
            && let Some(oldest) = self.rooms.iter().min_by_key(|(_, room)| room.at).map(|(address, _)| *address)
        {
            self.rooms.remove(&oldest);
        }
    }
}

fn left(room: &Room, now: Duration) -> f64 {
    (room.left + now.saturating_sub(room.at).as_secs_f64() * PER_SECOND).min(BURST)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(n: u32) -> IpAddr {
        IpAddr::V4(n.into())
    }

    #[test]
    fn a_burst_goes_on_and_a_flood_does_not() {
        let mut rate = Rate::default();
        let n_let = (0..1000).filter(|_| rate.lets(address(1), Duration::ZERO)).count();
        assert_eq!(n_let, 200);
        assert!(rate.lets(address(2), Duration::ZERO), "another address is not held up");
        let later = Duration::from_secs(1);
        assert_eq!((0..1000).filter(|_| rate.lets(address(1), later)).count(), 50);
        let much_later = Duration::from_secs(1000);
        assert_eq!((0..1000).filter(|_| rate.lets(address(1), much_later)).count(), 200);
    }

    #[test]
    fn the_table_stays_small_under_many_addresses() {
        let mut rate = Rate::default();
        for n in 0..10_000_u32 {
            assert!(rate.lets(address(n), Duration::from_micros(n.into())));
        }
        assert!(rate.rooms.len() <= MAX_KEPT);
    }
}
