//! What a row comes to for one object: product, floor and cap, one rounding, book currency.

use std::cmp::Ordering;
use std::sync::Arc;

use super::charge::{Bound, Charge, ChargeKind, Customs, Priced, Scope, Working};
use super::customs::{EntryLine, taxed_value};
use super::exchange::{self, SERVICES, Target};
use super::pick::counted_days;
use super::rows::{Builder, Object};
use super::sets::{SetId, Sets};
use super::terms::event_of;
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Currency, Decimal, Exact, Money, Percent};
use crate::trade::{ChargeRow, Key, Leg, Per, Rate, ScopeKind, Treatment, WhatOf};

/// How many answers are remembered: a handful of rows and variants take turns.
const MEMO: usize = 32;

/// What a row came to for a count or on a base.
pub(super) struct Remembered {
    row: *const ChargeRow,
    count: Decimal,
    base: Option<Money>,
    kind: Arc<ChargeKind>,
    priced: Arc<Priced>,
}

impl Builder<'_, '_> {
    /// The charge of a row for an object.
    pub(super) fn charge(
        &mut self,
        row: &ChargeRow,
        object: Object,
        report: &mut Report,
    ) -> Option<()> {
        let base = match &row.rate.value {
            Rate::Amount(_) => None,
            Rate::Percent(_, of) => Some(self.base(of, row, &object, report)?),
        };
        self.charge_on(row, object, base, report)
    }

    /// The charge of a row for an object, on a base that is known.
    pub(super) fn charge_on(
        &mut self,
        row: &ChargeRow,
        object: Object,
        base: Option<Money>,
        report: &mut Report,
    ) -> Option<()> {
        self.served.insert(row.leg);
        let known = self.memo.iter().find(|known| {
            std::ptr::eq(known.row, row) && known.count == object.count && known.base == base
        });
        let (kind, priced) = match known {
            Some(known) => (known.kind.clone(), known.priced.clone()),
            None => {
                let kind = Arc::new(self.kind(row));
                let priced = Arc::new(self.price(row, object.count, base, report)?);
                let row: *const ChargeRow = row;
                let count = object.count;
                let remembered =
                    Remembered { row, count, base, kind: kind.clone(), priced: priced.clone() };
                self.memo.truncate(MEMO - 1);
                self.memo.insert(0, remembered);
                (kind, priced)
            }
        };
        if row.per == Some(Per::Entry) && self.turn.is_some() {
            self.by_entry.push((row.place.clone(), base, priced.amount));
        }
        if !priced.amount.is_zero() {
            let scope = Scope { kind: object.kind, of: object.of, set: object.set };
            self.push(Charge { kind, scope, priced }, object.filled);
        }
        Some(())
    }

    /// What the row's charges have in common.
    fn kind(&self, row: &ChargeRow) -> ChargeKind {
        // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
        let customs = if row.leg == Leg::ExportPacking { Customs::In } else { Customs::Out };
        let by_slab = row.per == Some(Per::Slab);
        let mut kind = ChargeKind {
            name: row.name.clone(),
            leg: row.leg,
            key: if by_slab { Key::Count } else { row.key.unwrap_or(Key::Area) },
            treatment: row.treatment,
            basis: row.basis,
            customs,
            is_price: false,
            goods_of: None,
            table: Some((row.table, row.offer.clone())),
            sources: vec![row.rate.place.clone()],
            valid: Some(row.valid),
            policy: None,
        };
        self.job.apply_policy(&mut kind);
        kind
    }

    /// What a row comes to for so many of its unit, or on a base: computed unrounded, held to its
    /// floor and cap, rounded once (rule R1), and taken into the book currency.
    fn price(
        &self,
        row: &ChargeRow,
        count: Decimal,
        base: Option<Money>,
        report: &mut Report,
    ) -> Option<Priced> {
        let days = counted_days(row, &self.dates());
        let (exact, counted) = match (&row.rate.value, base) {
            (Rate::Amount(each), _) => {
                // So many boxes for so many days; a charge per day alone has the days for its count.
                let count = match (row.per, days) {
                    (Some(Per::Day), Some(days)) => days,
                    (_, Some(days)) => count.checked_mul(days)?,
                    (_, None) => count,
                };
                (Exact::from(*each).times(count), Some((*each, count)))
            }
            (Rate::Percent(rate, _), Some(base)) => {
                let part = Self::part(row, *rate, base, report)?;
                (days.map_or(part.clone(), |days| part.times(days)), None)
            }
            (Rate::Percent(..), None) => return None,
        };
        let (amount, bound) = bounded(row, &exact, report)?;
        let working = match (&row.rate.value, counted, base) {
            (_, Some((each, count)), _) => {
                let unit = if days.is_some() { "day" } else { row.per.map_or("", Per::word) };
                Working::Counted { each, count, unit, bound }
            }
            (Rate::Percent(rate, of), None, Some(base)) => {
                let of = match row.insured {
                    Some(insured) => format!(
                        "{insured} of cost, insurance and freight, itself inside; cost and freight"
                    ),
                    None => of.word().to_owned(),
                };
                Working::Part { rate: *rate, of, base, days, exact: exact.shown(6), bound }
            }
            _ => return None,
        };
        let target = Target {
            event: event_of(row.leg),
            used_for: SERVICES,
            currency: self.job.shipment.yard.currency,
            needed_at: &row.rate.place,
        };
        let dates = &self.dates();
        let (book, exchange) = exchange::convert(self.job.tariffs, dates, amount, &target, report)?;
        Some(Priced { amount, book, exchange, working })
    }

    /// A percentage of a base, unrounded.
    fn part(row: &ChargeRow, rate: Percent, base: Money, report: &mut Report) -> Option<Exact> {
        let Some(insured) = row.insured else { return Some(Exact::from(base).percent(rate)) };
        let premium = premium(rate, insured, base);
        if premium.is_none() {
            report.add(
                Fault::error(Code::OutOfRange, "the premium eats the whole insured value")
                    .at(&row.rate.place, "this rate"),
            );
        }
        premium
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
            WhatOf::EnteredValue | WhatOf::TaxedValue => {
                let entry = self.turn.and_then(|at| self.entries.get(at))?;
                let lines = entry.lines.iter().filter(|line| {
                    !row.exempt_origins.contains(&line.origin)
                        && (object.kind != ScopeKind::TariffLine || *line.label == *object.of)
                });
                let lines: Vec<&EntryLine> = lines.collect();
                if *of == WhatOf::TaxedValue {
                    let (charges, sets) = (&self.charges, &*self.sets);
                    let spreader = &mut *self.spreader;
                    return taxed_value(&self.job, entry, &lines, charges, sets, spreader, report);
                }
                Money::total(entry.currency, lines.iter().map(|line| line.entered)).ok()
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
                charge.book().minor().ok()
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
}

/// The premium on an insured value that contains it: with `p = rate x insured`, the cost,
/// insurance and freight is `base / (1 - p)` and the premium `p` of it.
fn premium(rate: Percent, insured: Percent, base: Money) -> Option<Exact> {
    let of_cif = rate.of(insured).ok()?;
    Some(Exact::from(base).grossed_up(of_cif)?.percent(of_cif))
}

/// Applies a row's floor and cap, then rounds once.
pub(super) fn bounded(
    row: &ChargeRow,
    exact: &Exact,
    report: &mut Report,
) -> Option<(Money, Option<Bound>)> {
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
