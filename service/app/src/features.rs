//! Grouping the rows of any table of numbers.
//!
//! In:  CSV bytes: a header row, an id column, numbers. Out: rows in order of id, and their groups.
//! Keeps: an id twice, a cell that is not a finite number and a ragged row are errors with their cell
//! (`a_cell_that_is_no_number_is_named`).

use crate::error::{AppError, ErrorKind};
use sheaf_core::numeric::{ClusterError, Clustering, cluster_within_sizes};
use sheaf_core::numeric_table;
use sheaf_sheets::read::SourceFile;

/// A table of numbers with an id a row, in order of id.
#[derive(Debug, Clone, PartialEq)]
pub struct FeatureTable {
    /// Ids.
    pub ids: Vec<String>,
    /// Numbers, row by row.
    pub values: Vec<f64>,
    /// Columns of numbers.
    pub n_columns: usize,
}

/// Reads a table.
///
/// # Errors
/// [`AppError`] of kind input, with the cell.
pub fn read_features(source: SourceFile<'_>) -> Result<FeatureTable, AppError> {
    let fault = |what: String| AppError::new(ErrorKind::Input, "table-mistake", format!("{}: {what}.", source.name));
    let text =
        std::str::from_utf8(source.bytes).map_err(|_| fault("it is not a UTF-8 text; save it as CSV UTF-8".into()))?;
    let text = text.trim_start_matches('\u{feff}');
    let mut lines = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
    let n_columns = lines.headers().map_err(|e| fault(e.to_string()))?.len().saturating_sub(1);
    let mut rows: Vec<(String, Vec<f64>)> = Vec::new();
    for record in lines.records() {
        let record = record.map_err(|e| fault(e.to_string()))?;
        let row = || row_at(text, record.position().map_or(0, csv::Position::byte));
        if record.iter().all(|c| c.trim().is_empty()) {
            continue;
        }
        if record.len() != n_columns + 1 {
            return Err(fault(format!("row {} has {} cells, the header {}", row(), record.len(), n_columns + 1)));
        }
        let numbers: Result<Vec<f64>, AppError> = record
            .iter()
            .enumerate()
            .skip(1)
            .map(|(c, cell)| {
                cell.trim().parse::<f64>().ok().filter(|x| x.is_finite()).ok_or_else(|| {
                    fault(format!("row {}, column {} holds {cell:?}, which is not a number", row(), c + 1))
                })
            })
            .collect();
        rows.push((record.get(0).unwrap_or_default().trim().to_owned(), numbers?));
    }
    rows.sort_by(|a, b| a.0.cmp(&b.0));
    if let Some(pair) = rows.windows(2).find(|w| w[0].0 == w[1].0) {
        return Err(fault(format!("the id {} is there twice; give each row its own", pair[0].0)));
    }
    let (ids, numbers): (Vec<String>, Vec<Vec<f64>>) = rows.into_iter().unzip();
    Ok(FeatureTable { ids, values: numbers.concat(), n_columns })
}

/// The row of the file, 1-based, of the record that is read from this byte on; blank lines before it are no records.
fn row_at(text: &str, byte: u64) -> usize {
    let bytes = text.as_bytes();
    let from = usize::try_from(byte).unwrap_or(bytes.len()).min(bytes.len());
    let n_blank = bytes[from..].iter().take_while(|b| matches!(b, b'\r' | b'\n')).count();
    bytes[..from + n_blank].iter().filter(|b| **b == b'\n').count() + 1
}

/// Groups the rows of a table within sizes.
///
/// # Errors
/// [`AppError`]: kind input for an empty table, no-plan where the sizes cannot hold the rows.
pub fn cluster_features(
    table: &FeatureTable,
    n_groups: usize,
    min_size: usize,
    max_size: usize,
    seed: u64,
) -> Result<Clustering, AppError> {
    let rows = numeric_table(&table.values, table.ids.len(), table.n_columns)
        .ok_or_else(|| AppError::our_fault("the table lost its shape"))?;
    cluster_within_sizes(rows, n_groups, min_size, max_size, seed).map_err(|e| match e {
        ClusterError::Sizes { .. } => AppError::new(ErrorKind::NoPlan, "sizes-do-not-fit", format!("{e}.")),
        ClusterError::Table(_) => AppError::new(ErrorKind::Input, "table-mistake", format!("{e}.")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<FeatureTable, AppError> {
        read_features(SourceFile { name: "f.csv", bytes: text.as_bytes() })
    }

    #[test]
    fn rows_come_in_order_of_id() {
        let table = read("id,x\n2,5\n1,4\n").unwrap();
        assert_eq!((table.ids, table.values), (vec!["1".to_owned(), "2".to_owned()], vec![4.0, 5.0]));
    }

    #[test]
    fn a_cell_that_is_no_number_is_named() {
        assert_eq!(
            read("id,x,y\n1,4,nan\n").unwrap_err().message,
            "f.csv: row 2, column 3 holds \"nan\", which is not a number."
        );
        assert!(read("id,x\n1,4,5\n").unwrap_err().message.contains("row 2 has 3 cells"));
        assert!(read("id,x\n1,4\n\n2,b\n").unwrap_err().message.contains("row 4, column 2"), "blank lines count");
        assert!(read("id,x\n1,4\n1,5\n").unwrap_err().message.contains("1 is there twice"));
    }

    #[test]
    fn sizes_that_cannot_hold_are_no_plan() {
        let table = read("id,x\n1,4\n2,5\n3,9\n").unwrap();
        assert_eq!(cluster_features(&table, 2, 2, 2, 1).unwrap_err().kind, ErrorKind::NoPlan);
        assert_eq!(cluster_features(&table, 2, 1, 2, 1).unwrap().sizes, vec![2, 1]);
    }
}
