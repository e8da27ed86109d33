//! `sheaf simulate`: invented classes whose truth is known, for anybody who asks how far the groups can be trusted.
//!
//! Says its base rates, correlation and noise beside every figure, as the figures depend on them.

use crate::output::{is_stdout, write_pretty};
use crate::run::Stop;
use clap::{Args, ValueEnum};
use serde::Serialize;
use sheaf_core::simulation::{BaseRates, ItemNoise, Recovery, SimulationFigures, SimulationSettings, simulate};
use std::io::Write;
use std::path::PathBuf;

#[derive(Args)]
pub struct SimulateArguments {
    /// Classes to invent, for each level of noise.
    #[arg(long, default_value_t = 400)]
    classes: usize,
    /// Students of a class.
    #[arg(long, default_value_t = 30)]
    students: usize,
    /// Items of the check.
    #[arg(long, default_value_t = 12)]
    items: usize,
    /// Skills that it measures; left out: one for every three items, at most 5.
    #[arg(long)]
    skills: Option<usize>,
    /// Correlation of any two skills, 0 to below 1.
    #[arg(long, default_value_t = 0.5)]
    correlation: f64,
    /// How many students hold each skill.
    #[arg(long, value_enum, default_value_t = Base::Ladder)]
    base: Base,
    /// Smallest group.
    #[arg(long, default_value_t = 3)]
    min_size: usize,
    /// Largest group.
    #[arg(long, default_value_t = 5)]
    max_size: usize,
    /// Seed of every random draw.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the figures as JSON to a file, or - for stdout.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Base {
    /// From most students at the first skill to few at the last.
    Ladder,
    /// Half of the students, every skill.
    Half,
    /// Seven in ten, every skill.
    SevenTenths,
}

#[derive(Serialize)]
struct PublishedSimulation {
    schema: &'static str,
    seed: u64,
    classes: usize,
    students: usize,
    items: usize,
    skills: usize,
    correlation: f64,
    base_rates: &'static str,
    group_sizes: [usize; 2],
    cells: Vec<PublishedCell>,
}

#[derive(Serialize)]
struct PublishedCell {
    noise: &'static str,
    guess_and_slip: [f64; 2],
    estimated: PublishedRecovery,
    ceiling: PublishedRecovery,
    needs_met: PublishedNeeds,
    share_of_known_rates: f64,
    gain_over_total_score: f64,
    gain_low: f64,
    gain_high: f64,
}

#[derive(Serialize)]
struct PublishedRecovery {
    attribute_accuracy: f64,
    profile_accuracy: f64,
    area_under_curve: f64,
    calibration_error: f64,
    brier: f64,
}

#[derive(Serialize)]
struct PublishedNeeds {
    by_need: f64,
    by_known_rates: f64,
    by_kmeans: f64,
    by_total_score: f64,
    at_random: f64,
    at_best: f64,
}

pub fn run(a: &SimulateArguments, out: &mut dyn Write, _err: &mut dyn Write) -> Result<(), Stop> {
    let n_skills = a.skills.unwrap_or_else(|| (a.items / 3).clamp(1, 5));
    let (base, base_rates) = match a.base {
        Base::Ladder => (BaseRates::Ladder, "ladder"),
        Base::Half => (BaseRates::Half, "half"),
        Base::SevenTenths => (BaseRates::SevenTenths, "seven-tenths"),
    };
    let mut published = PublishedSimulation {
        schema: "sheaf.simulate/1",
        seed: a.seed,
        classes: a.classes,
        students: a.students,
        items: a.items,
        skills: n_skills,
        correlation: a.correlation,
        base_rates,
        group_sizes: [a.min_size, a.max_size],
        cells: Vec::new(),
    };
    for (noise, word, rates) in [(ItemNoise::Low, "low", [0.05, 0.15]), (ItemNoise::High, "high", [0.10, 0.30])] {
        let settings = SimulationSettings {
            n_classes: a.classes,
            n_students: a.students,
            n_items: a.items,
            n_skills,
            correlation: a.correlation,
            base,
            noise,
            sizes: (a.min_size, a.max_size),
            seed: a.seed,
        };
        let figures = simulate(&settings).map_err(|e| Stop::Usage(e.to_string()))?;
        published.cells.push(cell(word, rates, &figures));
    }
    write_pretty(a.json.as_deref(), out, &published)?;
    if a.json.as_deref().is_some_and(is_stdout) {
        return Ok(());
    }
    print(&published, out)
}

fn cell(noise: &'static str, guess_and_slip: [f64; 2], figures: &SimulationFigures) -> PublishedCell {
    let recovery = |r: &Recovery| PublishedRecovery {
        attribute_accuracy: r.skill_accuracy,
        profile_accuracy: r.profile_accuracy,
        area_under_curve: r.area_under_curve,
        calibration_error: r.calibration_error,
        brier: r.brier,
    };
    let met = &figures.needs_met;
    let (gain, gain_low, gain_high) = figures.gain_over_total_score;
    PublishedCell {
        noise,
        guess_and_slip,
        estimated: recovery(&figures.estimated),
        ceiling: recovery(&figures.ceiling),
        needs_met: PublishedNeeds {
            by_need: met.by_need,
            by_known_rates: met.by_known_rates,
            by_kmeans: met.by_kmeans,
            by_total_score: met.by_total_score,
            at_random: met.at_random,
            at_best: met.at_best,
        },
        share_of_known_rates: met.by_need / met.by_known_rates.max(1e-12),
        gain_over_total_score: gain,
        gain_low,
        gain_high,
    }
}

fn print(p: &PublishedSimulation, out: &mut dyn Write) -> Result<(), Stop> {
    writeln!(
        out,
        "{} invented classes of {} students, {} items on {} skills; base rates {}, correlation {}; groups of {} to {}; seed {}.",
        p.classes,
        p.students,
        p.items,
        p.skills,
        p.base_rates,
        p.correlation,
        p.group_sizes[0],
        p.group_sizes[1],
        p.seed
    )?;
    for c in &p.cells {
        let [low, high] = c.guess_and_slip;
        writeln!(out, "\nGuess and slip rates {low:.2} to {high:.2}")?;
        writeln!(out, "  {:<34}{:>10}{:>10}", "", "estimated", "ceiling")?;
        let mut line = |name: &str, a: f64, b: f64| writeln!(out, "  {name:<34}{a:>10.4}{b:>10.4}");
        line("skills judged rightly", c.estimated.attribute_accuracy, c.ceiling.attribute_accuracy)?;
        line("whole profiles judged rightly", c.estimated.profile_accuracy, c.ceiling.profile_accuracy)?;
        line("area under the ROC curve", c.estimated.area_under_curve, c.ceiling.area_under_curve)?;
        line("calibration error", c.estimated.calibration_error, c.ceiling.calibration_error)?;
        line("Brier score", c.estimated.brier, c.ceiling.brier)?;
        writeln!(out, "  minutes of a 30-minute session, a student, on a skill truly lacked")?;
        let mut arm =
            |name: &str, share: f64| writeln!(out, "  {name:<34}{:>10.1}  ({:.1} %)", share * 30.0, share * 100.0);
        arm("groups by need", c.needs_met.by_need)?;
        arm("the same, true rates known", c.needs_met.by_known_rates)?;
        arm("plain size-limited k-means", c.needs_met.by_kmeans)?;
        arm("bands of the total score", c.needs_met.by_total_score)?;
        arm("at random", c.needs_met.at_random)?;
        arm("the most any grouping could", c.needs_met.at_best)?;
        writeln!(
            out,
            "  by need over total score: {:+.1} points, 95 % interval {:+.1} to {:+.1}",
            c.gain_over_total_score * 100.0,
            c.gain_low * 100.0,
            c.gain_high * 100.0
        )?;
    }
    writeln!(
        out,
        "\nThe ceiling is one who knows the true rates; no estimate beats it on average. Where skills rise and fall together"
    )?;
    writeln!(out, "(a high correlation), the total score does nearly as well.")?;
    Ok(())
}
