//! What one calculation is about.

use std::collections::BTreeMap;

use super::charge::ChargeKind;
use crate::fault::Report;
use crate::load::Plan;
use crate::trade::{ScopeKind, Shipment, TableName, Tariffs, wrong_scope};

/// One offer for each table that has any.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Choice {
    offers: BTreeMap<TableName, String>,
}

impl Choice {
    /// This choice with one more offer.
    #[must_use]
    pub(super) fn with(&self, table: TableName, offer: &str) -> Self {
        let mut choice = self.clone();
        choice.offers.insert(table, offer.to_owned());
        choice
    }

    /// Whether rows of an offer in a table serve: those of the chosen offer, and those of none.
    pub fn takes(&self, table: TableName, offer: Option<&str>) -> bool {
        offer.is_none_or(|offer| self.offers.get(&table).is_some_and(|chosen| chosen == offer))
    }

    /// The chosen offers by table.
    pub fn offers(&self) -> impl Iterator<Item = (TableName, &str)> {
        self.offers.iter().map(|(table, offer)| (*table, offer.as_str()))
    }
}

/// What one calculation is about.
#[derive(Clone, Copy)]
pub(super) struct Job<'a> {
    pub(super) shipment: &'a Shipment,
    pub(super) tariffs: &'a Tariffs,
    pub(super) plan: &'a Plan,
    pub(super) choice: &'a Choice,
}

impl Job<'_> {
    /// Applies the shipment's policy to a charge: key, treatment; scope is chosen when the charge
    /// is made.
    pub(super) fn apply_policy(&self, charge: &mut ChargeKind) {
        let Some(rule) = self.shipment.policy.iter().find(|rule| rule.charge.value == charge.name)
        else {
            return;
        };
        charge.key = rule.key.unwrap_or(charge.key);
        charge.treatment = rule.treatment.unwrap_or(charge.treatment);
        charge.policy = Some((rule.place.clone(), rule.reason.clone()));
    }

    /// Sees that no policy asks another scope of a charge than the one it has: goods, what an invoice
    /// bills beside them, duty.
    pub(super) fn keeps_scope(
        &self,
        charge: &str,
        own: ScopeKind,
        report: &mut Report,
    ) -> Option<()> {
        let rule = self.shipment.policy.iter().find(|rule| rule.charge.value == charge);
        match rule.and_then(|rule| rule.scope.as_ref()) {
            Some(asked) if asked.value != own => {
                report.add(wrong_scope(charge, asked, &[own]));
                None
            }
            _ => Some(()),
        }
    }
}
