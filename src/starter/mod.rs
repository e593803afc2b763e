//! A workspace to start with: our own tables cut to one customs regime, and figures to be replaced.
//!
//! ```text
//! lane    the port of loading that a term names
//! days    the days of the first shipment
//! cut     rows out of a table's text; templates
//! lines   the lines of a proforma in the text of a shipment
//! offer   a further offer out of the text of another
//! tables  which rows of our tables serve a regime, and for how long
//! ```
//!
//! Published figures come out of the tables of the demo with their sources. What nobody publishes stands in
//! the templates beside this file, marked as a starter figure until it is typed.

mod cut;
mod days;
mod lane;
mod lines;
mod offer;
mod reference;
mod tables;

use std::collections::BTreeMap;

use crate::fault::{Source, tried};
use crate::quantity::{Price, Quote, Written};
use crate::read;
use crate::trade::{Date, NamedPort, Port};
use cut::{filled, quoted};
use days::Days;
use lane::{loading, named_loading, port_called};
pub use lines::{OfLines, with_lines};
pub use offer::NewOffer;
use tables::{Tables, slug};

/// The name of the first shipment.
pub const FIRST: &str = "first";

/// What a workspace is to be made for. What is not typed has a starter figure.
#[derive(Debug)]
pub struct Wanted {
    /// The customs regime.
    pub regime: &'static str,
    /// The yard's port, by code or name.
    pub port: Option<String>,
    /// The group of the stone: marble, granite ...
    pub group: Option<String>,
    /// The stone's trade name.
    pub stone: Option<String>,
    /// The port of loading, where the term names none.
    pub from: Option<String>,
    /// The day of the calculation.
    pub quoted: Date,
    /// The day of sailing.
    pub sails: Option<Date>,
    /// The day of arrival.
    pub arrives: Option<Date>,
    /// The other figures that were typed, by their names in the templates.
    pub typed: BTreeMap<&'static str, String>,
}

/// A file: its path in the workspace, and its text.
pub type NewFile = (String, String);

/// Figures to start with, in the currency of the books. All are invented.
const FIGURES: [(&str, &str); 9] = [
    ("freight", "1850"),
    ("origin-terminal", "200"),
    ("nothing", "0"),
    ("haul", "620"),
    ("loading", "15"),
    ("truck", "450"),
    ("declaration", "180"),
    ("broker", "145"),
    ("unloading", "30"),
];

/// What the terminal at the port takes, and what the haulier takes in a box, by regime. All are invented; 44,000 lb
/// in a 20' box on a tri-axle chassis is common practice.
const LOCAL: [(&str, &str, &str); 5] = [
    ("us", "0", "44000 lb"),
    ("eu", "245", "24 t"),
    ("gb", "215", "23 t"),
    ("ca", "310", "22 t"),
    ("au", "390", "22 t"),
];

/// The other things to start with. All are invented.
const WORDS: [(&str, &str); 9] = [
    ("lift", "5 t"),
    ("insurance", "0.30 %"),
    ("supplier", "Your supplier"),
    ("number", "offer 1"),
    ("term", "FOB TRIZM"),
    ("finish", "polished"),
    ("thickness", "20 mm"),
    ("size", "280 x 180 cm"),
    ("title", "First shipment"),
];

/// The files for an editor: a schema of each file, and the list that says which is for which.
fn for_editors() -> impl Iterator<Item = NewFile> {
    let schema =
        |name| Some((format!("rates/schemas/{name}.json"), format!("{}\n", read::schema(name)?)));
    let which = (".taplo.toml".to_owned(), include_str!("../../.taplo.toml").to_owned());
    read::schemas().into_iter().filter_map(schema).chain([which])
}

impl Wanted {
    /// The files of the workspace.
    ///
    /// # Errors
    /// What of the typed words our tables do not know, in a sentence.
    pub fn files(&self) -> Result<Vec<NewFile>, String> {
        let known = Tables::of(self.regime);
        let ports = ports();
        let port = match &self.port {
            Some(text) => port_called(&ports, text)?,
            None => Port::read(&known.port).map_err(|_| "a regime has no yard".to_owned())?,
        };
        let loading = loading(&ports, self.term(), self.from.as_deref())?;
        let days = Days::of(self.quoted, (self.sails, self.arrives), known.delivery_days)
            .ok_or("a day is too far away")?;
        let stone = known.stone(self.group.as_deref(), self.stone.as_deref())?;
        let currency = known.currency.clone();
        let named = ports.iter().find(|one| one.code == port);
        let town = named.map_or(port.code(), |one| one.name.as_str());
        let country = port.code().get(..2).unwrap_or_default();
        let mut values: BTreeMap<&str, String> = BTreeMap::new();
        let mut put = |name: &'static str, text: &str| values.insert(name, quoted(text));
        for (name, figure) in FIGURES {
            put(name, &format!("{figure} {currency}"));
        }
        for (name, word) in WORDS {
            put(name, word);
        }
        let local = LOCAL.iter().find(|(regime, ..)| *regime == self.regime);
        if let Some((_, terminal, haul_limit)) = local {
            put("terminal", &format!("{terminal} {currency}"));
            put("haul-limit", haul_limit);
        }
        put("certify-over", &known.certify_over);
        put("price", &format!("45.00 {currency}/m2"));
        put("yard", &slug(town));
        put("yard-name", &format!("Our yard, {town}"));
        put("country", country);
        put("port", port.code());
        put("currency", &currency);
        put("regime", self.regime);
        put("stone", &stone.id);
        put("year", &days.year.to_string());
        put("freight-valid", &days.year.to_string());
        put("price-valid", &days.price.to_string());
        if let Some(loading) = &loading {
            put("lane", &format!("{loading}-{port}"));
        }
        for (name, text) in &self.typed {
            put(name, text);
        }
        let plain = [("bundles", "7"), ("slabs", "9"), ("delivery-days", &*known.delivery_words)];
        for (name, figure) in plain {
            values.insert(name, self.typed.get(name).map_or(figure, String::as_str).to_owned());
        }
        for (name, day) in
            [("quoted", days.quoted), ("sails", days.sails), ("arrives", days.arrives)]
        {
            values.insert(name, day.to_string());
        }
        // A term that names the port of loading needs no lane beside it.
        let is_in_term = named_loading(&ports, self.term())?.is_some();
        let file = |template: &str, needs_lane: bool| {
            let value = |name: &str| {
                let is_shown = name != "lane" || needs_lane;
                values.get(name).filter(|_| is_shown).cloned()
            };
            let typed = |name: &str| self.typed.contains_key(name);
            filled(template, value, typed, self.regime)
        };
        let exchange = self.exchange(&known, &days)?;
        let rates = [
            ("accounts", include_str!("accounts.toml").to_owned()),
            ("calendars", known.calendars(&days)),
            ("containers", known.containers()),
            ("crating", known.crating() + &file(include_str!("crating.toml"), true)),
            ("drayage", file(include_str!("drayage.toml"), true)),
            ("duty", known.duty(&days)),
            ("exchange", file(include_str!("exchange.toml"), true) + &exchange),
            ("fees", known.fees(&days, country) + &file(include_str!("fees.toml"), true)),
            ("freight", file(include_str!("freight.toml"), true)),
            ("ports", tables::PORTS.to_owned()),
            ("rigs", known.rigs(&slug(town), &days)),
            ("roads", known.roads()),
            ("securing", known.securing()),
            ("stones", known.stones(&stone, loading.as_ref())),
            ("yards", file(include_str!("yards.toml"), true)),
        ];
        let rates = rates.into_iter().filter(|(_, text)| !text.is_empty());
        let rates = rates.map(|(stem, text)| (format!("rates/{stem}.toml"), text));
        let shipment = file(include_str!("shipment.toml"), !is_in_term);
        let first = (format!("shipments/{FIRST}/shipment.toml"), shipment);
        Ok(rates.chain([first]).chain(for_editors()).collect())
    }

    fn term(&self) -> &str {
        let usual = || WORDS.iter().find(|(name, _)| *name == "term").map(|(_, word)| *word);
        self.typed.get("term").map(String::as_str).or_else(usual).unwrap_or_default()
    }

    /// Planning rates for the currency of the price, where it is not that of the books and none was typed.
    fn exchange(&self, known: &Tables, days: &Days) -> Result<String, String> {
        let price = self.typed.get("price").and_then(|text| Price::read(text).ok());
        let Some(price) = price.filter(|price| price.currency.code() != known.currency) else {
            return Ok(String::new());
        };
        let (own, books) = (price.currency.code(), &known.currency);
        let joins = |text: &str| {
            let quote = Quote::read(text).ok();
            quote.is_some_and(|quote| {
                let pair = [quote.base().code(), quote.counter().code()];
                pair.contains(&own) && pair.contains(&&**books)
            })
        };
        if self.typed.get("exchange").is_some_and(|text| joins(text)) {
            return Ok(String::new());
        }
        known.planning(joins, &days.year).ok_or_else(|| {
            format!("the price is in {own} and your books are in {books}: give your planning rate, such as --exchange \"1 {own} = 1.0850 {books}\"")
        })
    }
}

/// The ports that we know by name.
fn ports() -> Vec<NamedPort> {
    let source = std::sync::Arc::new(Source::new("rates/ports.toml", tables::PORTS.to_owned()));
    tried(|report| read::named_ports(&source, report)).unwrap_or_default()
}
