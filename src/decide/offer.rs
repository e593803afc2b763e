//! An offer as it is compared: what its papers say, what of it is alike, and what it comes to.

use super::footing::Allowances;
use super::part::{Part, parts};
use crate::choose::{Costed, Fallen};
use crate::cost::Landed;
use crate::fault::{Report, Severity};
use crate::load::{Misfit, Plan, Verdict};
use crate::quantity::{Currency, Money};
use crate::trade::{Basis, Date, Dates, LoadWishes, Shipment, Window};

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
    /// The names of its lines.
    pub lines: Vec<String>,
    /// What it holds of like goods.
    pub parts: Vec<Part>,
    /// What it comes to, or why that is not known.
    pub outcome: Result<Whole, String>,
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
    /// The landed cost.
    pub landed: Money,
    /// What is part of it by how firm it is.
    pub by_basis: Vec<(Basis, Money)>,
    /// How much of it is converted at planning rates.
    pub planned: Money,
    /// The first rate to lapse: the day, and of what.
    pub first_lapse: Option<(Date, String)>,
}

impl Whole {
    fn of(costed: &Costed) -> Self {
        let Landed { total, headline, .. } = &costed.landed;
        let first_lapse = headline.first_lapse.as_ref();
        Self {
            plan: costed.plan.clone(),
            verdict: costed.verdict.clone(),
            fallen: costed.fallen.clone(),
            landed: *total,
            by_basis: headline.by_basis.clone(),
            planned: headline.planned,
            first_lapse: first_lapse.map(|(until, what, _)| (*until, what.clone())),
        }
    }
}

impl Offer {
    /// The offer of a shipment that is costed, or of one that is not, with the reason. `None` on overflow.
    pub fn of(
        shipment: &Shipment,
        costed: Result<&Costed, String>,
        allowances: &Allowances<'_>,
    ) -> Option<Self> {
        let invoices = || shipment.invoices.iter();
        Some(Self {
            name: shipment.called(),
            suppliers: each_once(invoices().map(|invoice| invoice.supplier.clone())),
            terms: each_once(invoices().map(|invoice| invoice.term.value.to_string())),
            price_valid: each_once(invoices().map(|invoice| invoice.price_valid.value)),
            dates: shipment.dates,
            yard: shipment.yard.id.clone(),
            currency: shipment.yard.currency,
            nominal: shipment.is_nominal(),
            load: shipment.load.clone(),
            lines: shipment.lines.iter().map(|line| line.id.clone()).collect(),
            parts: parts(shipment, costed.as_ref().ok().copied(), allowances)?,
            outcome: costed.map(Whole::of),
        })
    }

    /// Why it has no rank anywhere, where it has none: it cannot be costed, or not be loaded so.
    pub fn refusal(&self) -> Option<String> {
        match &self.outcome {
            Err(why) => Some(why.clone()),
            Ok(whole) if whole.verdict.keeps_limits() => None,
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

/// Why an offer cannot be costed, of the faults that a sound offer may have: a price or a rate that is
/// missing or has lapsed. `None` where another fault is among them.
pub fn lapsed(report: &Report) -> Option<String> {
    use crate::fault::Code::{LapsedRate, NoRate};
    let all = report.sorted().into_iter().filter(|fault| fault.severity == Severity::Error);
    let all: Vec<_> = all.collect();
    let is_so = all.iter().all(|fault| matches!(fault.code, LapsedRate | NoRate));
    let first = all.first().filter(|_| is_so)?;
    let more = if all.len() > 1 { format!("; and {} more", all.len() - 1) } else { String::new() };
    Some(format!("{}{more}", first.message))
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
    let more = misfits.len().saturating_sub(1);
    if more == 0 { first } else { format!("{first}; and {more} more") }
}
