//! One file a command: its arguments and what it does with them.
//!
//! Not here: exit codes (`run`), reading and writing of files (`input`, `output`).

pub mod account;
pub mod care;
pub mod check;
pub mod cluster;
pub mod movement;
pub mod plan;
pub mod repair;
pub mod serve;
pub mod simulate;
pub mod tickets;
