//! Rows of the charge tables: what they match, what they cost, how they spread.

use std::borrow::Cow;

use smol_str::SmolStr;

use super::calendar::{Date, Event, Window, word_of};
use super::clock::Clock;
use super::code::Country;
use super::scope::ScopeKind;
use super::term::Leg;
use super::tier::Tiers;
use super::workday::DueRule;
use crate::fault::{At, Place};
use crate::quantity::{Currency, Money, Percent, UnitRate};

/// The tables of charge rows. A forwarder's or haulier's offer is a choice within one table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum TableName {
    /// Carriage by sea and what goes with it; chosen by the day of sailing.
    Freight,
    /// Carriage from the port to the yard; chosen by the day of delivery.
    Drayage,
    /// Packing and origin services; chosen by the day of sailing.
    Crating,
    /// Fees of customs, broker, bank and yard.
    Fees,
}

impl TableName {
    /// Every table with its file's stem.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Freight, "freight"),
        (Self::Drayage, "drayage"),
        (Self::Crating, "crating"),
        (Self::Fees, "fees"),
    ];

    /// The stem of its file in `rates/`.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// What a charge is counted by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Per {
    /// The shipment.
    Shipment,
    /// A bill of lading.
    Bill,
    /// A customs entry.
    Entry,
    /// A line of a customs entry.
    TariffLine,
    /// A container.
    Container,
    /// A bundle.
    Bundle,
    /// A slab.
    Slab,
    /// A tonne of the shipment's gross mass.
    Tonne,
    /// A square metre of the shipment's billed area.
    M2,
    /// A day between two events.
    Day,
    /// An hour that the shipment states: of waiting, of a crane.
    Hour,
    /// A month between two events, a part of one counted whole.
    Month,
    /// A quarter between two events, a part of one counted whole.
    Quarter,
    /// The charge that it is a percentage of, once for each of that: no word of its own.
    Part,
}

impl Per {
    /// Every way of counting that has a written form.
    pub const ALL: [(Self, &'static str); 13] = [
        (Self::Shipment, "shipment"),
        (Self::Bill, "bill of lading"),
        (Self::Entry, "entry"),
        (Self::TariffLine, "tariff line"),
        (Self::Container, "container"),
        (Self::Bundle, "bundle"),
        (Self::Slab, "slab"),
        (Self::Tonne, "tonne"),
        (Self::M2, "m2"),
        (Self::Day, "day"),
        (Self::Hour, "hour"),
        (Self::Month, "month"),
        (Self::Quarter, "quarter"),
    ];

    /// Whether it counts time that passes for the whole shipment, or for each box where the row's
    /// scope is the container.
    pub fn is_time(self) -> bool {
        matches!(self, Self::Day | Self::Hour | Self::Month | Self::Quarter)
    }

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// In proportion to what a charge is spread over the slabs of its scope.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Key {
    /// Billed area: the rule unless a row or the shipment's policy says otherwise.
    Area,
    /// Gross mass.
    Mass,
    /// The slab's own price.
    Value,
    /// One slab, one share.
    Count,
    /// What it is charged on: each slab's part of the value that it is a percentage of.
    Base,
}

impl Key {
    /// Every key with its written form.
    pub const ALL: [(Self, &'static str); 5] = [
        (Self::Area, "area"),
        (Self::Mass, "mass"),
        (Self::Value, "value"),
        (Self::Count, "count"),
        (Self::Base, "base"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// Where a charge goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Treatment {
    /// Part of the slab's cost.
    Stock,
    /// Expensed in the period: demurrage, bank interest.
    Period,
    /// Paid and recovered: import VAT.
    Recoverable,
    /// Weighed in a decision, never booked: imputed finance.
    Notional,
}

impl Treatment {
    /// Every treatment with its written form.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Stock, "stock"),
        (Self::Period, "period"),
        (Self::Recoverable, "recoverable"),
        (Self::Notional, "notional"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// The word of a page, which says what becomes of the charge.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Period => "expensed",
            Self::Notional => "not booked",
            Self::Stock | Self::Recoverable => self.word(),
        }
    }
}

/// What a percentage is of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WhatOf {
    /// The goods at invoice price, discount taken off, in the book currency.
    Goods,
    /// The entered value at customs.
    EnteredValue,
    /// The base of an import tax: the entered value, its duty, and what else the regime says.
    TaxedValue,
    /// The insured value: a percentage of cost, insurance and freight, the premium inside it.
    InsuredValue,
    /// All charges of a leg together: the freight, say.
    Leg(Leg),
    /// What a single-entry bond must cover: the entered value with duties, taxes and fees
    /// (19 CFR 113.13; customs broker licence examination, 2005, question 43).
    SingleBond,
    /// An entry's part of the continuous bond: its amount divided by the entries of a year.
    ContinuousBond,
    /// What has been paid, from the day it is paid on.
    Payments,
    /// Another charge, by its name.
    Charge(String),
}

impl WhatOf {
    /// The written form.
    pub fn word(&self) -> Cow<'_, str> {
        let word = match self {
            Self::Goods => "goods",
            Self::EnteredValue => "entered value",
            Self::TaxedValue => "taxed value",
            Self::InsuredValue => "insured value",
            Self::Leg(leg) => return format!("all {}", leg.word()).into(),
            Self::SingleBond => "single bond",
            Self::ContinuousBond => "continuous bond",
            Self::Payments => "payments",
            Self::Charge(name) => name,
        };
        Cow::Borrowed(word)
    }

    /// What the written form names.
    pub fn of(text: String) -> Self {
        match text.as_str() {
            "goods" => Self::Goods,
            "entered value" => Self::EnteredValue,
            "taxed value" => Self::TaxedValue,
            "insured value" => Self::InsuredValue,
            "single bond" => Self::SingleBond,
            "continuous bond" => Self::ContinuousBond,
            "payments" => Self::Payments,
            _ => {
                let leg = text.strip_prefix("all ");
                let known = leg.and_then(|leg| Leg::ALL.iter().find(|(_, word)| *word == leg));
                known.map_or(Self::Charge(text.clone()), |(leg, _)| Self::Leg(*leg))
            }
        }
    }
}

/// What a row charges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Rate {
    /// An amount of money per unit.
    Amount(UnitRate),
    /// A percentage of something that is known beforehand.
    Percent(Percent, WhatOf),
    /// A premium: a percentage of the insured value, which contains it.
    Premium {
        /// The percentage.
        rate: Percent,
        /// The share of cost, insurance and freight that is insured.
        insured: Percent,
    },
    /// Interest on what has been paid.
    Interest(Percent, Interest),
    /// An amount for each so much of something: 5 dollars a thousand of a bond.
    Each {
        /// The amount.
        amount: UnitRate,
        /// For each of this.
        each: Money,
        /// Of what.
        of: WhatOf,
        /// Whether a part counts as a whole one.
        begun: bool,
    },
    /// An amount that goes by tiers.
    Tiers(Tiers),
}

impl Rate {
    /// What it is a part of, for a rate that is one.
    pub fn of(&self) -> Option<&WhatOf> {
        match self {
            Self::Percent(_, of) | Self::Each { of, .. } => Some(of),
            Self::Premium { .. } => Some(&WhatOf::InsuredValue),
            Self::Interest(..) => Some(&WhatOf::Payments),
            Self::Amount(_) | Self::Tiers(_) => None,
        }
    }

    /// The currency of its amounts; `None`: it has none, or is for each so much of something.
    pub fn currency(&self) -> Option<Currency> {
        match self {
            Self::Amount(amount) => Some(amount.currency()),
            Self::Tiers(tiers) => tiers.tiers.first().map(|tier| tier.amount.currency()),
            _ => None,
        }
    }

    /// The percentage, for a rate that is one.
    pub fn percent(&self) -> Option<Percent> {
        match self {
            Self::Percent(rate, _) | Self::Premium { rate, .. } | Self::Interest(rate, _) => {
                Some(*rate)
            }
            Self::Amount(_) | Self::Each { .. } | Self::Tiers(_) => None,
        }
    }
}

impl std::fmt::Display for Rate {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Amount(amount) => write!(f, "{amount}"),
            Self::Percent(percent, of) => write!(f, "{percent} of {}", of.word()),
            Self::Premium { rate, .. } => write!(f, "{rate} of {}", WhatOf::InsuredValue.word()),
            Self::Interest(rate, _) => write!(f, "{rate} of {}", WhatOf::Payments.word()),
            Self::Each { amount, each, of, .. } => {
                write!(f, "{amount} for {each} of {}", of.word())
            }
            Self::Tiers(tiers) => {
                let prices: Vec<String> =
                    tiers.tiers.iter().map(|tier| tier.amount.amount().to_string()).collect();
                let currency = tiers.currency().map_or("", crate::quantity::Currency::code);
                write!(f, "{} {currency} by {}", prices.join("/"), tiers.by.word())
            }
        }
    }
}

/// The yearly rate of money that is out: what turns a percentage of payments into interest.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Interest {
    /// The days a year is taken to have.
    pub days_in_year: u32,
    /// Until which event the money is out.
    pub until: Event,
}

/// How firm a charge is: shown in the headline as quoted, by law, assumed, or a figure to start with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Basis {
    /// A supplier's price or a forwarder's quote.
    Quoted,
    /// A published tariff or fee.
    Law,
    /// The importer's own estimate, or a figure from a nominal line.
    Assumed,
    /// A figure to start with, which nobody quoted and no law states: the user has yet to put the own in
    /// its place.
    Starter,
}

/// The word that marks a figure to start with, in every table and on an invoice.
pub const STARTER: &str = "starter";

impl Basis {
    /// Every basis with its written form.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::Quoted, "quoted"),
        (Self::Law, "law"),
        (Self::Assumed, "assumed"),
        (Self::Starter, STARTER),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// What a row is for. A key that is left out fits everything.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Matches {
    /// The lane, as `TRIZM-USSAV`.
    pub lane: Option<SmolStr>,
    /// The port: of loading for legs at origin, of discharge for the others.
    pub port: Option<SmolStr>,
    /// The named place of the delivery term.
    pub term_place: Option<SmolStr>,
    /// The container type.
    pub container: Option<SmolStr>,
    /// The road class.
    pub class: Option<SmolStr>,
    /// The yard.
    pub yard: Option<SmolStr>,
    /// The customs regime.
    pub regime: Option<SmolStr>,
    /// The stone.
    pub stone: Option<SmolStr>,
    /// The kind of entry: formal, informal.
    pub entry: Option<SmolStr>,
    /// How the goods come to the country: sea, land, air.
    pub mode: Option<SmolStr>,
}

impl Matches {
    /// The keys that are given, with their written names, for messages.
    pub fn given(&self) -> impl Iterator<Item = (&'static str, &str)> {
        [
            ("lane", &self.lane),
            ("port", &self.port),
            ("term-place", &self.term_place),
            ("container", &self.container),
            ("class", &self.class),
            ("yard", &self.yard),
            ("regime", &self.regime),
            ("stone", &self.stone),
            ("entry", &self.entry),
            ("mode", &self.mode),
        ]
        .into_iter()
        .filter_map(|(name, value)| value.as_deref().map(|value| (name, value)))
    }

    /// Whether a row with these keys fits what is asked for: every given key has the asked value.
    pub fn fit(&self, asked: &Self) -> bool {
        let fits = |row: &Option<SmolStr>, asked: &Option<SmolStr>| row.is_none() || row == asked;
        fits(&self.lane, &asked.lane)
            && fits(&self.port, &asked.port)
            && fits(&self.term_place, &asked.term_place)
            && fits(&self.container, &asked.container)
            && fits(&self.class, &asked.class)
            && fits(&self.yard, &asked.yard)
            && fits(&self.regime, &asked.regime)
            && fits(&self.stone, &asked.stone)
            && fits(&self.entry, &asked.entry)
            && fits(&self.mode, &asked.mode)
    }
}

impl ChargeRow {
    /// Whether it is told apart by the kind of box: its type, or its road class.
    pub fn is_by_kind(&self) -> bool {
        self.matches.container.is_some() || self.matches.class.is_some()
    }
}

/// What a fee's exemption by origin hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ExemptIf {
    /// On a claim under a trade agreement, which the line makes with its `preference` (19 CFR
    /// 24.23(c); 72 FR 52780).
    Claimed,
    /// On nothing but the origin: products of island possessions, of the Caribbean Basin, of least
    /// developed countries (CSMS 14-000077).
    ProductOf,
}

/// Whose goods are free of a fee.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Exempt {
    /// The origins that are free where the line claims it.
    pub claimed: Vec<Country>,
    /// The origins that are free without a claim.
    pub product_of: Vec<Country>,
}

impl Exempt {
    /// What the exemption of an origin hangs on; `None` where it has none. One that needs no claim goes
    /// before one that does.
    pub fn of(&self, origin: &Country) -> Option<ExemptIf> {
        if self.product_of.contains(origin) {
            return Some(ExemptIf::ProductOf);
        }
        self.claimed.contains(origin).then_some(ExemptIf::Claimed)
    }

    /// Whether goods of an origin are free, where they claim a programme or do not.
    pub fn holds(&self, origin: &Country, claims: bool) -> bool {
        self.of(origin).is_some_and(|on| claims || on == ExemptIf::ProductOf)
    }
}

/// One row of a charge table.
#[derive(Debug, Clone)]
pub struct ChargeRow {
    /// The table it stands in.
    pub table: TableName,
    /// What it fits.
    pub matches: Matches,
    /// Its name, as a bill would have it.
    pub name: String,
    /// The leg it belongs to.
    pub leg: Leg,
    /// What it charges.
    pub rate: At<Rate>,
    /// What it is counted by.
    pub per: Per,
    /// The time that it charges: its rate is for each unit of that.
    pub clock: Option<Clock>,
    /// The least it comes to.
    pub minimum: Option<Money>,
    /// The most it comes to.
    pub maximum: Option<Money>,
    /// The slabs that share it, where not as `per` implies.
    pub scope: Option<At<ScopeKind>>,
    /// The key it spreads by, where not by area.
    pub key: Option<Key>,
    /// Where it goes.
    pub treatment: Treatment,
    /// How firm it is.
    pub basis: Basis,
    /// Whose quote it is part of.
    pub offer: Option<String>,
    /// Whether the importer bears it whatever the delivery term says of its leg: what its own bank or
    /// inspector charges.
    pub by_importer: bool,
    /// Whose goods are free of it.
    pub exempt: Option<Exempt>,
    /// When it is paid, where not on the day of its leg.
    pub due: Option<DueRule>,
    /// When it comes back, for one that is recovered.
    pub recovered: Option<DueRule>,
    /// When it is in force.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// The day on which a published figure was read there.
    pub read: Option<Date>,
    /// Its row.
    pub place: Place,
}
