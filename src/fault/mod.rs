//! A problem in the user's data is a value: what, where, what was expected, what to do.
//!
//! Every stage takes a [`Report`] and adds [`Fault`]s to it instead of stopping at the first;
//! one renderer prints them all, worst first.

mod code;
mod place;
mod render;
mod report;
mod unseen;
mod wrap;

pub use code::Code;
pub use place::{At, Place, Source};
pub use render::{printable, render};
pub use report::{Fault, Report, Reported, Severity, gathered, tried};
pub use unseen::{is_unseen, looks, plain};
pub use wrap::{at_commas, broken, columns, tied, untied, wrapped};
