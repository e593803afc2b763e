//! Calendar days, working days, and the day on which a payment falls due.
//!
//! Decided on 2026-11-25. Working days are counted by a list of holidays. A day that the list does not cover
//! is a fault.

use chrono::{Datelike, Days, Weekday};

use super::calendar::{Date, Dates, Event, Window, word_of};
use crate::fault::{At, Place};
use crate::quantity::{Malformed, Written};

/// Which days nobody works on at a terminal, a bank or a customs house.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct WorkCalendar {
    /// The name that rows refer to.
    pub id: String,
    /// The days of the week that are free.
    pub weekend: Vec<Weekday>,
    /// The holidays, as days.
    pub holidays: Vec<Date>,
    /// The days for which its holidays are listed.
    pub valid: Window,
    /// Its row.
    pub place: Place,
}

/// A day that a calendar does not cover: its holidays are not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotCovered(pub Date);

/// The words for the days of the week.
pub const WEEKDAYS: [(Weekday, &str); 7] = [
    (Weekday::Mon, "monday"),
    (Weekday::Tue, "tuesday"),
    (Weekday::Wed, "wednesday"),
    (Weekday::Thu, "thursday"),
    (Weekday::Fri, "friday"),
    (Weekday::Sat, "saturday"),
    (Weekday::Sun, "sunday"),
];

impl WorkCalendar {
    /// Whether somebody works on a day.
    ///
    /// # Errors
    /// Where the calendar does not cover the day.
    pub fn works(&self, day: Date) -> Result<bool, NotCovered> {
        if !self.valid.holds(day) {
            return Err(NotCovered(day));
        }
        Ok(!self.weekend.contains(&day.weekday()) && !self.holidays.contains(&day))
    }

    /// Working days after `from`, up to and with `to`: the day of `from` itself does not count, as
    /// calendar days are counted.
    ///
    /// # Errors
    /// Where the calendar does not cover one of the days.
    pub fn days_between(&self, from: Date, to: Date) -> Result<i64, NotCovered> {
        let mut count = 0;
        let mut day = from;
        while day < to {
            day = day.succ_opt().ok_or(NotCovered(day))?;
            count += i64::from(self.works(day)?);
        }
        Ok(count)
    }

    /// The day on which so many working days after `from` are full.
    ///
    /// # Errors
    /// Where the calendar does not cover one of the days.
    pub fn after(&self, from: Date, days: u32) -> Result<Date, NotCovered> {
        let mut left = days;
        let mut day = from;
        while left > 0 {
            day = day.succ_opt().ok_or(NotCovered(day))?;
            left -= u32::from(self.works(day)?);
        }
        Ok(day)
    }
}

/// Which days a charge per day counts.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum DayCount {
    /// Every day.
    #[default]
    Calendar,
    /// Working days alone, free ones and charged ones alike.
    Working(WorkCalendar),
    /// The free days are working days; once they are gone, every day counts.
    FreeWorking(WorkCalendar),
}

impl DayCount {
    /// The words for the ways of counting, without their calendars.
    pub const WORDS: [(DayCountWord, &'static str); 3] = [
        (DayCountWord::Calendar, "calendar days"),
        (DayCountWord::Working, "working days"),
        (DayCountWord::FreeWorking, "free working days"),
    ];

    /// The written form.
    pub fn word(&self) -> &'static str {
        let word = match self {
            Self::Calendar => DayCountWord::Calendar,
            Self::Working(_) => DayCountWord::Working,
            Self::FreeWorking(_) => DayCountWord::FreeWorking,
        };
        word_of(&Self::WORDS, word)
    }

    /// The days charged from one day to another, free days taken off. The first day itself does
    /// not count.
    ///
    /// # Errors
    /// Where the calendar does not cover one of the days.
    pub fn charged(&self, from: Date, to: Date, free: u32) -> Result<i64, NotCovered> {
        let charged = match self {
            Self::Calendar => (to - from).num_days() - i64::from(free),
            Self::Working(calendar) => calendar.days_between(from, to)? - i64::from(free),
            Self::FreeWorking(calendar) => (to - calendar.after(from, free)?).num_days(),
        };
        Ok(charged.max(0))
    }
}

/// A way of counting days, as a file names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DayCountWord {
    /// Every day.
    Calendar,
    /// Working days alone.
    Working,
    /// Free days are working days.
    FreeWorking,
}

/// When something falls due, counted from an event: "entered + 10 working days".
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Due {
    /// The event.
    pub event: Event,
    /// Days after it, or before it where less than nothing.
    pub days: i32,
    /// Whether they are working days.
    pub working: bool,
}

impl Due {
    /// On the day of an event.
    pub fn on(event: Event) -> Self {
        Self { event, days: 0, working: false }
    }
}

impl Written for Due {
    const FORM: &'static str = "an event (quoted, collected, sails, arrives, entered, delivered, returned), or days after or before it, such as \"entered + 10 working days\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        let end = text.find(['+', '-']).unwrap_or(text.len());
        let word = text.get(..end).unwrap_or(text).trim();
        let known = Event::ALL.iter().find(|(_, name)| *name == word);
        let (event, _) = known.ok_or_else(|| fault(0))?;
        let rest = text.get(end..).unwrap_or("");
        let Some(sign) = rest.chars().next() else { return Ok(Self::on(*event)) };
        let mut words = rest.get(1..).unwrap_or("").split_whitespace();
        let count: i32 = words.next().and_then(|n| n.parse().ok()).ok_or_else(|| fault(end + 1))?;
        let working = match (words.next(), words.next(), words.next()) {
            (Some("day" | "days"), None, _) => false,
            (Some("working"), Some("day" | "days"), None) => true,
            _ => return Err(fault(end + 1)),
        };
        if !(0..=MOST_DUE_DAYS).contains(&count) || (working && sign == '-') {
            let expected = "at most 730 days, and working days only after an event".to_owned();
            return Err(Malformed::new(end, expected));
        }
        Ok(Self { event: *event, days: if sign == '-' { -count } else { count }, working })
    }

    fn pattern() -> Option<String> {
        let events: Vec<&str> = Event::ALL.iter().map(|(_, word)| *word).collect();
        let days = r"\s*([+-]\s*\d+\s+(working\s+)?days?)?\s*";
        Some(format!("^\\s*({}){days}$", events.join("|")))
    }
}

/// More days than any payment waits (a choice of ours).
const MOST_DUE_DAYS: i32 = 730;

/// A due date as a row or an invoice states it, with the calendar its working days are of.
#[derive(Debug, Clone)]
pub struct DueRule {
    /// When.
    pub due: At<Due>,
    /// The calendar, where it counts working days.
    pub calendar: Option<WorkCalendar>,
}

impl DueRule {
    /// The day it falls on.
    ///
    /// # Errors
    /// Where the calendar does not cover one of the days.
    pub fn day(&self, dates: &Dates) -> Result<Date, NotCovered> {
        let Due { event, days, .. } = *self.due;
        let from = dates.of(event);
        if let Some(calendar) = &self.calendar {
            return calendar.after(from, days.unsigned_abs());
        }
        let count = Days::new(u64::from(days.unsigned_abs()));
        let moved =
            if days < 0 { from.checked_sub_days(count) } else { from.checked_add_days(count) };
        moved.ok_or(NotCovered(from))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    fn federal() -> WorkCalendar {
        WorkCalendar {
            id: "us-federal".to_owned(),
            weekend: vec![Weekday::Sat, Weekday::Sun],
            // 5 U.S.C. 6103: Memorial Day, the last Monday in May; Juneteenth.
            holidays: vec![day("2026-05-25"), day("2026-06-19")],
            valid: Window::read("2026-01-01..2026-12-31").unwrap(),
            place: Source::new("rates/calendars.toml", String::new()).place(0..0),
        }
    }

    #[test]
    fn ten_working_days_skip_weekends_and_holidays() {
        // 19 CFR 142.12(b), from memory: estimated duties within 10 working days of entry.
        let calendar = federal();
        assert_eq!(calendar.after(day("2026-05-11"), 10), Ok(day("2026-05-26")));
        assert_eq!(calendar.days_between(day("2026-05-11"), day("2026-05-26")), Ok(10));
        assert_eq!(calendar.after(day("2026-12-30"), 3), Err(NotCovered(day("2027-01-01"))));
    }

    #[test]
    fn free_days_may_be_working_days_where_charged_days_are_not() {
        let (from, to) = (day("2026-05-21"), day("2026-05-29")); // Thursday to Friday a week on
        assert_eq!(DayCount::Calendar.charged(from, to, 4), Ok(4));
        // Working days: 22, 26, 27, 28, 29; four of them free.
        assert_eq!(DayCount::Working(federal()).charged(from, to, 4), Ok(1));
        // Free until the 28th; then every day.
        assert_eq!(DayCount::FreeWorking(federal()).charged(from, to, 4), Ok(1));
        assert_eq!(DayCount::FreeWorking(federal()).charged(from, day("2026-06-01"), 4), Ok(4));
        assert_eq!(DayCount::Working(federal()).charged(from, day("2026-05-22"), 4), Ok(0));
    }

    #[test]
    fn a_due_date_is_an_event_and_days() {
        let due = Due::read("entered + 10 working days").unwrap();
        assert_eq!(due, Due { event: Event::Entered, days: 10, working: true });
        assert_eq!(Due::read("sails").unwrap(), Due::on(Event::Sails));
        assert_eq!(Due::read("sails - 1 day").unwrap().days, -1);
        for bad in ["soon", "sails +", "sails + ten days", "sails - 3 working days", "sails + 3"] {
            assert!(Due::read(bad).is_err(), "{bad}");
        }
    }
}
