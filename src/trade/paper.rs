//! What papers state of the goods, to be held against the packing list.

use crate::fault::At;
use crate::quantity::{Area, Decimal, Mass, Money};

/// What the supplier's invoice states of a line.
#[derive(Debug, Clone)]
pub struct StatedLine {
    /// The quantity, in the unit of the line's price.
    pub quantity: Option<At<Decimal>>,
    /// The amount.
    pub amount: Option<At<Money>>,
}

/// What a paper states of the whole shipment: the supplier's list, its invoice, a bill of lading.
#[derive(Debug, Clone)]
pub struct Paper {
    /// What it is, with its number.
    pub name: At<String>,
    /// How many packages it counts.
    pub packages: Option<At<u32>>,
    /// The gross mass.
    pub gross: Option<At<Mass>>,
    /// The billed area.
    pub area: Option<At<Area>>,
}
