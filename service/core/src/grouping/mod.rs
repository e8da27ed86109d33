//! grouping
