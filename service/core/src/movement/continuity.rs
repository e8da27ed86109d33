//! Which group of this week continues which group of last week, so that a group keeps its number.
//!
//! In: the members of last week's and of this week's groups. Out: for each group of this week the one it continues,
//! and the numbers that follow from it.
//! Rules it keeps: the members who stay in a group that keeps its number are as many as can be
//! (`as_many_members_as_can_be_keep_their_number`); groups that share nobody are not the same group
//! (`groups_that_share_nobody_are_not_matched`); a new group takes no number that was in use last week
//! (`a_new_group_takes_a_fresh_number`); equal choices go to the group at the same place of the list.
//! Source: H. W. Kuhn, Naval Research Logistics Quarterly 2 (1955) 83-97, by the pathfinding library.
//! Not here: who sits with whom (`grouping`).

use crate::roster::StudentId;
use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;
use std::collections::{BTreeMap, BTreeSet};

/// A shared member counts so much more than standing at the same place of the list.
const SHARED: i64 = 1_000_000;

/// For each group of `now`, the position in `before` of the group it continues; `None` for a new group.
#[must_use]
pub fn continued_groups(before: &[Vec<StudentId>], now: &[Vec<StudentId>]) -> Vec<Option<usize>> {
    let shared = shared_counts(before, now);
    let n = before.len().max(now.len());
    if n == 0 {
        return Vec::new();
    }
    let weights = Matrix::from_fn(n, n, |(new, old)| {
        SHARED * shared.get(&(new, old)).copied().unwrap_or(0) + i64::from(new == old)
    });
    let (_, matched) = kuhn_munkres(&weights);
    let continues = |(new, old): (usize, usize)| shared.contains_key(&(new, old)).then_some(old);
    matched.into_iter().take(now.len()).enumerate().map(continues).collect()
}

/// Members shared by a group of `now` and one of `before`, where there are any.
fn shared_counts(before: &[Vec<StudentId>], now: &[Vec<StudentId>]) -> BTreeMap<(usize, usize), i64> {
    let members = before.iter().enumerate().flat_map(|(group, ids)| ids.iter().map(move |id| (id, group)));
    let group_before: BTreeMap<&StudentId, usize> = members.collect();
    let mut shared = BTreeMap::new();
    for (new, ids) in now.iter().enumerate() {
        for old in ids.iter().filter_map(|id| group_before.get(id)) {
            *shared.entry((new, *old)).or_insert(0) += 1;
        }
    }
    shared
}

/// The numbers of this week's groups: that of the group each continues, else the lowest one free in both weeks.
///
/// `numbers_before` holds a number for each group of last week; one that is missing counts as a new group's.
#[must_use]
pub fn kept_numbers(continued: &[Option<usize>], numbers_before: &[usize]) -> Vec<usize> {
    let mut taken: BTreeSet<usize> = numbers_before.iter().copied().collect();
    let mut next_free = || {
        let free = (1..).find(|number| !taken.contains(number)).unwrap_or(usize::MAX);
        taken.insert(free);
        free
    };
    let number = |old: &Option<usize>| old.and_then(|old| numbers_before.get(old).copied());
    continued.iter().map(|old| number(old).unwrap_or_else(&mut next_free)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ids(names: &str) -> Vec<StudentId> {
        names.split_whitespace().map(|name| StudentId::parse(name).unwrap()).collect()
    }

    #[test]
    fn a_group_keeps_its_number_when_one_member_changes() {
        let before = [ids("a b c d"), ids("e f g h")];
        let now = [ids("e f g d"), ids("a b c h")];
        let continued = continued_groups(&before, &now);
        assert_eq!(continued, [Some(1), Some(0)]);
        assert_eq!(kept_numbers(&continued, &[1, 2]), [2, 1]);
    }

    #[test]
    fn groups_that_share_nobody_are_not_matched() {
        assert_eq!(continued_groups(&[ids("a b")], &[ids("x y"), ids("a z")]), [None, Some(0)]);
        assert_eq!(continued_groups(&[], &[ids("x y")]), [None]);
        assert_eq!(continued_groups(&[ids("a b")], &[]), Vec::<Option<usize>>::new());
    }

    #[test]
    fn a_new_group_takes_a_fresh_number() {
        let before = [ids("a b"), ids("c d"), ids("e f")];
        let now = [ids("a b"), ids("x y"), ids("e f")];
        let continued = continued_groups(&before, &now);
        assert_eq!(kept_numbers(&continued, &[1, 2, 3]), [1, 4, 3], "2 was another group last week");
    }

    #[test]
    fn the_whole_overlap_counts_and_not_the_largest_first() {
        // Costs of a published example, as members that do not overlap: the best columns are 1, 0, 2.
        let costs = [[4, 1, 3], [2, 0, 5], [3, 2, 2]];
        let (mut before, mut now) = (vec![Vec::new(); 3], vec![Vec::new(); 3]);
        for (row, costs) in costs.iter().enumerate() {
            for (column, cost) in costs.iter().enumerate() {
                for n in 0..5 - cost {
                    let id = StudentId::parse(&format!("{row}{column}{n}")).unwrap();
                    now[row].push(id.clone());
                    before[column].push(id);
                }
            }
        }
        assert_eq!(continued_groups(&before, &now), [Some(1), Some(0), Some(2)]);
    }

    fn groups_of(labels: &[usize]) -> Vec<Vec<StudentId>> {
        let of = |group: usize| {
            let here = labels.iter().enumerate().filter(|(_, label)| **label == group);
            here.map(|(n, _)| StudentId::parse(&n.to_string()).unwrap()).collect()
        };
        (0..4).map(of).collect()
    }

    fn n_kept(before: &[Vec<StudentId>], now: &[Vec<StudentId>], continued: &[Option<usize>]) -> usize {
        let shared = |(new, old): (usize, usize)| now[new].iter().filter(|id| before[old].contains(id)).count();
        continued.iter().enumerate().filter_map(|(new, old)| old.map(|old| (new, old))).map(shared).sum()
    }

    fn orders() -> Vec<Vec<Option<usize>>> {
        let digits = |code: usize| [code / 64, code / 16 % 4, code / 4 % 4, code % 4];
        let is_order = |order: &[usize; 4]| (0..4).all(|group| order.contains(&group));
        (0..256).map(digits).filter(is_order).map(|order| order.map(Some).to_vec()).collect()
    }

    proptest! {
        #[test]
        fn as_many_members_as_can_be_keep_their_number(
            before in proptest::collection::vec(0usize..4, 14),
            now in proptest::collection::vec(0usize..4, 14),
        ) {
            let (before, now) = (groups_of(&before), groups_of(&now));
            let continued = continued_groups(&before, &now);
            let most = orders().iter().map(|order| n_kept(&before, &now, order)).max();
            prop_assert_eq!(Some(n_kept(&before, &now, &continued)), most);
            let numbers = kept_numbers(&continued, &[1, 2, 3, 4]);
            prop_assert_eq!(numbers.iter().collect::<BTreeSet<_>>().len(), 4, "no number twice");
        }
    }
}
