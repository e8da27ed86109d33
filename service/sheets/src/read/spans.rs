//! Merged cells: their text stands in the first cell alone, and is read in each of them.
//!
//! In:  merged ranges and the rows as they pass. Out: the same rows, filled; the ranges that were filled.
//! Keeps: a title over the whole sheet stays one cell (`a_title_stays_one_cell`); only text is copied, never a number
//! (`a_merged_number_is_not_copied`); a heading over two rows or several columns stands in each of them
//! (`a_merged_heading_stands_in_each_cell`).
//! Not here: where the ranges come from (`xlsx`, `ods`).

use super::cell::{Cell, address};

/// Merged ranges looked at, and columns of one.
const MOST_SPANS: usize = 20_000;
const WIDEST: u32 = 1_000;

/// A merged range, 0-based, ends included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Span {
    pub first_row: u32,
    pub first_column: u32,
    pub last_row: u32,
    pub last_column: u32,
}

impl Span {
    /// As written: `C1:E1`.
    pub fn name(self) -> String {
        format!("{}:{}", address(self.first_row, self.first_column), address(self.last_row, self.last_column))
    }

    fn covers(self, column: u32) -> bool {
        (self.first_column..=self.last_column).contains(&column)
    }
}

/// Ranges that are filled as rows pass from top to bottom.
#[derive(Default)]
pub struct Spans {
    /// Not yet reached, the next one last.
    waiting: Vec<Span>,
    /// Reached and not yet passed, with the text of their first cell.
    open: Vec<(Span, String)>,
    /// Those that gave a cell its text.
    pub filled: Vec<String>,
}

impl Spans {
    pub fn new(mut spans: Vec<Span>) -> Self {
        spans.truncate(MOST_SPANS);
        spans.sort_unstable_by(|a, b| b.cmp(a));
        Spans { waiting: spans, ..Spans::default() }
    }

    /// Adds a range that begins in the row that comes next.
    pub fn add(&mut self, span: Span) {
        if self.waiting.len() < MOST_SPANS {
            let at = self.waiting.partition_point(|other| *other > span);
            self.waiting.insert(at, span);
        }
    }

    /// Fills one row; `cells` may come back in another order.
    pub fn fill(&mut self, row: u32, cells: &mut Vec<(u32, Cell<'_>)>) {
        self.open.retain(|(span, _)| span.last_row >= row);
        while let Some(span) = self.waiting.pop_if(|span| span.first_row <= row) {
            let anchor = cells.iter().find(|(column, _)| span.first_row == row && *column == span.first_column);
            if let Some((_, Cell::Text(text))) = anchor
                && span.last_column - span.first_column < WIDEST
            {
                self.open.push((span, text.clone().into_owned()));
            }
        }
        let n_own = cells.len();
        for (span, text) in &self.open {
            let stands_alone = cells[..n_own].iter().all(|(column, _)| span.covers(*column));
            if stands_alone {
                continue;
            }
            for column in span.first_column..=span.last_column {
                if !cells[..n_own].iter().any(|(c, _)| *c == column) {
                    cells.push((column, Cell::Text(text.clone().into())));
                    let name = span.name();
                    if self.filled.last() != Some(&name) && !self.filled.contains(&name) {
                        self.filled.push(name);
                    }
                }
            }
        }
        if cells.len() > n_own {
            cells.sort_by_key(|(column, _)| *column);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn span(first_row: u32, first_column: u32, last_row: u32, last_column: u32) -> Span {
        Span { first_row, first_column, last_row, last_column }
    }

    fn filled(spans: &mut Spans, row: u32, cells: &[(u32, &'static str)]) -> String {
        let mut cells: Vec<(u32, Cell<'_>)> = cells.iter().map(|(c, t)| (*c, Cell::Text((*t).into()))).collect();
        spans.fill(row, &mut cells);
        cells.iter().map(|(c, cell)| format!("{c}{}", cell.shown())).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn a_merged_heading_stands_in_each_cell() {
        let mut spans = Spans::new(vec![span(0, 2, 0, 4), span(0, 0, 1, 0)]);
        assert_eq!(filled(&mut spans, 0, &[(0, "id"), (2, "Unit")]), "0id 2Unit 3Unit 4Unit");
        assert_eq!(filled(&mut spans, 1, &[(2, "Q1"), (3, "Q2")]), "0id 2Q1 3Q2");
        assert_eq!(filled(&mut spans, 2, &[(2, "A")]), "2A");
        assert_eq!(spans.filled, ["C1:E1", "A1:A2"]);
    }

    #[test]
    fn a_title_stays_one_cell() {
        let mut spans = Spans::new(vec![span(0, 0, 0, 6)]);
        assert_eq!(filled(&mut spans, 0, &[(0, "Check of week 3")]), "0Check of week 3");
        assert!(spans.filled.is_empty());
    }

    #[test]
    fn a_merged_number_is_not_copied() {
        let mut spans = Spans::new(vec![span(0, 1, 0, 2)]);
        let number = Cell::Number { value: 1.0, zeros: 0, is_percent: false };
        let mut cells = vec![(0, Cell::Text("7".into())), (1, number)];
        spans.fill(0, &mut cells);
        assert_eq!(cells.len(), 2);
    }
}
