//! Customs: entries, customs values, duty, and the worksheet for a broker. It works on charges; the room
//! that makes charges calls it, never the other way.
//!
//! ```text
//! case       what customs are worked out of; the regime and the certified rate of a day
//! entry      an entry, its lines, their layers of duty
//! lots       which goods are on which entry
//! parts      exact parts of a charge by lot: by what it was counted by
//! values     what makes the customs value of each lot
//! layers     which layers apply to a line, and what they come to: apply, once
//! taxed      the base of an import tax
//! delivered  the value inside a price delivered duty paid
//! enter      every entry of a shipment
//! worksheet  each entry with its fees, for a broker
//! ```

mod case;
mod delivered;
mod enter;
mod entry;
mod layers;
mod lots;
mod parts;
mod taxed;
mod values;
mod worksheet;

pub(crate) use case::Case;
pub(crate) use enter::{enter, look_for_rates, marginal};
pub use entry::{Entry, EntryLine, Layer, MemoFee};
pub use layers::{DutyPiece, apply};
pub(crate) use lots::only_filing;
pub(crate) use taxed::taxed_value;
pub use worksheet::{Levy, Sheet, worksheet};
