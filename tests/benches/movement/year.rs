//! A school year invented week by week: three grades, a quiz of each grade on four skills in turn, attendance at three sessions.
//!
//! In:  how many children and weeks, a file. Out: records as the weekly job leaves them. The same numbers give the same sheets.
//! Children learn a little each week, so that groups and targets change; a twentieth are away. Not here: whether that is realistic.

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256Plus;
use sheaf_app::weeks::{GivenFile, Keeping, SchoolSetup, Week, Weeks};
use std::fmt::Write;
use std::path::Path;

/// Groups within a homeroom, so that planning a week takes seconds.
pub const SETUP: &str = "[groups]\nwithin = \"homeroom\"\nmin_size = 3\nmax_size = 6\nsessions = 3\n\
    [[block]]\nid = \"mon-1\"\nday = \"Mon\"\nstart = \"09:00\"\nend = \"09:30\"\n";
const ITEMS_A_SKILL: usize = 3;
const SKILLS_A_WEEK: usize = 4;
/// Weeks in which the same skills are asked.
const WEEKS_A_SKILL: usize = 4;
const SKILLS: [[&str; 8]; 3] = [
    ["3.OA.A.1", "3.OA.A.3", "3.OA.C.7", "3.NBT.A.2", "3.NF.A.1", "3.NF.A.2", "3.MD.C.7", "3.OA.D.8"],
    ["4.OA.A.3", "4.NBT.B.5", "4.NBT.B.6", "4.NF.A.1", "4.NF.A.2", "4.NF.B.3", "4.NF.B.4", "4.MD.A.3"],
    ["5.NBT.B.5", "5.NBT.B.6", "5.NBT.B.7", "5.NF.A.1", "5.NF.A.2", "5.NF.B.4", "5.NF.B.5", "5.MD.C.5"],
];

struct Child {
    id: String,
    grade: usize,
    homeroom: String,
    /// Share of items right.
    share: f64,
}

/// Plans the weeks one after the other.
pub fn keep(records: &Path, n_students: usize, n_weeks: usize) {
    let mut rng = Xoshiro256Plus::seed_from_u64(36);
    let mut children: Vec<Child> = (0..n_students).map(|n| child(n, n_students, &mut rng)).collect();
    let weeks = Weeks::open(records, SchoolSetup::parse("school.toml", SETUP).unwrap()).unwrap();
    for n in 0..n_weeks {
        let monday = jiff::civil::date(2025, 9, 1).saturating_add(jiff::Span::new().days(7 * n as i64));
        let week = Week::of(monday);
        for grade in 0..SKILLS.len() {
            let sheet = quiz(&children, grade, n, &mut rng);
            weeks.take_in(week, vec![given("quiz.csv", sheet)], None, Keeping::Keep).unwrap();
        }
        weeks.put_attendance(week, &given("there.csv", attendance(&children, &mut rng))).unwrap();
        weeks.plan_week(week, Some(1)).unwrap();
        children.iter_mut().for_each(|c| c.share = (c.share + 0.01).min(0.95));
    }
}

/// One child is noted late in the last week but one, which takes that week's facts away.
pub fn note_one(records: &Path) {
    let weeks = Weeks::open_kept(records, SchoolSetup::parse("school.toml", SETUP).unwrap()).unwrap();
    let week = weeks.weeks().unwrap()[1].week;
    weeks.put_attendance(week, &given("there.csv", "id,Mon 09:00\n30001,late\n".to_owned())).unwrap();
}

/// Forgets what was worked out: each week's first child is noted once more.
pub fn drop_facts(records: &Path) {
    let weeks = Weeks::open_kept(records, SchoolSetup::parse("school.toml", SETUP).unwrap()).unwrap();
    for overview in weeks.weeks().unwrap() {
        weeks.put_attendance(overview.week, &given("there.csv", "id,Mon 09:00\n30001,present\n".to_owned())).unwrap();
    }
}

fn given(name: &str, text: String) -> GivenFile {
    GivenFile { name: name.to_owned(), bytes: text.into_bytes() }
}

fn child(n: usize, n_students: usize, rng: &mut Xoshiro256Plus) -> Child {
    let grade = n * SKILLS.len() / n_students;
    let homeroom =
        format!("{}{}", grade + 3, ["A", "B", "C", "D", "E", "F", "G", "H", "I", "J", "K", "L", "M"][n % 13]);
    Child { id: format!("{}{n:04}", grade + 3), grade, homeroom, share: rng.gen_range(0.15..0.8) }
}

fn quiz(children: &[Child], grade: usize, week: usize, rng: &mut Xoshiro256Plus) -> String {
    let first = week / WEEKS_A_SKILL * 2;
    let skills: Vec<&str> = (0..SKILLS_A_WEEK).map(|s| SKILLS[grade][(first + s) % SKILLS[grade].len()]).collect();
    let columns: Vec<(usize, usize)> =
        (0..SKILLS_A_WEEK).flat_map(|s| (0..ITEMS_A_SKILL).map(move |i| (s, i))).collect();
    let mut text = String::from(",,,skill");
    columns.iter().for_each(|(s, _)| write!(text, ",{}", skills[*s]).unwrap());
    text.push_str("\n,,,key");
    columns.iter().for_each(|(_, i)| write!(text, ",{}", ["A", "B", "C"][*i]).unwrap());
    text.push_str("\nstudent_id,student,grade,class");
    (1..=columns.len()).for_each(|n| write!(text, ",W{week}Q{n}").unwrap());
    text.push('\n');
    for child in children.iter().filter(|c| c.grade == grade) {
        write!(text, "{},Child {},{},{}", child.id, child.id, grade + 3, child.homeroom).unwrap();
        for (s, i) in &columns {
            let share = (child.share - 0.08 * *s as f64).max(0.05);
            let right = rng.r#gen::<f64>() < share;
            let place = if right { *i } else { (i + rng.gen_range(1..4)) % 4 };
            write!(text, ",{}", ["A", "B", "C", "D"][place]).unwrap();
        }
        text.push('\n');
    }
    text
}

fn attendance(children: &[Child], rng: &mut Xoshiro256Plus) -> String {
    let mut text = String::from("id,Mon 09:00,Tue 09:00,Wed 09:00\n");
    for child in children {
        let mark = |rng: &mut Xoshiro256Plus| if rng.gen_range(0..20) == 0 { "absent" } else { "present" };
        let marks = [mark(rng), mark(rng), mark(rng)];
        writeln!(text, "{},{}", child.id, marks.join(",")).unwrap();
    }
    text
}
