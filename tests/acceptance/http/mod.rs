//! The service over HTTP, each test on a real one of its own with a free port.
//!
//! What a script can do is in `script`, what pages show in `pages`, what is refused in `attacks`, what stays in `unchanged`.

mod attacks;
mod changes;
pub mod decide;
mod described;
mod over_tls;
mod pages;
mod repair;
mod script;
mod swap;
mod unchanged;

pub use pages::{OF_A_CHILD, PAGES};
pub use script::opens_with_groups;
