//! What slabs in stock are sold at, and when a stone must be ordered again.

mod classes;
mod cover;
mod ending;
mod line;
mod list;
mod priced;
mod rules;
mod singles;
mod units;
mod worth;

pub use classes::classes;
pub use cover::{Cover, Late, Unwatched, cover, unwatched};
pub use line::PriceLine;
pub use list::{Listing, price_list};
pub use singles::{Single, Why};
pub use worth::{Tested, Tests, tested};
