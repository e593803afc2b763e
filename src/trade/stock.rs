//! Stocks of boxes on which several shipments draw.

use super::shipment::LoadWishes;
use crate::fault::At;

/// A stock of boxes that a shipment has in common with those that are loaded together with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SharedStock {
    /// Its name, the same in every shipment that draws on it.
    pub name: At<String>,
    /// The row of [`LoadWishes::available`] that counts it; `None`: it is of containers of any type,
    /// counted by [`LoadWishes::most`].
    pub row: Option<usize>,
}

/// What a stock holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Counted<'a> {
    /// The type of its boxes; `None`: any.
    pub kind: Option<&'a str>,
    /// How many there are.
    pub count: u32,
}

impl Counted<'_> {
    /// As it is said: "3 x 20-box", "3 containers".
    pub fn words(self) -> String {
        let Self { kind, count } = self;
        match kind {
            Some(kind) => format!("{count} x {kind}"),
            None if count == 1 => "1 container".to_owned(),
            None => format!("{count} containers"),
        }
    }
}

impl LoadWishes {
    /// What one of the shared stocks holds, as these wishes have it.
    pub fn counted(&self, stock: &SharedStock) -> Option<Counted<'_>> {
        match stock.row {
            Some(row) => {
                let (kind, count) = self.available.get(row)?;
                Some(Counted { kind: Some(&kind.value), count: *count })
            }
            None => Some(Counted { kind: None, count: self.most.as_ref()?.value }),
        }
    }

    /// These wishes where only so many boxes of each shared stock are to be had, in their order.
    #[must_use]
    pub fn with_shares(&self, shares: &[u32]) -> Self {
        let mut own = self.clone();
        for (stock, share) in self.shared.iter().zip(shares) {
            match stock.row {
                Some(row) => {
                    if let Some((_, count)) = own.available.get_mut(row) {
                        *count = *share;
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
