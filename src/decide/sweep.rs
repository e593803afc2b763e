//! A seeded sweep: what offers cost where rates and prices are drawn from ranges.
//!
//! Decided on 2026-11-27. A draw sets levers on what was read and has every charge worked out: totals alone, no
//! slab is spread. In a draw the cheapest serves of the loads that were planned as offered and at both ends of
//! each range. Some draws are planned anew beside that, to say how much is lost by it.

use rayon::prelude::*;

use super::change::{Change, changed};
use super::counter::Bid;
use super::drawn::{Drawn, Moved};
use super::footing::{PerArea, Surface};
use super::sample::{drawn, triangular};
use crate::choose::{Held, Worth};
use crate::quantity::{Decimal, Exact, Money};

/// A range that is drawn from.
#[derive(Debug, Clone)]
pub struct Range {
    /// What moves, and its ends, in words.
    pub words: [String; 3],
    /// The likeliest value in words, where it is triangular.
    pub mode: Option<String>,
    /// The one offer that it changes, by position; `None`: all.
    pub offer: Option<usize>,
    /// Both ends.
    pub ends: [Change; 2],
    /// Where its likeliest value stands, from nothing at the lower end to one at the upper.
    pub likeliest: Option<Decimal>,
    /// Its source, by position: ranges of one move together.
    pub source: usize,
}

/// What is drawn.
#[derive(Debug, Clone, Copy)]
pub struct Draws {
    /// How many draws.
    pub count: usize,
    /// The seed.
    pub seed: u64,
}

/// What an offer comes to over the draws.
#[derive(Debug)]
pub struct Swept {
    /// The 10th, 50th and 90th percentile of its cost per area, by nearest rank.
    pub percentiles: [PerArea; 3],
    /// In how many draws it is the cheapest; of equal ones, the first.
    pub wins: usize,
    /// How many loads serve.
    pub loads: usize,
    /// How many draws were planned anew, and how many of them came to the same.
    pub anew: (usize, usize),
    /// The most that planning anew takes off.
    pub most_off: Money,
    /// Its cost per area with each range alone at its lower and its upper end, planned anew.
    pub ends: Vec<[PerArea; 2]>,
}

/// A sweep.
#[derive(Debug)]
pub struct Sweep {
    /// The offers.
    pub offers: Vec<Swept>,
    /// The ranges by the most that one of them moves an offer's cost per area, the most first.
    pub ranked: Vec<usize>,
}

/// Draws that are planned anew as well (a choice of ours).
const ANEW: usize = 100;

/// Sweeps offers, each with the area that its cost is over.
///
/// # Errors
/// Why an offer has no cost somewhere in its ranges.
pub fn sweep(
    offers: &[(Bid<'_>, Surface)],
    ranges: &[Range],
    draws: Draws,
    tell: &(dyn Fn(usize) + Sync),
) -> Result<Sweep, String> {
    let too_large = || "a figure is too large to be held".to_owned();
    let first = offers.iter().map(|(bid, _)| anew(bid, &[]));
    let first: Vec<(Held, Worth)> = first.collect::<Result<_, String>>()?;
    // A sweep asks for the least cost, whatever load has it. Offers that were read together know the same.
    let known = offers.first().map(|(bid, _)| bid.known.at_other_costs()).unwrap_or_default();
    let loads = offers.iter().zip(first).enumerate().map(|(at, ((bid, _), (first, _)))| {
        planned(&Bid { known: &known, ..*bid }, (at, first), ranges)
    });
    let loads: Vec<Loads> = loads.collect::<Result<_, String>>()?;
    let known = known.at_other_costs();
    let first = || ranges.iter().map(|range| &range.ends[0]);
    let own = offers
        .iter()
        .zip(&loads)
        .map(|((bid, _), loads)| Drawn::of(Bid { known: &known, ..*bid }, &loads.held, first()));
    let own: Vec<Drawn<'_>> = own.collect::<Result<_, String>>()?;
    let done = std::sync::atomic::AtomicUsize::new(0);
    let numbers: Vec<u64> = (0..u64::try_from(draws.count).map_err(|_| too_large())?).collect();
    // A copy of each offer for some draws in a row.
    let drafts = || own.iter().map(Drawn::draft).collect::<Vec<_>>();
    let costed = numbers.par_iter().map_init(drafts, |drafts, draw| {
        let places = places(ranges, draws.seed, *draw).ok_or_else(too_large)?;
        let each = own.iter().zip(drafts).enumerate().map(|(at, (offer, draft))| {
            offer.cheapest(draft, &at_places(ranges, at, &places).ok_or_else(too_large)?)
        });
        let each = each.collect::<Result<Vec<Worth>, String>>();
        tell(done.fetch_add(1, std::sync::atomic::Ordering::Relaxed) + 1);
        each
    });
    let costed: Vec<Vec<Worth>> = costed.collect::<Result<_, String>>()?;
    let per = |worth: Worth, at: usize| -> Option<PerArea> {
        let (_, area) = offers.get(at)?;
        let sum = Exact::new(worth.sum(), worth.decision.currency());
        PerArea::of(&sum, area)
    };
    let mut wins = vec![0usize; offers.len()];
    for draw in &costed {
        let all = draw.iter().enumerate().filter_map(|(at, worth)| Some((at, per(*worth, at)?)));
        let least = all.min_by(|(_, one), (_, other)| one.cmp(other));
        if let Some(won) = least.and_then(|(at, _)| wins.get_mut(at)) {
            *won += 1;
        }
    }
    let mut swept = Vec::new();
    for (at, ((bid, _), loads)) in offers.iter().zip(&loads).enumerate() {
        let moved = Moved::of(Bid { known: &known, ..*bid }, first());
        let worths = costed.iter().filter_map(|draw| draw.get(at).copied());
        let mut worths: Vec<Worth> = worths.collect();
        let again = numbers.par_iter().take(ANEW).zip(&worths);
        let again = again.map_init(
            || moved.draft(),
            |draft, (draw, held)| {
                let places = places(ranges, draws.seed, *draw).ok_or_else(too_large)?;
                let changes = at_places(ranges, at, &places).ok_or_else(too_large)?;
                let anew = moved.anew(draft, &changes)?;
                held.decision.minus(anew.decision).map_err(|_| too_large())
            },
        );
        let off: Vec<Money> = again.collect::<Result<_, String>>()?;
        let same = off.iter().filter(|off| off.is_zero()).count();
        let most_off = off.iter().copied().max_by_key(|off| off.amount()).ok_or_else(too_large)?;
        worths.sort_unstable();
        let percentile = |percent: usize| {
            let rank = (worths.len() * percent).div_ceil(100).max(1);
            per(*worths.get(rank - 1)?, at)
        };
        let percentiles = [percentile(10), percentile(50), percentile(90)];
        let [Some(low), Some(middle), Some(high)] = percentiles else { return Err(too_large()) };
        let ends = loads.ends.iter().map(|[low, high]| Some([per(*low, at)?, per(*high, at)?]));
        swept.push(Swept {
            percentiles: [low, middle, high],
            wins: wins.get(at).copied().unwrap_or(0),
            loads: loads.held.len(),
            anew: (off.len(), same),
            most_off,
            ends: ends.collect::<Option<_>>().ok_or_else(too_large)?,
        });
    }
    let swing = |range: usize| {
        let each = swept.iter().filter_map(|one| one.swing(range));
        each.max()
    };
    let mut ranked: Vec<(Option<PerArea>, usize)> =
        (0..ranges.len()).map(|range| (swing(range), range)).collect();
    ranked.sort_by(|(one, _), (other, _)| other.cmp(one));
    Ok(Sweep { offers: swept, ranked: ranked.into_iter().map(|(_, range)| range).collect() })
}

impl Swept {
    /// How much its cost per area moves where a range alone goes from end to end.
    pub fn swing(&self, range: usize) -> Option<PerArea> {
        let [low, high] = self.ends.get(range)?;
        Some(high.above(low)?.size())
    }
}

/// The loads of an offer, and what it comes to at both ends of each range.
struct Loads {
    held: Vec<Held>,
    ends: Vec<[Worth; 2]>,
}

/// The load of an offer as offered, and those at both ends of each range.
fn planned(bid: &Bid<'_>, (at, first): (usize, Held), ranges: &[Range]) -> Result<Loads, String> {
    let is_moved = |range: &Range| range.offer.is_none_or(|offer| offer == at);
    let ends = ranges.par_iter().map(|range| {
        let end = |change: &Change| {
            let changes = if is_moved(range) { vec![change.clone()] } else { Vec::new() };
            anew(bid, &changes)
        };
        let [low, high] = &range.ends;
        Ok([end(low)?, end(high)?])
    });
    let ends: Vec<[(Held, Worth); 2]> = ends.collect::<Result<_, String>>()?;
    let mut held = vec![first];
    for (load, _) in ends.iter().flatten() {
        if !held.iter().any(|known| known.is_same(load)) {
            held.push(load.clone());
        }
    }
    Ok(Loads { held, ends: ends.into_iter().map(|both| both.map(|(_, worth)| worth)).collect() })
}

/// An offer under changes, planned anew.
fn anew(bid: &Bid<'_>, changes: &[Change]) -> Result<(Held, Worth), String> {
    let changes: Vec<&Change> = changes.iter().collect();
    let (shipment, tariffs) =
        changed((bid.shipment, bid.tariffs), &changes, |_| Ok(bid.shipment.clone()))?;
    Bid { tariffs: &tariffs, ..*bid }.held(&shipment)
}

/// Where each range stands in a draw.
fn places(ranges: &[Range], seed: u64, draw: u64) -> Option<Vec<Decimal>> {
    let place = |range: &Range| {
        let number = drawn(seed, draw, u64::try_from(range.source).ok()?);
        range.likeliest.map_or(Some(number), |mode| triangular(number, mode))
    };
    ranges.iter().map(place).collect()
}

/// The changes of an offer where its ranges stand, each with its range by position.
fn at_places(ranges: &[Range], offer: usize, places: &[Decimal]) -> Option<Vec<(usize, Change)>> {
    let own = ranges.iter().zip(places).enumerate();
    let own = own.filter(|(_, (range, _))| range.offer.is_none_or(|own| own == offer));
    own.map(|(at, (range, place))| {
        let [low, high] = &range.ends;
        Some((at, low.between(high, *place)?))
    })
    .collect()
}
