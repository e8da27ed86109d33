//! `Group cards`: one group a page, for the adult who leads it; past [`MOST_CARDS`] groups one group a row.
//!
//! Keeps: a page break between any two groups (`each_card_begins_a_page` in the tests of this folder); 12 points and
//! more; nothing about a child but name, homeroom, supports. Not here: sentences about teaching (`teach`), evidence
//! on single students (`groups`, `needs`).

use super::book::{Book, shown_name};
use super::look::Look;
use super::looks::Looks;
use super::page::{Paper, Reader, set_up};
use super::sheet::{Column, Rows, Sheet, Span, Written, column};
use super::teach::session_shape;
use super::words::{dotted, when};
use sheaf_core::plan::Group;
use sheaf_core::rotation::Session;
use std::collections::BTreeMap;

/// Groups that get a page each.
pub(super) const MOST_CARDS: usize = 200;

const WIDTHS: [f64; 4] = [14.0, 28.0, 13.0, 32.0];
const BODY: Span = Span { first: 1, last: 3, digits: 66, line_points: 15.25 };
const STRONG: Span = Span { digits: 55, line_points: 18.0, ..BODY };

const NO_SHARED_IDEA: &str = "None that most here share: ask each child how they know, and listen.";

const COMPACT: [Column; 8] = [
    column("Group", 11.0),
    column("Target", 30.0),
    column("Wrong idea to look for", 36.0),
    column("Members (homeroom)", 36.0),
    column("Supports", 24.0),
    column("Meets", 34.0),
    column("Ticket", 12.0),
    column("Notes", 40.0),
];

/// Writes the sheet.
pub(super) fn write(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    let groups = &book.plan.groups;
    if groups.len() > MOST_CARDS {
        return compact(sheet, book, looks);
    }
    set_up(sheet, book, Paper::UprightBreaks, Reader::Staff)?;
    sheet.widths(WIDTHS)?;
    if groups.is_empty() {
        sheet.title("Group cards", "No groups were formed, so there are no cards.", looks)?;
        return Ok(());
    }
    let mut breaks = Vec::with_capacity(groups.len());
    for group in groups {
        breaks.push(sheet.row());
        card(sheet, book, group, looks)?;
    }
    sheet.inner().set_page_breaks(breaks.get(1..).unwrap_or_default())?;
    let last_row = sheet.row() - 1;
    sheet.inner().set_print_area(0, 0, last_row, BODY.last)?;
    sheet.keep_digits_as_text(BODY.last)
}

fn card(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, looks: &Looks) -> Written {
    name(sheet, group, looks)?;
    labelled(sheet, "Target", STRONG, &book.skill_words(&group.target_skill), &looks.card.strong, looks)?;
    match &group.error_pattern {
        Some(code) => wrong_idea(sheet, book, code, looks)?,
        None => labelled(sheet, "Wrong idea", BODY, NO_SHARED_IDEA, &looks.card.text, looks)?,
    }
    members(sheet, book, group, looks)?;
    labelled(sheet, "Meets", BODY, &meetings(book, group), &looks.card.text, looks)?;
    labelled(sheet, "Send back", BODY, &send_back(book, group), &looks.card.text, looks)?;
    session(sheet, group, looks)?;
    labelled(sheet, "Ticket", BODY, &forms(book, group), &looks.card.text, looks)?;
    labelled(sheet, "How sure", BODY, &sureness(book, group), &looks.card.text, looks)?;
    foot(sheet, looks)
}

fn name(sheet: &mut Sheet<'_>, group: &Group, looks: &Looks) -> Written {
    sheet.height(32.0);
    let shown = if group.is_intensive { format!("{}  (intensive)", group.name) } else { group.name.clone() };
    sheet.text(0, &shown, &looks.card.name);
    for col in 1..=BODY.last {
        sheet.blank(col, &looks.card.name);
    }
    sheet.next()?;
    sheet.height(8.0);
    sheet.next()
}

fn labelled(sheet: &mut Sheet<'_>, label: &str, span: Span, text: &str, look: &Look, looks: &Looks) -> Written {
    sheet.text(0, label, &looks.card.label);
    sheet.spanned(span, text, look)?;
    sheet.next()
}

fn wrong_idea(sheet: &mut Sheet<'_>, book: &Book<'_>, code: &str, looks: &Looks) -> Written {
    let idea = format!("Several {}.", book.idea(code).trim_end_matches('.'));
    let known = book.idea(code) != code;
    let shown = if known { sentence(book.idea(code)) } else { idea };
    labelled(sheet, "Wrong idea", BODY, &shown, &looks.card.text, looks)?;
    match book.look_for(code) {
        Some(example) => labelled(sheet, "Look for", BODY, example, &looks.card.text, looks),
        None => Ok(()),
    }
}

/// `takes ...` becomes `Takes ... .`
fn sentence(clause: &str) -> String {
    let mut chars = clause.trim_end_matches('.').chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).chain(['.']).collect())
}

fn members(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, looks: &Looks) -> Written {
    sheet.height(8.0);
    sheet.next()?;
    for (col, title) in [(0, "Id"), (1, "Name"), (2, "Homeroom"), (3, "Supports")] {
        sheet.text(col, title, &looks.card.header);
    }
    sheet.next()?;
    sheet.rows(Rows::Fitted(18.0));
    for student in book.members(group) {
        sheet.text(0, student.id.as_str(), &looks.card.cell);
        sheet.text(1, shown_name(student), &looks.card.cell);
        sheet.text(2, &student.homeroom, &looks.card.cell);
        sheet.text(3, &student.supports.join(", "), &looks.card.cell);
        sheet.next()?;
    }
    sheet.rows(Rows::Fixed);
    sheet.height(8.0);
    sheet.next()
}

fn session(sheet: &mut Sheet<'_>, group: &Group, looks: &Looks) -> Written {
    let shape = session_shape(&group.target_skill);
    for (label, text) in
        [("Show", shape.show.as_str()), ("Together", &shape.together), ("Alone", shape.alone), ("Ask", shape.ask)]
    {
        labelled(sheet, label, BODY, text, &looks.card.text, looks)?;
    }
    Ok(())
}

fn foot(sheet: &mut Sheet<'_>, looks: &Looks) -> Written {
    let all = Span { first: 0, digits: 77, ..BODY };
    let caution = "A few answers suggest this target and this idea. It is a place to start teaching, not a diagnosis; \
                   change it when the children show you otherwise.";
    sheet.spanned(all, caution, &looks.card.foot)?;
    sheet.next()
}

fn meetings(book: &Book<'_>, group: &Group) -> String {
    let lines: Vec<String> = book.sessions_of(&group.id).iter().map(|s| meeting(book, s)).collect();
    if lines.is_empty() { "No meetings are planned yet.".to_owned() } else { lines.join("\n") }
}

/// `Mon 09:00–09:30 · TP · Teacher table · Room 3 (without Ana)`; the skill only where it is not the target.
fn meeting(book: &Book<'_>, session: &Session) -> String {
    let time = when(session);
    let staff = session.staff.as_deref().unwrap_or("no adult");
    let place = dotted([&time, staff, &session.station, session.room.as_deref().unwrap_or_default()]);
    let away = book.not_expected(session);
    if away.is_empty() { place } else { format!("{place} (without {})", away.join(", ")) }
}

/// Who goes where when a meeting ends, by homeroom.
fn send_back(book: &Book<'_>, group: &Group) -> String {
    let mut homes: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for student in book.members(group) {
        homes.entry(student.homeroom.as_str()).or_default().push(shown_name(student));
    }
    let lines = homes.iter().map(|(home, names)| {
        let home = if home.is_empty() { "homeroom not given" } else { home };
        format!("to {home}: {}", names.join(", "))
    });
    format!("When the meeting ends\n{}", lines.collect::<Vec<_>>().join("\n"))
}

fn forms(book: &Book<'_>, group: &Group) -> String {
    let codes: Vec<&str> = book.tickets_of(&group.id).iter().map(|t| t.form_code.as_str()).collect();
    match codes.as_slice() {
        [] => "No ticket for this target.".to_owned(),
        [one] => (*one).to_owned(),
        [first, rest @ ..] => format!("{first}; for neighbours and make-ups {}", rest.join(", ")),
    }
}

/// The plan's own notes, which begin with how many lack the target; without them that count alone.
fn sureness(book: &Book<'_>, group: &Group) -> String {
    let n_items = book.n_items_on(&group.target_skill);
    let items = format!("The score sheets have {n_items} item{} on the target.", if n_items == 1 { "" } else { "s" });
    let mut lines = vec![if group.notes.is_empty() { format!("{} {items}", lacking(book, group)) } else { items }];
    lines.extend(group.notes.iter().cloned());
    lines.join("\n")
}

fn lacking(book: &Book<'_>, group: &Group) -> String {
    let on_target = book.members(group).filter_map(|s| book.on_skill(s, &group.target_skill));
    let n_lacking = on_target.filter(|report| report.is_lacked()).count();
    format!("{n_lacking} of {} members lack it.", group.members.len())
}

/// A row a group, for a district's workbook that nobody prints as cards.
fn compact(sheet: &mut Sheet<'_>, book: &Book<'_>, looks: &Looks) -> Written {
    set_up(sheet, book, Paper::WideFit, Reader::Staff)?;
    sheet.widths(COMPACT.map(|c| c.width))?;
    let purpose = format!(
        "One row a group, since there are {} groups; with {MOST_CARDS} or fewer each group has a page.",
        book.plan.groups.len()
    );
    sheet.title("Group cards", &purpose, looks)?;
    let header_row = sheet.row();
    sheet.header(COMPACT.map(|c| c.title), looks)?;
    for group in &book.plan.groups {
        compact_row(sheet, book, group, looks)?;
    }
    sheet.end_table(header_row, COMPACT.len(), 1)
}

fn compact_row(sheet: &mut Sheet<'_>, book: &Book<'_>, group: &Group, looks: &Looks) -> Written {
    let (mut names, mut supports) = (Vec::new(), Vec::new());
    for student in book.members(group) {
        let from = if student.homeroom.is_empty() { String::new() } else { format!(" ({})", student.homeroom) };
        names.push(format!("{}{from}", shown_name(student)));
        if !student.supports.is_empty() {
            supports.push(format!("{}: {}", shown_name(student), student.supports.join(", ")));
        }
    }
    let idea = group
        .error_pattern
        .as_deref()
        .map(|code| [Some(book.idea(code)), book.look_for(code)].into_iter().flatten().collect::<Vec<_>>().join("\n"));
    sheet.text(0, &group.name, &looks.cell_bold);
    sheet.text(1, &book.skill_words(&group.target_skill), &looks.cell);
    sheet.text(2, &idea.unwrap_or_default(), &looks.cell);
    sheet.text(3, &names.join("\n"), &looks.cell);
    sheet.text(4, &supports.join("\n"), &looks.cell);
    sheet.text(5, &meetings(book, group), &looks.cell);
    let codes: Vec<&str> = book.tickets_of(&group.id).iter().map(|t| t.form_code.as_str()).collect();
    sheet.text(6, &codes.join("\n"), &looks.id);
    sheet.text(7, &sureness(book, group), &looks.cell);
    sheet.next()
}
