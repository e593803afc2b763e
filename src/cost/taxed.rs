//! The base of an import tax: value, duty, and the legs that the regime adds.

use super::charge::{Charge, Customs};
use super::customs::{Entry, EntryLine, regime};
use super::job::Job;
use super::sets::Sets;
use super::spreader::Spreader;
use super::values::customs_rate;
use crate::fault::Report;
use crate::quantity::{Exact, Money};
use crate::trade::{Leg, Treatment};

/// The base of an import tax on lines of an entry: their entered values and duties, and the legs
/// that the regime adds, in the amounts and at the customs rates of the entry.
pub(super) fn taxed_value(
    job: &Job<'_>,
    entry: &Entry,
    lines: &[&EntryLine],
    charges: &[Charge],
    sets: &Sets,
    spreader: &mut Spreader<'_>,
    report: &mut Report,
) -> Option<Money> {
    let regime = regime(job, entry.entered_on, report)?;
    let mut base = Exact::zero(entry.currency);
    for line in lines {
        let duties = line.layers.iter().map(|layer| layer.amount);
        for money in duties.chain([line.entered]) {
            base = base.plus(&Exact::from(money)).ok()?;
        }
        // What came out of the price for the duty belongs to the tax all the same.
        let out = line.parts.iter().filter(|part| part.amount.is_negative());
        for part in out.filter(|part| entry.tax_adds.contains(&part.leg)) {
            base = base.minus(&part.converted()?).ok()?;
        }
    }
    let apart = |charge: &&Charge| {
        charge.treatment == Treatment::Stock
            && charge.customs == Customs::Out
            && charge.leg != Leg::DutyAndTax
            && entry.tax_adds.contains(&charge.leg)
            && !lines.iter().any(|line| {
                line.parts.iter().any(|part| part.leg == charge.leg && !part.amount.is_negative())
            })
    };
    for charge in charges.iter().filter(apart) {
        let weights = spreader.weights(charge, sets, report)?;
        let mut part: u128 = 0;
        for (position, slab) in sets.members(charge.scope.set).enumerate() {
            if lines.iter().any(|line| sets.position(line.set, slab).is_some()) {
                part = part.checked_add(weights.at(position))?;
            }
        }
        let amount = Exact::from(charge.amount()).weighed(part, weights.total());
        let place = charge.sources.first()?;
        let rate = customs_rate(job, (regime, entry.entered_on), amount.currency(), place, report)?;
        let amount = rate.map_or(Some(amount.clone()), |rate| amount.converted(&rate.quote))?;
        base = base.plus(&amount).ok()?;
    }
    base.round().ok()
}
