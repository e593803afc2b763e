//! Pages of the books, and the files of a booked estimate.

mod audit;
mod booked;
mod freeze;
mod journal;
mod settle;
mod stock;

pub use audit::audit;
pub use booked::booked;
pub use freeze::freeze_files;
pub use journal::journal;
pub use settle::settle;
pub use stock::stock;
