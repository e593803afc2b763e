//! What a row is counted by.

use super::legs::event_of;
use crate::fault::At;
use crate::trade::{
    ChargeRow, Clock, Event, Per, Rate, ScopeKind, Shipment, TierBy, Tiers, WhatOf,
};

/// The scope that a shipment's policy asks for, or the row: `None` leaves it to what the row is counted
/// by.
pub fn scope_of<'a>(shipment: &'a Shipment, row: &'a ChargeRow) -> Option<&'a At<ScopeKind>> {
    let policy = shipment.policy.iter().find(|rule| rule.charge.value == row.name);
    policy.and_then(|rule| rule.scope.as_ref()).or(row.scope.as_ref())
}

/// The kind of that scope.
pub fn asked_for(shipment: &Shipment, row: &ChargeRow) -> Option<ScopeKind> {
    scope_of(shipment, row).map(|at| at.value)
}

/// Whether a row charges every box: counted by it, or by the time that passes for each.
pub fn by_box(row: &ChargeRow, shipment: &Shipment) -> bool {
    row.per == Per::Container
        || (row.per.is_time() && asked_for(shipment, row) == Some(ScopeKind::Container))
}

/// Whether a row is a part of another charge, once for each of that charge. Counted by the box, it
/// would be a part of all boxes' charges, once for every box.
pub fn is_part(row: &ChargeRow) -> bool {
    part_of(row).is_some()
}

/// The charge that a row is a part of.
pub fn part_of(row: &ChargeRow) -> Option<&str> {
    match row.rate.value.of() {
        Some(WhatOf::Charge(name)) if matches!(row.per, Per::Part | Per::Container) => Some(name),
        _ => None,
    }
}

/// Whether a row charges boxes of a named type: carriage is quoted so.
pub(super) fn is_quoted_by_type(row: &ChargeRow) -> bool {
    row.per == Per::Container && row.matches.container.is_some()
}

/// The tiers of a row that goes by the gross mass of a box.
pub fn by_gross(row: &ChargeRow) -> Option<&Tiers> {
    match &row.rate.value {
        Rate::Tiers(tiers) if tiers.by == TierBy::Gross => Some(tiers),
        _ => None,
    }
}

/// Whether a row is counted entry by entry: by the entry or its lines, or by time that passes for an
/// entry.
pub fn by_entry(row: &ChargeRow, shipment: &Shipment) -> bool {
    matches!(row.per, Per::Entry | Per::TariffLine)
        || (row.per.is_time() && asked_for(shipment, row) == Some(ScopeKind::Entry))
}

/// Whether the day of entry changes what a row comes to: it counts days from it, is converted or
/// paid by it.
pub fn goes_by_entry(row: &ChargeRow) -> bool {
    let between = row.clock.as_ref().and_then(Clock::between);
    let of_days = between.is_some_and(|(from, to)| [from, to].contains(&Event::Entered));
    let mut rules = row.due.iter().chain(&row.recovered);
    of_days
        || event_of(row.leg) == Event::Entered
        || rules.any(|rule| rule.due.event == Event::Entered)
}
