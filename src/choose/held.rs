//! A load that is held while rates and prices move: what it comes to then, its totals alone.

use super::cheapest::{Chosen, ordered};
use super::objective::Worth;
use crate::bill::Sets;
use crate::charges::{Choice, Job, charged};
use crate::fault::{Report, Reported};
use crate::load::{FilledBox, Plan};
use crate::price::{Positions, told};
use crate::trade::{Shipment, Tariffs};

/// A load with its choice of offers, for a shipment whose slabs and days stay.
#[derive(Debug, Clone)]
pub struct Held {
    plan: Plan,
    choice: Choice,
    /// Every set of slabs that its charges ask for.
    sets: Sets,
}

impl Held {
    /// The load of a shipment whose charges were worked out.
    pub fn of(chosen: Chosen) -> Self {
        let Chosen { plan, choice, charged, .. } = chosen;
        Self { plan, choice, sets: charged.sets }
    }

    /// Whether it is the same load: the same bundles in boxes of the same kinds, by the same offers.
    pub fn is_same(&self, other: &Self) -> bool {
        let kind = |plan: &Plan, filled: &FilledBox| {
            let variant = plan.variants.get(filled.variant)?;
            Some((variant.container.id.clone(), variant.class.clone(), variant.offers.clone()))
        };
        let boxes = || self.plan.boxes.iter().zip(&other.plan.boxes);
        self.choice == other.choice
            && self.plan.boxes.len() == other.plan.boxes.len()
            && boxes().all(|(one, two)| {
                one.bundles == two.bundles && kind(&self.plan, one) == kind(&other.plan, two)
            })
    }

    /// The order of its charges by some tables.
    ///
    /// # Errors
    /// Where some wait for each other.
    pub fn order(
        &self,
        shipment: &Shipment,
        tariffs: &Tariffs,
        report: &mut Report,
    ) -> Result<Positions, Reported> {
        let order = told(ordered(shipment, tariffs, &self.choice), report)?;
        report.found(order.positions(tariffs), "the rows of charges")
    }

    /// What the shipment comes to with it at other rates and prices, its charges in their order. No slab is
    /// spread.
    ///
    /// # Errors
    /// If the data is at fault.
    pub fn worth(
        &self,
        (shipment, tariffs): (&Shipment, &Tariffs),
        order: &Positions,
        report: &mut Report,
    ) -> Result<Worth, Reported> {
        let job = Job { shipment, tariffs, plan: &self.plan, choice: &self.choice };
        let charged = charged(job, &order.on(tariffs), self.sets.clone(), report)?;
        let decision = charged.decision(shipment.yard.currency);
        let decision = report.fits(decision, &shipment.packing_file)?;
        Ok(Worth { decision, wishes: self.plan.wishes })
    }
}
