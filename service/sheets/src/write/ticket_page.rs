//! A ticket as lines on pages, before anything is written.
//!
//! In:  a ticket. Out: pages of lines, each with its height in points; an item never breaks across two pages
//! (`an_item_stays_on_one_page`); every page has a line for the name and says whose ticket it belongs to, since a
//! copier parts them (`every_page_carries_the_name_and_the_form_code`). Keeps: a child reads no score, code of an idea,
//! skill or group; only the form code stands there, small; five items take at most the two sides of a sheet
//! (`a_ticket_gives_up_room_before_it_takes_a_second_sheet`). Not here: cells (`exit_tickets`), keys (`answer_keys`).

use super::text;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Ticket, TicketItem, TicketOption};

/// Height that a page has for lines, points: letter paper less its margins, and a little to spare.
const PAGE_POINTS: f64 = 700.0;
/// Height of a row with one line of 16-point type: the sheet's usual height, which costs no room in the file.
pub(super) const ROW_POINTS: f64 = 24.0;
/// Height of each line where a text takes several.
const LINE_POINTS: f64 = 21.0;
/// Height of a line to write a name on.
const NAME_POINTS: f64 = 38.0;
/// Empty rows under an item that asks for a calculation: more than 1.2 inches, less where a ticket would else not
/// fit on the two sides of a sheet.
const ROOM_ROWS: [usize; 4] = [4, 3, 2, 1];
/// Sides of a sheet.
const SIDES: usize = 2;
/// Empty rows under an item that is answered by marks alone.
const GAP_ROWS: usize = 2;
/// Room beside the item number, in tenths of a digit of 16-point type, as all the widths below.
const WIDE: usize = 550;
/// Room in the first column of a grid.
const GRID_TEXT: usize = 210;
/// Room in a column to tick.
const GRID_HEAD: usize = 100;
/// Widest option that stands beside another.
const SHORT_OPTION: usize = 205;
/// Stands before a picture that is told in words.
pub(super) const PICTURE_LABEL: &str = "Picture in words: ";
/// Columns to tick that a page has.
pub(super) const GRID_COLUMNS: usize = 3;

/// What a line holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Line<'t> {
    /// Heading, form code and which page of how many.
    Heading(&'t str, PageOf),
    /// On a further page: where the child writes a name, then as on the first.
    Continued(&'t str, PageOf),
    /// Where the child writes a name and the date.
    NameAndDate,
    /// Item number and what is asked.
    Stem(String, &'t str),
    /// Text alternative of a picture.
    Picture(&'t str),
    /// What to do.
    Hint(String),
    /// An option over the whole width.
    Option(&'t TicketOption),
    /// Two short options side by side.
    Options(&'t TicketOption, Option<&'t TicketOption>),
    /// Heads of the columns to tick.
    GridHead(&'t [String]),
    /// A row of a grid and its boxes.
    GridRow(&'t str, usize),
    /// A row of a grid too wide to tick: a line to write on.
    WriteIn(&'t str),
    /// `Answer` and a line to write on.
    Answer,
    /// Empty room.
    Room,
}

/// Which page of a ticket, from 1, of how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) struct PageOf {
    /// This page.
    pub number: usize,
    /// All pages.
    pub n_pages: usize,
}

impl std::fmt::Display for PageOf {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "page {} of {}", self.number, self.n_pages)
    }
}

/// A line and its height in points.
pub(super) type Measured<'t> = (Line<'t>, f64);
/// Lines of one page.
pub(super) type Page<'t> = Vec<Measured<'t>>;

/// A ticket as pages.
pub(super) fn lay_out(ticket: &Ticket) -> Vec<Page<'_>> {
    let tries = ROOM_ROWS.map(|n_rows| lay_out_with(ticket, n_rows));
    let fitting = tries.iter().position(|pages| pages.len() <= SIDES).unwrap_or(0);
    tries.into_iter().nth(fitting).unwrap_or_default()
}

fn lay_out_with(ticket: &Ticket, n_room_rows: usize) -> Vec<Page<'_>> {
    let code = &ticket.form_code;
    let mut page = vec![row(Line::Heading(code, PageOf::default())), (Line::NameAndDate, NAME_POINTS), row(Line::Room)];
    let mut pages = Vec::new();
    let mut n_top = page.len();
    for item in &ticket.items {
        let block = block_of(item);
        if height(&page) + height(&block) > PAGE_POINTS && page.len() > n_top {
            let next = vec![(Line::Continued(code, PageOf::default()), NAME_POINTS), row(Line::Room)];
            n_top = next.len();
            pages.push(std::mem::replace(&mut page, next));
        }
        page.extend(block);
        let n_rows = room_under(item.kind, n_room_rows);
        let n_fitting = ((PAGE_POINTS - height(&page)).max(0.0) / ROW_POINTS) as usize;
        page.extend(std::iter::repeat_n(row(Line::Room), n_rows.min(n_fitting)));
    }
    pages.push(page);
    number(&mut pages);
    pages
}

fn number(pages: &mut [Page<'_>]) {
    let n_pages = pages.len();
    for (idx, page) in pages.iter_mut().enumerate() {
        if let Some((Line::Heading(_, of) | Line::Continued(_, of), _)) = page.first_mut() {
            *of = PageOf { number: idx + 1, n_pages };
        }
    }
}

fn height(lines: &[Measured<'_>]) -> f64 {
    lines.iter().map(|(_, points)| points).sum()
}

/// Lines of one item, without the room under it.
fn block_of(item: &TicketItem) -> Page<'_> {
    let mut block = Vec::new();
    if item.parts.is_empty() {
        asked(&mut block, format!("{}.", item.number), item);
    } else {
        if !item.stem.trim().is_empty() {
            stem(&mut block, format!("{}.", item.number), item);
        }
        for (part, letter) in item.parts.iter().zip('A'..='Z') {
            block.push(row(Line::Hint(format!("Part {letter}"))));
            asked(&mut block, String::new(), part);
        }
    }
    block
}

fn room_under(kind: ItemKind, n_room_rows: usize) -> usize {
    match kind {
        ItemKind::Choice | ItemKind::Numeric => n_room_rows,
        ItemKind::MultiSelect | ItemKind::Match | ItemKind::TwoPart => GAP_ROWS.min(n_room_rows),
    }
}

/// A line of the usual height.
fn row(line: Line<'_>) -> Measured<'_> {
    (line, ROW_POINTS)
}

fn asked<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem) {
    stem(block, number, item);
    match item.kind {
        ItemKind::Numeric => block.extend([row(Line::Room), row(Line::Answer)]),
        ItemKind::Match => grid(block, item),
        ItemKind::MultiSelect => {
            block.push(row(Line::Hint("Ring every right answer.".to_owned())));
            options(block, &item.options);
        }
        ItemKind::Choice | ItemKind::TwoPart => options(block, &item.options),
    }
}

fn stem<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem) {
    block.push((Line::Stem(number, &item.stem), wrapped(&item.stem, WIDE)));
    if let Some(picture) = item.picture.as_deref().filter(|text| !text.is_empty()) {
        block.push((Line::Picture(picture), wrapped(&format!("{PICTURE_LABEL}{picture}"), WIDE)));
    }
}

fn wrapped(shown: &str, line: usize) -> f64 {
    match text::lines(shown, line) {
        1 => ROW_POINTS,
        n_lines => n_lines as f64 * LINE_POINTS + 4.0,
    }
}

fn options<'t>(block: &mut Page<'t>, options: &'t [TicketOption]) {
    if options.iter().all(|o| text::width(&o.text) <= SHORT_OPTION) {
        for pair in options.chunks(2) {
            if let [first, rest @ ..] = pair {
                block.push(row(Line::Options(first, rest.first())));
            }
        }
    } else {
        block.extend(options.iter().map(|o| (Line::Option(o), wrapped(&o.text, WIDE))));
    }
}

fn grid<'t>(block: &mut Page<'t>, item: &'t TicketItem) {
    if item.columns.len() > GRID_COLUMNS {
        block.push(row(Line::Hint(format!("Write one of: {}", item.columns.join(", ")))));
        block.extend(item.rows.iter().map(|r| (Line::WriteIn(&r.text), wrapped(&r.text, GRID_TEXT))));
        return;
    }
    block.push(row(Line::Hint("Tick one box in each row.".to_owned())));
    let head = item.columns.iter().map(|c| wrapped(c, GRID_HEAD)).fold(ROW_POINTS, f64::max);
    block.push((Line::GridHead(&item.columns), head));
    let n_boxes = item.columns.len();
    block.extend(item.rows.iter().map(|r| (Line::GridRow(&r.text, n_boxes), wrapped(&r.text, GRID_TEXT))));
}

#[cfg(test)]
mod tests {
    use super::super::sample;
    use super::*;

    #[test]
    fn an_item_stays_on_one_page() {
        let plan = sample::plan();
        let mut ticket = plan.tickets[0].clone();
        let item = ticket.items[0].clone();
        ticket.items = vec![item; 9];
        let pages = lay_out(&ticket);
        assert!(pages.len() > 1);
        for page in &pages {
            assert!(height(page) <= PAGE_POINTS);
            assert!(!matches!(page.last(), Some((Line::Stem(..) | Line::Hint(_), _))), "an item is torn");
        }
        let n_stems = pages.iter().flatten().filter(|(line, _)| matches!(line, Line::Stem(..))).count();
        assert_eq!(n_stems, 9);
    }

    #[test]
    fn every_page_carries_the_name_and_the_form_code() {
        let mut ticket = sample::plan().tickets[0].clone();
        ticket.items = vec![ticket.items[0].clone(); 9];
        let pages = lay_out(&ticket);
        for (idx, page) in pages.iter().enumerate() {
            let of = PageOf { number: idx + 1, n_pages: pages.len() };
            if idx == 0 {
                assert_eq!([&page[0].0, &page[1].0], [&Line::Heading(&ticket.form_code, of), &Line::NameAndDate]);
            } else {
                assert_eq!(page[0].0, Line::Continued(&ticket.form_code, of));
            }
        }
        assert_eq!(PageOf { number: 1, n_pages: 2 }.to_string(), "page 1 of 2");
    }

    #[test]
    fn a_ticket_gives_up_room_before_it_takes_a_second_sheet() {
        let mut ticket = sample::plan().tickets[0].clone();
        let item = ticket.items[0].clone();
        let mut room_under_first = |n_items: usize| {
            ticket.items = vec![item.clone(); n_items];
            let pages = lay_out(&ticket);
            let after = pages[0].iter().skip_while(|(line, _)| !matches!(line, Line::Options(..)));
            let under = after.skip_while(|(line, _)| matches!(line, Line::Options(..)));
            (pages.len(), under.take_while(|(line, _)| matches!(line, Line::Room)).count())
        };
        assert_eq!(room_under_first(5), (2, 4));
        let (n_pages, n_rows) = room_under_first(10);
        assert!(n_pages <= SIDES && n_rows < 4, "{n_pages} pages, {n_rows} rows");
    }

    #[test]
    fn long_options_get_a_line_each() {
        let mut ticket = sample::plan().tickets[0].clone();
        ticket.items.truncate(1);
        let short = lay_out(&ticket)[0].iter().filter(|(l, _)| matches!(l, Line::Options(..))).count();
        assert_eq!(short, 2);
        ticket.items[0].options[0].text = "A story in which nothing is shared at all".to_owned();
        let long = lay_out(&ticket)[0].iter().filter(|(l, _)| matches!(l, Line::Option(..))).count();
        assert_eq!(long, 4);
    }
}
