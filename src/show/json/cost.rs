//! A landed cost, for scripts.

use std::collections::BTreeMap;
use std::io::{self, Write};

use serde::{Serialize, Serializer};

use super::parts::{
    CarriedJson, ChargeJson, FORMAT, FallenJson, MOST_OFFERS, SourceJson, carried_json,
    charge_json, fallen_json, plain, source_json, write,
};
use super::verdict::{VerdictJson, verdict_json};
use crate::bill::{Holding, together};
use crate::charges::Choice;
use crate::choose::{Costed, Other, OwnLeg};
use crate::cost::{Breakdown, By, Landed, Part};
use crate::load::Plan;
use crate::quantity::{Money, UnitCost};
use crate::spread::Share;
use crate::trade::{Basis, Shipment, Treatment};

#[derive(Serialize)]
struct CostJson<'a> {
    format: u32,
    shipment: &'a str,
    /// The [[way]] to buy it; none for the shipment as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    way: Option<&'a str>,
    currency: &'a str,
    nominal: bool,
    #[serde(flatten)]
    verdict: VerdictJson<'a>,
    #[serde(flatten)]
    headline: HeadlineJson<'a>,
    slabs: SlabsJson<'a>,
    /// The sums of slabs, where another breakdown is asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    parts: Vec<PartJson<'a>>,
    charges: Vec<ListedJson<'a>>,
    total: String,
    decision_total: String,
    area_m2: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    /// What else would serve, and what it would come to: the nearest, and how many there are.
    other_offers: Vec<OtherJson<'a>>,
    other_offers_count: usize,
    /// Offers that serve in no choice: the first, and how many there are.
    fallen_offers: Vec<FallenJson<'a>>,
    fallen_offers_count: usize,
    /// What is missing of the least order of a supplier.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    under_least_order: Vec<&'a str>,
    inside_the_price: Vec<OwnLegJson>,
    notes: Vec<&'a str>,
}

/// What the page opens with.
#[derive(Serialize)]
struct HeadlineJson<'a> {
    slab_count: usize,
    bundle_count: usize,
    /// The mass of the bundles with their timber.
    mass_kg: String,
    /// How many containers of each kind.
    containers: Vec<KindJson<'a>>,
    dates: DatesJson,
    /// The offers it rests on.
    offers: Vec<ChosenJson<'a>>,
    /// The total by how firm it is.
    by_basis: Vec<BasisJson>,
    /// How much of the total is converted at a planning rate.
    at_planning_rates: String,
    /// What rests on figures to start with, and where they stand.
    on_starter_figures: String,
    starter_figures: Vec<SourceJson<'a>>,
    /// What has lapsed and serves on, as asked for.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    lapsed_rates: Vec<CarriedJson<'a>>,
    first_to_lapse: Option<LapseJson<'a>>,
}

/// Containers of one kind.
#[derive(Serialize)]
struct KindJson<'a> {
    #[serde(rename = "type")]
    kind: &'a str,
    class: Option<&'a str>,
    count: usize,
}

#[derive(Serialize)]
struct DatesJson {
    quoted: String,
    sails: String,
    arrives: String,
    /// The days of its customs entries, each once.
    entered: Vec<String>,
    delivered: String,
}

/// What of the total is quoted, law or assumed.
#[derive(Serialize)]
struct BasisJson {
    basis: &'static str,
    amount: String,
    percent: Option<String>,
}

/// The price or rate that ends first.
#[derive(Serialize)]
struct LapseJson<'a> {
    until: String,
    what: &'a str,
    source: SourceJson<'a>,
}

/// An offer of a choice.
#[derive(Serialize)]
struct ChosenJson<'a> {
    table: &'static str,
    offer: &'a str,
}

/// A choice of offers.
#[derive(Serialize)]
struct OtherJson<'a> {
    offers: Vec<ChosenJson<'a>>,
    decision_total: String,
    broken_wishes: String,
}

/// A leg that the seller's price contains, at our own rates: a memo, in no sum.
#[derive(Serialize)]
struct OwnLegJson {
    leg: &'static str,
    own_rates: String,
}

/// The slabs, made one by one as they are written: a million of them need no room.
struct SlabsJson<'a> {
    shipment: &'a Shipment,
    landed: &'a Landed,
    plan: &'a Plan,
    /// The charges that are listed together.
    lists: &'a [Vec<usize>],
}

#[derive(Serialize)]
struct SlabJson<'a> {
    slab: &'a str,
    bundle: &'a str,
    container: &'a str,
    line: &'a str,
    billed_area_m2: String,
    mass_kg: String,
    cost: String,
    /// Its shares of what its cost is the sum of.
    charges: Vec<ShareJson>,
    /// Its shares of expensed, recoverable and notional charges.
    not_in_cost: Vec<ShareJson>,
}

/// What one bundle, container or line comes to.
#[derive(Serialize)]
struct PartJson<'a> {
    bundle: Option<&'a str>,
    container: Option<&'a str>,
    line: Option<&'a str>,
    slabs: usize,
    billed_area_m2: String,
    cost: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
}

/// A charge, and under which charge the slabs list their share of it: the first of those that are called
/// alike and that the same slabs share by the same key, such as one for each box. Listed each by itself, the
/// shares would grow with slabs times boxes.
#[derive(Serialize)]
struct ListedJson<'a> {
    #[serde(flatten)]
    charge: ChargeJson<'a>,
    listed_under: usize,
}

/// What a slab bears of the charges listed under one.
#[derive(Serialize)]
struct ShareJson {
    charge: usize,
    amount: String,
    /// How many minor units of it were left over after the exact shares were cut.
    leftover: u32,
}

/// Writes a landed cost.
///
/// # Errors
/// Where the output cannot be written.
pub fn cost(
    shipment: &Shipment,
    costed: &Costed,
    own: &[OwnLeg],
    by: By,
    out: &mut dyn Write,
) -> io::Result<()> {
    let landed = &costed.landed;
    let area = landed.headline.area;
    let lists = together(&landed.charges);
    let mut under = vec![0; landed.charges.len()];
    for list in &lists {
        for at in list {
            if let (Some(under), Some(first)) = (under.get_mut(*at), list.first()) {
                *under = *first;
            }
        }
    }
    let json = CostJson {
        format: FORMAT,
        shipment: &shipment.name,
        way: shipment.way.as_deref(),
        currency: landed.currency.code(),
        nominal: shipment.is_nominal(),
        verdict: verdict_json(&shipment.load, &costed.verdict),
        headline: headline_json(shipment, costed),
        slabs: SlabsJson { shipment, landed, plan: &costed.plan, lists: &lists },
        parts: parts(shipment, landed, &costed.plan, by),
        charges: landed
            .charges
            .iter()
            .zip(&under)
            .enumerate()
            .map(|(at, (charge, under))| ListedJson {
                charge: charge_json(at, charge),
                listed_under: *under,
            })
            .collect(),
        total: plain(landed.total),
        decision_total: plain(landed.decision),
        area_m2: area.to_m2(6).to_string(),
        per_m2: UnitCost::per_m2(landed.total, area).map(|cost| cost.figure().to_string()),
        per_ft2: UnitCost::per_ft2(landed.total, area).map(|cost| cost.figure().to_string()),
        other_offers: costed.others.iter().take(MOST_OFFERS).map(other_json).collect(),
        other_offers_count: costed.others.len(),
        fallen_offers: costed.fallen.iter().take(MOST_OFFERS).map(fallen_json).collect(),
        fallen_offers_count: costed.fallen.len(),
        under_least_order: costed.under_least.iter().map(|one| one.what.as_str()).collect(),
        inside_the_price: own
            .iter()
            .map(|one| OwnLegJson { leg: one.leg.word(), own_rates: plain(one.amount) })
            .collect(),
        notes: landed.notes.iter().chain(&landed.claims).map(|note| note.0.as_str()).collect(),
    };
    write(&json, out)
}

fn headline_json<'a>(shipment: &'a Shipment, costed: &'a Costed) -> HeadlineJson<'a> {
    let landed = &costed.landed;
    let head = &landed.headline;
    let mut kinds: BTreeMap<(&str, Option<&str>), usize> = BTreeMap::new();
    for variant in costed.plan.boxes.iter().filter_map(|filled| costed.plan.variant(filled)) {
        *kinds.entry((&variant.container.id, variant.class.as_deref())).or_default() += 1;
    }
    let kinds = kinds.into_iter();
    let dates = &shipment.dates;
    let basis = |(basis, amount): &(Basis, Money)| BasisJson {
        basis: basis.word(),
        amount: plain(*amount),
        percent: landed.percent_of_total(*amount).map(|percent| percent.to_string()),
    };
    HeadlineJson {
        slab_count: shipment.slabs.len(),
        bundle_count: shipment.bundles.len(),
        mass_kg: head.mass.to_kg(1).to_string(),
        containers: kinds.map(|((kind, class), count)| KindJson { kind, class, count }).collect(),
        dates: DatesJson {
            quoted: dates.quoted.to_string(),
            sails: dates.sails.to_string(),
            arrives: dates.arrives.to_string(),
            entered: shipment.days_of_entry().iter().map(ToString::to_string).collect(),
            delivered: dates.delivered.to_string(),
        },
        offers: chosen_json(&costed.choice),
        by_basis: head.by_basis.iter().map(basis).collect(),
        at_planning_rates: plain(head.planned),
        on_starter_figures: plain(head.starters.sum),
        starter_figures: head.starters.places.iter().map(source_json).collect(),
        lapsed_rates: carried_json(&head.carried),
        first_to_lapse: head.first_lapse.as_ref().map(|(until, what, place)| LapseJson {
            until: until.to_string(),
            what,
            source: source_json(place),
        }),
    }
}

fn chosen_json(choice: &Choice) -> Vec<ChosenJson<'_>> {
    let offers = choice.offers().into_iter();
    offers.map(|(table, offer)| ChosenJson { table: table.word(), offer }).collect()
}

/// The sums of slabs by bundle, container or line; none by slab, as the slabs are there.
fn parts<'a>(
    shipment: &'a Shipment,
    landed: &'a Landed,
    plan: &'a Plan,
    by: By,
) -> Vec<PartJson<'a>> {
    if by == By::Slab {
        return Vec::new();
    }
    let breakdown = Breakdown::new(shipment, landed, plan);
    let parts = breakdown.parts(by).unwrap_or_default().into_iter();
    parts.filter_map(|part| part_json(shipment, &breakdown, &part, by)).collect()
}

fn part_json<'a>(
    shipment: &'a Shipment,
    breakdown: &Breakdown<'a>,
    part: &Part,
    by: By,
) -> Option<PartJson<'a>> {
    let slab = shipment.slabs.get(part.slab)?;
    let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?)?;
    let line = shipment.lines.get(usize::try_from(slab.line).ok()?)?;
    // A bundle travels in one container; a line may lie in several.
    let in_box = matches!(by, By::Bundle | By::Container);
    Some(PartJson {
        bundle: (by == By::Bundle).then_some(&*bundle.id),
        container: in_box.then(|| breakdown.box_label(slab)),
        line: (by == By::Line).then_some(&*line.id),
        slabs: part.slabs,
        billed_area_m2: part.area.to_m2(6).to_string(),
        cost: plain(part.cost),
        per_m2: part.per_m2().map(|cost| cost.figure().to_string()),
        per_ft2: part.per_ft2().map(|cost| cost.figure().to_string()),
    })
}

fn other_json(other: &Other) -> OtherJson<'_> {
    OtherJson {
        offers: chosen_json(&other.choice),
        decision_total: plain(other.worth.decision),
        broken_wishes: plain(other.worth.wishes),
    }
}

impl Serialize for SlabsJson<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { shipment, landed, plan, lists } = *self;
        let first = |list: &Vec<usize>| landed.charges.get(*list.first()?);
        let sets = lists.iter().filter_map(first).map(|charge| landed.sets.of(charge.scope.set));
        let holding = Holding::new(&sets.collect::<Vec<_>>(), shipment.slabs.len());
        let breakdown = Breakdown::new(shipment, landed, plan);
        let slab = |index: usize| {
            let slab = shipment.slabs.get(index)?;
            let mut own: Vec<usize> = holding.of(index).collect();
            own.sort_unstable();
            let (mut charges, mut not_in_cost) = (Vec::new(), Vec::new());
            for at in own {
                let list = lists.get(at)?;
                let charge = first(list)?;
                let position = landed.sets.position(charge.scope.set, index)?;
                let Share { minor, leftover } = landed.shares.of(at, position);
                let in_cost = charge.treatment == Treatment::Stock;
                let shares = if in_cost { &mut charges } else { &mut not_in_cost };
                let amount = plain(Money::from_minor(minor, landed.currency));
                shares.push(ShareJson { charge: *list.first()?, amount, leftover });
            }
            let bundle = usize::try_from(slab.bundle).ok()?;
            Some(SlabJson {
                slab: &slab.id,
                bundle: &shipment.bundles.get(bundle)?.id,
                container: breakdown.box_label(slab),
                line: &shipment.lines.get(usize::try_from(slab.line).ok()?)?.id,
                billed_area_m2: slab.billed_area.to_m2(6).to_string(),
                mass_kg: slab.mass.to_kg(1).to_string(),
                cost: plain(landed.slab_cost(index)),
                charges,
                not_in_cost,
            })
        };
        serializer.collect_seq((0..shipment.slabs.len()).filter_map(slab))
    }
}
