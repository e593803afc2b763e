//! Offers for one yard side by side: like goods with like goods, on one footing, ordered exactly.
//!
//! Decided on 2026-11-25. Offers of different stones, even of one kind, are compared only where the user
//! says so. A price for another stone is no price for this one. On 2026-11-27 the same became so of finish,
//! thickness and quality, part by part of an offer.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use super::footing::{Allowances, Footing, NoArea, PerArea};
use super::offer::Offer;
use super::part::{Like, Part, Sums};
use crate::quantity::{Currency, Decimal, Exact, Money};
use crate::trade::{Allowance, Leg};

/// How offers are to be compared.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// The footing; by what is stated where none is asked for.
    pub footing: Option<Footing>,
    /// What cannot be used of a slab.
    pub allowances: Allowances<'a>,
    /// What stands together although it differs.
    pub across: Across,
}

/// What is compared although it differs.
#[expect(clippy::struct_excessive_bools, reason = "each is a word of its own on the command line")]
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Across {
    /// Different stones.
    pub stones: bool,
    /// Different thicknesses.
    pub thickness: bool,
    /// Different finishes.
    pub finish: bool,
    /// Different qualities.
    pub quality: bool,
    /// Different yards.
    pub yards: bool,
}

impl Across {
    /// What counts of goods.
    pub(super) fn seen(self, goods: &Like) -> Like {
        let Like { stone, finish, thickness, quality } = goods.clone();
        Like {
            stone: stone.filter(|_| !self.stones),
            finish: finish.filter(|_| !self.finish),
            thickness: thickness.filter(|_| !self.thickness),
            quality: quality.filter(|_| !self.quality),
        }
    }
}

/// Offers side by side.
#[derive(Debug)]
pub struct Comparison {
    /// The book currency.
    pub currency: Currency,
    /// What they are compared on.
    pub footing: Footing,
    /// Whether somebody asked for it.
    pub is_asked: bool,
    /// The allowances that the goods have: stone, quality, allowance.
    pub allowances: Vec<(String, Option<String>, Allowance)>,
    /// What stands together although it differs.
    pub across: Across,
    /// The offers, as they were named.
    pub offers: Vec<Offer>,
    /// Like goods with like goods, in the order of the offers.
    pub groups: Vec<Group>,
    /// The same with the boxes of each offer full; none where nothing more fits into those of any.
    pub full: Vec<Group>,
}

impl Comparison {
    /// The offers in the order in which they are ranked first.
    pub fn ranked(&self) -> Vec<&Offer> {
        let mut all: Vec<usize> = Vec::new();
        for entry in self.groups.iter().flat_map(|group| &group.entries) {
            if !all.contains(&entry.offer) {
                all.push(entry.offer);
            }
        }
        all.into_iter().filter_map(|at| self.offers.get(at)).collect()
    }

    /// Every charge that an offer has, by leg and name.
    pub(super) fn charges(&self) -> BTreeSet<(Leg, &str)> {
        let entries = self.groups.iter().flat_map(|group| &group.entries);
        let sums = entries.filter_map(|entry| entry.part.sums.as_ref());
        sums.flat_map(|sums| sums.charges.keys()).map(|(leg, name)| (*leg, name.as_str())).collect()
    }

    /// The offers that hold some goods, in the order in which they are ranked.
    pub fn of_goods(&self, goods: &Like) -> impl Iterator<Item = &Entry> {
        let own = self.groups.iter().filter(move |group| group.goods == *goods);
        own.flat_map(|group| &group.entries)
    }
}

/// Like goods of several offers. There is no winner across groups.
#[derive(Debug)]
pub struct Group {
    /// The goods.
    pub goods: Like,
    /// The offers that hold such goods, the best first; those without a rank come last.
    pub entries: Vec<Entry>,
}

/// An offer in a group.
#[derive(Debug)]
pub struct Entry {
    /// The offer, by position.
    pub offer: usize,
    /// What it holds of these goods.
    pub part: Part,
    /// Where it stands, or why it has no rank.
    pub standing: Result<Standing, NoRank>,
}

/// Where an offer stands in its group.
#[derive(Debug, Clone)]
pub struct Standing {
    /// 1 for the best; equal offers have one rank.
    pub rank: usize,
    /// What it is ranked by.
    pub per_area: PerArea,
    /// How far that is above the best.
    pub above: Gap,
    /// The charges that make most of the difference, the largest first: per area, and on its own area.
    pub because: Vec<Cause>,
    /// How much of the difference rests on figures to start with; `None` where neither offer has any.
    pub on_starters: Option<OnStarters>,
}

/// What of a difference to the best rests on figures to start with.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnStarters {
    /// Per area, exact; less than nothing where the best has more of it.
    pub per_area: PerArea,
    /// On the offer's own area, to the minor unit.
    pub on_area: Money,
}

/// How far an offer is above the best: nothing for the best itself.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Gap {
    /// Per area, exact.
    pub per_area: PerArea,
    /// On the offer's own area, to the minor unit.
    pub on_area: Money,
    /// In percent of the best, to two places.
    pub percent: Decimal,
}

/// A charge's part in the difference to the best.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cause {
    /// The leg.
    pub leg: Leg,
    /// The charge.
    pub name: String,
    /// What it is more per area than with the best; less than nothing where it is less.
    pub per_area: PerArea,
    /// The same on the offer's own area.
    pub on_area: Money,
}

/// Why an offer has no rank in a group.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoRank {
    /// It cannot be bought or loaded so, or not be costed.
    Refused(String),
    /// Its goods have no area to compare on.
    NoArea(NoArea),
}

/// Why offers cannot be compared as asked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// One is of stones that no other has.
    Stones(Vec<String>),
    /// They go to different yards.
    Yards(Vec<String>),
    /// Their yards keep books in different currencies.
    Currencies,
    /// Figures cannot be held.
    NoFigures,
}

/// So many charges are named that make the difference.
const NAMED: usize = 3;

/// Compares offers. Offers of different goods or for different yards stand together only where that is
/// asked for.
///
/// # Errors
/// Why they cannot be compared.
pub fn compare(offers: Vec<Offer>, asked: &Asked<'_>) -> Result<Comparison, Refusal> {
    let across = asked.across;
    if !across.stones {
        share_a_stone(&offers)?;
    }
    let yards: BTreeSet<&str> = offers.iter().map(|offer| offer.yard.as_str()).collect();
    if yards.len() > 1 && !across.yards {
        return Err(Refusal::Yards(yards.into_iter().map(str::to_owned).collect()));
    }
    let currency = offers.first().map(|offer| offer.currency).ok_or(Refusal::NoFigures)?;
    if offers.iter().any(|offer| offer.currency != currency) {
        return Err(Refusal::Currencies);
    }
    let footing = asked.footing.unwrap_or_else(|| usual_footing(&offers));
    let as_offered: Vec<&Offer> = offers.iter().collect();
    let groups = ranked(&as_offered, across, footing).ok_or(Refusal::NoFigures)?;
    let full = if offers.iter().any(|offer| offer.full.is_some()) {
        let filled: Vec<&Offer> = offers.iter().map(Offer::filled).collect();
        ranked(&filled, across, footing).ok_or(Refusal::NoFigures)?
    } else {
        Vec::new()
    };
    let mut allowances = BTreeMap::new();
    for goods in offers.iter().flat_map(|offer| &offer.parts).flat_map(|part| &part.goods) {
        let stone = goods.stone.clone().unwrap_or_default();
        let quality = goods.quality.clone().flatten().map(String::from);
        if let Some(allowance) = asked.allowances.of(&stone, quality.as_deref()) {
            allowances.insert((stone, quality), allowance);
        }
    }
    let allowances = allowances.into_iter().map(|((stone, quality), one)| (stone, quality, one));
    Ok(Comparison {
        currency,
        footing,
        is_asked: asked.footing.is_some(),
        allowances: allowances.collect(),
        across,
        offers,
        groups,
        full,
    })
}

/// Like goods of offers with like goods, each ordered. `None` where a figure cannot be held.
fn ranked(offers: &[&Offer], across: Across, footing: Footing) -> Option<Vec<Group>> {
    let groups = groups(offers, across)?.into_iter();
    let ranked = groups.map(|(goods, parts)| {
        let entries = rank(offers, parts, footing)?;
        Some(Group { goods, entries })
    });
    ranked.collect()
}

/// Every offer has a stone that another has, too: else there is nothing to compare it with.
fn share_a_stone(offers: &[Offer]) -> Result<(), Refusal> {
    let stones = |offer: &Offer| -> BTreeSet<String> {
        let goods = offer.parts.iter().flat_map(|part| &part.goods);
        goods.filter_map(|goods| goods.stone.clone()).collect()
    };
    let all: Vec<BTreeSet<String>> = offers.iter().map(stones).collect();
    let is_alone = |at: usize, own: &BTreeSet<String>| {
        let mut others = all.iter().enumerate().filter(|(other, _)| *other != at);
        others.all(|(_, other)| other.is_disjoint(own))
    };
    if all.len() < 2 || !all.iter().enumerate().any(|(at, own)| is_alone(at, own)) {
        return Ok(());
    }
    let joined = |own: &BTreeSet<String>| own.iter().cloned().collect::<Vec<_>>().join(" + ");
    let all: BTreeSet<String> = all.iter().map(joined).collect();
    Err(Refusal::Stones(all.into_iter().collect()))
}

/// Usable area where an allowance is stated for all goods, else gross area.
fn usual_footing(offers: &[Offer]) -> Footing {
    let mut parts = offers.iter().flat_map(|offer| &offer.parts);
    let lacks = |part: &Part| matches!(part.usable, Err(NoArea::NoAllowance { .. }));
    if parts.any(lacks) { Footing::Gross } else { Footing::Usable }
}

/// Like goods of each offer, by position. `None` on overflow.
type Alike = Vec<(Like, Vec<(usize, Part)>)>;

fn groups(offers: &[&Offer], across: Across) -> Option<Alike> {
    let mut groups: Alike = Vec::new();
    for (at, offer) in offers.iter().enumerate() {
        for part in &offer.parts {
            let goods = across.seen(part.goods.first()?);
            let group = match groups.iter_mut().find(|(known, _)| *known == goods) {
                Some((_, group)) => group,
                None => {
                    groups.push((goods, Vec::new()));
                    &mut groups.last_mut()?.1
                }
            };
            match group.last_mut().filter(|(last, _)| *last == at) {
                Some((_, own)) => *own = own.clone().plus(part)?,
                None => group.push((at, part.clone())),
            }
        }
    }
    Some(groups)
}

/// Orders the parts of a group. `None` where a figure cannot be held.
fn rank(offers: &[&Offer], parts: Vec<(usize, Part)>, footing: Footing) -> Option<Vec<Entry>> {
    let stands = |(at, part): &(usize, Part)| -> Result<PerArea, NoRank> {
        if let Some(why) = offers.get(*at).and_then(|offer| offer.refusal()) {
            return Err(NoRank::Refused(why));
        }
        part.area(footing).map_err(NoRank::NoArea)?;
        part.per_area(footing).ok_or_else(|| NoRank::Refused("it has no cost".to_owned()))
    };
    let mut all: Vec<(Result<PerArea, NoRank>, (usize, Part))> =
        parts.into_iter().map(|one| (stands(&one), one)).collect();
    // A stable sort: of equal offers the one that was named first comes first.
    all.sort_by(|(one, _), (other, _)| match (one, other) {
        (Ok(one), Ok(other)) => one.cmp(other),
        (one, other) => one.is_err().cmp(&other.is_err()),
    });
    let best = match all.first() {
        Some((Ok(per_area), (_, part))) => Some((per_area.clone(), part.clone())),
        _ => None,
    };
    let ranks: Vec<PerArea> = all.iter().filter_map(|(own, _)| own.clone().ok()).collect();
    let entry = |(own, (offer, part)): (Result<PerArea, NoRank>, (usize, Part))| {
        let standing = match (own, &best) {
            (Ok(per_area), Some((least, best))) => {
                let rank = ranks.iter().filter(|other| **other < per_area).count() + 1;
                let area = part.area(footing).ok()?;
                let above = per_area.above(least)?;
                let above = Gap {
                    on_area: above.over(area)?,
                    percent: per_area.percent_above(least).unwrap_or_default(),
                    per_area: above,
                };
                let because = causes(&part, best, footing)?;
                let on_starters = on_starters(&part, best, footing);
                Ok(Standing { rank, per_area, above, because, on_starters })
            }
            (Err(why), _) => Err(why),
            (Ok(_), None) => return None,
        };
        Some(Entry { offer, part, standing })
    };
    all.into_iter().map(entry).collect()
}

/// What of the difference between two parts rests on figures to start with.
fn on_starters(own: &Part, best: &Part, footing: Footing) -> Option<OnStarters> {
    let [mine, theirs] = [own.sums.as_ref()?.starter, best.sums.as_ref()?.starter];
    if mine.is_zero() && theirs.is_zero() {
        return None;
    }
    let per_area = own.per(mine, footing)?.above(&best.per(theirs, footing)?)?;
    let on_area = per_area.over(own.area(footing).ok()?)?;
    Some(OnStarters { per_area, on_area })
}

/// The charges that make most of the difference between two parts.
fn causes(own: &Part, best: &Part, footing: Footing) -> Option<Vec<Cause>> {
    let (Sums { charges: mine, worth, .. }, theirs) =
        (own.sums.as_ref()?, &best.sums.as_ref()?.charges);
    let nothing = Exact::zero(worth.currency());
    let (area, other) = (own.area(footing).ok()?, best.area(footing).ok()?);
    let names: BTreeSet<&(Leg, String)> = mine.keys().chain(theirs.keys()).collect();
    let each = |charges: &BTreeMap<(Leg, String), Money>, name, area| {
        let amount = charges.get(name).copied().map(Exact::from);
        PerArea::of(amount.as_ref().unwrap_or(&nothing), area)
    };
    let mut all = Vec::new();
    for name in names {
        let per_area = each(mine, name, area)?.above(&each(theirs, name, other)?)?;
        let on_area = per_area.over(area)?;
        let (leg, name) = name.clone();
        all.push(Cause { leg, name, per_area, on_area });
    }
    all.retain(|cause| !cause.on_area.is_zero());
    all.sort_by_key(|cause| Reverse(cause.per_area.size()));
    all.truncate(NAMED);
    Some(all)
}
