//! Charges over slabs: by what they are spread, and every share to the minor unit.
//!
//! ```text
//! own        what a supplier bills for each slab of a line, by which its goods go
//! keys       the weights of every set and key
//! round      controlled rounding: shares and totals of slabs, bundles and boxes
//! shares     every charge's shares
//! ```

mod keys;
mod own;
mod round;
mod shares;

pub(crate) use keys::{Spreader, cannot_spread};
pub(crate) use own::{free_slabs, quantity, weighs_money, weight};
pub use round::{Amount, Nest, Rounded, round};
pub use shares::{Share, Shares};
