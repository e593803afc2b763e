//! One row on one object: what it comes to. Pure: no plan, no sets of slabs, no entries, no report.
//!
//! ```text
//! legs       which legs the importer bears, and when each falls
//! pick       which row serves
//! terms      what a price may depend on beside its row and its object
//! counting   days, hours, months, tiers
//! exchange   an amount into another currency, by use and date
//! when       when a charge is paid, and the day it is booked on
//! counted    what a row is counted by
//! amount     rate -> exact -> floor and cap -> one rounding -> into the book currency
//! order      who waits for whom
//! boxes      the bill of one box: the loader's price of it and the charges for it
//! why        why a price cannot be had: a reason with its figures, made a fault in one place
//! ```

mod amount;
mod boxes;
mod counted;
mod counting;
mod exchange;
mod legs;
mod order;
mod pick;
mod terms;
mod when;
mod why;

pub use amount::{Bound, How, Priced, Quantity, amount, bound_on, charged, insured_value, premium};
pub use boxes::{BoxCharge, Contents, Inside, alike, box_bill, is_carried, least, tops, total};
pub use counted::{
    asked_for, by_box, by_entry, by_gross, goes_by_entry, is_part, part_of, scope_of,
};
pub use counting::{TierStep, Times, interest_on};
pub use exchange::{
    Conversion, SERVICES, Target, certified, certified_in, convert, convert_on, row_on,
};
pub use legs::{event_of, importer_bears, importer_pays, is_import_tax, must_have_row};
pub use order::{Order, Positions, Step, order};
pub use pick::{
    Purpose, Serving, asked, chosen_by, may_apply, may_fit, may_limit, purposes, serving,
};
pub use terms::{BoxKey, Terms};
pub use when::{Payable, booked_on, day_of, duty_due, payable};
pub use why::{Dated, Found, Reason, Why, looked_up, the_one, told, told_all};
