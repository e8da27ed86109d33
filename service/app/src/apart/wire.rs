//! What goes to the reading process and what comes back, type by type.
//!
//! The files' bytes go beside it, as they are ([`Asked::sizes`] says how many). Of the table go distinct marks and one small number a
//! cell, never cells. A new field of a type is one more word in its line here; a forgotten one does not compile.
//! Not here: how values become bytes (`codec`), pipes and limits (`parent`, `child`).

use super::codec::{NotWire, Wire, wire_struct, wire_text, wire_words};
use jiff::civil::Date;
use sheaf_core::finding::{Finding, Severity};
use sheaf_core::movement::{Attendance, AttendanceRow, HeldSession, Presence};
use sheaf_core::plan::InputSummary;
use sheaf_core::roster::{Day, Minutes, Student, StudentId};
use sheaf_core::scores::{Assessment, Item, ItemKind, Mark, MarkState, OptionMeaning, ResponseTable, TableParts};
use sheaf_core::skills::SkillCode;
use sheaf_sheets::read::{
    ColumnReading, ColumnUse, KnownItem, KnownTicket, LayoutKey, LeftOutReason, NothingRead, Orientation,
    PerhapsAcross, ReadError, ReadLimits, Reading, RememberedItems, SheetChoice, SheetLeftOut, SheetReading,
    SheetShape, ShownRow, Standing,
};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Mutex;

/// What is to be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Job {
    /// Score sheets, the first files; an items file may be the last.
    Scores,
    /// A list of students, the only file.
    Students,
    /// An attendance sheet, the only file.
    Attendance,
    /// Whether the only file holds one of the wanted texts.
    Mentions,
}

/// A request, but for the bytes of its files.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    pub job: Job,
    /// Name and size of each file, in the order in which their bytes follow.
    pub sizes: Vec<(String, usize)>,
    /// How many of the last files hold item facts: none or one.
    pub n_items_files: usize,
    pub limits: ReadLimits,
    pub choices: Vec<SheetChoice>,
    pub remembered: Vec<RememberedItems>,
    pub known: Vec<Student>,
    pub tickets: Vec<KnownTicket>,
    pub nothing_read: NothingRead,
    pub perhaps_across: PerhapsAcross,
    pub wanted: Wanted,
}

/// Texts that are looked for: whole cells and parts of cells.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Wanted {
    pub whole: Vec<String>,
    pub parts: Vec<String>,
}

/// A list of students with what was noticed.
pub type StudentList = (Vec<Student>, Vec<Finding>);

/// Attendance with what was noticed.
pub type AttendanceList = (Attendance, Vec<Finding>);

wire_words!(Job { Scores, Students, Attendance, Mentions });
wire_struct!(Asked {
    job,
    sizes,
    n_items_files,
    limits,
    choices,
    remembered,
    known,
    tickets,
    nothing_read,
    perhaps_across,
    wanted
});
wire_struct!(Wanted { whole, parts });
wire_words!(NothingRead { IsAnError, IsShown });
wire_words!(PerhapsAcross { IsOffered, IsTurned });
wire_struct!(ReadLimits { max_bytes, max_rows, max_columns });

wire_struct!(SheetChoice { layout, standing, header_row, uses, orientation });
wire_words!(Standing { Read, LeftOut });
wire_words!(Orientation { StudentsDown, StudentsAcross });
wire_struct!(RememberedItems { layout, items });
wire_struct!(KnownTicket { form_code, items });
wire_struct!(KnownItem { label, skills, key, points, kind, meanings });

wire_struct!(Reading { inputs, findings, table, week, sheets, left_out });
wire_struct!(InputSummary { file, sha256, sheet, n_students, n_items });
wire_struct!(Finding { severity, code, file, sheet, cell, message, action });
wire_words!(Severity { Note, Warning, Error });
wire_struct!(SheetReading {
    file,
    sheet,
    layout,
    shape,
    header_row,
    orientation,
    columns,
    items,
    places,
    rows,
    n_students
});
wire_words!(SheetShape { Wide, Long });
wire_struct!(ColumnReading { column, letters, label, column_use });
wire_struct!(ShownRow { row, cells });
wire_struct!(SheetLeftOut { file, sheet, reason, layout, rows });
wire_words!(LeftOutReason { Hidden, Chosen, Items, Students, PerhapsAcross, NoHeadings });

wire_text!(StudentId);
wire_text!(SkillCode);
wire_struct!(Student { id, name, grade, homeroom, supports });
wire_struct!(Assessment { name, week });
wire_struct!(Item { label, assessment, skills, kind, key, points, meanings });
wire_struct!(OptionMeaning { option, patterns });
wire_words!(ItemKind { Choice, MultiSelect, Match, TwoPart, Numeric });
wire_struct!(Mark { state, answer, points });
wire_words!(MarkState { Scored, Omitted, NotTaken });
wire_struct!(TableParts { assessments, items, marks, students, codes });

wire_struct!(Attendance { sessions, rows });
wire_struct!(HeldSession { label, day, date, start });
wire_struct!(AttendanceRow { student, marks });
wire_words!(Day { Mon, Tue, Wed, Thu, Fri });

impl Wire for Minutes {
    fn put(&self, out: &mut Vec<u8>) {
        self.0.put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok(Minutes(u16::take(from)?))
    }
}

impl Wire for Presence {
    fn put(&self, out: &mut Vec<u8>) {
        let (kind, minutes): (u16, u16) = match self {
            Presence::Present => (0, 0),
            Presence::Late => (1, 0),
            Presence::Absent => (2, 0),
            Presence::Minutes(minutes) => (3, *minutes),
        };
        (kind, minutes).put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok(match <(u16, u16)>::take(from)? {
            (0, _) => Presence::Present,
            (1, _) => Presence::Late,
            (2, _) => Presence::Absent,
            (3, minutes) => Presence::Minutes(minutes),
            _ => return Err(NotWire),
        })
    }
}

impl Wire for ResponseTable {
    fn put(&self, out: &mut Vec<u8>) {
        // Written part by part as `TableParts`, which is what comes back, without a copy of the table.
        let (n_items, n_students) = (self.n_items(), self.n_students());
        put_all(self.assessments(), out);
        put_all(self.items(), out);
        n_items.put(out);
        (0..n_items).for_each(|item_idx| put_all(self.distinct_marks(item_idx), out));
        put_all(self.students(), out);
        n_students.put(out);
        for student_idx in 0..n_students {
            n_items.put(out);
            (0..n_items).for_each(|item_idx| self.mark_code(student_idx, item_idx).put(out));
        }
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        ResponseTable::from_parts(TableParts::take(from)?).map_err(|_| NotWire)
    }
}

fn put_all(values: &[impl Wire], out: &mut Vec<u8>) {
    values.len().put(out);
    values.iter().for_each(|value| value.put(out));
}

impl Wire for LayoutKey {
    fn put(&self, out: &mut Vec<u8>) {
        self.0.put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok(LayoutKey(String::take(from)?))
    }
}

impl Wire for ColumnUse {
    fn put(&self, out: &mut Vec<u8>) {
        self.word().to_owned().put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        ColumnUse::parse(&String::take(from)?).ok_or(NotWire)
    }
}

impl Wire for BTreeMap<String, ColumnUse> {
    fn put(&self, out: &mut Vec<u8>) {
        let pairs: Vec<(String, ColumnUse)> =
            self.iter().map(|(label, column_use)| (label.clone(), *column_use)).collect();
        pairs.put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok(Vec::take(from)?.into_iter().collect())
    }
}

impl Wire for Date {
    fn put(&self, out: &mut Vec<u8>) {
        self.to_string().put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        String::take(from)?.parse().map_err(|_| NotWire)
    }
}

impl Wire for ReadError {
    fn put(&self, out: &mut Vec<u8>) {
        self.code.to_owned().put(out);
        self.message.put(out);
    }

    fn take(from: &mut &[u8]) -> Result<Self, NotWire> {
        Ok(ReadError { code: lasting(String::take(from)?), message: String::take(from)? })
    }
}

/// A code as the errors of this program hold it. Each distinct code is kept once for the life of the program; there are few.
fn lasting(code: String) -> &'static str {
    static CODES: Mutex<BTreeSet<&'static str>> = Mutex::new(BTreeSet::new());
    let mut codes = CODES.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    if let Some(known) = codes.get(code.as_str()) {
        return known;
    }
    let kept: &'static str = code.leak();
    codes.insert(kept);
    kept
}

#[cfg(test)]
mod tests {
    use super::super::codec::{bytes_of, whole};
    use super::*;
    use sheaf_core::skills::SkillGraph;
    use sheaf_sheets::read::{ReadRequest, SourceFile, read_score_sheets};

    const SHEET: &str = "Check,2026-02-04\n,,skill,5.NF.B.5;X,\n,,key,B,A\nid,name,class,Q1,Q2\n1,Ann,5P,B,abs\n2,Bo,5Q,C,\n3,Cy,,#N/A,\"A,B\"\n";

    fn reading() -> Reading {
        let sources = [SourceFile { name: "f.csv", bytes: SHEET.as_bytes() }];
        read_score_sheets(&ReadRequest::new(&sources, &SkillGraph::default())).unwrap()
    }

    #[test]
    fn a_reading_comes_back_as_it_was() {
        let (there, back) = (reading(), whole::<Reading>(&bytes_of(&reading())).unwrap());
        assert!(there.table.n_students() == 3 && !there.findings.is_empty(), "{there:?}");
        assert_eq!(format!("{:?}", back.table.students()), format!("{:?}", there.table.students()));
        assert_eq!(back.table.items(), there.table.items());
        assert_eq!((back.findings, back.inputs, back.week), (there.findings, there.inputs, there.week));
        assert_eq!((back.sheets, back.left_out), (there.sheets, there.left_out));
        for (s, i) in (0..3).flat_map(|s| (0..2).map(move |i| (s, i))) {
            assert_eq!(back.table.mark(s, i), there.table.mark(s, i));
        }
    }

    #[test]
    fn an_answer_cut_short_is_no_answer() {
        let bytes = bytes_of(&Ok::<Reading, ReadError>(reading()));
        for end in 0..bytes.len() {
            assert!(whole::<Result<Reading, ReadError>>(&bytes[..end]).is_err(), "{end}");
        }
    }

    #[test]
    fn requests_and_refusals_come_back_as_they_were() {
        let choice = SheetChoice {
            header_row: Some(4),
            uses: BTreeMap::from([("Q1".into(), ColumnUse::Item)]),
            orientation: Some(Orientation::StudentsAcross),
            ..SheetChoice::open(LayoutKey("k".into()))
        };
        let asked = Asked {
            job: Job::Scores,
            sizes: vec![("a.xlsx".into(), 7)],
            n_items_files: 0,
            limits: ReadLimits::default(),
            choices: vec![choice],
            remembered: vec![RememberedItems { layout: LayoutKey("k".into()), items: Vec::new() }],
            known: reading().table.students().to_vec(),
            tickets: vec![KnownTicket { form_code: "KTRWB-3A".into(), items: Vec::new() }],
            nothing_read: NothingRead::IsShown,
            perhaps_across: PerhapsAcross::IsTurned,
            wanted: Wanted { whole: vec!["0417".into()], parts: vec!["Ann".into()] },
        };
        assert_eq!(whole::<Asked>(&bytes_of(&asked)), Ok(asked));
        let refusal = ReadError { code: "file-damaged", message: "f is damaged".into() };
        assert_eq!(whole::<ReadError>(&bytes_of(&refusal)), Ok(refusal));
    }
}
