//! The days of the first shipment, and how long its figures serve.

use crate::trade::{Date, Window};

/// The days of a shipment, and how long figures serve.
pub(super) struct Days {
    pub(super) quoted: Date,
    pub(super) sails: Date,
    pub(super) arrives: Date,
    pub(super) delivered: Date,
    /// A year from the day of the calculation.
    pub(super) year: Window,
    /// From it to the day of sailing.
    pub(super) price: Window,
}

/// From the calculation to the sailing, and from there to the arrival, where nobody says. Both are invented.
const TO_SAIL: u64 = 35;
const AT_SEA: u64 = 28;

impl Days {
    /// `None`: a day is too far away.
    pub(super) fn of(
        quoted: Date,
        (sails, arrives): (Option<Date>, Option<Date>),
        delivery_days: u64,
    ) -> Option<Self> {
        let later = |day: Date, days: u64| day.checked_add_days(chrono::Days::new(days));
        let sails = sails.or_else(|| later(quoted, TO_SAIL))?;
        let arrives = arrives.or_else(|| later(sails, AT_SEA))?;
        let from = |until| Window { from: quoted, until: Some(until), serves_on: false };
        Some(Self {
            quoted,
            sails,
            arrives,
            delivered: later(arrives, delivery_days)?,
            year: from(later(quoted, 364)?),
            price: from(sails),
        })
    }
}
