//! Pages of the books, and the files of a booked estimate.

mod arrive;
mod audit;
mod booked;
mod cover;
mod events_text;
mod explained;
mod freeze;
mod journal;
mod price;
mod settle;
mod stock;
mod stock_sheet;
mod worth;

pub use arrive::{Proposed, arrive};
pub use audit::audit;
pub use booked::booked;
pub use cover::cover;
pub(super) use cover::goods_in_words;
pub use events_text::events_text;
pub use explained::explained_booked;
pub use freeze::freeze_files;
pub use journal::{Lines, journal};
pub(super) use price::why;
pub use price::{prices, showroom};
pub use settle::settle;
pub use stock::{consigned, stock, stock_by};
pub use worth::worth;
