//! An offer as it is compared: its papers, its goods by group, and its cost.

use super::footing::{Allowances, Surface};
use super::part::{Part, parts};
use crate::choose::{Costed, Fallen, UnderLeast};
use crate::cost::{Carried, Landed, Starters, cash};
use crate::fault::tried;
use crate::load::{Misfit, Plan, Verdict, spare};
use crate::quantity::{Currency, Decimal, Mass, Money, grouped, ratio};
use crate::trade::{Basis, Date, Dates, KeptProof, LoadWishes, Shipment, Slab, Tariffs, Window};

/// An offer.
#[derive(Debug)]
pub struct Offer {
    /// The shipment's name, with the way in which it is bought.
    pub name: String,
    /// The supplier of each invoice.
    pub suppliers: Vec<String>,
    /// The delivery term of each invoice.
    pub terms: Vec<String>,
    /// How long the prices of each invoice hold.
    pub price_valid: Vec<Window>,
    /// The day on which the prices of an invoice end before the goods sail.
    pub ends_early: Option<Date>,
    /// Its dates.
    pub dates: Dates,
    /// The yard.
    pub yard: String,
    /// The book currency.
    pub currency: Currency,
    /// Whether it is nominal.
    pub nominal: bool,
    /// What it asks of its load.
    pub load: LoadWishes,
    /// How sure its load was when it was kept, where it is a kept one.
    pub kept: Option<KeptProof>,
    /// The names of its lines.
    pub lines: Vec<String>,
    /// What it holds of like goods.
    pub parts: Vec<Part>,
    /// What it comes to, or why that is not known.
    pub outcome: Result<Whole, String>,
    /// The same with its boxes full, where more fits into them.
    pub full: Option<Box<Full>>,
}

/// An offer with the boxes already needed full.
#[derive(Debug)]
pub struct Full {
    /// So many bundles like the median one are added. Nobody offered them.
    pub added: usize,
    /// The offer so.
    pub offer: Offer,
}

/// What an offer comes to as a whole.
#[derive(Debug)]
pub struct Whole {
    /// Its load.
    pub plan: Plan,
    /// Whether its load holds.
    pub verdict: Verdict,
    /// Offers of forwarders and hauliers that fell out.
    pub fallen: Vec<Fallen>,
    /// The invoices under their supplier's least order.
    pub under_least: Vec<UnderLeast>,
    /// What reaching the next step of a price would cost, and save.
    pub next_steps: Vec<String>,
    /// The landed cost.
    pub landed: Money,
    /// What is part of it by how firm it is.
    pub by_basis: Vec<(Basis, Money)>,
    /// How much of it is converted at planning rates.
    pub planned: Money,
    /// What has lapsed and serves on.
    pub carried: Vec<Carried>,
    /// What rests on figures to start with.
    pub starters: Starters,
    /// The first rate to lapse: the day, and of what.
    pub first_lapse: Option<(Date, String)>,
    /// What would still go into its boxes.
    pub fits: Option<Fits>,
    /// The most that is out at once, and on which day; `None` where a payment has no rate of exchange.
    pub peak: Option<(Date, Money)>,
}

/// More bundles like the median one, which would go into the boxes already needed.
#[derive(Debug, Clone)]
pub struct Fits {
    /// How many.
    pub bundles: usize,
    /// The median bundle.
    pub like: String,
    /// Their mass, as limits are checked with.
    pub mass: Mass,
    /// Their area as sawn, where it is known.
    pub gross: Option<Surface>,
}

impl Fits {
    /// `None` where there is no bundle, or a figure cannot be held.
    fn of(shipment: &Shipment, plan: &Plan) -> Option<Self> {
        let spare = spare(&plan.to_top_up(), &shipment.bundles).ok()??;
        let is_in = |slab: &&Slab| usize::try_from(slab.bundle) == Ok(spare.like);
        let slabs = shipment.slabs.iter().filter(is_in).map(Surface::gross);
        let one = slabs
            .collect::<Option<Vec<_>>>()
            .map(|all| all.iter().fold(Surface::none(), |sum, slab| sum.plus(slab)));
        Some(Self {
            bundles: spare.bundles,
            like: shipment.bundles.get(spare.like)?.id.to_string(),
            mass: spare.mass,
            gross: one.map(|one| one.times(spare.bundles)),
        })
    }
}

/// The most that is out at once, and the first day on which it is. `None`: figures cannot be had.
fn peak(shipment: &Shipment, tariffs: &Tariffs, costed: &Costed) -> Option<(Date, Money)> {
    let of = (&costed.plan, &costed.choice);
    let cash = tried(|report| cash(shipment, tariffs, of, &costed.landed, report))?;
    let mut out = Money::zero(cash.currency);
    let mut most: Option<(Date, Money)> = None;
    let mut flows = cash.flows.iter().peekable();
    while let Some(flow) = flows.next() {
        out = out.plus(flow.book).ok()?;
        // What comes back on a day is back before it ends.
        let ends = flows.peek().is_none_or(|next| next.day != flow.day);
        if ends && most.is_none_or(|(_, most)| out.amount() > most.amount()) {
            most = Some((flow.day, out));
        }
    }
    most
}

impl Whole {
    fn of(shipment: &Shipment, tariffs: &Tariffs, costed: &Costed) -> Self {
        let Landed { total, headline, .. } = &costed.landed;
        let first_lapse = headline.first_lapse.as_ref();
        Self {
            plan: costed.plan.clone(),
            verdict: costed.verdict.clone(),
            fallen: costed.fallen.clone(),
            under_least: costed.under_least.clone(),
            next_steps: costed.next_steps.clone(),
            landed: *total,
            by_basis: headline.by_basis.clone(),
            planned: headline.planned,
            carried: headline.carried.clone(),
            starters: headline.starters.clone(),
            first_lapse: first_lapse.map(|(until, what, _)| (*until, what.clone())),
            fits: Fits::of(shipment, &costed.plan),
            peak: peak(shipment, tariffs, costed),
        }
    }

    /// What of the landed cost rests on our own assumptions.
    pub fn assumed(&self) -> Money {
        let own = self.by_basis.iter().find(|(basis, _)| *basis == Basis::Assumed);
        own.map_or(Money::zero(self.landed.currency()), |(_, sum)| *sum)
    }

    /// What of the landed cost rests on prices and rates that have lapsed.
    pub fn on_lapsed(&self) -> Money {
        let currency = self.landed.currency();
        let all = Money::total(currency, self.carried.iter().map(|one| one.share));
        // Parts of a sum that is held.
        all.unwrap_or(self.landed)
    }

    /// What percentage of the landed cost an amount is, to one place.
    pub fn percent(&self, amount: Money) -> Option<Decimal> {
        let hundredfold = amount.amount().checked_mul(Decimal::ONE_HUNDRED)?;
        ratio(hundredfold, self.landed.amount(), 1)
    }
}

impl Offer {
    /// The offer of a shipment that is costed, or of one that is not, with the reason. `None` on overflow.
    pub fn of(
        shipment: &Shipment,
        costed: Result<&Costed, String>,
        tariffs: &Tariffs,
        allowances: &Allowances<'_>,
    ) -> Option<Self> {
        let invoices = || shipment.invoices.iter();
        Some(Self {
            name: shipment.called(),
            suppliers: each_once(invoices().map(|invoice| invoice.supplier.clone())),
            terms: each_once(invoices().map(|invoice| invoice.term.value.to_string())),
            price_valid: each_once(invoices().map(|invoice| invoice.price_valid.value)),
            ends_early: invoices().filter_map(|one| one.ends_before_sailing(shipment.dates)).min(),
            dates: shipment.dates,
            yard: shipment.yard.id.clone(),
            currency: shipment.yard.currency,
            nominal: shipment.is_nominal(),
            load: shipment.load.clone(),
            kept: shipment.kept.clone(),
            lines: shipment.lines.iter().map(|line| line.id.clone()).collect(),
            parts: parts(shipment, costed.as_ref().ok().copied(), allowances)?,
            outcome: costed.map(|costed| Whole::of(shipment, tariffs, costed)),
            full: None,
        })
    }

    /// The first day on which the prices of an invoice end.
    pub fn valid_until(&self) -> Option<Date> {
        self.price_valid.iter().filter_map(|valid| valid.until).min()
    }

    /// The offer as it is with its boxes full, or as it stands where nothing more fits.
    pub fn filled(&self) -> &Self {
        self.full.as_ref().map_or(self, |full| &full.offer)
    }

    /// Why it has no rank anywhere, where it has none: it cannot be costed, or not be loaded so.
    pub fn refusal(&self) -> Option<String> {
        match &self.outcome {
            Err(why) => Some(why.clone()),
            Ok(whole) if whole.verdict.keeps_limits() => {
                whole.under_least.first().map(|under| under.what.clone())
            }
            Ok(whole) => whole.verdict.told().into_iter().next(),
        }
    }
}

/// Each value once, in the order in which they first come.
fn each_once<T: PartialEq>(all: impl Iterator<Item = T>) -> Vec<T> {
    let mut told: Vec<T> = Vec::new();
    for one in all {
        if !told.contains(&one) {
            told.push(one);
        }
    }
    told
}

/// Why an offer cannot be loaded, in a sentence.
pub fn unfit(shipment: &Shipment, misfits: &[Misfit]) -> String {
    let of = |misfit: &Misfit| {
        let bundles = misfit.bundles.iter().filter_map(|at| shipment.bundles.get(*at));
        let names: Vec<&str> = bundles.map(|bundle| bundle.id.as_str()).collect();
        match names[..] {
            [] => misfit.reason.clone(),
            [one] => format!("bundle {one}: {}", misfit.reason),
            _ => format!("bundles {} together: {}", names.join(", "), misfit.reason),
        }
    };
    let first = misfits.first().map_or_else(String::new, of);
    match misfits.len().saturating_sub(1) {
        0 => first,
        more => format!("{first}; and {} more", grouped(more.into())),
    }
}
