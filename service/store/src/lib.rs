//! The records, in SQLite.
