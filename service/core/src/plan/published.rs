//! The published JSON of a plan: `sheaf.plan/1`.
