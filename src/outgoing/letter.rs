//! A letter to a supplier: his goods, the load, and what the user asks of him.

use super::goods::Goods;
use super::load::OutgoingLoad;
use crate::quantity::Price;
use crate::trade::Date;

/// What the user asks of a supplier, in so many words: all of ours that leaves the house.
#[derive(Debug, Clone, Default)]
pub struct Requests {
    /// A price for a line, by its name.
    pub prices: Vec<(String, Price)>,
    /// Until when the prices are asked.
    pub until: Option<Date>,
    /// Wishes, as the user words them.
    pub wishes: Vec<String>,
}

impl Requests {
    /// What the letter tells the supplier of ours: a line each.
    pub fn lets_out(&self) -> Vec<String> {
        let prices = self.prices.iter();
        let prices = prices.map(|(line, price)| format!("the price asked for {line}: {price}"));
        let until = self.until.iter().map(|day| format!("the day it is asked until: {day}"));
        let wishes = self.wishes.iter().map(|wish| format!("the wish \"{wish}\""));
        prices.chain(until).chain(wishes).collect()
    }
}

/// A letter to a supplier.
#[derive(Debug, Clone)]
pub struct Letter<'a> {
    /// His goods.
    pub goods: Goods<'a>,
    /// The load, where there is one that holds and his bundles are known.
    pub load: Option<OutgoingLoad<'a>>,
    /// What is asked.
    pub asked: Requests,
}

impl Letter<'_> {
    /// The days on which prices of his have lapsed, each with the lines that have such a price: he is asked for
    /// them anew.
    pub fn lapsed(&self) -> Vec<(Date, Vec<&str>)> {
        let mut all: Vec<(Date, Vec<&str>)> = Vec::new();
        for line in &self.goods.lines {
            let Some(day) = line.lapsed else { continue };
            match all.iter_mut().find(|(known, _)| *known == day) {
                Some((_, lines)) => lines.push(line.id),
                None => all.push((day, vec![line.id])),
            }
        }
        all
    }
}
