//! What a row comes to for one object: product, floor and cap, one rounding, book currency.

use std::cmp::Ordering;

use super::charge::{Bound, Charge, Customs, Scope, Working};
use super::exchange::{self, SERVICES, Target};
use super::rows::{Builder, Object};
use super::sets::{SetId, Sets};
use super::terms::event_of;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Currency, Exact, Money, Percent};
use crate::trade::{ChargeRow, Key, Leg, Per, Rate, ScopeKind, Treatment, WhatOf};

impl Builder<'_, '_> {
    /// The charge of a row for an object.
    pub(super) fn charge(
        &mut self,
        row: &ChargeRow,
        object: Object,
        report: &mut Report,
    ) -> Option<()> {
        match &row.rate.value {
            Rate::Amount(each) => self.amount(row, object, *each, report),
            Rate::Percent(_, of) => {
                let base = self.base(of, row, &object, report)?;
                self.percent(row, object, of.word().to_owned(), base, report)
            }
        }
    }

    fn amount(
        &mut self,
        row: &ChargeRow,
        object: Object,
        each: Money,
        report: &mut Report,
    ) -> Option<()> {
        let per = row.per.unwrap_or(Per::Shipment);
        let count = match per {
            Per::Day => self.days(row)?,
            _ => object.count,
        };
        let exact = if per == Per::Slab {
            // Each slab's amount rounds alone, and is already at its minor unit.
            Exact::new(each.amount(), each.currency()).times(count)
        } else {
            Exact::from(each).times(count)
        };
        let (amount, bound) = bounded(row, &exact, report)?;
        let working = Working::Counted { each, count, unit: per.word(), bound };
        self.finish(row, object, amount, working, report)
    }

    pub(super) fn percent(
        &mut self,
        row: &ChargeRow,
        object: Object,
        of: String,
        base: Money,
        report: &mut Report,
    ) -> Option<()> {
        let Rate::Percent(rate, what) = &row.rate.value else {
            return Some(());
        };
        let days = if row.per == Some(Per::Day) { Some(self.days(row)?) } else { None };
        let mut exact = match (what, row.insured) {
            (WhatOf::InsuredValue, Some(insured)) => {
                let Some(exact) = premium(*rate, insured, base) else {
                    report.add(
                        Fault::error(Code::OutOfRange, "the premium eats the whole insured value")
                            .at(&row.rate.place, "this rate"),
                    );
                    return None;
                };
                exact
            }
            _ => Exact::from(base).percent(*rate),
        };
        if let Some(days) = days {
            exact = exact.times(days);
        }
        let (amount, bound) = bounded(row, &exact, report)?;
        let of = match row.insured {
            Some(insured) => {
                format!("{insured} of cost, insurance and freight, itself inside; cost and freight")
            }
            None => of,
        };
        let working = Working::Part { rate: *rate, of, base, days, exact: exact.shown(6), bound };
        self.finish(row, object, amount, working, report)
    }

    /// What a percentage is of.
    fn base(
        &mut self,
        of: &WhatOf,
        row: &ChargeRow,
        object: &Object,
        report: &mut Report,
    ) -> Option<Money> {
        let book = self.job.shipment.yard.currency;
        match of {
            WhatOf::Goods => self.sum_in(object.set, book, report, |charge| charge.is_price),
            WhatOf::InsuredValue => self.sum_in(object.set, book, report, |charge| {
                charge.leg <= Leg::MainCarriage && charge.treatment == Treatment::Stock
            }),
            WhatOf::EnteredValue => {
                let entry = self.entry.as_ref()?;
                let lines = entry.lines.iter().filter(|line| {
                    !row.exempt_origins.contains(&line.origin)
                        && (object.kind != ScopeKind::TariffLine || line.label() == object.of)
                });
                Money::total(entry.currency, lines.map(|line| line.entered)).ok()
            }
            WhatOf::Charge(name) => {
                self.sum_in(object.set, book, report, |charge| charge.name == *name)
            }
        }
    }

    /// What chosen charges come to, in the book currency, on the slabs of a set.
    fn sum_in(
        &mut self,
        set: SetId,
        book: Currency,
        report: &mut Report,
        chosen: impl Fn(&Charge) -> bool,
    ) -> Option<Money> {
        let mut total: i64 = 0;
        for charge in self.charges.iter().filter(|charge| chosen(charge)) {
            let part = if set == Sets::ALL || charge.scope.set == set {
                charge.book.minor().ok()
            } else {
                let shares = self.spreader.book_shares(charge, self.sets, report)?;
                let members = self.sets.members(charge.scope.set).zip(shares.iter());
                let inside = members.filter(|(slab, _)| self.sets.position(set, *slab).is_some());
                inside.map(|(_, share)| *share).try_fold(0i64, i64::checked_add)
            };
            total = total.checked_add(part?)?;
        }
        Some(Money::from_minor(total, book))
    }

    pub(super) fn finish(
        &mut self,
        row: &ChargeRow,
        object: Object,
        amount: Money,
        working: Working,
        report: &mut Report,
    ) -> Option<()> {
        self.served.insert(row.leg);
        if amount.is_zero() {
            return Some(());
        }
        let target = Target {
            event: event_of(row.leg),
            used_for: SERVICES,
            currency: self.job.shipment.yard.currency,
            needed_at: &row.rate.place,
        };
        let (book, exchange) =
            exchange::convert(self.job.tariffs, &self.job.shipment.dates, amount, &target, report)?;
        let key =
            if row.per == Some(Per::Slab) { Key::Count } else { row.key.unwrap_or(Key::Area) };
        let mut charge = Charge {
            name: row.name.clone(),
            leg: row.leg,
            scope: Scope { kind: object.kind, of: object.of, set: object.set },
            key,
            amount,
            book,
            exchange,
            treatment: row.treatment,
            basis: row.basis,
            customs: Customs::Out,
            is_price: false,
            goods_of: None,
            working,
            table: Some((row.table, row.offer.clone())),
            sources: vec![row.rate.place.clone()],
            valid: Some(row.valid),
            policy: None,
        };
        if row.leg == Leg::ExportPacking {
            // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
            charge.customs = Customs::In;
        }
        self.job.apply_policy(&mut charge);
        self.push(charge, object.filled);
        Some(())
    }
}

/// The premium on an insured value that contains it: with `p = rate x insured`, the cost,
/// insurance and freight is `base / (1 - p)` and the premium `p` of it.
fn premium(rate: Percent, insured: Percent, base: Money) -> Option<Exact> {
    let of_cif = rate.of(insured).ok()?;
    Some(Exact::from(base).grossed_up(of_cif)?.percent(of_cif))
}

/// Applies a row's floor and cap, then rounds once.
fn bounded(row: &ChargeRow, exact: &Exact, report: &mut Report) -> Option<(Money, Option<Bound>)> {
    let wrong = |bound: Money, report: &mut Report| {
        let message = format!(
            "\"{}\" is in {} and its bound in {}",
            row.name,
            exact.currency(),
            bound.currency()
        );
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&row.place, "this row")
                .help("state `minimum` and `maximum` in the currency the charge comes out in"),
        );
    };
    let bounds =
        [(row.minimum, Ordering::Less, Bound::Floor), (row.maximum, Ordering::Greater, Bound::Cap)];
    for (amount, replaces, bound) in bounds {
        let Some(amount) = amount else { continue };
        match exact.compare(amount) {
            Some(order) if order == replaces && !exact.is_zero() => {
                return Some((amount, Some(bound)));
            }
            Some(_) => {}
            None => {
                wrong(amount, report);
                return None;
            }
        }
    }
    match exact.round() {
        Ok(amount) => Some((amount, None)),
        Err(overflow) => {
            report
                .add(Fault::error(Code::Overflow, overflow.to_string()).at(&row.place, "this row"));
            None
        }
    }
}
