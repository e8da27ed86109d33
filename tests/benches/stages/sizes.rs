//! The four sizes: a class, a grade, a school, a district, each with the school setup under which it is planned.
//!
//! Keeps: everyone gets a seat, groups have 3 to 6 students, and the district sits within its homerooms.
//! Not here: a timetable; the setups have none, so that the whole job is comparable with programs that only group.

/// One size.
pub struct Size {
    /// Short name, which sheets in a data folder bear too.
    pub name: &'static str,
    /// What it stands for.
    pub meaning: &'static str,
    pub n_students: usize,
    pub n_items: usize,
    /// Groups asked for; `None`: as many as the sizes call for.
    pub n_groups: Option<usize>,
    /// Runs of each stage, of which the median is shown.
    pub n_runs: usize,
    /// Cold runs of the whole job.
    pub n_cold_runs: usize,
}

/// All sizes, smallest first.
pub const ALL: [Size; 4] = [
    Size { name: "S", meaning: "a class", n_students: 24, n_items: 12, n_groups: Some(5), n_runs: 15, n_cold_runs: 9 },
    Size { name: "M", meaning: "a grade", n_students: 120, n_items: 40, n_groups: Some(24), n_runs: 9, n_cold_runs: 5 },
    Size {
        name: "L",
        meaning: "a school",
        n_students: 600,
        n_items: 60,
        n_groups: Some(120),
        n_runs: 5,
        n_cold_runs: 3,
    },
    Size {
        name: "XL",
        meaning: "a district",
        n_students: 20_000,
        n_items: 60,
        n_groups: None,
        n_runs: 3,
        n_cold_runs: 2,
    },
];

impl Size {
    /// The school setup as TOML.
    pub fn setup(&self) -> String {
        let within = if self.n_groups.is_some() { "all" } else { "homeroom" };
        let count = self.n_groups.map_or("\"auto\"".to_owned(), |n| n.to_string());
        format!(
            "[groups]\ninclude = \"all\"\nwithin = \"{within}\"\nmin_size = 3\nmax_size = 6\ncount = {count}\nsessions = 3\n"
        )
    }
}
