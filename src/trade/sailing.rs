//! Sailings of a lane: on which days ships leave, when the port closes for them, how long they take.

use std::fmt;

use chrono::{Datelike, Days, Weekday};

use super::calendar::{Date, Window, word_of};
use super::code::Lane;
use super::workday::WEEKDAYS;
use crate::fault::Place;

/// On which days ships leave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SailingDays {
    /// On these days of each week.
    Weekdays(Vec<Weekday>),
    /// On these days, ascending.
    Dates(Vec<Date>),
}

impl SailingDays {
    /// Each of them: a weekday, or a day.
    pub fn words(&self) -> Box<dyn Iterator<Item = String> + '_> {
        match self {
            Self::Weekdays(days) => {
                Box::new(days.iter().map(|day| word_of(&WEEKDAYS, *day).to_owned()))
            }
            Self::Dates(days) => Box::new(days.iter().map(ToString::to_string)),
        }
    }
}

impl fmt::Display for SailingDays {
    /// As a page has them: `each saturday`, or the days one by one.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let each = if matches!(self, Self::Weekdays(_)) { "each " } else { "" };
        write!(f, "{each}{}", self.words().collect::<Vec<_>>().join(", "))
    }
}

/// A service on a lane.
#[derive(Debug, Clone)]
pub struct SailingRow {
    /// The lane.
    pub lane: Lane,
    /// What the carrier calls it, where that is stated.
    pub service: Option<String>,
    /// Days from sailing to arrival.
    pub transit: u32,
    /// When ships leave.
    pub days: SailingDays,
    /// So many days before a sailing the port closes: goods must be there by then.
    pub closes: u32,
    /// The days for which it is known.
    pub valid: Window,
    /// Where it is from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// A sailing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Sailing {
    /// The last day on which the port takes the goods.
    pub closes: Date,
    /// The day it leaves.
    pub sails: Date,
    /// The day it arrives.
    pub arrives: Date,
}

impl SailingRow {
    /// The first sailing whose port closes on a day or later; `None`: none is known.
    pub fn first_from(&self, ready: Date) -> Option<Sailing> {
        let earliest = ready.checked_add_days(Days::new(self.closes.into()))?.max(self.valid.from);
        let sails = match &self.days {
            SailingDays::Weekdays(days) => {
                let mut week = (0..7).map(|more| earliest.checked_add_days(Days::new(more)));
                week.find_map(|day| day.filter(|day| days.contains(&day.weekday())))?
            }
            SailingDays::Dates(days) => *days.iter().find(|day| **day >= earliest)?,
        };
        if !self.valid.holds(sails) {
            return None;
        }
        let closes = sails.checked_sub_days(Days::new(self.closes.into()))?;
        let arrives = sails.checked_add_days(Days::new(self.transit.into()))?;
        Some(Sailing { closes, sails, arrives })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::quantity::Written;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn row(days: SailingDays, closes: u32) -> SailingRow {
        SailingRow {
            lane: Lane::read("INMAA-USORF").unwrap(),
            service: None,
            transit: 32,
            days,
            closes,
            valid: Window::read("2026-05-01..2026-05-31").unwrap(),
            source: String::new(),
            place: Source::new("t", String::new()).line(1),
        }
    }

    #[test]
    fn goods_wait_for_the_first_sailing_that_the_port_still_takes_them_for() {
        // 2026-05-21 is a Thursday. Four days before it, on Sunday the 17th, the port closes.
        let weekly = row(SailingDays::Weekdays(vec![Weekday::Thu]), 4);
        let first = weekly.first_from(day("2026-05-17")).unwrap();
        assert_eq!((first.closes, first.sails), (day("2026-05-17"), day("2026-05-21")));
        assert_eq!(first.arrives, day("2026-06-22"));
        // A day later they wait a week; after the last that is known they wait for none.
        assert_eq!(weekly.first_from(day("2026-05-18")).unwrap().sails, day("2026-05-28"));
        assert_eq!(weekly.first_from(day("2026-05-25")), None);
        // Before the days that are known, the first of those serves.
        assert_eq!(weekly.first_from(day("2026-01-01")).unwrap().sails, day("2026-05-07"));
        let listed = row(SailingDays::Dates(vec![day("2026-05-09"), day("2026-05-30")]), 2);
        assert_eq!(listed.first_from(day("2026-05-07")).unwrap().sails, day("2026-05-09"));
        assert_eq!(listed.first_from(day("2026-05-08")).unwrap().sails, day("2026-05-30"));
    }
}
