//! JSON for scripts, from structs of its own: renaming a field inside the program cannot change
//! what a script reads. Integers are numbers, decimals are strings in full minor units.

mod booked;
mod books;
mod cash;
mod check;
mod compare;
mod cost;
mod counter;
mod explain;
mod import;
mod layout;
mod load;
mod outgoing;
mod over;
mod parts;
mod ports;
mod rates;
mod saw;
mod sell;
mod starter;
mod sweep;
mod together;
mod verdict;
mod what_if;

pub use booked::{booked, explained_booked};
pub use books::{arrive, audit, grouped, journal, settle, stock};
pub use cash::cash;
pub use check::check;
pub use compare::compare;
pub use cost::cost;
pub use counter::counter;
pub use explain::explain;
pub use import::{import, proforma};
pub use load::load;
pub use outgoing::{letter, outgoing_load};
pub use over::over;
pub(super) use parts::{FORMAT, exact, plain, write};
pub use ports::ports;
pub use rates::rates;
pub use saw::saw;
pub use sell::{cover, prices, worth};
pub use starter::{begun, starters};
pub use sweep::sweep;
pub use together::together;
pub use what_if::what_if;
