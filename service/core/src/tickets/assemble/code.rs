//! Form codes, and seeds made of names.
//!
//! A form code is five letters for what stands on the ticket, a hyphen, then group and form: `KTRWB-3A`. Two tickets of one plan differ
//! after the hyphen; those of one group that differ in an item differ before it, but for one chance in 7,962,624.

use crate::tickets::TicketItem;
use crate::tickets::draw::text_hash;

/// Letters that are not taken for digits.
const LETTERS: &[u8; 24] = b"ABCDEFGHJKLMNPQRSTUVWXYZ";

/// A seed of its own for a seed and names.
pub(super) fn mix(seed: u64, names: &[&str]) -> u64 {
    names.iter().fold(spread(seed), |mixed, name| spread(mixed ^ text_hash(name)))
}

/// Spreads the bits of a number (the finisher of SplitMix64).
fn spread(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// The code printed on a ticket, made of all that stands on it: another item, or the same options in another order, give another.
pub(super) fn form_code(group: &str, form: &str, items: &[TicketItem]) -> String {
    let drawn = items.iter().map(|item| {
        let params: Vec<String> = item.params.iter().map(|(name, value)| format!("{name}={value}")).collect();
        format!("{} {} {}", item.model, item.version, params.join(";"))
    });
    let mixed = drawn.fold(mix(0, &["form", group, form]), |mixed, item| mix(mixed, &[&item]));
    let letters = letters(mixed, 5);
    let number = group.strip_prefix('g').filter(|n| !n.is_empty() && n.chars().all(|c| c.is_ascii_digit()));
    match number {
        Some(number) => format!("{letters}-{number}{form}"),
        None => format!("{letters}-{}{form}", self::letters(text_hash(group), 4)),
    }
}

/// The code printed on a sheet of single items of a skill, which belongs to no group: `KTRWB-A`.
#[must_use]
pub fn sheet_code(skill: &str, seed: u64, form: char) -> String {
    format!("{}-{form}", letters(mix(seed, &["sheet", skill]), 5))
}

fn letters(number: u64, n_letters: u32) -> String {
    let letter = |place: u32| {
        let digit = number / 24_u64.pow(place) % 24;
        LETTERS.get(digit as usize).copied().map_or('A', char::from)
    };
    (0..n_letters).map(letter).collect()
}
