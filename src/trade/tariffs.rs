//! The rate tables as a whole, and looking up in them by date.

use std::collections::BTreeSet;
use std::sync::Arc;

use smol_str::SmolStr;

use super::account::AccountRow;
use super::bond::ContinuousBond;
use super::calendar::{Date, Window, word_of};
use super::charge::{Basis, ChargeRow, Matches, TableName};
use super::container::ContainerType;
use super::duty::{DutyRow, Regime};
use super::port::NamedPort;
use super::rig::Rig;
use super::road::RoadLaw;
use super::sailing::SailingRow;
use super::sawing::{SawMethod, WorkStep};
use super::securing::{Friction, SecuringSet};
use super::selling::{CoverRow, ExceptionRow, MarketRow, SellingRow};
use super::stone::{Allowance, Finish, Quality, Stone, Timber, UsableRow};
use super::workday::WorkCalendar;
use super::yard::Yard;
use crate::fault::{At, Place};
use crate::quantity::{Currency, Mass, Quote, Size};

/// Everything that `rates/` says.
#[derive(Debug, Clone, Default)]
pub struct Tariffs {
    /// The finishes.
    pub finishes: Vec<Finish>,
    /// The stones.
    pub stones: Vec<Stone>,
    /// The qualities.
    pub qualities: Vec<Quality>,
    /// What cannot be used of stones.
    pub usable: Vec<UsableRow>,
    /// The container types.
    pub containers: Vec<ContainerType>,
    /// The yards.
    pub yards: Vec<Yard>,
    /// The calendars that working days are counted by.
    pub calendars: Vec<WorkCalendar>,
    /// Continuous bonds.
    pub bonds: Vec<ContinuousBond>,
    /// The rows of all charge tables, in file order.
    pub charges: Vec<ChargeRow>,
    /// Limits of carriers and roads.
    pub limits: Vec<LimitRow>,
    /// Rigs that carry containers.
    pub rigs: Vec<Rig>,
    /// What roads let them weigh.
    pub roads: Vec<RoadLaw>,
    /// Duty rates.
    pub duties: Vec<Arc<DutyRow>>,
    /// Customs regimes.
    pub regimes: Vec<Regime>,
    /// Exchange rates.
    pub exchange: Vec<ExchangeRow>,
    /// Ports by name.
    pub ports: Vec<NamedPort>,
    /// Which ships leave when.
    pub sailings: Vec<SailingRow>,
    /// Accounts as the importer's own ledger has them.
    pub accounts: Vec<AccountRow>,
    /// The rules of the price list.
    pub selling: Vec<SellingRow>,
    /// Prices that go before the rules.
    pub exceptions: Vec<ExceptionRow>,
    /// What slabs fetch.
    pub market: Vec<MarketRow>,
    /// How stones are used.
    pub cover: Vec<CoverRow>,
    /// How blocks are sawn.
    pub methods: Vec<SawMethod>,
    /// What works do to slabs once they are sawn.
    pub work_steps: Vec<WorkStep>,
    /// What cargo is held against on its way.
    pub securing: Vec<SecuringSet>,
    /// The friction under it.
    pub friction: Option<Friction>,
    /// What bundles are strapped with.
    pub timber: Option<Timber>,
    /// The slab assumed for an offer that states only an area.
    pub nominal: Option<NominalSlab>,
}

/// The slab and bundle assumed where an offer states only an area.
#[derive(Debug, Clone)]
pub struct NominalSlab {
    /// Its size.
    pub size: Size,
    /// Stone mass of one bundle, at the most.
    pub bundle_mass: Mass,
    /// Its row.
    pub place: Place,
}

/// Of which kind a limit is: breaking a law and bending a custom are two different things.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LimitKind {
    /// A law or regulation.
    Law,
    /// The rating of equipment.
    Equipment,
    /// A carrier's own rule.
    Carrier,
    /// A custom of the trade.
    Custom,
}

impl LimitKind {
    /// Every kind with its written form.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Law, "law"),
        (Self::Equipment, "equipment"),
        (Self::Carrier, "carrier"),
        (Self::Custom, "custom"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// The word on pages: a custom of the trade has nothing to do with customs.
    pub fn shown(self) -> &'static str {
        if self == Self::Custom { "trade practice" } else { self.word() }
    }
}

/// What a limit is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitOn {
    /// Cargo, timber and dunnage.
    Cargo,
    /// The packed container, tare included.
    Gross,
}

/// A limit that a carrier or a road sets.
#[derive(Debug, Clone)]
pub struct LimitRow {
    /// What it fits.
    pub matches: Matches,
    /// Its name.
    pub name: String,
    /// What it is on.
    pub on: LimitOn,
    /// The most.
    pub mass: Mass,
    /// Of which kind.
    pub kind: LimitKind,
    /// Whose quote it is part of.
    pub offer: Option<String>,
    /// When it is in force.
    pub valid: Window,
    /// Whether it stands in the freight table: then it is chosen by sailing, else by delivery.
    pub at_sea: bool,
    /// Whether it is a figure to start with.
    pub is_starter: bool,
    /// Where it comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// What an exchange row may be used for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum ExchangeUse {
    /// Planning: for events after the day of the calculation.
    Plan,
    /// Booking: the bank's rate of the day.
    Book,
    /// Customs: the rate the authority publishes for a month or a quarter.
    Customs,
    /// Customs: the rate the authority certifies for a day.
    CustomsDaily,
    /// A contract: a forward bought, or a rate agreed with the supplier.
    Contract,
}

impl ExchangeUse {
    /// Every use with its written form.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Plan, "plan"),
        (Self::Book, "book"),
        (Self::Customs, "customs"),
        (Self::CustomsDaily, "customs daily"),
        (Self::Contract, "contract"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// An exchange rate with its use and validity.
#[derive(Debug, Clone)]
pub struct ExchangeRow {
    /// What it may be used for.
    pub used_for: ExchangeUse,
    /// The rate as quoted.
    pub quote: At<Quote>,
    /// Whether it is a figure to start with.
    pub is_starter: bool,
    /// When it is in force.
    pub valid: Window,
    /// Where it comes from.
    pub source: SmolStr,
    /// Its row.
    pub place: Place,
}

/// The outcome of looking for the one row in force.
#[derive(Debug)]
pub enum Lookup<'a, T> {
    /// Exactly one row.
    Found(&'a T),
    /// More than one row.
    Several(Vec<&'a T>),
    /// Rows for the purpose, none of them in force; nearest first.
    Lapsed(Vec<&'a T>),
    /// No row for the purpose at all.
    Missing,
}

/// Finds the one row in force on a date among those that fit a purpose.
pub fn in_force<'a, T>(
    fitting: impl Iterator<Item = &'a T> + Clone,
    window: impl Fn(&T) -> Window,
    date: Date,
) -> Lookup<'a, T> {
    let mut valid = fitting.clone().filter(|row| window(row).holds(date));
    match (valid.next(), valid.next()) {
        (Some(row), None) => return Lookup::Found(row),
        (Some(first), Some(second)) => {
            return Lookup::Several([first, second].into_iter().chain(valid).collect());
        }
        (None, _) => {}
    }
    let mut lapsed: Vec<&T> = fitting.collect();
    if lapsed.is_empty() {
        return Lookup::Missing;
    }
    lapsed.sort_by_key(|row| window(row).days_off(date));
    Lookup::Lapsed(lapsed)
}

/// Lets the last row of each kind serve on after its last day: that which none of its kind begins after.
fn serve_on<T: Clone>(
    rows: &mut [T],
    valid: fn(&mut T) -> &mut Window,
    is_same: fn(&T, &T) -> bool,
) {
    let mut all = rows.to_vec();
    let begins: Vec<Date> = all.iter_mut().map(|row| valid(row).from).collect();
    for row in rows {
        let Some(until) = valid(row).until else { continue };
        let mut others = all.iter().zip(&begins);
        let has_later = others.any(|(other, begins)| *begins > until && is_same(row, other));
        valid(row).serves_on = !has_later;
    }
}

impl Tariffs {
    /// The same, where the last row of each kind serves on after it has lapsed: charges and limits that are no
    /// law, rates of exchange for planning and booking, and bonds. A law ends with its row, and a rate that
    /// customs certify with its day.
    #[must_use]
    pub fn serving_on(&self) -> Self {
        let mut all = self.clone();
        serve_on(
            &mut all.charges,
            |row| &mut row.valid,
            |one, other| {
                one.name == other.name
                    && (one.table, one.leg) == (other.table, other.leg)
                    && one.offer == other.offer
                    && one.matches == other.matches
            },
        );
        for row in &mut all.charges {
            row.valid.serves_on &= row.basis != Basis::Law;
        }
        serve_on(
            &mut all.limits,
            |row| &mut row.valid,
            |one, other| {
                (one.at_sea, &one.name, &one.offer) == (other.at_sea, &other.name, &other.offer)
                    && one.matches == other.matches
            },
        );
        for row in &mut all.limits {
            row.valid.serves_on &= row.kind != LimitKind::Law;
        }
        serve_on(
            &mut all.exchange,
            |row| &mut row.valid,
            |one, other| {
                let quote = &other.quote;
                one.used_for == other.used_for && one.quote.joins(quote.base(), quote.counter())
            },
        );
        for row in &mut all.exchange {
            row.valid.serves_on &= matches!(row.used_for, ExchangeUse::Plan | ExchangeUse::Book);
        }
        serve_on(&mut all.bonds, |row| &mut row.valid, |one, other| one.regime == other.regime);
        all
    }

    /// What works charge for: sawing by each method, and their other steps.
    pub fn works(&self) -> impl Iterator<Item = &WorkStep> {
        self.methods.iter().map(|method| &method.step).chain(&self.work_steps)
    }

    /// The finish of this name.
    pub fn finish(&self, id: &str) -> Option<&Finish> {
        self.finishes.iter().find(|finish| finish.id == id)
    }

    /// The stone of this name.
    pub fn stone(&self, id: &str) -> Option<&Stone> {
        self.stones.iter().find(|stone| stone.id == id)
    }

    /// The quality of this name, or that is called so.
    pub fn quality(&self, word: &str) -> Option<&Quality> {
        self.qualities.iter().find(|quality| *quality.id == word || quality.name == word)
    }

    /// What cannot be used of a stone in a quality: the row for that quality, or the stone's own.
    pub fn allowance(&self, stone: &str, quality: Option<&str>) -> Option<Allowance> {
        let fits = |row: &&UsableRow| {
            row.stone == stone && row.quality.as_deref().is_none_or(|own| Some(own) == quality)
        };
        let row = self.usable.iter().filter(fits).max_by_key(|row| row.quality.is_some());
        row.map(|row| row.allowance)
    }

    /// The container type of this name.
    pub fn container(&self, id: &str) -> Option<&ContainerType> {
        self.containers.iter().find(|container| container.id == id)
    }

    /// The road of this name on a date.
    pub fn road(&self, id: &str, date: Date) -> Lookup<'_, RoadLaw> {
        in_force(self.roads.iter().filter(|row| row.id == id), |row| row.valid, date)
    }

    /// The offers that charge rows of a table are of.
    pub fn offers(&self, table: TableName) -> Vec<&str> {
        let rows = self.charges.iter().filter(|row| row.table == table);
        let all: BTreeSet<&str> = rows.filter_map(|row| row.offer.as_deref()).collect();
        all.into_iter().collect()
    }

    /// The road classes that any row is for.
    pub fn classes(&self) -> Vec<&str> {
        let charges = self.charges.iter().map(|row| &row.matches);
        let limits = self.limits.iter().map(|row| &row.matches);
        let rigs = self.rigs.iter().map(|rig| &rig.matches);
        let all: BTreeSet<&str> =
            charges.chain(limits).chain(rigs).filter_map(|row| row.class.as_deref()).collect();
        all.into_iter().collect()
    }

    /// The yard of this name.
    pub fn yard(&self, id: &str) -> Option<&Yard> {
        self.yards.iter().find(|yard| yard.id == id)
    }

    /// The exchange row for a use between two currencies on a date.
    pub fn exchange(
        &self,
        used_for: ExchangeUse,
        one: Currency,
        other: Currency,
        date: Date,
    ) -> Lookup<'_, ExchangeRow> {
        let fits = |row: &&ExchangeRow| row.used_for == used_for && row.quote.joins(one, other);
        in_force(self.exchange.iter().filter(fits), |row| row.valid, date)
    }

    /// The continuous bond of a regime on a date.
    pub fn bond(&self, regime: &str, date: Date) -> Lookup<'_, ContinuousBond> {
        in_force(self.bonds.iter().filter(|row| row.regime == regime), |row| row.valid, date)
    }

    /// The regime of this name on a date.
    pub fn regime(&self, id: &str, date: Date) -> Lookup<'_, Regime> {
        in_force(self.regimes.iter().filter(|row| row.id == id), |row| row.valid, date)
    }
}
