//! A class under a rule: what is aimed at, the least, and what is asked for an amount.

use super::ending::up;
use super::units::units_of;
use crate::fault::{Code, Fault, Report, Reported};
use crate::ledger::Listed;
use crate::quantity::{Currency, Exact, Fraction, Money, Overflow, Percent};
use crate::trade::{Aim, Class, Ending, ExceptionRow, SellingRow, SoldBy};

/// A class under a rule.
pub(super) struct Priced<'a, 'l> {
    pub(super) class: &'a Class,
    pub(super) row: &'l SellingRow,
}

impl Priced<'_, '_> {
    /// How many units of the price some slabs are.
    pub(super) fn units_of(&self, slabs: &[Listed<'_>]) -> Result<Fraction, Overflow> {
        units_of(slabs, (self.row.by, self.row.sold))
    }

    /// What is aimed at for a cost, without tax.
    pub(super) fn aimed(&self, cost: &Exact) -> Exact {
        match self.row.aim {
            Aim::Margin(margin) => cost.grossed_up(margin).unwrap_or_else(|| cost.clone()),
            Aim::Markup(markup) => {
                cost.plus(&cost.percent(markup)).unwrap_or_else(|_| cost.clone())
            }
        }
    }

    /// The least for a cost, without tax.
    pub(super) fn least(&self, cost: &Exact) -> Exact {
        cost.grossed_up(self.row.least).unwrap_or_else(|| cost.clone())
    }

    /// What is asked for an amount without tax in the currency of the books: with tax, in the currency of the
    /// list, at its ending.
    pub(super) fn asked(
        &self,
        net: &Exact,
        ending: &Ending,
        report: &mut Report,
    ) -> Result<Money, Reported> {
        let taxed = match self.row.tax {
            Some(tax) => report.fits(net.plus(&net.percent(tax)), &self.row.place)?,
            None => net.clone(),
        };
        let listed = match &self.row.exchange {
            Some(quote) => taxed.converted(quote),
            None => Some(taxed),
        };
        let Some(listed) = listed else {
            return Err(self.other_currency(net.currency(), report));
        };
        let currency = listed.currency();
        let is_other = match ending {
            Ending::Minor => false,
            Ending::Step(step) => step.currency() != currency,
            Ending::Endings(all) => all.iter().any(|one| one.currency() != currency),
        };
        if is_other {
            return Err(self.other_currency(currency, report));
        }
        report.fits(up(&listed, ending), &self.row.place)
    }

    fn other_currency(&self, books: Currency, report: &mut Report) -> Reported {
        report.error(
            Fault::error(
                Code::Contradiction,
                format!("the list of {} is not in {books}", self.class.yard),
            )
            .at(&self.row.place, "this row's currencies do not meet")
            .help(format!(
                "the list is in the currency of the yard's books, or `exchange` leads there from {books}; `step` and `endings` are in the currency of the list"
            )),
        )
    }

    /// The price of an exception, which must be per the unit and in the currency of the list.
    pub(super) fn of_exception(
        &self,
        row: &ExceptionRow,
        listed: Currency,
        report: &mut Report,
    ) -> Result<Money, Reported> {
        let is_like = (row.price.by, row.price.currency) == (self.row.by, listed);
        match Money::exactly(row.price.amount, row.price.currency).filter(|_| is_like) {
            Some(money) => Ok(money),
            None => Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("an exception is not priced as the list of \"{}\" is", self.row.tier),
                )
                .at(&row.place, row.price.to_string())
                .also(&self.row.place, format!("the list is in {listed}/{}", self.row.by.word()))
                .help(
                    "write the exception per the same unit, to the minor unit of the same currency",
                ),
            )),
        }
    }

    /// A price of the list without tax, in the currency of the books.
    pub(super) fn net(&self, price: Money) -> Exact {
        let price = Exact::from(price);
        let booked = match &self.row.exchange {
            Some(quote) => price.converted(quote).unwrap_or(price),
            None => price,
        };
        let Some(tax) = self.row.tax else { return booked };
        let whole = Fraction::whole(1).plus(&Fraction::of(tax.fraction()));
        booked.part(&Fraction::whole(1).over(&whole))
    }
}

impl SellingRow {
    /// What comes off the price of a remnant.
    pub(super) fn off(&self) -> Percent {
        self.remnant.map_or(Percent::ZERO, |one| one.off)
    }

    /// The area that is sold, in a word.
    pub fn sold_by(&self) -> &'static str {
        SoldBy::word(self.sold)
    }
}
