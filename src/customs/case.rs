//! The inputs of customs: a shipment in its boxes, the tables, the regime of a day.

use crate::fault::{Place, Report, Reported};
use crate::load::FilledBox;
use crate::price::{Conversion, Target, Terms, certified, told};
use crate::quantity::Currency;
use crate::trade::{Date, Dates, ExchangeUse, Regime, Shipment, Tariffs};

/// The inputs of customs.
#[derive(Clone, Copy)]
pub(crate) struct Case<'a> {
    /// The shipment.
    pub(crate) shipment: &'a Shipment,
    /// The tables.
    pub(crate) tariffs: &'a Tariffs,
    /// The boxes its bundles are in.
    pub(crate) boxes: &'a [FilledBox],
}

impl<'a> Case<'a> {
    /// What prices may depend on.
    pub(super) fn terms(&self) -> Terms<'a> {
        Terms::of(self.shipment, self.tariffs)
    }

    /// The row of the yard's regime on a day.
    pub(super) fn regime(&self, on: Date, report: &mut Report) -> Result<&'a Regime, Reported> {
        told(self.terms().regime_on(on), report)
    }

    /// The customs rate of a currency on the regime's day for it: of export (19 CFR 159.32), or of this
    /// entry. `None`: the regime's own currency needs none.
    pub(super) fn rate(
        &self,
        (regime, entered): (&Regime, Date),
        currency: Currency,
        place: &Place,
        report: &mut Report,
    ) -> Result<Option<Conversion>, Reported> {
        if currency == regime.currency {
            return Ok(None);
        }
        let target = Target {
            event: regime.exchange_on,
            used_for: ExchangeUse::Customs,
            currency: regime.currency,
            needed_at: place,
        };
        let dates = Dates { entered, ..self.shipment.dates };
        let row = told(certified(&self.terms().on(dates), regime, currency, &target), report)?;
        Ok(Some(Conversion::by(row, dates.of(regime.exchange_on))))
    }
}
