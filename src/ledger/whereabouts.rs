//! Where a slab is, and with it the account that holds its cost.

use smol_str::SmolStr;

use crate::trade::{Account, Use};

/// Where a slab is, and with it the account that holds its cost.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Where {
    /// It is not the importer's yet.
    Abroad,
    /// It is on the way.
    Transit,
    /// It stands in a yard.
    Yard(SmolStr),
    /// It left stock.
    Issued(Use),
    /// It is lost.
    Lost,
    /// It went back to the supplier.
    SentBack,
    /// It was cut, and its pieces have its cost, but for that of abnormal waste.
    Cut,
}

/// How a slab was lost, or cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lost {
    /// The event, in the order of the fold.
    pub rank: usize,
    /// Who takes of its cost, by position among the losses.
    pub set: usize,
}

impl Where {
    /// The account that holds the cost of what is there, and its yard.
    pub fn account(&self) -> (Account, &str) {
        match self {
            Self::Abroad | Self::Transit => (Account::Transit, ""),
            Self::Yard(yard) => (Account::Yard, yard),
            Self::Issued(Use::Sold) => (Account::CostOfSales, ""),
            Self::Issued(Use::Own | Use::Sample) => (Account::Used, ""),
            Self::Lost | Self::Cut => (Account::Loss, ""),
            Self::SentBack => (Account::SentBack, ""),
        }
    }

    /// The word of a list.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Abroad => "not ours yet",
            Self::Transit => "in transit",
            Self::Yard(_) => "on hand",
            Self::Issued(Use::Sold) => "sold",
            Self::Issued(Use::Own) => "used",
            Self::Issued(Use::Sample) => "given as a sample",
            Self::Lost => "lost",
            Self::SentBack => "sent back",
            Self::Cut => "cut",
        }
    }

    /// Whether it is stock on hand.
    pub fn is_on_hand(&self) -> bool {
        matches!(self, Self::Yard(_))
    }

    /// Whether it is stock.
    pub fn is_stock(&self) -> bool {
        matches!(self, Self::Transit | Self::Yard(_))
    }
}
