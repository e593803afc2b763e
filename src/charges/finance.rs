//! Interest on what is paid, from the day each payment is made.
//!
//! Decided on 2026-11-25. Interest runs from each payment to the event, and on nothing paid after it. What
//! comes back stops bearing interest, and interest bears none itself.

use super::payments::Paid;
use crate::bill::{Charge, Payable, Working};
use crate::quantity::{Currency, Decimal, Money, Overflow, SpreadError, Weights};
use crate::trade::{Date, Treatment};

/// What has been paid for a shipment, in the book currency.
pub(super) fn paid_for(charges: &[Charge], book: Currency) -> Result<Money, Overflow> {
    let paid = charges.iter().filter(|charge| is_paid(charge));
    Money::total(book, paid.map(Charge::book))
}

/// What is paid on each day, which interest runs on.
pub(super) fn all_flows(
    charges: &[Charge],
    plans: &[Vec<Paid>],
) -> Result<Vec<(Date, Money)>, Overflow> {
    let mut all: Vec<(Date, Money)> = Vec::new();
    let mut add = |day: Date, amount: Money| -> Result<(), Overflow> {
        match all.iter_mut().find(|(known, _)| *known == day) {
            Some((_, sum)) => *sum = sum.plus(amount)?,
            None => all.push((day, amount)),
        }
        Ok(())
    };
    for charge in charges.iter().filter(|charge| is_paid(charge)) {
        flows(charge, plans, &mut add)?;
    }
    Ok(all)
}

/// Whether a charge is paid out: all are, but notional charges and interest.
pub(crate) fn is_paid(charge: &Charge) -> bool {
    charge.treatment != Treatment::Notional
        && charge.payable != Payable::Never
        && !matches!(charge.booked.working, Working::Interest { .. })
}

/// Adds the payments of a charge by day, in the book currency; a refund is below nothing.
fn flows(
    charge: &Charge,
    plans: &[Vec<Paid>],
    add: &mut impl FnMut(Date, Money) -> Result<(), Overflow>,
) -> Result<(), Overflow> {
    match charge.payable {
        Payable::On(day, back) => {
            add(day, charge.book())?;
            back.map_or(Ok(()), |back| add(back, charge.book().negated()))
        }
        Payable::Never => Ok(()),
        Payable::ByPlan(invoice) => {
            // Each invoice has its plan.
            let plan = plans.get(invoice).map_or(&[][..], Vec::as_slice);
            let mut all = plan.iter().zip(by_payment(charge, plan)?);
            all.try_for_each(|(paid, amount)| add(paid.day, amount))
        }
    }
}

/// A charge's book amount by the payments of its invoice: each part with a rate of its own is divided over
/// its payments by their amounts.
pub(crate) fn by_payment(charge: &Charge, plan: &[Paid]) -> Result<Vec<Money>, Overflow> {
    let book = charge.book().currency();
    let mut amounts = vec![Money::zero(book); plan.len()];
    let every: Vec<(usize, Decimal)> =
        plan.iter().enumerate().map(|(at, paid)| (at, paid.amount.amount())).collect();
    let parts: Vec<(Money, &[(usize, Decimal)])> = if charge.booked.parts.is_empty() {
        vec![(charge.book(), &every)]
    } else {
        charge.booked.parts.iter().map(|part| (part.book, &part.payments[..])).collect()
    };
    for (amount, own) in parts {
        let weights = own.iter().map(|(_, weight)| *weight);
        let shares = match Weights::of(weights).and_then(|weights| weights.divide(amount)) {
            Ok(shares) => shares,
            // Payments of nothing: whatever there is belongs to the first.
            Err(SpreadError::NoWeight) => vec![amount.minor()?],
            Err(_) => return Err(Overflow { what: "a part of a payment" }),
        };
        for ((at, _), share) in own.iter().zip(shares) {
            if let Some(sum) = amounts.get_mut(*at) {
                *sum = sum.plus(Money::from_minor(share, book))?;
            }
        }
    }
    Ok(amounts)
}
