//! How cells look: ink on paper, one accent, greys, rules; every mark survives a black-and-white copier.
//!
//! Keeps: nothing is told by colour alone; children's pages are 16 points and more (the form
//! code 12), cards 12 and more (`pages_that_are_handed_out_are_in_large_type` in the tests of this folder).
//! Not here: what stands in the cells.

use super::look::{Formats, Look};
use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder};

/// The one accent: titles and links. Dark enough to copy as black.
const ACCENT: Color = Color::RGB(0x001F_3A5F);
pub(super) const GREY_FILL: Color = Color::RGB(0x00E9_E9E9);
const GREY_RULE: Color = Color::RGB(0x0080_8080);
const GREY_TEXT: Color = Color::RGB(0x0055_5555);

/// Every look of the workbook.
pub(super) struct Looks {
    /// Their formats, in order.
    pub formats: Formats,
    /// Sheet title.
    pub title: Look,
    /// Line under a title, hints.
    pub note: Look,
    /// Hint that wraps.
    pub paragraph: Look,
    /// Heading inside a sheet.
    pub section: Look,
    /// Table header.
    pub header: Look,
    /// Table cell that wraps.
    pub cell: Look,
    /// Table cell in bold.
    pub cell_bold: Look,
    /// Table cell of less weight.
    pub cell_faint: Look,
    /// Id or code, kept as text when edited.
    pub id: Look,
    /// Whole number.
    pub count: Look,
    /// Share or correlation, two places.
    pub share: Look,
    /// A share in hundredths.
    pub percent: Look,
    /// Cell to fill in, kept as text.
    pub entry: Look,
    /// Link to another sheet.
    pub link: Look,
    /// Link to a cell, in a table.
    pub link_cell: Look,
    /// Plain text of the first sheet, wraps.
    pub plain: Look,
    /// Label of the first sheet.
    pub plain_label: Look,
    /// Formats of the group cards.
    pub card: CardLooks,
    /// Formats of the exit tickets.
    pub ticket: TicketLooks,
}

/// Formats of the group cards, 12 points and more.
pub(super) struct CardLooks {
    /// Group's name.
    pub name: Look,
    /// Label at the left.
    pub label: Look,
    /// Text.
    pub text: Look,
    /// Text that matters most.
    pub strong: Look,
    /// Header of the members' table.
    pub header: Look,
    /// Cell of the members' table.
    pub cell: Look,
    /// Last line.
    pub foot: Look,
}

/// A look for texts of one line and of several.
pub(super) struct Wrapping {
    /// One line, runs on over empty neighbours.
    pub one: Look,
    /// Several lines in joined cells.
    pub several: Look,
}

impl Wrapping {
    fn new(formats: &mut Formats, base: &Format) -> Self {
        let several = base.clone().set_text_wrap();
        Wrapping { one: formats.look(base.clone()), several: formats.look(several) }
    }
}

/// Formats of the exit tickets, 16 points and more but for the form code at 12.
pub(super) struct TicketLooks {
    /// Heading.
    pub heading: Look,
    /// Form code, small.
    pub code: Look,
    /// `Answer`.
    pub label: Look,
    /// Line to write on.
    pub line: Look,
    /// Item number.
    pub number: Look,
    /// What is asked.
    pub stem: Wrapping,
    /// Letter to ring.
    pub letter: Look,
    /// Option, short text.
    pub option: Look,
    /// Option that wraps.
    pub long_option: Wrapping,
    /// What to do.
    pub hint: Look,
    /// Text alternative of a picture.
    pub picture: Wrapping,
    /// Cell of a grid with text.
    pub grid_text: Look,
    /// Head of a grid.
    pub grid_head: Look,
    /// Cell of a grid to tick.
    pub grid_box: Look,
}

impl Looks {
    /// Builds them once a workbook.
    pub(super) fn new() -> Self {
        let mut formats = Formats::default();
        let (card, ticket) = (CardLooks::new(&mut formats), TicketLooks::new(&mut formats));
        let boxed = Format::new()
            .set_border(FormatBorder::Thin)
            .set_border_color(GREY_RULE)
            .set_align(FormatAlign::Top)
            .set_align(FormatAlign::Left)
            .set_text_wrap();
        let plain = Format::new().set_font_size(12).set_text_wrap().set_align(FormatAlign::Top);
        let right = |code: &str| boxed.clone().set_num_format(code).set_align(FormatAlign::Right);
        let header = boxed.clone().set_bold().set_background_color(GREY_FILL).set_border_bottom(FormatBorder::Medium);
        let link = plain.clone().set_underline(rust_xlsxwriter::FormatUnderline::Single).set_font_color(ACCENT);
        let link_cell = boxed
            .clone()
            .set_num_format("@")
            .set_underline(rust_xlsxwriter::FormatUnderline::Single)
            .set_font_color(ACCENT);
        let mut look = |format: Format| formats.look(format);
        Looks {
            title: look(Format::new().set_bold().set_font_size(18).set_font_color(ACCENT)),
            note: look(Format::new().set_font_color(GREY_TEXT)),
            paragraph: look(Format::new().set_text_wrap().set_align(FormatAlign::Top)),
            section: look(Format::new().set_bold().set_font_size(13).set_font_color(ACCENT)),
            header: look(header),
            cell_bold: look(boxed.clone().set_bold()),
            cell_faint: look(boxed.clone().set_italic().set_font_color(GREY_TEXT)),
            id: look(boxed.clone().set_num_format("@")),
            count: look(right("0")),
            percent: look(right("0 %")),
            share: look(right("0.00")),
            entry: look(boxed.clone().set_num_format("@").set_align(FormatAlign::Center)),
            link: look(link),
            link_cell: look(link_cell),
            plain_label: look(plain.clone().set_bold()),
            plain: look(plain),
            cell: look(boxed),
            card,
            ticket,
            formats,
        }
    }
}

impl CardLooks {
    fn new(formats: &mut Formats) -> Self {
        let text = Format::new().set_font_size(12).set_text_wrap().set_align(FormatAlign::Top);
        let cell = text.clone().set_align(FormatAlign::Left).set_border(FormatBorder::Thin).set_border_color(GREY_RULE);
        let name =
            Format::new().set_bold().set_font_size(22).set_font_color(ACCENT).set_border_bottom(FormatBorder::Medium);
        let mut look = |format: Format| formats.look(format);
        CardLooks {
            name: look(name),
            label: look(text.clone().set_bold()),
            strong: look(text.clone().set_bold().set_font_size(14)),
            header: look(cell.clone().set_bold().set_background_color(GREY_FILL)),
            foot: look(text.clone().set_italic().set_border_top(FormatBorder::Thin)),
            cell: look(cell),
            text: look(text),
        }
    }
}

impl TicketLooks {
    fn new(formats: &mut Formats) -> Self {
        let base = Format::new().set_font_size(16).set_align(FormatAlign::Top);
        let boxed = base.clone().set_border(FormatBorder::Thin).set_text_wrap();
        let code = Format::new().set_font_size(12).set_align(FormatAlign::Right).set_align(FormatAlign::Top);
        let line = base.clone().set_align(FormatAlign::Bottom).set_border_bottom(FormatBorder::Thin);
        TicketLooks {
            heading: formats.look(base.clone().set_bold().set_font_size(18)),
            code: formats.look(code),
            line: formats.look(line),
            number: formats.look(base.clone().set_bold()),
            stem: Wrapping::new(formats, &base),
            letter: formats.look(base.clone().set_bold().set_align(FormatAlign::Center)),
            option: formats.look(base.clone()),
            long_option: Wrapping::new(formats, &base),
            hint: formats.look(base.clone().set_italic()),
            picture: Wrapping::new(formats, &base.clone().set_italic()),
            grid_text: formats.look(boxed.clone().set_align(FormatAlign::Left).set_indent(1)),
            grid_head: formats.look(boxed.clone().set_bold().set_align(FormatAlign::Center)),
            grid_box: formats.look(boxed),
            label: formats.look(base.set_align(FormatAlign::Right).set_align(FormatAlign::Bottom)),
        }
    }
}
