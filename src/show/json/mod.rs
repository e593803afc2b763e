//! JSON for scripts, from structs of its own: renaming a field inside the program cannot change
//! what a script reads. Integers are numbers, decimals are strings in full minor units.

use std::io::{self, Write};

use serde::Serialize;

use super::check::Checked;
use super::load::not_judged;
use crate::cost::{
    Cash, Charge, Conversion, Costed, Explanation, Landed, OwnLeg, Proven, shares as shares_of,
};
use crate::decide::Comparison;
use crate::fault::Place;
use crate::load::{BoxSummary, Limit, Part, Plan, Proof, RoadReport, Standing, mass_sheet};
use crate::quantity::{Decimal, Money, UnitCost};
use crate::trade::{Date, LimitKind, Shipment, Tariffs, Treatment, Window};

/// The number that changes when the meaning of a field does.
pub(super) const FORMAT: u32 = 1;

#[derive(Serialize)]
struct CostJson<'a> {
    format: u32,
    shipment: &'a str,
    currency: &'a str,
    nominal: bool,
    slabs: Vec<SlabJson<'a>>,
    charges: Vec<ChargeJson<'a>>,
    total: String,
    decision_total: String,
    area_m2: String,
    per_m2: Option<String>,
    per_ft2: Option<String>,
    inside_the_price: Vec<OwnLegJson>,
    notes: Vec<&'a str>,
}

/// A leg that the seller's price contains, at our own rates: a memo, in no sum.
#[derive(Serialize)]
struct OwnLegJson {
    leg: &'static str,
    own_rates: String,
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
    charges: Vec<ShareJson>,
}

#[derive(Serialize)]
struct ShareJson {
    charge: usize,
    amount: String,
}

#[derive(Serialize)]
struct ChargeJson<'a> {
    charge: usize,
    name: &'a str,
    leg: &'static str,
    scope: &'static str,
    of: &'a str,
    key: &'static str,
    amount: String,
    currency: &'static str,
    book_amount: String,
    treatment: &'static str,
    basis: &'static str,
    exchange: Option<ExchangeJson>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    parts: Vec<PartJson<'a>>,
    sources: Vec<SourceJson<'a>>,
}

/// A part that is booked at a rate of its own: a deposit, a balance.
#[derive(Serialize)]
struct PartJson<'a> {
    name: &'a str,
    amount: String,
    book_amount: String,
    exchange: ExchangeJson,
}

#[derive(Serialize)]
struct ExchangeJson {
    quote: String,
    #[serde(rename = "use")]
    used_for: &'static str,
    date: String,
    file: String,
    line: usize,
}

#[derive(Serialize)]
struct SourceJson<'a> {
    file: &'a str,
    line: usize,
}

/// Writes a landed cost.
///
/// # Errors
/// Where the output cannot be written.
pub fn cost(
    shipment: &Shipment,
    costed: &Costed,
    own: &[OwnLeg],
    out: &mut dyn Write,
) -> io::Result<()> {
    let landed = &costed.landed;
    let area = landed.headline.area;
    let json = CostJson {
        format: FORMAT,
        shipment: &shipment.name,
        currency: landed.currency.code(),
        nominal: shipment.is_nominal(),
        slabs: slabs(shipment, landed, &costed.plan),
        charges: landed
            .charges
            .iter()
            .enumerate()
            .map(|(at, charge)| charge_json(at, charge))
            .collect(),
        total: plain(landed.total),
        decision_total: plain(landed.decision),
        area_m2: area.to_m2(6).to_string(),
        per_m2: UnitCost::per_m2(landed.total, area).map(|cost| cost.figure().to_string()),
        per_ft2: UnitCost::per_ft2(landed.total, area).map(|cost| cost.figure().to_string()),
        inside_the_price: own
            .iter()
            .map(|one| OwnLegJson { leg: one.leg.word(), own_rates: plain(one.amount) })
            .collect(),
        notes: landed.notes.iter().chain(&landed.claims).map(|note| note.0.as_str()).collect(),
    };
    write(&json, out)
}

pub(super) fn write(json: &impl Serialize, out: &mut dyn Write) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut *out, json)?;
    writeln!(out)
}

/// An amount in full minor units, without currency or thousands marks.
pub(super) fn plain(money: Money) -> String {
    money.amount().to_string()
}

fn slabs<'a>(shipment: &'a Shipment, landed: &Landed, plan: &'a Plan) -> Vec<SlabJson<'a>> {
    let mut shares: Vec<Vec<ShareJson>> = Vec::new();
    shares.resize_with(shipment.slabs.len(), Vec::new);
    let of_charges = shares_of(shipment, landed).unwrap_or_default();
    for (at, (charge, of_slabs)) in landed.charges.iter().zip(of_charges).enumerate() {
        for (slab, minor) in landed.sets.members(charge.scope.set).zip(of_slabs.iter()) {
            if charge.treatment == Treatment::Stock
                && let Some(list) = shares.get_mut(slab)
            {
                let amount = plain(Money::from_minor(*minor, landed.currency));
                list.push(ShareJson { charge: at, amount });
            }
        }
    }
    let mut labels = vec![""; shipment.bundles.len()];
    for filled in &plan.boxes {
        for bundle in &filled.bundles {
            if let Some(label) = labels.get_mut(*bundle) {
                *label = &filled.label;
            }
        }
    }
    let rows = shipment.slabs.iter().zip(shares).enumerate();
    rows.filter_map(|(index, (slab, charges))| {
        let bundle = usize::try_from(slab.bundle).ok()?;
        Some(SlabJson {
            slab: &slab.id,
            bundle: &shipment.bundles.get(bundle)?.id,
            container: labels.get(bundle)?,
            line: &shipment.lines.get(usize::try_from(slab.line).ok()?)?.id,
            billed_area_m2: slab.billed_area.to_m2(6).to_string(),
            mass_kg: slab.mass.to_kg(1).to_string(),
            cost: plain(landed.slab_cost(index)),
            charges,
        })
    })
    .collect()
}

fn charge_json(at: usize, charge: &Charge) -> ChargeJson<'_> {
    ChargeJson {
        charge: at,
        name: &charge.name,
        leg: charge.leg.word(),
        scope: charge.scope.kind.word(),
        of: &charge.scope.of,
        key: charge.key.word(),
        amount: plain(charge.amount()),
        currency: charge.amount().currency().code(),
        book_amount: plain(charge.book()),
        treatment: charge.treatment.word(),
        basis: charge.basis.word(),
        exchange: charge.exchange().map(exchange_json),
        parts: charge
            .priced
            .parts
            .iter()
            .map(|part| PartJson {
                name: &part.name,
                amount: part.amount.shown(6),
                book_amount: plain(part.book),
                exchange: exchange_json(&part.exchange),
            })
            .collect(),
        sources: charge
            .sources
            .iter()
            .map(|place| SourceJson { file: &place.file, line: place.line })
            .collect(),
    }
}

fn exchange_json(exchange: &Conversion) -> ExchangeJson {
    ExchangeJson {
        quote: exchange.quote.to_string(),
        used_for: exchange.used_for.word(),
        date: exchange.on.to_string(),
        file: exchange.place.file.to_string(),
        line: exchange.place.line,
    }
}

#[derive(Serialize)]
struct CashJson<'a> {
    format: u32,
    shipment: &'a str,
    currency: &'a str,
    payments: Vec<FlowJson<'a>>,
    net: String,
    stock: String,
    period: String,
    recoverable: String,
    returned: String,
    interest: Option<String>,
    exchange_differences: Vec<DifferenceJson<'a>>,
}

#[derive(Serialize)]
struct FlowJson<'a> {
    due: String,
    name: &'a str,
    treatment: Option<&'static str>,
    amount: String,
    currency: &'static str,
    book_amount: String,
    days: Option<i64>,
    interest: Option<String>,
    source: Option<SourceJson<'a>>,
}

#[derive(Serialize)]
struct DifferenceJson<'a> {
    paid: String,
    name: &'a str,
    amount: String,
    currency: &'static str,
    quote: String,
    booked: String,
    settled: String,
    loss: String,
}

/// Writes a payment calendar.
///
/// # Errors
/// Where the output cannot be written.
pub fn cash(shipment: &Shipment, cash: &Cash, out: &mut dyn Write) -> io::Result<()> {
    let flows = cash.flows.iter().map(|flow| FlowJson {
        due: flow.day.to_string(),
        name: &flow.name,
        treatment: flow.treatment.map(Treatment::word),
        amount: plain(flow.amount),
        currency: flow.amount.currency().code(),
        book_amount: plain(flow.book),
        days: flow.interest.map(|(days, _)| days),
        interest: flow.interest.map(|(_, interest)| plain(interest)),
        source: flow.place.as_ref().map(source_json),
    });
    let differences = cash.differences.iter().map(|one| DifferenceJson {
        paid: one.day.to_string(),
        name: &one.name,
        amount: plain(one.amount),
        currency: one.amount.currency().code(),
        quote: one.exchange.quote.to_string(),
        booked: plain(one.booked),
        settled: plain(one.settled),
        loss: plain(one.loss),
    });
    let json = CashJson {
        format: FORMAT,
        shipment: &shipment.name,
        currency: cash.currency.code(),
        payments: flows.collect(),
        net: plain(cash.net),
        stock: plain(cash.stock),
        period: plain(cash.period),
        recoverable: plain(cash.recoverable),
        returned: plain(cash.returned),
        interest: cash.interest.map(|(interest, _)| plain(interest)),
        exchange_differences: differences.collect(),
    };
    write(&json, out)
}

#[derive(Serialize)]
struct CompareJson<'a> {
    format: u32,
    currency: &'a str,
    best: &'a str,
    offers: Vec<OfferJson<'a>>,
}

#[derive(Serialize)]
struct OfferJson<'a> {
    shipment: &'a str,
    supplier: &'a str,
    term: &'a str,
    yard: &'a str,
    nominal: bool,
    area_m2: String,
    containers: usize,
    landed: String,
    decision: String,
    landed_per_m2: Option<String>,
    landed_per_ft2: Option<String>,
    decision_per_m2: Option<String>,
    decision_per_ft2: Option<String>,
    above_best_per_m2: String,
    above_best_per_ft2: String,
    above_best_on_area: String,
    above_best_percent: String,
}

/// Writes a comparison.
///
/// # Errors
/// Where the output cannot be written.
pub fn compare(comparison: &Comparison, out: &mut dyn Write) -> io::Result<()> {
    let figure = |cost: Option<UnitCost>| cost.map(|cost| cost.figure().to_string());
    let offers = comparison.offers.iter().zip(&comparison.above_best);
    let json = CompareJson {
        format: FORMAT,
        currency: comparison.currency.code(),
        best: comparison.offers.get(comparison.best).map_or("", |offer| &offer.name),
        offers: offers
            .map(|(offer, gap)| OfferJson {
                shipment: &offer.name,
                supplier: &offer.supplier,
                term: &offer.term,
                yard: &offer.yard,
                nominal: offer.nominal,
                area_m2: offer.area.to_m2(6).to_string(),
                containers: offer.containers,
                landed: plain(offer.landed),
                decision: plain(offer.decision),
                landed_per_m2: figure(offer.per_m2(offer.landed)),
                landed_per_ft2: figure(offer.per_ft2(offer.landed)),
                decision_per_m2: figure(offer.per_m2(offer.decision)),
                decision_per_ft2: figure(offer.per_ft2(offer.decision)),
                above_best_per_m2: gap.per_m2.to_string(),
                above_best_per_ft2: gap.per_ft2.to_string(),
                above_best_on_area: plain(gap.on_area),
                above_best_percent: gap.percent.to_string(),
            })
            .collect(),
    };
    write(&json, out)
}

#[derive(Serialize)]
struct LoadJson<'a> {
    format: u32,
    shipment: &'a str,
    currency: &'a str,
    offers: Vec<ServingJson<'a>>,
    containers: Vec<ContainerJson<'a>>,
    cost: String,
    verdict: &'static str,
    /// What it breaks, in sentences.
    broken: &'a [String],
    /// What the wishes come to that the load breaks: no part of `cost`.
    broken_wishes: String,
    /// What both together cannot go below.
    lower_bound: String,
    proof: &'static str,
    proof_note: Option<&'a str>,
}

#[derive(Serialize)]
struct ServingJson<'a> {
    table: &'static str,
    offer: &'a str,
}

/// A charge that a container bears: one of those its cost is the sum of.
#[derive(Serialize)]
struct CostPartJson<'a> {
    name: &'a str,
    amount: String,
    source: SourceJson<'a>,
}

#[derive(Serialize)]
struct ContainerJson<'a> {
    container: &'a str,
    #[serde(rename = "type")]
    kind: &'a str,
    class: Option<&'a str>,
    number: Option<String>,
    seal: Option<&'a str>,
    cost: String,
    cost_parts: Vec<CostPartJson<'a>>,
    bundles: Vec<StandingJson<'a>>,
    cargo_kg: String,
    limit_kg: String,
    binding: &'a str,
    binding_kind: &'static str,
    gross_kg: String,
    cog_x_mm: Option<String>,
    cog_y_mm: Option<String>,
    cog_z_mm: Option<String>,
    front_half_percent: Option<String>,
    left_kg: String,
    binding_source: SourceJson<'a>,
    limits: Vec<LimitJson<'a>>,
    line_load_kg_per_m: Option<String>,
    line_load_limit_kg_per_m: String,
    roads: Vec<RoadJson<'a>>,
    roads_not_judged: Vec<String>,
    mass_sheet: Option<MassSheetJson>,
}

#[derive(Serialize)]
struct LimitJson<'a> {
    name: &'a str,
    kind: &'static str,
    cargo_kg: String,
    source: SourceJson<'a>,
}

#[derive(Serialize)]
struct RoadJson<'a> {
    rig: &'a str,
    road: &'a str,
    at_origin: bool,
    permit: Option<&'a str>,
    doors: &'static str,
    legal: bool,
    uncovered: &'a [String],
    axles: Vec<AxleJson>,
    rules: Vec<RuleJson<'a>>,
}

#[derive(Serialize)]
struct AxleJson {
    group: &'static str,
    at_mm: String,
    load_kg: String,
}

#[derive(Serialize)]
struct RuleJson<'a> {
    name: &'a str,
    first_axle: usize,
    last_axle: usize,
    load_kg: String,
    limit_kg: String,
    is_least: bool,
    holds: bool,
    cargo_left_kg: Option<String>,
    source: SourceJson<'a>,
}

/// The mass of the packed container by adding up; a verified gross mass only without an estimate.
#[derive(Serialize)]
struct MassSheetJson {
    bundles_kg: String,
    dunnage_kg: String,
    tare_kg: String,
    sum_kg: String,
    estimate: bool,
}

#[derive(Serialize)]
struct StandingJson<'a> {
    bundle: &'a str,
    x_mm: Option<i64>,
    y_mm: Option<i64>,
    length_mm: i64,
    width_mm: i64,
    height_mm: i64,
    mass_kg: String,
    weighed: bool,
}

/// Writes a load.
///
/// # Errors
/// Where the output cannot be written.
pub fn load(
    shipment: &Shipment,
    costed: &Costed,
    summaries: &[BoxSummary<'_>],
    broken: &[String],
    out: &mut dyn Write,
) -> io::Result<()> {
    let plan = &costed.plan;
    let offers = costed.choice.offers();
    let json = LoadJson {
        format: FORMAT,
        shipment: &shipment.name,
        currency: plan.cost.currency().code(),
        offers: offers.map(|(table, offer)| ServingJson { table: table.word(), offer }).collect(),
        containers: summaries.iter().map(|one| container_json(shipment, one)).collect(),
        cost: plain(plan.cost),
        verdict: if broken.is_empty() { "holds" } else { "broken" },
        broken,
        broken_wishes: plain(plan.wishes),
        lower_bound: plain(plan.lower_bound),
        proof: plan.proof.word(),
        proof_note: match &plan.proof {
            Proof::Gap(reason) => Some(reason),
            Proof::Proven | Proof::Given => None,
        },
    };
    write(&json, out)
}

fn container_json<'a>(shipment: &Shipment, one: &'a BoxSummary<'a>) -> ContainerJson<'a> {
    let text = |figure: Option<Decimal>| figure.map(|figure| figure.to_string());
    // Where the mass leaves room for a bundle and the floor does not, the floor is what binds.
    let by_room = one.room.and_then(|(room, _)| room.binding());
    let parts = one.variant.parts.iter().filter(|part| !part.amount.is_zero());
    ContainerJson {
        container: &one.filled.label,
        kind: &one.variant.container.id,
        class: one.variant.class.as_deref(),
        number: one.filled.number.as_ref().map(ToString::to_string),
        seal: one.filled.seal.as_deref(),
        cost: plain(one.variant.cost),
        cost_parts: parts.map(part_json).collect(),
        bundles: one.standing.iter().map(standing_json).collect(),
        cargo_kg: one.cargo.to_kg(1).to_string(),
        limit_kg: one.binding.cargo.to_kg(1).to_string(),
        binding: by_room.unwrap_or(&one.binding.name),
        binding_kind: by_room.map_or(one.binding.kind, |_| LimitKind::Equipment).word(),
        gross_kg: one.gross.to_kg(1).to_string(),
        cog_x_mm: text(one.cog_x),
        cog_y_mm: text(one.cog_y),
        cog_z_mm: text(one.cog_z),
        front_half_percent: text(one.front_half),
        left_kg: one.left.to_kg(1).to_string(),
        binding_source: source_json(&one.binding.place),
        limits: one.variant.limits.iter().map(limit_json).collect(),
        line_load_kg_per_m: one.station.as_ref().map(|at| at.load.to_kg_per_m(1).to_string()),
        line_load_limit_kg_per_m: one.variant.container.line_load.to_kg_per_m(1).to_string(),
        roads: one.roads.iter().map(road_json).collect(),
        roads_not_judged: not_judged(shipment, one),
        mass_sheet: mass_sheet(one).ok().map(|sheet| MassSheetJson {
            bundles_kg: sheet.bundles.to_kg(1).to_string(),
            dunnage_kg: sheet.dunnage.mass.to_kg(1).to_string(),
            tare_kg: sheet.tare.mass.to_kg(1).to_string(),
            sum_kg: sheet.total.to_kg(1).to_string(),
            estimate: sheet.is_estimate(),
        }),
    }
}

fn source_json(place: &Place) -> SourceJson<'_> {
    SourceJson { file: &place.file, line: place.line }
}

fn part_json(part: &Part) -> CostPartJson<'_> {
    CostPartJson { name: &part.name, amount: plain(part.amount), source: source_json(&part.place) }
}

fn limit_json(limit: &Limit) -> LimitJson<'_> {
    LimitJson {
        name: &limit.name,
        kind: limit.kind.word(),
        cargo_kg: limit.cargo.to_kg(1).to_string(),
        source: source_json(&limit.place),
    }
}

fn road_json<'a>(report: &'a RoadReport<'_>) -> RoadJson<'a> {
    let axles = report.axles.iter().map(|axle| AxleJson {
        group: axle.group.word(),
        at_mm: axle.at.to_mm(1).to_string(),
        load_kg: axle.load.to_kg(1).to_string(),
    });
    let rules = report.checks.iter().map(|check| RuleJson {
        name: &check.name,
        first_axle: check.axles.0,
        last_axle: check.axles.1,
        load_kg: check.load.to_kg(1).to_string(),
        limit_kg: check.most.to_kg(1).to_string(),
        is_least: check.is_least,
        holds: check.holds,
        cargo_left_kg: check.left.map(|left| left.to_kg(1).to_string()),
        source: source_json(&check.place),
    });
    RoadJson {
        rig: &report.road.rig.id,
        road: &report.road.law.id,
        at_origin: report.road.at_origin,
        permit: report.road.law.permit.as_deref(),
        doors: report.doors.word(),
        legal: report.is_legal(),
        uncovered: &report.uncovered,
        axles: axles.collect(),
        rules: rules.collect(),
    }
}

fn standing_json<'a>(standing: &Standing<'a>) -> StandingJson<'a> {
    let bundle = standing.bundle;
    StandingJson {
        bundle: &bundle.id,
        x_mm: standing.at.map(|at| at.0),
        y_mm: standing.at.map(|at| at.1),
        length_mm: standing.length_along(),
        width_mm: standing.width_across(),
        height_mm: bundle.height.mm_up(),
        mass_kg: bundle.limit_mass.to_kg(1).to_string(),
        weighed: bundle.weighed,
    }
}

#[derive(Serialize)]
struct ExplainJson<'a> {
    format: u32,
    shipment: &'a str,
    slab: &'a str,
    currency: &'a str,
    charges: Vec<ExplainedJson<'a>>,
    cost: String,
}

#[derive(Serialize)]
struct ExplainedJson<'a> {
    #[serde(flatten)]
    charge: ChargeJson<'a>,
    share: String,
    leftover: bool,
}

/// Writes the explanation of one slab.
///
/// # Errors
/// Where the output cannot be written.
pub fn explain(
    shipment: &Shipment,
    landed: &Landed,
    explanation: &Explanation,
    out: &mut dyn Write,
) -> io::Result<()> {
    let charges = explanation.charges.iter().filter_map(|one| {
        let charge = landed.charges.get(one.charge)?;
        let charge = charge_json(one.charge, charge);
        Some(ExplainedJson { charge, share: plain(one.share), leftover: one.leftover })
    });
    let json = ExplainJson {
        format: FORMAT,
        shipment: &shipment.name,
        slab: shipment.slabs.get(explanation.slab).map_or("", |slab| slab.id.as_str()),
        currency: landed.currency.code(),
        charges: charges.collect(),
        cost: plain(explanation.cost),
    };
    write(&json, out)
}

#[derive(Serialize)]
struct CheckJson<'a> {
    format: u32,
    shipments: Vec<CheckedJson<'a>>,
}

#[derive(Serialize)]
struct CheckedJson<'a> {
    shipment: &'a str,
    verdict: &'a str,
    slabs: Option<usize>,
    containers: Option<usize>,
    total: Option<String>,
    currency: Option<&'static str>,
    papers: Vec<ProvenJson<'a>>,
}

#[derive(Serialize)]
struct ProvenJson<'a> {
    paper: &'a str,
    figure: &'a str,
    stated: &'a str,
    computed: &'a str,
    off: &'a str,
    agrees: bool,
    estimate: bool,
}

/// Writes what a check found.
///
/// # Errors
/// Where the output cannot be written.
pub fn check(all: &[Checked], out: &mut dyn Write) -> io::Result<()> {
    let one = |checked: &'_ Checked| {
        let (slabs, containers) = checked.counts.unzip();
        (slabs, containers, checked.total)
    };
    let shipments = all.iter().map(|checked| {
        let (slabs, containers, total) = one(checked);
        CheckedJson {
            shipment: &checked.name,
            verdict: checked.verdict,
            slabs,
            containers,
            total: total.map(plain),
            currency: total.map(|total| total.currency().code()),
            papers: checked.proven.iter().map(proven_json).collect(),
        }
    });
    write(&CheckJson { format: FORMAT, shipments: shipments.collect() }, out)
}

fn proven_json(line: &Proven) -> ProvenJson<'_> {
    ProvenJson {
        paper: &line.paper,
        figure: &line.what,
        stated: &line.stated,
        computed: &line.computed,
        off: &line.off,
        agrees: line.agrees,
        estimate: line.is_estimate,
    }
}

#[derive(Serialize)]
struct RatesJson {
    format: u32,
    on: Option<String>,
    rates: Vec<RateJson>,
}

#[derive(Serialize)]
struct RateJson {
    file: String,
    line: usize,
    name: String,
    rate: String,
    from: String,
    until: Option<String>,
    source: String,
}

/// Writes the rates in force.
///
/// # Errors
/// Where the output cannot be written.
pub fn rates(tariffs: &Tariffs, on: Option<Date>, out: &mut dyn Write) -> io::Result<()> {
    let row = |place: &Place, name: &str, rate: String, valid: Window, source: &str| {
        on.is_none_or(|on| valid.holds(on)).then(|| RateJson {
            file: place.file.to_string(),
            line: place.line,
            name: name.to_owned(),
            rate,
            from: valid.from.to_string(),
            until: valid.until.map(|until| until.to_string()),
            source: source.to_owned(),
        })
    };
    let charges = tariffs.charges.iter().filter_map(|one| {
        let rate = one.rate.value.to_string();
        row(&one.place, &one.name, rate, one.valid, &one.source)
    });
    let limits = tariffs.limits.iter();
    let limits = limits
        .filter_map(|one| row(&one.place, &one.name, one.mass.to_string(), one.valid, &one.source));
    let duties = tariffs.duties.iter();
    let duties = duties.filter_map(|one| {
        row(&one.place, &one.name, one.rate.value.to_string(), one.valid, &one.source)
    });
    let exchange = tariffs.exchange.iter().filter_map(|one| {
        row(&one.place, one.used_for.word(), one.quote.value.to_string(), one.valid, &one.source)
    });
    let rates = charges.chain(limits).chain(duties).chain(exchange).collect();
    write(&RatesJson { format: FORMAT, on: on.map(|on| on.to_string()), rates }, out)
}
