//! What one calculation is about.

use std::borrow::Cow;
use std::collections::BTreeSet;

use crate::bill::{Charge, ChargeKind};
use crate::customs::Case;
use crate::fault::{Report, Reported};
use crate::load::{Plan, Variant};
use crate::price::{Order, Terms};
use crate::trade::{ChargeRow, Offers, ScopeKind, Shipment, TableName, Tariffs, wrong_scope};

/// The offers of a shipment: one of each table for the whole shipment, or several, one for each box.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Choice {
    /// Never empty.
    each: Vec<Offers>,
}

impl Choice {
    /// One offer of each table for the whole shipment.
    pub(crate) fn whole(offers: Offers) -> Self {
        Self { each: vec![offers] }
    }

    /// Several offers, each once: a box takes any of them. `None`: there are fewer than two.
    pub(crate) fn mixed<'a>(all: impl Iterator<Item = &'a Offers>) -> Option<Self> {
        let mut each: Vec<Offers> = Vec::new();
        for offers in all {
            if !each.contains(offers) {
                each.push(offers.clone());
            }
        }
        (each.len() > 1).then_some(Self { each })
    }

    /// The offers that a box may take.
    pub(crate) fn each(&self) -> &[Offers] {
        &self.each
    }

    /// Whether boxes may go by different offers.
    pub(crate) fn is_mixed(&self) -> bool {
        self.each.len() > 1
    }

    /// Whether a table's rows of an offer serve: those of a chosen offer do, and those without an
    /// offer.
    pub fn takes(&self, table: TableName, offer: Option<&str>) -> bool {
        self.each.iter().any(|offers| offers.takes(table, offer))
    }

    /// Whether boxes go by different offers of a table.
    pub fn mixes(&self, table: TableName) -> bool {
        let mut chosen = self.each.iter().map(|offers| offers.of(table));
        let first = chosen.next();
        chosen.any(|other| Some(other) != first)
    }

    /// What a charge is called: with its offer, where boxes go by different ones of its table.
    pub fn called<'c>(&self, charge: &'c Charge) -> Cow<'c, str> {
        match &charge.kind.table {
            Some((table, Some(offer))) if self.mixes(*table) => {
                Cow::Owned(format!("{}, {offer}", charge.name))
            }
            _ => Cow::Borrowed(charge.name.as_str()),
        }
    }

    /// The chosen offers, by table.
    pub fn offers(&self) -> BTreeSet<(TableName, &str)> {
        self.each.iter().flat_map(Offers::iter).collect()
    }
}

/// What one calculation is about.
#[derive(Clone, Copy)]
pub(crate) struct Job<'a> {
    pub(crate) shipment: &'a Shipment,
    pub(crate) tariffs: &'a Tariffs,
    pub(crate) plan: &'a Plan,
    pub(crate) choice: &'a Choice,
}

/// What boxes are priced by.
#[derive(Clone, Copy)]
pub(crate) struct Desk<'o, 'a> {
    pub(crate) shipment: &'a Shipment,
    pub(crate) tariffs: &'a Tariffs,
    pub(crate) choice: &'o Choice,
    pub(crate) order: &'o Order<'a>,
}

impl<'a> Desk<'_, 'a> {
    /// What its prices may depend on.
    pub(super) fn terms(&self) -> Terms<'a> {
        Terms::of(self.shipment, self.tariffs)
    }
}

impl<'a> Job<'a> {
    /// What its prices may depend on.
    pub(crate) fn terms(&self) -> Terms<'a> {
        Terms::of(self.shipment, self.tariffs)
    }

    /// What customs are worked out of.
    pub(super) fn case(&self) -> Case<'a> {
        Case { shipment: self.shipment, tariffs: self.tariffs, boxes: &self.plan.boxes }
    }

    /// Whether a row serves a box. Where boxes take different offers of its table, it has no offer or
    /// the box's own.
    pub(super) fn serves(&self, row: &ChargeRow, variant: &Variant) -> bool {
        !self.choice.mixes(row.table) || variant.offers.takes(row.table, row.offer.as_deref())
    }

    /// Applies the shipment's policy to a charge: key, treatment; scope is chosen when the charge
    /// is made.
    pub(super) fn apply_policy(&self, charge: &mut ChargeKind) {
        let Some(rule) = self.shipment.policy.iter().find(|rule| rule.charge.value == charge.name)
        else {
            return;
        };
        if let Some(key) = rule.key {
            (charge.key, charge.is_keyed) = (key, true);
        }
        charge.treatment = rule.treatment.unwrap_or(charge.treatment);
        charge.policy = Some((rule.place.clone(), rule.reason.clone()));
    }

    /// Checks that no policy changes the scope of a charge with a scope of its own: goods, other items on
    /// an invoice, duty.
    pub(super) fn keeps_scope(
        &self,
        charge: &str,
        own: ScopeKind,
        report: &mut Report,
    ) -> Result<(), Reported> {
        let rule = self.shipment.policy.iter().find(|rule| rule.charge.value == charge);
        match rule.and_then(|rule| rule.scope.as_ref()) {
            Some(asked) if asked.value != own => {
                Err(report.error(wrong_scope(charge, asked, &[own])))
            }
            _ => Ok(()),
        }
    }
}
