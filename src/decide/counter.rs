//! The counter price: the highest goods price at which an offer is not dearer than another, or than a target.
//!
//! Decided on 2026-11-27. Every price that is tried is costed whole, its load and its forwarder chosen again.
//! The order is judged on exact fractions of money over area; equal is not dearer. The answer is the highest
//! price below which every step down to half the quoted price holds. All steps are costed for that, but where
//! no cost can fall as the price rises (`rises`): there a search by halves finds the same. Where it can fall by
//! cents alone, the search goes by halves to where cents may decide, and step by step from there. A load that
//! hangs on no price is searched for once for all steps.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::carry::{first_fault, served};
use super::compare::{Asked, Comparison, Group, NoRank};
use super::footing::{Footing, PerArea, Surface};
use super::lever::{Grid, priced};
use super::offer::unfit;
use super::part::{Like, Part, parts};
use super::rises::{Course, course, slack};
use crate::charges::Choice;
use crate::choose::{Costed, Held, Ready, UnderLeast, Worth, chosen, estimate_again};
use crate::fault::Report;
use crate::load::{Effort, Known, Sure, Verdict};
use crate::quantity::{Area, Decimal, Exact, Money, Percent, Price, PricedBy, Units};
use crate::trade::{ChargeRow, Shipment, Tariffs};

/// An offer whose price is looked for.
#[derive(Clone, Copy)]
pub struct Bid<'a> {
    /// The offer as it is written.
    pub shipment: &'a Shipment,
    /// The rates.
    pub tariffs: &'a Tariffs,
    /// Whether what has lapsed serves on.
    pub carry: bool,
    /// The work that a load may take.
    pub effort: Effort,
    /// The loads that were searched for: what hangs on no price is searched for once.
    pub known: &'a Known,
    /// The units of sentences.
    pub units: Units,
    /// How offers are compared.
    pub asked: Asked<'a>,
    /// On which area.
    pub footing: Footing,
}

/// Like goods of an offer and of what it is held against.
#[derive(Debug, Clone)]
pub struct Meeting {
    /// The goods.
    pub goods: Like,
    /// What a unit of area of the other costs; `None` where there is no other.
    pub other: Option<PerArea>,
    /// Whether they are all of the offer.
    pub is_whole: bool,
}

/// Why two offers do not meet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoMeeting {
    /// The lines are of several goods, and each has a cost of its own.
    Several(Vec<Like>),
    /// The other has no such goods.
    Unlike(Like),
    /// One of them has no rank.
    NoRank(String, NoRank),
}

/// A price that was costed.
#[derive(Debug, Clone)]
pub struct Trial {
    /// The prices of the lines that move, by position.
    pub prices: Vec<(usize, Price)>,
    /// The percentage of the quoted prices, where that is what moves.
    pub percent: Option<Percent>,
    /// What the offer comes to, or why it cannot be had so.
    pub outcome: Result<Cost, String>,
}

/// What an offer comes to at a price.
#[derive(Debug, Clone)]
pub struct Cost {
    /// What it is judged by: cost with finance per area of the footing, exact.
    pub per_area: PerArea,
    /// The landed cost of the goods that are compared.
    pub landed: Money,
    /// The same with finance.
    pub decision: Money,
    /// How sure it is that no load costs less.
    pub sure: Sure,
    /// The offers that serve: where they change, the line of costs has a kink.
    pub choice: Choice,
    /// What cents may move it by ([`slack`]), over the same area.
    slack: PerArea,
    /// Whether its choice of offers leads the others by more than twice that.
    leads: bool,
}

/// How the steps were searched.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Search {
    /// Every step up to the answer was costed.
    EveryStep,
    /// By halves.
    Halves,
    /// By halves to where cents may decide, then every step.
    HalvesThenSteps,
}

/// What was found.
#[derive(Debug)]
pub struct Countered {
    /// The offer as quoted, without what was made out for its bill.
    pub quoted: Trial,
    /// The highest price that is not dearer; `None`: there is none down to half of what is quoted.
    pub answer: Option<Trial>,
    /// One step above the answer; `None` at the end of what is tried, and where there is no answer.
    pub above: Option<Trial>,
    /// The lowest price, half of what is quoted.
    pub half: Trial,
    /// How the steps were searched.
    pub search: Search,
    /// How many prices were costed.
    pub costed: usize,
    /// What of the old bill was left out: of which invoice or line, by which key.
    pub left_out: Vec<(String, &'static str)>,
}

/// Finds the goods of the moved lines in a comparison of the offer, its first, with at most one other.
///
/// # Errors
/// Why they do not meet.
pub fn meet(comparison: &Comparison, moved: &[usize]) -> Result<Meeting, NoMeeting> {
    let own = |group: &&Group| group.entries.iter().any(|entry| entry.offer == 0);
    let holds = |group: &Group| {
        let mut lines = group.entries.iter().filter(|entry| entry.offer == 0);
        lines.any(|entry| entry.part.lines.iter().any(|line| moved.contains(line)))
    };
    let all: Vec<&Group> = comparison.groups.iter().filter(own).collect();
    let met: Vec<&Group> = all.iter().copied().filter(|group| holds(group)).collect();
    let [group] = met[..] else {
        let goods = met.iter().map(|group| group.goods.clone());
        return Err(NoMeeting::Several(goods.collect()));
    };
    let stands = |offer: usize| {
        let entry = group.entries.iter().find(|entry| entry.offer == offer)?;
        let name = comparison.offers.get(offer)?.name.clone();
        Some(match &entry.standing {
            Ok(standing) => Ok(standing.per_area.clone()),
            Err(why) => Err(NoMeeting::NoRank(name, why.clone())),
        })
    };
    stands(0).transpose()?;
    let other = stands(1).transpose()?;
    if comparison.offers.len() > 1 && other.is_none() {
        return Err(NoMeeting::Unlike(group.goods.clone()));
    }
    Ok(Meeting { goods: group.goods.clone(), other, is_whole: all.len() == 1 })
}

/// Finds the counter price, of the prices that are tried.
pub fn counter(bid: &Bid<'_>, grid: &Grid, meeting: &Meeting, goal: &PerArea) -> Option<Countered> {
    let try_at = |step: i64| -> Option<Trial> {
        let prices = grid.at(step)?;
        Some(bid.costed(&meeting.goods, prices, grid.percent(step)))
    };
    let holds = |trial: &Trial, goal: &PerArea| {
        trial.outcome.as_ref().is_ok_and(|cost| cost.per_area <= *goal)
    };
    let lowest = try_at(grid.first)?;
    let cost = lowest.outcome.as_ref().ok();
    // What is held by so much holds at every price below.
    let (search, surely) = match course(bid.shipment, bid.tariffs, meeting.is_whole) {
        Course::Rises => (Search::Halves, Some(goal.clone())),
        Course::RisesBut => match cost.filter(|cost| cost.leads) {
            Some(cost) => (Search::HalvesThenSteps, goal.above(&cost.slack)),
            None => (Search::EveryStep, None),
        },
        Course::Open => (Search::EveryStep, None),
    };
    let mut best = holds(&lowest, goal).then_some(grid.first);
    let surely = surely.filter(|surely| holds(&lowest, surely));
    let mut tried: BTreeMap<i64, Trial> = BTreeMap::new();
    tried.insert(grid.first, lowest);
    let mut costed = 1;
    if let Some(surely) = surely {
        let (mut low, mut high) = (grid.first, grid.last + 1);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            let trial = try_at(middle)?;
            costed += 1;
            if holds(&trial, &surely) {
                low = middle;
            } else {
                high = middle;
            }
            tried.insert(middle, trial);
        }
        best = Some(low);
    }
    if let Some(first) = best.filter(|_| search != Search::Halves) {
        // A few at a time, in their order, up to the first that is dearer.
        let many = i64::try_from(rayon::current_num_threads().saturating_mul(8)).ok()?;
        let mut next = first + 1;
        'all: while next <= grid.last {
            let end = grid.last.min(next + many - 1);
            let some: Vec<i64> = (next..=end).collect();
            let trials = some.par_iter().map(|step| try_at(*step)).collect::<Option<Vec<_>>>()?;
            costed += trials.len();
            for (step, trial) in some.into_iter().zip(trials) {
                let is_held = holds(&trial, goal);
                tried.insert(step, trial);
                if !is_held {
                    break 'all;
                }
                if let Some(last) = best.replace(step).filter(|last| *last != grid.first) {
                    tried.remove(&last);
                }
            }
            next = end + 1;
        }
    }
    let quoted = bid.costed(&meeting.goods, grid.quoted.clone(), grid.percent_of_quoted());
    let above = best.and_then(|step| tried.get(&(step + 1)).cloned());
    let answer = best.and_then(|step| tried.get(&step).cloned());
    let half = tried.get(&grid.first)?.clone();
    let moved: Vec<usize> = grid.quoted.iter().map(|(at, _)| *at).collect();
    let left_out = bid.shipment.clone().leave_out_bills(&moved);
    Some(Countered { quoted, answer, above, half, search, costed: costed + 1, left_out })
}

impl Bid<'_> {
    /// Costs the offer at other prices.
    fn costed(&self, goods: &Like, prices: Vec<(usize, Price)>, percent: Option<Percent>) -> Trial {
        let other = priced(self.shipment, &prices);
        let outcome = self.cost(Some(goods), &other);
        Trial { prices, percent, outcome }
    }

    /// The load of a shipment in the offer's place, and what it comes to.
    pub(super) fn held(&self, shipment: &Shipment) -> Result<(Held, Worth), String> {
        let mut report = Report::in_units(self.units);
        let of = (shipment, self.tariffs);
        let tried = served(of, self.carry, &mut report, |shipment, tariffs, report| {
            let tried = chosen(shipment, tariffs, (self.effort, self.known), report)?;
            if let Ok(chosen) = &tried {
                chosen.allowed()?;
            }
            Ok(tried)
        });
        let tried = tried.map_err(|_| first_fault(&report))?;
        let chosen = tried.made.map_err(|misfits| unfit(shipment, &misfits))?;
        can_be_had(&chosen.verdict, &chosen.under_least)?;
        let worth = chosen.worth;
        Ok((Held::of(chosen), worth))
    }

    /// A load that is held, ready to be costed at figures of other tables: `is_still` says which rows nothing moves.
    pub(super) fn ready(
        &self,
        load: &Held,
        tariffs: &Tariffs,
        is_still: &dyn Fn(&ChargeRow) -> bool,
    ) -> Result<Ready, String> {
        let mut report = Report::in_units(self.units);
        let ready = load.ready((self.shipment, tariffs), is_still, &mut report);
        ready.map_err(|_| first_fault(&report))
    }

    /// What a changed shipment comes to in a load that is held.
    pub(super) fn worth(
        &self,
        (load, ready): &(&Held, Ready),
        of: (&Shipment, &Tariffs),
    ) -> Result<Worth, String> {
        let mut report = Report::in_units(self.units);
        let worth = served(of, self.carry, &mut report, |shipment, tariffs, report| {
            let is_as_read = std::ptr::eq(tariffs, of.1);
            load.worth((shipment, tariffs), (ready, is_as_read), report)
        });
        worth.map(|served| served.made).map_err(|_| first_fault(&report))
    }

    /// A shipment in the offer's place, costed, where it can be had so.
    pub(super) fn estimated(&self, shipment: &Shipment) -> Result<Costed, String> {
        let costed = self.costed_as_given(shipment)?;
        can_be_had(&costed.verdict, &costed.under_least)?;
        Ok(costed)
    }

    /// The same, whether least orders are reached or not.
    pub(super) fn loaded(&self, shipment: &Shipment) -> Result<Costed, String> {
        let costed = self.costed_as_given(shipment)?;
        can_be_had(&costed.verdict, &[])?;
        Ok(costed)
    }

    /// The same, whether limits and least orders are kept or not.
    pub(super) fn costed_as_given(&self, shipment: &Shipment) -> Result<Costed, String> {
        let mut report = Report::in_units(self.units);
        let of = (shipment, self.tariffs);
        let tried = served(of, self.carry, &mut report, |shipment, tariffs, report| {
            estimate_again(shipment, tariffs, (self.effort, self.known), report)
        });
        let tried = tried.map_err(|_| first_fault(&report))?;
        tried.made.map_err(|misfits| unfit(shipment, &misfits))
    }

    /// What a shipment comes to in the offer's place: some goods of it, or all.
    pub(super) fn cost(&self, goods: Option<&Like>, shipment: &Shipment) -> Result<Cost, String> {
        self.cost_of(goods, shipment, &self.estimated(shipment)?)
    }

    /// The same of one that was costed.
    pub(super) fn cost_of(
        &self,
        goods: Option<&Like>,
        shipment: &Shipment,
        costed: &Costed,
    ) -> Result<Cost, String> {
        let figures = || {
            let own = parts(shipment, Some(costed), &self.asked.allowances)?.into_iter();
            let is_alike = |part: &Part| {
                let is_of = |goods: &Like| {
                    part.goods.first().is_some_and(|own| self.asked.across.seen(own) == *goods)
                };
                goods.is_none_or(is_of)
            };
            let mut own = own.filter(is_alike);
            let first = own.next()?;
            let part = own.try_fold(first, |sum, part| sum.plus(&part))?;
            let slack = slack(shipment.slabs.len(), costed.landed.currency)?;
            let twice = slack.amount().checked_mul(Decimal::TWO)?;
            let next = costed.others.first().map(|other| other.worth.sum());
            let lead = next.map(|next| next.checked_sub(costed.worth().sum()));
            let leads = lead.is_none_or(|lead| lead.is_some_and(|lead| lead > twice));
            let slack = part.per(slack, self.footing)?;
            Some((part.per_area(self.footing)?, slack, leads, part.sums?))
        };
        let (per_area, slack, leads, sums) =
            figures().ok_or_else(|| "a figure is too large to be held".to_owned())?;
        Ok(Cost {
            per_area,
            landed: sums.landed,
            decision: sums.decision,
            sure: costed.verdict.sure.clone(),
            choice: costed.choice.clone(),
            slack,
            leads,
        })
    }
}

/// Whether a load can be had so.
///
/// # Errors
/// The limit that it breaks, or the least order that it is under.
fn can_be_had(verdict: &Verdict, under_least: &[UnderLeast]) -> Result<(), String> {
    if !verdict.keeps_limits() {
        return Err(verdict.told().into_iter().next().unwrap_or_default());
    }
    under_least.first().map_or(Ok(()), |under| Err(under.what.clone()))
}

/// A target, a price for a square metre or a square foot, as what offers are judged by; `None` for another.
pub fn target(price: &Price) -> Option<PerArea> {
    let units = match price.by {
        PricedBy::M2 => Units::Metric,
        PricedBy::Ft2 => Units::Us,
        _ => return None,
    };
    PerArea::of(&Exact::new(price.amount, price.currency), &Surface::from(Area::square(units)))
}
