//! A load for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::super::load::order::turn_word;
use super::super::load::{Load, not_judged};
use super::parts::{FORMAT, SourceJson, plain, source_json, write};
use super::verdict::{VerdictJson, verdict_json};
use crate::load::{
    Beams, BoxSummary, Breach, Chosen, Held, Hold, Limit, Order, Part, Preference, Proof, Pushed,
    Release, RoadReport, Standing, Timber, Tipping, mass_sheet,
};
use crate::quantity::{Decimal, Length, Mass};
use crate::trade::{LimitKind, Shipment, TableName};

#[derive(Serialize)]
pub(super) struct LoadJson<'a> {
    format: u32,
    shipment: &'a str,
    /// The [[way]] to buy it; none for the shipment as written.
    #[serde(skip_serializing_if = "Option::is_none")]
    way: Option<&'a str>,
    currency: &'a str,
    offers: Vec<ServingJson<'a>>,
    containers: Vec<ContainerJson<'a>>,
    cost: String,
    #[serde(flatten)]
    verdict: VerdictJson<'a>,
    /// How sure a given load was when it was kept as a plan.
    kept: Option<KeptJson<'a>>,
    /// What the wishes come to that the load breaks: no part of `cost`.
    broken_wishes: String,
    /// Both together: what `lower_bound` bounds.
    cost_with_broken_wishes: Option<String>,
    /// What both together cannot go below; none for a given load that breaks its limits.
    lower_bound: Option<String>,
}

#[derive(Serialize)]
struct KeptJson<'a> {
    proof: &'static str,
    cost: String,
    /// The shipments that it shared boxes with: the proof is for its share.
    with: &'a [String],
}

#[derive(Serialize)]
pub(super) struct ServingJson<'a> {
    pub(super) table: &'static str,
    pub(super) offer: &'a str,
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
    iso: Option<String>,
    class: Option<&'a str>,
    offers: Vec<ServingJson<'a>>,
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
    places: Option<PlacesJson>,
    cross_beams: Option<BeamsJson>,
    loading_order: Option<OrderJson<'a>>,
    securing: Option<SecuringJson<'a>>,
    left_kg: String,
    binding_source: SourceJson<'a>,
    limits: Vec<LimitJson<'a>>,
    breaches: Vec<BreachJson<'a>>,
    line_load_kg_per_m: Option<String>,
    line_load_limit_kg_per_m: String,
    roads: Vec<RoadJson<'a>>,
    roads_not_judged: Vec<String>,
    mass_sheet: Option<MassSheetJson>,
}

/// What the preference says of the places.
#[derive(Serialize)]
struct PlacesJson {
    /// Whether they were given, are the best found, or the least.
    chosen: &'static str,
    /// The list by which places are compared, the less the better.
    preference: [i64; 6],
    tip_sideways: i64,
    line_load_permille: i64,
    bending_permille: i64,
    void_mm: i64,
    off_middle_mm: [i64; 2],
    rows: Vec<i64>,
    out_of_order: i64,
}

/// The cross beams that bear most, and the bearers that would do where they are strained.
#[derive(Serialize)]
struct BeamsJson {
    percent: String,
    from_mm: i64,
    to_mm: i64,
    bearer_mm: Option<i64>,
    bearer_cm3: Option<String>,
}

/// What holds the cargo on its way.
#[derive(Serialize)]
struct SecuringJson<'a> {
    friction_percent: String,
    /// What no set serves.
    not_judged: &'a [String],
    directions: Vec<DirectionJson<'a>>,
    tipping: Vec<TippingJson<'a>>,
    /// What the list of timber weighs.
    timber_kg: String,
    /// What lashings alone would take; none where friction holds all.
    lashings_over_the_top: Option<i64>,
    lashings_direct: Option<i64>,
}

#[derive(Serialize)]
struct DirectionJson<'a> {
    against: &'static str,
    set: &'a str,
    push_percent: String,
    weight_percent: String,
    to_hold_kn: String,
    wall_kn: String,
    left_kn: String,
    struts: i64,
    /// How many have room; none where none are needed.
    struts_with_room: Option<i64>,
    /// Whether that is too few.
    not_held: bool,
    strut_mm: Option<[i64; 3]>,
    /// To the left and to the right wall, where there is one to fill.
    gaps_mm: Option<[i64; 2]>,
}

#[derive(Serialize)]
struct StrutsJson {
    count: i64,
    mm: [i64; 3],
}

/// A body that tips unless it is braced.
#[derive(Serialize)]
struct TippingJson<'a> {
    bundles: Vec<&'a str>,
    brace_mm: i64,
    sideways_kn: String,
    sideways_struts: Option<StrutsJson>,
    lengthwise_kn: String,
    lengthwise_struts: Option<StrutsJson>,
}

/// How the bundles come in and out.
#[derive(Serialize)]
struct OrderJson<'a> {
    /// In which turn the bundles of a row come in; none where there is no order.
    turn: Option<&'static str>,
    /// The bundles that have no way in.
    stuck: Vec<&'a str>,
    /// How they come out.
    unloading: Vec<ReleaseJson<'a>>,
}

/// What is released before a bundle comes out.
#[derive(Serialize)]
struct ReleaseJson<'a> {
    bundle: &'a str,
    braces: Vec<&'static str>,
    braces_to: Vec<&'a str>,
    ties: Vec<&'a str>,
    /// The bundles that stand alone from then on.
    alone: Vec<&'a str>,
}

#[derive(Serialize)]
struct LimitJson<'a> {
    name: &'a str,
    kind: &'static str,
    cargo_kg: String,
    /// How much the cargo is over it, if it is.
    over_kg: Option<String>,
    source: SourceJson<'a>,
}

/// A limit that the box or a bundle in it breaks.
#[derive(Serialize)]
struct BreachJson<'a> {
    what: &'a str,
    kind: Option<&'static str>,
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
pub fn load(load: Load<'_>, out: &mut dyn Write) -> io::Result<()> {
    write(&load_json(load), out)
}

/// A load as an object.
pub(super) fn load_json(load: Load<'_>) -> LoadJson<'_> {
    let Load { shipment, costed, summaries } = load;
    let plan = &costed.plan;
    let offers = costed.choice.offers().into_iter();
    let breaches = &costed.verdict.breaches;
    let of_box = |at: usize| breaches.iter().filter(move |breach| breach.filled == at);
    LoadJson {
        format: FORMAT,
        shipment: &shipment.name,
        way: shipment.way.as_deref(),
        currency: plan.cost.currency().code(),
        offers: offers.map(serving_json).collect(),
        containers: summaries
            .iter()
            .enumerate()
            .map(|(at, one)| container_json(shipment, one, of_box(at)))
            .collect(),
        cost: plain(plan.cost),
        verdict: verdict_json(&shipment.load, &costed.verdict),
        kept: shipment.kept.as_ref().filter(|_| plan.proof == Proof::Given).map(|kept| KeptJson {
            proof: kept.sure,
            cost: plain(kept.cost),
            with: &kept.with,
        }),
        broken_wishes: plain(plan.wishes),
        cost_with_broken_wishes: plan.cost.plus(plan.wishes).ok().map(plain),
        lower_bound: plan.lower_bound.map(plain),
    }
}

fn serving_json((table, offer): (TableName, &str)) -> ServingJson<'_> {
    ServingJson { table: table.word(), offer }
}

fn container_json<'a>(
    shipment: &Shipment,
    one: &'a BoxSummary<'a>,
    breaches: impl Iterator<Item = &'a Breach>,
) -> ContainerJson<'a> {
    let text = |figure: Option<Decimal>| figure.map(|figure| figure.to_string());
    let parts = one.variant.parts.iter().filter(|part| !part.amount.is_zero());
    ContainerJson {
        container: &one.filled.label,
        kind: &one.variant.container.id,
        iso: one.variant.container.iso.as_ref().map(ToString::to_string),
        class: one.variant.class.as_deref(),
        offers: one.variant.offers.iter().map(serving_json).collect(),
        number: one.filled.number.as_ref().map(ToString::to_string),
        seal: one.filled.seal.as_deref(),
        cost: plain(one.variant.cost),
        cost_parts: parts.map(part_json).collect(),
        bundles: one.standing.iter().map(standing_json).collect(),
        cargo_kg: one.cargo.to_kg(1).to_string(),
        limit_kg: one.binding.cargo.to_kg(1).to_string(),
        binding: &one.binds.name,
        binding_kind: one.binds.kind.word(),
        gross_kg: one.gross.to_kg(1).to_string(),
        cog_x_mm: text(one.cog_x),
        cog_y_mm: text(one.cog_y),
        cog_z_mm: text(one.cog_z),
        front_half_percent: text(one.front_half),
        places: one.preference.as_ref().map(|own| places_json(own, one.filled.chosen)),
        cross_beams: one.beams.as_ref().map(beams_json),
        loading_order: one.order.as_ref().map(|order| order_json(order, one)),
        securing: one.held.as_ref().map(|held| securing_json(held, one)),
        left_kg: one.left.to_kg(1).to_string(),
        binding_source: source_json(&one.binds.place),
        limits: one.variant.limits.each().map(|limit| limit_json(limit, one.cargo)).collect(),
        breaches: breaches.map(breach_json).collect(),
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

fn places_json(own: &Preference, chosen: Chosen) -> PlacesJson {
    PlacesJson {
        chosen: chosen.word(),
        preference: own.list(),
        tip_sideways: own.tipping,
        line_load_permille: own.line,
        bending_permille: own.bending,
        void_mm: own.void,
        off_middle_mm: own.off,
        rows: own.rows.clone(),
        out_of_order: own.disorder,
    }
}

fn beams_json(own: &Beams) -> BeamsJson {
    let bearers = own.bearers.as_ref();
    BeamsJson {
        percent: own.percent().to_string(),
        from_mm: own.from,
        to_mm: own.to,
        bearer_mm: bearers.map(|bearers| bearers.length.mm_up()),
        bearer_cm3: bearers.map(|bearers| bearers.section.to_string()),
    }
}

fn securing_json<'a>(held: &'a Held, one: &BoxSummary<'a>) -> SecuringJson<'a> {
    let name = |at: &usize| one.standing.get(*at).map(|standing| standing.bundle.id.as_str());
    let direction = |one: &'a Pushed| DirectionJson {
        against: one.against.word(),
        set: &one.set,
        push_percent: one.push.push.hundredths().to_string(),
        weight_percent: one.push.weight.hundredths().to_string(),
        to_hold_kn: one.force.kn().to_string(),
        wall_kn: one.wall.kn().to_string(),
        left_kn: one.left.kn().to_string(),
        struts: one.timber.map_or(0, |timber| timber.count),
        struts_with_room: one.timber.and_then(|timber| timber.room),
        not_held: one.timber.is_some_and(|timber| timber.is_too_much()),
        strut_mm: one.timber.map(|timber| timber.sides.map(Length::mm_up)),
        gaps_mm: one.gaps.map(|gaps| gaps.map(Length::mm_down)),
    };
    let struts = |own: Option<Timber>| {
        own.map(|own| StrutsJson { count: own.count, mm: own.sides.map(Length::mm_up) })
    };
    let tipping = |body: &Tipping| TippingJson {
        bundles: body.bundles.iter().filter_map(name).collect(),
        brace_mm: body.brace.mm_up(),
        sideways_kn: body.sideways.kn().to_string(),
        sideways_struts: struts(body.sideways_timber),
        lengthwise_kn: body.lengthwise.kn().to_string(),
        lengthwise_struts: struts(body.lengthwise_timber),
    };
    SecuringJson {
        friction_percent: held.friction.hundredths().to_string(),
        not_judged: &held.not_judged,
        directions: held.pushes.iter().map(direction).collect(),
        tipping: held.tipping.iter().map(tipping).collect(),
        timber_kg: held.timber_mass().to_kg(1).to_string(),
        lashings_over_the_top: held.lashings.map(|own| own.over_the_top),
        lashings_direct: held.lashings.map(|own| own.direct),
    }
}

fn order_json<'a>(order: &Order, one: &BoxSummary<'a>) -> OrderJson<'a> {
    let name = |at: &usize| one.standing.get(*at).map(|standing| standing.bundle.id.as_str());
    let names = |all: &[usize]| all.iter().filter_map(name).collect();
    let release = |release: &Release| {
        let of = |pick: fn(&Hold) -> Option<&usize>| -> Vec<&'a str> {
            release.held.iter().filter_map(pick).filter_map(name).collect()
        };
        let wall = |hold: &Hold| match hold {
            Hold::LeftWall => Some("left wall"),
            Hold::RightWall => Some("right wall"),
            Hold::Doors => Some("doors"),
            Hold::Own => Some("its own"),
            Hold::Tie(_) | Hold::Brace(_) => None,
        };
        Some(ReleaseJson {
            bundle: name(&release.bundle)?,
            braces: release.held.iter().filter_map(wall).collect(),
            braces_to: of(|hold| if let Hold::Brace(at) = hold { Some(at) } else { None }),
            ties: of(|hold| if let Hold::Tie(at) = hold { Some(at) } else { None }),
            alone: names(&release.alone),
        })
    };
    match order {
        Order::Found { turn, out } => OrderJson {
            turn: Some(turn_word(*turn)),
            stuck: Vec::new(),
            unloading: out.iter().filter_map(release).collect(),
        },
        Order::Stuck(stuck) => {
            let stuck: Vec<usize> = stuck.all().collect();
            OrderJson { turn: None, stuck: names(&stuck), unloading: Vec::new() }
        }
    }
}

fn part_json(part: &Part) -> CostPartJson<'_> {
    CostPartJson { name: &part.name, amount: plain(part.amount), source: source_json(&part.place) }
}

fn breach_json(breach: &Breach) -> BreachJson<'_> {
    let kind = breach.kind.map(LimitKind::word);
    BreachJson { what: &breach.what, kind, source: source_json(&breach.place) }
}

fn limit_json(limit: &Limit, cargo: Mass) -> LimitJson<'_> {
    let over = cargo.minus(limit.cargo).ok().filter(|over| *over > Mass::ZERO);
    LimitJson {
        over_kg: over.map(|over| over.to_kg(1).to_string()),
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
        uncovered: report.uncovered,
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
        weighed: bundle.weighing.is_weighed(),
    }
}
