//! `sheaf cluster`: size-limited k-means on any table of numbers, the engine by itself.
//!
//! The first column is an id, the first row a header, every other cell a number; no scaling is applied.
//! Rows are put in order of id first, so that their order in the file changes nothing.

use crate::input::load;
use crate::output::{is_stdout, refuse_overwriting, write_pretty};
use crate::run::Stop;
use clap::Args;
use serde::Serialize;
use sheaf_app::features::{FeatureTable, cluster_features, read_features};
use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;

#[derive(Args)]
pub struct ClusterArguments {
    /// A CSV table: an id, then numbers; the first row is a header.
    features: PathBuf,
    /// How many groups.
    #[arg(long)]
    groups: usize,
    /// Fewest rows in a group.
    #[arg(long)]
    min_size: usize,
    /// Most rows in a group.
    #[arg(long)]
    max_size: usize,
    /// Seed of every random draw.
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Write the groups as JSON to a file, or - for stdout.
    #[arg(long, value_name = "FILE")]
    json: Option<PathBuf>,
}

#[derive(Serialize)]
struct PublishedClusters<'a> {
    schema: &'static str,
    groups: usize,
    sse: f64,
    labels: BTreeMap<&'a str, usize>,
    sizes: &'a [usize],
}

pub fn run(a: &ClusterArguments, out: &mut dyn Write, _err: &mut dyn Write) -> Result<(), Stop> {
    if a.min_size == 0 || a.min_size > a.max_size || a.groups == 0 {
        return Err(Stop::Usage(
            "--groups and --min-size are at least 1, and --min-size is at most --max-size.".into(),
        ));
    }
    refuse_overwriting(&a.json, [&a.features])?;
    let loaded = load(&a.features)?;
    let table: FeatureTable = read_features(loaded.source())?;
    let clustering = cluster_features(&table, a.groups, a.min_size, a.max_size, a.seed)?;
    let published = PublishedClusters {
        schema: "sheaf.cluster/1",
        groups: clustering.sizes.len(),
        sse: clustering.sse,
        labels: table.ids.iter().map(String::as_str).zip(clustering.labels.iter().copied()).collect(),
        sizes: &clustering.sizes,
    };
    write_pretty(a.json.as_deref(), out, &published)?;
    if a.json.as_deref().is_some_and(is_stdout) {
        return Ok(());
    }
    writeln!(out, "{} groups, sum of squares {:.6}", published.groups, published.sse)?;
    for (id, label) in &published.labels {
        writeln!(out, "{id}\t{label}")?;
    }
    Ok(())
}
