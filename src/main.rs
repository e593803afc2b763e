//! The command: calls the library and returns its exit code.
fn main() {}
