//! What a price may depend on beside its row and its object.

use super::why::{Reason, Why, the_one};
use crate::fault::{At, Place};
use crate::quantity::{Currency, Hours, Overflow};
use crate::trade::{ContinuousBond, Date, Dates, Offers, Regime, Shipment, Tariffs};

/// What a price may depend on beside its row and its object. Small on purpose: a test fills it by hand.
#[derive(Debug, Clone, Copy)]
pub struct Terms<'a> {
    /// The days of the shipment; on an object that lies on one entry alone, with that entry's own.
    pub days: Dates,
    /// The hours that the shipment states, by name.
    pub hours: &'a [(At<String>, Hours)],
    /// The currency of the books.
    pub book: Currency,
    /// The customs regime of the yard.
    pub regime: &'a str,
    /// Where the yard names it.
    pub regime_at: &'a Place,
    /// Rates of exchange, regimes and bonds. Charge rows are not looked for here.
    pub tables: &'a Tariffs,
}

impl<'a> Terms<'a> {
    /// The terms of a shipment.
    pub fn of(shipment: &'a Shipment, tables: &'a Tariffs) -> Self {
        let yard = &shipment.yard;
        Self {
            days: shipment.dates,
            hours: &shipment.hours,
            book: yard.currency,
            regime: &yard.regime,
            regime_at: &yard.place,
            tables,
        }
    }

    /// The same with other days.
    #[must_use]
    pub fn on(self, days: Dates) -> Self {
        Self { days, ..self }
    }

    /// The reason where a sum over charges cannot be held.
    pub fn too_large(&self, overflow: Overflow) -> Why<'a> {
        Box::new(Reason::Overflow(overflow, self.regime_at))
    }

    /// The row of the yard's regime on a day.
    ///
    /// # Errors
    /// Where there is no one row of that day.
    pub fn regime_on(&self, on: Date) -> Result<&'a Regime, Why<'a>> {
        let Self { regime, regime_at: needed_at, .. } = *self;
        the_one(self.tables.regime(regime, on))
            .map_err(|found| Box::new(Reason::Regime { regime, on, needed_at, found }))
    }

    /// The continuous bond in force on the day of entry.
    ///
    /// # Errors
    /// Where there is no one bond of that day; `needed_at` is what needs it.
    pub fn bond(&self, needed_at: &'a Place) -> Result<&'a ContinuousBond, Why<'a>> {
        let (regime, on) = (self.regime, self.days.entered);
        the_one(self.tables.bond(regime, on))
            .map_err(|found| Box::new(Reason::Bond { regime, on, needed_at, found }))
    }
}

/// What rows tell boxes apart by.
#[derive(Debug, Clone, Copy)]
pub struct BoxKey<'a> {
    /// The container type.
    pub container: &'a str,
    /// The road class.
    pub class: Option<&'a str>,
    /// The offers it goes by.
    pub offers: &'a Offers,
}
