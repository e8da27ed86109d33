//! A ticket as lines on pages, before anything is written.
//!
//! In:  a ticket. Out: pages of lines, each with its height in points; an item never breaks across two pages
//! (`an_item_stays_on_one_page`). Keeps: a child reads no score, code of an idea, skill or group; only the form code
//! stands there, small. Not here: cells (`exit_tickets`), keys (`answer_keys`).

use super::text;
use sheaf_core::scores::ItemKind;
use sheaf_core::tickets::{Ticket, TicketItem, TicketOption};

/// Height that a page has for lines, points: letter paper less its margins, and a little to spare.
const PAGE_POINTS: f64 = 700.0;
/// Height of a line of 16-point type.
const LINE_POINTS: f64 = 22.0;
/// Room to work under an item that asks for a calculation: 1.2 inches.
const ROOM_POINTS: f64 = 86.0;
/// Room under an item that is answered by marks alone.
const GAP_POINTS: f64 = 48.0;
/// Characters of 16-point type beside the item number.
const WIDE_CHARS: usize = 60;
/// Characters in the first column of a grid.
const GRID_TEXT_CHARS: usize = 22;
/// Characters in a column to tick.
const GRID_HEAD_CHARS: usize = 11;
/// Longest option that stands beside another.
const SHORT_OPTION: usize = 21;
/// Columns to tick that a page has.
pub(super) const GRID_COLUMNS: usize = 3;

/// What a line holds.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Line<'t> {
    /// Heading and form code.
    Heading(&'t str),
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

/// A line and its height in points.
pub(super) type Measured<'t> = (Line<'t>, f64);
/// Lines of one page.
pub(super) type Page<'t> = Vec<Measured<'t>>;

/// A ticket as pages.
pub(super) fn lay_out(ticket: &Ticket) -> Vec<Page<'_>> {
    let mut page: Page<'_> =
        vec![(Line::Heading(&ticket.form_code), 32.0), (Line::NameAndDate, 34.0), (Line::Room, 14.0)];
    let mut pages = Vec::new();
    for item in &ticket.items {
        let block = block_of(item);
        if height(&page) + height(&block) > PAGE_POINTS && page.len() > 3 {
            pages.push(std::mem::take(&mut page));
        }
        page.extend(block);
    }
    pages.push(page);
    pages
}

fn height(lines: &[Measured<'_>]) -> f64 {
    lines.iter().map(|(_, points)| points).sum()
}

/// Lines of one item with the room under it.
fn block_of(item: &TicketItem) -> Page<'_> {
    let mut block = Vec::new();
    if item.parts.is_empty() {
        asked(&mut block, format!("{}.", item.number), item);
    } else {
        if !item.stem.trim().is_empty() {
            stem(&mut block, format!("{}.", item.number), item);
        }
        for (part, letter) in item.parts.iter().zip('A'..='Z') {
            block.push((Line::Hint(format!("Part {letter}")), LINE_POINTS));
            asked(&mut block, String::new(), part);
        }
    }
    block.push((Line::Room, room_under(item.kind)));
    block
}

fn room_under(kind: ItemKind) -> f64 {
    match kind {
        ItemKind::Choice | ItemKind::Numeric => ROOM_POINTS,
        ItemKind::MultiSelect | ItemKind::Match | ItemKind::TwoPart => GAP_POINTS,
    }
}

fn asked<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem) {
    stem(block, number, item);
    match item.kind {
        ItemKind::Numeric => block.push((Line::Answer, LINE_POINTS + 12.0)),
        ItemKind::Match => grid(block, item),
        ItemKind::MultiSelect => {
            block.push((Line::Hint("Ring every right answer.".to_owned()), LINE_POINTS));
            options(block, &item.options);
        }
        ItemKind::Choice | ItemKind::TwoPart => options(block, &item.options),
    }
}

fn stem<'t>(block: &mut Page<'t>, number: String, item: &'t TicketItem) {
    block.push((Line::Stem(number, &item.stem), wrapped(&item.stem, WIDE_CHARS)));
    if let Some(picture) = item.picture.as_deref().filter(|text| !text.is_empty()) {
        block.push((Line::Picture(picture), wrapped(picture, WIDE_CHARS - 9)));
    }
}

fn wrapped(shown: &str, chars: usize) -> f64 {
    text::lines(shown, chars) as f64 * LINE_POINTS + 2.0
}

fn options<'t>(block: &mut Page<'t>, options: &'t [TicketOption]) {
    if options.iter().all(|o| o.text.chars().count() <= SHORT_OPTION) {
        for pair in options.chunks(2) {
            if let [first, rest @ ..] = pair {
                block.push((Line::Options(first, rest.first()), LINE_POINTS + 4.0));
            }
        }
    } else {
        block.extend(options.iter().map(|o| (Line::Option(o), wrapped(&o.text, WIDE_CHARS) + 2.0)));
    }
}

fn grid<'t>(block: &mut Page<'t>, item: &'t TicketItem) {
    if item.columns.len() > GRID_COLUMNS {
        block.push((Line::Hint(format!("Write one of: {}", item.columns.join(", "))), LINE_POINTS));
        block.extend(item.rows.iter().map(|r| (Line::WriteIn(&r.text), wrapped(&r.text, GRID_TEXT_CHARS) + 6.0)));
        return;
    }
    block.push((Line::Hint("Tick one box in each row.".to_owned()), LINE_POINTS));
    let head = item.columns.iter().map(|c| wrapped(c, GRID_HEAD_CHARS)).fold(LINE_POINTS, f64::max);
    block.push((Line::GridHead(&item.columns), head));
    let n_boxes = item.columns.len();
    block.extend(item.rows.iter().map(|r| (Line::GridRow(&r.text, n_boxes), wrapped(&r.text, GRID_TEXT_CHARS) + 4.0)));
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
            assert_eq!(page.last().map(|(line, _)| line), Some(&Line::Room));
        }
        let n_stems = pages.iter().flatten().filter(|(line, _)| matches!(line, Line::Stem(..))).count();
        assert_eq!(n_stems, 9);
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
