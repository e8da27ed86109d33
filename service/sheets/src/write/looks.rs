//! How cells look: ink on paper, one accent, greys, rules; every mark survives a black-and-white copier.
//!
//! Keeps: nothing is told by colour alone; children's pages are 16 points and more (the form
//! code 12), cards 12 and more (`pages_that_are_handed_out_are_in_large_type` in the tests of this folder).
//! Not here: what stands in the cells.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder};

/// The one accent: titles and links. Dark enough to copy as black.
const ACCENT: Color = Color::RGB(0x001F_3A5F);
const GREY_FILL: Color = Color::RGB(0x00E9_E9E9);
const GREY_RULE: Color = Color::RGB(0x0080_8080);
const GREY_TEXT: Color = Color::RGB(0x0055_5555);

/// Every format of the workbook.
pub(super) struct Looks {
    /// Sheet title.
    pub title: Format,
    /// Line under a title, hints.
    pub note: Format,
    /// Hint that wraps.
    pub paragraph: Format,
    /// Heading inside a sheet.
    pub section: Format,
    /// Table header.
    pub header: Format,
    /// Table cell that wraps.
    pub cell: Format,
    /// Table cell in bold.
    pub cell_bold: Format,
    /// Table cell of less weight.
    pub cell_faint: Format,
    /// Id or code, kept as text when edited.
    pub id: Format,
    /// Whole number.
    pub count: Format,
    /// Share or correlation, two places.
    pub share: Format,
    /// A share in hundredths.
    pub percent: Format,
    /// Cell to fill in, kept as text.
    pub entry: Format,
    /// Link to another sheet.
    pub link: Format,
    /// Plain text of the first sheet, wraps.
    pub plain: Format,
    /// Label of the first sheet.
    pub plain_label: Format,
    /// Formats of the group cards.
    pub card: CardLooks,
    /// Formats of the exit tickets.
    pub ticket: TicketLooks,
}

/// Formats of the group cards, 12 points and more.
pub(super) struct CardLooks {
    /// Group's name.
    pub name: Format,
    /// Label at the left.
    pub label: Format,
    /// Text.
    pub text: Format,
    /// Text that matters most.
    pub strong: Format,
    /// Header of the members' table.
    pub header: Format,
    /// Cell of the members' table.
    pub cell: Format,
    /// Last line.
    pub foot: Format,
}

/// A look for texts of one line and of several.
pub(super) struct Wrapping {
    /// One line, runs on over empty neighbours.
    pub one: Format,
    /// Several lines in joined cells.
    pub several: Format,
}

impl Wrapping {
    fn new(base: &Format) -> Self {
        let several = base.clone().set_text_wrap();
        Wrapping { one: base.clone(), several }
    }
}

/// Formats of the exit tickets, 16 points and more but for the form code at 12.
pub(super) struct TicketLooks {
    /// Heading.
    pub heading: Format,
    /// Form code, small.
    pub code: Format,
    /// `Answer`.
    pub label: Format,
    /// Line to write on.
    pub line: Format,
    /// Item number.
    pub number: Format,
    /// What is asked.
    pub stem: Wrapping,
    /// Letter to ring.
    pub letter: Format,
    /// Option, short text.
    pub option: Format,
    /// Option that wraps.
    pub long_option: Wrapping,
    /// What to do.
    pub hint: Format,
    /// Text alternative of a picture.
    pub picture: Wrapping,
    /// Cell of a grid with text.
    pub grid_text: Format,
    /// Head of a grid.
    pub grid_head: Format,
    /// Cell of a grid to tick.
    pub grid_box: Format,
}

impl Looks {
    /// Builds them once a workbook.
    pub(super) fn new() -> Self {
        let boxed = Format::new()
            .set_border(FormatBorder::Thin)
            .set_border_color(GREY_RULE)
            .set_align(FormatAlign::Top)
            .set_align(FormatAlign::Left)
            .set_text_wrap();
        let plain = Format::new().set_font_size(12).set_text_wrap().set_align(FormatAlign::Top);
        Looks {
            title: Format::new().set_bold().set_font_size(18).set_font_color(ACCENT),
            note: Format::new().set_font_color(GREY_TEXT),
            paragraph: Format::new().set_text_wrap().set_align(FormatAlign::Top),
            section: Format::new().set_bold().set_font_size(13).set_font_color(ACCENT),
            header: boxed.clone().set_bold().set_background_color(GREY_FILL).set_border_bottom(FormatBorder::Medium),
            cell_bold: boxed.clone().set_bold(),
            cell_faint: boxed.clone().set_italic().set_font_color(GREY_TEXT),
            id: boxed.clone().set_num_format("@"),
            count: boxed.clone().set_num_format("0").set_align(FormatAlign::Right),
            percent: boxed.clone().set_num_format("0 %").set_align(FormatAlign::Right),
            share: boxed.clone().set_num_format("0.00").set_align(FormatAlign::Right),
            entry: boxed.clone().set_num_format("@").set_align(FormatAlign::Center),
            link: plain.clone().set_underline(rust_xlsxwriter::FormatUnderline::Single).set_font_color(ACCENT),
            plain_label: plain.clone().set_bold(),
            plain,
            cell: boxed,
            card: CardLooks::new(),
            ticket: TicketLooks::new(),
        }
    }
}

impl CardLooks {
    fn new() -> Self {
        let text = Format::new().set_font_size(12).set_text_wrap().set_align(FormatAlign::Top);
        let cell = text.clone().set_align(FormatAlign::Left).set_border(FormatBorder::Thin).set_border_color(GREY_RULE);
        CardLooks {
            name: Format::new()
                .set_bold()
                .set_font_size(22)
                .set_font_color(ACCENT)
                .set_border_bottom(FormatBorder::Medium),
            label: text.clone().set_bold(),
            strong: text.clone().set_bold().set_font_size(14),
            header: cell.clone().set_bold().set_background_color(GREY_FILL),
            foot: text.clone().set_italic().set_border_top(FormatBorder::Thin),
            cell,
            text,
        }
    }
}

impl TicketLooks {
    fn new() -> Self {
        let base = Format::new().set_font_size(16).set_align(FormatAlign::Top);
        let boxed = base.clone().set_border(FormatBorder::Thin).set_text_wrap();
        TicketLooks {
            heading: base.clone().set_bold().set_font_size(18),
            code: Format::new().set_font_size(12).set_align(FormatAlign::Right).set_align(FormatAlign::Top),
            line: base.clone().set_align(FormatAlign::Bottom).set_border_bottom(FormatBorder::Thin),
            number: base.clone().set_bold(),
            stem: Wrapping::new(&base),
            letter: base.clone().set_bold().set_align(FormatAlign::Center),
            option: base.clone(),
            long_option: Wrapping::new(&base),
            hint: base.clone().set_italic(),
            picture: Wrapping::new(&base.clone().set_italic()),
            grid_text: boxed.clone().set_align(FormatAlign::Left).set_indent(1),
            grid_head: boxed.clone().set_bold().set_align(FormatAlign::Center),
            grid_box: boxed,
            label: base.set_align(FormatAlign::Right).set_align(FormatAlign::Bottom),
        }
    }
}
