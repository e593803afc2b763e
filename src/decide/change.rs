//! Changes of what was read: a rate, a charge, a price, a day. What is changed is costed as what was read is.
//!
//! Decided on 2026-11-27. A change is made on the tables or on the shipment, never on a cost. Where the slabs
//! themselves hang on what is changed, as their mass does on a density, the shipment is read again.

use std::borrow::Cow;
use std::sync::Arc;

use super::lever::{percent_of, priced};
use crate::choose::with_bundles;
use crate::price::may_apply;
use crate::quantity::{
    Currency, Decimal, Density, Exact, Money, Percent, Price, Quote, UnitRate, ratio,
};
use crate::trade::{
    Bundle, ChargeRow, Covers, Date, DeliveryTerm, DutyRate, Event, ExchangeRow, ExchangeUse, Leg,
    Payment, Rate, Shipment, Tariffs, WhatOf,
};

/// One change.
#[derive(Debug, Clone)]
pub enum Change {
    /// So many bundles of a nominal offer.
    Bundles(u32),
    /// An event on another day, and what waits for it with it. Prices, payments on a stated day and, but where
    /// it is the event, the day of the calculation stay.
    Day(Event, Date),
    /// All rates between two currencies for one use.
    Rate(ExchangeUse, Quote),
    /// All rows of charges; of a leg, its layers of duty too.
    Charges(Charges, ChargeTo),
    /// All rows of a layer of duty, by its name and tariff line.
    Duty(String, String, DutyTo),
    /// The prices of one line, by position, or of all.
    Price(Option<usize>, PriceTo),
    /// How invoices are paid.
    Payments(Vec<Payment>),
    /// The delivery term of the invoices. What is said of the written one is left out.
    Term(DeliveryTerm),
    /// The density of a stone.
    Density(String, DensityTo),
    /// What is lost of a stone's slabs, in every quality.
    Loss(String, Percent),
}

/// Which charges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Charges {
    /// Those of a name.
    Named(String),
    /// Those of a leg.
    Leg(Leg),
}

/// What becomes of charges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChargeTo {
    /// A percentage of what stands there, exact. Floors and caps stay.
    Times(Percent),
    /// Another amount.
    Amount(Money),
    /// Another percentage.
    Percent(Percent),
}

/// What becomes of a layer of duty.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DutyTo {
    /// Another rate.
    Rate(DutyRate),
    /// Another last day.
    Ends(Date),
}

/// What becomes of prices. What was made out for the old ones is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PriceTo {
    /// A percentage of each.
    Times(Percent),
    /// Another price.
    At(Price),
}

/// What becomes of a density.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DensityTo {
    /// A percentage of what stands there.
    Times(Percent),
    /// Another.
    At(Density),
}

impl Change {
    /// Whether it changes what another changes: of two such one would be lost, or both be counted.
    pub fn is_of_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Bundles(_), Self::Bundles(_))
            | (Self::Payments(_), Self::Payments(_))
            | (Self::Term(_), Self::Term(_)) => true,
            (Self::Day(own, _), Self::Day(other, _)) => own == other,
            (Self::Rate(own, quote), Self::Rate(other, to)) => {
                own == other && quote.joins(to.base(), to.counter())
            }
            (Self::Charges(own, _), Self::Charges(other, _)) => own == other,
            (Self::Duty(name, line, _), Self::Duty(other, to, _)) => (name, line) == (other, to),
            (Self::Price(own, _), Self::Price(other, _)) => own == other,
            (Self::Density(own, _), Self::Density(other, _))
            | (Self::Loss(own, _), Self::Loss(other, _)) => own == other,
            _ => false,
        }
    }
}

/// The rows that a change is made on.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Reach {
    /// By position in the table that the change is of.
    rows: Vec<usize>,
    /// Layers of duty beside them, by position: a leg has its own.
    duties: Vec<usize>,
}

/// A shipment and its tables, changed where a change is made on them.
pub(super) type Changed<'a> = (Cow<'a, Shipment>, Cow<'a, Tariffs>);

const TOO_LARGE: &str = "a figure would be too large to be held";

/// Makes changes on an offer, those of the tables first. `read` reads it again by changed tables.
///
/// # Errors
/// Why the offer cannot be changed so.
pub(super) fn changed<'a>(
    (shipment, tariffs): (&'a Shipment, &'a Tariffs),
    changes: &[&Change],
    read: impl Fn(&Tariffs) -> Result<Shipment, String>,
) -> Result<Changed<'a>, String> {
    let (mut shipment, mut tariffs) = (Cow::Borrowed(shipment), Cow::Borrowed(tariffs));
    // The term says which rows of the tables fall on the offer.
    for change in changes.iter().filter(|change| matches!(change, Change::Term(_))) {
        if let Some(changed) = change.on_shipment(&shipment)? {
            shipment = Cow::Owned(changed);
        }
    }
    for change in changes {
        change.on_tables(&shipment, &mut tariffs)?;
    }
    if changes.iter().any(|change| matches!(change, Change::Density(..))) {
        shipment = Cow::Owned(read(&tariffs)?);
    }
    for change in changes {
        if let Some(changed) = change.on_shipment(&shipment)? {
            shipment = Cow::Owned(changed);
        }
    }
    Ok((shipment, tariffs))
}

impl Change {
    fn on_tables(&self, shipment: &Shipment, tariffs: &mut Cow<'_, Tariffs>) -> Result<(), String> {
        let reach = self.reach(shipment, tariffs);
        if reach == Reach::default() {
            return Ok(());
        }
        self.set(&reach, tariffs.to_mut())
    }

    /// The rows that it changes.
    pub(super) fn reach(&self, shipment: &Shipment, tariffs: &Tariffs) -> Reach {
        let rows = match self {
            Self::Rate(used_for, quote) => {
                where_so(&tariffs.exchange, |row| is_used(row, *used_for, quote))
            }
            Self::Charges(of, to) => {
                let taken = |row: &&ChargeRow| of.has(row) && may_apply(shipment, row);
                let all: Vec<&ChargeRow> = tariffs.charges.iter().filter(taken).collect();
                where_so(&tariffs.charges, |row| taken(&row) && !to.moves_along(row, &all))
            }
            Self::Duty(name, line, _) => {
                where_so(&tariffs.duties, |row| row.name == *name && row.line == *line)
            }
            Self::Density(stone, _) => where_so(&tariffs.stones, |one| one.id == *stone),
            Self::Loss(stone, _) => where_so(&tariffs.usable, |row| row.stone == *stone),
            Self::Bundles(_)
            | Self::Day(..)
            | Self::Price(..)
            | Self::Payments(_)
            | Self::Term(_) => Vec::new(),
        };
        let duties = match self {
            Self::Charges(Charges::Leg(Leg::DutyAndTax), _) => layers(shipment, tariffs),
            _ => Vec::new(),
        };
        Reach { rows, duties }
    }

    /// Whether it may move what a row that counts something comes to in the book currency, where it reaches so far in
    /// the row's tables.
    pub(super) fn moves(
        &self,
        row: &ChargeRow,
        reach: &Reach,
        tariffs: &Tariffs,
        book: Currency,
    ) -> bool {
        match self {
            Self::Charges(..) => {
                let mut own = reach.rows.iter().filter_map(|at| tariffs.charges.get(*at));
                own.any(|one| std::ptr::eq(one, row))
            }
            Self::Rate(..) => row.rate.value.currency() != Some(book),
            _ => false,
        }
    }

    /// Makes the change on the rows within its reach.
    pub(super) fn set(&self, reach: &Reach, tariffs: &mut Tariffs) -> Result<(), String> {
        let too_large = || TOO_LARGE.to_owned();
        if let Self::Charges(_, ChargeTo::Times(percent)) = self {
            for at in &reach.duties {
                if let Some(row) = tariffs.duties.get_mut(*at).map(Arc::make_mut) {
                    row.rate.value = row.rate.value.times(*percent).map_err(|_| too_large())?;
                }
            }
        }
        for at in &reach.rows {
            match self {
                Self::Rate(_, quote) => {
                    if let Some(row) = tariffs.exchange.get_mut(*at) {
                        row.quote.value = *quote;
                    }
                }
                Self::Charges(_, to) => {
                    if let Some(row) = tariffs.charges.get_mut(*at) {
                        to.set(&mut row.rate.value).ok_or_else(too_large)?;
                    }
                }
                Self::Duty(_, _, to) => {
                    match (tariffs.duties.get_mut(*at).map(Arc::make_mut), to) {
                        (Some(row), DutyTo::Rate(rate)) => row.rate.value = *rate,
                        (Some(row), DutyTo::Ends(day)) => row.valid.until = Some(*day),
                        (None, _) => {}
                    }
                }
                Self::Density(_, to) => {
                    let Some(one) = tariffs.stones.get_mut(*at) else { continue };
                    one.density = match to {
                        DensityTo::At(density) => *density,
                        DensityTo::Times(percent) => {
                            one.density.times(percent.fraction()).map_err(|_| too_large())?
                        }
                    };
                }
                Self::Loss(_, loss) => {
                    if let Some(row) = tariffs.usable.get_mut(*at) {
                        row.allowance.loss = *loss;
                    }
                }
                Self::Bundles(_)
                | Self::Day(..)
                | Self::Price(..)
                | Self::Payments(_)
                | Self::Term(_) => {}
            }
        }
        Ok(())
    }

    /// Puts back the rates within its reach as they stand in the tables that were read.
    pub(super) fn restore(&self, reach: &Reach, read: &Tariffs, tariffs: &mut Tariffs) {
        for at in &reach.duties {
            let both = tariffs.duties.get_mut(*at).map(Arc::make_mut).zip(read.duties.get(*at));
            if let Some((row, read)) = both {
                row.rate.value = read.rate.value;
            }
        }
        for at in &reach.rows {
            match self {
                Self::Rate(..) => {
                    let both = tariffs.exchange.get_mut(*at).zip(read.exchange.get(*at));
                    if let Some((row, read)) = both {
                        row.quote.value = read.quote.value;
                    }
                }
                Self::Charges(..) => {
                    let both = tariffs.charges.get_mut(*at).zip(read.charges.get(*at));
                    if let Some((row, read)) = both {
                        row.rate.value.clone_from(&read.rate.value);
                    }
                }
                Self::Duty(..) => {
                    let own = tariffs.duties.get_mut(*at).map(Arc::make_mut);
                    let both = own.zip(read.duties.get(*at));
                    if let Some((row, read)) = both {
                        (row.rate.value, row.valid) = (read.rate.value, read.valid);
                    }
                }
                _ => {}
            }
        }
    }

    /// The prices that it puts in a shipment, line by line. `None`: one is too large.
    pub(super) fn prices(&self, shipment: &Shipment) -> Option<Vec<(usize, Price)>> {
        let Self::Price(line, to) = self else { return Some(Vec::new()) };
        let lines = shipment.lines.iter().enumerate();
        let own = lines.filter(|(at, _)| line.is_none_or(|line| line == *at));
        own.map(|(at, line)| match to {
            PriceTo::At(price) => Some((at, *price)),
            PriceTo::Times(percent) => Some((at, percent_of(&line.price, *percent)?)),
        })
        .collect()
    }

    /// The change that stands between two of one kind, from nothing at this one to one at the other. `None`:
    /// they are of two kinds, or a figure cannot be held.
    pub fn between(&self, other: &Self, place: Decimal) -> Option<Self> {
        let figure = |low: Decimal, high: Decimal, places| {
            let whole = high.checked_sub(low)?.checked_mul(place)?.checked_add(low)?;
            ratio(whole, Decimal::ONE, places)
        };
        let percent = |low: Percent, high: Percent| {
            figure(low.hundredths(), high.hundredths(), 6).map(Percent::new)
        };
        Some(match (self, other) {
            (Self::Rate(used_for, low), Self::Rate(_, high)) => {
                let rate = figure(low.rate(), high.rate(), 6)?;
                Self::Rate(*used_for, Quote::new(low.base(), rate, low.counter())?)
            }
            (Self::Charges(of, low), Self::Charges(_, high)) => {
                let to = match (low, high) {
                    (ChargeTo::Times(low), ChargeTo::Times(high)) => {
                        ChargeTo::Times(percent(*low, *high)?)
                    }
                    (ChargeTo::Percent(low), ChargeTo::Percent(high)) => {
                        ChargeTo::Percent(percent(*low, *high)?)
                    }
                    (ChargeTo::Amount(low), ChargeTo::Amount(high)) => {
                        let part =
                            Exact::new(figure(low.amount(), high.amount(), 9)?, low.currency());
                        ChargeTo::Amount(part.round().ok()?)
                    }
                    _ => return None,
                };
                Self::Charges(of.clone(), to)
            }
            (Self::Duty(name, line, DutyTo::Rate(low)), Self::Duty(_, _, DutyTo::Rate(high))) => {
                let (DutyRate::Percent(low), DutyRate::Percent(high)) = (low, high) else {
                    return None;
                };
                let rate = DutyRate::Percent(percent(*low, *high)?);
                Self::Duty(name.clone(), line.clone(), DutyTo::Rate(rate))
            }
            (Self::Price(line, low), Self::Price(_, high)) => {
                let to = match (low, high) {
                    (PriceTo::Times(low), PriceTo::Times(high)) => {
                        PriceTo::Times(percent(*low, *high)?)
                    }
                    (PriceTo::At(low), PriceTo::At(high)) => {
                        PriceTo::At(Price { amount: figure(low.amount, high.amount, 4)?, ..*low })
                    }
                    _ => return None,
                };
                Self::Price(*line, to)
            }
            _ => return None,
        })
    }

    /// Where a change of the same kind stands between this and another, from nothing to one.
    pub fn place_of(&self, other: &Self, between: &Self) -> Option<Decimal> {
        let [low, high, at] = [self, other, between].map(Self::figure);
        let (low, high, at) = (low?, high?, at?);
        let place = ratio(at.checked_sub(low)?, high.checked_sub(low)?, 9)?;
        (Decimal::ZERO..=Decimal::ONE).contains(&place).then_some(place)
    }

    /// The figure that a change sets, where it is one that a sweep draws.
    fn figure(&self) -> Option<Decimal> {
        Some(match self {
            Self::Rate(_, quote) => quote.rate(),
            Self::Charges(_, ChargeTo::Times(one) | ChargeTo::Percent(one))
            | Self::Price(_, PriceTo::Times(one))
            | Self::Duty(.., DutyTo::Rate(DutyRate::Percent(one))) => one.hundredths(),
            Self::Charges(_, ChargeTo::Amount(amount)) => amount.amount(),
            Self::Price(_, PriceTo::At(price)) => price.amount,
            _ => return None,
        })
    }

    fn on_shipment(&self, shipment: &Shipment) -> Result<Option<Shipment>, String> {
        let changed = match self {
            Self::Bundles(count) => of_bundles(shipment, *count).ok_or(
                "it is no nominal offer of one line whose bundles are all alike, or what it is filed or \
                 loaded by names single bundles",
            ),
            Self::Day(event, day) => {
                on_day(shipment, *event, *day).ok_or("its days would not be in their order")
            }
            Self::Price(..) => {
                self.prices(shipment).map(|prices| priced(shipment, &prices)).ok_or(TOO_LARGE)
            }
            Self::Payments(payments) => {
                let mut other = shipment.clone();
                let is_so = (0..other.invoices.len()).all(|at| other.put_paid(at, payments));
                is_so.then_some(other).ok_or("an amount is in another currency than its prices")
            }
            Self::Term(term) => {
                is_on_lane(term, shipment)?;
                let mut other = shipment.clone();
                for at in 0..other.invoices.len() {
                    other.put_under(at, term);
                }
                Ok(other)
            }
            _ => return Ok(None),
        };
        changed.map(Some).map_err(str::to_owned)
    }
}

impl Charges {
    /// Whether a row is of them.
    pub(super) fn has(&self, row: &ChargeRow) -> bool {
        match self {
            Self::Named(name) => row.name == *name,
            Self::Leg(leg) => row.leg == *leg,
        }
    }
}

impl ChargeTo {
    /// Whether a row moves along by itself: it is a percentage of one of the rows that are scaled.
    fn moves_along(self, row: &ChargeRow, scaled: &[&ChargeRow]) -> bool {
        matches!(self, Self::Times(_))
            && match row.rate.value.of() {
                Some(WhatOf::Charge(name)) => scaled.iter().any(|row| row.name == *name),
                Some(WhatOf::Leg(leg)) => scaled.iter().any(|row| row.leg == *leg),
                _ => false,
            }
    }

    /// Sets a rate. `None`: an amount is too large.
    fn set(self, rate: &mut Rate) -> Option<()> {
        let percent = match self {
            Self::Amount(amount) => {
                if let Rate::Amount(own) = rate {
                    *own = amount.into();
                }
                return Some(());
            }
            Self::Percent(percent) => {
                if let Rate::Percent(own, _)
                | Rate::Premium { rate: own, .. }
                | Rate::Interest(own, _) = rate
                {
                    *own = percent;
                }
                return Some(());
            }
            Self::Times(percent) => percent,
        };
        match rate {
            Rate::Percent(own, _) | Rate::Premium { rate: own, .. } | Rate::Interest(own, _) => {
                *own = own.of(percent).ok()?;
            }
            _ => scale(rate, percent)?,
        }
        Some(())
    }
}

/// The positions of rows that are so.
fn where_so<T>(rows: &[T], is_so: impl Fn(&T) -> bool) -> Vec<usize> {
    let all = rows.iter().enumerate();
    all.filter(|(_, row)| is_so(row)).map(|(at, _)| at).collect()
}

/// The layers of duty that may fall on goods of a shipment, by position.
pub(super) fn layers(shipment: &Shipment, tariffs: &Tariffs) -> Vec<usize> {
    let regime = &shipment.yard.regime;
    let lines = shipment.lines.iter().filter_map(|line| {
        let stone = tariffs.stone(&line.stone)?;
        let row = stone.tariff_row(regime, &line.finish, line.form())?;
        Some((row.line.as_str(), &line.origin))
    });
    let goods: Vec<_> = lines.collect();
    where_so(&tariffs.duties, |row| {
        goods.iter().any(|(line, origin)| row.is_on(regime, line, origin))
    })
}

/// Whether a row is a rate between the currencies of a quote for a use.
pub(super) fn is_used(row: &ExchangeRow, used_for: ExchangeUse, quote: &Quote) -> bool {
    row.used_for == used_for && row.quote.joins(quote.base(), quote.counter())
}

/// Takes a percentage of the amounts of a rate. `None`: it is a percentage of something, or an amount is too
/// large.
pub(super) fn scale(rate: &mut Rate, percent: Percent) -> Option<()> {
    let scaled = |amount: UnitRate| amount.percent(percent).ok();
    match rate {
        Rate::Amount(amount) | Rate::Each { amount, .. } => *amount = scaled(*amount)?,
        Rate::Tiers(tiers) => {
            for tier in &mut tiers.tiers {
                tier.amount = scaled(tier.amount)?;
            }
        }
        Rate::Percent(..) | Rate::Premium { .. } | Rate::Interest(..) => return None,
    }
    Some(())
}

/// Whether a delivery term names no port beside a shipment's lane.
///
/// # Errors
/// The two ports, in a sentence.
pub fn is_on_lane(term: &DeliveryTerm, shipment: &Shipment) -> Result<(), String> {
    term.off_lane(&shipment.lane).map_or(Ok(()), |(port, of)| {
        let (named, lane) = (&term.named_place, &shipment.lane);
        Err(format!("{term} names {named} as the port of {of}, and the lane {lane} says {port}"))
    })
}

/// A shipment with an event on another day. Its customs entries are made as many days later as the entry is.
fn on_day(shipment: &Shipment, event: Event, day: Date) -> Option<Shipment> {
    let dates = shipment.dates.moved(event, day)?;
    let by = dates.entered - shipment.dates.entered;
    let mut other = Shipment { dates, ..shipment.clone() };
    for filing in &mut other.filings {
        filing.entered = filing.entered.checked_add_signed(by)?;
    }
    other.filings.iter().all(|filing| filing.entered >= dates.sails).then_some(other)
}

/// A nominal shipment with another number of bundles, which are all alike.
fn of_bundles(shipment: &Shipment, count: u32) -> Option<Shipment> {
    let [line] = &shipment.lines[..] else { return None };
    let first = shipment.bundles.first()?;
    let is_alike = |bundle: &Bundle| {
        (bundle.slabs, bundle.mass, bundle.length) == (first.slabs, first.mass, first.length)
    };
    let load = &shipment.load;
    let names_some = !(load.together.is_empty() && load.apart.is_empty() && load.fixed.is_empty());
    let lists = |covers: &Covers| matches!(covers, Covers::Bundles(_));
    let is_listed = shipment.bills.iter().any(|bill| lists(&bill.covers))
        || shipment.filings.iter().any(|filing| lists(&filing.covers));
    if !line.nominal || !shipment.bundles.iter().all(is_alike) || names_some || is_listed {
        return None;
    }
    with_bundles(shipment, 0, usize::try_from(count).ok()?)
}
