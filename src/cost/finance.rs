//! Interest on what is paid, from the day each payment is made.

use super::payments::Paid;
use super::rows::Builder;
use crate::bill::{Charge, Payable, Working};
use crate::quantity::{Currency, Exact, Money, Percent, SpreadError, Weights};
use crate::trade::{Date, Interest, Treatment};

impl Builder<'_, '_> {
    /// What has been paid for a shipment, in the book currency.
    pub(super) fn paid_for(&self, book: Currency) -> Option<Money> {
        Money::total(book, self.paid_charges().map(Charge::book)).ok()
    }

    /// Charges that money is paid out for: all but what is only weighed, and interest itself.
    fn paid_charges(&self) -> impl Iterator<Item = &Charge> {
        self.charges.iter().filter(|charge| is_paid(charge))
    }

    /// The interest on every payment from its day until an event, unrounded: amount x days x yearly
    /// rate / days of the year. Money that is not out yet costs nothing; what comes back earlier
    /// stops to cost.
    pub(super) fn interest(&self, rate: Percent, terms: Interest) -> Option<Exact> {
        let until = self.job.shipment.dates.of(terms.until);
        let mut sum = Exact::zero(self.job.shipment.yard.currency);
        for charge in self.paid_charges() {
            for (day, amount) in flows(charge, &self.plans)? {
                sum = sum.plus(&interest_on(amount, day, until, rate, terms)).ok()?;
            }
        }
        Some(sum)
    }
}

/// Whether money is paid out for a charge.
pub(super) fn is_paid(charge: &Charge) -> bool {
    charge.treatment != Treatment::Notional
        && !matches!(charge.priced.working, Working::Interest { .. })
}

/// The interest on one payment.
pub(super) fn interest_on(
    amount: Money,
    day: Date,
    until: Date,
    rate: Percent,
    terms: Interest,
) -> Exact {
    let days = u128::try_from((until - day).num_days()).unwrap_or(0);
    Exact::from(amount).percent(rate).weighed(days, u128::from(terms.days_in_year))
}

/// When money moves for a charge, in the book currency; what comes back is below nothing.
pub(super) fn flows(charge: &Charge, plans: &[Vec<Paid>]) -> Option<Vec<(Date, Money)>> {
    match charge.payable {
        Payable::On(day, None) => Some(vec![(day, charge.book())]),
        Payable::On(day, Some(back)) => {
            Some(vec![(day, charge.book()), (back, charge.book().negated())])
        }
        Payable::ByPlan(invoice) => {
            let plan = plans.get(invoice)?;
            Some(plan.iter().map(|paid| paid.day).zip(by_payment(charge, plan)?).collect())
        }
    }
}

/// A charge's book amount by the payments of its invoice: each part that has a rate of its own
/// goes over the payments it is made of, by what they come to.
pub(super) fn by_payment(charge: &Charge, plan: &[Paid]) -> Option<Vec<Money>> {
    let book = charge.book().currency();
    let mut amounts = vec![Money::zero(book); plan.len()];
    let every: Vec<usize> = (0..plan.len()).collect();
    let parts: Vec<(Money, &[usize])> = if charge.priced.parts.is_empty() {
        vec![(charge.book(), &every)]
    } else {
        charge.priced.parts.iter().map(|part| (part.book, &part.payments[..])).collect()
    };
    for (amount, own) in parts {
        let weights = own.iter().filter_map(|at| plan.get(*at)).map(|paid| paid.amount.amount());
        let shares = match Weights::of(weights).and_then(|weights| weights.divide(amount)) {
            Ok(shares) => shares,
            // Payments of nothing: whatever there is belongs to the first.
            Err(SpreadError::NoWeight) => vec![amount.minor().ok()?],
            Err(_) => return None,
        };
        for (at, share) in own.iter().zip(shares) {
            if let Some(sum) = amounts.get_mut(*at) {
                *sum = sum.plus(Money::from_minor(share, book)).ok()?;
            }
        }
    }
    Some(amounts)
}
