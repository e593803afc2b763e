//! Pages of the books, and the files of a booked estimate.

mod booked;
mod freeze;

pub use booked::booked;
pub use freeze::freeze_files;
