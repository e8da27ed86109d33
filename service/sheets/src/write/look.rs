//! A look of cells, and the number by which the file knows it.
//!
//! In:  formats, one after the other. Out: looks, numbered in the order in which they came; a format that came before keeps its
//! number. Each look has a twin that says its text is no formula (`only_text_that_looks_like_a_formula_is_quoted` in the tests
//! of this folder). Keeps: the number is the one that the writer gives the format, since it meets them in the same order
//! (`a_cell_names_the_format_of_its_look` in the tests of this folder). Not here: which looks there are (`looks`).

use rust_xlsxwriter::{ColNum, Format, Worksheet, XlsxError};

/// A format and what a cell says to have it.
#[derive(Debug, Clone)]
pub(super) struct Look {
    /// The format itself, for what the writer draws.
    pub format: Format,
    /// ` s="7"`.
    pub(super) mark: String,
    /// The same for a text that could be taken for a formula.
    pub(super) quoted_mark: String,
}

/// All formats of a workbook in order, the standard one before them.
#[derive(Debug, Default)]
pub(super) struct Formats {
    formats: Vec<Format>,
}

impl Formats {
    /// A look with this format.
    pub(super) fn look(&mut self, format: Format) -> Look {
        let mark = self.mark(&format);
        let quoted_mark = self.mark(&format.clone().set_quote_prefix());
        Look { format, mark, quoted_mark }
    }

    fn mark(&mut self, format: &Format) -> String {
        let place = self.formats.iter().position(|held| held == format).unwrap_or_else(|| {
            self.formats.push(format.clone());
            self.formats.len() - 1
        });
        format!(" s=\"{}\"", place + 1)
    }

    /// Shows the formats to the writer in their order, before it meets any of them elsewhere; the cells are thrown away later.
    pub(super) fn show(&self, frame: &mut Worksheet) -> Result<(), XlsxError> {
        for (col, format) in (0..).zip(&self.formats) {
            let col: ColNum = col;
            frame.write_blank(0, col, format)?;
        }
        Ok(())
    }
}
