//! What a charge is: its amount, what it was counted by, who shares it. Types and sums only.
//!
//! ```text
//! value      parts of a customs value, and of the base of a percentage
//! working    how an amount came about
//! sets       the slabs that share a charge
//! charge     one item of cost
//! ```

mod charge;
mod sets;
mod value;
mod working;

pub use charge::{BookedPart, Charge, ChargeKind, ChargedOn, Customs, Priced, Scope};
pub use sets::{SetId, Sets};
pub(crate) use sets::{SetName, Tally};
pub(crate) use value::Base;
pub use value::ValuePart;
pub use working::Working;

pub use crate::price::{Bound, Conversion, Payable, TierStep};
