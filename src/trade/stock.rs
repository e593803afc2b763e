//! Stocks of boxes on which several shipments draw.

use super::wishes::{Available, LoadWishes, SharedStock};
use crate::fault::At;

/// What a stock holds.
#[derive(Debug, Clone, Copy)]
pub struct Counted<'a> {
    /// The row that counts boxes of its kind; `None`: they are of any.
    pub of: Option<&'a Available>,
    /// How many there are.
    pub count: u32,
}

impl Counted<'_> {
    /// As it is said: "3 x 20' GP", "3 containers".
    pub fn words(self) -> String {
        let Self { of, count } = self;
        match of {
            Some(of) => format!("{count} x {}", of.label()),
            None if count == 1 => "1 container".to_owned(),
            None => format!("{count} containers"),
        }
    }

    /// Whether two are said of the same boxes.
    pub fn is_same(self, other: Counted<'_>) -> bool {
        let kind = match (self.of, other.of) {
            (Some(one), Some(other)) => one.is_same_kind(other),
            (one, other) => one.is_none() && other.is_none(),
        };
        kind && self.count == other.count
    }
}

impl LoadWishes {
    /// What one of the shared stocks holds, as these wishes have it.
    pub fn counted(&self, stock: &SharedStock) -> Option<Counted<'_>> {
        match stock.row {
            Some(row) => {
                let of = self.available.get(row)?;
                Some(Counted { of: Some(of), count: of.count })
            }
            None => Some(Counted { of: None, count: self.most.as_ref()?.value }),
        }
    }

    /// Each of the shared stocks: its name, and what it holds.
    pub fn stocks(&self) -> impl Iterator<Item = (&At<String>, Counted<'_>)> {
        self.shared.iter().filter_map(|stock| Some((&stock.name, self.counted(stock)?)))
    }

    /// These wishes where only so many boxes of each shared stock are to be had, in their order.
    #[must_use]
    pub fn with_shares(&self, shares: &[u32]) -> Self {
        let mut own = self.clone();
        for (stock, share) in self.shared.iter().zip(shares) {
            match stock.row {
                Some(row) => {
                    if let Some(had) = own.available.get_mut(row) {
                        had.count = *share;
                    }
                }
                None => {
                    if let Some(most) = &mut own.most {
                        most.value = *share;
                    }
                }
            }
        }
        own
    }
}
