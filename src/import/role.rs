//! What a column is to a packing list, and the answers that say so on the command line.

use super::grid::column_of;
use crate::quantity::{Currency, Price, PricedBy, Written};
use crate::read::{Heading, Word, unit_of};

/// What a column is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// The slab's number.
    Slab,
    /// A running number.
    Serial,
    /// The bundle.
    Bundle,
    /// The block.
    Block,
    /// The container.
    Container,
    /// One side as sawn.
    Length,
    /// The other side as sawn.
    Height,
    /// The other side, where there is a height beside it as well.
    Width,
    /// Both sides as sawn, in one cell.
    Size,
    /// One side as billed.
    BilledLength,
    /// The other side as billed.
    BilledHeight,
    /// Both sides as billed, in one cell.
    BilledSize,
    /// The thickness.
    Thickness,
    /// The area.
    Area,
    /// The area as billed.
    BilledArea,
    /// The mass of a bundle on a scale.
    Mass,
    /// The mass without timber.
    NetMass,
    /// How many slabs a row is of.
    Count,
    /// The stone.
    Stone,
    /// The finish.
    Finish,
    /// The quality.
    Quality,
    /// A remark.
    Remark,
    /// The place in the block's sawing order.
    Order,
    /// The set of book-matched slabs.
    Match,
    /// The price for a unit, in a proforma.
    Price,
    /// What a row comes to, in a proforma.
    Amount,
    /// Known, and of no use to a packing list.
    Unused,
}

impl Role {
    /// Each role by the word that `--column` takes for it.
    pub const NAMES: [(Self, &'static str); 25] = [
        (Self::Slab, "slab"),
        (Self::Bundle, "bundle"),
        (Self::Block, "block"),
        (Self::Container, "container"),
        (Self::Length, "length"),
        (Self::Height, "height"),
        (Self::Size, "size"),
        (Self::BilledLength, "billed length"),
        (Self::BilledHeight, "billed height"),
        (Self::BilledSize, "billed size"),
        (Self::Thickness, "thickness"),
        (Self::Area, "area"),
        (Self::BilledArea, "billed area"),
        (Self::Mass, "weighed mass"),
        (Self::NetMass, "net mass"),
        (Self::Count, "pcs"),
        (Self::Stone, "stone"),
        (Self::Finish, "finish"),
        (Self::Quality, "quality"),
        (Self::Remark, "remarks"),
        (Self::Order, "order"),
        (Self::Match, "match"),
        (Self::Price, "price"),
        (Self::Amount, "amount"),
        (Self::Unused, "none"),
    ];

    /// The word for it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Serial => "running number",
            Self::Width => "width",
            other => Self::NAMES.iter().find(|(one, _)| *one == other).map_or("", |(_, name)| name),
        }
    }

    /// The role that a word of the command line names.
    pub fn named(word: &str) -> Option<Self> {
        let word = word.replace(['-', '_'], " ");
        Self::NAMES.iter().find(|(_, name)| *name == word).map(|(role, _)| *role)
    }

    /// What a header's words make a column.
    pub(super) fn of(heading: Heading) -> Self {
        let is_net = heading.is_net == Some(true);
        match heading.word {
            Word::Slab => Self::Slab,
            Word::Serial => Self::Serial,
            Word::Bundle => Self::Bundle,
            Word::Block => Self::Block,
            Word::Container => Self::Container,
            Word::Length if is_net => Self::BilledLength,
            Word::Length => Self::Length,
            Word::Height | Word::Width if is_net => Self::BilledHeight,
            Word::Height => Self::Height,
            Word::Width => Self::Width,
            Word::Size if is_net => Self::BilledSize,
            Word::Size => Self::Size,
            Word::Thickness => Self::Thickness,
            Word::Area if is_net => Self::BilledArea,
            Word::Area => Self::Area,
            Word::Mass if is_net => Self::NetMass,
            Word::Mass => Self::Mass,
            Word::Count => Self::Count,
            Word::Stone => Self::Stone,
            Word::Finish => Self::Finish,
            Word::Quality => Self::Quality,
            Word::Remark => Self::Remark,
            Word::Order => Self::Order,
            Word::Match => Self::Match,
            Word::Price => Self::Price,
            Word::Amount => Self::Amount,
            Word::Volume => Self::Unused,
        }
    }

    /// Whether its figures are lengths.
    pub(super) fn is_length(self) -> bool {
        self == Self::Thickness || self.is_side()
    }

    /// Whether its figures are sides of slabs.
    pub(super) fn is_side(self) -> bool {
        matches!(
            self,
            Self::Length
                | Self::Height
                | Self::Size
                | Self::BilledLength
                | Self::BilledHeight
                | Self::BilledSize
        )
    }

    /// Whether its figures are areas.
    pub(super) fn is_area(self) -> bool {
        matches!(self, Self::Area | Self::BilledArea)
    }

    /// Whether a list may have several such columns.
    pub(super) fn may_repeat(self) -> bool {
        self.is_area()
            || matches!(
                self,
                Self::Mass
                    | Self::NetMass
                    | Self::Remark
                    | Self::Price
                    | Self::Amount
                    | Self::Unused
                    | Self::Serial
                    | Self::Stone
            )
    }
}

/// What the command line, or the file kept for the supplier, answers.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Answers {
    /// The unit of lengths whose unit stands nowhere; with a role, of that column alone.
    pub units: Vec<(Option<Role>, &'static str)>,
    /// Which column is which, from nought.
    pub columns: Vec<(Role, usize)>,
    /// The currency of a proforma's prices, and what they are for.
    pub price: Option<(Currency, PricedBy)>,
    /// Whether slabs in hidden rows and sheets are read.
    pub hidden: Option<bool>,
    /// The bundle of a list that names none.
    pub bundle: Option<String>,
}

impl Answers {
    /// Takes a unit as it is answered: "cm", or "thickness=mm" for one column, "price=USD/m2" of a proforma.
    ///
    /// # Errors
    /// What to write.
    pub fn take_unit(&mut self, text: &str) -> Result<(), String> {
        const LENGTHS: [&str; 5] = ["mm", "cm", "m", "in", "ft"];
        const MASSES: [&str; 3] = ["kg", "t", "lb"];
        let (role, unit) = match text.split_once('=') {
            Some((role, unit)) => (Some(named(role)?), unit),
            None => (None, text),
        };
        if role == Some(Role::Price) {
            let price = Price::read(&format!("1 {}", unit.trim()));
            let price = price.map_err(|_| "write the currency and the unit: price=USD/m2")?;
            self.price = Some((price.currency, price.by));
            return Ok(());
        }
        let units: &[&str] = if role == Some(Role::Mass) { &MASSES } else { &LENGTHS };
        let unit = unit_of(unit).filter(|unit| units.contains(unit));
        let unit = unit.ok_or_else(|| {
            format!("expected one of {}, such as cm or thickness=mm", units.join(", "))
        })?;
        self.units.retain(|(one, _)| *one != role);
        self.units.push((role, unit));
        Ok(())
    }

    /// Takes a column as it is answered: "length=D", or by its number "length=4".
    ///
    /// # Errors
    /// What to write.
    pub fn take_column(&mut self, text: &str) -> Result<(), String> {
        let (role, column) =
            text.split_once('=').ok_or("write what the column is and where it stands: length=D")?;
        let role = named(role)?;
        let at = column_of(column.trim())
            .ok_or("a column is its letters, as in length=D, or its number: length=4")?;
        self.columns.retain(|(_, one)| *one != at);
        self.columns.push((role, at));
        Ok(())
    }

    /// The unit that was answered for a column.
    pub(super) fn unit(&self, role: Role) -> Option<&'static str> {
        let own = self.units.iter().find(|(one, _)| *one == Some(role));
        let all = || {
            self.units
                .iter()
                .find(|(one, _)| one.is_none() && !matches!(role, Role::Thickness | Role::Mass))
        };
        own.or_else(all).map(|(_, unit)| *unit)
    }
}

fn named(word: &str) -> Result<Role, String> {
    Role::named(word.trim()).ok_or_else(|| {
        let all: Vec<&str> = Role::NAMES.iter().map(|(_, name)| *name).collect();
        format!("\"{}\" is no column of a list: write one of {}", word.trim(), all.join(", "))
    })
}
