//! The command line of Sheaf.
fn main() {}
