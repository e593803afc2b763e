//! What an importer is billed: every charge of a shipment in its boxes, and what a box costs beforehand.
//! Pure: same arguments, same bytes.
//!
//! ```text
//! job        what one calculation is about: a shipment, the tables, a plan, a choice of offers
//! policy     what a shipment's policies may change
//! keys       by what a charge is shared; attributed: charges on a value, by each slab's part of it
//! payments   how an invoice is paid; finance: what that costs
//! goods      lines, discount, packing, commission, rounding -> charges
//! variants   container type x road class x offers: limits and what one box costs
//! boxes      what a box costs before it is filled, and with what is in it; caused: the duty and
//!            premium that this causes
//! sums       the charges so far, and whose turn it is
//! objects    what a row is counted by
//! scopes     who shares its charge
//! bases      what a percentage is of
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
mod rows;
mod scopes;
mod sums;
mod variants;

pub(crate) use attributed::by_slab;
pub(crate) use boxes::{Kind, billed};
pub(crate) use caused::Caused;
pub use charged::Saving;
pub(crate) use charged::{Charged, charged, gather, unchecked};
pub(crate) use finance::{by_payment, is_paid};
pub use job::Choice;
pub(crate) use job::{Desk, Job};
pub(crate) use payments::Paid;
pub(crate) use policy::check_policies;
pub(crate) use variants::variants;
