//! One sheet while it is written: a row at a time, top to bottom, never back.
//!
//! In:  texts, numbers and looks for the current row; [`Sheet::next`] closes the row.
//! Keeps: rows are written in order, so that a sheet of 20,000 students goes straight to disk; text is cleaned on
//! the way in and never a formula (`nasty_names_stay_text` in the tests of this folder); no row passes the last row
//! of the format ([`Sheet::is_full`]). Not here: paper (`page`), looks (`looks`), the rows' XML (`rows`).

use super::look::Look;
use super::looks::{GREY_FILL, Looks};
use super::picture::Pictures;
use super::rows::{RowWriter, SheetRows};
use super::text;
use rust_xlsxwriter::{
    ColNum, ConditionalFormatCell, ConditionalFormatCellRule, Format, IgnoreError, RowNum, Table, TableColumn,
    TableStyle, Url, Worksheet, XlsxError,
};
use std::collections::HashSet;

/// Rows that a sheet may have.
pub(super) const MAX_ROWS: RowNum = 1_048_576;
/// Columns that a sheet may have.
pub(super) const MAX_COLUMNS: usize = 16_384;

/// Longest name of a table's column, bytes; programs count signs, of which no text has more.
const MAX_TITLE: usize = 255;

/// What writing gives.
pub(super) type Written = Result<(), XlsxError>;

/// A column of a table: what stands over it and how wide it is, in digits of the standard font.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Header text.
    pub title: &'static str,
    /// Width.
    pub width: f64,
}

/// Shorthand for a [`Column`].
pub(super) const fn column(title: &'static str, width: f64) -> Column {
    Column { title, width }
}

/// Cells side by side that show one text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Span {
    /// First column.
    pub first: ColNum,
    /// Last column.
    pub last: ColNum,
    /// Digits of the text's own size that fit on one line; the height of the row follows from it.
    pub digits: usize,
    /// Height of one line, points.
    pub line_points: f64,
}

/// Tenths of a digit that a line holds for each digit of a column's width: a column is measured in digits of whole pixels,
/// which paper does not have (94 of 100), and bold type is wider by a fortieth.
const TENTHS_PER_DIGIT: f64 = 9.2;
/// Tenths of a digit that a byte of text takes, rarely more: shorter texts need no measuring.
const TENTHS_PER_BYTE: usize = 13;
/// Height of one line of 11-point type, points.
pub(super) const TABLE_LINE: f64 = 15.0;

/// Whether rows grow with the text in their cells.
///
/// Told to the file, since not every program does it by itself when it opens one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Rows {
    /// As high as one line, or as [`Sheet::height`] says.
    Fixed,
    /// As high as the cell with most lines; points a line.
    Fitted(f64),
}

/// A sheet and the row it has come to.
pub(super) struct Sheet<'w> {
    /// All of the sheet but its rows.
    inner: &'w mut Worksheet,
    lines: RowWriter,
    rows: Rows,
    /// Tenths of a digit of 11-point type that a line of each column holds.
    line_widths: Vec<f64>,
    /// Lines of the tallest cell so far in this row.
    tallest: usize,
    /// Lines of a row whose height the file does not tell.
    usual_lines: usize,
    /// What stands in the header row of the sheet's table.
    titles: Vec<String>,
    /// First and last row and last column of a list that is no table.
    list: Option<(RowNum, RowNum, ColNum)>,
    /// What the sheet's table is called.
    table_name: String,
    /// Pictures drawn as shapes.
    pictures: Pictures,
}

impl<'w> Sheet<'w> {
    /// Starts at the top; the sheet's table, if it gets one, is called so.
    pub(super) fn new(inner: &'w mut Worksheet, table_name: String) -> Self {
        Sheet {
            inner,
            lines: RowWriter::new(),
            rows: Rows::Fixed,
            line_widths: Vec::new(),
            tallest: 1,
            usual_lines: 1,
            titles: Vec::new(),
            list: None,
            table_name,
            pictures: Pictures::default(),
        }
    }

    /// First and last row and last column of a list that is no table, its header among them.
    pub(super) fn list(&self) -> Option<(RowNum, RowNum, ColNum)> {
        self.list
    }

    /// The current row, from 0.
    pub(super) fn row(&self) -> RowNum {
        self.lines.row()
    }

    /// Ends the last row and gives all of them.
    pub(super) fn finish(self) -> Result<SheetRows, XlsxError> {
        Ok(self.lines.finish()?)
    }

    /// Pictures drawn as shapes.
    pub(super) fn pictures(&mut self) -> &mut Pictures {
        &mut self.pictures
    }

    /// The sheet itself, for what is not a row.
    pub(super) fn inner(&mut self) -> &mut Worksheet {
        self.inner
    }

    /// Whether fewer than `reserve` rows are left.
    pub(super) fn is_full(&self, reserve: RowNum) -> bool {
        self.row() + reserve >= MAX_ROWS
    }

    /// Goes to the next row, once the height of this one is known.
    pub(super) fn next(&mut self) -> Written {
        if let Rows::Fitted(points) = self.rows
            && self.tallest > self.usual_lines
        {
            self.height(height_of(self.tallest, points));
        }
        self.tallest = 1;
        self.lines.next()?;
        Ok(())
    }

    /// Rows of so many lines need no height of their own: what most rows of a long table have.
    pub(super) fn usual_lines(&mut self, n_lines: usize) {
        self.usual_lines = n_lines;
        self.usual_height(height_of(n_lines, TABLE_LINE));
    }

    /// Height of rows that say nothing else, points.
    pub(super) fn usual_height(&mut self, points: f64) {
        self.inner.set_default_row_height(points);
        self.lines.set_usual_height(points);
    }

    /// How high the rows from here on are.
    pub(super) fn rows(&mut self, rows: Rows) {
        self.rows = rows;
    }

    /// Height of the current row.
    pub(super) fn height(&mut self, points: f64) {
        self.lines.set_height(points.min(409.0));
    }

    /// A text, always a text.
    pub(super) fn text(&mut self, col: ColNum, shown: &str, look: &Look) {
        let shown = text::clean(shown);
        if let Rows::Fitted(points) = self.rows {
            self.measure(col, &shown, points);
        }
        let mark = if text::looks_like_formula(&shown) { &look.quoted_mark } else { &look.mark };
        self.lines.text(col, &shown, mark);
    }

    fn measure(&mut self, col: ColNum, shown: &str, line_points: f64) {
        let Some(line) = self.line_widths.get(usize::from(col)) else { return };
        // Larger type, fewer letters.
        let line = (line * TABLE_LINE / line_points) as usize;
        if shown.len() * TENTHS_PER_BYTE > line || shown.contains('\n') {
            self.tallest = self.tallest.max(text::lines(shown, line));
        }
    }

    /// A number.
    pub(super) fn number(&mut self, col: ColNum, value: f64, look: &Look) {
        self.lines.number(col, value, look);
    }

    /// An empty cell with a look.
    pub(super) fn blank(&mut self, col: ColNum, look: &Look) {
        self.lines.text(col, "", &look.mark);
    }

    /// A text over several columns, the row as high as the text needs.
    pub(super) fn spanned(&mut self, span: Span, shown: &str, look: &Look) -> Written {
        let n_lines = text::lines(&text::clean(shown), span.digits * 10) as f64;
        self.height(n_lines * span.line_points + 3.0);
        self.merged(span.first, span.last, shown, look)
    }

    /// A text over several columns, the height of the row as it is.
    pub(super) fn merged(&mut self, first: ColNum, last: ColNum, shown: &str, look: &Look) -> Written {
        if first < last {
            let row = self.row();
            self.inner.merge_range(row, first, row, last, "", &look.format)?;
            (first + 1..=last).for_each(|col| self.blank(col, look));
        }
        self.text(first, shown, look);
        Ok(())
    }

    /// A link to another sheet of this workbook.
    pub(super) fn link(&mut self, col: ColNum, sheet_name: &str, look: &Look) -> Written {
        self.link_to_cell(col, sheet_name, "A1", sheet_name, look)
    }

    /// A text that leads to a cell of a sheet in this workbook.
    pub(super) fn link_to_cell(
        &mut self,
        col: ColNum,
        sheet_name: &str,
        cell: &str,
        shown: &str,
        look: &Look,
    ) -> Written {
        let url = Url::new(format!("internal:'{}'!{cell}", sheet_name.replace('\'', "''"))).set_text(shown);
        self.inner.write_url_with_format(self.row(), col, url, &look.format)?;
        self.text(col, shown, look);
        Ok(())
    }

    /// The sheet's name in large type, with a line under it that says what the sheet is for.
    pub(super) fn title(&mut self, title: &str, purpose: &str, looks: &Looks) -> Written {
        self.height(26.0);
        self.text(0, title, &looks.title);
        self.next()?;
        self.line(purpose, looks)
    }

    /// A line of explanation over a table.
    pub(super) fn line(&mut self, text: &str, looks: &Looks) -> Written {
        self.height(TABLE_LINE);
        self.text(0, text, &looks.note);
        self.next()
    }

    /// A line of explanation, on several lines of so many columns where it is too long for one: what runs on past the last
    /// printed column is cut on paper.
    pub(super) fn long_line(&mut self, shown: &str, n_columns: usize, looks: &Looks) -> Written {
        let tenths = self.line_widths.iter().take(n_columns).sum::<f64>() as usize;
        if text::width(&text::clean(shown)) <= tenths {
            return self.line(shown, looks);
        }
        let span = Span { first: 0, last: last_column(n_columns), digits: tenths / 10, line_points: TABLE_LINE };
        self.spanned(span, shown, &looks.paragraph)?;
        self.next()
    }

    /// Column widths.
    pub(super) fn widths(&mut self, widths: impl IntoIterator<Item = f64>) -> Written {
        for (col, width) in (0..).zip(widths) {
            self.inner.set_column_width(col, width)?;
            self.line_widths.push(width * TENTHS_PER_DIGIT);
        }
        Ok(())
    }

    /// The header row of a table; its rows grow with their text.
    pub(super) fn header<'t>(&mut self, titles: impl IntoIterator<Item = &'t str>, looks: &Looks) -> Written {
        self.rows(Rows::Fitted(TABLE_LINE));
        self.titles.clear();
        for (col, title) in (0..).zip(titles) {
            self.text(col, title, &looks.header);
            self.titles.push(text::clean(title).into_owned());
        }
        self.next()
    }

    /// Makes the rows under the header a table of the spreadsheet program, which sorts, filters and grows with what is typed under
    /// it. Without a row, or where two columns are headed alike, no program would take it for one: a filter is all it gets.
    pub(super) fn table(&mut self, header_row: RowNum, last_row: RowNum, last_col: ColNum) -> Written {
        let titles = self.titles.get(..=usize::from(last_col)).unwrap_or_default();
        let mut seen = HashSet::new();
        let are_names = titles.iter().all(|t| (1..=MAX_TITLE).contains(&t.len()) && seen.insert(t.to_lowercase()));
        if titles.is_empty() || !are_names || last_row <= header_row {
            self.list = Some((header_row, last_row, last_col));
            self.inner.autofilter(header_row, 0, last_row, last_col)?;
            return Ok(());
        }
        let columns: Vec<TableColumn> = titles.iter().map(|t| TableColumn::new().set_header(t)).collect();
        // Looks are those of the cells: a copier keeps no bands.
        let table = Table::new().set_name(&self.table_name).set_columns(&columns).set_style(TableStyle::None);
        self.inner.add_table(header_row, 0, last_row, last_col, &table.set_banded_rows(false))?;
        Ok(())
    }

    /// Ends a table whose header stands in `header_row`: table, frozen panes, repeated header, no marks on ids.
    pub(super) fn end_table(&mut self, header_row: RowNum, n_columns: usize, frozen_columns: ColNum) -> Written {
        self.rows(Rows::Fixed);
        let last_row = self.row().saturating_sub(1).max(header_row);
        let last_col = last_column(n_columns);
        self.table(header_row, last_row, last_col)?;
        self.inner.set_freeze_panes(header_row + 1, frozen_columns)?;
        self.inner.set_repeat_rows(header_row, header_row)?;
        self.inner.set_print_area(0, 0, last_row, last_col)?;
        self.keep_digits_as_text(last_col)
    }

    /// From `first_row` to the row before this one, cells in which somebody types `absent` turn grey and slanted.
    pub(super) fn stand_back(&mut self, first_row: RowNum, first_col: ColNum, last_col: ColNum) -> Written {
        let last_row = self.row().saturating_sub(1).max(first_row);
        let rule = ConditionalFormatCell::new()
            .set_rule(ConditionalFormatCellRule::EqualTo("absent"))
            .set_format(Format::new().set_background_color(GREY_FILL).set_italic());
        self.inner.add_conditional_format(first_row, first_col, last_row, last_col, &rule)?;
        Ok(())
    }

    /// Ids such as `0417` are text on purpose: no warning corner on them.
    pub(super) fn keep_digits_as_text(&mut self, last_col: ColNum) -> Written {
        self.inner.ignore_error_range(0, 0, MAX_ROWS - 1, last_col, IgnoreError::NumberStoredAsText)?;
        Ok(())
    }
}

fn height_of(n_lines: usize, line_points: f64) -> f64 {
    n_lines as f64 * (line_points - 0.5) + 1.5
}

/// Index of the last of so many columns.
pub(super) fn last_column(n_columns: usize) -> ColNum {
    ColNum::try_from(n_columns.clamp(1, MAX_COLUMNS) - 1).unwrap_or(ColNum::MAX)
}
