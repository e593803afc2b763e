//! What else to take of a supplier's list: the bundles that bring the cost with finance per area lowest, or
//! the most area, in the boxes that are had.
//!
//! Decided on 2026-11-27. A ratio is lowered by Dinkelbach's method (1967, from memory): where the best ratio
//! known is c over a, a purchase is better if and only if what its area is worth at that ratio exceeds its cost.
//! So each step asks a knapsack (`fill`) for the choice that exceeds it most, by a cost that none goes below
//! (`marginal`), and costs that one whole, load and all. It ends where no choice can exceed it. Of alike bundles the
//! first are chosen, so that a choice which was refuted is not tried again with others like them.
//!
//! What a unit adds is measured once, on a full purchase: goods and duty, and what is counted by area, mass or
//! bundle, grow by the same whatever else is taken. A fee with a least or a most bends that. So each purchase
//! that is costed is held against it, and where one comes to less, nothing is said to be proven.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::counter::Bid;
use super::fill::{Filled, fill};
use super::footing::{PerArea, Surface};
use super::marginal::{Marginal, beside};
use super::on_offer::{
    List, Loaded, Purchase, TOO_LARGE, Within, areas, minor, missing, pinned, tiny, with_boxes,
};
use super::units::{alike, units};
use crate::quantity::{Exact, Money};
use crate::trade::Offered;

/// What is asked of the choice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aim {
    /// The lowest cost with finance per area.
    Cost,
    /// The most area.
    Area,
}

/// Bundles that are chosen or left together.
#[derive(Debug, Clone)]
pub struct Choice {
    /// By position on the list.
    pub bundles: Vec<usize>,
    /// Whether they are chosen.
    pub is_chosen: bool,
    /// Their area.
    pub area: Surface,
    /// What they add to the cost with finance. Of those chosen: what the purchase costs more than without them,
    /// in the same boxes. Of the others: what they would add beside their box.
    pub more: Money,
    /// What of it are goods.
    pub goods: Money,
}

/// What was chosen.
#[derive(Debug)]
pub struct Topped {
    /// What is taken already; `None`: nothing is.
    pub before: Option<Purchase>,
    /// What is missing of a supplier's least order, where no more is taken.
    pub missing: Option<String>,
    /// The best purchase.
    pub best: Purchase,
    /// What was open.
    pub choices: Vec<Choice>,
    /// The most boxes, by type.
    pub boxes: Vec<(String, u32)>,
    /// What the same bundles come to where those of new invoices go in boxes of their own.
    pub apart: Option<Money>,
    /// Why it is not proven that no choice is better.
    pub open: Option<String>,
    /// No choice has a lower cost per area, where that is known.
    pub bound: Option<PerArea>,
    /// How many purchases were costed whole.
    pub costed: usize,
}

/// Purchases that are costed whole, at most (a choice of ours).
const MOST_COSTED: usize = 100;

/// Steps of one knapsack, at most (a choice of ours).
const STEPS: u64 = 100_000;

/// More new invoices than are tried in every combination (a choice of ours).
const MOST_INVOICES: usize = 4;

/// Chooses among what is open on a list. The shipment of the bid has all of it.
///
/// # Errors
/// Why there is no such purchase.
pub fn topup(
    bid: &Bid<'_>,
    offered: &[Offered],
    aim: Aim,
    within: &Within,
) -> Result<Topped, String> {
    let (base, units) = units(offered, within.boxes.is_some())?;
    if bid.shipment.lines.iter().any(|line| line.block.is_some()) {
        return Err(
            "its slabs are sawn of a block, which is bought whole: nothing can be left".to_owned()
        );
    }
    if units.is_empty() {
        let said = "no bundle is open: in packing.csv, column take, mark those that may be taken with open, or \
                    have the whole purchase chosen by --boxes";
        return Err(said.to_owned());
    }
    let areas = areas(bid)?;
    let before = alike(&units, bid.shipment, within.of_a_block.is_some());
    let list =
        List { bid: *bid, base: &base, units: &units, before: &before, areas: &areas, within };
    let unfit = |why| format!("what is taken already cannot be had so: {why}");
    // What is taken may be under a least order: more of the list may reach it.
    let in_own = (within.boxes.is_none() && !base.is_empty()).then(|| list.loaded(&base));
    let in_own = in_own.transpose().map_err(unfit)?;
    let boxes = match (&within.boxes, &in_own) {
        (Some(boxes), _) => boxes.clone(),
        (None, Some((own, _))) => own.boxes.clone().into_iter().collect(),
        (None, None) => {
            let said = "nothing is taken yet: say which boxes to fill, as in --boxes \"1x20gp\"";
            return Err(said.to_owned());
        }
    };
    let limited = with_boxes(bid.shipment, &boxes);
    let list = List { bid: Bid { shipment: &limited, ..*bid }, ..list };
    if !base.is_empty() && in_own.is_none() {
        list.loaded(&base).map_err(unfit)?;
    }
    let every: Vec<usize> = (0..units.len()).collect();
    let full = list.full(&every)?;
    // What is compared goes by the same forwarder, haulier and packer: those that serve a full purchase best.
    let own = pinned(&limited, &full.costed);
    let list = List { bid: Bid { shipment: &own, ..*bid }, ..list };
    let before = match (base.is_empty(), in_own) {
        (true, _) => None,
        (false, Some(own)) => Some(own),
        (false, None) => Some(list.loaded(&base)?),
    };
    let short = before.as_ref().and_then(|(_, costed)| missing(costed));
    let before = before.map(|(purchase, _)| purchase);
    let mut search = Search { list, aim, known: BTreeMap::new(), bent: None };
    let nothing = match (&before, &short) {
        (None, _) => Err("nothing is bought".to_owned()),
        (Some(_), Some(short)) => Err(short.clone()),
        (Some(before), None) => Ok(before.clone()),
    };
    search.known.insert(Vec::new(), nothing);
    search.knows(&full);
    let (models, untried) = search.models()?;
    let (open, bound) = search.run(&models)?;
    let best = search.best().ok_or_else(|| search.none())?.clone();
    let choices = search.choices(&best, &models)?;
    let apart = search.apart(&best);
    let open = open.or(search.bent.clone()).or(untried);
    let bound = bound.filter(|_| open.is_some());
    let costed = search.known.len() - 1;
    Ok(Topped { before, missing: short, choices, boxes, apart, open, bound, costed, best })
}

/// The search for the best choice.
struct Search<'a> {
    list: List<'a>,
    aim: Aim,
    /// Every choice that was costed, or why it cannot be had.
    known: BTreeMap<Vec<usize>, Result<Purchase, String>>,
    /// Why the cost that none goes below is none.
    bent: Option<String>,
}

/// A choice that may be better, with what it exceeds the best one by, as far as is known.
struct Promising {
    chosen: Vec<usize>,
    by: i128,
    model: usize,
}

impl Search<'_> {
    /// A model for each combination of invoices, and why some are not tried.
    fn models(&mut self) -> Result<(Vec<Marginal>, Option<String>), String> {
        let list = self.list;
        let of_base = list.invoices(list.base);
        let mut new: Vec<usize> =
            (0..list.units.len()).flat_map(|at| list.invoices_of(at)).collect();
        new.sort_unstable();
        new.dedup();
        new.retain(|invoice| !of_base.contains(invoice));
        let mut untried = None;
        if new.len() > MOST_INVOICES {
            return Err(format!(
                "more than {MOST_INVOICES} invoices are open: mark fewer with open"
            ));
        }
        let mut all = Vec::new();
        for some in 0usize..1 << new.len() {
            let is_in = |invoice: &usize| {
                let at = new.iter().position(|new| new == invoice);
                at.is_none_or(|at| some >> at & 1 == 1)
            };
            let own: Vec<usize> = (0..list.units.len())
                .filter(|at| list.invoices_of(*at).iter().all(is_in))
                .collect();
            if own.is_empty() {
                continue;
            }
            match list.full(&own) {
                Ok(full) => {
                    let model = Marginal::of(&list, &own, &full)?;
                    self.knows(&full);
                    all.push(model);
                }
                Err(said) => {
                    untried = Some(format!("goods of some invoices were not loaded: {said}"));
                }
            }
        }
        Ok((all, untried))
    }

    /// Notes a full purchase that was costed.
    fn knows(&mut self, full: &Loaded) {
        let own = missing(&full.costed).map_or_else(|| Ok(full.purchase.clone()), Err);
        self.known.insert(self.list.first_of_alike(&full.chosen), own);
    }

    /// Why there is no purchase: what the largest that was costed lacks.
    fn none(&self) -> String {
        let why = self.known.iter().max_by_key(|(chosen, _)| chosen.len());
        let why = why.and_then(|(_, known)| known.as_ref().err());
        let none = "no purchase of the list keeps the limits";
        why.map_or_else(|| none.to_owned(), |why| format!("{none}; of all that loads: {why}"))
    }

    /// Whether one purchase is better than another.
    fn is_better(&self, one: &Purchase, other: &Purchase) -> bool {
        match self.aim {
            Aim::Cost => one.cost.per_area < other.cost.per_area,
            Aim::Area => match (tiny(&one.area), tiny(&other.area)) {
                (Ok(own), Ok(than)) if own == than => one.cost.per_area < other.cost.per_area,
                (own, than) => own > than,
            },
        }
    }

    fn best(&self) -> Option<&Purchase> {
        let all = self.known.values().filter_map(|one| one.as_ref().ok());
        all.reduce(|best, one| if self.is_better(one, best) { one } else { best })
    }

    /// Costs choices that may be better until none can be. Gives why it is not proven, where it is not, and
    /// the bound then.
    fn run(&mut self, models: &[Marginal]) -> Result<(Option<String>, Option<PerArea>), String> {
        let each = self.list.units.iter().map(|unit| tiny(&self.list.area_of(&unit.bundles)));
        let areas: Vec<i128> = each.collect::<Result<_, String>>()?;
        let taken = tiny(&self.list.area_of(self.list.base))?;
        loop {
            let best = self.best().ok_or_else(|| self.none())?;
            let worth = minor(best.cost.per_area.over(&best.area).ok_or(TOO_LARGE)?)?;
            let area = tiny(&best.area)?;
            let (next, open) = self.next((models, &areas, taken), (worth, area));
            let said = match (&next, open) {
                (_, true) => "more choices are alike than are looked through",
                (Some(_), _) if self.known.len() > MOST_COSTED => {
                    "more choices are alike than are costed"
                }
                (Some(_), _) => "",
                (None, _) => return Ok((None, None)),
            };
            let Some(Promising { chosen, by, model }) = next else {
                return Ok((Some(said.to_owned()), None));
            };
            if !said.is_empty() {
                let bound = self.bound(best, by, (worth, taken.max(area / 2)));
                return Ok((Some(said.to_owned()), bound));
            }
            let costed = self.list.purchase(&self.list.joined(&chosen));
            let model = models.get(model).ok_or(TOO_LARGE)?;
            if let Ok((_, costed)) = &costed
                && beside(costed)? < model.least(&chosen, 0)
            {
                let said = "a fee or a price bends with the quantity, so that bundles do not add the same in every purchase";
                self.bent = Some(said.to_owned());
            }
            self.known.insert(chosen, costed.map(|(purchase, _)| purchase));
        }
    }

    /// The choice that may exceed the best one most, and whether a knapsack was left open.
    fn next(
        &self,
        (models, areas, taken): (&[Marginal], &[i128], i128),
        (worth, area): (i128, i128),
    ) -> (Option<Promising>, bool) {
        let before = self.list.before;
        let is_barred = |chosen: &[usize]| self.known.contains_key(chosen);
        let each = models.par_iter().enumerate().flat_map_iter(|(at, model)| {
            let values: Vec<i128> = areas
                .iter()
                .zip(&model.more)
                .map(|(own, more)| match self.aim {
                    Aim::Cost => worth * own - area * more.unwrap_or(0),
                    Aim::Area => *own,
                })
                .collect();
            let ways = model.ways.iter().map(move |(boxes, rows)| {
                let start = match self.aim {
                    Aim::Cost => worth * taken - area * model.least(&[], *boxes),
                    Aim::Area => taken - area,
                };
                (at, start, fill((&values, before), rows, -start, &is_barred, STEPS))
            });
            ways.collect::<Vec<_>>()
        });
        let each: Vec<(usize, i128, Filled)> = each.collect();
        let mut best: Option<Promising> = None;
        let mut is_open = false;
        for (model, start, filled) in each {
            let (chosen, by) = match filled {
                Filled::Best(chosen, value) => (chosen, value + start),
                Filled::Open(most) => {
                    is_open = true;
                    (Vec::new(), most + start)
                }
                Filled::Nothing => continue,
            };
            if best.as_ref().is_none_or(|best| best.by < by) {
                best = Some(Promising { chosen, by, model });
            }
        }
        (best, is_open)
    }

    /// A cost per area that no choice goes below, where none exceeds the best by more than this.
    fn bound(&self, best: &Purchase, by: i128, (worth, least): (i128, i128)) -> Option<PerArea> {
        if self.aim == Aim::Area || least <= 0 {
            return None;
        }
        let money = i64::try_from(worth - by / least - 1).ok().filter(|left| *left > 0)?;
        let money = Money::from_minor(money, best.cost.decision.currency());
        PerArea::of(&Exact::from(money), &best.area)
    }

    /// What was open, with what it adds.
    fn choices(&self, best: &Purchase, models: &[Marginal]) -> Result<Vec<Choice>, String> {
        let list = &self.list;
        let (purchase, costed) = list.purchase(&best.bundles)?;
        let all = list.sums(&list.bid.shipment.only(&best.bundles), &costed)?;
        let currency = all.decision.currency();
        let money = |minor: i128| {
            let minor = i64::try_from(minor).map_err(|_| TOO_LARGE.to_owned());
            minor.map(|minor| Money::from_minor(minor, currency))
        };
        let minus = |one: Money, other: Money| one.minus(other).map_err(|_| TOO_LARGE.to_owned());
        let of_unit = |(at, unit): (usize, &super::units::Unit)| {
            let is_in = |bundle: &usize| best.bundles.binary_search(bundle).is_ok();
            let is_chosen = unit.bundles.iter().all(is_in);
            let rest = best.bundles.iter().copied().filter(|one| !unit.bundles.contains(one));
            let rest: Vec<usize> = rest.collect();
            let (more, goods) = if is_chosen && !rest.is_empty() {
                let (own, costed) = list.in_boxes_of((&purchase, &costed), &rest, None)?;
                let less = list.sums(&own, &costed)?;
                (minus(all.decision, less.decision)?, minus(all.groups[0], less.groups[0])?)
            } else if is_chosen {
                (all.decision, all.groups[0])
            } else {
                let own = |model: &Marginal| {
                    Some((model.more.get(at).copied()??, model.goods.get(at).copied()?))
                };
                let (more, goods) = models.iter().find_map(own).unwrap_or_default();
                (money(more)?, money(goods)?)
            };
            let area = list.area_of(&unit.bundles);
            Ok(Choice { bundles: unit.bundles.clone(), is_chosen, area, more, goods })
        };
        list.units.par_iter().enumerate().map(of_unit).collect()
    }

    /// What a purchase comes to where the bundles of new invoices go in boxes of their own.
    fn apart(&self, best: &Purchase) -> Option<Money> {
        let list = &self.list;
        let old = list.invoices(list.base);
        let is_new = |at: &usize| !list.invoices(&[*at]).iter().any(|own| old.contains(own));
        let (new, rest): (Vec<usize>, Vec<usize>) = best.bundles.iter().partition(|at| is_new(at));
        if new.is_empty() || rest.is_empty() {
            return None;
        }
        let cost = |bundles: &[usize]| Some(list.purchase(bundles).ok()?.0.cost.decision);
        cost(&new)?.plus(cost(&rest)?).ok()
    }
}
