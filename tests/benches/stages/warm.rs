//! The stages inside one process: read, profile, group, rotate, tickets, write, add to the staff's file, and the whole plan.
//!
//! In:  a size, its sheet and its setup. Out: [`Stage`]s in the order of the job, two of them beside the bare library.
//! Keeps: each stage gets what the stage before it gave; what a stage eats is copied for it outside the clock where that
//! is possible, and the copy is small where it is not.

use crate::sizes::Size;
use crate::timing::{Timed, time};
use crate::{bare, own_file, timetable};
use sheaf_app::knowledge::Knowledge;
use sheaf_app::setup::parse_school;
use sheaf_core::grouping::{SeatingInput, seat_students, tell};
use sheaf_core::plan::{MetItems, Plan, PlanInput, make_plan};
use sheaf_core::profile::estimate;
use sheaf_core::roster::School;
use sheaf_core::rotation::plan_rotation;
use sheaf_core::tickets::{TicketRequest, assemble_tickets};
use sheaf_sheets::read::{ReadRequest, Reading, SourceFile, read_score_sheets};
use sheaf_sheets::write::{OurSheets, staff_sheets, write_staff_workbook};
use std::io::Cursor;
use std::path::Path;

/// Seed of every run.
const SEED: u64 = 7;

/// One stage of the job.
pub struct Stage {
    pub name: &'static str,
    pub timed: Timed,
    /// What the bare library needs for the same cells.
    pub bare: Option<Timed>,
    /// What it worked on or gave, in a few words.
    pub remark: String,
}

/// All stages of one size.
pub struct Measured {
    pub stages: Vec<Stage>,
    /// Cells of the staff workbook.
    pub n_cells_out: usize,
}

/// What stays the same in every stage.
pub struct Bench<'a> {
    size: &'a Size,
    pub knowledge: Knowledge,
    school: School,
}

/// Measures every stage.
pub fn measure(size: &Size, sheet: &Path, setup: &Path) -> Measured {
    let bench = Bench::new(size, setup);
    let mut stages = Vec::new();
    let reading = bench.read(sheet, &mut stages);
    bench.profile_and_group(&reading, &mut stages);
    let plan = bench.whole(&reading);
    bench.rotate(&plan.1, &mut stages);
    bench.tickets(&plan.1, &mut stages);
    let n_cells_out = bench.write(&plan.1, sheet, &mut stages);
    stages.push(Stage {
        name: "plan, all but files",
        timed: plan.0,
        bare: None,
        remark: "warm, in one process".to_owned(),
    });
    Measured { stages, n_cells_out }
}

impl<'a> Bench<'a> {
    /// With what is built in and this school setup.
    pub fn new(size: &'a Size, setup: &Path) -> Self {
        let school = parse_school("setup", &std::fs::read_to_string(setup).unwrap()).unwrap();
        Bench { size, knowledge: Knowledge::builtin().unwrap(), school }
    }

    /// What stands in the sheet.
    pub fn reading(&self, sheet: &Path) -> Reading {
        let bytes = std::fs::read(sheet).unwrap();
        let source = SourceFile { name: "scores.xlsx", bytes: &bytes };
        read_score_sheets(&ReadRequest::new(&[source], &self.knowledge.graph)).unwrap()
    }

    /// The sheets of the staff workbook before they are packed.
    pub fn sheets(&self, plan: &Plan) -> OurSheets {
        staff_sheets(plan, None, &self.knowledge.graph, &self.knowledge.catalogue, None).unwrap()
    }

    /// The staff workbook.
    pub fn written(&self, plan: &Plan) -> Vec<u8> {
        let mut sink = Cursor::new(Vec::new());
        write_staff_workbook(plan, None, &self.knowledge.graph, &self.knowledge.catalogue, &mut sink).unwrap();
        sink.into_inner()
    }

    fn read(&self, sheet: &Path, stages: &mut Vec<Stage>) -> Reading {
        let (bare, n_cells) = time(self.size.n_runs, || bare::read(sheet));
        let (timed, reading) = time(self.size.n_runs, || self.reading(sheet));
        let table = &reading.table;
        let remark = format!("{n_cells} cells, {} students, {} items", table.n_students(), table.items().len());
        stages.push(Stage { name: "read", timed, bare: Some(bare), remark });
        reading
    }

    fn profile_and_group(&self, reading: &Reading, stages: &mut Vec<Stage>) {
        let table = reading.table.clone().sorted_by_id();
        let (timed, profiles) =
            time(self.size.n_runs, || estimate(&table, &self.knowledge.graph, &self.school.mastery, None));
        let remark = format!("{} skills", profiles.skills.n_skills());
        stages.push(Stage { name: "profile", timed, bare: None, remark });
        let (timed, told) = time(self.size.n_runs, || {
            let input = SeatingInput {
                table: &table,
                profiles: &profiles,
                school: &self.school,
                previous: None,
                swap_share: 1.0,
                seed: SEED,
            };
            let seating = seat_students(input).unwrap();
            tell(&table, &profiles, &seating, &self.knowledge.catalogue)
        });
        let remark = format!("{} groups, sum of squares {:.3}", told.groups.len(), told.quality.sse);
        stages.push(Stage { name: "group", timed, bare: None, remark });
    }

    /// The whole plan in one process, without reading and writing.
    fn whole(&self, reading: &Reading) -> (Timed, Plan) {
        time(self.size.n_runs, || self.plan(reading))
    }

    /// The plan of what was read.
    pub fn plan(&self, reading: &Reading) -> Plan {
        make_plan(PlanInput {
            table: reading.table.clone(),
            earlier: None,
            previous: None,
            overrules: &[],
            inputs: reading.inputs.clone(),
            findings: reading.findings.clone(),
            school: &self.school,
            graph: &self.knowledge.graph,
            catalogue: &self.knowledge.catalogue,
            attended: &[],
            item_models: &self.knowledge.item_models,
            met: &MetItems::new(),
            week: None,
            seed: SEED,
        })
        .unwrap()
    }

    fn rotate(&self, plan: &Plan, stages: &mut Vec<Stage>) {
        let (school, groups) = timetable::school(plan);
        // The largest timetable takes long enough for one run to say it.
        let n_runs = if groups.len() < 100 { self.size.n_runs } else { 1 };
        let (timed, rotation) = time(n_runs, || plan_rotation(&school, &groups));
        let remark = format!("{} sessions of {} groups, ten blocks", rotation.sessions.len(), groups.len());
        stages.push(Stage { name: "rotate", timed, bare: None, remark });
    }

    fn tickets(&self, plan: &Plan, stages: &mut Vec<Stage>) {
        let forms = ["A".to_owned()];
        let (timed, n_tickets) = time(self.size.n_runs, || {
            let request = |group: &sheaf_core::plan::Group| {
                let request = TicketRequest {
                    met: &std::collections::BTreeSet::new(),
                    level: sheaf_core::tickets::Level::default(),
                    group: &group.id,
                    target: &group.target_skill,
                    error_pattern: group.error_pattern.as_deref(),
                    n_items: self.school.ticket.items,
                    forms: &forms,
                    seed: SEED,
                    prerequisites: &[],
                };
                assemble_tickets(&self.knowledge.item_models, &self.knowledge.graph, &request).map_or(0, |t| t.len())
            };
            plan.groups.iter().map(request).sum::<usize>()
        });
        let remark = format!("{n_tickets} tickets for {} groups", plan.groups.len());
        stages.push(Stage { name: "tickets", timed, bare: None, remark });
    }

    fn write(&self, plan: &Plan, sheet: &Path, stages: &mut Vec<Stage>) -> usize {
        let (timed, bytes) = time(self.size.n_runs, || self.written(plan));
        let copy = sheet.with_file_name("written.xlsx");
        std::fs::write(&copy, &bytes).unwrap();
        let n_cells = bare::n_cells_of_all_sheets(&copy);
        let (bare, ()) = time(self.size.n_runs, || bare::write(n_cells, Cursor::new(Vec::new())));
        let remark = format!("{n_cells} cells, {} KiB", bytes.len() / 1024);
        stages.push(Stage { name: "write", timed, bare: Some(bare), remark });
        let folder = copy.parent().unwrap();
        let added = own_file::measure(&self.sheets(plan), folder, self.size.n_runs);
        let remark = format!("beyond packing our sheets alone, a workbook of {:.1} MB", added.n_bytes as f64 / 1e6);
        let timed = Timed { median_ms: added.graft_ms - added.alone_ms, n_runs: self.size.n_runs };
        stages.push(Stage { name: "add to own file", timed, bare: None, remark });
        n_cells
    }
}
