//! Numerical methods with no school word in them: k-means, size-limited partition, silhouette, intervals, exact tests.
//!
//! In:  tables of numbers, shape (n_rows, n_columns), finite; a seed where anything is drawn.
//! Out: labels 0-based, in an order that each function states.
//! Keeps: same table and seed, same answer (`rerun_is_identical` in `cluster`).
//! Not here: what the rows mean (`grouping`, `profile`). Only `kmeans.rs` names linfa.

mod cluster;
mod exact;
mod interval;
mod kmeans;
mod partition;
mod seats;
mod settle;
mod silhouette;
mod trend;

pub use cluster::{ClusterError, Clustering, cluster_within_sizes};
pub use exact::{exact_mcnemar, fisher_exact};
pub(crate) use interval::Z_95;
pub use interval::{Difference, Interval, difference_of_shares, jeffreys_interval, jeffreys_reaches};
pub use kmeans::{KMeansError, KMeansFit, fit_kmeans};
pub use partition::{
    Capacity, GroupAim, Homes, SearchEffort, SumOfSquares, Units, partition_near_home, search_partition,
};
pub use seats::assign_within_sizes;
pub use silhouette::mean_silhouette;
pub use trend::{Trend, least_squares, least_squares_interval, theil_sen};
