//! Charges into a landed cost on every slab. Pure: same arguments, same bytes.
//!
//! ```text
//! groups     legs taken together
//! shift      the shift from sharing charges on a value by that value
//! carried    rates and prices that serve on after they have lapsed
//! aged       published figures that were read long ago
//! starter    figures to start with, which nobody quoted yet
//! landed     charges spread over slabs, to the cent
//! cash       the payment calendar, with differences of exchange
//! breakdown  slabs summed by bundle, container, line
//! explain    one slab's cents, back to file and line
//! twice      finance that is counted twice
//! proof      documents against the packing list
//! ```

mod aged;
mod breakdown;
mod carried;
mod cash;
mod explain;
mod groups;
mod landed;
mod proof;
mod shift;
mod starter;
mod twice;

pub use breakdown::{Breakdown, By, ChargeSum, Part, charge_sums};
pub use carried::Carried;
pub use cash::{Cash, Difference, Flow, cash};
pub use explain::{ExplainedCharge, Explanation, KeyPart, explain};
pub use groups::LEG_GROUPS;
pub(crate) use landed::landed;
pub use landed::{Headline, Landed, Note};
pub use proof::{Proven, doubt_invoices, prove};
pub use starter::{Starters, is_starter};
pub use twice::doubt_finance;
