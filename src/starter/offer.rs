//! A further offer: the text of another shipment, with what was typed in its place.

use std::collections::BTreeMap;

use toml_edit::{DocumentMut, Item, Table, Value, value};

use super::NewFile;
use super::cut::{filled, quoted, set};
use super::days::Days;
use super::lane::{named_loading, port_called};
use crate::trade::{Date, NamedPort, Shipment};

/// What a further offer has of its own; the rest is the other's.
#[derive(Debug)]
pub struct NewOffer {
    /// Its name: that of its folder.
    pub name: String,
    /// The port of loading, where the term names none.
    pub from: Option<String>,
    /// The day of sailing.
    pub sails: Option<Date>,
    /// The day of arrival.
    pub arrives: Option<Date>,
    /// What else was typed, by its key in the files.
    pub typed: BTreeMap<&'static str, String>,
}

/// What an offer has of a shipment, beside its invoice. Papers, bills, entries and the load are the other's own.
const OF_SHIPMENT: [&str; 8] =
    ["title", "to", "dates", "containers", "class", "hours", "policy", "invoice"];

/// The keys of an invoice that a new offer takes over: seller, goods, price, payments.
const OF_INVOICE: [&str; 7] =
    ["supplier", "number", "term", "price-valid", "basis", "payment", "line"];

/// What it has of a line.
const OF_LINE: [&str; 12] = [
    "id",
    "stone",
    "finish",
    "thickness",
    "price",
    "quality",
    "measure",
    "quantity",
    "bundles",
    "slabs",
    "size",
    "size-is",
];

/// The keys of a quantity without a packing list.
const QUANTITY: [&str; 5] = ["quantity", "bundles", "slabs", "size", "size-is"];

impl NewOffer {
    /// The files of the offer, from the shipment that it is like, its text and its packing list.
    ///
    /// # Errors
    /// Why it cannot be made, in a sentence.
    pub fn files(
        &self,
        like: &Shipment,
        text: &str,
        list: Option<String>,
        ports: &[NamedPort],
    ) -> Result<Vec<NewFile>, String> {
        let mut file: DocumentMut =
            text.parse().map_err(|_| format!("{} cannot be read", like.name))?;
        let top = file.as_table_mut();
        keep(top, &OF_SHIPMENT);
        let seller = self.typed.get("supplier").unwrap_or(&self.name);
        put(top, "title", Value::from(seller.as_str()));
        self.set_dates(top);
        let loading = self.set_lane(top, like, ports)?;
        let invoice = the_only(top, "invoice", &like.name)?;
        keep(invoice, &OF_INVOICE);
        put(invoice, "number", Value::from(self.name.as_str()));
        if self.typed.contains_key("price") {
            invoice.remove("basis");
        }
        for key in ["supplier", "term", "price-valid"] {
            self.set(invoice, key);
        }
        if let Some(port) = &loading {
            set(invoice, "origin", port.get(..2).unwrap_or_default());
            let why =
                "  # the country of the port of loading: correct it where the stone is another's";
            if let Some(origin) = invoice.get_mut("origin").and_then(Item::as_value_mut) {
                origin.decor_mut().set_suffix(why);
            }
        }
        let line = the_only(invoice, "line", &like.name)?;
        keep(line, &OF_LINE);
        for key in ["stone", "finish", "thickness", "price"] {
            self.set(line, key);
        }
        let is_listed = self.set_quantity(line, like);
        let folder = format!("shipments/{}", self.name);
        let mut files = vec![(format!("{folder}/shipment.toml"), file.to_string())];
        files
            .extend(list.filter(|_| is_listed).map(|list| (format!("{folder}/packing.csv"), list)));
        files.extend(self.freight(like, loading.as_deref())?);
        Ok(files)
    }

    fn set(&self, row: &mut Table, key: &str) {
        if let Some(text) = self.typed.get(key) {
            put(row, key, Value::from(text.as_str()));
        }
    }

    fn set_dates(&self, top: &mut Table) {
        let Some(dates) = top.get_mut("dates").and_then(Item::as_table_like_mut) else { return };
        let typed = [("sails", self.sails), ("arrives", self.arrives)];
        if typed.iter().all(|(_, day)| day.is_none()) {
            return;
        }
        for (key, day) in typed {
            if let Some(day) = day.and_then(|day| day.to_string().parse::<Value>().ok()) {
                dates.insert(key, Item::Value(day));
            }
        }
        // The days between go by the ship again.
        for key in ["collected", "entered", "delivered", "returned"] {
            dates.remove(key);
        }
    }

    /// Writes the lane, where the term names no port of loading; gives that port, where it is another.
    fn set_lane(
        &self,
        top: &mut Table,
        like: &Shipment,
        ports: &[NamedPort],
    ) -> Result<Option<String>, String> {
        let typed = self.typed.get("term");
        let in_term = match typed {
            Some(term) => named_loading(ports, term)?,
            None => like
                .invoices
                .first()
                .filter(|one| one.term.names_port())
                .map(|_| like.lane.from.clone()),
        };
        let beside = self.from.as_ref().map(|text| port_called(ports, text)).transpose()?;
        let is_in_term = in_term.is_some();
        let loading = in_term.or(beside).unwrap_or_else(|| like.lane.from.clone());
        if !is_in_term {
            set(top, "lane", &format!("{loading}-{}", like.lane.to));
        }
        Ok((loading != like.lane.from).then(|| loading.code().to_owned()))
    }

    /// Writes how much is meant, where it was typed; gives whether the other's packing list serves.
    fn set_quantity(&self, line: &mut Table, like: &Shipment) -> bool {
        let is_typed = QUANTITY.iter().any(|key| self.typed.contains_key(key));
        let is_nominal = like.is_nominal();
        if !is_typed {
            return !is_nominal;
        }
        if self.typed.contains_key("quantity") {
            for key in QUANTITY {
                line.remove(key);
            }
            self.set(line, "quantity");
            return false;
        }
        line.remove("quantity");
        let (bundles, slabs) = (like.bundles.len(), like.slabs.len());
        let counts = [("bundles", bundles), ("slabs", slabs.div_ceil(bundles.max(1)))];
        for (key, of_list) in counts {
            let typed = self.typed.get(key).and_then(|text| text.parse::<i64>().ok());
            let count =
                typed.or_else(|| i64::try_from(of_list).ok().filter(|_| line.get(key).is_none()));
            if let Some(count) = count {
                put(line, key, Value::from(count));
            }
        }
        self.set(line, "size");
        false
    }

    /// A quote of its own, where its freight was typed.
    fn freight(&self, like: &Shipment, loading: Option<&str>) -> Result<Option<NewFile>, String> {
        let Some(freight) = self.typed.get("freight") else { return Ok(None) };
        let Some(loading) = loading else {
            return Err(format!(
                "rates/freight.toml has the freight from {}: correct it there, where it has changed",
                like.lane.from
            ));
        };
        let days = Days::of(like.dates.quoted, (self.sails, self.arrives), 0)
            .ok_or("a day is too far away")?;
        let valid = self.typed.get("freight-valid").cloned();
        let valid = valid.unwrap_or_else(|| days.year.to_string());
        let value = |name: &str| match name {
            "lane" => Some(quoted(&format!("{loading}-{}", like.lane.to))),
            "freight" => Some(quoted(freight)),
            "freight-valid" => Some(quoted(&valid)),
            _ => None,
        };
        let text = filled(include_str!("freight-of-offer.toml"), value, |_| true, "");
        Ok(Some((format!("rates/freight/{}.toml", self.name), text)))
    }
}

/// Sets a key, and keeps the comment behind it.
pub(super) fn put(row: &mut Table, key: &str, new: Value) {
    let decor = row.get(key).and_then(Item::as_value).map(|old| old.decor().clone());
    let mut item = value(new);
    if let (Some(decor), Some(new)) = (decor, item.as_value_mut()) {
        *new.decor_mut() = decor;
    }
    row.insert(key, item);
}

/// Takes all keys out but these.
fn keep(row: &mut Table, keys: &[&str]) {
    row.retain(|key, _| keys.contains(&key));
}

/// The one row of a name.
pub(super) fn the_only<'t>(
    table: &'t mut Table,
    key: &str,
    name: &str,
) -> Result<&'t mut Table, String> {
    let rows = table.get_mut(key).and_then(Item::as_array_of_tables_mut);
    let rows = rows
        .ok_or_else(|| format!("{name} writes its {key} on one line: name another with --like"))?;
    match (rows.len(), rows.get_mut(0)) {
        (1, Some(row)) => Ok(row),
        (count, _) => Err(format!(
            "{name} has {count} rows [[{key}]]: name a shipment of one line with --like"
        )),
    }
}
