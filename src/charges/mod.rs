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
//! rows       charge tables -> charges, each when what it is a percentage of is known;
//!            objects: what it is counted by; amounts: what it comes to; scopes: who shares it
//! duties     layers of duty as charges
//! charged    all of them, and whether every leg has one
//! ```

mod amounts;
mod attributed;
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
mod variants;

pub(crate) use boxes::{Desk, Kind, billed};
pub(crate) use caused::Caused;
pub use charged::Saving;
pub(crate) use charged::{Charged, charged, gather, unchecked};
pub(crate) use finance::{by_payment, is_paid};
pub use job::Choice;
pub(crate) use job::Job;
pub(crate) use payments::Paid;
pub(crate) use policy::check_policies;
pub(crate) use variants::variants;
