//! The load as a page: per container what stands where, which limit binds, how much is left.

mod drawing;
mod frozen;
mod paper;
mod road;
mod svg;

pub use frozen::frozen;
pub use svg::drawing;

use super::cost::{boxes, heading};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::load::{BoxSummary, Breach, Broken, Plan, Proof, Room};
use crate::quantity::{Decimal, Mass, Units};
use crate::trade::Shipment;

/// The page of a load.
pub fn loaded<'a>(
    shipment: &'a Shipment,
    plan: &'a Plan,
    summaries: &'a [BoxSummary<'a>],
    breaches: &'a [Breach],
    units: Units,
) -> Page<'a> {
    let mut blocks =
        vec![Block::Heading(format!("Load of {}", heading(shipment))), Block::Facts(facts(plan))];
    for (index, one) in summaries.iter().enumerate() {
        blocks.push(Block::Heading(title(one)));
        let mut facts = limits(shipment, one, units);
        let own = breaches.iter().filter(|breach| breach.filled == index);
        // Masses are marked beside their limits.
        let other = own.filter(|breach| breach.broken != Broken::Cargo);
        facts.extend(other.map(|breach| ("OVER".to_owned(), breach.words())));
        blocks.push(Block::Facts(facts));
        blocks.push(Block::Table(standing(one, units)));
        blocks.extend(drawing::floor(one, units));
        road::blocks(one, units, &mut blocks);
        paper::blocks(shipment, one, units, &mut blocks);
    }
    blocks.push(Block::Notes(cautions(shipment, summaries)));
    Page { blocks, width: 100, list: Some(list(summaries, units)) }
}

fn facts(plan: &Plan) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let cost = match plan.lower_bound {
        Some(bound) => format!("{}, not below {bound}", plan.cost),
        None => plan.cost.to_string(),
    };
    let proof = match &plan.proof {
        Proof::Proven => "no load costs less: proven".to_owned(),
        Proof::Gap(reason) => format!("a cheaper load is not excluded: {reason}"),
        Proof::Given => "the load is given; no cheaper one was looked for".to_owned(),
    };
    vec![fact("containers", boxes(plan)), fact("cost by container", cost), fact("proof", proof)]
}

fn title(one: &BoxSummary<'_>) -> String {
    let number =
        one.filled.number.as_ref().map_or_else(String::new, |number| format!(", {number}"));
    let seal = one.filled.seal.as_ref().map_or_else(String::new, |seal| format!(", seal {seal}"));
    format!("Container {}: {}{number}{seal}", one.filled.label, one.variant.label())
}

fn mass(mass: Mass, units: Units) -> String {
    mass.show(units)
}

fn limits(shipment: &Shipment, one: &BoxSummary<'_>, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let binding = &one.binding;
    let left = if one.left < Mass::ZERO {
        let over = Mass::ZERO.minus(one.left).unwrap_or(Mass::ZERO);
        format!("OVER by {}", mass(over, units))
    } else {
        format!("{} left", mass(one.left, units))
    };
    let mut facts = vec![
        fact("one more bundle", one_more(one)),
        fact(
            "cargo",
            format!(
                "{} with {} of dunnage and lashing",
                mass(one.cargo, units),
                mass(one.variant.container.securing, units)
            ),
        ),
        fact(
            "mass limit",
            format!(
                "{} {} ({}, {}): {left}",
                binding.name,
                mass(binding.cargo, units),
                binding.kind.word(),
                binding.place
            ),
        ),
    ];
    let others: Vec<String> = one
        .variant
        .limits
        .iter()
        .filter(|limit| *limit != binding)
        .map(|limit| {
            let over = one.cargo.minus(limit.cargo).ok().filter(|over| *over > Mass::ZERO);
            let over = over.map_or_else(String::new, |by| format!(": OVER by {}", mass(by, units)));
            format!("{} {} ({}){over}", limit.name, mass(limit.cargo, units), limit.kind.word())
        })
        .collect();
    if !others.is_empty() {
        facts.push(fact("other limits", others.join(", ")));
    }
    facts.push(fact("line load", line_load(one)));
    facts.push(fact("lift", lift(shipment, one, units)));
    facts.push(fact("gross", format!("{} with the tare", mass(one.gross, units))));
    match (one.cog_x, one.cog_y, one.front_half) {
        (Some(x), Some(y), Some(front)) => facts.push(fact(
            "balance",
            format!("centre of gravity {x} mm from the front, {y} mm from the left wall; {front} % in the front half"),
        )),
        _ => facts.push(fact("balance", "places not proven".to_owned())),
    }
    facts
}

/// Whether one more bundle would go in, and what stops it.
fn one_more(one: &BoxSummary<'_>) -> String {
    let Some((room, like)) = one.room else { return "none to ask for".to_owned() };
    let place = &one.variant.container.place;
    match room {
        Room::Fits => format!("one like {like} would go in"),
        Room::Mass => format!("one like {like} would be too heavy: the mass binds"),
        Room::Floor => {
            format!("no place for one like {like}: the floor binds (equipment, {place})")
        }
        Room::LineLoad => {
            format!(
                "one like {like} is too much per metre: the line load binds (equipment, {place})"
            )
        }
        Room::Balance => {
            format!("one like {like} finds no place that balances and suits the axles")
        }
    }
}

/// The station of the floor that bears most, against what the floor may bear.
fn line_load(one: &BoxSummary<'_>) -> String {
    let most = one.variant.container.line_load;
    let place = &one.variant.container.place;
    let allowed = format!("of {} t/m (equipment, {place})", most.to_t_per_m(2).normalize());
    match &one.station {
        Some(station) => {
            let over = if station.is_over(most) { "OVER: " } else { "" };
            format!(
                "{over}{} t/m from {} to {} mm, {allowed}",
                station.load.to_t_per_m(2),
                station.from,
                station.to
            )
        }
        None => format!("places not known, {allowed}"),
    }
}

/// The heaviest bundle against what the yard lifts.
fn lift(shipment: &Shipment, one: &BoxSummary<'_>, units: Units) -> String {
    let yard = &shipment.yard;
    let crane =
        yard.crane.map_or_else(String::new, |crane| format!(", its crane {}", mass(crane, units)));
    let heaviest = one.standing.iter().max_by_key(|standing| standing.bundle.limit_mass);
    let heaviest = heaviest.map_or_else(String::new, |standing| {
        let is_over = !yard.refuses(standing.bundle.limit_mass).is_empty();
        format!(
            "{}heaviest bundle {} {}; ",
            if is_over { "OVER: " } else { "" },
            standing.bundle.id,
            mass(standing.bundle.limit_mass, units)
        )
    });
    format!(
        "{heaviest}the yard lifts {}{crane} (equipment, {})",
        mass(yard.lift, units),
        yard.place
    )
}

fn standing<'a>(one: &'a BoxSummary<'a>, units: Units) -> Table<'a> {
    let rows = one.standing.iter().enumerate().map(move |(index, standing)| -> Row<'_> {
        let bundle = standing.bundle;
        let at = standing.at.map_or_else(String::new, |(x, y)| format!("{x}, {y}"));
        vec![
            Cell::count(index + 1),
            Cell::text(bundle.id.as_str()),
            Cell::text(bundle.block.as_deref().unwrap_or("")),
            Cell::count(bundle.slabs),
            Cell::text(format!(
                "{} x {} x {}",
                bundle.length.mm_up(),
                bundle.width.mm_up(),
                bundle.height.mm_up()
            )),
            Cell::text(at),
            Cell::Figure(bundle.limit_mass.figure(units, 1)),
            Cell::Figure(standing.running.figure(units, 1)),
            Cell::text(if bundle.weighed { "weighed" } else { "estimate" }),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::figures("no"),
            Column::words("bundle"),
            Column::words("block"),
            Column::figures("slabs"),
            Column::figures("length x width x height mm"),
            Column::figures("from front, left mm"),
            Column::figures(units.mass()),
            Column::figures("running"),
            Column::words("mass"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

/// Every bundle in a row of its own, with its box; one figure in a cell.
fn list<'a>(summaries: &'a [BoxSummary<'a>], units: Units) -> Table<'a> {
    let rows = summaries.iter().flat_map(move |one| {
        one.standing.iter().enumerate().map(move |(index, standing)| -> Row<'_> {
            let bundle = standing.bundle;
            let mm = |mm: i64| Cell::Figure(Decimal::from(mm));
            let (x, y) = standing.at.unzip();
            vec![
                Cell::text(one.filled.label.as_str()),
                Cell::text(one.variant.label()),
                Cell::count(index + 1),
                Cell::text(bundle.id.as_str()),
                Cell::text(bundle.block.as_deref().unwrap_or("")),
                Cell::count(bundle.slabs),
                mm(standing.length_along()),
                mm(standing.width_across()),
                mm(bundle.height.mm_up()),
                x.map_or(Cell::Empty, mm),
                y.map_or(Cell::Empty, mm),
                Cell::Figure(bundle.limit_mass.figure(units, 1)),
                Cell::Figure(standing.running.figure(units, 1)),
                Cell::text(if bundle.weighed { "weighed" } else { "estimate" }),
            ]
        })
    });
    let figures = |head: &'static str| Column::figures(head);
    Table {
        title: String::new(),
        columns: vec![
            Column::words("container"),
            Column::words("type"),
            figures("no"),
            Column::words("bundle"),
            Column::words("block"),
            figures("slabs"),
            figures("along mm"),
            figures("across mm"),
            figures("height mm"),
            figures("from front mm"),
            figures("from left mm"),
            Column::figures(units.mass()),
            figures("running"),
            Column::words("mass"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: true,
    }
}

/// What every loading page says.
fn cautions(shipment: &Shipment, summaries: &[BoxSummary<'_>]) -> Vec<String> {
    let mut notes = vec![
        "A calculation aid. Slabs on edge kill: nobody stands where one could fall, and none is \
         released before it is held. Bracing and securing follow the CTU Code and a competent \
         person on the spot."
            .to_owned(),
        "Road limits, axle loads and permits are the carrier's and the State's to confirm; a limit \
         of kind \"custom\" is a habit of the trade and no law."
            .to_owned(),
    ];
    if shipment.bundles.iter().any(|bundle| !bundle.weighed) {
        notes.insert(
            0,
            "Masses computed from nominal thickness are estimates and no verified gross mass (SOLAS \
             VI/2): weigh before declaring. Limits count them with the stone's thickness margin, \
             the mass sheet adds them up without."
                .to_owned(),
        );
    }
    if summaries.iter().any(|one| one.standing.iter().any(|standing| standing.at.is_none())) {
        notes.insert(
            0,
            "Places are not worked out for every box: that the floor holds them is not proven."
                .to_owned(),
        );
    }
    notes
}
