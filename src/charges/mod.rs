//! The importer's bills: every charge of a loaded shipment, and the charges of a box before it is filled.
//! Pure: same arguments, same bytes.
//!
//! ```text
//! job        what one calculation is about: a shipment, the tables, a plan, a choice of offers
//! policy     what a shipment's policies may change; prices: whether the suppliers' prices hold
//! keys       the key of a charge; attributed: charges on a value, by each slab's part
//! payments   how an invoice is paid; finance: the cost of it
//! goods      lines, discount, packing, commission, rounding -> charges
//! variants   container type x road class x offers: limits and what one box costs
//! boxes      the cost of a box before it is filled and after; caused: the duty and
//!            premium that this causes
//! schedule   what the rows charge, looked for once where figures alone move
//! sums       the charges so far, and the current turn
//! objects    the things a row counts
//! scopes     who shares its charge
//! bases      the base of a percentage
//! amounts    the charge of a row for one object
//! duties     layers of duty as charges
//! rows       the schedule: each purpose when what it is a percentage of is known
//! charged    all of them, and whether every leg has one
//! ```

mod amounts;
mod attributed;
mod bases;
mod boxes;
mod caused;
mod charged;
mod duties;
mod finance;
mod goods;
mod job;
mod keys;
mod objects;
mod payments;
mod policy;
mod prices;
mod rows;
mod schedule;
mod scopes;
mod sums;
mod variants;

pub(crate) use attributed::by_slab;
pub(crate) use boxes::{KindOfBox, billed};
pub(crate) use caused::Caused;
pub use charged::Saving;
pub(crate) use charged::{Charged, charged, decision, gather, unchecked};
pub(crate) use finance::{by_payment, is_paid};
pub use job::Choice;
pub(crate) use job::{Desk, Job};
pub(crate) use payments::Paid;
pub(crate) use policy::check_policies;
pub(crate) use prices::check_prices;
pub(crate) use schedule::Schedule;
pub(crate) use variants::variants;
