//! Duty as charges: one for each layer of each line of an entry.

use std::sync::Arc;

use super::job::Job;
use super::keys::key_of_duty;
use crate::bill::{Booked, Charge, ChargeKind, Object, On, Payable, Scope, Working};
use crate::customs::Entry;
use crate::fault::{Report, Reported};
use crate::price::{self, SERVICES, Target, duty_due, told};
use crate::quantity::Decimal;
use crate::trade::{Basis, Dates, DutyRate, Event, Leg, ScopeKind};

/// One charge for each layer of each line.
pub(super) fn duties(
    job: &Job<'_>,
    (at, entry): (usize, &Entry),
    report: &mut Report,
) -> Result<Vec<Charge>, Reported> {
    let mut charges = Vec::new();
    let dates = Dates { entered: entry.entered_on, ..job.shipment.dates };
    let terms = job.terms().on(dates);
    for (index, line) in entry.lines.iter().enumerate() {
        for layer in line.layers.iter().filter(|layer| !layer.amount.is_zero()) {
            let row = &layer.row;
            let target = Target {
                event: Event::Entered,
                used_for: SERVICES,
                currency: job.shipment.yard.currency,
                needed_at: &row.rate.place,
            };
            let (book, exchange) = told(price::convert(&terms, layer.amount, &target), report)?;
            let (key, charged_on) = key_of_duty(row, &job.shipment.yard);
            let due = Payable::On(told(duty_due(&terms, &row.rate.place), report)?, None);
            let mut kind = ChargeKind {
                key,
                is_keyed: row.key.is_some(),
                charged_on,
                basis: if row.is_starter { Basis::Starter } else { Basis::Law },
                goods_at: Some(line.place.clone()),
                valid: Some(row.valid),
                ..ChargeKind::of(&row.name, Leg::DutyAndTax, &row.rate.place, due)
            };
            job.apply_policy(&mut kind);
            job.keeps_scope(&row.name, ScopeKind::TariffLine, report)?;
            let working = match row.rate.value {
                DutyRate::Percent(rate) => Working::Part {
                    rate,
                    of: layer.of_words(line).into(),
                    base: line.entered,
                    made_of: Vec::new(),
                    times: None,
                    exact: layer.exact.clone(),
                    bound: None,
                },
                DutyRate::Specific(each) => Working::Specific {
                    each,
                    count: layer.quantity.unwrap_or(Decimal::ZERO),
                    exact: layer.exact.clone(),
                },
            };
            let of = line.label.as_str().into();
            charges.push(Charge {
                kind: Arc::new(kind),
                on: On { object: Object::TariffLine(at, index), set: line.set },
                scope: Scope { kind: ScopeKind::TariffLine, of, set: line.set },
                booked: Arc::new(Booked {
                    amount: layer.amount,
                    book,
                    exchange,
                    parts: Vec::new(),
                    working,
                }),
                by: None,
            });
        }
    }
    Ok(charges)
}
