//! What one box costs before it is filled: the charges that are counted by the box, with what is a
//! part of them.

use std::collections::BTreeMap;

use super::amounts::bounded;
use super::counting::{by_tiers, for_each, times};
use super::exchange::{self, SERVICES, Target};
use super::pick::{Pick, Purpose, asked, may_apply, pick};
use super::scopes::asked_for;
use super::terms::event_of;
use crate::fault::{Code, Fault, Report};
use crate::load::{Part, Variant};
use crate::quantity::{Decimal, Exact, Money};
use crate::trade::{
    ChargeRow, Leg, Per, Rate, ScopeKind, Shipment, Tariffs, TierBy, Treatment, WhatOf,
};

/// A row that charges every box: counted by it, or by the time that passes for each.
pub(super) fn by_box(row: &ChargeRow, shipment: &Shipment) -> bool {
    row.per == Some(Per::Container)
        || (row.per.is_some_and(Per::is_time)
            && asked_for(shipment, row) == Some(ScopeKind::Container))
}

/// A row that is a part of another charge, once for each of that: by the box it would be a part of the
/// charges of all boxes, once for every box.
pub(super) fn is_part(row: &ChargeRow) -> bool {
    matches!(row.rate.value.of(), Some(WhatOf::Charge(_)))
        && matches!(row.per, None | Some(Per::Container))
}

/// A row that charges boxes of a named type.
fn is_quoted_by_type(row: &ChargeRow) -> bool {
    row.per == Some(Per::Container) && row.matches.container.is_some()
}

/// Adds up what one box costs, and gives the rows that go by what it weighs, which is not known
/// before it is filled; `None` where a leg has no row for this box, or a fault is reported.
pub(super) fn price<'a>(
    shipment: &Shipment,
    tariffs: &Tariffs,
    purposes: &[Purpose<'a>],
    variant: Variant,
    report: &mut Report,
) -> Option<(Variant, Vec<&'a ChargeRow>)> {
    let mut till = Till { shipment, tariffs, variant, charged: BTreeMap::new(), heavy: Vec::new() };
    let mut sound = true;
    for purpose in purposes {
        sound &= till.count(purpose, report).is_some();
    }
    if !sound {
        return None;
    }
    for leg in [Leg::MainCarriage, Leg::OnCarriage] {
        let is_carried = purposes.iter().any(|purpose| {
            let by_type = purpose.rows.iter().any(|row| is_quoted_by_type(row));
            purpose.leg == leg && by_type && till.charged.contains_key(purpose.name)
        });
        // Carriage is quoted by the type of box: an offer that does not quote this type, or has
        // surcharges and fees alone, does not carry it.
        let mut rows = tariffs.charges.iter().filter(|row| row.leg == leg);
        if !is_carried && rows.any(|row| is_quoted_by_type(row) && may_apply(shipment, row)) {
            return None;
        }
    }
    // Parts of parts wait until what they are of is known; what waits for a charge of something else
    // than the box waits for ever, and is not the box's.
    let mut pending: Vec<&Purpose<'a>> = purposes.iter().collect();
    while let Some(ready) = pending.iter().position(|purpose| till.is_ready(purpose, &pending)) {
        till.part(pending.remove(ready), report)?;
    }
    let Till { variant, heavy, .. } = till;
    if variant.cost.is_negative() {
        let (label, total) = (variant.label(), variant.cost);
        report.add(
            Fault::error(
                Code::OutOfRange,
                format!("a {label} would cost less than nothing: {total}"),
            )
            .at(&variant.container.place, "this container")
            .help("a rebate on a box cannot be larger than what the box costs"),
        );
        return None;
    }
    Some((variant, heavy))
}

/// One box being priced.
struct Till<'s, 'a> {
    shipment: &'s Shipment,
    tariffs: &'s Tariffs,
    variant: Variant,
    /// What its charges came to, by their names, in the currencies they are in.
    charged: BTreeMap<&'a str, Vec<Money>>,
    /// Rows that go by what it weighs.
    heavy: Vec<&'a ChargeRow>,
}

impl<'a> Till<'_, 'a> {
    /// The row of a purpose that serves this box; `Err`: the fault is in the report.
    fn pick(
        &self,
        purpose: &Purpose<'a>,
        rows: &[&'a ChargeRow],
        report: &mut Report,
    ) -> Result<Option<&'a ChargeRow>, ()> {
        let asked = asked(self.shipment, purpose.leg, Some(&self.variant));
        match pick(rows, &asked, &self.shipment.dates, report) {
            Pick::Row(row) => Ok(Some(row)),
            Pick::Nothing => Ok(None),
            Pick::Fault => Err(()),
        }
    }

    /// Charges what is counted by the box.
    fn count(&mut self, purpose: &Purpose<'a>, report: &mut Report) -> Option<()> {
        let counted = |row: &&&'a ChargeRow| by_box(row, self.shipment) && !is_part(row);
        let rows: Vec<&'a ChargeRow> = purpose.rows.iter().filter(counted).copied().collect();
        let Some(row) = self.pick(purpose, &rows, report).ok()? else { return Some(()) };
        let times = match times(row, self.shipment, &self.shipment.dates) {
            Ok(times) => times,
            Err(fault) => {
                report.add(*fault);
                return None;
            }
        };
        let exact = match &row.rate.value {
            Rate::Amount(each) => {
                Exact::from(*each).times(times.map_or(Decimal::ONE, |times| times.count))
            }
            Rate::Tiers(tiers) if tiers.by == TierBy::Days => {
                let days = times.map_or(Decimal::ZERO, |times| times.count);
                by_tiers(tiers, days).ok()?.0
            }
            Rate::Tiers(_) => {
                self.heavy.push(row);
                return Some(());
            }
            Rate::Percent(..) | Rate::Each { .. } => return Some(()),
        };
        self.add(row, purpose.name, &exact, report)
    }

    /// Whether a purpose has parts of what is charged already, and of nothing that is still to come.
    fn is_ready(&self, purpose: &Purpose<'a>, pending: &[&Purpose<'a>]) -> bool {
        let mut bases =
            purpose.rows.iter().filter(|row| is_part(row)).filter_map(|row| {
                match row.rate.value.of() {
                    Some(WhatOf::Charge(name)) => Some(name.as_str()),
                    _ => None,
                }
            });
        let waits = |base: &str| {
            let mut others = pending.iter().filter(|other| !std::ptr::eq(**other, purpose));
            others.any(|other| other.name == base && other.rows.iter().any(|row| is_part(row)))
        };
        let mut known = false;
        bases.all(|base| {
            known |= self.charged.contains_key(base);
            !waits(base)
        }) && known
    }

    /// Charges what is a part of other charges of the box: once for each of them.
    fn part(&mut self, purpose: &Purpose<'a>, report: &mut Report) -> Option<()> {
        let known: Vec<(&'a str, Vec<Money>)> =
            self.charged.iter().map(|(name, amounts)| (*name, amounts.clone())).collect();
        for (name, amounts) in known {
            let of_it = |row: &&&'a ChargeRow| {
                is_part(row)
                    && matches!(row.rate.value.of(), Some(WhatOf::Charge(of)) if of == name)
            };
            let rows: Vec<&'a ChargeRow> = purpose.rows.iter().filter(of_it).copied().collect();
            let Some(row) = self.pick(purpose, &rows, report).ok()? else { continue };
            for base in amounts {
                let exact = match &row.rate.value {
                    Rate::Percent(rate, _) => Exact::from(base).percent(*rate),
                    // Where it is in another currency, the fault comes with the charge itself.
                    Rate::Each { amount, each, .. } => for_each(*amount, *each, base, row.begun)?,
                    Rate::Amount(_) | Rate::Tiers(_) => continue,
                };
                self.add(row, purpose.name, &exact, report)?;
            }
        }
        Some(())
    }

    /// Adds a charge: held to its floor and cap, rounded once, in the book currency.
    fn add(
        &mut self,
        row: &ChargeRow,
        name: &'a str,
        exact: &Exact,
        report: &mut Report,
    ) -> Option<()> {
        let (amount, _) = bounded(row, exact, report)?;
        let book = in_book(self.shipment, self.tariffs, row, amount, report)?;
        self.charged.entry(name).or_default().push(amount);
        // What comes back is no cost of the box.
        let policy = self.shipment.policy.iter().find(|rule| rule.charge.value == row.name);
        let treatment = policy.and_then(|rule| rule.treatment).unwrap_or(row.treatment);
        if treatment == Treatment::Recoverable {
            return Some(());
        }
        let part = Part { name: row.name.clone(), amount: book, place: row.place.clone() };
        self.variant.parts.push(part);
        match self.variant.cost.plus(book) {
            Ok(sum) => self.variant.cost = sum,
            Err(overflow) => {
                report
                    .add(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "here"));
                return None;
            }
        }
        Some(())
    }
}

/// What a charge is in the book currency, at the rate of its leg's day.
pub(super) fn in_book(
    shipment: &Shipment,
    tariffs: &Tariffs,
    row: &ChargeRow,
    amount: Money,
    report: &mut Report,
) -> Option<Money> {
    let target = Target {
        event: event_of(row.leg),
        used_for: SERVICES,
        currency: shipment.yard.currency,
        needed_at: &row.rate.place,
    };
    exchange::convert(tariffs, &shipment.dates, amount, &target, report).map(|(book, _)| book)
}
