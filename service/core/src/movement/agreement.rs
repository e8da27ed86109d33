//! How alike two groupings of the same students are, the adjusted Rand index, and two judgements of the same things, Cohen's kappa.
//!
//! In: for each student a label of either grouping, or the table of counts. Out: 1 for the same groups whatever their
//! names, about 0 for groups drawn by chance, below 0 for less alike than chance.
//! Rules it keeps: published and exact values (`the_index_has_its_exact_values`); where both groupings are trivial
//! (everyone together, or everyone alone) or there are fewer than two students, the index is 1
//! (`trivial_groupings_agree`); kappa has its published values (`kappa_has_its_published_values`), and none where one word is all that was
//! said. Whole numbers up to the last division.
//! Sources: L. Hubert and P. Arabie, Journal of Classification 2 (1985) 193-218, equation 5; J. Cohen, Educational and Psychological
//! Measurement 20 (1960) 37-46 (from memory). Weighted kappa is not here: met or not is all that is compared.

use std::collections::BTreeMap;

/// The index of two labels a student. Never panics; labels are compared only for being equal.
#[must_use]
pub fn adjusted_rand<A: Ord, B: Ord>(labels: &[(A, B)]) -> f64 {
    let mut cells: BTreeMap<(&A, &B), u64> = BTreeMap::new();
    let (mut rows, mut columns): (BTreeMap<&A, u64>, BTreeMap<&B, u64>) = (BTreeMap::new(), BTreeMap::new());
    for (a, b) in labels {
        *cells.entry((a, b)).or_default() += 1;
        *rows.entry(a).or_default() += 1;
        *columns.entry(b).or_default() += 1;
    }
    index(cells.into_values(), rows.into_values(), columns.into_values(), labels.len() as u64)
}

/// The index of a table of counts: a row for each group of one grouping, a column for each of the other.
#[must_use]
pub fn adjusted_rand_of_counts(table: &[Vec<u64>]) -> f64 {
    let n_columns = table.iter().map(Vec::len).max().unwrap_or(0);
    let column = |c: usize| table.iter().filter_map(|row| row.get(c)).sum::<u64>();
    let cells = table.iter().flatten().copied();
    let total = cells.clone().sum();
    index(cells, table.iter().map(|row| row.iter().sum()), (0..n_columns).map(column), total)
}

/// Cohen's kappa of a square table: a row for each word of one judgement, a column for each of the other. `None` where nothing was judged,
/// or chance alone would agree on everything.
#[must_use]
pub fn cohens_kappa<const N: usize>(table: &[[u64; N]; N]) -> Option<f64> {
    let n = table.iter().flatten().sum::<u64>() as f64;
    let row = |k: usize| table[k].iter().sum::<u64>() as f64;
    let column = |k: usize| table.iter().map(|row| row[k]).sum::<u64>() as f64;
    let by_chance = (0..N).map(|k| row(k) * column(k)).sum::<f64>() / (n * n);
    let alike = (0..N).map(|k| table[k][k]).sum::<u64>() as f64 / n;
    (n > 0.0 && by_chance < 1.0).then(|| (alike - by_chance) / (1.0 - by_chance))
}

fn index(
    cells: impl Iterator<Item = u64>,
    rows: impl Iterator<Item = u64>,
    columns: impl Iterator<Item = u64>,
    n_students: u64,
) -> f64 {
    let together = cells.map(pairs).sum::<u64>() as f64;
    let (in_rows, in_columns) = (rows.map(pairs).sum::<u64>(), columns.map(pairs).sum::<u64>());
    let all = pairs(n_students);
    let are_both_trivial = in_rows == in_columns && (in_rows == 0 || in_rows == all);
    if are_both_trivial {
        return 1.0;
    }
    let by_chance = in_rows as f64 * in_columns as f64 / all as f64;
    let most = (in_rows + in_columns) as f64 / 2.0;
    (together - by_chance) / (most - by_chance)
}

/// Pairs that can be formed of so many students.
fn pairs(n: u64) -> u64 {
    n * n.saturating_sub(1) / 2
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(left: f64, right: f64) -> bool {
        (left - right).abs() < 1e-12
    }

    #[test]
    fn the_index_has_its_exact_values() {
        let cases: [(&[&[u64]], f64); 4] = [
            (&[&[2, 0], &[0, 1], &[0, 1]], 4.0 / 7.0),
            (&[&[1, 1, 0], &[1, 2, 1], &[0, 0, 4]], 266.0 / 851.0),
            (&[&[5, 1], &[1, 5]], 7.0 / 18.0),
            (&[&[10, 0, 0], &[0, 8, 2], &[1, 1, 8]], 3468.0 / 5411.0),
        ];
        for (table, wanted) in cases {
            let table: Vec<Vec<u64>> = table.iter().map(|row| row.to_vec()).collect();
            let index = adjusted_rand_of_counts(&table);
            assert!(close(index, wanted), "{index} for {table:?}");
        }
        assert!(close(adjusted_rand(&[(1, 1), (1, 1), (2, 2), (3, 2)]), 4.0 / 7.0));
    }

    /// Values of scikit-learn, `cohen_kappa_score` (its own example, 3/7), and of R's psych 2.2.9, `cohen.kappa`, whose help page has .492.
    #[test]
    fn kappa_has_its_published_values() {
        // Labels 2,0,2,2,0,1 against 0,0,2,2,0,2.
        let kappa = cohens_kappa(&[[2, 0, 0], [0, 0, 1], [1, 0, 2]]).unwrap();
        assert!(close(kappa, 3.0 / 7.0), "{kappa}");
        let kappa = cohens_kappa(&[[44, 7, 9], [5, 20, 5], [1, 3, 6]]).unwrap();
        assert!((kappa - 0.491_525).abs() < 1e-6, "{kappa}");
        assert_eq!(cohens_kappa(&[[0, 0], [0, 0]]), None);
        assert_eq!(cohens_kappa(&[[9, 0], [0, 0]]), None, "one word alone");
        assert_eq!(cohens_kappa(&[[3, 0], [0, 4]]), Some(1.0));
    }

    #[test]
    fn trivial_groupings_agree() {
        assert!(close(adjusted_rand::<u8, u8>(&[]), 1.0));
        assert!(close(adjusted_rand(&[(1, 7)]), 1.0));
        assert!(close(adjusted_rand(&[(1, 7), (1, 7), (1, 7)]), 1.0));
        assert!(close(adjusted_rand(&[(1, 7), (2, 8), (3, 9)]), 1.0));
    }

    #[test]
    fn everyone_together_says_nothing_about_any_grouping() {
        assert!(close(adjusted_rand(&[(1, 1), (1, 1), (1, 2), (1, 2)]), 0.0));
    }

    #[test]
    fn ragged_tables_are_read_as_zeros() {
        assert!(close(adjusted_rand_of_counts(&[vec![2], vec![0, 1], vec![0, 1]]), 4.0 / 7.0));
    }

    proptest! {
        #[test]
        fn agreement_does_not_look_at_names(labels in proptest::collection::vec((0usize..4, 0usize..4), 0..30)) {
            let renamed: Vec<(char, usize)> = labels.iter().map(|(a, b)| (['z', 'b', 'q', 'a'][*a], 9 - b)).collect();
            let swapped: Vec<(usize, usize)> = labels.iter().map(|(a, b)| (*b, *a)).collect();
            let index = adjusted_rand(&labels);
            prop_assert!(close(index, adjusted_rand(&renamed)));
            prop_assert!(close(index, adjusted_rand(&swapped)));
            prop_assert!((-1.0..=1.0 + 1e-12).contains(&index));
        }

        #[test]
        fn a_grouping_agrees_with_itself(labels in proptest::collection::vec(0usize..5, 0..30)) {
            let twice: Vec<(usize, usize)> = labels.iter().map(|l| (*l, *l)).collect();
            prop_assert!(close(adjusted_rand(&twice), 1.0));
        }
    }
}
