//! Paper: size, direction, margins, what stands over and under each page.
//!
//! Keeps: letter paper; print in black and white but for a sheet with pictures, which are black and grey (`frame`); `&` in a header
//! is doubled (`an_ampersand_in_a_header_is_doubled` in `text`);
//! staff pages carry `contains student information`, children's pages do not
//! (`staff_pages_say_what_they_contain`); pages are counted on paper (acceptance test `every_sheet_prints_as_a_teacher_expects`). A sheet with page breaks of its own is never scaled to fit, since a scaled
//! sheet may ignore its breaks. Not here: column widths, which are chosen to fit this paper.

use super::book::Book;
use super::sheet::{Sheet, Written};
use super::text::for_header;
use rust_xlsxwriter::XlsxError;

/// Letter, by its number in the file format.
const LETTER: u8 = 1;
/// Page breaks that one sheet may have.
pub(super) const MAX_BREAKS: usize = 1_023;

/// How a sheet lies on paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Paper {
    /// Upright, scaled to one page in all.
    UprightOnePage,
    /// On its side, scaled to one page in all.
    WideOnePage,
    /// On its side, scaled to one page wide.
    WideFit,
    /// On its side, printed at so many hundredths, with page breaks of its own.
    WideScaled(u16),
    /// On its side, as many pages wide as it takes.
    WideFree,
    /// Upright, at full size, with page breaks of its own.
    UprightBreaks,
}

/// Room between the margins of a page on its side, inches.
const WIDE_INCHES: f64 = 9.8;
/// Pixels of an inch on the screen, in which widths of columns are counted.
const PIXELS_PER_INCH: f64 = 96.0;

/// Hundredths of a page's width that are used: LibreOffice makes columns a twentieth wider than they are said to be.
const SPARING: f64 = 92.0;

/// The scale at which columns of these widths take one page across; never larger than life.
pub(super) fn scale_to_fit(widths: impl IntoIterator<Item = f64>) -> u16 {
    // Seven pixels a digit and five around them, as programs count for the font that the workbook names.
    let pixels: f64 = widths.into_iter().map(|digits| digits * 7.0 + 5.0).sum();
    (WIDE_INCHES * PIXELS_PER_INCH * SPARING / pixels.max(1.0)).floor().clamp(10.0, 100.0) as u16
}

/// Who reads the page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Reader {
    /// Staff: the page may name students.
    Staff,
    /// Children: the page says nothing about anybody.
    Child,
}

/// Sets a sheet up for print.
pub(super) fn set_up(sheet: &mut Sheet<'_>, book: &Book<'_>, paper: Paper, reader: Reader) -> Written {
    let inner = sheet.inner();
    inner.set_paper_size(LETTER).set_print_black_and_white(true).set_screen_gridlines(false);
    inner.set_margins(0.6, 0.6, 0.6, 0.6, 0.25, 0.25);
    match paper {
        Paper::UprightOnePage => inner.set_print_fit_to_pages(1, 1),
        Paper::WideOnePage => inner.set_landscape().set_print_fit_to_pages(1, 1),
        Paper::WideFit => inner.set_landscape().set_print_fit_to_pages(1, 0),
        Paper::WideScaled(hundredths) => inner.set_landscape().set_print_scale(hundredths),
        Paper::WideFree => inner.set_landscape(),
        Paper::UprightBreaks => inner,
    };
    let week = for_header(&book.week_words(), 60);
    match reader {
        Reader::Staff => {
            inner.set_header(format!("&L&A&R{week}"));
            inner.set_footer("&Lcontains student information&RPage &P of &N");
        }
        Reader::Child => {
            // No page number: it would count through everybody's tickets; each ticket's own pages are numbered on it.
            inner.set_footer(format!("&L&12{week}"));
        }
    }
    Ok::<(), XlsxError>(())
}
