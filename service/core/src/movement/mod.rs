//! movement
