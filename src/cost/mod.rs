//! Shipment, plan and tariffs into a landed cost on every slab. Pure: same arguments, same bytes.
//!
//! ```text
//! offers     every choice of offers -> variants -> plan -> charges; the cheapest is kept
//! variants   container type x road class x offers: limits and what one box costs
//! boxes      what a box costs before it is filled, and with what is in it; caused: the duty and
//!            premium that this causes
//! goods      lines, discount, packing, commission, rounding -> charges
//! rows       charge tables -> charges, each when what it is a percentage of is known;
//!            objects: what it is counted by; amounts: what it comes to; scopes: who shares it
//! customs    entries and their lines; lots: which goods are on which; values: what makes their
//!            customs values; layers: duty -> charges; taxed: the base of an import tax;
//!            delivered: the value inside a price delivered duty paid
//! groups     legs taken together
//! payments   how an invoice is paid; finance: what that costs
//! cash       the payment calendar, with differences of exchange
//! landed     charges spread over slabs, to the cent
//! breakdown  slabs summed by bundle, container, line
//! quoted     legs inside a seller's price, at our own rates
//! worksheet  each entry with its fees, for a broker
//! together   shipments that compete for the same boxes; stocks: what they share; tried: what was
//!            planned for each share; share: the best way to share out
//! explain    one slab's cents, back to file and line
//! ```

mod amounts;
mod boxes;
mod breakdown;
mod cash;
mod caused;
mod customs;
mod delivered;
mod explain;
mod finance;
mod goods;
mod groups;
mod job;
mod landed;
mod layers;
mod lots;
mod objects;
mod offers;
mod payments;
mod proof;
mod quoted;
mod rows;
mod scopes;
mod share;
mod stocks;
mod taxed;
mod together;
mod tried;
mod values;
mod variants;
mod worksheet;

pub use breakdown::{Breakdown, By, ChargeSum, Part, charge_sums};
pub use cash::{Cash, Difference, Flow, cash};
pub use customs::{Entry, EntryLine, MemoFee};
pub use explain::{ExplainedCharge, Explanation, KeyPart, explain};
pub use groups::LEG_GROUPS;
pub use job::Choice;
pub use landed::{Headline, Landed, Note, Saving};
pub use layers::Layer;
pub use offers::{Costed, Other, estimate};
pub use proof::{Proven, prove};
pub use quoted::{OwnLeg, own_legs};
pub use stocks::Stock;
pub use together::{Refused, Shared, Short, Sums, Together, together};
pub use worksheet::{Levy, Sheet, worksheet};
