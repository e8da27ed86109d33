//! A small quiz typed out as text, and records in memory, for the tests of the weekly jobs.
//! Six children on two skills, three of whom lack each; nothing here is a claim.

use super::{GivenFile, SchoolSetup, Week, Weeks};

pub(super) const QUIZ: &str = "\
,,skill,5.NF.B.5a,5.NF.B.5a,5.NF.B.5a,4.NF.A.1,4.NF.A.1,4.NF.A.1
,,key,A,B,C,D,A,B
student_id,student,class,Q1,Q2,Q3,Q4,Q5,Q6
0001,Ada Ash,5P,B,A,A,D,A,B
0002,Bo Birch,5P,B,A,B,D,A,B
0003,Cy Cedar,5P,C,A,A,D,A,B
0004,Di Dogwood,5P,A,B,C,A,B,A
0005,Ed Elm,5P,A,B,C,A,C,A
0006,Fi Fir,5P,A,B,C,B,B,C
";

/// Records in memory under the built-in setup.
pub(super) fn weeks() -> Weeks {
    Weeks::in_memory(SchoolSetup::builtin().unwrap()).unwrap()
}

pub(super) fn week() -> Week {
    Week::parse("2026-02-02").unwrap()
}

pub(super) fn file(name: &str, text: &str) -> GivenFile {
    GivenFile { name: name.into(), bytes: text.as_bytes().to_vec() }
}
