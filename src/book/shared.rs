//! What a booked estimate has of one slab: every list of charges that it shares, and its share to the cent.

use crate::quantity::{Exact, Money, Overflow};
use crate::trade::{Freeze, FrozenCharge};

/// One list of charges that a slab shares.
#[derive(Debug)]
pub struct Shared<'a> {
    /// Its charges.
    pub charges: Vec<&'a FrozenCharge>,
    /// What they come to in the books.
    pub book: Money,
    /// The slab's share before it is rounded.
    pub exact: Exact,
    /// Its share.
    pub share: Money,
}

/// The lists of charges that a slab shares, in the order of the estimate.
///
/// # Errors
/// Where a sum cannot be held.
pub fn shared(freeze: &Freeze, slab: usize) -> Result<Vec<Shared<'_>>, Overflow> {
    let mut all = Vec::new();
    for (at, sharing) in freeze.sharings.iter().enumerate() {
        let Some(position) = sharing.slabs.iter().position(|one| *one == slab) else { continue };
        let own = freeze.charges.iter().filter(|charge| charge.sharing == at);
        let charges: Vec<&FrozenCharge> = own.collect();
        let book = Money::total(freeze.currency, charges.iter().map(|charge| charge.book))?;
        let exact = sharing.weights.share(&Exact::from(book), std::iter::once(position));
        let share = sharing.shares.get(position).copied().unwrap_or(0);
        let share = Money::from_minor(share, freeze.currency);
        all.push(Shared { charges, book, exact, share });
    }
    Ok(all)
}
