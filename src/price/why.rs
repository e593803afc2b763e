//! Why a price cannot be had: a reason with its figures. A trial drops the reason; where the price is
//! needed, one place makes a fault of it.

use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::quantity::{Currency, Money, Overflow, count_of};
use crate::trade::{
    Basis, ChargeRow, ContinuousBond, Date, DutyRow, Event, ExchangeRow, ExchangeUse, Lookup,
    Matches, NotCovered, Regime, RoadLaw, Window, WorkCalendar,
};

/// Why a price cannot be had.
pub type Why<'a> = Box<Reason<'a>>;

/// What was found instead of the one row in force.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found<'a> {
    /// No row at all.
    Nothing,
    /// Rows of other days, the nearest first: where each stands, and when it is in force.
    Lapsed(Vec<(&'a Place, Window)>),
    /// Two or more.
    Several(Vec<(&'a Place, Window)>),
}

/// What a look-up keeps of a row.
pub trait Dated {
    /// Where it stands, and when it is in force.
    fn dated(&self) -> (&Place, Window);
}

impl Dated for ExchangeRow {
    fn dated(&self) -> (&Place, Window) {
        (&self.place, self.valid)
    }
}

impl Dated for Regime {
    fn dated(&self) -> (&Place, Window) {
        (&self.place, self.valid)
    }
}

impl Dated for ContinuousBond {
    fn dated(&self) -> (&Place, Window) {
        (&self.place, self.valid)
    }
}

impl Dated for DutyRow {
    fn dated(&self) -> (&Place, Window) {
        (&self.place, self.valid)
    }
}

impl Dated for RoadLaw {
    fn dated(&self) -> (&Place, Window) {
        (&self.place, self.valid)
    }
}

/// The one row of a look-up.
///
/// # Errors
/// What there is instead: none, rows of other days, or several.
pub fn the_one<T: Dated>(lookup: Lookup<'_, T>) -> Result<&T, Found<'_>> {
    let dated = |rows: Vec<_>| rows.into_iter().map(T::dated).collect();
    match lookup {
        Lookup::Found(row) => Ok(row),
        Lookup::Several(rows) => Err(Found::Several(dated(rows))),
        Lookup::Lapsed(rows) => Err(Found::Lapsed(dated(rows))),
        Lookup::Missing => Err(Found::Nothing),
    }
}

/// A reason why a price cannot be had.
#[derive(Debug, Clone)]
pub enum Reason<'a> {
    /// Rows of a purpose that have all ended.
    Lapsed {
        /// The rows, the nearest first.
        rows: Vec<&'a ChargeRow>,
        /// What was asked of them.
        asked: Matches,
        /// The event whose day chooses.
        event: Event,
        /// That day.
        on: Date,
    },
    /// Several rows that serve one purpose on one day.
    Several {
        /// The rows.
        rows: Vec<&'a ChargeRow>,
        /// The event whose day chooses.
        event: Event,
        /// That day.
        on: Date,
    },
    /// No one rate of exchange.
    Exchange {
        /// The use that is asked for.
        used_for: ExchangeUse,
        /// From which currency into which.
        between: (Currency, Currency),
        /// On which day.
        on: Date,
        /// What that day is.
        named: String,
        /// What needs the rate.
        needed_at: &'a Place,
        /// What there is.
        found: Found<'a>,
    },
    /// No one row of the regime, which says when duties are paid.
    Regime {
        /// The regime.
        regime: &'a str,
        /// On which day.
        on: Date,
        /// What needs it.
        needed_at: &'a Place,
        /// What there is.
        found: Found<'a>,
    },
    /// No one continuous bond.
    Bond {
        /// The regime.
        regime: &'a str,
        /// On which day.
        on: Date,
        /// What needs it.
        needed_at: &'a Place,
        /// What there is.
        found: Found<'a>,
    },
    /// A day whose holidays nobody listed.
    NotCovered {
        /// The day.
        day: NotCovered,
        /// The calendar.
        calendar: Option<&'a WorkCalendar>,
        /// What counts working days.
        needed_at: &'a Place,
    },
    /// A row whose floor or cap is in another currency than it comes out in.
    OtherBound {
        /// The row.
        row: &'a ChargeRow,
        /// What it comes out in.
        currency: Currency,
        /// The floor or cap.
        bound: Money,
    },
    /// An amount for each so much, in another currency than what it is of.
    OtherEach {
        /// The row.
        row: &'a ChargeRow,
        /// The so much.
        each: Money,
        /// The currency of what it is of.
        base: Currency,
    },
    /// Charges that are percentages of each other: a row of each, and whether the customs entry is one
    /// of what they wait for.
    Cycle {
        /// The first row of each.
        rows: Vec<&'a ChargeRow>,
        /// Whether the circle goes through the entry.
        through_entry: bool,
    },
    /// A premium as large as what is insured.
    AllPremium(&'a ChargeRow),
    /// A row whose quantity is of another kind than its rate.
    OtherQuantity(&'a ChargeRow),
    /// A figure that cannot be held.
    Overflow(Overflow, &'a Place),
}

impl Reason<'_> {
    /// The fault that says it.
    pub fn fault(&self) -> Fault {
        match self {
            Self::Lapsed { rows, asked, event, on } => lapsed(rows, asked, *event, *on),
            Self::Several { rows, event, on } => several(rows, *event, *on),
            Self::Exchange { used_for, between, on, named, needed_at, found } => {
                exchange(*used_for, *between, (*on, named), needed_at, found)
            }
            Self::Regime { regime, on, needed_at, found } => {
                let what = format!("regime \"{regime}\"");
                let help = "add the regime's row for that date to rates/duty.toml";
                looked_up("rates/duty.toml", &what, (*on, "entered"), found, help)
                    .at(needed_at, "the yard's regime")
            }
            Self::Bond { regime, on, needed_at, found } => {
                let what = format!("[[bond]] of \"{regime}\"");
                let help = "add the [[bond]]: regime, annual, entries, least, share, steps";
                looked_up("rates/fees.toml", &what, (*on, "entered"), found, help)
                    .at(needed_at, "a part of the continuous bond")
            }
            Self::NotCovered { day, calendar, needed_at } => {
                not_covered(*day, *calendar, needed_at)
            }
            Self::OtherBound { row, currency, bound } => {
                let message = format!(
                    "\"{}\" is in {currency} and its bound in {}",
                    row.name,
                    bound.currency()
                );
                Fault::error(Code::Contradiction, message)
                    .at(&row.place, "this row")
                    .help("state `minimum` and `maximum` in the currency the charge comes out in")
            }
            Self::OtherEach { row, each, base } => {
                let message = format!(
                    "\"{}\" is for each {each}, and what it is taken on is in {base}",
                    row.name
                );
                Fault::error(Code::Contradiction, message)
                    .at(&row.place, "this row")
                    .help("state `each` in the same currency")
            }
            Self::Cycle { rows, through_entry } => cycle(rows, *through_entry),
            Self::AllPremium(row) => {
                Fault::error(Code::OutOfRange, "the premium is as large as the insured value")
                    .at(&row.rate.place, "this rate")
                    .help("write the rate of the policy, such as rate = \"0.30 %\"")
            }
            Self::OtherQuantity(row) => {
                let (name, per) = (&row.name, row.per.word());
                let message = format!("\"{name}\" cannot be counted per {per} at such a rate");
                Fault::error(Code::Contradiction, message)
                    .at(&row.rate.place, "this rate")
                    .help("write another `per`, or an `amount` for each")
            }
            Self::Overflow(overflow, place) => {
                Fault::error(Code::Overflow, overflow.to_string()).at(place, "here")
            }
        }
    }
}

/// A result without its reason, which is in the report then.
///
/// # Errors
///
/// If there is a reason.
pub fn told<T>(result: Result<T, Why<'_>>, report: &mut Report) -> Result<T, Reported> {
    result.map_err(|why| report.error(why.fault()))
}

/// A result without its reasons, which are in the report then.
///
/// # Errors
///
/// If there are reasons.
pub fn told_all<T>(result: Result<T, Vec<Why<'_>>>, report: &mut Report) -> Result<T, Reported> {
    result.map_err(|reasons| {
        let told = reasons.into_iter().map(|why| report.error(why.fault())).last();
        report.found(told, "the reason why a price cannot be had").unwrap_or_else(|lost| lost)
    })
}

fn cycle(rows: &[&ChargeRow], through_entry: bool) -> Fault {
    let names: Vec<&str> = rows.iter().map(|row| row.name.as_str()).collect();
    let message = match &names[..] {
        [one] => format!("\"{one}\" is a percentage of a sum that holds it"),
        _ => format!("these charges are percentages of each other: {}", names.join(", ")),
    };
    let mut fault = Fault::error(Code::Cycle, message)
        .help("make one of them an amount, or a percentage of something known before it");
    if through_entry {
        fault = fault.help(
            "a charge before the border is part of the customs value, so it cannot be a percentage of it",
        );
    }
    rows.iter().enumerate().fold(fault, |fault, (index, row)| match (index, rows.len()) {
        (0, 1) => fault.at(&row.rate.place, "a percentage of itself"),
        (0, _) => fault.at(&row.place, "waits for another"),
        _ => fault.also(&row.place, "and so does this"),
    })
}

/// What is asked of the keys that rows tell each other apart by.
fn key(rows: &[&ChargeRow], asked: &Matches) -> String {
    let is_told =
        |name: &str| rows.iter().any(|row| row.matches.given().any(|(given, _)| given == name));
    let keys = asked.given().filter(|(name, _)| is_told(name));
    let keys: Vec<String> = keys.map(|(name, value)| format!("{name} {value}")).collect();
    if keys.is_empty() { String::new() } else { format!(" for {}", keys.join(", ")) }
}

fn lapsed(rows: &[&ChargeRow], asked: &Matches, event: Event, on: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let table = rows.first().map_or("", |row| row.table.word());
    let message = format!(
        "rates/{table}.toml: \"{name}\"{} is not in force on {on} ({})",
        key(rows, asked),
        event.word()
    );
    let last = rows.iter().filter_map(|row| row.valid.until).filter(|until| *until < on).max();
    let first = last.and_then(|until| until.succ_opt()).unwrap_or(on);
    let until = on.checked_add_months(chrono::Months::new(1)).unwrap_or(on);
    // What the law says is looked up. What somebody quotes is asked for.
    let way = if rows.iter().any(|row| row.basis == Basis::Law) {
        format!("look up what is in force on {on}, where its `source` says")
    } else {
        "ask for a fresh rate".to_owned()
    };
    let fault = Fault::error(Code::LapsedRate, message).help(format!(
        "{way}, copy the row, and write its amount and its dates, such as valid = \"{first}..{until}\"; if the charge is no longer made, remove its rows",
    ));
    rows.iter().take(2).enumerate().fold(fault, |fault, (index, row)| {
        let label = match row.valid.until.filter(|until| *until < on) {
            // Said of an offer that falls out as well.
            Some(until) if event == Event::Sails && row.offer.is_some() => format!(
                "ends on {until}, {} before the goods sail on {on}",
                count_of(row.valid.days_off(on), "day")
            ),
            _ => format!("in force {}", row.valid),
        };
        if index == 0 { fault.at(&row.place, label) } else { fault.also(&row.place, label) }
    })
}

fn several(rows: &[&ChargeRow], event: Event, on: Date) -> Fault {
    let name = rows.first().map_or("", |row| row.name.as_str());
    let message = format!("two rows serve \"{name}\" on {on} ({})", event.word());
    let fault = Fault::error(Code::AmbiguousRate, message)
        .help("remove one, end the older, or tell them apart by container, yard, lane or offer");
    rows.iter().enumerate().fold(fault, |fault, (index, row)| {
        if index == 0 {
            fault.at(&row.place, "this row")
        } else {
            fault.also(&row.place, "and this one")
        }
    })
}

fn exchange(
    used_for: ExchangeUse,
    (from, to): (Currency, Currency),
    (on, named): (Date, &str),
    needed_at: &Place,
    found: &Found<'_>,
) -> Fault {
    let (code, what, rows) = match found {
        Found::Several(rows) => (Code::AmbiguousRate, "two rates", &rows[..]),
        Found::Lapsed(rows) => (Code::LapsedRate, "no rate in force", &rows[..]),
        Found::Nothing => (Code::NoRate, "no rate", &[][..]),
    };
    let used_for = used_for.word();
    let message = format!(
        "rates/exchange.toml has {what} for {from} to {to}, use \"{used_for}\", on {on} ({named})"
    );
    let fault = Fault::error(code, message).at(needed_at, "needed for this");
    let fault = rows
        .iter()
        .take(2)
        .fold(fault, |fault, (place, valid)| fault.also(place, format!("in force {valid}")));
    match found {
        Found::Several(_) => fault.help("remove one, or end the older"),
        Found::Nothing | Found::Lapsed(_) => fault.help(format!(
            "add a row with use = \"{used_for}\", quote = \"1 {from} = ... {to}\" and a `valid` that holds {on}"
        )),
    }
}

/// The fault for a row of a file that is looked up by a day, which is called something: every row that
/// serves, or the two nearest of other days. Where there is none, `help` says what to add.
pub fn looked_up(
    file: &str,
    what: &str,
    (on, named): (Date, &str),
    found: &Found<'_>,
    help: &str,
) -> Fault {
    let (code, how, rows) = match found {
        Found::Nothing => (Code::NoRate, "no".to_owned(), &[][..]),
        Found::Lapsed(rows) => (Code::LapsedRate, "no".to_owned(), rows.get(..2).unwrap_or(rows)),
        Found::Several(rows) => {
            let count = if rows.len() == 2 { "two".to_owned() } else { rows.len().to_string() };
            (Code::AmbiguousRate, format!("{count} rows for"), &rows[..])
        }
    };
    let in_force = if code == Code::NoRate { "" } else { " in force" };
    let message = format!("{file} has {how} {what}{in_force} on {on} ({named})");
    let help = if code == Code::AmbiguousRate { "remove one, or end the older" } else { help };
    let fault = Fault::error(code, message).help(help);
    rows.iter().fold(fault, |fault, (place, valid)| fault.also(place, format!("in force {valid}")))
}

/// The fault for a day whose holidays nobody listed.
fn not_covered(day: NotCovered, by: Option<&WorkCalendar>, needed_at: &Place) -> Fault {
    let name = by.map_or("", |calendar| &calendar.id);
    let message = format!("the calendar \"{name}\" does not cover {}", day.0);
    let fault = Fault::error(Code::LapsedRate, message)
        .at(needed_at, "working days are counted here")
        .help("list the holidays of that year in rates/calendars.toml, and let `valid` hold them");
    match by {
        Some(calendar) => fault.also(&calendar.place, format!("covers {}", calendar.valid)),
        None => fault,
    }
}
