//! The staff workbook of a plan: in the staff's own file where that may be changed, else a workbook of our sheets alone.
//!
//! In:  a plan, and the one workbook that the scores came from, if it was one. Out: what is to be written, what a person is
//! told about it, then the bytes. Keeps: a file that must not be changed is not, and the finding says why
//! (`a_workbook_that_must_not_be_changed_is_left_alone`); a workbook without an own file streams into the sink.
//! Not here: how sheets are added (`sheaf-sheets`), names and places of files (`cli`, `sheaf-web`).

use crate::error::AppError;
use crate::knowledge::Knowledge;
use sheaf_core::finding::Finding;
use sheaf_core::movement::LookBack;
use sheaf_core::plan::Plan;
pub use sheaf_sheets::graft::Form;
use sheaf_sheets::graft::{Graft, GraftError, GraftLimits, form_by_content, write_alone};
use sheaf_sheets::read::SourceFile;
use sheaf_sheets::write::{OurSheets, staff_sheets, write_rotation_workbook};
use std::borrow::Cow;
use std::io::{Seek, Write};

/// What is done where the own file is left alone, in the words of a finding.
const ALONE: &str = "a workbook of Sheaf's sheets alone was made";

/// A workbook, decided and not yet written.
#[derive(Debug)]
pub struct StaffWorkbook<'a> {
    own: Option<SourceFile<'a>>,
    /// Shown where there is a week before.
    back: Option<&'a LookBack>,
    form: Form,
    /// Our sheets as they go into the own file, where nothing was found that they must tell of.
    ours: Option<OurSheets>,
    /// What was noticed; [`StaffWorkbook::decide`] adds it to the plan's findings.
    findings: Vec<Finding>,
}

/// The form that a workbook made from a file has: that of the file where it is an .xlsx or .xlsm, else .xlsx.
#[must_use]
pub fn form_for(own: SourceFile<'_>) -> Form {
    form_by_content(own.bytes).unwrap_or(Form::Plain)
}

impl<'a> StaffWorkbook<'a> {
    /// A workbook of our sheets alone.
    fn alone() -> Self {
        StaffWorkbook { own: None, back: None, form: Form::Plain, ours: None, findings: Vec::new() }
    }

    /// Decides: in the own file where there is one that may be changed, else alone. The plan comes back with what was noticed
    /// then, as the workbook must show it.
    ///
    /// # Errors
    /// [`AppError`] of kind our fault where our own sheets cannot be made.
    pub fn decide<'p>(
        knowledge: &Knowledge,
        plan: &'p Plan,
        back: Option<&'a LookBack>,
        own: Option<SourceFile<'a>>,
    ) -> Result<(Self, Cow<'p, Plan>), AppError> {
        let mut workbook = match own {
            Some(own) => Self::into_own(knowledge, plan, back, own)?,
            None => Self::alone(),
        };
        workbook.back = back;
        let mut plan = Cow::Borrowed(plan);
        if !workbook.findings.is_empty() {
            plan.to_mut().findings.extend(workbook.findings.iter().cloned());
        }
        Ok((workbook, plan))
    }

    /// Our sheets in the file that the scores came from, or alone where it cannot be.
    fn into_own(
        knowledge: &Knowledge,
        plan: &Plan,
        back: Option<&LookBack>,
        own: SourceFile<'a>,
    ) -> Result<Self, AppError> {
        if !own.bytes.starts_with(b"PK") {
            // An old binary workbook, or a text, which nobody expects to get back with sheets in it.
            let is_old = own.bytes.starts_with(&[0xD0, 0xCF, 0x11, 0xE0]);
            let note = is_old.then(|| left_alone(own.name, &GraftError::NotAWorkbook));
            return Ok(StaffWorkbook { findings: note.into_iter().collect(), ..StaffWorkbook::alone() });
        }
        let ours = our_sheets(knowledge, plan, back, Some(own.name))?;
        match Graft::prepare(own.bytes, &ours, GraftLimits::default()) {
            Ok(graft) => {
                let (form, findings) = (graft.form(), renamed(own.name, graft.renamed()));
                let ours = findings.is_empty().then_some(ours);
                Ok(StaffWorkbook { own: Some(own), form, ours, findings, ..StaffWorkbook::alone() })
            }
            Err(reason) if reason.is_refusal() => {
                let findings = vec![left_alone(own.name, &reason)];
                Ok(StaffWorkbook { form: form_for(own), findings, ..StaffWorkbook::alone() })
            }
            Err(fault) => Err(AppError::our_fault(fault)),
        }
    }

    /// With macros or without, as the ending of the file's name must say.
    #[must_use]
    pub fn form(&self) -> Form {
        self.form
    }

    /// Writes the workbook of the plan, whose findings by now hold those of this decision.
    ///
    /// # Errors
    /// [`AppError`] where the sink fails.
    pub fn write<W: Write + Seek + Send>(self, knowledge: &Knowledge, plan: &Plan, sink: W) -> Result<(), AppError> {
        let ours = match self.ours {
            Some(ours) => ours,
            None => our_sheets(knowledge, plan, self.back, self.own.map(|own| own.name))?,
        };
        let Some(own) = self.own else { return write_alone(&ours, self.form, sink).map_err(AppError::our_fault) };
        let graft = Graft::prepare(own.bytes, &ours, GraftLimits::default()).map_err(AppError::our_fault)?;
        graft.write(sink).map_err(AppError::our_fault)
    }
}

/// A workbook of the rotation alone, of a plan that carries no more than that.
///
/// # Errors
/// [`AppError`] where the sink fails.
pub fn write_rotation<W: Write + Seek + Send>(knowledge: &Knowledge, plan: &Plan, sink: W) -> Result<(), AppError> {
    write_rotation_workbook(plan, &knowledge.graph, &knowledge.catalogue, sink).map_err(AppError::our_fault)
}

fn our_sheets(
    knowledge: &Knowledge,
    plan: &Plan,
    back: Option<&LookBack>,
    own_file: Option<&str>,
) -> Result<OurSheets, AppError> {
    staff_sheets(plan, back, &knowledge.graph, &knowledge.catalogue, own_file).map_err(AppError::our_fault)
}

/// Why the file was left alone: a file of another kind is nothing wrong, all else is.
fn left_alone(file: &str, reason: &GraftError) -> Finding {
    let finding = if matches!(reason, GraftError::NotAWorkbook) {
        Finding::note(
            reason.code(),
            "Sheets can be added to .xlsx and .xlsm workbooks only, and this is another kind.",
            ALONE,
        )
    } else {
        let what = format!("Sheaf's sheets were not added to this workbook: {reason}.");
        Finding::error(reason.code(), what, ALONE)
    };
    finding.at(file, "", "")
}

fn renamed(file: &str, names: &[(String, String)]) -> Vec<Finding> {
    let note = |(usual, now): &(String, String)| {
        let what = format!("The workbook has a sheet of its own called {usual}.");
        Finding::note("sheet-name-taken", what, format!("Sheaf's sheet is called {now}")).at(file, now, "")
    };
    names.iter().map(note).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::headless::{HeadlessRequest, PerhapsAcross, Sources, plan};
    use sheaf_core::finding::Severity;
    use sheaf_core::roster::School;
    use std::io::Cursor;

    fn fixture(name: &str) -> Vec<u8> {
        std::fs::read(format!("{}/../../fixtures/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
    }

    fn planned(knowledge: &Knowledge) -> Plan {
        let bytes = fixture("schools/quillmere/week1_quiz.xlsx");
        let scores = [SourceFile { name: "quiz.xlsx", bytes: &bytes }];
        let perhaps_across = PerhapsAcross::IsOffered;
        let sources = Sources { scores: &scores, items: None, students: None, attendance: None, perhaps_across };
        plan(knowledge, &HeadlessRequest { sources, school: &School::default(), week: None, seed: 1 }).unwrap()
    }

    /// What was noticed, the form, and the bytes.
    fn made(file: &str) -> (Vec<Finding>, Form, Vec<u8>) {
        let knowledge = Knowledge::builtin().unwrap();
        let (mut plan, bytes) = (planned(&knowledge), fixture(file));
        let own = SourceFile { name: "own.xlsx", bytes: &bytes };
        let workbook = StaffWorkbook::into_own(&knowledge, &plan, None, own).unwrap();
        let (findings, form) = (workbook.findings.clone(), workbook.form());
        plan.findings.extend(findings.iter().cloned());
        let mut sink = Cursor::new(Vec::new());
        workbook.write(&knowledge, &plan, &mut sink).unwrap();
        (findings, form, sink.into_inner())
    }

    #[test]
    fn a_workbook_that_must_not_be_changed_is_left_alone() {
        let (findings, form, bytes) = made("workbooks/hand_refused_signed.xlsx");
        let told: Vec<_> = findings.iter().map(|f| (f.severity, f.code.as_str(), f.file.as_str())).collect();
        assert_eq!(told, [(Severity::Error, "workbook-signed", "own.xlsx")]);
        assert!(findings[0].message.contains("it is signed"), "{}", findings[0].message);
        assert_eq!((form, form_by_content(&bytes)), (Form::Plain, Some(Form::Plain)));
    }

    #[test]
    fn a_sheet_with_another_name_is_told() {
        let (findings, _, _) = made("workbooks/openpyxl_names_like_ours.xlsx");
        let sheets: Vec<&str> = findings.iter().map(|f| f.sheet.as_str()).collect();
        assert!(sheets.contains(&"Groups (2)"), "{sheets:?}");
        assert!(findings.iter().all(|f| f.severity == Severity::Note && f.code == "sheet-name-taken"));
    }

    #[test]
    fn another_kind_of_file_gives_a_note_and_a_text_none() {
        let knowledge = Knowledge::builtin().unwrap();
        let plan = planned(&knowledge);
        let codes = |bytes: &[u8]| {
            let own = SourceFile { name: "own", bytes };
            let workbook = StaffWorkbook::into_own(&knowledge, &plan, None, own).unwrap();
            workbook.findings.iter().map(|f| (f.severity, f.code.clone())).collect::<Vec<_>>()
        };
        let note = vec![(Severity::Note, "workbook-of-another-kind".to_owned())];
        assert_eq!(codes(&[0xD0, 0xCF, 0x11, 0xE0, 0]), note);
        assert_eq!(codes(&fixture("workbooks/hand_refused_template.xlsx")), note);
        assert_eq!(codes(b"id,Q1\n1,A\n"), []);
    }

    #[test]
    fn macros_decide_the_ending_even_where_the_workbook_is_left_alone() {
        assert_eq!(made("workbooks/xlsxwriter_macros.xlsm").1, Form::Macros);
        let mut sink = Cursor::new(Vec::new());
        let knowledge = Knowledge::builtin().unwrap();
        let ours = our_sheets(&knowledge, &planned(&knowledge), None, None).unwrap();
        write_alone(&ours, Form::Macros, &mut sink).unwrap();
        assert_eq!(form_by_content(&sink.into_inner()), Some(Form::Macros));
    }
}
