//! The service over HTTP: what a script can do (`script`), what pages show (`pages`), what is refused (`attacks`).

mod attacks;
mod pages;
mod script;

pub use script::opens_with_groups;
