//! What the importer asks for slabs, and how soon a stone must be ordered again.

use std::fmt;

use super::calendar::{Date, Window, word_of};
use crate::fault::Place;
use crate::quantity::{Area, Length, Money, Percent, Price, PricedBy, Quote, Written};

/// The slabs that a row is for: those that agree with everything it states.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Goods {
    /// The yard they stand in or are on the way to.
    pub yard: Option<String>,
    /// The stone.
    pub stone: Option<String>,
    /// The finish.
    pub finish: Option<String>,
    /// The thickness.
    pub thickness: Option<Length>,
    /// The quality.
    pub quality: Option<String>,
}

/// Slabs that are sold as one: alike in all that a buyer asks for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Class {
    /// The stone.
    pub stone: String,
    /// The finish.
    pub finish: String,
    /// The thickness, as it is written in files.
    pub thickness: String,
    /// The quality; empty where none is stated.
    pub quality: String,
    /// The yard.
    pub yard: String,
}

impl Class {
    /// The slabs in words, without their yard.
    pub fn goods(&self) -> String {
        let all = [&self.stone, &self.finish, &self.thickness, &self.quality];
        let stated: Vec<&str> =
            all.into_iter().map(String::as_str).filter(|word| !word.is_empty()).collect();
        stated.join(" ")
    }
}

impl fmt::Display for Class {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} in {}", self.goods(), self.yard)
    }
}

impl Goods {
    /// Whether slabs of a class agree with everything that is stated.
    pub fn hold(&self, class: &Class) -> bool {
        let is =
            |stated: &Option<String>, own: &str| stated.as_deref().is_none_or(|one| one == own);
        is(&self.yard, &class.yard)
            && is(&self.stone, &class.stone)
            && is(&self.finish, &class.finish)
            && is(&self.quality, &class.quality)
            && self.thickness.is_none_or(|stated| Length::read(&class.thickness) == Ok(stated))
    }

    /// How much is stated: of several rows the one that states most serves.
    pub fn stated(&self) -> usize {
        let texts = [&self.yard, &self.stone, &self.finish, &self.quality];
        texts.iter().filter(|one| one.is_some()).count() + usize::from(self.thickness.is_some())
    }
}

/// What is earned on the cost of a slab.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// A part of the price: price = cost / (1 - margin).
    Margin(Percent),
    /// A part of the cost: price = cost x (1 + markup).
    Markup(Percent),
}

/// The area that a price is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SoldBy {
    /// As the slab is sawn.
    #[default]
    Gross,
    /// As the supplier billed it.
    Billed,
}

impl SoldBy {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Gross, "gross"), (Self::Billed, "billed")];

    /// The written form.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// Where a price is rounded up to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Ending {
    /// The minor unit of the currency.
    Minor,
    /// A multiple of an amount.
    Step(Money),
    /// One of these amounts beyond a whole unit of the currency, the least first.
    Endings(Vec<Money>),
}

/// Slabs that are too small to be sold as slabs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Remnant {
    /// The area below which a slab is one.
    pub below: Area,
    /// What comes off the price.
    pub off: Percent,
}

/// A rule of the price list.
#[derive(Debug, Clone)]
pub struct SellingRow {
    /// For which customers.
    pub tier: String,
    /// For which slabs.
    pub goods: Goods,
    /// What is earned.
    pub aim: Aim,
    /// The least margin: no price is below cost / (1 - least margin).
    pub least: Percent,
    /// What the price is per: a square metre, a square foot or a slab.
    pub by: PricedBy,
    /// The area that is sold.
    pub sold: SoldBy,
    /// Where it is rounded up to.
    pub ending: Ending,
    /// The tax that prices hold; `None`: they hold none.
    pub tax: Option<Percent>,
    /// From the currency of the books to that of the list, where that is another.
    pub exchange: Option<Quote>,
    /// What is too small, and what comes off.
    pub remnant: Option<Remnant>,
    /// When the prices hold.
    pub valid: Window,
    /// Where it stands.
    pub place: Place,
}

/// A price that goes before the rules, and may be below the least margin.
#[derive(Debug, Clone)]
pub struct ExceptionRow {
    /// For which customers; `None`: for all.
    pub tier: Option<String>,
    /// For which slabs.
    pub goods: Goods,
    /// Single slabs by number; none named: the whole class.
    pub slabs: Vec<String>,
    /// The price, in the currency of the list, with the tax that the list's prices hold.
    pub price: Price,
    /// Why.
    pub reason: String,
    /// When it holds.
    pub valid: Window,
    /// Where it stands.
    pub place: Place,
}

/// What slabs fetch on the market, or at a firm order.
#[derive(Debug, Clone)]
pub struct MarketRow {
    /// Which slabs.
    pub goods: Goods,
    /// Single slabs by number; none named: all that are alike.
    pub slabs: Vec<String>,
    /// The firm order that takes them, where one does.
    pub order: Option<String>,
    /// The price, without tax, in the currency of the books.
    pub price: Price,
    /// The area that the price is for.
    pub sold: SoldBy,
    /// What it costs to sell, as a part of the price.
    pub selling_cost: Percent,
    /// What it costs to finish a slab, per the unit of the price.
    pub finishing_cost: Option<Price>,
    /// When it holds.
    pub valid: Window,
    /// What it rests on: sales, or a table of the market.
    pub source: String,
    /// Where it stands.
    pub place: Place,
}

/// How a stone is used, and how long it takes to get more.
#[derive(Debug, Clone)]
pub struct CoverRow {
    /// Which slabs.
    pub goods: Goods,
    /// The gross area that is used in a month; `None`: what was issued less what came back.
    pub used: Option<Area>,
    /// The months that issues are counted over.
    pub months: u32,
    /// Days from an order to the rack.
    pub lead_days: u32,
    /// The gross area that must not be gone below.
    pub reserve: Area,
    /// What the quarry says is left of the block run or the bench, and on which day it said so.
    pub left: Option<(Area, Date)>,
    /// Where it stands.
    pub place: Place,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_is_for_what_agrees_with_all_that_it_states() {
        let class = Class {
            stone: "chalk".to_owned(),
            finish: "polished".to_owned(),
            thickness: "20 mm".to_owned(),
            quality: String::new(),
            yard: "savannah".to_owned(),
        };
        let mut goods = Goods::default();
        assert!(goods.hold(&class) && goods.stated() == 0);
        goods.stone = Some("chalk".to_owned());
        goods.thickness = Length::read("2 cm").ok();
        assert!(goods.hold(&class) && goods.stated() == 2);
        goods.quality = Some("first".to_owned());
        assert!(!goods.hold(&class));
    }
}
