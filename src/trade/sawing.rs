//! A block sawn into slabs: how many, how large, and what each step is paid for.
//!
//! Decided on 2026-11-27. A loss is a share of what goes into a step, kept exact from step to step; whole slabs
//! are counted once, rounded down, when the last step is done. What breaks has paid for the steps before it.

use std::fmt;

use super::calendar::{Window, word_of};
use crate::fault::{At, Place};
use crate::quantity::{
    Area, BlockSize, Decimal, Decimals, Exact, Fraction, Length, Mass, Money, Ordered, Overflow,
    Percent, Price, PricedBy, Rounding, Size, Units, Volume,
};

/// The dimension of a block that is cut through: the slabs have the other two.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Through {
    /// Along its length.
    Length,
    /// Along its width.
    Width,
    /// Along its height.
    Height,
}

impl Through {
    /// Each with its written form.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Length, "length"), (Self::Width, "width"), (Self::Height, "height")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }

    /// The side that is cut through, and the face of the slabs: the longer side first.
    fn of(self, block: BlockSize) -> (Length, Size) {
        let BlockSize { length, width, height } = block;
        let (cut, one, other) = match self {
            Self::Length => (length, width, height),
            Self::Width => (width, length, height),
            Self::Height => (height, length, width),
        };
        (cut, Size { length: one.max(other), height: one.min(other) })
    }
}

/// What a quarry takes off a block before it bills it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum QuarryAllowance {
    /// So much of each side.
    Sides(BlockSize),
    /// So much of the volume.
    Percent(Percent),
}

/// What a block is billed by.
#[derive(Debug, Clone, PartialEq)]
pub enum BlockBill {
    /// Its net volume: gross sides less the allowance, rounded as the quarry rounds.
    Volume {
        /// What comes off.
        allowance: Option<QuarryAllowance>,
        /// Places of a cubic metre; `None`: unrounded.
        places: Option<Decimals>,
        /// How it is rounded.
        rounding: Rounding,
    },
    /// Its mass on a scale.
    Weighed(Mass),
}

/// A block as a quarry offers it.
#[derive(Debug, Clone)]
pub struct Block {
    /// Its number.
    pub id: String,
    /// Its gross sides.
    pub size: At<BlockSize>,
    /// What is billed.
    pub bill: BlockBill,
    /// Its price for a cubic metre or a tonne of that.
    pub price: At<Price>,
}

impl Block {
    /// What is billed of it, in the unit of its price.
    ///
    /// # Errors
    /// Where a figure cannot be held exactly.
    pub fn billed(&self) -> Result<Ordered, Overflow> {
        let figure = match &self.bill {
            BlockBill::Weighed(mass) => mass.to_tonnes(),
            BlockBill::Volume { allowance, places, rounding } => {
                let net = match allowance {
                    Some(QuarryAllowance::Sides(off)) => self.size.less(*off)?.volume()?,
                    Some(QuarryAllowance::Percent(off)) => {
                        self.size.volume()?.times(off.complement().fraction())?
                    }
                    None => self.size.volume()?,
                };
                places.map_or(net, |places| net.rounded_m3(places, *rounding)).base()
            }
        };
        Ok(Ordered { figure, by: self.price.by })
    }
}

/// A step of the works: sawing, a mesh, a resin, a polish.
#[derive(Debug, Clone)]
pub struct WorkStep {
    /// What it is called.
    pub name: String,
    /// Whose offer it is of.
    pub offer: Option<String>,
    /// Its price for a square metre that goes in, or for a cubic metre of the gross block.
    pub price: At<Price>,
    /// What it costs at the least: for sawing, each time the saw is charged.
    pub least: Option<At<Money>>,
    /// What breaks of that which goes in.
    pub loss: Percent,
    /// When its price holds.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// A way to saw: the saw, and what sawing by it costs.
#[derive(Debug, Clone)]
pub struct SawMethod {
    /// Sawing as a step.
    pub step: WorkStep,
    /// What a blade or a wire takes away.
    pub kerf: Length,
    /// The widest block, in the dimension that is cut through.
    pub widest: Length,
    /// The longest block, in the longer of the other two.
    pub longest: Length,
    /// The most slabs that it cuts at once.
    pub most_slabs: u32,
}

/// A block, and how slabs are made of it.
#[derive(Debug, Clone)]
pub struct Sawing {
    /// The block.
    pub block: Block,
    /// The dimension that is cut through.
    pub through: At<Through>,
    /// What squaring takes off each side of the block before it is cut.
    pub squaring: Option<BlockSize>,
    /// Whether the two outer slabs are waste.
    pub outer_is_waste: bool,
    /// The saw.
    pub method: SawMethod,
    /// The steps after it, in their order.
    pub steps: Vec<WorkStep>,
    /// The thickness of the slabs.
    pub thickness: Length,
}

/// Why no slab comes of a block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CannotSaw {
    /// Squaring leaves nothing of a side.
    Squared,
    /// It is thinner than one slab: the side that is cut through.
    Thin(Length),
    /// It is wider than the saw: the side that is cut through, and the most.
    Wide(Length, Length),
    /// It is longer than the saw: its longer side, and the most.
    Long(Length, Length),
    /// Not one whole slab is left at the end.
    AllLost,
    /// A figure is too large.
    Overflow(Overflow),
}

impl From<Overflow> for CannotSaw {
    fn from(overflow: Overflow) -> Self {
        Self::Overflow(overflow)
    }
}

impl CannotSaw {
    /// Why, in a sentence's end.
    pub fn why(&self, units: Units) -> String {
        let shown = |one: &Length| one.show(units);
        match self {
            Self::Squared => "squaring leaves nothing of it".to_owned(),
            Self::Thin(side) => format!("a side of {} holds no slab", shown(side)),
            Self::Wide(side, most) => {
                format!("it is {} wide, and the saw takes {}", shown(side), shown(most))
            }
            Self::Long(side, most) => {
                format!("it is {} long, and the saw takes {}", shown(side), shown(most))
            }
            Self::AllLost => "no whole slab is left".to_owned(),
            Self::Overflow(overflow) => overflow.to_string(),
        }
    }
}

impl fmt::Display for Through {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

/// What a step does and comes to.
#[derive(Debug, Clone)]
pub struct StepDone {
    /// Its name.
    pub name: String,
    /// Its price.
    pub price: Price,
    /// What is paid for, in the unit of the price.
    pub(crate) quantity: Fraction,
    /// What it comes to, unrounded.
    pub exact: Exact,
    /// The same as it is billed.
    pub amount: Money,
    /// Whether that is its least charge.
    pub is_least: bool,
    /// What breaks in it.
    pub loss: Percent,
}

impl StepDone {
    /// What is paid for, in the unit of the price, to so many places; `None` where that is too large.
    pub fn quantity(&self, places: Decimals) -> Option<Decimal> {
        self.quantity.round(places, "what goes into a step").ok()
    }
}

/// What comes of a block.
#[derive(Debug, Clone)]
pub struct Cut {
    /// How many slabs the saw cuts, the outer ones among them.
    pub sawn: u32,
    /// How often the saw is charged with the block.
    pub passes: u32,
    /// How many sound slabs are left at the end.
    pub slabs: u32,
    /// The size of each.
    pub size: Size,
    /// Their area as sawn.
    pub gross: Area,
    /// What the gross block holds.
    pub volume: Volume,
    /// What the quarry bills.
    pub billed: Ordered,
    /// What the block comes to, unrounded.
    pub block: Exact,
    /// The same as it is billed.
    pub block_amount: Money,
    /// The steps of the works, sawing first.
    pub steps: Vec<StepDone>,
}

impl Cut {
    /// What the works bill: each step rounded alone, as a line of an invoice is.
    ///
    /// # Errors
    /// Where the steps are in two currencies, or the sum is too large.
    pub fn works(&self) -> Result<Money, Overflow> {
        let none = Overflow { what: "the bill of the works" };
        let currency = self.steps.first().ok_or(none)?.price.currency;
        Money::total(currency, self.steps.iter().map(|step| step.amount))
    }
}

impl Sawing {
    /// Saws the block.
    ///
    /// # Errors
    /// Why no slab comes of it.
    pub fn cut(&self) -> Result<Cut, CannotSaw> {
        let method = &self.method;
        let squared = match self.squaring {
            Some(off) => self.block.size.less(off)?,
            None => self.block.size.value,
        };
        if squared.sides().into_iter().any(Length::is_none) {
            return Err(CannotSaw::Squared);
        }
        let (side, size) = self.through.of(squared);
        if side > method.widest {
            return Err(CannotSaw::Wide(side, method.widest));
        }
        if size.length > method.longest {
            return Err(CannotSaw::Long(size.length, method.longest));
        }
        let too_many = Overflow { what: "a number of slabs" };
        let sawn = u32::try_from(side.plates(self.thickness, method.kerf)).map_err(|_| too_many)?;
        let waste = if self.outer_is_waste { 2 } else { 0 };
        let kept = sawn.checked_sub(waste).filter(|kept| *kept > 0);
        let kept = kept.ok_or(CannotSaw::Thin(side))?;
        let passes = sawn.div_ceil(method.most_slabs.max(1));
        let volume = self.block.size.volume()?;
        let each = size.area()?;
        // Slabs that go into the next step: all that are sawn, then those that are kept and sound.
        let mut going = Fraction::of(Decimal::from(sawn));
        let mut steps = Vec::new();
        let all = std::iter::once(&method.step).chain(&self.steps);
        for (at, step) in all.enumerate() {
            let quantity = match step.price.by {
                PricedBy::M3 => Fraction::of(volume.base()),
                _ => going.times(&Fraction::of(each.base())),
            };
            let times = if at == 0 { passes } else { 1 };
            steps.push(step.done(quantity, times)?);
            if at == 0 {
                going = Fraction::of(Decimal::from(kept));
            }
            going = going.times(&Fraction::of(step.loss.complement().fraction()));
        }
        let slabs = going.to_i64().and_then(|whole| u32::try_from(whole).ok()).ok_or(too_many)?;
        if slabs == 0 {
            return Err(CannotSaw::AllLost);
        }
        let billed = self.block.billed()?;
        let block = self.block.price.of(billed.figure);
        Ok(Cut {
            sawn,
            passes,
            slabs,
            size,
            gross: each.times(Decimal::from(slabs))?,
            volume,
            billed,
            block_amount: block.round()?,
            block,
            steps,
        })
    }
}

impl WorkStep {
    /// What it comes to for so much, charged so many times.
    fn done(&self, quantity: Fraction, times: u32) -> Result<StepDone, Overflow> {
        let currency = self.price.currency;
        let priced = Exact::new(self.price.amount, currency).part(&quantity);
        let least = self.least.as_ref().map(|least| Exact::from(least.value));
        let least = least.map(|least| least.times(Decimal::from(times)));
        let is_below = |least: &Exact| priced.minus(least).map(|more| more.is_negative());
        let bound = match least {
            Some(least) if is_below(&least)? => Some(least),
            _ => None,
        };
        let is_least = bound.is_some();
        let exact = bound.unwrap_or(priced);
        let amount = exact.round()?;
        let (name, price) = (self.name.clone(), self.price.value);
        Ok(StepDone { name, price, quantity, exact, amount, is_least, loss: self.loss })
    }
}
