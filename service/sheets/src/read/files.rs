//! Files to sheets to one table: which sheets are read, what is known of their items before, what is left out and why.
//!
//! In:  the files of a request, one after the other. Out: named sheets, then a [`Reading`].
//! Keeps: `a_file_that_cannot_be_read_does_not_block_the_others`, `a_sheet_left_out_is_named_with_its_reason`.
//! Not here: rows (`table`), putting sheets together (`merge`).

use super::asked::{LayoutKey, NothingRead, Orientation, ReadRequest};
use super::cell::address;
use super::facts::{self, ItemFacts};
use super::forms;
use super::grid::{Book, SheetName};
use super::layout::Said;
use super::look_over::{LeftOutReason, SheetLeftOut, SheetReading};
use super::merge::{self, NamedSheet};
use super::notes::Notes;
use super::region::{MOST_TABLES, Region};
use super::table::{Background, Finished, SheetBuilder, SheetContent, SheetTable, Shown};
use super::{ReadError, Reading, SourceFile, beside, not_a_score_sheet, open, same_child, suspect};
use crate::graft::our_sheets;
use jiff::civil::Date;
use sheaf_core::finding::Finding;
use sheaf_core::plan::InputSummary;
use std::collections::BTreeSet;

/// Name of our sheet of ticket results, which a number may follow.
const RESULTS: &str = "Ticket results";

/// What is gathered over all files.
pub struct Work<'a> {
    request: &'a ReadRequest<'a>,
    findings: Vec<Finding>,
    inputs: Vec<InputSummary>,
    /// Mondays of the dates that the sheets carry.
    dates: BTreeSet<Date>,
    sheets: Vec<SheetReading>,
    left_out: Vec<SheetLeftOut>,
    /// Layouts of the sheets of the file that is read, in their order.
    layouts: Vec<LayoutKey>,
}

/// A sheet read, before files are put together.
struct ReadSheet {
    name: String,
    table: SheetTable,
    /// Its place in [`Work::sheets`].
    reading: usize,
    is_turned: bool,
    /// Where it begins, if it is not the first table of its sheet.
    from: Option<String>,
    /// The form code of its ticket.
    form: Option<String>,
    /// Monday of the one date that the sheet carries.
    week: Option<Date>,
}

/// A table of a sheet that is to be read.
struct Part<'r> {
    region: Region,
    /// What the first table of the sheet says of its items.
    first_table: &'r [ItemFacts],
}

impl<'a> Work<'a> {
    pub fn new(request: &'a ReadRequest<'a>) -> Self {
        Work {
            request,
            findings: Vec::new(),
            inputs: Vec::new(),
            dates: BTreeSet::new(),
            sheets: Vec::new(),
            left_out: Vec::new(),
            layouts: Vec::new(),
        }
    }

    /// Reads a file of item facts.
    pub fn read_items_file(&mut self, source: SourceFile<'_>) -> Result<Vec<ItemFacts>, ReadError> {
        let book = open(source, self.request.limits)?;
        let mut facts = Vec::new();
        for sheet in book.sheets()?.iter().filter(|s| !s.is_hidden) {
            facts.extend(self.facts_in(&book, sheet)?);
        }
        if facts.is_empty() {
            let message =
                format!("{} holds no item facts; it needs a row of headings with item and skill or key.", source.name);
            return Err(ReadError { code: "not-an-items-sheet", message });
        }
        Ok(facts)
    }

    fn facts_in(&mut self, book: &Book<'_>, sheet: &SheetName) -> Result<Vec<ItemFacts>, ReadError> {
        let mut notes = Notes::new(book.file, &sheet.name);
        let mut builder = SheetBuilder::new(self.request.limits, Said::choices(self.request.choices), &mut notes);
        book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
        builder.refuse_too_large(book.file)?;
        let content = builder.finish(&Background::nothing(self.request.graph)).content;
        let SheetContent::Items(columns, rows) = content else { return Ok(Vec::new()) };
        let facts = facts::read_items(&columns, &rows, self.request.graph, &mut notes);
        self.findings.extend(notes.into_findings());
        Ok(facts)
    }

    /// Sheets that this program added to the workbook are no score sheets; they are read only where there are no others.
    fn without_ours(&mut self, book: &Book<'_>, source: SourceFile<'_>) -> Result<Vec<SheetName>, ReadError> {
        let sheets = book.sheets()?;
        if let Some(results) = self.results_in(book, &sheets)? {
            return Ok(vec![results]);
        }
        let ours = our_sheets(source.bytes);
        let theirs: Vec<SheetName> = sheets.iter().filter(|s| !ours.contains(&s.name)).cloned().collect();
        if theirs.is_empty() || theirs.len() == sheets.len() {
            return Ok(sheets);
        }
        let what = format!("The workbook holds {} sheets that Sheaf added.", sheets.len() - theirs.len());
        self.findings.push(Finding::note("own-sheets-left-out", what, "not read as scores").at(source.name, "", ""));
        Ok(theirs)
    }

    /// Our sheet of ticket results, where somebody filled it in and the tickets are known: then it is what came home, and the
    /// other sheets of the workbook are those that were read before; in case they are not, that is a warning.
    fn results_in(&mut self, book: &Book<'_>, sheets: &[SheetName]) -> Result<Option<SheetName>, ReadError> {
        let tickets = self.request.tickets;
        let Some(sheet) = sheets.iter().find(|s| !tickets.is_empty() && s.name.starts_with(RESULTS) && !s.is_hidden)
        else {
            return Ok(None);
        };
        let mut has_results = false;
        book.for_each_row(sheet, &mut |_, cells| has_results |= forms::has_result(tickets, cells))?;
        if !has_results {
            return Ok(None);
        }
        let what = format!("Sheet {} holds results of exit tickets.", sheet.name);
        let done = "they were read, and no other sheet of this workbook; hand new scores in as a file of their own";
        self.findings.push(Finding::warning("ticket-results-read", what, done).at(book.file, &sheet.name, ""));
        Ok(Some(sheet.clone()))
    }

    /// Reads the sheets of one file.
    pub fn read_file(&mut self, source: SourceFile<'_>, given: &[ItemFacts]) -> Result<Vec<NamedSheet>, ReadError> {
        let book = open(source, self.request.limits)?;
        let sheets = self.without_ours(&book, source)?;
        let own = self.own_facts(&book, &sheets)?;
        let mut read: Vec<ReadSheet> = Vec::new();
        let n_left_out = self.left_out.len();
        self.layouts.clear();
        for sheet in &sheets {
            if sheet.is_hidden {
                self.leave_hidden(source.name, sheet);
            } else {
                read.extend(self.read_tables(&book, sheet, given, &own)?);
            }
        }
        if read.is_empty() {
            return Err(nothing_read(source.name, &self.left_out[n_left_out..]));
        }
        self.findings.extend(book.findings());
        self.dates.extend(mondays_in(source.name));
        Ok(self.named(source, read))
    }

    fn named(&mut self, source: SourceFile<'_>, read: Vec<ReadSheet>) -> Vec<NamedSheet> {
        let stem = stem_of(source.name);
        let hash = sha256(source.bytes);
        let of_file = the_one(&mondays_in(source.name));
        let is_several = read.iter().any(|other| other.name != read[0].name);
        let name_sheet = |found: ReadSheet| {
            self.inputs.push(InputSummary {
                file: source.name.to_owned(),
                sha256: hash.clone(),
                sheet: found.name.clone(),
                n_students: found.table.students.len(),
                n_items: found.table.items.len(),
            });
            let of_sheet =
                if is_several && !found.name.is_empty() { format!(" {}", found.name) } else { String::new() };
            let of_table = found.from.map_or(String::new(), |from| format!(" {from}"));
            let form = found.form;
            let name = form.clone().unwrap_or_else(|| format!("{stem}{of_sheet}{of_table}"));
            let (file, sheet) = (source.name.to_owned(), found.name);
            NamedSheet {
                file,
                sheet,
                name,
                table: found.table,
                reading: found.reading,
                is_turned: found.is_turned,
                form,
                week: found.week.or(of_file),
            }
        };
        read.into_iter().map(name_sheet).collect()
    }

    /// Facts from items sheets of the same workbook; looked for only where there is more than one sheet.
    fn own_facts(&mut self, book: &Book<'_>, sheets: &[SheetName]) -> Result<Vec<ItemFacts>, ReadError> {
        let mut facts = Vec::new();
        if sheets.len() > 1 {
            for sheet in sheets.iter().filter(|s| !s.is_hidden) {
                facts.extend(self.facts_in(book, sheet)?);
            }
        }
        Ok(facts)
    }

    fn leave_hidden(&mut self, file: &str, sheet: &SheetName) {
        let finding = Finding::note("hidden-sheet-left-out", format!("Sheet {} is hidden.", sheet.name), "not read");
        self.findings.push(finding.at(file, &sheet.name, ""));
        let (file, sheet) = (file.to_owned(), sheet.name.clone());
        self.left_out.push(SheetLeftOut { file, sheet, reason: LeftOutReason::Hidden, layout: None, rows: Vec::new() });
    }

    /// Reads the tables of a sheet, one after the other.
    fn read_tables(
        &mut self,
        book: &Book<'_>,
        sheet: &SheetName,
        given: &[ItemFacts],
        own: &[ItemFacts],
    ) -> Result<Vec<ReadSheet>, ReadError> {
        let n_left_out = self.left_out.len();
        let (mut waiting, mut read, mut first_table) = (vec![Region::whole()], Vec::<ReadSheet>::new(), Vec::new());
        let mut n_tables = 0;
        while n_tables < MOST_TABLES {
            let Some(region) = waiting.pop() else { break };
            n_tables += usize::from(region.form.is_none());
            let part = Part { region, first_table: &first_table };
            let (found, others) = self.read_sheet(book, sheet, [given, own], &part)?;
            if let Some(mut found) = found {
                match read.first() {
                    None => {
                        // Headings above without a child are no table of their own.
                        self.left_out.truncate(n_left_out);
                        first_table = facts::of_table(&found.table);
                    }
                    Some(first) => found.week = first.week,
                }
                read.push(found);
            }
            waiting.extend(others);
        }
        if let Some(region) = waiting.first() {
            let what = format!("The sheet holds more than {MOST_TABLES} tables.");
            let at = address(region.first_row, region.first_column);
            let finding = Finding::error("too-many-tables", what, "the rest was not read; put them on several sheets");
            self.findings.push(finding.at(book.file, &sheet.name, at));
        }
        Ok(read)
    }

    fn read_sheet(
        &mut self,
        book: &Book<'_>,
        sheet: &SheetName,
        [given, own]: [&[ItemFacts]; 2],
        part: &Part<'_>,
    ) -> Result<(Option<ReadSheet>, Vec<Region>), ReadError> {
        let is_first = part.region == Region::whole();
        let request = self.request;
        let names = [sheet.name.clone(), book.file.to_owned(), stem_of(book.file).to_owned()];
        // What is given for all files comes first; the workbook's own items sheet fills what that leaves open.
        let mut known = facts::known_for(given, &names);
        for (label, own) in facts::known_for(own, &names) {
            known.entry(label).or_default().fill(&own);
        }
        let mut notes = Notes::new(book.file, &sheet.name);
        let (choices, perhaps_across) = (request.choices, request.perhaps_across);
        let said = Said { choices, before: &self.layouts, perhaps_across, tickets: request.tickets };
        let mut builder = SheetBuilder::new(request.limits, said, &mut notes).of(part.region.clone());
        let look = book.for_each_row(sheet, &mut |n, cells| builder.row(n, cells))?;
        builder.refuse_too_large(book.file)?;
        let (remembered, first_table) = (request.remembered, part.first_table);
        let mut finished = builder.finish(&Background { graph: request.graph, known, remembered, first_table });
        let form = part.region.form.clone();
        if form.is_none() {
            self.layouts.extend(finished.key.clone());
        } else {
            // Not another sheet of the layout, but more of the same.
            finished.key = finished.key.map(|key| key.first());
        }
        let dated = std::mem::take(&mut finished.first_texts);
        let others = std::mem::take(&mut finished.others);
        let mut found = self.take(book.file, sheet, finished, [given, own], &names, &mut notes);
        if let Some(found) = found.as_mut() {
            found.form = form.clone();
        }
        if let Some(found) = found.as_mut().filter(|_| !is_first && form.is_none()) {
            let at = notes.place(found.table.header_row, found.table.who_column);
            notes.note("another-table", &at, "Another table begins here.", "read by its own headings");
            found.from = Some(at);
        }
        if let Some(found) = found.as_mut().filter(|_| is_first) {
            let mondays: BTreeSet<Date> = dated.iter().chain([&sheet.name]).flat_map(|t| mondays_in(t)).collect();
            found.week = the_one(&mondays);
            self.dates.extend(mondays);
            beside::tell(&look, &mut notes);
        }
        match form {
            None => self.findings.extend(notes.into_findings()),
            Some(_) => self.tell_once(notes.into_findings()),
        }
        Ok((found, others))
    }

    /// Adds what another look at the same rows gave, but for what the first one told.
    fn tell_once(&mut self, findings: Vec<Finding>) {
        let is_new = |f: &Finding| f.cell.is_empty() || !self.findings.contains(f);
        let new: Vec<Finding> = findings.into_iter().filter(is_new).collect();
        self.findings.extend(new);
    }

    /// Takes a finished sheet in, or says why it is left out.
    fn take(
        &mut self,
        file: &str,
        sheet: &SheetName,
        finished: Finished,
        facts: [&[ItemFacts]; 2],
        names: &[String],
        notes: &mut Notes<'_>,
    ) -> Option<ReadSheet> {
        let Finished { content, key, first_rows, remembered, .. } = finished;
        let reason = match content {
            SheetContent::Scores(mut table, shown) if !table.students.is_empty() && !table.items.is_empty() => {
                facts.into_iter().for_each(|f| {
                    facts::apply(&mut table.items, f, names);
                });
                facts::apply(&mut table.items, &remembered, names);
                suspect::look(&table, notes);
                let is_turned = shown.orientation == Orientation::StudentsAcross;
                self.sheets.push(sheet_reading(file, sheet, key, &table, shown));
                let reading = self.sheets.len() - 1;
                let name = sheet.name.clone();
                return Some(ReadSheet { name, table, reading, is_turned, from: None, form: None, week: None });
            }
            SheetContent::Scores(..) => LeftOutReason::NoHeadings,
            SheetContent::Items(..) => LeftOutReason::Items,
            SheetContent::Students(_) => LeftOutReason::Students,
            SheetContent::Other(reason) => reason,
        };
        let (file, sheet) = (file.to_owned(), sheet.name.clone());
        self.left_out.push(SheetLeftOut { file, sheet, reason, layout: key, rows: first_rows });
        None
    }

    /// Whether a person could say how one of the sheets is to be read.
    fn can_be_said(&self, faults: &[(&str, ReadError)]) -> bool {
        let is_open = |s: &SheetLeftOut| s.layout.is_some() && s.reason != LeftOutReason::Items && !s.rows.is_empty();
        faults.iter().all(|(_, fault)| fault.code == "not-a-score-sheet") && self.left_out.iter().any(is_open)
    }

    /// Puts the sheets together.
    pub fn finish(mut self, mut sheets: Vec<NamedSheet>, faults: Vec<(&str, ReadError)>) -> Result<Reading, ReadError> {
        self.findings.extend(same_child::tell_apart(&mut sheets, self.request.known));
        self.findings.extend(suspect::of_another_grade(&sheets, self.request.known));
        let merged = merge::merge(sheets);
        let table = merged.table;
        self.findings.extend(merged.findings);
        for (reading, places) in merged.places {
            self.sheets[reading].places = places;
        }
        if table.n_students() == 0 || table.n_items() == 0 {
            if self.request.nothing_read == NothingRead::IsShown && self.can_be_said(&faults) {
                let Work { findings, left_out, .. } = self;
                return Ok(Reading { findings, left_out, ..Reading::default() });
            }
            let names: Vec<&str> = self.request.scores.iter().map(|s| s.name).collect();
            let first = faults.into_iter().next().map(|(_, fault)| fault);
            return Err(first.unwrap_or_else(|| not_a_score_sheet(&names.join(", "))));
        }
        for (name, fault) in faults {
            self.findings.push(
                Finding::error(fault.code, fault.message, "the file was not read; the others were").at(name, "", ""),
            );
        }
        self.findings.extend(suspect::missing_classes(&table, self.request.known));
        let week = the_one(&self.dates);
        let Work { findings, inputs, sheets, left_out, .. } = self;
        Ok(Reading { inputs, findings, table, week, sheets, left_out })
    }
}

fn sheet_reading(
    file: &str,
    sheet: &SheetName,
    key: Option<super::LayoutKey>,
    table: &SheetTable,
    shown: Shown,
) -> SheetReading {
    SheetReading {
        file: file.to_owned(),
        sheet: sheet.name.clone(),
        layout: key.unwrap_or_else(|| super::LayoutKey(String::new())),
        shape: shown.shape,
        header_row: shown.header_row + 1,
        orientation: shown.orientation,
        columns: shown.columns,
        items: table.items.iter().map(|i| i.label.clone()).collect(),
        places: Vec::new(),
        rows: shown.rows,
        n_students: table.students.len(),
    }
}

/// The Monday of every ISO date in a text.
fn mondays_in(text: &str) -> BTreeSet<Date> {
    let date_at = |start: usize| text.get(start..start + 10).and_then(|t| t.parse::<Date>().ok());
    let monday = |date: Date| {
        let back = i32::from(date.weekday().since(jiff::civil::Weekday::Monday));
        date.checked_sub(jiff::Span::new().days(back)).ok()
    };
    let dates = (0..text.len().saturating_sub(9)).filter_map(date_at);
    dates.filter(|d| (2000..2100).contains(&d.year())).filter_map(monday).collect()
}

/// The date, where there is exactly one.
fn the_one(dates: &BTreeSet<Date>) -> Option<Date> {
    dates.first().copied().filter(|_| dates.len() == 1)
}

fn stem_of(file: &str) -> &str {
    file.rsplit_once('.').map_or(file, |(stem, _)| stem)
}

/// Why a file gave no sheet at all.
fn nothing_read(file: &str, left_out: &[SheetLeftOut]) -> ReadError {
    let has = |reason| left_out.iter().any(|s| s.reason == reason);
    if has(LeftOutReason::PerhapsAcross) {
        let message = format!(
            "{file} may have a column for each student and a row for each question; say that students run across (on the page, or with --students-across), or turn rows into columns."
        );
        return ReadError { code: "not-a-score-sheet", message };
    }
    if has(LeftOutReason::Chosen) {
        let message = format!("{file} has no sheet that is not left out; choose one to be read.");
        return ReadError { code: "not-a-score-sheet", message };
    }
    not_a_score_sheet(file)
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::{Digest, Sha256};
    Sha256::digest(bytes).iter().map(|b| format!("{b:02x}")).collect()
}
