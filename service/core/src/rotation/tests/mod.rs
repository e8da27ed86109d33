//! Tests of the whole rotation: named cases, random weeks, an exhaustive search beside it.
//! Legality is judged by `violations`, which shares no planning code with the solver.

mod cases;
mod exhaustive;
mod random;
mod repaired;
pub(super) mod setups;
mod tampered;
