//! Offers are choices: every combination is costed, and the cheapest serves unless one is pinned.

use super::job::{Choice, Job};
use super::landed::{Landed, landed};
use super::pick::may_apply;
use super::variants::variants;
use crate::fault::{Code, Fault, Report};
use crate::load::{self, Effort, Misfit, Plan};
use crate::quantity::Money;
use crate::trade::{Shipment, TableName, Tariffs};

/// A shipment costed at its cheapest choice of offers.
#[derive(Debug)]
pub struct Costed {
    /// The load.
    pub plan: Plan,
    /// The landed cost.
    pub landed: Landed,
    /// The offers it rests on.
    pub choice: Choice,
    /// The other choices that would serve, with their totals.
    pub others: Vec<(Choice, Money)>,
}

/// Costs a shipment. `None`: the faults are in the report. `Some(Err)`: the data is good, and some
/// bundles fit in no box.
pub fn estimate(
    shipment: &Shipment,
    tariffs: &Tariffs,
    effort: Effort,
    report: &mut Report,
) -> Option<Result<Costed, Vec<Misfit>>> {
    let choices = choices(shipment, tariffs, report)?;
    let mut best: Option<(Choice, Plan, Landed, Report)> = None;
    let mut others = Vec::new();
    let mut failed: Option<Report> = None;
    let mut misfits = None;
    for choice in choices {
        let mut scratch = Report::new();
        match one(shipment, tariffs, &choice, effort, &mut scratch) {
            Some(Ok((plan, landed))) => {
                let total = landed.total.amount();
                if best.as_ref().is_none_or(|(_, _, best, _)| total < best.total.amount()) {
                    if let Some((choice, _, landed, _)) = best.take() {
                        others.push((choice, landed.total));
                    }
                    best = Some((choice, plan, landed, scratch));
                } else {
                    others.push((choice, landed.total));
                }
            }
            Some(Err(unfit)) => misfits = misfits.or(Some(unfit)),
            None => failed = failed.or(Some(scratch)),
        }
    }
    if let Some((choice, plan, landed, notices)) = best {
        report.absorb(notices);
        return Some(Ok(Costed { plan, landed, choice, others }));
    }
    if let Some(unfit) = misfits {
        return Some(Err(unfit));
    }
    if let Some(faults) = failed {
        report.absorb(faults);
    }
    None
}

fn one(
    shipment: &Shipment,
    tariffs: &Tariffs,
    choice: &Choice,
    effort: Effort,
    report: &mut Report,
) -> Option<Result<(Plan, Landed), Vec<Misfit>>> {
    let variants = variants(shipment, tariffs, choice, report)?;
    let planned = if shipment.boxes.is_empty() {
        load::plan(&shipment.bundles, &variants, shipment.yard.lift, effort)
    } else {
        load::given(&shipment.bundles, &shipment.boxes, &variants, report)
    };
    let plan = match planned {
        Ok(plan) => plan,
        Err(misfits) => return Some(Err(misfits)),
    };
    let landed = landed(Job { shipment, tariffs, plan: &plan, choice }, report)?;
    Some(Ok((plan, landed)))
}

/// Every choice of one offer per table, in file order; pins leave no choice.
fn choices(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) -> Option<Vec<Choice>> {
    let mut all = vec![Choice::default()];
    for (table, word) in TableName::ALL {
        let mut offers: Vec<&str> = Vec::new();
        for row in tariffs.charges.iter().filter(|row| row.table == table) {
            if let Some(offer) = row.offer.as_deref()
                && may_apply(shipment, row)
                && !offers.contains(&offer)
            {
                offers.push(offer);
            }
        }
        if let Some(pin) = shipment.pin(table) {
            if !offers.contains(&pin.value.as_str()) {
                report.add(
                    Fault::error(
                        Code::UnknownReference,
                        format!(
                            "rates/{word}.toml has no offer \"{}\" for this shipment",
                            pin.value
                        ),
                    )
                    .at(&pin.place, "pinned here")
                    .help(format!("offers that would serve: {}", offers.join(", "))),
                );
                return None;
            }
            offers = vec![pin.value.as_str()];
        }
        if offers.is_empty() {
            continue;
        }
        all = all
            .iter()
            .flat_map(|choice| offers.iter().map(|offer| choice.with(table, offer)))
            .collect();
    }
    Some(all)
}
