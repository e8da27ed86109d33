//! Whether the container of an .xls can be true: its sectors have a size that exists, and every chain of them ends.
//!
//! In:  bytes. Out: yes or no. A library that follows a chain which bites its own tail never comes back; so every chain is walked here
//! first, with no more steps than there are sectors. Keeps: `a_chain_without_end_cannot_be_true`, `a_sound_workbook_can_be_true`.
//! Not here: what the streams hold (`library`). Source: [MS-CFB], sections 2.2 to 2.6.

use std::collections::HashSet;

const MARK: &[u8] = &[0xD0, 0xCF, 0x11, 0xE0, 0xA1, 0xB1, 0x1A, 0xE1];
/// Sector numbers from here on end a chain or are no sectors.
const LARGEST: u32 = 0xFFFF_FFFA;
/// Streams below this many bytes lie in small sectors.
const SMALL_STREAM: u64 = 4096;
/// Bytes of a directory entry.
const ENTRY: usize = 128;

/// Whether a compound file can be followed to its end.
pub fn can_be_true(bytes: &[u8]) -> bool {
    Compound::open(bytes).is_some_and(|file| file.chains_end() == Some(true))
}

fn short(bytes: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_le_bytes(bytes.get(at..at.checked_add(2)?)?.try_into().ok()?))
}

fn long(bytes: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_le_bytes(bytes.get(at..at.checked_add(4)?)?.try_into().ok()?))
}

/// A compound file with its tables of next sectors.
struct Compound<'a> {
    bytes: &'a [u8],
    shift: u32,
    /// The next sector of each.
    next: Vec<u32>,
    /// The next small sector of each.
    next_small: Vec<u32>,
}

impl<'a> Compound<'a> {
    /// `None` where the head cannot be true.
    fn open(bytes: &'a [u8]) -> Option<Self> {
        let shift = u32::from(short(bytes, 30)?);
        let is_head = bytes.starts_with(MARK) && matches!(shift, 9 | 12) && short(bytes, 32)? == 6;
        let n_sectors = bytes.len() as u64 >> shift.min(32);
        let n_said = [long(bytes, 44)?, long(bytes, 64)?, long(bytes, 72)?];
        if !is_head || n_said.iter().any(|n| u64::from(*n) > n_sectors) {
            return None;
        }
        let mut file = Compound { bytes, shift, next: Vec::new(), next_small: Vec::new() };
        let tables = file.tables()?;
        file.next = tables.iter().flat_map(|sector| file.numbers(*sector)).collect();
        let small = file.chain(&file.next, long(bytes, 60)?)?;
        file.next_small = small.iter().flat_map(|sector| file.numbers(*sector)).collect();
        Some(file)
    }

    fn sector(&self, number: u32) -> &'a [u8] {
        let size = 1_usize << self.shift;
        let from = (number as usize).saturating_add(1).saturating_mul(size).min(self.bytes.len());
        &self.bytes[from..from.saturating_add(size).min(self.bytes.len())]
    }

    fn numbers(&self, number: u32) -> Vec<u32> {
        self.sector(number).chunks_exact(4).filter_map(|four| long(four, 0)).collect()
    }

    /// The sectors that hold the table of next sectors; `None` where their list has no end.
    fn tables(&self) -> Option<Vec<u32>> {
        let mut tables: Vec<u32> = (0..109).filter_map(|i| long(self.bytes, 76 + 4 * i)).collect();
        let (mut at, mut seen) = (long(self.bytes, 68)?, HashSet::new());
        while at < LARGEST && !self.sector(at).is_empty() {
            if !seen.insert(at) {
                return None;
            }
            let mut numbers = self.numbers(at);
            at = numbers.pop().unwrap_or(LARGEST);
            tables.extend(numbers);
        }
        tables.retain(|sector| *sector < LARGEST);
        Some(tables)
    }

    /// The sectors of a chain; `None` where it never ends.
    fn chain(&self, next: &[u32], first: u32) -> Option<Vec<u32>> {
        let mut sectors = Vec::new();
        let mut at = first;
        while let Some(after) = next.get(at as usize) {
            if sectors.len() >= next.len() {
                return None;
            }
            sectors.push(at);
            at = *after;
        }
        Some(sectors)
    }

    /// Whether the chain of the directory and those of all its streams end.
    fn chains_end(&self) -> Option<bool> {
        let directory: Vec<u8> = self
            .chain(&self.next, long(self.bytes, 48)?)?
            .into_iter()
            .flat_map(|sector| self.sector(sector).iter().copied())
            .collect();
        let mut walked = HashSet::new();
        for entry in directory.chunks_exact(ENTRY) {
            let (kind, first, size) = (entry[66], long(entry, 116)?, u64::from(long(entry, 120)?));
            // A stream is 2, the root 5; the root's own stream holds the small sectors.
            let next = match kind {
                2 if size < SMALL_STREAM => &self.next_small,
                2 | 5 => &self.next,
                _ => continue,
            };
            if walked.insert((first, kind == 2 && size < SMALL_STREAM)) {
                self.chain(next, first)?;
            }
        }
        Some(true)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const OLD: &[u8] = include_bytes!("../../../../fixtures/broken/old_workbook.xls");

    #[test]
    fn a_sound_workbook_can_be_true() {
        assert!(can_be_true(OLD));
        assert!(can_be_true(include_bytes!("../../../../fixtures/broken/calc_saved.xls")));
    }

    #[test]
    fn a_chain_without_end_cannot_be_true() {
        let file = Compound::open(OLD).unwrap();
        let table = file.tables().unwrap()[0];
        let start = |sector: u32| (sector as usize + 1) << file.shift;
        let directory = long(OLD, 48).unwrap();
        let of_stream = long(OLD, start(directory) + ENTRY + 116).unwrap();
        for first in [directory, of_stream] {
            let mut bytes = OLD.to_vec();
            let at = start(table) + 4 * first as usize;
            bytes[at..at + 4].copy_from_slice(&first.to_le_bytes());
            assert!(!can_be_true(&bytes), "sector {first} is followed by itself");
        }
        let mut bytes = OLD.to_vec();
        bytes[68..72].copy_from_slice(&0_u32.to_le_bytes());
        let end = start(0) + (1 << file.shift) - 4;
        bytes[end..end + 4].copy_from_slice(&0_u32.to_le_bytes());
        assert!(!can_be_true(&bytes), "the list of tables is followed by itself");
    }
}
