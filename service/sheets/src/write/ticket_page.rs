//! A ticket as lines on pages, before anything is written.
//!
//! In:  a ticket. Out: pages of lines, each with its height in points; an item never breaks across two pages
//! (`an_item_stays_on_one_page`); every page has a line for the name and says whose ticket it belongs to, since a
//! copier parts them (`every_page_carries_the_name_and_the_form_code`). Keeps: a child reads no score, code of an idea,
//! skill or group; only the form code stands there, small; five items take at most the two sides of a sheet
//! (`a_ticket_gives_up_room_before_it_takes_a_second_sheet`); a picture is drawn a little smaller before that happens
//! (`pictures_shrink_before_a_ticket_takes_a_second_sheet`). Not here: cells (`exit_tickets`), keys (`answer_keys`).

use super::picture::{ABOVE, BELOW};
use super::text;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Drawing, Ticket, TicketItem, TicketOption};

/// Height that a page has for lines, points: letter paper less its margins, and a little to spare.
const PAGE_POINTS: f64 = 700.0;
/// Height of a row with one line of 16-point type: the sheet's usual height, which costs no room in the file.
pub(super) const ROW_POINTS: f64 = 24.0;
/// Height of each line where a text takes several.
const LINE_POINTS: f64 = 21.0;
/// Height of a line to write a name on.
const NAME_POINTS: f64 = 38.0;
/// Height of what the first page begins with, and a further one.
const TOP_POINTS: f64 = NEXT_TOP_POINTS + ROW_POINTS;
const NEXT_TOP_POINTS: f64 = NAME_POINTS + ROW_POINTS;
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
/// Pictures as large as drawn, and smaller where a ticket would else take more than the two sides of a sheet.
const PICTURE_SCALES: [f64; 3] = [1.0, 0.8, 0.65];
/// Room for a picture across, CSS pixels: the columns beside the item number.
const PICTURE_WIDTH: f64 = 580.0;
/// Tallest picture, points: what a row can hold.
const PICTURE_POINTS: f64 = 400.0;
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
    /// A picture, its text alternative, and how many times as large as drawn it stands there.
    Drawn(&'t Drawing, &'t str, f64),
    /// Text alternative in the place of a picture.
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

/// An item's lines, without the room under them.
struct Block<'t> {
    lines: Page<'t>,
    points: f64,
    kind: ItemKind,
}

/// How pictures stand on the page.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum PicturesAs {
    /// Drawn.
    Shapes,
    /// Told in words: a district's shapes would fill a workbook that nobody prints.
    Words,
}

/// A ticket as pages: pictures as large and as much room to work as let it fit on a sheet, and on each page as much room as that
/// page has.
pub(super) fn lay_out(ticket: &Ticket, pictures: PicturesAs) -> Vec<Page<'_>> {
    let scales = match pictures {
        PicturesAs::Shapes => PICTURE_SCALES.map(Some).to_vec(),
        PicturesAs::Words => vec![None],
    };
    let blocks_at = |scale| ticket.items.iter().map(|item| block_of(item, scale)).collect::<Vec<_>>();
    let fitting = scales.iter().find_map(|scale| {
        let blocks = blocks_at(*scale);
        let n_on_pages = ROOM_ROWS.iter().map(|n_rows| share_out(&blocks, *n_rows)).find(|n| n.len() <= SIDES)?;
        Some((blocks, n_on_pages))
    });
    let (mut blocks, n_on_pages) = fitting.unwrap_or_else(|| {
        let blocks = blocks_at(scales.first().copied().flatten());
        let n_on_pages = share_out(&blocks, ROOM_ROWS[0]);
        (blocks, n_on_pages)
    });
    let n_pages = n_on_pages.len();
    let mut pages = Vec::with_capacity(n_pages);
    for (idx, n_items) in n_on_pages.into_iter().enumerate() {
        let page_of = PageOf { number: idx + 1, n_pages };
        pages.push(page(top(ticket, page_of), blocks.drain(..n_items)));
    }
    pages
}

/// How many items each page takes, in order, with so much room under each item but the last of a page.
fn share_out(blocks: &[Block<'_>], n_room_rows: usize) -> Vec<usize> {
    let mut n_on_pages = vec![0];
    let mut used = TOP_POINTS;
    let mut room = 0.0;
    for block in blocks {
        let is_first = n_on_pages.last() == Some(&0);
        if used + room + block.points > PAGE_POINTS && !is_first {
            n_on_pages.push(0);
            (used, room) = (NEXT_TOP_POINTS, 0.0);
        }
        used += room + block.points;
        room = room_under(block.kind, n_room_rows) as f64 * ROW_POINTS;
        if let Some(n_items) = n_on_pages.last_mut() {
            *n_items += 1;
        }
    }
    n_on_pages
}

/// What a page begins with.
fn top(ticket: &Ticket, page_of: PageOf) -> Page<'_> {
    let code = &ticket.form_code;
    if page_of.number > 1 {
        return vec![(Line::Continued(code, page_of), NAME_POINTS), row(Line::Room)];
    }
    vec![row(Line::Heading(code, page_of)), (Line::NameAndDate, NAME_POINTS), row(Line::Room)]
}

/// The items under the top, with as much room as the page has.
fn page<'t>(mut page: Page<'t>, blocks: impl Iterator<Item = Block<'t>>) -> Page<'t> {
    let blocks: Vec<Block<'t>> = blocks.collect();
    let items: f64 = blocks.iter().map(|b| b.points).sum();
    let left = PAGE_POINTS - height(&page) - items;
    let between = |n_rows: usize| {
        let above = blocks.split_last().map_or(&[][..], |(_, above)| above);
        above.iter().map(|b| room_under(b.kind, n_rows)).sum::<usize>() as f64 * ROW_POINTS
    };
    let n_room_rows = ROOM_ROWS.into_iter().find(|n| between(*n) <= left).unwrap_or_default();
    for block in blocks {
        page.extend(block.lines);
        page.extend(std::iter::repeat_n(row(Line::Room), room_under(block.kind, n_room_rows)));
    }
    // Under the last item only what the page still has.
    while height(&page) > PAGE_POINTS && page.last().is_some_and(|(line, _)| *line == Line::Room) {
        page.pop();
    }
    page
}

fn height(lines: &[Measured<'_>]) -> f64 {
    lines.iter().map(|(_, points)| points).sum()
}

fn block_of(item: &TicketItem, scale: Option<f64>) -> Block<'_> {
    let lines = lines_of(item, scale);
    Block { points: height(&lines), lines, kind: item.kind }
}

fn lines_of(item: &TicketItem, scale: Option<f64>) -> Page<'_> {
    let mut block = Vec::new();
    if item.parts.is_empty() {
        asked(&mut block, format!("{}.", item.number), item, scale);
    } else {
        if !item.stem.trim().is_empty() {
            stem(&mut block, format!("{}.", item.number), item, scale);
        }
        for (part, letter) in item.parts.iter().zip('A'..='Z') {
            block.push(row(Line::Hint(format!("Part {letter}"))));
            asked(&mut block, String::new(), part, scale);
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

fn asked<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem, scale: Option<f64>) {
    stem(block, number, item, scale);
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

fn stem<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem, scale: Option<f64>) {
    block.push((Line::Stem(number, &item.stem), wrapped(&item.stem, WIDE)));
    if let Some(picture) = item.picture.as_deref().filter(|text| !text.is_empty()) {
        if let (Some(drawing), Some(scale)) = (&item.drawing, scale) {
            block.push(drawn(drawing, picture, scale));
            return;
        }
        block.push((Line::Picture(picture), wrapped(&format!("{PICTURE_LABEL}{picture}"), WIDE)));
    }
}

/// A picture, no wider than the page and no taller than a row can be.
fn drawn<'t>(drawing: &'t Drawing, picture: &'t str, scale: f64) -> Measured<'t> {
    let (_, (width, height)) = drawing.frame();
    let scale = scale.min(PICTURE_WIDTH / width).min(PICTURE_POINTS / (0.75 * height));
    let points = 0.75 * (ABOVE + height * scale + BELOW);
    (Line::Drawn(drawing, picture, scale), points.max(ROW_POINTS))
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
        let pages = lay_out(&ticket, PicturesAs::Words);
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
        let pages = lay_out(&ticket, PicturesAs::Words);
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

    /// Rows of room under the first item of each page.
    fn rooms(pages: &[Page<'_>]) -> Vec<usize> {
        let under = |page: &Page<'_>| {
            let after = page.iter().skip_while(|(line, _)| !matches!(line, Line::Options(..)));
            let under = after.skip_while(|(line, _)| matches!(line, Line::Options(..)));
            under.take_while(|(line, _)| matches!(line, Line::Room)).count()
        };
        pages.iter().map(under).collect()
    }

    #[test]
    fn a_ticket_gives_up_room_before_it_takes_a_second_sheet() {
        let mut ticket = sample::plan().tickets[0].clone();
        let item = ticket.items[0].clone();
        ticket.items = vec![item.clone(); 5];
        assert_eq!(rooms(&lay_out(&ticket, PicturesAs::Words)), [4, 4]);
        // The first page is filled with the second in mind; the second has room to spare and takes it.
        ticket.items = vec![item; 9];
        let pages = lay_out(&ticket, PicturesAs::Words);
        assert_eq!(pages.len(), SIDES);
        let rooms = rooms(&pages);
        assert!(rooms[0] < 4 && rooms[1] >= rooms[0], "{rooms:?}");
    }

    #[test]
    fn pictures_shrink_before_a_ticket_takes_a_second_sheet() {
        let mut ticket = sample::plan().tickets[0].clone();
        let mut item = ticket.items[0].clone();
        (item.picture, item.drawing) = (Some("a clock".to_owned()), Drawing::parse("clock 5").ok());
        assert!(item.drawing.is_some());
        let mut scale_with = |n_items: usize| {
            ticket.items = vec![item.clone(); n_items];
            let pages = lay_out(&ticket, PicturesAs::Shapes);
            let drawn = pages.iter().flatten().filter_map(|(line, points)| match line {
                Line::Drawn(drawing, _, scale) => Some((drawing.frame().1.1 * scale * 0.75 < *points, *scale)),
                _ => None,
            });
            let drawn: Vec<(bool, f64)> = drawn.collect();
            assert!(drawn.len() == n_items && drawn.iter().all(|(fits, _)| *fits), "{drawn:?}");
            (pages.len(), drawn[0].1)
        };
        assert_eq!(scale_with(2), (1, 1.0));
        let (n_pages, scale) = scale_with(5);
        assert!(n_pages == SIDES && scale < 1.0, "{n_pages} pages, {scale}");
        ticket.items = vec![item.clone(); 2];
        let words = lay_out(&ticket, PicturesAs::Words);
        assert!(words.iter().flatten().any(|(line, _)| matches!(line, Line::Picture("a clock"))));
    }

    #[test]
    fn the_tops_are_as_high_as_said() {
        let plan = sample::plan();
        let of = |number| PageOf { number, n_pages: 2 };
        assert_eq!(height(&top(&plan.tickets[0], of(1))), TOP_POINTS);
        assert_eq!(height(&top(&plan.tickets[0], of(2))), NEXT_TOP_POINTS);
    }

    #[test]
    fn long_options_get_a_line_each() {
        let mut ticket = sample::plan().tickets[0].clone();
        ticket.items.truncate(1);
        let short =
            lay_out(&ticket, PicturesAs::Words)[0].iter().filter(|(l, _)| matches!(l, Line::Options(..))).count();
        assert_eq!(short, 2);
        ticket.items[0].options[0].text = "A story in which nothing is shared at all".to_owned();
        let long = lay_out(&ticket, PicturesAs::Words)[0].iter().filter(|(l, _)| matches!(l, Line::Option(..))).count();
        assert_eq!(long, 4);
    }
}
