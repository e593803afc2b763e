//! What slabs in stock are sold at, and when a stone must be ordered again.

mod classes;
mod cover;
mod ending;
mod line;
mod list;
mod priced;
mod rules;
mod singles;

pub use classes::{Lot, classes};
pub use cover::{Cover, Late, cover};
pub use line::PriceLine;
pub use list::{Listing, price_list};
pub use singles::{Single, Why};
