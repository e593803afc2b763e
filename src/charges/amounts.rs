//! What a row comes to for one object: product, floor and cap, one rounding, book currency.

use std::sync::Arc;

use super::keys::{charged_on, key_of};
use super::rows::{Builder, Counted};
use crate::bill::{Base, Charge, ChargeKind, Customs, Priced, SetId, Sets, Working};
use crate::customs::{EntryLine, taxed_value};
use crate::fault::{Code, Fault, Report};
use crate::price::{self, Payable, Quantity, Terms, told};
use crate::quantity::{Currency, Decimal, Exact, Money};
use crate::trade::{ChargeRow, Date, Key, Leg, Per, ScopeKind, WhatOf};

/// How many answers are remembered: a handful of rows and variants take turns.
const MEMO: usize = 32;

/// What a row came to for a count or on a base.
pub(super) struct Remembered {
    row: *const ChargeRow,
    count: Decimal,
    base: Option<Exact>,
    entered: Date,
    turn: Option<usize>,
    kind: Arc<ChargeKind>,
    priced: Arc<Priced>,
}

impl Builder<'_, '_> {
    /// The charge of a row for an object.
    pub(super) fn charge(
        &mut self,
        row: &ChargeRow,
        object: Counted,
        report: &mut Report,
    ) -> Option<()> {
        let base = match row.rate.value.of() {
            None => None,
            Some(of) => Some(self.base(of, row, &object, report)?),
        };
        self.charge_on(row, object, base, report)
    }

    /// The charge of a row for an object, on a base that is known.
    pub(super) fn charge_on(
        &mut self,
        row: &ChargeRow,
        object: Counted,
        base: Option<Base>,
        report: &mut Report,
    ) -> Option<()> {
        let of = base.as_ref().map(|base| base.amount.clone());
        let dates = self.dates_of(row, &object);
        let entered = dates.entered;
        let known = self.memo.iter().find(|known| {
            std::ptr::eq(known.row, row)
                && known.count == object.count
                && known.base == of
                && known.entered == entered
                && known.turn == self.turn
        });
        let (kind, priced) = match known {
            Some(known) => (known.kind.clone(), known.priced.clone()),
            None => {
                if !row.by_importer {
                    self.served.insert(row.leg);
                }
                let terms = self.job.terms().on(dates);
                let priced = self.price(row, object.count, base.as_ref(), &terms, report)?;
                let kind = self.kind(row, priced.due);
                let priced = self.priced(row, priced, base);
                let (kind, priced) = (Arc::new(kind), Arc::new(priced));
                let row: *const ChargeRow = row;
                let count = object.count;
                let (turn, own, amounts) = (self.turn, kind.clone(), priced.clone());
                let remembered = Remembered {
                    row,
                    count,
                    base: of.clone(),
                    entered,
                    turn,
                    kind: own,
                    priced: amounts,
                };
                self.memo.truncate(MEMO - 1);
                self.memo.insert(0, remembered);
                (kind, priced)
            }
        };
        if row.per == Some(Per::Entry) && self.turn.is_some() {
            let of = of.and_then(|of| of.round().ok());
            self.by_entry.push((row.place.clone(), of, priced.amount));
        }
        if !priced.amount.is_zero() {
            let on = object.on;
            let scope = self.scope(row, object, report)?;
            let charge = Charge { kind, on, scope, priced, by: None };
            let charge = self.attributed(charge, report)?;
            self.push(charge);
        }
        Some(())
    }

    /// What the row's charges have in common.
    pub(super) fn kind(&self, row: &ChargeRow, payable: Payable) -> ChargeKind {
        // 19 U.S.C. 1401a(b)(1)(A): packing costs borne by the buyer are part of the value.
        let customs = if row.leg == Leg::ExportPacking { Customs::In } else { Customs::Out };
        let mut kind = ChargeKind {
            name: row.name.clone(),
            leg: row.leg,
            key: key_of(row, &self.job.shipment.yard),
            charged_by: self.charged_by(row),
            treatment: row.treatment,
            basis: row.basis,
            customs,
            is_price: false,
            goods_of: None,
            table: Some((row.table, row.offer.clone())),
            sources: vec![row.rate.place.clone()],
            valid: Some(row.valid),
            charged_on: charged_on(row),
            policy: None,
            payable,
        };
        self.job.apply_policy(&mut kind);
        kind
    }

    /// What a row charges on within what it is counted by.
    fn charged_by(&self, row: &ChargeRow) -> Key {
        match (row.rate.value.of(), row.per) {
            (Some(WhatOf::Charge(name)), _) => {
                let of = self.charges.iter().find(|charge| charge.name == *name);
                of.map_or(Key::Mass, |charge| charge.charged_by)
            }
            (Some(WhatOf::Leg(_)), _) => Key::Mass,
            (Some(_), _) => Key::Value,
            (None, Some(Per::M2)) => Key::Area,
            (None, Some(Per::Slab)) => Key::Count,
            (None, _) => Key::Mass,
        }
    }

    /// What a row comes to for so many of its unit, or on a base.
    fn price(
        &self,
        row: &ChargeRow,
        count: Decimal,
        base: Option<&Base>,
        terms: &Terms<'_>,
        report: &mut Report,
    ) -> Option<price::Priced> {
        let flows;
        let of = match (row.rate.value.of(), base) {
            (Some(WhatOf::Payments), _) => {
                flows = self.flows()?;
                Quantity::Paid(&flows)
            }
            (_, Some(base)) => Quantity::Of(&base.amount),
            (_, None) => Quantity::Count(count),
        };
        told(price::amount(row, of, terms), report)
    }

    /// What a row came to, with the words that `explain` has for it.
    pub(super) fn priced(
        &self,
        row: &ChargeRow,
        priced: price::Priced,
        base: Option<Base>,
    ) -> Priced {
        let price::Priced { amount, book, exchange, how, bound, .. } = priced;
        let of = row.rate.value.of().map(|of| self.of_what(row, of)).unwrap_or_default();
        let working = Working::of(how, bound, (of, base));
        Priced { amount, book, exchange, parts: Vec::new(), working }
    }

    /// What a rate is of, in words.
    fn of_what(&self, row: &ChargeRow, of: &WhatOf) -> String {
        match (row.insured, of) {
            (Some(insured), _) => {
                format!("{insured} of cost, insurance and freight, itself inside; cost and freight")
            }
            (None, WhatOf::ContinuousBond) => {
                let bond = self.job.terms().on(self.dates()).bond(&row.rate.place);
                let entries = bond.map_or(0, |bond| bond.entries);
                format!("the continuous bond, shared by {entries} entries")
            }
            (None, WhatOf::SingleBond) => {
                let entry = self.turn.and_then(|at| self.entries.get(at));
                match entry.and_then(|entry| entry.restricted_bond.as_ref()) {
                    Some((times, agency)) => {
                        format!("{times} times the entered value (restricted: {agency})")
                    }
                    None => "entered value, duties, taxes and fees".to_owned(),
                }
            }
            (None, of) => of.word().into_owned(),
        }
    }

    /// What a percentage is of.
    fn base(
        &mut self,
        of: &WhatOf,
        row: &ChargeRow,
        object: &Counted,
        report: &mut Report,
    ) -> Option<Base> {
        let book = self.job.shipment.yard.currency;
        let amount = match of {
            WhatOf::Goods => self.sum_in(object.set, book, report, |charge| charge.is_price),
            WhatOf::InsuredValue => self.sum_in(object.set, book, report, |charge| {
                charge.leg <= Leg::MainCarriage && charge.is_cost()
            }),
            WhatOf::Leg(leg) => {
                let leg = *leg;
                self.sum_in(object.set, book, report, |charge| {
                    charge.leg == leg && charge.is_cost()
                })
            }
            WhatOf::SingleBond => self.single_bond().map(Exact::from),
            WhatOf::ContinuousBond => self.continuous_bond(row, report).map(Exact::from),
            WhatOf::Payments => self.paid_for(book).map(Exact::from),
            WhatOf::EnteredValue | WhatOf::TaxedValue => {
                let entry = self.turn.and_then(|at| self.entries.get(at))?;
                let lines = entry.lines.iter().filter(|line| {
                    !line.is_free_of(row)
                        && (object.kind != ScopeKind::TariffLine || *line.label == *object.of)
                });
                let lines: Vec<&EntryLine> = lines.collect();
                if *of == WhatOf::TaxedValue {
                    let charges = (&self.charges[..], &*self.sets);
                    return taxed_value(&self.job.case(), entry, &lines, charges, report);
                }
                let entered = lines.iter().map(|line| line.entered);
                Money::total(entry.currency, entered).ok().map(Exact::from)
            }
            WhatOf::Charge(name) => {
                self.sum_in(object.set, book, report, |charge| charge.name == *name)
            }
        };
        amount.map(Base::from)
    }

    /// What a single-entry bond must cover: the entered value with all duties, taxes and fees, or so
    /// many times the entered value where another agency restricts any of its goods (19 CFR 113.13;
    /// customs broker licence examinations, 2005 question 43 and 2009 question 53).
    fn single_bond(&self) -> Option<Money> {
        let entry = self.turn.and_then(|at| self.entries.get(at))?;
        if let Some((times, _)) = &entry.restricted_bond {
            return Exact::from(entry.entered().ok()?).times(Decimal::from(*times)).round().ok();
        }
        let levied = |charge: &&Charge| {
            charge.on.entry() == self.turn
                && charge.leg == Leg::DutyAndTax
                && charge.amount().currency() == entry.currency
        };
        let levied = self.charges.iter().filter(levied).map(Charge::amount);
        let entered = entry.lines.iter().map(|line| line.entered);
        Money::total(entry.currency, entered.chain(levied)).ok()
    }

    /// The amount of the continuous bond.
    fn continuous_bond(&self, row: &ChargeRow, report: &mut Report) -> Option<Money> {
        let terms = self.job.terms().on(self.dates());
        let bond = told(terms.bond(&row.rate.place), report)?;
        match bond.amount() {
            Ok(amount) => Some(amount),
            Err(overflow) => {
                report.add(
                    Fault::error(Code::Overflow, overflow.to_string()).at(&bond.place, "here"),
                );
                None
            }
        }
    }

    /// What chosen charges come to, in the book currency, on the slabs of a set: exactly, and no sum of
    /// rounded shares.
    fn sum_in(
        &mut self,
        set: SetId,
        book: Currency,
        report: &mut Report,
        chosen: impl Fn(&Charge) -> bool,
    ) -> Option<Exact> {
        let mut total = Exact::zero(book);
        for charge in self.charges.iter().filter(|charge| chosen(charge)) {
            let whole = Exact::from(charge.book());
            let is_in = |slab| self.sets.position(set, slab).is_some();
            let part = if set == Sets::ALL || charge.scope.set == set {
                whole
            } else {
                self.spreader.share_in((charge, &whole), is_in, self.sets, report)?
            };
            total = total.plus(&part).ok()?;
        }
        Some(total)
    }
}
