//! Shares of stocks that were planned, shipment by shipment.
//!
//! A plan may leave part of its share, so it stands for every share from its take to the whole share. The
//! next share tried is one box below the take. Down to the share with no load, these plans cover every
//! share.

use rayon::prelude::*;

use super::cheapest::{Costed, estimate};
use super::stocks::{StockPool, taken};
use crate::fault::{Report, Reported};
use crate::load::{Effort, Misfit};
use crate::quantity::{Decimal, Money, Units};
use crate::trade::{Shipment, Tariffs};

/// How many shares are planned for shipments that are linked, before the rest is left open.
const MOST_ESTIMATES: usize = 256;

/// The data common to all shares.
pub(super) struct Planner<'a> {
    pub(super) shipments: &'a [&'a Shipment],
    pub(super) tariffs: &'a Tariffs,
    pub(super) effort: Effort,
    pub(super) units: Units,
    pub(super) stocks: &'a [StockPool],
}

/// So many boxes, at most, of each stock that a shipment names, in the shipment's own order.
struct Share {
    shipment: usize,
    most: Vec<u32>,
    /// What no load within it goes below, as far as is known before it is planned.
    bound: Option<Money>,
}

/// The plan for a share. It stands for every share from its take to the whole share.
pub(super) struct Planned {
    most: Vec<u32>,
    pub(super) taken: Vec<u32>,
    pub(super) costed: Costed,
    pub(super) report: Report,
}

impl Planned {
    /// Its cost, with the price of its broken wishes.
    pub(super) fn worth(&self) -> Decimal {
        self.costed.worth().sum()
    }

    /// The boxes, what they cause and the broken wishes of no load within its share come to less.
    pub(super) fn bound(&self) -> Option<Money> {
        let plan = &self.costed.plan;
        plan.lower_bound?.plus(plan.caused).ok()
    }
}

/// What was tried for one shipment.
#[derive(Default)]
pub(super) struct Tried {
    /// The plans; the first has every stock to itself.
    pub(super) planned: Vec<Planned>,
    /// Shares with which it was not loaded.
    refused: Vec<Vec<u32>>,
    /// Shares of which it is not known whether a load exists: the bound of each, and why.
    pub(super) open: Vec<(Option<Money>, String)>,
}

impl Tried {
    /// Whether a share needs no plan of its own.
    fn knows(&self, most: &[u32]) -> bool {
        let planned = |one: &Planned| holds(most, &one.taken) && holds(&one.most, most);
        self.planned.iter().any(planned) || self.refused.iter().any(|more| holds(more, most))
    }
}

/// All of every stock that a shipment names.
fn whole(shipment: &Shipment) -> Vec<u32> {
    let load = &shipment.load;
    load.shared.iter().filter_map(|one| load.counted(one)).map(|one| one.count).collect()
}

/// Whether one share has all that another has.
fn holds(one: &[u32], other: &[u32]) -> bool {
    one.iter().zip(other).all(|(one, other)| one >= other)
}

/// A share that was planned: a load, or why there is none, or faults in the report.
type Estimate = (Result<Result<Costed, Vec<Misfit>>, Reported>, Report);

impl Planner<'_> {
    /// Each shipment with every stock to itself, or those that cannot be loaded even so.
    #[expect(clippy::type_complexity, reason = "a refusal is the shipment and its reasons")]
    pub(super) fn each_alone(
        &self,
        report: &mut Report,
    ) -> Result<Result<Vec<Tried>, Vec<(usize, Vec<Misfit>)>>, Reported> {
        let all = self.shipments.iter().enumerate();
        let asked = all.map(|(at, own)| Share { shipment: at, most: whole(own), bound: None });
        let asked: Vec<Share> = asked.collect();
        let (mut tried, mut unfit, mut sound) = (Vec::new(), Vec::new(), Ok(()));
        for (share, (outcome, own)) in asked.iter().zip(self.estimates(&asked)) {
            match outcome {
                Ok(Ok(costed)) => {
                    let planned = vec![self.planned(share, costed, own)];
                    tried.push(Tried { planned, ..Tried::default() });
                    continue;
                }
                Ok(Err(misfits)) => unfit.push((share.shipment, misfits)),
                Err(reported) => sound = Err(reported),
            }
            report.absorb(own);
        }
        sound.map(|()| if unfit.is_empty() { Ok(tried) } else { Err(unfit) })
    }

    /// Plans shares, side by side.
    fn estimates(&self, shares: &[Share]) -> Vec<Estimate> {
        let one = |share: &Share| {
            let mut report = Report::in_units(self.units);
            let shipment = self.shipments.get(share.shipment)?;
            let mut of = |own: &Shipment| estimate(own, self.tariffs, self.effort, &mut report);
            let costed = if share.most == whole(shipment) {
                of(shipment)
            } else {
                let load = shipment.load.with_shares(&share.most);
                of(&Shipment { load, ..(*shipment).clone() })
            };
            Some((costed, report))
        };
        shares.par_iter().filter_map(one).collect()
    }

    fn planned(&self, share: &Share, costed: Costed, report: Report) -> Planned {
        let load = self.shipments.get(share.shipment).map(|own| &own.load);
        let stocks = load.into_iter().flat_map(|load| {
            load.shared.iter().filter_map(|one| load.counted(one)).map(|one| one.of)
        });
        let taken = stocks.map(|of| taken(&costed.plan, of)).collect();
        Planned { most: share.most.clone(), taken, costed, report }
    }

    /// Plans, for each of these, every share of the stocks that it could have.
    pub(super) fn explore(
        &self,
        shipments: &[usize],
        tried: &mut [Tried],
        report: &mut Report,
    ) -> Result<(), Reported> {
        let mut next: Vec<Share> = Vec::new();
        for shipment in shipments {
            let first = tried.get(*shipment).and_then(|known| known.planned.first());
            next.extend(first.into_iter().flat_map(|first| self.fewer(*shipment, first)));
        }
        let mut left = MOST_ESTIMATES;
        while !next.is_empty() {
            for share in next.split_off(next.len().min(left)) {
                let why = "there are too many ways to share the boxes out".to_owned();
                if let Some(known) = tried.get_mut(share.shipment) {
                    known.open.push((share.bound, why));
                }
            }
            left -= next.len();
            let mut after: Vec<Share> = Vec::new();
            for (share, (outcome, own)) in next.iter().zip(self.estimates(&next)) {
                let Some(known) = tried.get_mut(share.shipment) else { continue };
                match outcome {
                    Ok(Ok(costed)) => {
                        let planned = self.planned(share, costed, own);
                        after.extend(self.fewer(share.shipment, &planned));
                        known.planned.push(planned);
                    }
                    Ok(Err(misfits)) => {
                        if !Misfit::prove(&misfits) {
                            let name = self.shipments.get(share.shipment).map(|own| &own.name);
                            let name = name.map_or("", String::as_str);
                            let why = format!("no load of {name} was found with fewer boxes");
                            known.open.push((share.bound, why));
                        }
                        known.refused.push(share.most.clone());
                    }
                    Err(reported) => {
                        report.absorb(own);
                        return Err(reported);
                    }
                }
            }
            next.clear();
            for share in after {
                let is_asked =
                    |other: &Share| other.shipment == share.shipment && other.most == share.most;
                let known = tried.get(share.shipment);
                let is_known = known.is_some_and(|known| known.knows(&share.most));
                if !is_known && !next.iter().any(is_asked) {
                    next.push(share);
                }
            }
        }
        Ok(())
    }

    /// The shares to ask for once a plan is known: of each stock one box less than it takes. A load
    /// that is given is as it is.
    fn fewer(&self, shipment: usize, planned: &Planned) -> Vec<Share> {
        let Some(own) = self.shipments.get(shipment).filter(|own| own.boxes.is_empty()) else {
            return Vec::new();
        };
        let fewer = planned.taken.iter().zip(&own.load.shared).enumerate();
        let fewer = fewer.filter_map(|(at, (taken, stock))| {
            let share = taken.checked_sub(1)?;
            // Nothing is loaded in no container at all.
            if share == 0 && stock.row.is_none() {
                return None;
            }
            let mut most = planned.most.clone();
            *most.get_mut(at)? = share;
            Some(Share { shipment, most, bound: planned.bound() })
        });
        fewer.collect()
    }
}
