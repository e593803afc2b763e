//! Like goods: what an offer holds of one stone in one finish, thickness and quality, and what that lands at.

use std::collections::BTreeMap;

use smol_str::SmolStr;

use super::footing::{Allowances, Footing, NoArea, PerArea, Surface};
use crate::bill::{Worth, free_slabs, together};
use crate::choose::Costed;
use crate::cost::{LEG_GROUPS, is_starter};
use crate::quantity::{Area, Currency, Decimal, Exact, Length, Money, Price};
use crate::trade::{Leg, Measure, Shipment, Slab, Treatment};

/// What makes goods alike: they stand together only where all of it is the same, or where the user asks
/// for it. What is not looked at is `None`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Like {
    /// The stone.
    pub stone: Option<String>,
    /// The finish.
    pub finish: Option<String>,
    /// The thickness.
    pub thickness: Option<Length>,
    /// The quality: `Some(None)` where none is stated.
    pub quality: Option<Option<SmolStr>>,
}

impl Like {
    /// What a slab is: its own quality counts, where the list has one.
    fn of(shipment: &Shipment, slab: &Slab) -> Option<Self> {
        let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
        Some(Self {
            stone: Some(line.stone.value.clone()),
            finish: Some(line.finish.id.clone()),
            thickness: Some(line.thickness),
            quality: Some(slab.quality.as_deref().cloned()),
        })
    }
}

/// What a part of an offer comes to, in the book currency.
#[derive(Debug, Clone)]
pub struct Sums {
    /// The landed cost: the sum of its slabs.
    pub landed: Money,
    /// The same by group of legs.
    pub groups: [Money; LEG_GROUPS.len()],
    /// What is expensed.
    pub period: Money,
    /// What is only weighed.
    pub notional: Money,
    /// Landed, expensed and weighed together: the decision cost.
    pub decision: Money,
    /// What it is compared by: the decision cost, with its share of the wishes that the load breaks.
    pub worth: Exact,
    /// What of the decision cost rests on figures to start with.
    pub starter: Money,
    /// What each charge comes to, by leg and name.
    pub charges: BTreeMap<(Leg, String), Money>,
}

impl Sums {
    fn none(currency: Currency) -> Self {
        let none = Money::zero(currency);
        Self {
            landed: none,
            groups: [none; LEG_GROUPS.len()],
            period: none,
            notional: none,
            decision: none,
            worth: Exact::zero(currency),
            starter: none,
            charges: BTreeMap::new(),
        }
    }

    /// What the cost is made of, stage by stage, and its sums: landed, expensed, finance that is not booked,
    /// and all of it.
    pub fn amounts(&self) -> Vec<(&'static str, Money)> {
        let stages = LEG_GROUPS.iter().zip(self.groups).map(|((name, ..), sum)| (*name, sum));
        let rest = [
            ("landed", self.landed),
            ("expensed", self.period),
            ("finance, not booked", self.notional),
            ("with finance", self.decision),
        ];
        stages.chain(rest).collect()
    }

    /// The broken wishes that it is compared with, to the minor unit.
    pub fn wishes(&self) -> Option<Money> {
        self.worth.minus(&Exact::from(self.decision)).ok()?.round().ok()
    }

    fn plus(mut self, other: &Self) -> Option<Self> {
        self.landed = self.landed.plus(other.landed).ok()?;
        for (sum, more) in self.groups.iter_mut().zip(other.groups) {
            *sum = sum.plus(more).ok()?;
        }
        self.period = self.period.plus(other.period).ok()?;
        self.notional = self.notional.plus(other.notional).ok()?;
        self.decision = self.decision.plus(other.decision).ok()?;
        self.worth = self.worth.plus(&other.worth).ok()?;
        self.starter = self.starter.plus(other.starter).ok()?;
        for (charge, more) in &other.charges {
            add(&mut self.charges, charge, *more)?;
        }
        Some(self)
    }
}

fn add(
    charges: &mut BTreeMap<(Leg, String), Money>,
    charge: &(Leg, String),
    more: Money,
) -> Option<()> {
    let sum = charges.entry(charge.clone()).or_insert_with(|| Money::zero(more.currency()));
    *sum = sum.plus(more).ok()?;
    Some(())
}

/// What an offer holds of like goods.
#[derive(Debug, Clone)]
pub struct Part {
    /// The goods.
    pub goods: Vec<Like>,
    /// The lines they are on, by position.
    pub lines: Vec<usize>,
    /// Their prices, as quoted for the quantity and quality that they have.
    pub prices: Vec<Price>,
    /// What is added to them, by name: a resin, a mesh.
    pub additions: Vec<(String, Price)>,
    /// How their supplier measures.
    pub measures: Vec<Measure>,
    /// How many slabs.
    pub slabs: usize,
    /// The area that is billed.
    pub billed: Area,
    /// The area as sawn.
    pub gross: Result<Surface, NoArea>,
    /// The area that can be used.
    pub usable: Result<Surface, NoArea>,
    /// What it comes to; `None` where the offer cannot be costed.
    pub sums: Option<Sums>,
}

impl Part {
    fn none(goods: Like, currency: Option<Currency>) -> Self {
        Self {
            goods: vec![goods],
            lines: Vec::new(),
            prices: Vec::new(),
            additions: Vec::new(),
            measures: Vec::new(),
            slabs: 0,
            billed: Area::ZERO,
            gross: Ok(Surface::none()),
            usable: Ok(Surface::none()),
            sums: currency.map(Sums::none),
        }
    }

    /// Its area on a footing, or why it has none.
    ///
    /// # Errors
    /// Why there is none.
    pub fn area(&self, footing: Footing) -> Result<&Surface, NoArea> {
        let area = match footing {
            Footing::Gross => &self.gross,
            Footing::Usable => &self.usable,
        };
        let area = area.as_ref().map_err(Clone::clone)?;
        if area.is_none() { Err(NoArea::NothingLeft) } else { Ok(area) }
    }

    /// What it is ranked by on a footing, exact; `None` where it has no cost or no area.
    pub fn per_area(&self, footing: Footing) -> Option<PerArea> {
        PerArea::of(&self.sums.as_ref()?.worth, self.area(footing).ok()?)
    }

    /// An amount of it per area of a footing; `None` where it has none.
    pub fn per(&self, amount: Money, footing: Footing) -> Option<PerArea> {
        PerArea::of(&Exact::from(amount), self.area(footing).ok()?)
    }

    /// What part of its gross area is billed, in percent to one place.
    pub fn billed_share(&self) -> Option<Decimal> {
        Surface::from(self.billed).percent_of(self.gross.as_ref().ok()?)
    }

    /// Adds a slab: its areas, and what is known of its line.
    fn take(
        &mut self,
        shipment: &Shipment,
        slab: &Slab,
        (worth, allowances): (&[Worth<'_>], &Allowances<'_>),
    ) -> Option<()> {
        let at = usize::try_from(slab.line).ok()?;
        let line = shipment.lines.get(at)?;
        let quality = slab.quality();
        if !self.lines.contains(&at) {
            self.lines.push(at);
            self.measures.push(line.measure);
            let extras = line.pricing.extras.iter();
            add_new(&mut self.additions, extras.map(|one| (one.name.clone(), one.price.value)));
            // The line of its block bills the same slabs.
            let lines = shipment.lines.iter().enumerate().filter(|_| line.sawing.is_some());
            for (block, own) in
                lines.filter(|(of, own)| own.block.is_some() && own.slabs_of(*of) == at)
            {
                self.lines.push(block);
                self.measures.push(own.measure);
                add_new(&mut self.prices, worth.get(block)?.prices_of(quality));
            }
        }
        add_new(&mut self.prices, worth.get(at)?.prices_of(quality));
        self.slabs += 1;
        self.billed = self.billed.plus(slab.billed_area).ok()?;
        self.gross = sum(&self.gross, &Footing::Gross.area(slab, line, allowances)?);
        self.usable = sum(&self.usable, &Footing::Usable.area(slab, line, allowances)?);
        Some(())
    }

    /// Two parts of one offer that stand together.
    pub(super) fn plus(mut self, other: &Self) -> Option<Self> {
        self.goods.extend(other.goods.iter().cloned());
        for (at, measure) in other.lines.iter().zip(&other.measures) {
            if !self.lines.contains(at) {
                self.lines.push(*at);
                self.measures.push(*measure);
            }
        }
        add_new(&mut self.prices, other.prices.iter().copied());
        add_new(&mut self.additions, other.additions.iter().cloned());
        self.slabs += other.slabs;
        self.billed = self.billed.plus(other.billed).ok()?;
        self.gross = sum(&self.gross, &other.gross);
        self.usable = sum(&self.usable, &other.usable);
        self.sums = match (self.sums, &other.sums) {
            (Some(own), Some(more)) => Some(own.plus(more)?),
            _ => None,
        };
        Some(self)
    }
}

/// Parts of one offer as one: all of it. `None`: there is none, or a figure is too large.
pub fn whole(parts: &[&Part]) -> Option<Part> {
    let (first, rest) = parts.split_first()?;
    rest.iter().try_fold((*first).clone(), |sum, part| sum.plus(part))
}

/// Adds what is not there yet.
fn add_new<T: PartialEq>(all: &mut Vec<T>, more: impl IntoIterator<Item = T>) {
    for one in more {
        if !all.contains(&one) {
            all.push(one);
        }
    }
}

/// The sum of two areas, if both are known.
fn sum(one: &Result<Surface, NoArea>, other: &Result<Surface, NoArea>) -> Result<Surface, NoArea> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok(one.plus(other)),
        (Err(why), _) | (_, Err(why)) => Err(why.clone()),
    }
}

/// The parts of an offer, in the order in which their slabs first come. `None` on overflow.
pub fn parts(
    shipment: &Shipment,
    costed: Option<&Costed>,
    allowances: &Allowances<'_>,
) -> Option<Vec<Part>> {
    let currency = costed.map(|costed| costed.landed.currency);
    let mut parts: Vec<Part> = Vec::new();
    let mut known: BTreeMap<Like, usize> = BTreeMap::new();
    let mut of_slab = Vec::with_capacity(shipment.slabs.len());
    let free = free_slabs(shipment);
    let worth = shipment.lines.iter().map(|line| Worth::of(shipment, &free, line).ok());
    let worth = worth.collect::<Option<Vec<_>>>()?;
    for slab in shipment.slabs.iter() {
        let like = Like::of(shipment, slab)?;
        let at = *known.entry(like.clone()).or_insert_with(|| {
            parts.push(Part::none(like, currency));
            parts.len() - 1
        });
        of_slab.push(at);
        parts.get_mut(at)?.take(shipment, slab, (&worth, allowances))?;
    }
    if let Some(costed) = costed {
        cost(&mut parts, &of_slab, costed)?;
    }
    Some(parts)
}

/// Adds up what the slabs of each part bear. `None` on overflow.
fn cost(parts: &mut [Part], of_slab: &[usize], costed: &Costed) -> Option<()> {
    let landed = &costed.landed;
    let currency = landed.currency;
    for (at, list) in together(&landed.charges).iter().enumerate() {
        let charge = landed.charges.get(*list.first()?)?;
        if charge.treatment == Treatment::Recoverable {
            continue;
        }
        let mut borne = vec![0i64; parts.len()];
        for (position, slab) in landed.sets.members(charge.scope.set).enumerate() {
            let sum = borne.get_mut(*of_slab.get(slab)?)?;
            *sum = sum.checked_add(landed.shares.of(at, position).minor)?;
        }
        let group = LEG_GROUPS.iter().position(|(_, from, to)| (*from..=*to).contains(&charge.leg));
        let name = (charge.leg, charge.name.to_string());
        let on_starters = is_starter(charge);
        for (part, minor) in parts.iter_mut().zip(borne).filter(|(_, minor)| *minor != 0) {
            let sums = part.sums.as_mut()?;
            let amount = Money::from_minor(minor, currency);
            sums.decision = sums.decision.plus(amount).ok()?;
            add(&mut sums.charges, &name, amount)?;
            if on_starters {
                sums.starter = sums.starter.plus(amount).ok()?;
            }
            let sum = match charge.treatment {
                Treatment::Period => &mut sums.period,
                Treatment::Notional => &mut sums.notional,
                _ => {
                    let group = sums.groups.get_mut(group?)?;
                    *group = group.plus(amount).ok()?;
                    &mut sums.landed
                }
            };
            *sum = sum.plus(amount).ok()?;
        }
    }
    // A broken wish is no charge and has no slabs: parts share it by billed area.
    let wishes = Exact::from(costed.plan.wishes);
    let whole = Exact::new(landed.headline.area.base(), currency);
    for part in parts {
        let own = Exact::new(part.billed.base(), currency);
        let sums = part.sums.as_mut()?;
        sums.worth = Exact::from(sums.decision).plus(&wishes.share(&own, &whole)).ok()?;
    }
    Some(())
}
