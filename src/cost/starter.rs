//! Figures to start with: which of them a cost rests on, and with how much.

use crate::bill::Charge;
use crate::fault::Place;
use crate::price::may_limit;
use crate::quantity::{Currency, Money, Overflow};
use crate::trade::{Basis, Shipment, Tariffs, Treatment};

/// What of a cost rests on figures that nobody quoted yet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Starters {
    /// The part of the landed cost, in the book currency.
    pub sum: Money,
    /// Where each of the figures stands, once. A lift or a limit of mass is among them: the load rests on it.
    pub places: Vec<Place>,
}

/// The figures to start with that a charge rests on: its own, or the rates of exchange of its parts.
fn of(charge: &Charge) -> Vec<&Place> {
    let parts = charge.booked.parts.iter().map(|part| &part.exchange);
    let rates = charge.exchange().into_iter().chain(parts).filter(|rate| rate.is_starter);
    let own = (charge.basis == Basis::Starter).then_some(&charge.source);
    own.into_iter().chain(rates.map(|rate| &rate.place)).collect()
}

/// Whether a charge rests on a figure to start with.
pub fn is_starter(charge: &Charge) -> bool {
    !of(charge).is_empty()
}

/// What of a shipment's cost rests on figures to start with.
///
/// # Errors
/// Where the sum cannot be held.
pub(super) fn starters(
    (shipment, tariffs): (&Shipment, &Tariffs),
    charges: &[Charge],
    currency: Currency,
) -> Result<Starters, Overflow> {
    let resting = || charges.iter().filter(|charge| is_starter(charge));
    let stock = resting().filter(|charge| charge.treatment == Treatment::Stock);
    let sum = Money::total(currency, stock.map(Charge::book))?;
    let limits = tariffs.limits.iter().filter(|row| row.is_starter && may_limit(shipment, row));
    let lift = Some(&shipment.yard.place).filter(|_| shipment.yard.is_starter);
    let mut places: Vec<Place> = Vec::new();
    for place in resting().flat_map(of).chain(lift).chain(limits.map(|row| &row.place)) {
        if !places.contains(place) {
            places.push(place.clone());
        }
    }
    Ok(Starters { sum, places })
}
