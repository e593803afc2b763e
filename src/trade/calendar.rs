//! Dates, windows of validity, and the events of a shipment.

use std::fmt;

use crate::quantity::{Malformed, Written};

/// A calendar date.
pub type Date = chrono::NaiveDate;

/// A window of dates that includes both its ends; an end that is left out never comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// The first day.
    pub from: Date,
    /// The last day, if there is one.
    pub until: Option<Date>,
    /// Whether what it is of serves on after the last day, for want of anything later: only where the user
    /// says so.
    pub serves_on: bool,
}

impl Window {
    /// Whether the date lies in the window, or after one that serves on.
    pub fn holds(&self, date: Date) -> bool {
        self.from <= date && (self.serves_on || self.until.is_none_or(|until| date <= until))
    }

    /// How many days ago it had ended on a date on which it serves on; `None` where it holds by itself.
    pub fn lapsed_for(&self, date: Date) -> Option<u64> {
        let until = self.until.filter(|until| self.serves_on && *until < date)?;
        Some((date - until).num_days().unsigned_abs())
    }

    /// Whether two windows share a day.
    pub fn meets(&self, other: &Self) -> bool {
        self.until.is_none_or(|until| other.from <= until)
            && other.until.is_none_or(|until| self.from <= until)
    }

    /// How many days the date lies outside the window; 0 inside.
    pub fn days_off(&self, date: Date) -> u64 {
        let after = self.until.map_or(0, |until| (date - until).num_days().max(0));
        (self.from - date).num_days().max(after).unsigned_abs()
    }
}

impl fmt::Display for Window {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}..", self.from)?;
        self.until.map_or(Ok(()), |until| write!(f, "{until}"))
    }
}

impl Written for Window {
    const FORM: &'static str =
        "a window of dates, both ends included, such as \"2026-03-01..2026-06-30\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        let (from, until) = text.split_once("..").ok_or_else(|| fault(0))?;
        let until_at = from.len() + 2;
        let from = from.trim().parse().map_err(|_| fault(0))?;
        let until = match until.trim() {
            "" => None,
            date => Some(date.parse().map_err(|_| fault(until_at))?),
        };
        if until.is_some_and(|until| until < from) {
            return Err(Malformed::new(until_at, "the last day not to come before the first"));
        }
        Ok(Self { from, until, serves_on: false })
    }

    fn pattern() -> Option<String> {
        let day = r"\s*\d{4}-\d{2}-\d{2}\s*";
        Some(format!(r"^{day}\.\.({day})?\s*$"))
    }
}

/// Something that happens to a shipment on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Event {
    /// The offer is made; the day of the calculation.
    Quoted,
    /// The goods are handed over at the works, or to the first carrier.
    Collected,
    /// The vessel leaves the port of loading: the day of export.
    Sails,
    /// The vessel arrives at the port of discharge.
    Arrives,
    /// The goods are entered at customs.
    Entered,
    /// The container stands in the yard.
    Delivered,
    /// The empty container is back at the terminal.
    Returned,
}

impl Event {
    /// Every event with its written form.
    pub const ALL: [(Self, &'static str); 7] = [
        (Self::Quoted, "quoted"),
        (Self::Collected, "collected"),
        (Self::Sails, "sails"),
        (Self::Arrives, "arrives"),
        (Self::Entered, "entered"),
        (Self::Delivered, "delivered"),
        (Self::Returned, "returned"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// The written form of a value in a table of words.
pub(crate) fn word_of<T: PartialEq>(words: &[(T, &'static str)], value: T) -> &'static str {
    words.iter().find(|(one, _)| *one == value).map_or("", |(_, word)| word)
}

/// The days of a shipment's events.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Dates {
    /// The day of the calculation.
    pub quoted: Date,
    /// The goods are handed over, where that is known; taken for the day of export where it is not.
    pub collected: Option<Date>,
    /// The day of export.
    pub sails: Date,
    /// Arrival at the port of discharge.
    pub arrives: Date,
    /// Entry at customs; the day of arrival unless stated.
    pub entered: Date,
    /// Delivery to the yard; arrival plus the yard's days unless stated.
    pub delivered: Date,
    /// Return of the empty box; the day after delivery unless stated.
    pub returned: Date,
}

impl Dates {
    /// The day of an event.
    pub fn of(&self, event: Event) -> Date {
        match event {
            Event::Quoted => self.quoted,
            Event::Collected => self.collected.unwrap_or(self.sails),
            Event::Sails => self.sails,
            Event::Arrives => self.arrives,
            Event::Entered => self.entered,
            Event::Delivered => self.delivered,
            Event::Returned => self.returned,
        }
    }

    /// The same voyage with one event on another day, and what waits for it as many days later: after sailing
    /// all that follows, and collection; after arrival entry, delivery and return; after delivery the return.
    /// `None`: past the end of the calendar, or an event would come before the one that it waits for.
    pub fn moved(&self, event: Event, day: Date) -> Option<Self> {
        let by = day - self.of(event);
        let later = |day: Date| day.checked_add_signed(by);
        let mut all = *self;
        match event {
            Event::Quoted => all.quoted = day,
            Event::Collected => all.collected = Some(day),
            Event::Entered => all.entered = day,
            Event::Returned => all.returned = day,
            Event::Delivered | Event::Arrives | Event::Sails => {
                all.returned = later(all.returned)?;
                all.delivered = later(all.delivered)?;
                if event != Event::Delivered {
                    all.entered = later(all.entered)?;
                    all.arrives = later(all.arrives)?;
                }
                if event == Event::Sails {
                    all.sails = day;
                    all.collected = match all.collected {
                        Some(day) => Some(later(day)?),
                        None => None,
                    };
                }
            }
        }
        let order = [all.of(Event::Collected), all.sails, all.arrives, all.delivered, all.returned];
        (order.is_sorted() && all.sails <= all.entered).then_some(all)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn date(text: &str) -> Date {
        text.parse().unwrap()
    }

    #[test]
    fn windows_include_both_ends() {
        let window = Window::read("2026-03-01..2026-06-30").unwrap();
        assert!(window.holds(date("2026-03-01")) && window.holds(date("2026-06-30")));
        assert!(!window.holds(date("2026-02-28")) && !window.holds(date("2026-07-01")));
        assert_eq!(window.days_off(date("2026-07-03")), 3);
        assert_eq!(window.days_off(date("2026-02-27")), 2);
        let open = Window::read("2026-07-01..").unwrap();
        assert!(!window.meets(&open) && !open.meets(&window));
        assert!(
            open.holds(date("2050-01-01")) && open.meets(&Window::read("2027-01-01..").unwrap())
        );
    }

    #[test]
    fn what_is_no_window_says_where() {
        assert_eq!(Window::read("2026-03-01..2026-02-01").unwrap_err().offset, 12);
        assert_eq!(Window::read("2026-03-01..soon").unwrap_err().offset, 12);
        assert_eq!(Window::read("2026-3-1").unwrap_err().offset, 0);
        assert!(Window::read("2026-02-30..2026-03-01").is_err());
    }
}
