//! Measures each stage of the weekly job, and the whole job as a cold process, beside what the bare libraries need.
//!
//! In:  `run --sheaf BINARY --work FOLDER [--data FOLDER] [--sizes S,M,L,XL]`. Sheets named after the sizes in the data
//! folder are used as they are; without one, sheets are invented (`sheets`). `SHEAF_BASELINE` may name another program to
//! compare with, called as `PROGRAM SIZE calamine xlsxwriter` (see `cold`).
//! Out: one table a size on stdout: medians in milliseconds, runs, the bare figure and the ratio; peak memory of processes.
//! Then a school of three grades: its week, and one day of it again (`tarrowby`).
//! Last reading by itself: hostile and large files, and what a process of its own costs (`reading`).
//! Also: `workbook FOLDER`, the staff workbook of a district against its bars (`workbook`); `bare-read FILE` and `bare-write CELLS FILE`, the bare libraries alone, so that their memory can be measured.
//! Not here: building (`tests/bench` does), any claim that fails: this program prints, people judge.
#![allow(clippy::print_stdout, clippy::print_stderr, clippy::unwrap_used, clippy::panic)]

mod bare;
mod cold;
mod own_file;
mod reading;
mod sheets;
mod sizes;
mod table;
mod tarrowby;
mod timetable;
mod timing;
mod warm;
mod workbook;

use std::path::PathBuf;

/// What to measure.
struct Request {
    sheaf: PathBuf,
    work: PathBuf,
    data: Option<PathBuf>,
    sizes: Vec<String>,
}

fn request(args: &[String]) -> Option<Request> {
    let value = |flag: &str| args.iter().position(|a| a == flag).and_then(|at| args.get(at + 1)).cloned();
    let sizes = value("--sizes").unwrap_or_else(|| "S,M,L,XL".to_owned());
    Some(Request {
        sheaf: value("--sheaf")?.into(),
        work: value("--work")?.into(),
        data: value("--data").map(PathBuf::from),
        sizes: sizes.split(',').map(str::to_owned).collect(),
    })
}

fn run(request: &Request) {
    for size in sizes::ALL.iter().filter(|size| request.sizes.iter().any(|name| name == size.name)) {
        let sheet = request.data.as_ref().map(|folder| folder.join(format!("{}.xlsx", size.name)));
        let sheet = sheet.filter(|path| path.exists()).unwrap_or_else(|| sheets::make(size, &request.work));
        let setup = request.work.join(format!("{}.toml", size.name));
        std::fs::write(&setup, size.setup()).unwrap();
        let measured = warm::measure(size, &sheet, &setup);
        let processes = cold::measure(size, request, &sheet, &setup, measured.n_cells_out);
        table::print(size, &measured, &processes);
    }
    if request.sizes.iter().any(|name| name == "XL") {
        workbook::measure(&request.work);
    }
    tarrowby::measure(request);
    reading::measure(request);
}

fn main() {
    let args: Vec<String> = std::env::args().skip(1).filter(|arg| arg != "--bench").collect();
    match args.first().map(String::as_str) {
        Some("run") => match request(&args) {
            Some(request) => run(&request),
            None => usage(),
        },
        Some("workbook") if args.len() == 2 => workbook::measure(args[1].as_ref()),
        Some("bare-read") if args.len() == 2 => println!("{} cells", bare::read(args[1].as_ref())),
        Some("bare-write") if args.len() == 3 => bare::write_file(args[1].parse().unwrap(), args[2].as_ref()),
        _ => usage(),
    }
}

fn usage() {
    eprintln!("use ./tests/bench, which builds what this program measures");
    std::process::exit(2);
}
