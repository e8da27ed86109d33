//! Our own tickets, known by the form code that is printed on them: their keys, skills and what wrong options mean need not be typed.
//!
//! In:  the tickets that were handed out, and codes as typed in a column of a score sheet or above its headings. Out: which rows belong
//! to which ticket, and facts of its items. A sheet with several codes is read once for each, since each ticket has a key of its own.
//! Keeps: `a_code_is_known_as_typed`, `results_of_two_forms_find_their_keys`, `a_code_that_nobody_handed_out_is_told`.
//! Not here: making tickets and their codes (`sheaf-core`), which tickets were handed out (`sheaf-app`).

use super::asked::KnownTicket;
use super::cell::Cell;
use super::facts::{self, ItemFacts};
use super::words::plain;

/// Headings of a column of form codes, in plain letters.
const HEADINGS: &[&str] = &["formcode", "ticketcode", "codigodeboleto", "codigodeforma"];
/// Letters of a code before its hyphen.
const N_LETTERS: usize = 5;

/// Whether a heading names a column of form codes.
pub fn is_heading(label: &str) -> bool {
    HEADINGS.contains(&plain(label).as_str())
}

/// A code in one written form: upper case, a plain hyphen, no blanks.
pub fn written(text: &str) -> String {
    let is_dash = |c| matches!(c, '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{ad}');
    let shown = text.chars().filter(|c| !c.is_whitespace());
    shown.map(|c| if is_dash(c) { '-' } else { c.to_ascii_uppercase() }).collect()
}

/// Whether a text has the form of a code: five letters, a hyphen, a group and a form.
fn is_code(text: &str) -> bool {
    text.split_once('-').is_some_and(|(letters, rest)| {
        letters.len() == N_LETTERS
            && letters.bytes().all(|b| b.is_ascii_uppercase())
            && (2..=6).contains(&rest.len())
            && rest.bytes().all(|b| b.is_ascii_alphanumeric())
    })
}

/// The ticket of a code.
pub fn ticket<'a>(known: &'a [KnownTicket], code: &str) -> Option<&'a KnownTicket> {
    known.iter().find(|t| t.form_code == code)
}

/// Whether a row holds a result: a cell behind the code of a ticket.
pub fn has_result(known: &[KnownTicket], cells: &[(u32, Cell<'_>)]) -> bool {
    let code = cells.iter().position(|(_, cell)| ticket(known, &written(&cell.shown())).is_some());
    code.is_some_and(|at| at + 1 < cells.len())
}

/// The ticket whose code stands in one of the texts above the headings, if it is one ticket.
pub fn ticket_above<'a>(known: &'a [KnownTicket], texts: &[String]) -> Option<&'a KnownTicket> {
    let words =
        texts.iter().flat_map(|t| t.split(|c: char| c.is_whitespace() || matches!(c, ',' | ';' | ':' | '(' | ')')));
    let mut found = words.filter_map(|word| ticket(known, &written(word)));
    let first = found.next()?;
    found.all(|other| other.form_code == first.form_code).then_some(first)
}

/// Facts of a ticket's items for these labels: `3`, `Item 3`, `Q3` are its third.
pub fn facts(ticket: &KnownTicket, labels: &[&str]) -> Vec<ItemFacts> {
    let number = |label: &str| plain(label).trim_start_matches(|c: char| !c.is_ascii_digit()).to_owned();
    let of = |label: &&str| {
        let item = ticket.items.iter().find(|item| item.label == number(label))?;
        Some(facts::remembered(&[super::KnownItem { label: (*label).to_owned(), ..item.clone() }]))
    };
    labels.iter().filter_map(of).flatten().collect()
}

/// What becomes of a row with this code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowOf {
    /// The ticket that is read now, or none where none is.
    This,
    /// A ticket that is read next.
    Another,
    /// No ticket that was handed out.
    Nobody,
}

/// Sorts rows by their codes.
#[derive(Debug, Clone)]
pub struct Forms<'a> {
    known: &'a [KnownTicket],
    /// The code whose rows are read.
    now: Option<String>,
    /// Other codes, in the order in which they came.
    pub others: Vec<String>,
}

impl<'a> Forms<'a> {
    pub fn new(known: &'a [KnownTicket], now: Option<String>) -> Self {
        Forms { known, now, others: Vec::new() }
    }

    /// Whose row one with this code is.
    pub fn row_of(&mut self, code: &str) -> RowOf {
        if self.known.is_empty() {
            return RowOf::This;
        }
        let code = written(code);
        let is_known = ticket(self.known, &code).is_some();
        match &self.now {
            Some(now) if *now == code => RowOf::This,
            Some(_) => RowOf::Another,
            None if is_known => {
                if !self.others.contains(&code) {
                    self.others.push(code);
                }
                RowOf::Another
            }
            None if is_code(&code) => RowOf::Nobody,
            None => RowOf::This,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::asked::KnownItem;
    use super::super::{ReadRequest, SourceFile, read_score_sheets};
    use super::*;
    use sheaf_core::scores::{ItemKind, OptionMeaning};
    use sheaf_core::skills::{SkillCode, SkillGraph};

    fn ticket_of(form_code: &str, keys: [(&str, ItemKind); 3]) -> KnownTicket {
        let items = (1..).zip(keys).map(|(n, (key, kind))| KnownItem {
            label: n.to_string(),
            skills: vec![SkillCode::parse("4.NF.A.1").unwrap()],
            key: Some(key.to_owned()),
            points: Some(1.0),
            kind: Some(kind),
            meanings: vec![OptionMeaning {
                option: if kind == ItemKind::TwoPart { "2D" } else { "D" }.into(),
                patterns: vec!["x".into()],
            }],
        });
        KnownTicket { form_code: form_code.to_owned(), items: items.collect() }
    }

    fn tickets() -> [KnownTicket; 2] {
        let (choice, two) = (ItemKind::Choice, ItemKind::TwoPart);
        [
            ticket_of("KTRWB-3A", [("A", choice), ("B", choice), ("B,A", two)]),
            ticket_of("KTRWB-3B", [("C", choice), ("B", choice), ("A,A", two)]),
        ]
    }

    fn read(text: &str) -> (Vec<String>, Vec<String>) {
        let (source, graph, tickets) =
            ([SourceFile { name: "f.csv", bytes: text.as_bytes() }], SkillGraph::default(), tickets());
        let reading =
            read_score_sheets(&ReadRequest { tickets: &tickets, ..ReadRequest::new(&source, &graph) }).unwrap();
        let table = &reading.table;
        let row = |s: usize| {
            let points = (0..table.n_items())
                .filter_map(|i| table.mark(s, i).points.map(|p| format!("{}={p}", table.items()[i].label)));
            format!("{}: {}", table.students()[s].id, points.collect::<Vec<_>>().join(" "))
        };
        assert!(table.items().iter().all(|i| i.skills.len() == 1 && i.meanings.len() == 1), "{:?}", table.items());
        let codes =
            reading.findings.iter().filter(|f| f.code.starts_with("form-")).map(|f| format!("{} {}", f.code, f.cell));
        ((0..table.n_students()).map(row).collect(), codes.collect())
    }

    #[test]
    fn a_code_is_known_as_typed() {
        for text in ["ktrwb-3a", " KTRWB\u{2013}3A ", "KTRWB - 3A"] {
            assert_eq!(written(text), "KTRWB-3A");
        }
        assert!(is_code("KTRWB-3A") && is_code("KTRWB-ABCDA") && !is_code("4M-3A") && !is_code("KTRWB"));
        let above = |text: &str| ticket_above(&tickets(), &[text.to_owned()]).map(|t| t.form_code.clone());
        assert_eq!(above("Exit ticket (ktrwb-3b), Friday").as_deref(), Some("KTRWB-3B"));
        assert_eq!(above("KTRWB-3A and KTRWB-3B"), None);
    }

    #[test]
    fn results_of_two_forms_find_their_keys() {
        let text = "Ticket results,,,,,\nId,Name,Form code,Item 1,Item 2,Item 3\n1,Ann,KTRWB-3A,A,B,\"B,A\"\n2,Bo,ktrwb-3b,A,B,AA\n\
                    3,Cy,KTRWB-3A,C,absent,\"B,D\"\n";
        let (rows, told) = read(text);
        assert_eq!(
            rows,
            [
                "1: Item 1=1 Item 2=1 Item 3=1",
                "3: Item 1=0 Item 3=0.5",
                "2: Item 1 (KTRWB-3B)=0 Item 2 (KTRWB-3B)=1 Item 3 (KTRWB-3B)=1",
            ]
        );
        assert_eq!(told, ["form-known A3", "form-known A4"]);
    }

    #[test]
    fn a_code_above_the_headings_is_of_the_whole_sheet() {
        let (rows, told) = read("Ticket KTRWB-3A,,\nid,Q1,Q2\n1,A,C\n2,D,B\n");
        assert_eq!(rows, ["1: Q1=1 Q2=0", "2: Q1=0 Q2=1"]);
        assert_eq!(told, ["form-known A3"]);
    }

    #[test]
    fn a_code_that_nobody_handed_out_is_told() {
        let (rows, told) = read("id,form code,1,2\n1,KTRWB-3A,A,B\n2,QQQQQ-9A,A,B\n");
        assert_eq!(rows, ["1: 1=1 2=1"]);
        assert_eq!(told, ["form-unknown A3", "form-known A2"]);
    }
}
