//! Acceptance tests live in `acceptance/`.
