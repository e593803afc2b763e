//! A comparison for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::compare::reason;
use super::super::cost::kinds_of_box;
use super::parts::{
    CarriedJson, FORMAT, FallenJson, MOST_OFFERS, carried_json, fallen_json, plain, write,
};
use super::verdict::{VerdictJson, verdict_json};
use crate::decide::{Comparison, Entry, Group, Like, Offer, PerArea, Standing, Sums, Surface};
use crate::quantity::{Money, Units};
use crate::trade::Dates;

#[derive(Serialize)]
struct CompareJson<'a> {
    format: u32,
    currency: &'a str,
    #[serde(flatten)]
    footed: FootedJson<'a>,
    /// The offers as wholes, as they were named.
    offers: Vec<OfferJson<'a>>,
    /// Like goods of several offers. There is no best across them.
    groups: Vec<GroupJson<'a>>,
}

/// What offers are held against each other on.
#[derive(Serialize)]
pub(super) struct FootedJson<'a> {
    /// The area that figures per area are of: `gross` or `usable`.
    footing: &'static str,
    footing_is_asked: bool,
    allowances: Vec<AllowanceJson<'a>>,
}

/// An offer as it is quoted, with what it holds of the goods that are compared.
#[derive(Serialize)]
pub(super) struct QuotedJson<'a> {
    shipment: &'a str,
    supplier: String,
    term: String,
    yard: &'a str,
    price_valid_until: Option<String>,
    dates: DatesJson,
    #[serde(flatten)]
    goods: HeldJson<'a>,
}

#[derive(Serialize)]
struct AllowanceJson<'a> {
    stone: &'a str,
    quality: Option<&'a str>,
    off_length_mm: String,
    off_height_mm: String,
    loss_percent: String,
}

#[derive(Serialize)]
struct OfferJson<'a> {
    shipment: &'a str,
    supplier: String,
    term: String,
    yard: &'a str,
    nominal: bool,
    price_valid_until: Option<String>,
    /// Whether that is before the goods sail.
    price_ends_before_sailing: bool,
    dates: DatesJson,
    /// Why it has no rank in any group.
    refused: Option<String>,
    #[serde(flatten)]
    whole: Option<WholeJson<'a>>,
    /// What it is with its boxes full, where more fits into them.
    full: Option<FullJson<'a>>,
}

/// An offer with the boxes already needed full of bundles like its median one. Nobody offered so much.
#[derive(Serialize)]
struct FullJson<'a> {
    nominal: bool,
    bundles_added: usize,
    /// Why it has no rank so.
    refused: Option<String>,
    #[serde(flatten)]
    whole: Option<WholeJson<'a>>,
}

#[derive(Serialize)]
struct DatesJson {
    quoted: String,
    sails: String,
    arrives: String,
    delivered: String,
}

/// What an offer comes to as a whole, where it is costed.
#[derive(Serialize)]
struct WholeJson<'a> {
    containers: usize,
    boxes: String,
    #[serde(flatten)]
    verdict: VerdictJson<'a>,
    /// Forwarders' and hauliers' offers that serve in no choice.
    fallen_offers: Vec<FallenJson<'a>>,
    fallen_offers_count: usize,
    landed: String,
    at_planning_rates: String,
    on_assumptions: String,
    on_starter_figures: String,
    on_lapsed_rates: String,
    lapsed_rates: Vec<CarriedJson<'a>>,
    /// What reaching the next step of a price would cost, and save.
    next_steps: &'a [String],
    first_to_lapse: Option<LapseJson<'a>>,
    /// More bundles like the median one, which would go into these boxes.
    would_still_fit: Option<FitsJson<'a>>,
    /// The most that is out at once.
    cash_peak: Option<PeakJson>,
}

#[derive(Serialize)]
struct LapseJson<'a> {
    what: &'a str,
    until: String,
}

#[derive(Serialize)]
struct FitsJson<'a> {
    bundles: usize,
    like: &'a str,
    mass_kg: String,
    gross_m2: Option<String>,
}

#[derive(Serialize)]
struct PeakJson {
    day: String,
    amount: String,
}

#[derive(Serialize)]
struct GroupJson<'a> {
    #[serde(flatten)]
    goods: GoodsJson<'a>,
    /// The offers of the first rank.
    best: Vec<&'a str>,
    /// The best first; those without a rank come last.
    offers: Vec<EntryJson<'a>>,
    /// The same with the boxes of each offer full, which nobody offered. It is empty where nothing more fits.
    full: Vec<EntryJson<'a>>,
}

/// The goods of a group. A key is `null` where the offers differ in it.
#[derive(Serialize)]
pub(super) struct GoodsJson<'a> {
    stone: Option<&'a str>,
    finish: Option<&'a str>,
    thickness_mm: Option<String>,
    quality: Option<&'a str>,
}

#[derive(Serialize)]
struct EntryJson<'a> {
    shipment: &'a str,
    rank: Option<usize>,
    /// Why it has none.
    no_rank: Option<String>,
    #[serde(flatten)]
    held: HeldJson<'a>,
    amounts: Vec<AmountJson>,
    /// The price of the wishes that its load breaks: no charge, and compared with the decision cost.
    broken_wishes: Option<String>,
    above_best: Option<GapJson>,
    /// The charges that make most of the difference to the best.
    because: Vec<CauseJson<'a>>,
}

/// What an offer holds of like goods.
#[derive(Serialize)]
struct HeldJson<'a> {
    goods: Vec<GoodsJson<'a>>,
    prices: Vec<String>,
    /// What is added to the price: a resin, a mesh.
    additions: Vec<AdditionJson<'a>>,
    slabs: usize,
    usable_m2: Option<String>,
    gross_m2: Option<String>,
    billed_m2: String,
    billed_percent_of_gross: Option<String>,
}

#[derive(Serialize)]
struct AdditionJson<'a> {
    name: &'a str,
    price: String,
}

/// A stage of the cost, or a sum of stages, per area of the footing.
#[derive(Serialize)]
struct AmountJson {
    what: &'static str,
    amount: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
}

#[derive(Serialize)]
struct GapJson {
    per_m2: Option<String>,
    per_ft2: Option<String>,
    on_area: String,
    percent: String,
    /// What of it rests on starter figures; null where neither offer has any.
    on_starter_figures: Option<String>,
}

#[derive(Serialize)]
struct CauseJson<'a> {
    leg: &'static str,
    charge: &'a str,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    on_area: String,
}

/// Writes a comparison.
///
/// # Errors
/// Where the output cannot be written.
pub fn compare(comparison: &Comparison, out: &mut dyn Write) -> io::Result<()> {
    let json = CompareJson {
        format: FORMAT,
        currency: comparison.currency.code(),
        footed: footed(comparison),
        offers: comparison.offers.iter().map(offer).collect(),
        groups: comparison.groups.iter().map(|one| group(comparison, one)).collect(),
    };
    write(&json, out)
}

/// What offers are held against each other on.
pub(super) fn footed(comparison: &Comparison) -> FootedJson<'_> {
    FootedJson {
        footing: comparison.footing.word(),
        footing_is_asked: comparison.is_asked,
        allowances: comparison
            .allowances
            .iter()
            .map(|(stone, quality, one)| AllowanceJson {
                stone,
                quality: quality.as_deref(),
                off_length_mm: one.take_off.length.figure(Units::Metric).to_string(),
                off_height_mm: one.take_off.height.figure(Units::Metric).to_string(),
                loss_percent: one.loss.hundredths().to_string(),
            })
            .collect(),
    }
}

/// The offers as they are quoted, with what each holds of some goods.
pub(super) fn quoted<'a>(comparison: &'a Comparison, goods: &Like) -> Vec<QuotedJson<'a>> {
    let entries = comparison.of_goods(goods).filter_map(|entry| {
        let offer = comparison.offers.get(entry.offer)?;
        Some(QuotedJson {
            shipment: &offer.name,
            supplier: offer.suppliers.join(", "),
            term: offer.terms.join(", "),
            yard: &offer.yard,
            price_valid_until: offer.valid_until().map(|day| day.to_string()),
            dates: dates(offer),
            goods: held(entry),
        })
    });
    entries.collect()
}

fn dates(offer: &Offer) -> DatesJson {
    let Dates { quoted, sails, arrives, delivered, .. } = &offer.dates;
    DatesJson {
        quoted: quoted.to_string(),
        sails: sails.to_string(),
        arrives: arrives.to_string(),
        delivered: delivered.to_string(),
    }
}

fn offer(offer: &Offer) -> OfferJson<'_> {
    OfferJson {
        shipment: &offer.name,
        supplier: offer.suppliers.join(", "),
        term: offer.terms.join(", "),
        yard: &offer.yard,
        nominal: offer.nominal,
        price_valid_until: offer.valid_until().map(|day| day.to_string()),
        price_ends_before_sailing: offer.ends_early.is_some(),
        dates: dates(offer),
        refused: offer.refusal(),
        whole: whole(offer),
        full: offer.full.as_ref().map(|full| FullJson {
            nominal: true,
            bundles_added: full.added,
            refused: full.offer.refusal(),
            whole: whole(&full.offer),
        }),
    }
}

fn whole(offer: &Offer) -> Option<WholeJson<'_>> {
    let whole = offer.outcome.as_ref().ok()?;
    let first_to_lapse = whole.first_lapse.as_ref();
    Some(WholeJson {
        containers: whole.plan.boxes.len(),
        boxes: kinds_of_box(&whole.plan),
        verdict: verdict_json(&offer.load, &whole.verdict),
        fallen_offers: whole.fallen.iter().take(MOST_OFFERS).map(fallen_json).collect(),
        fallen_offers_count: whole.fallen.len(),
        landed: plain(whole.landed),
        at_planning_rates: plain(whole.planned),
        on_assumptions: plain(whole.assumed()),
        on_starter_figures: plain(whole.starters.sum),
        on_lapsed_rates: plain(whole.on_lapsed()),
        lapsed_rates: carried_json(&whole.carried),
        next_steps: &whole.next_steps,
        first_to_lapse: first_to_lapse
            .map(|(until, what)| LapseJson { what, until: until.to_string() }),
        would_still_fit: whole.fits.as_ref().map(|fits| FitsJson {
            bundles: fits.bundles,
            like: &fits.like,
            mass_kg: fits.mass.to_kg(1).to_string(),
            gross_m2: m2(fits.gross.as_ref()),
        }),
        cash_peak: whole
            .peak
            .map(|(day, most)| PeakJson { day: day.to_string(), amount: plain(most) }),
    })
}

fn group<'a>(comparison: &'a Comparison, group: &'a Group) -> GroupJson<'a> {
    let is_best = |entry: &&Entry| entry.standing.as_ref().is_ok_and(|one| one.rank == 1);
    GroupJson {
        goods: goods(&group.goods),
        best: group.entries.iter().filter(is_best).map(|one| name(comparison, one)).collect(),
        offers: group.entries.iter().map(|one| entry(comparison, one)).collect(),
        full: comparison
            .full
            .iter()
            .filter(|full| full.goods == group.goods)
            .flat_map(|full| &full.entries)
            .map(|one| entry(comparison, one))
            .collect(),
    }
}

fn name<'a>(comparison: &'a Comparison, entry: &Entry) -> &'a str {
    comparison.offers.get(entry.offer).map_or("", |offer| offer.name.as_str())
}

pub(super) fn goods(like: &Like) -> GoodsJson<'_> {
    GoodsJson {
        stone: like.stone.as_deref(),
        finish: like.finish.as_deref(),
        thickness_mm: like.thickness.map(|own| own.figure(Units::Metric).to_string()),
        quality: like.quality.as_ref().and_then(|word| word.as_deref()),
    }
}

fn entry<'a>(comparison: &'a Comparison, entry: &'a Entry) -> EntryJson<'a> {
    let part = &entry.part;
    let standing = entry.standing.as_ref().ok();
    EntryJson {
        shipment: name(comparison, entry),
        rank: standing.map(|standing| standing.rank),
        no_rank: entry.standing.as_ref().err().map(reason),
        held: held(entry),
        amounts: part
            .sums
            .iter()
            .flat_map(Sums::amounts)
            .map(|(what, amount)| figures(comparison, entry, what, amount))
            .collect(),
        broken_wishes: part.sums.as_ref().and_then(|sums| sums.wishes().map(plain)),
        above_best: standing.map(|Standing { above, on_starters, .. }| GapJson {
            per_m2: per(Some(&above.per_area), Units::Metric),
            per_ft2: per(Some(&above.per_area), Units::Us),
            on_area: plain(above.on_area),
            percent: above.percent.to_string(),
            on_starter_figures: on_starters.as_ref().map(|part| plain(part.on_area)),
        }),
        because: standing
            .iter()
            .flat_map(|standing| &standing.because)
            .map(|cause| CauseJson {
                leg: cause.leg.word(),
                charge: &cause.name,
                per_m2: per(Some(&cause.per_area), Units::Metric),
                per_ft2: per(Some(&cause.per_area), Units::Us),
                on_area: plain(cause.on_area),
            })
            .collect(),
    }
}

fn held(entry: &Entry) -> HeldJson<'_> {
    let part = &entry.part;
    HeldJson {
        goods: part.goods.iter().map(goods).collect(),
        prices: part.prices.iter().map(ToString::to_string).collect(),
        additions: part
            .additions
            .iter()
            .map(|(name, price)| AdditionJson { name, price: price.to_string() })
            .collect(),
        slabs: part.slabs,
        usable_m2: m2(part.usable.as_ref().ok()),
        gross_m2: m2(part.gross.as_ref().ok()),
        billed_m2: part.billed.to_m2(6).to_string(),
        billed_percent_of_gross: part.billed_share().map(|share| share.to_string()),
    }
}

/// An area in square metres.
fn m2(surface: Option<&Surface>) -> Option<String> {
    surface?.figure(Units::Metric, 6).map(|figure| figure.to_string())
}

fn figures(
    comparison: &Comparison,
    entry: &Entry,
    what: &'static str,
    amount: Money,
) -> AmountJson {
    let each = entry.part.per(amount, comparison.footing);
    AmountJson {
        what,
        amount: plain(amount),
        per_m2: per(each.as_ref(), Units::Metric),
        per_ft2: per(each.as_ref(), Units::Us),
    }
}

pub(super) fn per(each: Option<&PerArea>, units: Units) -> Option<String> {
    each.and_then(|each| each.figure(units)).map(|figure| figure.to_string())
}
