//! Nothing of its own: this crate exists for the acceptance tests in `acceptance/` and the measurements in `benches/`.
//!
//! Keeps: no other crate depends on it (`dependencies_point_one_way`), so it may name every crate of the workspace.
