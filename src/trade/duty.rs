//! Customs regimes and the layers of duty: what goods are valued by, and what is levied on them.

use std::fmt;

use super::calendar::{Date, Event, Window, word_of};
use super::charge::Key;
use super::code::Country;
use super::filing::Mode;
use super::term::Leg;
use super::workday::DueRule;
use crate::fault::{At, Place};
use crate::quantity::{
    Currency, Decimal, Malformed, Money, Overflow, Percent, Written, bounded_price, figure_pattern,
    parse_decimal, product,
};

/// A fee that the entries of a regime bear.
#[derive(Debug, Clone)]
pub struct EntryFee {
    /// The name of its charge rows.
    pub name: String,
    /// How the goods come that bear it; in any way where it does not say.
    pub mode: Option<Mode>,
}

/// What a regime's duty base includes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ValueBasis {
    /// Value at export: international freight and insurance stay out.
    Export,
    /// Value at the border: freight and insurance to the border are in.
    Border,
}

impl ValueBasis {
    /// Legs that are added to the price where the importer bears them, unless the regime's row
    /// says otherwise. Packing always is.
    pub fn adds(self) -> Vec<Leg> {
        let upto = match self {
            Self::Export => Leg::ExportPacking,
            Self::Border => Leg::Insurance,
        };
        let legs = Leg::ALL.iter().map(|(leg, _)| *leg);
        legs.filter(|leg| *leg > Leg::Goods && *leg <= upto).collect()
    }

    /// Legs that come out of a price which states them apart, unless the regime's row says
    /// otherwise.
    pub fn takes_out(self) -> Vec<Leg> {
        let from = match self {
            Self::Export => Leg::MainCarriage,
            Self::Border => Leg::DestinationTerminal,
        };
        Leg::ALL.iter().map(|(leg, _)| *leg).filter(|leg| *leg >= from).collect()
    }
}

/// Where a duty is rounded to the minor unit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum DutyRounding {
    /// Each layer of each line on its own.
    #[default]
    Layer,
    /// The layers of a line together: its layers are rounded so that they make that sum.
    Line,
}

/// A customs regime.
#[derive(Debug, Clone)]
pub struct Regime {
    /// The name yards refer to.
    pub id: String,
    /// Its name in full.
    pub name: String,
    /// The currency of its entries.
    pub currency: Currency,
    /// What the duty base includes.
    pub basis: ValueBasis,
    /// Legs added to the price where the importer bears them.
    pub adds: Vec<Leg>,
    /// Legs that come out of a price which states them apart with evidence.
    pub takes_out: Vec<Leg>,
    /// Legs before the ship that come out too, where a through bill of lading covers them.
    pub through: Vec<Leg>,
    /// Legs that are taken as a share of the value before the main carriage where the importer bears
    /// them and nothing is known of their cost (India: Customs Valuation Rules 2007, rule 10(2), as
    /// amended on 26 September 2017).
    pub assumed: Vec<(Leg, Percent)>,
    /// The step an entry line's value is rounded to; the minor unit where it is nothing.
    pub value_step: Money,
    /// Where duty is rounded.
    pub duty_rounding: DutyRounding,
    /// By how much a day's certified rate must differ from that of its quarter to take its place,
    /// as a share of the quarter's rate; `None` where there is one kind of certified rate alone.
    pub daily_rate_from: Option<Percent>,
    /// The event whose day chooses the customs rate of exchange: sailing, the day of export, or the
    /// entry.
    pub exchange_on: Event,
    /// When duties, taxes and the authority's fees are paid; on the day of entry where not said.
    pub duty_due: Option<DueRule>,
    /// Legs that the base of an import tax has beside the customs value and the duty.
    pub tax_adds: Vec<Leg>,
    /// The most an informal entry may be worth, where there are any.
    pub informal_limit: Option<Money>,
    /// Fees that every entry bears, by the names of their rows.
    pub fees: Vec<EntryFee>,
    /// How many times its entered value a bond for one entry must cover where another agency restricts
    /// its goods.
    pub restricted_bond: Option<u32>,
    /// When it is in force.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// What a layer of duty does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LayerKind {
    /// The rate of the tariff line itself.
    Base,
    /// A rate that goods claim in place of the base.
    Preferential,
    /// On top of the base, on the same value.
    Additive,
    /// What lifts the base to a total; nothing where the base is there already.
    TopUp,
    /// Against dumping, by producer.
    AntiDumping,
    /// Against subsidies, by producer.
    Countervailing,
}

impl LayerKind {
    /// Every kind with its written form.
    pub const ALL: [(Self, &'static str); 6] = [
        (Self::Base, "base"),
        (Self::Preferential, "preferential"),
        (Self::Additive, "additive"),
        (Self::TopUp, "top-up"),
        (Self::AntiDumping, "anti-dumping"),
        (Self::Countervailing, "countervailing"),
    ];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// The words for it on pages.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Base => "base duty",
            Self::Additive => "on top of the base duty",
            Self::TopUp => "lifts the base duty to it",
            Self::Preferential | Self::AntiDumping | Self::Countervailing => self.word(),
        }
    }

    /// Whether the rate depends on who made the goods.
    pub fn is_by_producer(self) -> bool {
        matches!(self, Self::AntiDumping | Self::Countervailing)
    }
}

/// The quantity that a specific duty is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DutyUnit {
    /// A kilogram, net of timber.
    Kg,
    /// A tonne, net of timber.
    Tonne,
    /// A square metre of gross size.
    M2,
}

impl DutyUnit {
    /// Every unit with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Kg, "kg"), (Self::Tonne, "t"), (Self::M2, "m2")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// An amount for each unit of quantity, not rounded to a minor unit: 0.43 cent a kilogram.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpecificRate {
    /// The figure.
    pub amount: Decimal,
    /// Its currency.
    pub currency: Currency,
    /// What it is for each of.
    pub unit: DutyUnit,
}

impl fmt::Display for SpecificRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} {}/{}", self.amount, self.currency, self.unit.word())
    }
}

/// What a layer levies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DutyRate {
    /// A percentage of the entered value; for a top-up, of which the base is a part.
    Percent(Percent),
    /// So much for each unit of quantity.
    Specific(SpecificRate),
}

impl DutyRate {
    /// A percentage of the rate, exact.
    ///
    /// # Errors
    /// Where the figure has more digits than can be held.
    pub fn times(self, percent: Percent) -> Result<Self, Overflow> {
        Ok(match self {
            Self::Percent(own) => Self::Percent(own.of(percent)?),
            Self::Specific(own) => {
                let amount = product(own.amount, percent.fraction(), "a rate of duty")?;
                Self::Specific(SpecificRate { amount: amount.normalize(), ..own })
            }
        })
    }
}

impl fmt::Display for DutyRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Percent(rate) => rate.fmt(f),
            Self::Specific(rate) => rate.fmt(f),
        }
    }
}

impl Written for DutyRate {
    const FORM: &'static str = "a percentage or an amount for each kg, t or m2, 0 or more, such as \"3.7 %\" or \"0.0043 USD/kg\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        if text.trim_end().ends_with('%') {
            let percent = Percent::read(text)?;
            // What customs give back is an event of the books.
            let is_negative = percent.hundredths() < Decimal::ZERO;
            return if is_negative { Err(fault(0)) } else { Ok(Self::Percent(percent)) };
        }
        let (figure, unit) = text.trim().split_once(' ').ok_or_else(|| fault(0))?;
        let amount = parse_decimal(figure).ok_or_else(|| fault(0))?;
        let (code, word) = unit.split_once('/').ok_or_else(|| fault(figure.len() + 1))?;
        let currency = Currency::from_code(code.trim()).ok_or_else(|| fault(figure.len() + 1))?;
        let unit = DutyUnit::ALL.iter().find(|(_, known)| *known == word.trim());
        let (unit, _) = unit.ok_or_else(|| fault(figure.len() + code.len() + 2))?;
        if amount.is_sign_negative() {
            return Err(fault(0));
        }
        let amount = bounded_price(amount, currency)?;
        Ok(Self::Specific(SpecificRate { amount, currency, unit: *unit }))
    }

    fn pattern() -> Option<String> {
        let units: Vec<&str> = DutyUnit::ALL.iter().map(|(_, word)| *word).collect();
        Some(figure_pattern(&format!(r"%|[A-Z]{{3}}\s*/\s*({})", units.join("|"))))
    }
}

/// A tariff line in the one form that all tables have, or the opening digits of several: a heading of four
/// digits, then groups of two, with points between them.
#[derive(Debug, Clone)]
pub struct TariffLine(pub String);

impl Written for TariffLine {
    const FORM: &'static str = "a tariff line with its points, such as \"6802.91.05\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let digits = |group: &str| group.bytes().all(|byte| byte.is_ascii_digit());
        let (heading, rest) = text.split_once('.').unwrap_or((text, ""));
        // The opening digits of several lines may be a chapter, or end within a group.
        let opens = matches!((heading.len(), text.len()), (4, _) | (2, 2)) && digits(heading);
        let mut groups = rest.split('.').rev();
        let last = groups.next().is_none_or(|group| group.len() <= 2 && digits(group));
        let ends = last && groups.all(|group| group.len() == 2 && digits(group));
        if opens && ends && !text.ends_with('.') {
            return Ok(Self(text.to_owned()));
        }
        Err(Malformed::new(0, Self::FORM))
    }

    fn pattern() -> Option<String> {
        Some(r"^(\d{2}|\d{4}(\.\d{2})*(\.\d{1,2})?)$".to_owned())
    }
}

/// A rate of duty on a tariff line.
#[derive(Debug, Clone)]
pub struct DutyRow {
    /// The regime.
    pub regime: String,
    /// The tariff line, or the opening digits of several.
    pub line: String,
    /// Origins it is for; every origin where none is given.
    pub origins: Vec<Country>,
    /// What it does.
    pub kind: LayerKind,
    /// Its name.
    pub name: String,
    /// The rate.
    pub rate: At<DutyRate>,
    /// For duties by producer: whose goods; all others' where none is given.
    pub producer: Option<String>,
    /// For a preferential rate: the programme that a line claims.
    pub programme: Option<String>,
    /// The key it spreads by, where not by area or as the yard has it.
    pub key: Option<Key>,
    /// Layers, by name, that it switches off.
    pub excludes: Vec<String>,
    /// Whether goods under it need a formal entry, however little they are worth: a row's own word, as
    /// for anti-dumping duties it is practice (from memory).
    pub formal: bool,
    /// Whether it is a figure to start with: one that has lapsed and was let stand.
    pub is_starter: bool,
    /// When the goods must have been loaded, where that matters.
    pub loaded: Option<Window>,
    /// When it is in force, by the day of entry.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// Whether its rate or its days were not read there, but in a copy or from memory.
    pub second_hand: bool,
    /// The day on which it was read there.
    pub read: Option<Date>,
    /// Its row.
    pub place: Place,
}

impl DutyRow {
    /// Whether it is the base rate of its line.
    pub fn is_base(&self) -> bool {
        self.kind == LayerKind::Base
    }

    /// Whether it is on a tariff line and origin. A base or preferential row names its line in
    /// full; any other may name the opening digits of several.
    pub fn is_on(&self, regime: &str, line: &str, origin: &Country) -> bool {
        let in_full = matches!(self.kind, LayerKind::Base | LayerKind::Preferential);
        self.regime == regime
            && (self.line == line || (!in_full && line.starts_with(&self.line)))
            && (self.origins.is_empty() || self.origins.contains(origin))
    }

    /// Whether it is in force for goods loaded on one day and entered on another.
    pub fn holds(&self, loaded: Date, entered: Date) -> bool {
        self.valid.holds(entered) && self.loaded.is_none_or(|window| window.holds(loaded))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rate_of_duty_is_a_percentage_or_by_quantity() {
        assert_eq!(DutyRate::read("3.7 %").unwrap().to_string(), "3.7 %");
        assert_eq!(DutyRate::read("0.0043 USD/kg").unwrap().to_string(), "0.0043 USD/kg");
        assert_eq!(DutyRate::read("4.30 USD/lb").unwrap_err().offset, 9);
        assert_eq!(DutyRate::read("4.30 QQQ/kg").unwrap_err().offset, 5);
        assert!(DutyRate::read("-1 USD/kg").is_err() && DutyRate::read("3.7").is_err());
    }

    #[test]
    fn what_is_added_and_taken_out_meets_at_the_basis() {
        assert_eq!(ValueBasis::Export.adds(), [Leg::ExportPacking]);
        assert_eq!(ValueBasis::Export.takes_out().first(), Some(&Leg::MainCarriage));
        assert_eq!(ValueBasis::Border.adds().last(), Some(&Leg::Insurance));
        assert_eq!(ValueBasis::Border.takes_out().first(), Some(&Leg::DestinationTerminal));
    }
}
