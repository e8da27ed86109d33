//! `Exit tickets`: the children's pages, each ticket on paper of its own.
//!
//! Keeps: a page break before every ticket and between items that do not fit (`each_ticket_begins_a_page` in the
//! tests of this folder); a sheet may have 1,023 breaks, so more tickets go on `Exit tickets 2` and so on
//! (`more_tickets_than_page_breaks_go_on_a_second_sheet`); fractions are text. Not here: heights and pages
//! (`ticket_page`).

use super::book::Book;
use super::frame::{Filled, Maker};
use super::look::Look;
use super::looks::{Looks, Wrapping};
use super::page::{MAX_BREAKS, Paper, Reader, set_up};
use super::picture::Spot;
use super::sheet::{Sheet, Written, last_column};
use super::ticket_page::{GRID_COLUMNS, Line, PICTURE_LABEL, Page, PicturesAs, ROW_POINTS, lay_out};
use rust_xlsxwriter::{ColNum, RowNum, XlsxError};
use sheaf_core::tickets::TicketOption;
use std::iter::Peekable;

/// Number, text, three columns: seven inches at full size, so that letter and A4 both hold them.
const WIDTHS: [f64; 5] = [5.0, 34.0, 16.0, 16.0, 16.0];
const LAST: ColNum = 4;
/// Width of the first column, points: seven pixels a digit and five around them.
const FIRST_POINTS: f64 = (5.0 * 7.0 + 5.0) * 0.75;
/// Pictures that a workbook may have as shapes; each is some kilobytes, held until the end.
const MAX_PICTURES: usize = 2_000;

/// Writes one sheet, or as many as the page breaks need.
pub(super) fn write_all(maker: &Maker, name: &str, book: &Book<'_>, looks: &Looks) -> Result<Vec<Filled>, XlsxError> {
    let mut filled = Vec::new();
    let items = book.plan.tickets.iter().flat_map(|t| &t.items);
    let pictures = if items.filter(|i| i.drawing.is_some()).count() > MAX_PICTURES {
        PicturesAs::Words
    } else {
        PicturesAs::Shapes
    };
    let mut tickets = book.plan.tickets.iter().map(|ticket| lay_out(ticket, pictures)).peekable();
    for number in 1_usize.. {
        let sheet_name = if number == 1 { name.to_owned() } else { format!("{name} {number}") };
        filled.push(maker.sheet(&sheet_name, |sheet| fill(sheet, book, &mut tickets, looks))?);
        if tickets.peek().is_none() {
            break;
        }
    }
    Ok(filled)
}

fn fill<'t>(
    sheet: &mut Sheet<'_>,
    book: &Book<'_>,
    tickets: &mut Peekable<impl Iterator<Item = Vec<Page<'t>>>>,
    looks: &Looks,
) -> Written {
    set_up(sheet, book, Paper::UprightBreaks, Reader::Child)?;
    sheet.widths(WIDTHS)?;
    sheet.usual_height(ROW_POINTS);
    if tickets.peek().is_none() {
        return sheet.title(
            "Exit tickets",
            "No tickets this week: there are no groups, or no items for their targets.",
            looks,
        );
    }
    let mut starts: Vec<RowNum> = Vec::new();
    let mut above = 0.0;
    while let Some(pages) = tickets.next_if(|pages| starts.is_empty() || has_room(sheet, &starts, pages)) {
        for page in &pages {
            starts.push(sheet.row());
            for (line, points) in page {
                if *points > ROW_POINTS {
                    sheet.height(*points);
                }
                draw(sheet, line, (above, *points), looks)?;
                sheet.next()?;
                above += points;
            }
        }
    }
    let last_row = sheet.row() - 1;
    let inner = sheet.inner();
    inner.set_page_breaks(starts.get(1..).unwrap_or_default())?;
    inner.set_print_area(0, 0, last_row, LAST)?;
    sheet.keep_digits_as_text(LAST)
}

fn has_room(sheet: &Sheet<'_>, starts: &[RowNum], pages: &[Page<'_>]) -> bool {
    let n_rows = pages.iter().map(Vec::len).sum::<usize>();
    starts.len() + pages.len() <= MAX_BREAKS && !sheet.is_full(RowNum::try_from(n_rows).unwrap_or(RowNum::MAX / 2))
}

/// Writes a line whose row begins so far below the top of the sheet and is so high, points.
fn draw(sheet: &mut Sheet<'_>, line: &Line<'_>, (above, points): (f64, f64), looks: &Looks) -> Written {
    let look = &looks.ticket;
    match line {
        Line::Heading(code, page) => {
            sheet.text(0, "Exit ticket", &look.heading);
            sheet.text(LAST, &format!("{code} · {page}"), &look.code);
        }
        Line::Continued(code, page) => {
            sheet.text(0, "Name", &look.line);
            blanks(sheet, 1, 2, &look.line);
            sheet.text(LAST, &format!("{code} · {page}"), &look.code);
        }
        Line::NameAndDate => name_and_date(sheet, looks),
        Line::Stem(number, text) => {
            sheet.text(0, number, &look.number);
            across(sheet, text, points, &look.stem)?;
        }
        Line::Picture(text) => across(sheet, &format!("{PICTURE_LABEL}{text}"), points, &look.picture)?,
        Line::Hint(text) => sheet.text(1, text, &look.hint),
        Line::Option(option) => {
            sheet.text(0, &option.label, &look.letter);
            across(sheet, &option.text, points, &look.long_option)?;
        }
        Line::Options(first, second) => two_options(sheet, first, *second, looks),
        Line::GridHead(columns) => grid_head(sheet, columns, looks),
        Line::GridRow(text, n_boxes) => grid_row(sheet, text, *n_boxes, looks),
        Line::WriteIn(text) => {
            sheet.text(1, text, &look.grid_text);
            blanks(sheet, 2, LAST, &look.line);
        }
        Line::Answer => {
            sheet.text(1, "Answer", &look.label);
            blanks(sheet, 2, 3, &look.line);
        }
        Line::Drawn(drawing, alternative, scale) => {
            let spot = Spot { row: sheet.row(), col: 1, from_origin: (FIRST_POINTS, above), scale: *scale };
            sheet.pictures().add(spot, drawing, alternative);
        }
        Line::Room => {}
    }
    Ok(())
}

fn name_and_date(sheet: &mut Sheet<'_>, looks: &Looks) {
    let line = &looks.ticket.line;
    sheet.text(0, "Name", line);
    blanks(sheet, 1, 2, line);
    sheet.text(3, "Date", line);
    blanks(sheet, 4, LAST, line);
}

fn two_options(sheet: &mut Sheet<'_>, first: &TicketOption, second: Option<&TicketOption>, looks: &Looks) {
    let look = &looks.ticket;
    sheet.text(0, &first.label, &look.letter);
    sheet.text(1, &first.text, &look.option);
    if let Some(second) = second {
        sheet.text(2, &second.label, &look.letter);
        sheet.text(3, &second.text, &look.option);
    }
}

fn grid_head(sheet: &mut Sheet<'_>, columns: &[String], looks: &Looks) {
    sheet.blank(1, &looks.ticket.grid_head);
    for (idx, text) in columns.iter().take(GRID_COLUMNS).enumerate() {
        sheet.text(last_column(idx + 3), text, &looks.ticket.grid_head);
    }
}

fn grid_row(sheet: &mut Sheet<'_>, text: &str, n_boxes: usize, looks: &Looks) {
    sheet.text(1, text, &looks.ticket.grid_text);
    for idx in 0..n_boxes.min(GRID_COLUMNS) {
        sheet.blank(last_column(idx + 3), &looks.ticket.grid_box);
    }
}

fn blanks(sheet: &mut Sheet<'_>, first: ColNum, last: ColNum, look: &Look) {
    (first..=last).for_each(|col| sheet.blank(col, look));
}

/// A text over everything right of the number: one line runs on over its empty neighbours, several need joined cells.
fn across(sheet: &mut Sheet<'_>, text: &str, points: f64, look: &Wrapping) -> Written {
    if points > ROW_POINTS {
        return sheet.merged(1, LAST, text, &look.several);
    }
    sheet.text(1, text, &look.one);
    Ok(())
}
