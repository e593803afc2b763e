//! Who waits for whom: the order in which purposes can be priced, worked out once, before anything is
//! loaded.

use super::counted::by_entry;
use super::pick::Purpose;
use super::why::{Reason, Why};
use crate::trade::{ChargeRow, Leg, Regime, Shipment, Tariffs, WhatOf};

/// Purposes, and the order in which they can be priced.
#[derive(Debug, Clone, Default)]
pub struct Order<'a> {
    /// The purposes, in file order.
    pub purposes: Vec<Purpose<'a>>,
    /// What is done after what.
    pub steps: Vec<Step>,
}

/// An order without its rows: it serves wherever they stand in the tables as they do here, whatever their
/// figures are.
#[derive(Debug, Clone)]
pub struct Positions {
    /// The rows of each purpose, by position.
    purposes: Vec<Vec<usize>>,
    steps: Vec<Step>,
}

impl Order<'_> {
    /// The order without its rows, which are of these tables. `None`: one is of others.
    pub fn positions(&self, tables: &Tariffs) -> Option<Positions> {
        let at = |row: &&ChargeRow| tables.charges.iter().position(|one| std::ptr::eq(one, *row));
        let purposes = self.purposes.iter().map(|purpose| purpose.rows.iter().map(at).collect());
        Some(Positions { purposes: purposes.collect::<Option<_>>()?, steps: self.steps.clone() })
    }
}

impl Positions {
    /// The order with the rows of tables that differ in figures alone.
    pub fn on<'a>(&self, tables: &'a Tariffs) -> Order<'a> {
        let purposes = self.purposes.iter().filter_map(|rows| {
            let rows: Vec<&'a ChargeRow> =
                rows.iter().filter_map(|at| tables.charges.get(*at)).collect();
            let first = *rows.first()?;
            Some(Purpose { name: &first.name, leg: first.leg, rows })
        });
        Order { purposes: purposes.collect(), steps: self.steps.clone() }
    }
}

/// One step of an order.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Step {
    /// A purpose is priced, by position.
    Purpose(usize),
    /// The customs entry is made.
    Enter,
}

/// What a purpose waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Waits {
    /// Another purpose, by position.
    For(usize),
    /// The customs entry.
    ForEntry,
}

/// The order of some purposes. A purpose waits until what it is a percentage of is known: another
/// charge, all costs up to the ship for the insured value, the entry for the entered value. The entry
/// waits for everything up to the border.
///
/// # Errors
/// Where some wait for each other.
pub fn order<'a>(
    purposes: Vec<Purpose<'a>>,
    shipment: &Shipment,
    tables: &Tariffs,
) -> Result<Order<'a>, Why<'a>> {
    let is_own = |row: &&Regime| {
        let in_force = shipment.filings.iter().any(|filing| row.valid.holds(filing.entered));
        row.id == shipment.yard.regime && in_force
    };
    let regimes = tables.regimes.iter().filter(is_own);
    let tax_adds: Vec<Leg> = regimes.flat_map(|row| row.tax_adds.iter().copied()).collect();
    let tax_adds = &tax_adds[..];
    let mut pending: Vec<usize> = (0..purposes.len()).collect();
    let mut steps = Vec::with_capacity(purposes.len() + 1);
    let mut entered = false;
    while !pending.is_empty() || !entered {
        let before = |at: &usize| purposes.get(*at).is_some_and(|one| one.leg <= Leg::Insurance);
        if !entered && !pending.iter().any(before) {
            steps.push(Step::Enter);
            entered = true;
            continue;
        }
        let waiting =
            Waiting { purposes: &purposes, pending: &pending, entered, shipment, tax_adds };
        let Some(ready) = pending.iter().position(|at| waiting.of(*at).is_none()) else {
            return Err(waiting.stuck());
        };
        steps.push(Step::Purpose(pending.remove(ready)));
    }
    Ok(Order { purposes, steps })
}

/// Purposes that are not priced yet.
struct Waiting<'p, 'a> {
    purposes: &'p [Purpose<'a>],
    pending: &'p [usize],
    entered: bool,
    shipment: &'p Shipment,
    /// Legs that the base of an import tax has beside value and duty.
    tax_adds: &'p [Leg],
}

impl<'a> Waiting<'_, 'a> {
    /// The first that is pending and like this.
    fn first(&self, like: impl Fn(&Purpose<'a>) -> bool) -> Option<usize> {
        let is_like = |at: &usize| self.purposes.get(*at).is_some_and(&like);
        self.pending.iter().copied().find(is_like)
    }

    /// What a purpose waits for; `None`: it is ready.
    fn of(&self, at: usize) -> Option<Waits> {
        let first = |like: &dyn Fn(&Purpose<'a>) -> bool| self.first(like).map(Waits::For);
        let leg = |leg: Leg| first(&|other| other.leg == leg);
        let entry = || (!self.entered).then_some(Waits::ForEntry);
        let of_payments = |row: &ChargeRow| matches!(row.rate.value.of(), Some(WhatOf::Payments));
        self.purposes.get(at)?.rows.iter().find_map(|row| match row.rate.value.of() {
            _ if by_entry(row, self.shipment) && !self.entered => entry(),
            None | Some(WhatOf::Goods) => None,
            Some(WhatOf::EnteredValue | WhatOf::ContinuousBond) => entry(),
            // Every leg that the regime adds to it, clearance among them; duty and fees are not of the
            // way.
            Some(WhatOf::TaxedValue) => entry().or_else(|| {
                first(&|other| other.leg != Leg::DutyAndTax && self.tax_adds.contains(&other.leg))
            }),
            Some(WhatOf::SingleBond) => entry().or_else(|| leg(Leg::DutyAndTax)),
            Some(WhatOf::Leg(Leg::DutyAndTax)) => entry().or_else(|| leg(Leg::DutyAndTax)),
            Some(WhatOf::Leg(one)) => leg(*one),
            Some(WhatOf::InsuredValue) => first(&|other| other.leg <= Leg::MainCarriage),
            Some(WhatOf::Payments) => {
                entry().or_else(|| first(&|other| !other.rows.iter().all(|row| of_payments(row))))
            }
            Some(WhatOf::Charge(name)) => first(&|other| other.name == name),
        })
    }

    /// Why nothing is ready. The circle is followed: a charge that only waits beside it is not blamed.
    fn stuck(&self) -> Why<'a> {
        let mut way: Vec<usize> = Vec::new();
        let mut through_entry = false;
        let mut next = self.pending.first().copied();
        while let Some(at) = next {
            if let Some(start) = way.iter().position(|one| *one == at) {
                way.drain(..start);
                break;
            }
            way.push(at);
            next = match self.of(at) {
                Some(Waits::For(other)) => Some(other),
                // The entry itself waits for everything up to the border.
                Some(Waits::ForEntry) => {
                    through_entry = true;
                    self.first(|other| other.leg <= Leg::Insurance)
                }
                None => None,
            };
        }
        let purposes = way.iter().filter_map(|at| self.purposes.get(*at));
        let rows = purposes.filter_map(|purpose| purpose.rows.first().copied()).collect();
        Box::new(Reason::Cycle { rows, through_entry })
    }
}
