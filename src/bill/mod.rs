//! What a charge is: its amount, what it was counted by, who shares it. Types and sums only.
//!
//! ```text
//! value      parts of a customs value, and of the base of a percentage
//! working    how an amount came about
//! own        what a supplier bills for each slab of a line, by which its goods go
//! object     what a charge is counted by
//! sets       the slabs that share a charge
//! lists      which sets each slab lies in
//! charge     one item of cost
//! keys       the weights of every set and key, by which charges are shared exactly
//! ```

mod charge;
mod keys;
mod lists;
mod object;
mod own;
mod sets;
mod value;
mod working;

pub use charge::{Booked, BookedPart, Charge, ChargeKind, ChargedOn, Customs, Scope, together};
pub(crate) use keys::{Spreader, WeightId, cannot_spread, weight_id};
pub(crate) use lists::{Holding, Lists};
pub use object::{Object, On};
pub use own::PricedPart;
pub(crate) use own::{Sum, Worth, counted, free_slabs, ordered};
pub(crate) use sets::{Borne, Heap, SetName, Tally};
pub use sets::{Members, SetId, Sets};
pub(crate) use value::Base;
pub use value::ValuePart;
pub use working::Working;

pub use crate::price::{Bound, Conversion, Payable, TierStep};
