//! `quaystone load`: which bundle in which box, and where.

use super::job::{Exit, Options};
use crate::load::{Effort, Proof, breaches, place, summary};
use crate::show;

/// Arguments of `load`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path
    shipment: String,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_costed(&args.shipment, |shipment, mut costed, _| {
        let mut exit = Exit::Done;
        if costed.plan.proof == Proof::Given {
            exit = judge(&mut costed.plan, shipment);
        }
        let plan = &costed.plan;
        let summaries = plan.boxes.iter().map(|filled| summary(plan, filled, &shipment.bundles));
        let summaries = match summaries.collect::<Result<Vec<_>, _>>() {
            Ok(summaries) => summaries,
            Err(overflow) => {
                Options::say(&format!("error: {overflow}"));
                return Exit::BadData;
            }
        };
        let page = show::loaded(shipment, plan, &summaries, options.units());
        match options.put(page, &|out| show::json::load(shipment, plan, &summaries, out)) {
            Exit::Done => exit,
            other => other,
        }
    })
}

/// Works out places for a given load, and says where it breaks a limit or its floor does not hold.
fn judge(plan: &mut crate::load::Plan, shipment: &crate::trade::Shipment) -> Exit {
    let mut exit = Exit::Done;
    if !breaches(plan, &shipment.bundles).is_empty() {
        exit = Exit::No;
    }
    for index in 0..plan.boxes.len() {
        let Some(filled) = plan.boxes.get(index) else {
            continue;
        };
        let Some(variant) = plan.variant(filled) else {
            continue;
        };
        match place(filled, &shipment.bundles, variant, Effort::default()) {
            Ok(spots) => {
                if let Some(filled) = plan.boxes.get_mut(index) {
                    filled.spots = Some(spots);
                }
            }
            Err(reason) => {
                Options::say(&format!("box {}: no places found: {reason}", filled.label));
                exit = Exit::No;
            }
        }
    }
    exit
}
