//! A group is known by its number and a drawn pattern, which a copier keeps.
//!
//! Eight patterns (`each_of_the_first_eight_groups_has_a_pattern_of_its_own`); then they come again, and the number
//! tells.

/// Patterns drawn in `templates/hatches.html`.
const N_PATTERNS: usize = 8;

/// How a group is marked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Badge {
    /// What stands on it, from the group's id: `3` of `g3`.
    pub(crate) number: String,
    /// Which pattern, 1 to 8.
    pub(crate) pattern: usize,
}

/// The badge of a group's id.
pub(crate) fn badge(group_id: &str) -> Badge {
    let number = group_id.trim_start_matches('g').to_owned();
    let place = number.parse::<usize>().unwrap_or(1).max(1);
    Badge { number, pattern: (place - 1) % N_PATTERNS + 1 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_of_the_first_eight_groups_has_a_pattern_of_its_own() {
        let patterns: Vec<usize> = (1..=9).map(|n| badge(&format!("g{n}")).pattern).collect();
        assert_eq!(patterns, [1, 2, 3, 4, 5, 6, 7, 8, 1]);
        assert_eq!(badge("g12").number, "12");
    }

    #[test]
    fn every_pattern_is_drawn() {
        let drawn = include_str!("../../templates/hatches.html");
        for pattern in 1..=N_PATTERNS {
            assert!(drawn.contains(&format!("id=\"hatch-{pattern}\"")), "{pattern}");
        }
    }
}
