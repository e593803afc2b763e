//! Charges over slabs, every share to the minor unit.
//!
//! ```text
//! round      controlled rounding: shares and totals of slabs, bundles and boxes
//! shares     every charge's shares
//! ```

mod round;
mod shares;

pub use round::{Amount, Nest, Rounded, round};
pub use shares::{Share, Shares};
