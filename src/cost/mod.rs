//! Shipment, plan and tariffs into a landed cost on every slab. Pure: same arguments, same bytes.
//!
//! ```text
//! variants   container type x road class x offers: limits and what one box costs
//! boxes      what a box costs before it is filled, and with what is in it; caused: the duty and
//!            premium that this causes
//! goods      lines, discount, packing, commission, rounding -> charges
//! rows       charge tables -> charges, each when what it is a percentage of is known;
//!            objects: what it is counted by; amounts: what it comes to; scopes: who shares it
//! duties     layers of duty as charges
//! policy     what a shipment's policies may change
//! keys       by what a charge is shared; attributed: charges on a value, by each slab's part of it
//! groups     legs taken together
//! payments   how an invoice is paid; finance: what that costs
//! cash       the payment calendar, with differences of exchange
//! landed     charges spread over slabs, to the cent
//! breakdown  slabs summed by bundle, container, line
//! explain    one slab's cents, back to file and line
//! ```

mod amounts;
mod attributed;
mod boxes;
mod breakdown;
mod cash;
mod caused;
mod duties;
mod explain;
mod finance;
mod goods;
mod groups;
mod job;
mod keys;
mod landed;
mod objects;
mod payments;
mod policy;
mod proof;
mod rows;
mod scopes;
mod variants;

pub(crate) use boxes::{Desk, Kind, billed};
pub use breakdown::{Breakdown, By, ChargeSum, Part, charge_sums};
pub use cash::{Cash, Difference, Flow, cash};
pub(crate) use caused::Caused;
pub use explain::{ExplainedCharge, Explanation, KeyPart, explain};
pub use groups::LEG_GROUPS;
pub use job::Choice;
pub(crate) use job::Job;
pub use landed::{Headline, Landed, Note, Saving};
pub(crate) use landed::{Unspread, gather, landed, unchecked, unspread};
pub(crate) use policy::check_policies;
pub use proof::{Proven, doubt_invoices, prove};
pub(crate) use variants::variants;
