//! A load that is held while rates and prices move: what it comes to then, its totals alone.

use super::cheapest::{Chosen, ordered};
use super::objective::Worth;
use crate::bill::Sets;
use crate::charges::{Choice, Job, Schedule, decision};
use crate::fault::{Report, Reported};
use crate::load::{FilledBox, Plan};
use crate::price::{Positions, told};
use crate::trade::{ChargeRow, Shipment, Tariffs};

/// A load with its choice of offers, for a shipment whose slabs and days stay.
#[derive(Debug, Clone)]
pub struct Held {
    plan: Plan,
    choice: Choice,
    /// Every set of slabs that its charges ask for.
    sets: Sets,
}

/// A load that is ready to be costed at many figures: the order of its charges, and what is known of their rows.
#[derive(Debug)]
pub struct Ready {
    positions: Positions,
    schedule: Schedule,
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

    /// The order of its charges by some tables, to be costed at other figures of them. `is_still` says of a row whether
    /// nothing moves its figures.
    ///
    /// # Errors
    /// Where some wait for each other.
    pub fn ready(
        &self,
        (shipment, tariffs): (&Shipment, &Tariffs),
        is_still: &dyn Fn(&ChargeRow) -> bool,
        report: &mut Report,
    ) -> Result<Ready, Reported> {
        let order = told(ordered(shipment, tariffs, &self.choice), report)?;
        let positions = report.found(order.positions(tariffs), "the rows of charges")?;
        Ok(Ready { positions, schedule: Schedule::of(&order, &self.sets, is_still) })
    }

    /// What the shipment comes to with it at other rates and prices, its charges in their order. No slab is
    /// spread. `is_as_read`: no row serves on after its day, so that what is known of the rows serves.
    ///
    /// # Errors
    /// If the data is at fault.
    pub fn worth(
        &self,
        (shipment, tariffs): (&Shipment, &Tariffs),
        (ready, is_as_read): (&Ready, bool),
        report: &mut Report,
    ) -> Result<Worth, Reported> {
        let job = Job { shipment, tariffs, plan: &self.plan, choice: &self.choice };
        let known = (self.sets.clone(), is_as_read.then_some(&ready.schedule));
        let decision = decision(job, &ready.positions.on(tariffs), known, report)?;
        Ok(Worth { decision, wishes: self.plan.wishes })
    }
}
