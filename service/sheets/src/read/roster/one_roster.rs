//! OneRoster CSV files in a zip, versions 1.1 and 1.2: `users`, `roles`, `classes`, `enrollments`, and the manifest.
//!
//! In:  a zip with `users.csv`. Out: its students with name, grade and homeroom. Import only; a password column is never looked at.
//! Who is a student: in 1.1 the role stands with the user, in 1.2 in `roles`; where neither says, enrollments do.
//! The id is the `identifier` where every student has one of their own, else the `sourcedId`; a note says which.
//! Keeps: files of changes alone are refused, since a list replaces the last one (`a_file_of_changes_is_refused`); who is to be
//! deleted or not enabled is left out; nothing is written to disk and no more is inflated than [`MOST_BYTES`] a file
//! (`a_file_that_inflates_too_far_is_refused`).
//! Source: the open standard of 1EdTech, OneRoster 1.1 and 1.2 CSV binding (column names as published; read in part).

use super::super::{ReadError, ReadLimits, SourceFile, text};
use sheaf_core::finding::Finding;
use sheaf_core::roster::{Student, StudentId};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Cursor, Read};
use zip::ZipArchive;

/// Files in a zip at most.
const MOST_PARTS: usize = 5_000;
/// Inflated bytes of one file at most.
const MOST_BYTES: u64 = 16 * 1024 * 1024;
/// What is looked for, by name without `.csv`.
const WANTED: [&str; 5] = ["manifest", "users", "roles", "classes", "enrollments"];

/// Rows of one file, each by column name in lower case.
type Rows = Vec<BTreeMap<String, String>>;

/// The files that were found, by name without `.csv`.
pub type Files = BTreeMap<&'static str, Rows>;

/// The files of a zip that holds `users.csv`; `None` for any other file.
pub fn files_in(source: SourceFile<'_>, limits: ReadLimits) -> Result<Option<Files>, ReadError> {
    if !source.bytes.starts_with(b"PK") || source.bytes.len() > limits.max_bytes {
        return Ok(None);
    }
    let Ok(mut zip) = ZipArchive::new(Cursor::new(source.bytes)) else { return Ok(None) };
    if zip.len() > MOST_PARTS {
        return Err(too_large(source.name));
    }
    let places: Vec<(usize, &'static str)> = (0..zip.len())
        .filter_map(|at| {
            let name = zip.name_for_index(at)?.ok()?.to_lowercase();
            let bare = name.rsplit('/').next()?.strip_suffix(".csv")?;
            Some((at, *WANTED.iter().find(|w| **w == bare)?))
        })
        .collect();
    if !places.iter().any(|(_, name)| *name == "users") {
        return Ok(None);
    }
    let mut files = Files::new();
    for (at, name) in places {
        let mut bytes = Vec::new();
        let part = zip.by_index(at).map_err(|_| damaged(source.name))?;
        part.take(MOST_BYTES + 1).read_to_end(&mut bytes).map_err(|_| damaged(source.name))?;
        if bytes.len() as u64 > MOST_BYTES {
            return Err(too_large(source.name));
        }
        files.insert(name, rows_of(&bytes).ok_or_else(|| damaged(source.name))?);
    }
    Ok(Some(files))
}

/// The students of the files.
pub fn students(file: &str, files: &Files) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
    refuse_changes(file, files)?;
    let empty = Rows::new();
    let users = files.get("users").unwrap_or(&empty);
    let of_role = students_by_role(files);
    let is_student = |user: &BTreeMap<String, String>| of_role.contains(at(user, "sourcedid"));
    let (active, gone): (Vec<_>, Vec<_>) = users.iter().filter(|u| is_student(u)).partition(|u| is_active(u));
    let homerooms = homerooms(files);
    let by_identifier = has_identifiers(&active);
    let students = active
        .iter()
        .filter_map(|user| {
            let sourced = at(user, "sourcedid");
            Some(Student {
                id: StudentId::parse(if by_identifier { at(user, "identifier") } else { sourced })?,
                name: name_of(user),
                grade: grade_of(at(user, "grades")),
                homeroom: homerooms.get(sourced).cloned().unwrap_or_default(),
                supports: Vec::new(),
            })
        })
        .collect();
    Ok((students, findings(file, by_identifier, gone.len())))
}

fn rows_of(bytes: &[u8]) -> Option<Rows> {
    let decoded = text::decode(bytes);
    let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(decoded.text.as_bytes());
    let names: Vec<String> = reader.headers().ok()?.iter().map(|h| h.trim().to_lowercase()).collect();
    let mut rows = Rows::new();
    for record in reader.records() {
        let record = record.ok()?;
        // The one column that nobody needs to hold in memory.
        let fields = names.iter().zip(record.iter()).filter(|(name, _)| *name != "password");
        rows.push(fields.map(|(name, field)| (name.clone(), field.trim().to_owned())).collect());
    }
    Some(rows)
}

fn at<'a>(row: &'a BTreeMap<String, String>, column: &str) -> &'a str {
    row.get(column).map_or("", String::as_str)
}

fn is_active(row: &BTreeMap<String, String>) -> bool {
    !at(row, "status").eq_ignore_ascii_case("tobedeleted") && !at(row, "enableduser").eq_ignore_ascii_case("false")
}

fn is_a_student(row: &BTreeMap<String, String>) -> bool {
    at(row, "role").eq_ignore_ascii_case("student")
}

/// Source ids of the users who are students.
fn students_by_role(files: &Files) -> BTreeSet<&str> {
    let of = |file: &str, column: &'static str| -> BTreeSet<&str> {
        let rows = files.get(file).into_iter().flatten();
        rows.filter(|r| is_a_student(r) && is_active(r)).map(|r| at(r, column)).filter(|id| !id.is_empty()).collect()
    };
    let says_role = files.get("users").into_iter().flatten().any(|u| !at(u, "role").is_empty());
    if says_role {
        // A user who is to be deleted is told of, so it is asked for by role alone.
        let users = files.get("users").into_iter().flatten();
        return users.filter(|u| is_a_student(u)).map(|u| at(u, "sourcedid")).collect();
    }
    let by_role = of("roles", "usersourcedid");
    if by_role.is_empty() { of("enrollments", "usersourcedid") } else { by_role }
}

/// Title of each student's homeroom class; the primary enrolment first, then the first by title.
fn homerooms(files: &Files) -> BTreeMap<String, String> {
    let classes: BTreeMap<&str, &str> = files
        .get("classes")
        .into_iter()
        .flatten()
        .filter(|c| at(c, "classtype").eq_ignore_ascii_case("homeroom") && is_active(c))
        .map(|c| (at(c, "sourcedid"), if at(c, "title").is_empty() { at(c, "classcode") } else { at(c, "title") }))
        .collect();
    let mut found: BTreeMap<String, (bool, &str)> = BTreeMap::new();
    for row in files.get("enrollments").into_iter().flatten().filter(|r| is_a_student(r) && is_active(r)) {
        let Some(title) = classes.get(at(row, "classsourcedid")) else { continue };
        let rank = (!at(row, "primary").eq_ignore_ascii_case("true"), *title);
        let best = found.entry(at(row, "usersourcedid").to_owned()).or_insert(rank);
        *best = (*best).min(rank);
    }
    found.into_iter().map(|(id, (_, title))| (id, title.to_owned())).collect()
}

/// Whether every student has an identifier of their own.
fn has_identifiers(students: &[&BTreeMap<String, String>]) -> bool {
    let own: BTreeSet<&str> = students.iter().map(|u| at(u, "identifier")).filter(|id| !id.is_empty()).collect();
    !students.is_empty() && own.len() == students.len()
}

fn name_of(user: &BTreeMap<String, String>) -> String {
    let preferred = |own: &str, preferred: &str| {
        let chosen = at(user, preferred);
        if chosen.is_empty() { at(user, own).to_owned() } else { chosen.to_owned() }
    };
    let (given, family) =
        (preferred("givenname", "preferredgivenname"), preferred("familyname", "preferredfamilyname"));
    format!("{given} {family}").trim().to_owned()
}

/// `05` is grade 5; `KG` stays; of several the first counts.
fn grade_of(grades: &str) -> String {
    let first = grades.split(',').next().unwrap_or_default().trim();
    first.parse::<u8>().map_or_else(|_| first.to_owned(), |grade| grade.to_string())
}

fn refuse_changes(file: &str, files: &Files) -> Result<(), ReadError> {
    let is_delta = |row: &BTreeMap<String, String>| {
        at(row, "propertyname").eq_ignore_ascii_case("file.users") && at(row, "value").eq_ignore_ascii_case("delta")
    };
    if files.get("manifest").into_iter().flatten().any(is_delta) {
        let message = format!(
            "{file} holds only what changed (its manifest says delta), and a list takes the place of the last one; export it whole (bulk)."
        );
        return Err(ReadError { code: "roster-of-changes", message });
    }
    Ok(())
}

fn findings(file: &str, by_identifier: bool, n_gone: usize) -> Vec<Finding> {
    let column = if by_identifier { "identifier" } else { "sourcedId" };
    let ids =
        Finding::note("roster-ids", format!("Ids are those of the column {column}."), "score sheets need the same ids");
    let gone = (n_gone > 0).then(|| {
        let message = format!("Students to be deleted or not enabled: {n_gone}.");
        Finding::note("roster-left-out", message, "left out")
    });
    std::iter::once(ids).chain(gone).map(|f| f.at(file, "", "")).collect()
}

fn damaged(file: &str) -> ReadError {
    let message = format!("{file} is damaged and cannot be read; export the list again.");
    ReadError { code: "file-damaged", message }
}

fn too_large(file: &str) -> ReadError {
    let message =
        format!("{file} unpacks to more than a list of students can be; export users, classes and enrollments alone.");
    ReadError { code: "file-too-large", message }
}

#[cfg(test)]
mod tests {
    use super::super::read_students;
    use super::*;
    use std::io::Write;
    use zip::write::SimpleFileOptions;

    const USERS_11: &str = "sourcedId,status,dateLastModified,enabledUser,orgSourcedIds,role,username,userIds,givenName,familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password\n\
        u1,,,true,o1,student,ada,,Ada,Ash,,0417,,,,,05,secret-one\n\
        u2,,,true,o1,student,bo,,Bo,Birch,,0533,,,,,\"04,05\",secret-two\n\
        u3,tobedeleted,,true,o1,student,cy,,Cy,Cedar,,0600,,,,,05,\n\
        u9,,,true,o1,teacher,tea,,Tea,Cher,,9000,,,,,,\n";
    const CLASSES: &str = "sourcedId,status,dateLastModified,title,grades,courseSourcedId,classCode,classType,location,schoolSourcedId,termSourcedIds,subjects,subjectCodes,periods\n\
        c1,,,5P,05,k1,,homeroom,,o1,t1,,,\nc2,,,Mathematics,05,k2,,scheduled,,o1,t1,,,\n";
    const ENROLLMENTS: &str = "sourcedId,status,dateLastModified,classSourcedId,schoolSourcedId,userSourcedId,role,primary,beginDate,endDate\n\
        e1,,,c2,o1,u1,student,false,,\ne2,,,c1,o1,u1,student,false,,\ne3,,,c1,o1,u9,teacher,true,,\ne4,,,c2,o1,u2,student,false,,\n";

    fn zip_of(files: &[(&str, &str)]) -> Vec<u8> {
        let mut writer = zip::ZipWriter::new(Cursor::new(Vec::new()));
        for (name, content) in files {
            writer.start_file(*name, SimpleFileOptions::default()).unwrap();
            writer.write_all(content.as_bytes()).unwrap();
        }
        writer.finish().unwrap().into_inner()
    }

    fn read(files: &[(&str, &str)]) -> Result<(Vec<Student>, Vec<Finding>), ReadError> {
        read_students(SourceFile { name: "roster.zip", bytes: &zip_of(files) }, ReadLimits::default())
    }

    fn rows(students: &[Student]) -> Vec<[&str; 4]> {
        students.iter().map(|s| [s.id.as_str(), s.name.as_str(), s.grade.as_str(), s.homeroom.as_str()]).collect()
    }

    #[test]
    fn students_of_version_1_1_come_with_their_homeroom() {
        let files = [("users.csv", USERS_11), ("classes.csv", CLASSES), ("enrollments.csv", ENROLLMENTS)];
        let (students, findings) = read(&files).unwrap();
        assert_eq!(rows(&students), [["0417", "Ada Ash", "5", "5P"], ["0533", "Bo Birch", "4", ""]]);
        assert!(findings.iter().any(|f| f.code == "roster-left-out" && f.message.ends_with("1.")), "{findings:?}");
        assert!(findings.iter().any(|f| f.message.contains("identifier")));
    }

    #[test]
    fn students_of_version_1_2_are_told_by_their_roles() {
        let users = "sourcedId,status,dateLastModified,enabledUser,username,userIds,givenName,familyName,middleName,identifier,email,sms,phone,agentSourcedIds,grades,password,userMasterIdentifier,resourceSourcedIds,preferredGivenName,preferredMiddleName,preferredFamilyName,primaryOrgSourcedId,pronouns\n\
            u1,,,true,ada,,Adelheid,Ash,,,,,,,05,,,,Ada,,,,\nu2,,,false,bo,,Bo,Birch,,,,,,,05,,,,,,,,\nu9,,,true,tea,,Tea,Cher,,,,,,,,,,,,,,,\n";
        let roles = "sourcedId,status,dateLastModified,userSourcedId,roleType,role,beginDate,endDate,orgSourcedId,userProfileSourcedId\n\
            r1,,,u1,primary,student,,,o1,\nr2,,,u2,primary,student,,,o1,\nr9,,,u9,primary,teacher,,,o1,\n";
        let manifest = "propertyName,value\noneroster.version,1.2\nfile.users,bulk\n";
        let files = [
            ("export/manifest.csv", manifest),
            ("export/users.csv", users),
            ("export/roles.csv", roles),
            ("export/classes.csv", CLASSES),
            ("export/enrollments.csv", ENROLLMENTS),
        ];
        let (students, findings) = read(&files).unwrap();
        assert_eq!(rows(&students), [["u1", "Ada Ash", "5", "5P"]]);
        assert!(findings.iter().any(|f| f.message.contains("sourcedId")));
    }

    #[test]
    fn a_file_of_changes_is_refused() {
        let manifest = "propertyName,value\nfile.users,delta\n";
        let error = read(&[("manifest.csv", manifest), ("users.csv", USERS_11)]).unwrap_err();
        assert_eq!(error.code, "roster-of-changes");
    }

    #[test]
    fn a_file_that_inflates_too_far_is_refused() {
        let long = format!("sourcedId,role\n{}", "u,student\n".repeat(2_000_000));
        assert_eq!(read(&[("users.csv", &long)]).unwrap_err().code, "file-too-large");
    }

    #[test]
    fn a_password_is_never_held() {
        let bytes = zip_of(&[("users.csv", USERS_11)]);
        let files = files_in(SourceFile { name: "r.zip", bytes: &bytes }, ReadLimits::default()).unwrap().unwrap();
        assert!(!format!("{files:?}").contains("secret"));
    }

    #[test]
    fn another_zip_is_no_roster() {
        assert_eq!(read(&[("notes.txt", "hello")]).unwrap_err().code, "not-a-spreadsheet");
    }
}
