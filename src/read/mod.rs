//! Files into trade types, every value with its place.
//!
//! The only room that knows the keys and columns of the user's files. A reader that fails returns the fault it
//! told; it reads all of its keys first, so that the faults of all are found. `None` is a key left out.

mod alike;
mod answers;
mod arrival;
mod books;
mod cells;
mod duty;
mod filing;
mod keys;
mod packing;
mod papers;
mod payment_words;
mod payments;
mod plan;
mod rigs;
mod rows;
mod schema;
mod shipment;
mod slips;
mod sweep;
mod syntax;
mod table;
mod tables;
mod timing;
mod wishes;
mod workspace;

pub use alike::as_said;
pub use answers::{Kept, answers, answers_file, only_supplier};
pub use arrival::arrival;
pub use books::{
    Across, Books, Shelf, Spot, Workings, booked, books, exported, freeze_folder, is_rate_asked,
    is_rate_asked_of_all, misspelt,
};
pub use packing::{
    Heading, Word, date_as_range, folded, headers, heading, is_side, slab_range, unit_of, words,
};
pub use payments::payments_in_words;
pub use plan::is_plan;
pub use schema::{schema, schemas};
pub use shipment::{Asked, on_offer, other_plan, shipment, ways_of};
pub use slips::{dates, day_and_month, day_meant, figure_in_words, inches, meant, no_such_day};
pub use sweep::sweep;
pub use table::nearest;
pub use tables::{accounts, named_ports, tables, tariffs};
pub use workspace::Workspace;
