//! What the items of an invoice are called as charges: the names that policies know them by.

/// The lines: what the supplier bills for the slabs.
pub const GOODS: &str = "goods";
/// A reduction on the lines.
pub const DISCOUNT: &str = "discount";
/// The line that makes an invoice round.
pub const ROUNDING: &str = "rounding of the invoice";
/// What a designated hedge adds to the cost of the goods.
pub const BASIS_ADJUSTMENT: &str = "basis adjustment";
