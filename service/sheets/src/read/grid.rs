//! Rows of a sheet, one after the other, whatever the file is.
//!
//! The lists of a file (sheets, shared texts, formats) are read once. What kills a process is bounded where reading is started.
//! Not here: what the rows mean (`layout`, `table`), how each kind of file is read (`xlsx`, `ods`, `library`, `text`).

use super::beside::SheetLook;
use super::cell::RowSink;
use super::kind::{self, Kind};
use super::package::Package;
use super::refuse::damaged;
use super::xlsx::Workbook;
use super::{ReadError, library, ods, text};
use sheaf_core::finding::Finding;

/// A sheet of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SheetName {
    pub name: String,
    pub is_hidden: bool,
}

/// A file that is open.
pub struct Book<'a> {
    pub file: &'a str,
    bytes: &'a [u8],
    inside: Inside<'a>,
    sheets: Vec<SheetName>,
    /// Names of sheets that hold no cells.
    skipped: Vec<String>,
}

/// What the file turned out to be.
enum Inside<'a> {
    Text,
    Xlsx(Box<Workbook<'a>>),
    Ods(Package<'a>),
    Xlsb,
    Xls,
}

impl<'a> Book<'a> {
    /// Opens a file of any kind, known by its bytes.
    pub fn open(file: &'a str, bytes: &'a [u8]) -> Result<Self, ReadError> {
        let (inside, (sheets, skipped)) = match kind::sniff(file, bytes)? {
            Kind::Text => (Inside::Text, (vec![SheetName { name: String::new(), is_hidden: false }], Vec::new())),
            Kind::Xlsx(package, path) => {
                let mut book = Workbook::open(package, &path)?;
                let lists = (book.sheets(), std::mem::take(&mut book.skipped));
                (Inside::Xlsx(Box::new(book)), lists)
            }
            Kind::Ods(mut package) => {
                ods::refuse_encrypted(&mut package)?;
                let sheets = ods::sheets(&mut package)?;
                (Inside::Ods(package), (sheets, Vec::new()))
            }
            Kind::Xlsb => (Inside::Xlsb, library::xlsb_sheets(file, bytes)?),
            Kind::Xls => (Inside::Xls, library::xls_sheets(file, bytes)?),
        };
        Ok(Book { file, bytes, inside, sheets, skipped })
    }

    /// Sheets of cells in order; a text file has one without a name.
    pub fn sheets(&self) -> Result<Vec<SheetName>, ReadError> {
        Ok(self.sheets.clone())
    }

    /// What is to be told of the file as a whole.
    pub fn findings(&self) -> Vec<Finding> {
        let told = |sheet: &String| {
            Finding::note(
                "sheet-without-cells",
                format!("Sheet {sheet} holds a chart or the like, and no cells."),
                "skipped",
            )
            .at(self.file, sheet, "")
        };
        self.skipped.iter().map(told).chain(self.another_kind()).chain(self.old_kind()).collect()
    }

    /// Said of the kinds whose formats and hidden rows are not seen.
    fn old_kind(&self) -> Option<Finding> {
        matches!(self.inside, Inside::Xls | Inside::Xlsb).then(|| {
            let what = "Hidden rows, and zeros that only a format puts in front of ids, are not seen in this kind of workbook.";
            Finding::note("old-workbook", what, "save it as .xlsx to have them seen").at(self.file, "", "")
        })
    }

    /// Said where the name's ending is that of another kind; files go by their bytes.
    fn another_kind(&self) -> Option<Finding> {
        let ending = self.file.rsplit_once('.').map(|(_, ending)| ending.to_ascii_lowercase())?;
        let (is, endings): (&str, &[&str]) = match self.inside {
            Inside::Text => ("a text", &["csv", "tsv", "txt", "tab"]),
            Inside::Xlsx(_) => ("an .xlsx workbook", &["xlsx", "xlsm", "xltx", "xltm"]),
            Inside::Ods(_) => ("an .ods workbook", &["ods", "ots"]),
            Inside::Xlsb => ("an .xlsb workbook", &["xlsb"]),
            Inside::Xls => ("an old .xls workbook", &["xls", "xlt"]),
        };
        let is_of_others = ["csv", "tsv", "xlsx", "xlsm", "ods", "xlsb", "xls"].contains(&ending.as_str());
        (is_of_others && !endings.contains(&ending.as_str())).then(|| {
            let message = format!("The name ends in .{ending}, and the file is {is}.");
            Finding::note("file-of-another-kind", message, "read as what it is").at(self.file, "", "")
        })
    }

    /// Calls `row` with each row that holds something, and says what stands beside the cells.
    pub fn for_each_row(&self, sheet: &SheetName, row: &mut RowSink<'_>) -> Result<SheetLook, ReadError> {
        let (file, bytes) = (self.file, self.bytes);
        match &self.inside {
            Inside::Text => {
                let decoded = text::decode(bytes);
                text::for_each_row(&decoded.text, row).map_err(|_| damaged(file))?;
                Ok(SheetLook { guessed_encoding: decoded.guessed, ..SheetLook::default() })
            }
            Inside::Xlsx(book) => book.for_each_row(&sheet.name, row),
            Inside::Ods(package) => ods::for_each_row(&mut package.clone(), &sheet.name, row),
            Inside::Xlsb => library::xlsb_rows(file, bytes, &sheet.name, row),
            Inside::Xls => library::xls_rows(file, bytes, &sheet.name, row),
        }
    }
}
