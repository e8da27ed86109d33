//! Acceptance tests: one binary.
