//! Charges over slabs: by what they are spread, and every share to the minor unit.
//!
//! ```text
//! keys       the weights of every set and key
//! round      controlled rounding: shares and totals of slabs, bundles and boxes
//! shares     every charge's shares
//! ```

mod keys;
mod round;
mod shares;

pub(crate) use keys::{Spreader, cannot_spread};
pub use round::{Amount, Nest, Rounded, round};
pub use shares::{Share, Shares};
