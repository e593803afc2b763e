//! Charges over slabs, every share to the minor unit.
//!
//! ```text
//! bits       yes or no for each of many
//! round      controlled rounding: shares and totals of slabs, bundles and boxes
//! shares     every charge's shares
//! ```

mod bits;
mod round;
mod shares;

pub use bits::Bits;
pub use round::{Amount, Nest, round};
pub use shares::{Share, Shares};
