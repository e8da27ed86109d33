//! Item quality: difficulty, corrected item-total discrimination, KR-20 (alpha).
//!
//! Difficulty is the mean share of points among those with points on the item. Discrimination is the correlation of an item with the
//! rest score (never with the total that contains it); with missing answers the rest is the share got of what was taken.
//! Options are looked at beside them (`options`). The standard error of measurement is that of the points: their standard deviation
//! (divisor n - 1) times the root of what is unreliable.
//! Reliability is alpha over the students who took every item (for 0/1 items that is KR-20); both variances use divisor n.
//! Keeps: LSAT-6 (`lsat6_matches_published_values`); undefined figures are `None`, never 0 (`a_constant_item_has_no_discrimination`).
//! Source: Lord & Novick 1968; Kuder & Richardson 1937, Psychometrika 2:151-160; Cronbach 1951, Psychometrika 16:297-334 (pages from memory).

use super::ShareTable;
use super::options::{OptionsOfItem, options_of};
use crate::plan::ItemReport;
use crate::scores::ResponseTable;
use rayon::prelude::*;

/// Answers below which an item's figures are flagged as thin.
const FEW_ANSWERS: usize = 5;
/// Answers from which a negative discrimination is worth a word.
const ENOUGH_TO_DOUBT: usize = 15;

/// Figures of a whole table.
#[derive(Debug, Clone, PartialEq)]
pub struct ItemFigures {
    /// For each item: students with points on it.
    pub n_taken: Vec<usize>,
    /// For each item: mean share of points, or `None`.
    pub difficulty: Vec<Option<f64>>,
    /// For each item: correlation with the rest score, or `None`.
    pub discrimination: Vec<Option<f64>>,
    /// KR-20 / alpha, or `None`.
    pub reliability: Option<f64>,
    /// Standard error of measurement in points, or `None`.
    pub standard_error: Option<f64>,
    /// For each item what became of its options.
    options: Vec<OptionsOfItem>,
}

/// Computes the figures of every item.
#[must_use]
pub fn item_figures(table: &ResponseTable, shares: &ShareTable) -> ItemFigures {
    let n = table.n_students();
    let totals: Vec<(f64, f64)> = (0..n).into_par_iter().map(|s| total_of(s, table, shares)).collect();
    let per_item: Vec<(usize, Option<f64>, Option<f64>)> =
        (0..table.n_items()).into_par_iter().map(|item| figures_of(item, table, shares, &totals)).collect();
    let options = (0..table.n_items())
        .into_par_iter()
        .map(|item| {
            let points = table.items()[item].points;
            options_of(table, item, |s| rest_share(totals[s], shares.share(table, s, item)?, points))
        })
        .collect();
    let (reliability, standard_error) = alpha(table, shares).unzip();
    ItemFigures {
        n_taken: per_item.iter().map(|f| f.0).collect(),
        difficulty: per_item.iter().map(|f| f.1).collect(),
        discrimination: per_item.iter().map(|f| f.2).collect(),
        reliability,
        standard_error,
        options,
    }
}

/// Points got and possible over all items that a student took.
fn total_of(student: usize, table: &ResponseTable, shares: &ShareTable) -> (f64, f64) {
    table.items().iter().enumerate().fold((0.0, 0.0), |(got, possible), (j, item)| {
        match shares.share(table, student, j) {
            Some(share) => (got + share * item.points, possible + item.points),
            None => (got, possible),
        }
    })
}

fn figures_of(
    item: usize,
    table: &ResponseTable,
    shares: &ShareTable,
    totals: &[(f64, f64)],
) -> (usize, Option<f64>, Option<f64>) {
    let points = table.items()[item].points;
    let mut pairs = Vec::new();
    let (mut n, mut sum) = (0_usize, 0.0);
    for (student, &(got, possible)) in totals.iter().enumerate() {
        let Some(share) = shares.share(table, student, item) else { continue };
        n += 1;
        sum += share;
        pairs.extend(rest_share((got, possible), share, points).map(|rest| (share, rest)));
    }
    let difficulty = (n > 0).then(|| sum / n as f64);
    (n, difficulty, correlation(&pairs))
}

/// Share of the points of all other items, where there are any.
fn rest_share((got, possible): (f64, f64), share: f64, points: f64) -> Option<f64> {
    let rest_possible = possible - points;
    (rest_possible > 1e-9).then(|| (got - share * points) / rest_possible)
}

/// Pearson's correlation, or `None` where either side does not vary.
fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    let n = pairs.len() as f64;
    if pairs.len() < 2 {
        return None;
    }
    let (mean_x, mean_y) = (pairs.iter().map(|p| p.0).sum::<f64>() / n, pairs.iter().map(|p| p.1).sum::<f64>() / n);
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for &(x, y) in pairs {
        let (dx, dy) = (x - mean_x, y - mean_y);
        xx += dx * dx;
        yy += dy * dy;
        xy += dx * dy;
    }
    (xx > 1e-12 && yy > 1e-12).then(|| (xy / (xx * yy).sqrt()).clamp(-1.0, 1.0))
}

/// Alpha, and the standard error of measurement, over the students who took every item.
fn alpha(table: &ResponseTable, shares: &ShareTable) -> Option<(f64, f64)> {
    let n_items = table.n_items();
    if n_items < 2 {
        return None;
    }
    let mut sums = vec![(0.0_f64, 0.0_f64); n_items];
    let (mut n, mut total, mut total_squares) = (0.0, 0.0, 0.0);
    let mut row = vec![0.0; n_items];
    for student in 0..table.n_students() {
        let is_complete = row.iter_mut().enumerate().all(|(j, cell)| {
            shares.share(table, student, j).map(|share| *cell = share * table.items()[j].points).is_some()
        });
        if !is_complete {
            continue;
        }
        n += 1.0;
        let score: f64 = row.iter().sum();
        total += score;
        total_squares += score * score;
        sums.iter_mut().zip(&row).for_each(|(s, x)| *s = (s.0 + x, s.1 + x * x));
    }
    if n < 2.0 {
        return None;
    }
    let variance = |sum: f64, squares: f64| squares / n - (sum / n) * (sum / n);
    let total_variance = variance(total, total_squares);
    let item_variance: f64 = sums.iter().map(|&(s, q)| variance(s, q)).sum();
    let j = n_items as f64;
    (total_variance > 1e-12).then(|| {
        let alpha = j / (j - 1.0) * (1.0 - item_variance / total_variance);
        (alpha, (total_variance * n / (n - 1.0) * (1.0 - alpha).max(0.0)).sqrt())
    })
}

/// One report an item, with a word for what is odd about it.
#[must_use]
pub fn item_reports(table: &ResponseTable, figures: &ItemFigures) -> Vec<ItemReport> {
    table
        .items()
        .iter()
        .enumerate()
        .map(|(j, item)| ItemReport {
            label: item.label.clone(),
            skills: item.skills.clone(),
            n_taken: figures.n_taken[j],
            difficulty: figures.difficulty[j],
            discrimination: figures.discrimination[j],
            options: figures.options[j].options.clone(),
            flag: flag(figures.n_taken[j], figures.difficulty[j], figures.discrimination[j], &figures.options[j])
                .map(str::to_owned),
        })
        .collect()
}

fn flag(
    n_taken: usize,
    difficulty: Option<f64>,
    discrimination: Option<f64>,
    options: &OptionsOfItem,
) -> Option<&'static str> {
    match (difficulty, discrimination) {
        (None, _) => Some("nobody-took-it"),
        _ if options.is_key_doubtful => Some("key-probably-wrong"),
        _ if n_taken < FEW_ANSWERS => Some("few-answers"),
        (Some(d), _) if d >= 1.0 => Some("everybody-right"),
        (Some(d), _) if d <= 0.0 => Some("nobody-right"),
        (_, Some(r)) if r < 0.0 && n_taken >= ENOUGH_TO_DOUBT => Some("missed-by-those-who-know-the-rest"),
        _ if options.options.iter().any(|o| o.flag.is_some()) => Some("options-without-use"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::roster::{OmittedCounts, Student, StudentId};
    use crate::scores::{Item, Mark};

    fn table_of(rows: &[Vec<f64>]) -> ResponseTable {
        let mut table = ResponseTable::new();
        let check = table.add_assessment("check");
        for j in 0..rows[0].len() {
            table.add_item(Item::new(&format!("Q{}", j + 1), check));
        }
        for (i, row) in rows.iter().enumerate() {
            let s = table.add_student(Student::unnamed(StudentId::parse(&format!("{i:05}")).unwrap()));
            for (j, &x) in row.iter().enumerate() {
                table.set(s, j, Mark::scored(None, Some(x))).unwrap();
            }
        }
        table
    }

    fn figures(table: &ResponseTable) -> ItemFigures {
        item_figures(table, &ShareTable::new(table, OmittedCounts::Nothing))
    }

    /// Bock & Lieberman 1970, Psychometrika 35: 1,000 answers to five items, as 32 patterns with counts.
    fn lsat6() -> ResponseTable {
        let text = include_str!("../../../../fixtures/published/lsat6_patterns.csv");
        let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
        let mut rows = Vec::new();
        for record in reader.records() {
            let values: Vec<f64> = record.unwrap().iter().map(|v| v.parse().unwrap()).collect();
            let (count, answers) = (values[6] as usize, values[1..6].to_vec());
            rows.extend(std::iter::repeat_n(answers, count));
        }
        table_of(&rows)
    }

    /// Reference: R psych 2.2.9 `alpha`, item.stats r.drop.
    #[test]
    fn lsat6_matches_published_values() {
        let table = lsat6();
        assert_eq!(table.n_students(), 1000);
        let f = figures(&table);
        assert!((f.reliability.unwrap() - 0.294_997_192).abs() < 1e-9);
        // The same program's SD 1.035041212 (n - 1) times the root of 1 - alpha.
        assert!((f.standard_error.unwrap() - 0.869_066_612).abs() < 1e-9);
        let p = [0.924, 0.709, 0.553, 0.763, 0.870];
        let r = [0.112_832_689, 0.153_178_120, 0.172_778_943, 0.144_428_095, 0.121_596_403];
        for j in 0..5 {
            assert!((f.difficulty[j].unwrap() - p[j]).abs() < 1e-12);
            assert!((f.discrimination[j].unwrap() - r[j]).abs() < 1e-9, "{j}: {:?}", f.discrimination[j]);
        }
    }

    /// With the item inside the total, item 1 of LSAT-6 would show .362010437; that is the usual mistake.
    #[test]
    fn discrimination_leaves_the_item_out_of_the_total() {
        assert!((figures(&lsat6()).discrimination[0].unwrap() - 0.362_010_437).abs() > 0.2);
    }

    #[test]
    fn a_constant_item_has_no_discrimination() {
        let f = figures(&table_of(&[vec![1.0, 0.0], vec![1.0, 1.0], vec![1.0, 1.0]]));
        assert_eq!(f.discrimination, vec![None, None]);
        assert_eq!(f.difficulty[0], Some(1.0));
    }

    #[test]
    fn one_item_or_one_student_has_no_reliability() {
        assert_eq!(figures(&table_of(&[vec![1.0], vec![0.0]])).reliability, None);
        assert_eq!(figures(&table_of(&[vec![1.0, 0.0]])).reliability, None);
    }

    #[test]
    fn odd_items_are_flagged_in_words() {
        let none = OptionsOfItem::default();
        assert_eq!(flag(0, None, None, &none), Some("nobody-took-it"));
        assert_eq!(flag(20, Some(1.0), None, &none), Some("everybody-right"));
        assert_eq!(flag(20, Some(0.3), Some(-0.2), &none), Some("missed-by-those-who-know-the-rest"));
        assert_eq!(flag(20, Some(0.3), Some(0.2), &none), None);
    }
}
