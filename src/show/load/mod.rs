//! The load as a page: for each container the places, the binding limit and the room left.

pub(super) mod drawing;
mod drawn;
mod fall;
pub(super) mod floor;
mod frozen;
mod letters;
pub(super) mod order;
pub(super) mod pages;
mod paper;
mod road;
pub(super) mod securing;
pub(super) mod sheet;
pub(super) mod svg;
mod together;
mod views;

pub use drawn::drawing;
pub use frozen::frozen;
pub(super) use frozen::{Kept, plan_text, quoted};
pub(super) use road::not_judged;
pub use together::loaded_together;

use self::floor::Floor;
use self::sheet::Sheet;
use super::cost::{WITH_FINANCE, boxes, heading, offers};
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::paper::Ground;
use super::verdict;
use crate::charges::Choice;
use crate::choose::Costed;
use crate::load::{Beams, BoxSummary, Broken, Held, Plan, Proof, Pushed, Room, Sure, mass_sheet};
use crate::quantity::{Decimal, Length, Mass, Money, Units, grouped};
use crate::trade::{Shipment, TableName};

/// A shipment's load, with all that is shown of it.
#[derive(Debug, Clone, Copy)]
pub struct Load<'a> {
    /// The shipment.
    pub shipment: &'a Shipment,
    /// Its load and cost.
    pub costed: &'a Costed,
    /// Its boxes.
    pub summaries: &'a [BoxSummary<'a>],
}

/// The page of a load, with its drawings made for a ground.
pub fn loaded(load: Load<'_>, units: Units, ground: Ground) -> Page<'_> {
    let shipment = load.shipment;
    let stocks = verdict::stocks(&shipment.load, shipment.kept.as_ref());
    let mut blocks = plan_page(load, stocks, units, ground);
    blocks.extend([Block::Day(shipment.dates.quoted), Block::Sheet(sheet(load, units))]);
    Page { blocks }
}

/// All of a page but what a spreadsheet is given.
fn plan_page(
    load: Load<'_>,
    shared: Vec<(String, String)>,
    units: Units,
    ground: Ground,
) -> Vec<Block<'_>> {
    let Load { shipment, costed, summaries } = load;
    let mut broken = costed.verdict.told();
    broken.extend(costed.verdict.stuck.iter().map(|(what, _)| what.clone()));
    let mut said = securing::not_held(summaries);
    said.extend(order::impossible(summaries, units));
    said.push(verdict::fact(&costed.verdict, false));
    said.extend(verdict::doubts(&costed.verdict, units));
    said.extend(facts(shipment, costed));
    said.extend(shared);
    let mut blocks =
        vec![Block::Heading(format!("Load of {}", heading(shipment))), Block::Facts(said)];
    if !broken.is_empty() {
        blocks.push(Block::Notes(broken));
    }
    for (index, one) in summaries.iter().enumerate() {
        blocks.push(Block::Heading(title(one, &costed.choice)));
        let mut facts = limits(shipment, one, units);
        let own = costed.verdict.breaches.iter().filter(|breach| breach.filled == index);
        // Masses are marked beside their limits.
        let other = own.filter(|breach| breach.broken != Broken::Cargo);
        facts.extend(other.map(|breach| ("OVER".to_owned(), breach.words())));
        blocks.push(Block::Facts(facts));
        blocks.push(Block::Table(standing(one, units)));
        blocks.extend(drawing::floor(&sheet_of(load, one, units), units, ground));
        blocks.extend(order::unloading(one));
        blocks.extend(securing::blocks(one, units));
        road::blocks(shipment, one, units, &mut blocks);
        paper::blocks(shipment, one, units, &mut blocks);
    }
    let mut notes = cautions(shipment, summaries, units);
    if !costed.others.is_empty() {
        notes.push(WITH_FINANCE.to_owned());
    }
    blocks.push(Block::Notes(notes));
    blocks
}

/// What was proven of a given load when it was kept.
pub(in crate::show) fn kept(shipment: &Shipment, plan: &Plan) -> Option<String> {
    let kept = shipment.kept.as_ref().filter(|_| plan.proof == Proof::Given)?;
    let still = if kept.cost == plan.cost {
        "its containers cost the same today".to_owned()
    } else {
        format!("its containers cost {} today, and nothing is proven of that", plan.cost)
    };
    let (cost, sure) = (kept.cost, kept.sure);
    Some(if kept.with.is_empty() {
        format!("when it was kept at {cost} it was {sure}; {still}")
    } else {
        let with = kept.with.join(", ");
        format!(
            "when it was kept at {cost}, planned with {with}, it was {sure} for its share of boxes; {still}"
        )
    })
}

fn facts(shipment: &Shipment, costed: &Costed) -> Vec<(String, String)> {
    let plan = &costed.plan;
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let proof = match &costed.verdict.sure {
        sure @ (Sure::Proven | Sure::Known(_)) => {
            let offers = if costed.others.is_empty() { "" } else { " by these offers" };
            let caused =
                if plan.caused.is_zero() { "" } else { ", the duty and premium on them included" };
            format!("{}: no load{offers} has lower box charges{caused}", sure.word())
        }
        Sure::Open(reason) => format!("not proven, a cheaper load may exist: {reason}"),
        Sure::Given => match kept(shipment, plan) {
            Some(kept) => format!("the load is given; {kept}"),
            None => "the load is given; no cheaper one was sought".to_owned(),
        },
    };
    let mut facts = vec![fact("containers", boxes(costed))];
    let by = if costed.verdict.sure == Sure::Given { " by mass alone" } else { "" };
    if plan.wishes.is_zero() {
        let least = least(plan.cost, plan.lower_bound, &costed.verdict.sure, by);
        facts.push(fact("box charges", format!("{}{least}", plan.cost)));
    } else {
        facts.push(fact("box charges", plan.cost.to_string()));
        facts.push(fact("broken wishes", wishes(plan.wishes, plan.lower_bound, by)));
    }
    facts.push(fact("proof", proof));
    if !costed.choice.offers().is_empty() {
        facts.push(fact("offers", offers(costed)));
    }
    facts
}

/// How far box charges are proven to be the least, after their sum.
fn least(cost: Money, bound: Option<Money>, sure: &Sure, by: &str) -> String {
    match bound {
        None => String::new(),
        Some(bound) if bound == cost && *sure == Sure::Proven => " (proven minimum)".to_owned(),
        Some(bound) if bound == cost && sure.is_proven() => {
            " (minimum by the known limits)".to_owned()
        }
        Some(bound) => format!(" (at least {bound}{by})"),
    }
}

/// The price of broken wishes, and the least that they and the box charges come to.
fn wishes(wishes: Money, bound: Option<Money>, by: &str) -> String {
    let bound = bound
        .map_or_else(String::new, |bound| format!("; at least {bound} with the box charges{by}"));
    format!("{wishes}, not billed{bound}")
}

fn title(one: &BoxSummary<'_>, choice: &Choice) -> String {
    let number =
        one.filled.number.as_ref().map_or_else(String::new, |number| format!(", {number}"));
    let seal = one.filled.seal.as_ref().map_or_else(String::new, |seal| format!(", seal {seal}"));
    let own = one.variant.offers.iter().filter(|(table, _)| choice.mixes(*table));
    let own: Vec<String> =
        own.map(|(table, offer)| format!(", {} {offer}", table.word())).collect();
    let by = own.concat();
    let iso =
        one.variant.container.iso.as_ref().map_or_else(String::new, |iso| format!(" ({iso})"));
    let kind = one.variant.label();
    format!("{}: {kind}{iso}{by}{number}{seal}", called(&one.filled.label))
}

/// The sheet of a container for our own yard.
fn sheet_of<'a>(load: Load<'a>, one: &'a BoxSummary<'a>, units: Units) -> Sheet<'a> {
    let Load { shipment, .. } = load;
    let container = &one.variant.container;
    let code = container.iso.as_ref().map(ToString::to_string);
    Sheet {
        head: head(&one.filled.label, &container.name, code.as_deref()),
        of: format!("Load of {}", heading(shipment)),
        floor: Floor::of(one),
        code,
        number: one.filled.number.as_ref().map(ToString::to_string),
        seal: one.filled.seal.as_deref(),
        yard: Some(&shipment.yard.name),
        cargo: Some(one.cargo),
        mass_head: at_most(units),
        order: order::told(one, units),
        not_held: one.held.iter().flat_map(Held::unheld).map(Pushed::not_held).collect(),
        is_shared: false,
    }
}

/// A container by name, type and the code of its type.
pub(in crate::show) fn head(label: &str, kind: &str, iso: Option<&str>) -> String {
    let iso = iso.map_or_else(String::new, |iso| format!(" ({iso})"));
    format!("{}: {kind}{iso}", called(label))
}

/// A container as it is spoken of, once: "box 1" is one already.
pub(in crate::show) fn called(label: &str) -> String {
    let first = label.split(|c: char| !c.is_alphabetic()).next().unwrap_or_default();
    if ["box", "container"].contains(&first.to_lowercase().as_str()) {
        let mut chars = label.chars();
        let capital = chars.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
        return capital + chars.as_str();
    }
    format!("Container {label}")
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
        fact("room for one more", one_more(one)),
        fact(
            "cargo",
            format!(
                "{}, {} of it dunnage and lashing",
                mass(one.cargo, units),
                mass(one.variant.container.securing, units)
            ),
        ),
        fact(
            "mass limit",
            format!(
                "{} {} ({}): {left}",
                binding.name,
                mass(binding.cargo, units),
                binding.kind.shown()
            ),
        ),
    ];
    let others: Vec<String> = one
        .variant
        .limits
        .each()
        .filter(|limit| *limit != binding)
        .map(|limit| {
            let over = one.cargo.minus(limit.cargo).ok().filter(|over| *over > Mass::ZERO);
            let over = over.map_or_else(String::new, |by| format!(": OVER by {}", mass(by, units)));
            format!("{} {} ({}){over}", limit.name, mass(limit.cargo, units), limit.kind.shown())
        })
        .collect();
    if !others.is_empty() {
        facts.push(fact("other limits", others.join(", ")));
    }
    facts.push(fact("floor load", line_load(one, units)));
    facts.extend(one.beams.as_ref().map(|own| fact("cross beams", beams(own, units))));
    facts.push(fact("places", places(one, units)));
    facts.push(fact("loading order", order::words(one, units)));
    facts.extend(order::alone_until(one).map(|words| fact("while loading", words)));
    facts.extend(a_frames(one).map(|words| fact("A-frames", words)));
    facts.push(fact("lift", lift(shipment, one, units)));
    facts.push(fact("box charges", price(one)));
    facts.push(fact("gross", gross(one, units)));
    match (one.cog_x, one.cog_y, one.cog_z, one.front_half) {
        (Some(x), Some(y), Some(z), Some(front)) => facts.push(fact(
            "balance",
            format!(
                "centre of gravity {} from the front, {} from the left wall, {} above the floor{}; \
                 {front} % in the front half",
                millimetres(x).show(units),
                millimetres(y).show(units),
                millimetres(z).show(units),
                if one.is_top_heavy() { " (ABOVE half the height)" } else { "" }
            ),
        )),
        _ => facts.push(fact("balance", "places not proven".to_owned())),
    }
    if let Some(reason) = shipment.load.balance.reason.as_ref() {
        let tenths = one.variant.balance;
        let window = format!("within {}.{} % of the length: {reason}", tenths / 10, tenths % 10);
        facts.push(fact("balance window", window));
    }
    facts
}

/// The gross mass that limits are held to, and as it is expected.
fn gross(one: &BoxSummary<'_>, units: Units) -> String {
    let all = mass(one.gross, units);
    match mass_sheet(one) {
        Ok(sheet) if sheet.total != one.gross => {
            let expected = mass(sheet.total, units);
            format!("{all}, tare included; {expected} without the margin for thickness")
        }
        _ => format!("{all}, tare included"),
    }
}

/// A figure in mm as a length.
fn millimetres(mm: Decimal) -> Length {
    Length::mm(mm).unwrap_or(Length::ZERO)
}

/// What the container costs, and each charge's part in it.
fn price(one: &BoxSummary<'_>) -> String {
    let parts = one.variant.parts.iter().filter(|part| !part.amount.is_zero());
    let parts: Vec<String> =
        parts.map(|part| format!("{} {}", part.name, grouped(part.amount.amount()))).collect();
    let parts = if parts.is_empty() { String::new() } else { format!(": {}", parts.join(", ")) };
    format!("{}{parts}", one.variant.cost)
}

/// Whether there is room for one more bundle, and what stops it.
fn one_more(one: &BoxSummary<'_>) -> String {
    let Some((room, like)) = one.room else { return "no bundle to go by".to_owned() };
    match room {
        Room::Fits => format!("yes, the size of {like}"),
        Room::Mass => format!("no: a bundle like {like} is too heavy"),
        Room::Floor => {
            format!("no: no floor space for a bundle like {like} (equipment)")
        }
        Room::WayIn => format!("no: a bundle like {like} leaves no way in (equipment)"),
        Room::LineLoad => {
            format!("no: a bundle like {like} is over the floor load (equipment)")
        }
        Room::Balance => {
            format!("no: a bundle like {like} puts balance or axles over their limits")
        }
    }
}

/// The most loaded stretch of the floor, against the floor load limit.
fn line_load(one: &BoxSummary<'_>, units: Units) -> String {
    let most = one.variant.container.line_load;
    let allowed = format!("limit {} (equipment)", most.show(units));
    let shown = |mm: i64| Length::whole_mm(mm).show(units);
    match &one.station {
        Some(station) => {
            let over = if station.is_over(most) { "OVER: " } else { "" };
            format!(
                "{over}{} from {} to {}; {allowed}",
                station.load.show(units),
                shown(station.from),
                shown(station.to)
            )
        }
        None => format!("places not known; {allowed}"),
    }
}

/// How the cross beams are strained, by the handbook's rule, and the bearers that would do.
fn beams(own: &Beams, units: Units) -> String {
    let shown = |mm: i64| Length::whole_mm(mm).show(units);
    let (from, to) = (shown(own.from), shown(own.to));
    let instead = match &own.bearers {
        Some(bearers) => {
            let (length, section) = (bearers.length.show(units), bearers.section);
            format!("; two bearers of {length} below would do, of {section} cm3 each")
        }
        None if own.is_strained() => {
            "; longer bearers have no room, and bundles nearer to the walls bend them less"
                .to_owned()
        }
        None => String::new(),
    };
    let percent = own.percent();
    format!(
        "{percent} % of the handbook's rule, from {from} to {to}{instead} (GDV Container Handbook: a cautious \
         rule, and no limit)"
    )
}

/// How the bundles stand by the preference, and how sure it is of that.
fn places(one: &BoxSummary<'_>, units: Units) -> String {
    let Some(own) = &one.preference else { return "not known".to_owned() };
    let percent = |thousandths: i64| format!("{} %", thousandths.saturating_add(9) / 10);
    let rows: Vec<String> = own.rows.iter().map(ToString::to_string).collect();
    let word = if rows.len() == 1 { "one row" } else { "rows" };
    let rows = format!("{word} of {}", rows.join(", "));
    format!(
        "{}: {} from the front; gaps of {} to fill, all lanes along and across added up; floor load {}, bending \
         lengthwise {}",
        one.filled.chosen.word(),
        rows,
        Length::whole_mm(own.void).show(units),
        percent(own.line),
        percent(own.bending)
    )
}

/// The heaviest bundle against the yard's crane and forklift limit.
/// What is asked of those who fill and empty A-frames; none where there is none.
fn a_frames(one: &BoxSummary<'_>) -> Option<String> {
    let frames = one.standing.iter().map(|standing| standing.bundle);
    let frames: Vec<&str> =
        frames.filter(|bundle| bundle.is_a_frame).map(|bundle| bundle.id.as_str()).collect();
    (!frames.is_empty()).then(|| {
        let names = frames.join(", ");
        format!("{names}: fill and empty the two sides in turn, so that neither outweighs the other; it comes in and out as one piece")
    })
}

fn lift(shipment: &Shipment, one: &BoxSummary<'_>, units: Units) -> String {
    let yard = &shipment.yard;
    let (forklift, crane) = match yard.crane {
        None => ("crane and forklift", String::new()),
        Some(crane) => ("forklift", format!(", crane limit {}", mass(crane, units))),
    };
    let heaviest = one.standing.iter().max_by_key(|standing| standing.bundle.limit_mass);
    let heaviest = heaviest.map_or_else(String::new, |standing| {
        let is_over = !yard.refuses(standing.bundle.limit_mass, units).is_empty();
        format!(
            "{}heaviest bundle {} {}; ",
            if is_over { "OVER: " } else { "" },
            standing.bundle.id,
            mass(standing.bundle.limit_mass, units)
        )
    });
    format!("{heaviest}{forklift} limit {}{crane} (equipment)", mass(yard.lift, units))
}

fn standing<'a>(one: &'a BoxSummary<'a>, units: Units) -> Table<'a> {
    let rows = one.standing.iter().enumerate().map(move |(index, standing)| -> Row<'_> {
        let bundle = standing.bundle;
        let mm = |mm: i64| Length::whole_mm(mm).figure(units);
        let at = standing.at.map_or_else(String::new, |(x, y)| format!("{}, {}", mm(x), mm(y)));
        vec![
            Cell::count(index + 1),
            Cell::text(bundle.id.as_str()),
            Cell::text(bundle.block.as_deref().unwrap_or("")),
            Cell::count(bundle.slabs),
            Cell::text(format!(
                "{} x {} x {}",
                mm(bundle.length.mm_up()),
                mm(bundle.width.mm_up()),
                mm(bundle.height.mm_up())
            )),
            Cell::text(at),
            Cell::Figure(bundle.limit_mass.figure(units, 1)),
            Cell::Figure(standing.running.figure(units, 1)),
            Cell::text(if bundle.weighing.is_weighed() { "weighed" } else { "estimate" }),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::figures("no"),
            Column::words("bundle"),
            Column::words("block"),
            Column::figures("slabs"),
            Column::figures(format!("length x width x height {}", units.side())),
            Column::figures(format!("from front, left {}", units.side())),
            Column::figures(at_most(units)),
            Column::figures(format!("running total {}", units.mass())),
            Column::words("mass"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The head of the masses that limits are checked with. Others are told what is expected, under a head of its own.
fn at_most(units: Units) -> String {
    format!("at most {}", units.mass())
}

/// The bundles of all containers, a figure a cell: what a spreadsheet is given.
fn sheet(load: Load<'_>, units: Units) -> Table<'_> {
    Table {
        title: "Bundles, a figure a cell".to_owned(),
        columns: sheet_columns(units),
        rows: Rows::of(sheet_rows(load, units)),
        totals: None,
        is_main: true,
    }
}

fn sheet_rows(load: Load<'_>, units: Units) -> impl Iterator<Item = Row<'_>> + '_ {
    let sure = load.costed.verdict.sure.word();
    load.summaries.iter().flat_map(move |one| {
        one.standing.iter().enumerate().map(move |(index, standing)| -> Row<'_> {
            let bundle = standing.bundle;
            let mm = |mm: i64| Cell::Figure(Length::whole_mm(mm).figure(units));
            vec![
                Cell::text(one.filled.label.as_str()),
                Cell::text(one.variant.container.id.as_str()),
                Cell::text(
                    one.variant
                        .container
                        .iso
                        .as_ref()
                        .map_or_else(String::new, ToString::to_string),
                ),
                Cell::text(one.variant.class.as_deref().unwrap_or("")),
                Cell::text(one.variant.offers.of(TableName::Freight).unwrap_or("")),
                Cell::text(one.variant.offers.of(TableName::Drayage).unwrap_or("")),
                Cell::count(index + 1),
                Cell::text(bundle.id.as_str()),
                Cell::text(bundle.block.as_deref().unwrap_or("")),
                Cell::count(bundle.slabs),
                mm(bundle.length.mm_up()),
                mm(bundle.width.mm_up()),
                mm(bundle.height.mm_up()),
                standing.at.map_or(Cell::Empty, |(x, _)| mm(x)),
                standing.at.map_or(Cell::Empty, |(_, y)| mm(y)),
                standing.at.map_or(Cell::Empty, |_| {
                    Cell::text(if standing.turned { "across" } else { "along" })
                }),
                Cell::Figure(bundle.limit_mass.figure(units, 1)),
                Cell::text(if bundle.weighing.is_weighed() { "weighed" } else { "estimate" }),
                Cell::text(sure),
            ]
        })
    })
}

fn sheet_columns(units: Units) -> Vec<Column> {
    let side = |what: &str| Column::figures(format!("{what} {}", units.side()));
    vec![
        Column::words("container"),
        Column::words("type"),
        Column::words("ISO 6346 type"),
        Column::words("class"),
        Column::words("freight offer"),
        Column::words("drayage offer"),
        Column::figures("no"),
        Column::words("bundle"),
        Column::words("block"),
        Column::figures("slabs"),
        side("length"),
        side("width"),
        side("height"),
        side("from front"),
        side("from left"),
        Column::words("stands"),
        Column::figures(at_most(units)),
        Column::words("mass"),
        Column::words("proof"),
    ]
}

/// What every loading page says.
fn cautions(shipment: &Shipment, summaries: &[BoxSummary<'_>], units: Units) -> Vec<String> {
    let mut notes = vec![
        "Box charges depend on the boxes alone. Insurance, fees with a minimum or maximum, and charges by \
         tonne or area are outside them; offers are compared with everything included."
            .to_owned(),
        "A calculation aid. Slabs on edge kill: nobody stands where one could fall, and none is \
         released before it is held. Bracing and securing follow the CTU Code and a competent \
         person on the spot."
            .to_owned(),
        "The carrier and the State confirm road limits, axle loads and permits. A limit \
         marked \"trade practice\" is no law."
            .to_owned(),
    ];
    if shipment.bundles.iter().any(|bundle| !bundle.weighing.is_weighed()) {
        notes.insert(
            0,
            "Masses from nominal thickness are estimates, not a verified gross mass (SOLAS VI/2): weigh \
             before declaring. Limits add the stone's thickness margin; the mass sheet does not."
                .to_owned(),
        );
    }
    notes.extend(securing::note(summaries, units));
    notes.extend(order::usual_room(summaries, units));
    if summaries.iter().any(|one| one.standing.iter().any(|standing| standing.at.is_none())) {
        notes.insert(
            0,
            "Some boxes have no worked-out places: whether their bundles fit the floor is not proven."
                .to_owned(),
        );
    }
    notes
}
