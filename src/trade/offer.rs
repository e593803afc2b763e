//! Offers of forwarders and hauliers: a choice within each table of charge rows.

use std::collections::BTreeMap;

use super::charge::TableName;
use crate::fault::At;

/// Offers that a file asks for, by table.
pub type AskedOffers = Vec<(TableName, At<String>)>;

/// The offers that a box goes by: one for each table that has any.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Offers {
    by_table: BTreeMap<TableName, String>,
}

impl Offers {
    /// These with one more.
    #[must_use]
    pub fn with(&self, table: TableName, offer: &str) -> Self {
        let mut offers = self.clone();
        offers.by_table.insert(table, offer.to_owned());
        offers
    }

    /// The offer of a table, where it has any.
    pub fn of(&self, table: TableName) -> Option<&str> {
        self.by_table.get(&table).map(String::as_str)
    }

    /// Whether rows of an offer in a table serve: those of this one, and those of none.
    pub fn takes(&self, table: TableName, offer: Option<&str>) -> bool {
        offer.is_none_or(|offer| self.of(table) == Some(offer))
    }

    /// Whether they are what is asked.
    pub fn are(&self, asked: &AskedOffers) -> bool {
        asked.iter().all(|(table, offer)| self.of(*table) == Some(offer.value.as_str()))
    }

    /// Each with its table.
    pub fn iter(&self) -> impl Iterator<Item = (TableName, &str)> {
        self.by_table.iter().map(|(table, offer)| (*table, offer.as_str()))
    }
}
