//! What a row comes to for one object: product, floor and cap, one rounding, book currency.

use std::cmp::Ordering;
use std::sync::Arc;

use super::counting::{Times, by_tiers, for_each, times};
use super::customs::EntryLine;
use super::exchange::{self, SERVICES, Target};
use super::payments::{booked_on, payable};
use super::rows::{Builder, Object};
use super::taxed::taxed_value;
use super::terms::event_of;
use crate::bill::{
    Base, Bound, Charge, ChargeKind, Conversion, Customs, Payable, Priced, SetId, Sets, Working,
};
use crate::fault::{Code, Fault, Report};
use crate::quantity::{Currency, Decimal, Exact, Mass, Money, Percent};
use crate::trade::{
    ChargeRow, ContinuousBond, Date, Dates, Key, Leg, Lookup, Per, Rate, ScopeKind, TierBy, Tiers,
    Treatment, WhatOf,
};

/// How many answers are remembered: a handful of rows and variants take turns.
const MEMO: usize = 32;

/// What a row came to for a count or on a base.
pub(super) struct Remembered {
    row: *const ChargeRow,
    count: Decimal,
    base: Option<Money>,
    entered: Date,
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
        object: Object,
        base: Option<Base>,
        report: &mut Report,
    ) -> Option<()> {
        let of = base.as_ref().map(|base| base.amount);
        let dates = self.dates_of(row, &object);
        let entered = dates.entered;
        let known = self.memo.iter().find(|known| {
            std::ptr::eq(known.row, row)
                && known.count == object.count
                && known.base == of
                && known.entered == entered
                && known.priced.entry == self.turn
        });
        let (kind, priced) = match known {
            Some(known) => (known.kind.clone(), known.priced.clone()),
            None => {
                if !row.by_importer {
                    self.served.insert(row.leg);
                }
                let kind = self.kind(row, &dates, report)?;
                let payable = kind.payable;
                let priced =
                    self.price(row, object.count, base.as_ref(), (payable, &dates), report)?;
                let (kind, priced) = (Arc::new(kind), Arc::new(priced));
                let row: *const ChargeRow = row;
                let count = object.count;
                let (own, amounts) = (kind.clone(), priced.clone());
                let remembered =
                    Remembered { row, count, base: of, entered, kind: own, priced: amounts };
                self.memo.truncate(MEMO - 1);
                self.memo.insert(0, remembered);
                (kind, priced)
            }
        };
        if row.per == Some(Per::Entry) && self.turn.is_some() {
            self.by_entry.push((row.place.clone(), of, priced.amount));
        }
        if !priced.amount.is_zero() {
            let filled = object.filled;
            let scope = self.scope(row, object, report)?;
            self.push(Charge { kind, scope, priced }, filled);
        }
        Some(())
    }

    /// What the row's charges have in common.
    fn kind(&self, row: &ChargeRow, dates: &Dates, report: &mut Report) -> Option<ChargeKind> {
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
            payable: payable(&self.job, row, dates, report)?,
        };
        self.job.apply_policy(&mut kind);
        Some(kind)
    }

    /// What a row comes to for so many of its unit, or on a base: computed unrounded, held to its
    /// floor and cap, rounded once (rule R1), and taken into the book currency.
    fn price(
        &self,
        row: &ChargeRow,
        count: Decimal,
        base: Option<&Base>,
        (payable, dates): (Payable, &Dates),
        report: &mut Report,
    ) -> Option<Priced> {
        let (exact, working) = self.worked(row, count, base, dates, report)?;
        let (amount, bound) = bounded(row, &exact, report)?;
        let target = Target {
            event: event_of(row.leg),
            used_for: SERVICES,
            currency: self.job.shipment.yard.currency,
            needed_at: &row.rate.place,
        };
        let on = booked_on(&payable, dates.of(target.event));
        let (book, exchange) = self.in_book(row, amount, on, &target, report)?;
        let working = working.bounded(bound);
        Some(Priced { amount, book, exchange, parts: Vec::new(), working, entry: self.turn })
    }

    /// Takes a charge into the book currency at the rate of a day: its leg's, or the day it is paid
    /// on where that comes before.
    fn in_book(
        &self,
        row: &ChargeRow,
        amount: Money,
        on: Date,
        target: &Target<'_>,
        report: &mut Report,
    ) -> Option<(Money, Option<Conversion>)> {
        if amount.currency() == target.currency {
            return Some((amount, None));
        }
        let exact = Exact::from(amount);
        let booked = exchange::convert_on(&self.job, &exact, target, (on, &row.name), report)?;
        Some((booked.0, Some(booked.1)))
    }

    /// The unrounded figure, and how it came about.
    fn worked(
        &self,
        row: &ChargeRow,
        count: Decimal,
        base: Option<&Base>,
        dates: &Dates,
        report: &mut Report,
    ) -> Option<(Exact, Working)> {
        let times = match times(row, self.job.shipment, dates) {
            Ok(times) => times,
            Err(fault) => {
                report.add(*fault);
                return None;
            }
        };
        let (base, made_of) = (base.map(|base| base.amount), base.map(|base| &base.made_of));
        match (&row.rate.value, base) {
            (Rate::Amount(each), _) => {
                // So many boxes for so many days.
                let count = times.map_or(Some(count), |times| count.checked_mul(times.count))?;
                let unit = times.map_or_else(|| row.per.map_or("", Per::word), |times| times.unit);
                let exact = Exact::from(*each).times(count);
                let shown = exact.shown(6);
                let working =
                    Working::Counted { each: *each, count, unit, exact: shown, bound: None };
                Some((exact, working))
            }
            (Rate::Tiers(tiers), _) => Self::tiered(row, tiers, count, times, report),
            (Rate::Percent(rate, WhatOf::Payments), Some(base)) => {
                let terms = row.interest?;
                let exact = self.interest(*rate, terms)?;
                let shown = exact.shown(6);
                let working =
                    Working::Interest { rate: *rate, base, exact: shown, terms, bound: None };
                Some((exact, working))
            }
            (Rate::Percent(rate, of), Some(base)) => {
                let part = Self::part(row, *rate, base, report)?;
                let part = times.map_or(part.clone(), |times| part.times(times.count));
                let exact = self.shared_bond(of, &part)?;
                let working = Working::Part {
                    rate: *rate,
                    of: self.of_what(row, of),
                    base,
                    made_of: made_of.cloned().unwrap_or_default(),
                    times: times.map(|times| (times.count, times.unit)),
                    exact: exact.shown(6),
                    bound: None,
                };
                Some((exact, working))
            }
            (Rate::Each { amount, each, of }, Some(base)) => {
                let Some(exact) = for_each(*amount, *each, base, row.begun) else {
                    report.add(wrong_each(row, *each, base));
                    return None;
                };
                let exact = times.map_or(exact.clone(), |times| exact.times(times.count));
                let exact = self.shared_bond(of, &exact)?;
                let (amount, each, begun) = (*amount, *each, row.begun);
                let of = self.of_what(row, of);
                Some((exact, Working::ForEach { amount, each, of, base, begun, bound: None }))
            }
            (Rate::Percent(..) | Rate::Each { .. }, None) => None,
        }
    }

    /// A price in tiers: by days, by the lines of an entry, or by what a box weighs.
    fn tiered(
        row: &ChargeRow,
        tiers: &Tiers,
        count: Decimal,
        times: Option<Times>,
        report: &mut Report,
    ) -> Option<(Exact, Working)> {
        if tiers.by == TierBy::Gross {
            let gross = Mass::kg(count).ok()?;
            let tier = tiers.holding(gross)?;
            let window = tier.window.clone();
            return Some((
                Exact::from(tier.amount),
                Working::ByGross { gross, window, bound: None },
            ));
        }
        let (count, unit) = match times {
            Some(times) => (times.count, times.unit),
            None => (count, row.per.map_or("", Per::word)),
        };
        match by_tiers(tiers, count) {
            Ok((exact, steps)) => Some((exact, Working::Tiered { steps, unit, bound: None })),
            Err(overflow) => {
                report.add(
                    Fault::error(Code::Overflow, overflow.to_string())
                        .at(&row.rate.place, "these tiers"),
                );
                None
            }
        }
    }

    /// An entry's part of what the continuous bond costs; anything else is its own.
    fn shared_bond(&self, of: &WhatOf, exact: &Exact) -> Option<Exact> {
        if *of != WhatOf::ContinuousBond {
            return Some(exact.clone());
        }
        let bond = self.bond()?;
        Some(exact.weighed(1, u128::from(bond.entries)))
    }

    /// The continuous bond in force on the day of entry.
    fn bond(&self) -> Option<&ContinuousBond> {
        let shipment = self.job.shipment;
        match self.job.tariffs.bond(&shipment.yard.regime, self.dates().entered) {
            Lookup::Found(bond) => Some(bond),
            Lookup::Several(_) | Lookup::Lapsed(_) | Lookup::Missing => None,
        }
    }

    /// What a rate is of, in words.
    fn of_what(&self, row: &ChargeRow, of: &WhatOf) -> String {
        match (row.insured, of) {
            (Some(insured), _) => {
                format!("{insured} of cost, insurance and freight, itself inside; cost and freight")
            }
            (None, WhatOf::ContinuousBond) => {
                let entries = self.bond().map_or(0, |bond| bond.entries);
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
    ) -> Option<Base> {
        let book = self.job.shipment.yard.currency;
        let amount = match of {
            WhatOf::Goods => self.sum_in(object.set, book, report, |charge| charge.is_price),
            WhatOf::InsuredValue => self.sum_in(object.set, book, report, |charge| {
                charge.leg <= Leg::MainCarriage && is_paid_for_good(charge)
            }),
            WhatOf::Leg(leg) => {
                let leg = *leg;
                self.sum_in(object.set, book, report, |charge| {
                    charge.leg == leg && is_paid_for_good(charge)
                })
            }
            WhatOf::SingleBond => self.single_bond(),
            WhatOf::ContinuousBond => self.continuous_bond(row, report),
            WhatOf::Payments => self.paid_for(book),
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
            charge.priced.entry == self.turn
                && charge.leg == Leg::DutyAndTax
                && charge.amount().currency() == entry.currency
        };
        let levied = self.charges.iter().filter(levied).map(Charge::amount);
        let entered = entry.lines.iter().map(|line| line.entered);
        Money::total(entry.currency, entered.chain(levied)).ok()
    }

    /// The amount of the continuous bond.
    fn continuous_bond(&self, row: &ChargeRow, report: &mut Report) -> Option<Money> {
        let Some(bond) = self.bond() else {
            let shipment = self.job.shipment;
            let (regime, on) = (&shipment.yard.regime, self.dates().entered);
            let message =
                format!("rates/fees.toml has no [[bond]] of \"{regime}\" on {on} (entered)");
            report.add(
                Fault::error(Code::NoRate, message)
                    .at(&row.rate.place, "a part of the continuous bond")
                    .help("add the [[bond]]: regime, annual, entries, least, share, steps"),
            );
            return None;
        };
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

    /// What chosen charges come to, in the book currency, on the slabs of a set.
    fn sum_in(
        &mut self,
        set: SetId,
        book: Currency,
        report: &mut Report,
        chosen: impl Fn(&Charge) -> bool,
    ) -> Option<Money> {
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
        total.round().ok()
    }
}

/// Whether a charge is a cost, wherever a policy books it: one that is expensed is paid and insured,
/// and part of a customs value, all the same. What comes back, and what is only weighed, is not.
pub(super) fn is_paid_for_good(charge: &Charge) -> bool {
    matches!(charge.treatment, Treatment::Stock | Treatment::Period)
}

fn wrong_each(row: &ChargeRow, each: Money, base: Money) -> Fault {
    let message =
        format!("\"{}\" is for each {each} of an amount in {}", row.name, base.currency());
    Fault::error(Code::Contradiction, message)
        .at(&row.place, "this row")
        .help("state `each` in the currency of what it is of")
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
