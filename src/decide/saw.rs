//! What comes of a block: its slabs, what they cost step by step, and at which prices two methods break even.
//!
//! Decided on 2026-11-27. Costs are those up to the works: what the quarry and the works bill, at the rate of
//! the day of sailing. `compare` has what they come to on the rack.

use super::footing::{PerArea, Surface};
use crate::fault::{At, Report, Reported};
use crate::price::{Conversion, SERVICES, Target, Terms, row_on, told};
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Overflow, Price, Size, Units, Volume};
use crate::trade::{
    Allowance, Cut, Event, Line, Lookup, SawMethod, Sawing, Shipment, Stone, Tariffs, WorkStep,
    in_force,
};

/// A block of a shipment, and the ways to saw it.
#[derive(Debug)]
pub struct SawnBlock<'a> {
    /// The line of its slabs.
    pub line: &'a Line,
    /// The block, and how it is sawn.
    pub sawing: &'a Sawing,
    /// What the gross block weighs by the stone's density.
    pub mass: Mass,
    /// The currency of the books.
    pub currency: Currency,
    /// The rates of exchange.
    pub rates: Vec<Conversion>,
    /// Whether an allowance says what is usable; else all of a slab is.
    pub has_allowance: bool,
    /// The ways: as offered first, then each other method that is in force.
    pub ways: Vec<SawWay>,
}

/// A way to saw a block.
#[derive(Debug)]
pub struct SawWay {
    /// The method.
    pub method: String,
    /// The works' offer.
    pub offer: Option<String>,
    /// What comes of it, or why nothing does.
    pub outcome: Result<Yield, String>,
    /// Where it breaks even with the first; `None` for that one, and where one of the two cannot be had.
    pub even: Option<BreakEven>,
}

/// What comes of a block by one method.
#[derive(Debug)]
pub struct Yield {
    /// The slabs and the bills.
    pub cut: Cut,
    /// The area of its slabs that is usable.
    pub usable: Area,
    /// The mass of its slabs.
    pub mass: Mass,
    /// Their volume.
    pub volume: Volume,
    /// The block in the currency of the books, unrounded.
    pub block: Exact,
    /// Each step of the works.
    pub steps: Vec<Exact>,
    /// All of it.
    pub total: Exact,
}

impl Yield {
    /// An amount for each part of the usable area.
    pub fn per(&self, amount: &Exact, units: Units) -> Option<Decimal> {
        PerArea::of(amount, &Surface::from(self.usable))?.figure(units)
    }
}

/// The prices at which two methods cost the same for each part of usable area; `None`: at no price above
/// nothing.
#[derive(Debug)]
pub struct BreakEven {
    /// The price of the block, in its own unit and currency.
    pub block: Option<Exact>,
    /// The price of sawing by the second method.
    pub sawing: Option<Exact>,
    /// What that price is per.
    pub per: Price,
}

/// The blocks of a shipment.
///
/// # Errors
/// Where a rate of exchange is missing, or a figure is too large.
pub fn saw<'a>(
    shipment: &'a Shipment,
    tariffs: &'a Tariffs,
    units: Units,
    report: &mut Report,
) -> Result<Vec<SawnBlock<'a>>, Reported> {
    let mut all = Vec::new();
    for line in &shipment.lines {
        let Some(sawing) = line.sawing.as_deref() else { continue };
        let stone = report.found(tariffs.stone(&line.stone), "the stone of a line")?;
        let quality = line.quality.as_ref().map(|quality| quality.as_str());
        let desk = Desk {
            stone,
            allowance: tariffs.allowance(&stone.id, quality),
            terms: Terms::of(shipment, tariffs),
            units,
        };
        let own = desk.way(sawing, report)?;
        let mut ways = vec![own];
        for method in others(shipment, tariffs, &sawing.method) {
            let way = match steps_of(sawing, method, (tariffs, shipment)) {
                Ok(steps) => {
                    let other = Sawing { method: method.clone(), steps, ..sawing.clone() };
                    let mut way = desk.way(&other, report)?;
                    let own = ways.first().and_then(|own| own.outcome.as_ref().ok());
                    if let (Some(own), Ok(its)) = (own, &way.outcome) {
                        way.even = Some(desk.even((own, its), (sawing, &other), report)?);
                    }
                    way
                }
                Err(why) => SawWay::none(method, why),
            };
            ways.push(way);
        }
        let mut rates = Vec::new();
        for price in [&sawing.block.price, &sawing.method.step.price] {
            rates.extend(desk.rate(price, report)?.filter(|rate| !rates.contains(rate)));
        }
        let mass = sawing.block.size.volume().and_then(|volume| Mass::of(volume, stone.density));
        all.push(SawnBlock {
            line,
            sawing,
            mass: report.fits(mass, &sawing.block.size.place)?,
            currency: shipment.yard.currency,
            rates,
            has_allowance: desk.allowance.is_some(),
            ways,
        });
    }
    Ok(all)
}

/// The other methods in force.
fn others<'t>(
    shipment: &Shipment,
    tariffs: &'t Tariffs,
    own: &SawMethod,
) -> impl Iterator<Item = &'t SawMethod> {
    let quoted = shipment.dates.quoted;
    let own = (own.step.name.clone(), own.step.offer.clone());
    tariffs.methods.iter().filter(move |method| {
        method.step.valid.holds(quoted)
            && (&method.step.name, &method.step.offer) != (&own.0, &own.1)
    })
}

/// The steps of a block at the works of another method.
fn steps_of(
    sawing: &Sawing,
    method: &SawMethod,
    (tariffs, shipment): (&Tariffs, &Shipment),
) -> Result<Vec<WorkStep>, String> {
    if sawing.method.step.offer == method.step.offer {
        return Ok(sawing.steps.clone());
    }
    let step = |own: &WorkStep| {
        let rows = tariffs.work_steps.iter();
        let rows = rows.filter(|row| row.name == own.name && row.offer == method.step.offer);
        match in_force(rows, |row| row.valid, shipment.dates.quoted) {
            Lookup::Found(row) => Ok(row.clone()),
            Lookup::Several(_) => Err(format!("two rows price its step {}", own.name)),
            Lookup::Lapsed(_) | Lookup::Missing => {
                Err(format!("no price of its works for {}", own.name))
            }
        }
    };
    sawing.steps.iter().map(step).collect()
}

/// What every way of one line has.
struct Desk<'a> {
    stone: &'a Stone,
    allowance: Option<Allowance>,
    terms: Terms<'a>,
    units: Units,
}

impl Desk<'_> {
    fn way(&self, sawing: &Sawing, report: &mut Report) -> Result<SawWay, Reported> {
        let cut = match sawing.cut() {
            Ok(cut) => cut,
            Err(cannot) => return Ok(SawWay::none(&sawing.method, cannot.why(self.units))),
        };
        let block = self.booked(&cut.block, &sawing.block.price, report)?;
        let works = std::iter::once(&sawing.method.step).chain(&sawing.steps);
        let steps = cut.steps.iter().zip(works);
        let steps = steps.map(|(done, step)| self.booked(&done.exact, &step.price, report));
        let steps = steps.collect::<Result<Vec<Exact>, Reported>>()?;
        let place = &sawing.block.size.place;
        let total = steps.iter().try_fold(block.clone(), |sum, step| sum.plus(step));
        let total = report.fits(total, place)?;
        let usable = report.fits(self.usable(cut.size, cut.slabs), place)?;
        let volume = report.fits(Volume::of(cut.gross, sawing.thickness), place)?;
        let mass = report.fits(Mass::of(volume, self.stone.density), place)?;
        Ok(SawWay {
            method: sawing.method.step.name.clone(),
            offer: sawing.method.step.offer.clone(),
            outcome: Ok(Yield { cut, usable, mass, volume, block, steps, total }),
            even: None,
        })
    }

    /// What our allowance leaves of so many slabs.
    fn usable(&self, size: Size, slabs: u32) -> Result<Area, Overflow> {
        let each = match self.allowance {
            Some(allowance) => allowance.usable(size)?,
            None => size.area()?,
        };
        each.times(Decimal::from(slabs))
    }

    /// An amount in the currency of the books, at the rate of the day of sailing.
    fn booked(
        &self,
        amount: &Exact,
        price: &At<Price>,
        report: &mut Report,
    ) -> Result<Exact, Reported> {
        match self.rate(price, report)? {
            Some(rate) => report.found(amount.converted(&rate.quote), "a rate of exchange"),
            None => Ok(amount.clone()),
        }
    }

    fn rate(&self, price: &At<Price>, report: &mut Report) -> Result<Option<Conversion>, Reported> {
        let (terms, event) = (self.terms, Event::Sails);
        if price.currency == terms.book {
            return Ok(None);
        }
        let (used_for, currency) = (SERVICES, terms.book);
        let target = Target { event, used_for, currency, needed_at: &price.place };
        let on = terms.days.of(event);
        let row = told(row_on(&terms, price.currency, &target, (on, event.word())), report)?;
        Ok(Some(Conversion::by(row, on)))
    }

    /// Where two ways break even. With `p` for the price of what is billed `b` of the block, `w` for the works and
    /// `a` for the usable area of each: `(p b + w1) / a1 = (p b + w2) / a2`.
    fn even(
        &self,
        (one, other): (&Yield, &Yield),
        (own, asked): (&Sawing, &Sawing),
        report: &mut Report,
    ) -> Result<BreakEven, Reported> {
        let (block, step) = (&own.block.price, &asked.method.step);
        let unit = |price: &At<Price>| Exact::new(Decimal::ONE, price.currency);
        let of_block = self.booked(&unit(block), block, report)?;
        let of_works = self.booked(&unit(&step.price), &step.price, report)?;
        let least = match &step.least {
            Some(least) => Some(self.booked(&Exact::from(least.value), &step.price, report)?),
            None => None,
        };
        let units = [(block, &of_block), (&step.price, &of_works)];
        report.fits(self.solved((one, other), units, least.as_ref()), &step.price.place)
    }

    fn solved(
        &self,
        (one, other): (&Yield, &Yield),
        [(block, of_block), (works, of_works)]: [(&At<Price>, &Exact); 2],
        least: Option<&Exact>,
    ) -> Result<BreakEven, Overflow> {
        let above_nothing =
            |price: Exact| (!price.is_negative() && !price.is_zero()).then_some(price);
        let unit = |price: &At<Price>| Exact::new(Decimal::ONE, price.currency);
        let [own, more] = [one.usable.base(), other.usable.base()];
        let [first, second] = [one.total.minus(&one.block)?, other.total.minus(&other.block)?];
        let apart = second.times(own).minus(&first.times(more))?;
        let each = of_block.times(one.cut.billed.figure);
        let each = each.times(more).minus(&each.times(own))?;
        let at = above_nothing(unit(block).share(&apart, &each));
        // What sawing may cost, so that the other way is no dearer.
        let [may, area] =
            [one.usable, other.usable].map(|area| Exact::new(area.base(), self.terms.book));
        let may = one.total.share(&area, &may);
        let sawn = other.steps.first().zip(other.cut.steps.first());
        let Some((sawing, done)) = sawn else {
            return Err(Overflow { what: "the steps of the works" });
        };
        let left = may.minus(&other.total)?.plus(sawing)?;
        let price = above_nothing(unit(works).share(&left, &of_works.part(&done.quantity)));
        // Below its least charge no price counts.
        let least = least.map(|least| least.times(Decimal::from(other.cut.passes)));
        let is_below = |least: &Exact| left.minus(least).is_ok_and(|more| more.is_negative());
        let price = price.filter(|_| !least.as_ref().is_some_and(is_below));
        Ok(BreakEven { block: at, sawing: price, per: works.value })
    }
}

impl SawWay {
    /// A method that cannot saw the block.
    fn none(method: &SawMethod, why: String) -> Self {
        Self {
            method: method.step.name.clone(),
            offer: method.step.offer.clone(),
            outcome: Err(why),
            even: None,
        }
    }
}
