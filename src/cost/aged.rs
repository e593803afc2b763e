//! Published figures that were read long ago: a law of last year is asked about.

use crate::bill::Charge;
use crate::fault::Place;
use crate::trade::{Date, Tariffs};

/// From so many days on, a reading is named: a year.
const OLD_DAYS: i64 = 365;

/// The figures behind charges that were read more than a year before a day, each by name with the day it was read.
pub(super) fn aged(tariffs: &Tariffs, charges: &[Charge], day: Date) -> Vec<String> {
    let rows = tariffs.charges.iter().map(|row| (&row.name, row.read, &row.rate.place));
    let duties = tariffs.duties.iter().map(|row| (&row.name, row.read, &row.rate.place));
    let is_behind = |place: &Place| charges.iter().any(|charge| charge.source == *place);
    let old = rows.chain(duties).filter_map(|(name, read, place)| {
        let read = read.filter(|read| (day - *read).num_days() > OLD_DAYS)?;
        is_behind(place).then(|| format!("{name} ({read})"))
    });
    old.collect()
}
