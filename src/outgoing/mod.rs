//! What may leave the house: the list, and the types that carry what passes it and nothing else.
//!
//! Decided on 2026-11-27. A page, drawing, file or letter for others is made from these types alone, so that
//! a fact of ours does not leave the house because it came to a shipment. Money is in none of them but the
//! price that the user asks for. A limit of ours leaves as a wish in the user's own words, without its
//! reason. A load that does not hold is sent to nobody.
//!
//! In a shipment of several suppliers each sees his own bundles. In a container that he shares he sees where
//! they stand and that other goods come; sums and the centre of gravity of such a container stay, as they
//! would tell the mass of the others' goods. A bundle with slabs of two suppliers is shown to neither. The
//! title of a shipment and the names of its tables' rows stay: they may hold anything.
//! Decided on 2026-11-28. A haulier's page says what law and ratings allow his axles: the one is public, the other
//! stands on his own plates, and a truck scale's ticket is read against both. What is customary on a road, what a
//! carrier asks, and by how much we keep below a limit stay ours.
//! Masses are as the mass sheet has them, without the margin that limits are checked with. A tag's has that margin:
//! whoever lifts the slab must not be told too little.

mod bundle;
mod goods;
mod hold;
mod letter;
mod list;
mod load;
mod rig;
mod tag;

pub use bundle::OutgoingBundle;
pub use goods::{Goods, OwnLine};
pub use hold::{Hold, Struts};
pub use letter::{Letter, Requests};
pub use list::{Audience, Fact, LIST};
pub use load::{Haulage, OutgoingBox, OutgoingLoad};
pub use rig::{Axle, Hole, Line, Rig};
pub use tag::Tag;
