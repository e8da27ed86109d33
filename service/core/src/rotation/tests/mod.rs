//! Tests of the whole rotation: named cases, random weeks, an exhaustive search beside it.

mod cases;
mod exhaustive;
mod random;
pub(super) mod setups;
mod tampered;
