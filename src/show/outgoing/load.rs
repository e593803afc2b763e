//! A load for a supplier or a haulier as a page.

use super::super::load::drawing;
use super::super::load::floor::{Floor, Piece, whole};
use super::super::load::sheet::Sheet;
use super::super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use super::super::paper::Ground;
use super::hold;
use crate::outgoing::{
    Audience, Axle, Haulage, Hole, OutgoingBox, OutgoingBundle, OutgoingLoad, Rig,
};
use crate::quantity::{Decimal, Length, Mass, Units, grouped};

/// The page of a load for others, with the user's wishes; its drawings are made for a ground.
pub fn outgoing_load<'a>(
    load: &'a OutgoingLoad<'a>,
    wishes: &[String],
    units: Units,
    ground: Ground,
) -> Page<'a> {
    let stuck = load.boxes.iter().filter_map(|one| {
        Some(fact("NO ORDER OF LOADING", &format!("box {}: {}", one.label, no_order(one)?)))
    });
    let mut facts: Vec<_> = stuck.chain(ports(load)).collect();
    facts.extend(load.yard.map(|yard| fact("deliver to", yard)));
    facts.push(fact("containers", &kinds(load)));
    facts.extend(wishes.iter().map(|wish| fact("please", wish)));
    let mut blocks = vec![Block::Heading(title(load)), Block::Facts(facts)];
    blocks.extend(boxes(load, units, ground));
    blocks.push(Block::Notes(cautions(load)));
    blocks.push(Block::Sheet(sheet(load, units)));
    Page { blocks }
}

fn fact(label: &str, value: &str) -> (String, String) {
    (label.to_owned(), value.to_owned())
}

/// The ports that the load is told of with.
pub(super) fn ports(load: &OutgoingLoad<'_>) -> impl Iterator<Item = (String, String)> {
    let from = load.from.map(|from| fact("port of loading", &from.to_string()));
    from.into_iter().chain([fact("port of arrival", &load.port.to_string())])
}

/// What a load is called to those who are told of it.
pub(super) fn title(load: &OutgoingLoad<'_>) -> String {
    match &load.invoice {
        Some((_, numbers)) => format!("Load of {}", invoices(numbers)),
        None => "Load for haulage".to_owned(),
    }
}

/// The numbers of invoices with their noun.
pub(super) fn invoices(numbers: &[&str]) -> String {
    match numbers {
        [one] => format!("invoice {one}"),
        many => format!("invoices {}", many.join(", ")),
    }
}

/// How many containers of each type, such as "2 x 20' GP".
pub(super) fn kinds(load: &OutgoingLoad<'_>) -> String {
    let mut counted: Vec<(&str, usize)> = Vec::new();
    for one in &load.boxes {
        match counted.iter_mut().find(|(kind, _)| *kind == one.kind) {
            Some((_, count)) => *count += 1,
            None => counted.push((one.kind, 1)),
        }
    }
    let all: Vec<String> =
        counted.iter().map(|(kind, count)| format!("{count} x {kind}")).collect();
    all.join(", ")
}

/// The blocks of each container.
pub(super) fn boxes<'a>(
    load: &'a OutgoingLoad<'a>,
    units: Units,
    ground: Ground,
) -> impl Iterator<Item = Block<'a>> {
    load.boxes.iter().flat_map(move |one| {
        let mut blocks = vec![Block::Heading(head(one)), Block::Facts(facts(one, units))];
        blocks.push(Block::Table(bundles(&one.bundles, units)));
        blocks.extend(drawing::floor(&sheet_of(load, one, units), units, ground));
        blocks.extend(one.hold.iter().flat_map(|own| hold::blocks(own, units)));
        for rig in one.haulage.iter().flat_map(|haulage| &haulage.rigs) {
            blocks.push(Block::Facts(vec![fact("doors", &format!("to the {}", rig.doors))]));
            blocks.push(Block::Table(ticket(rig, units)));
            if !rig.holes.is_empty() {
                blocks.push(Block::Table(holes(&rig.holes, units)));
            }
            blocks.push(Block::Table(axle_loads(&rig.axles, units)));
        }
        let note = one.haulage.as_ref().and_then(|own| certification(one, own, units));
        blocks.extend(note.map(|note| Block::Notes(vec![note])));
        blocks
    })
}

/// A container by name, type, number and seal.
pub(super) fn head(one: &OutgoingBox<'_>) -> String {
    let of = |word: &str, value: &str| format!(", {word}{value}");
    let number = one.number.as_ref().map_or_else(String::new, |number| of("", number));
    let seal = one.seal.map_or_else(String::new, |seal| of("seal ", seal));
    let head = super::super::load::head(one.label, one.kind, one.iso.as_deref());
    format!("{head}{number}{seal}")
}

fn facts(one: &OutgoingBox<'_>, units: Units) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    if let Some(mass) = one.mass {
        let mass = mass.show(units);
        facts.push(fact(
            "bundles",
            &format!("{}, {mass} together", grouped(one.bundles.len().into())),
        ));
    } else {
        let own = "other goods travel in this container; the bundles below stand where shown; whoever \
                   fills it asks us what holds them";
        facts.push(fact("shared", own));
    }
    if let Some(own) = &one.haulage {
        facts.extend(masses(own, units));
    }
    if let Some([x, y, z]) = one.centre {
        let shown = |mm: Decimal| Length::mm(mm).unwrap_or(Length::ZERO).show(units);
        let centre = format!(
            "centre of gravity {} from the front, {} from the left wall, {} above the floor",
            shown(x),
            shown(y),
            shown(z)
        );
        facts.push(fact("balance", &centre));
    }
    facts
}

fn masses(own: &Haulage<'_>, units: Units) -> [(String, String); 3] {
    let told = |mass: Mass, is_known: bool, how: [&str; 2]| {
        format!("{}, {}", mass.show(units), how[usize::from(!is_known)])
    };
    let dunnage = format!("{}, {}", own.dunnage.mass.show(units), own.dunnage_from);
    let tare = told(
        own.tare.mass,
        own.tare.is_known,
        ["as marked on the container", "usual for the type"],
    );
    [fact("dunnage", &dunnage), fact("tare", &tare), fact("gross", &gross(own, units))]
}

fn gross(own: &Haulage<'_>, units: Units) -> String {
    let expected = format!("{}: bundles, dunnage and tare", own.gross.show(units));
    if own.at_most == own.gross {
        return expected;
    }
    let at_most = own.at_most.show(units);
    format!(
        "{expected}; {at_most} where slabs come thicker than stated: the axle loads are for that"
    )
}

/// What a haulier in the United States must be given in writing (49 U.S.C. 5902(b)).
fn certification(one: &OutgoingBox<'_>, own: &Haulage<'_>, units: Units) -> Option<String> {
    let (masses, contents) = own.certified?;
    let [expected, at_most] = masses.map(|mass| mass.show(units));
    let cargo = if expected == at_most { expected } else { format!("{expected} to {at_most}") };
    let number = one.number.as_ref();
    let number =
        number.map_or_else(|| "the container's number".to_owned(), |no| format!("number {no}"));
    Some(format!(
        "INTERMODAL CERTIFICATION (49 U.S.C. 5902): cargo, packing and dunnage are {cargo}, tare excluded. \
         Contents: {contents}, in bundles on edge. A certification comes with the container: \
         actual gross cargo weight, contents, certifying party, {number} and date."
    ))
}

/// Which bundles have no way in, where some have none.
fn no_order(one: &OutgoingBox<'_>) -> Option<String> {
    let have = if one.stuck.len() == 1 { "has" } else { "have" };
    let names = one.stuck.join(", ");
    (!one.stuck.is_empty()).then(|| format!("{names} {have} no way in, in any order"))
}

/// The sheet of a container for those who are told of it.
pub(super) fn sheet_of<'a>(
    load: &OutgoingLoad<'a>,
    one: &'a OutgoingBox<'a>,
    units: Units,
) -> Sheet<'a> {
    Sheet {
        head: super::super::load::head(one.label, one.kind, one.iso.as_deref()),
        of: title(load),
        floor: floor(one),
        code: one.iso.clone(),
        number: one.number.clone(),
        seal: one.seal,
        yard: load.yard,
        cargo: None,
        mass_head: expected(units),
        order: no_order(one).map_or_else(|| Ok("as numbered".to_owned()), Err),
        not_held: one.hold.as_ref().map_or_else(Vec::new, |own| own.not_held.clone()),
        is_shared: one.is_shared,
    }
}

/// The floor of a container.
fn floor<'a>(one: &'a OutgoingBox<'a>) -> Floor<'a> {
    let pieces = one.bundles.iter().map(|bundle| {
        let [along, across] = bundle.floor();
        let size = [along, across, bundle.size[2]];
        Piece { id: bundle.id, mass: bundle.mass, at: bundle.at, size, turned: bundle.turned }
    });
    Floor {
        inside: one.inside.map(Length::mm_down),
        pieces: pieces.collect(),
        blocking: one.hold.as_ref().map_or_else(Vec::new, |own| own.blocking.clone()),
        centre: one.centre.and_then(whole),
        window: None,
    }
}

/// Bundles, each with its place if that is known.
pub(super) fn bundles<'a>(all: &'a [OutgoingBundle<'a>], units: Units) -> Table<'a> {
    let has_slabs = all.iter().any(|bundle| bundle.slabs.is_some());
    let has_places = all.iter().any(|bundle| bundle.at.is_some());
    let mm = move |mm: i64| Length::whole_mm(mm).figure(units);
    let rows = all.iter().enumerate().map(move |(index, bundle)| -> Row<'a> {
        let [length, width, height] = bundle.size.map(mm);
        let mut row = vec![Cell::count(index + 1), Cell::text(bundle.id)];
        if has_slabs {
            row.push(Cell::text(bundle.block.unwrap_or("")));
            row.push(bundle.slabs.map_or(Cell::Empty, Cell::count));
        }
        row.push(Cell::text(format!("{length} x {width} x {height}")));
        if has_places {
            let at = bundle.at.map(|(x, y)| format!("{}, {}", mm(x), mm(y)));
            row.push(Cell::text(at.unwrap_or_default()));
            row.push(stands(bundle));
        }
        row.push(Cell::Figure(bundle.mass.figure(units, 1)));
        row.push(weighed(bundle));
        row
    });
    let mut columns = vec![Column::figures("no"), Column::words("bundle")];
    if has_slabs {
        columns.extend([Column::words("block"), Column::figures("slabs")]);
    }
    columns.push(Column::figures(format!("length x width x height {}", units.side())));
    if has_places {
        columns.push(Column::figures(format!("from front, left {}", units.side())));
        columns.push(Column::words("stands"));
    }
    columns.extend([Column::figures(expected(units)), Column::words("mass")]);
    let title = String::new();
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main: false }
}

/// The head of the masses of bundles: without the margin that limits are checked with.
fn expected(units: Units) -> String {
    format!("expected {}", units.mass())
}

fn stands<'a>(bundle: &OutgoingBundle<'_>) -> Cell<'a> {
    let way = if bundle.turned { "across" } else { "along" };
    bundle.at.map_or(Cell::Empty, |_| Cell::text(way))
}

fn weighed<'a>(bundle: &OutgoingBundle<'_>) -> Cell<'a> {
    Cell::text(if bundle.is_weighed { "weighed" } else { "estimate" })
}

/// What a truck scale shows, each line against what law and ratings allow.
fn ticket(rig: &Rig, units: Units) -> Table<'_> {
    let figure = move |mass: Mass| Cell::Figure(mass.figure(units, 0));
    let row = move |what: String, [expected, at_most]: [Mass; 2]| {
        vec![Cell::text(what), figure(expected), figure(at_most)]
    };
    let lines = rig.lines.iter().map(move |line| -> Row<'_> {
        let mut cells = row(line.what.clone(), line.loads);
        cells.push(line.most.map_or(Cell::Empty, |(most, _)| figure(most)));
        cells.push(Cell::text(match line.most {
            Some((_, by)) if line.holds => by.to_owned(),
            Some((_, by)) => format!("{by}: OVER"),
            None => "no rule is known".to_owned(),
        }));
        cells
    });
    let kingpin = std::iter::once_with(move || {
        let mut cells = row("on the kingpin".to_owned(), rig.kingpin);
        cells.extend([Cell::Empty, Cell::text("")]);
        cells
    });
    Table {
        title: "As a truck scale shows it".to_owned(),
        columns: vec![
            Column::words("line"),
            Column::figures(expected(units)),
            Column::figures(format!("at most {}", units.mass())),
            Column::figures(format!("allowed {}", units.mass())),
            Column::words("by"),
        ],
        rows: Rows::of(lines.chain(kingpin)),
        totals: None,
        is_main: false,
    }
}

/// The holes of a slider.
fn holes(all: &[Hole], units: Units) -> Table<'_> {
    let rows = all.iter().map(move |hole| -> Row<'_> {
        let mut cells = vec![Cell::Figure(hole.at.figure(units))];
        cells.extend(hole.loads.iter().map(|mass| Cell::Figure(mass.figure(units, 0))));
        let verdict = if hole.broken.is_empty() {
            "legal".to_owned()
        } else {
            format!("NOT legal: {}", hole.broken.join(", "))
        };
        let planned = if hole.is_used { ", planned" } else { "" };
        cells.push(Cell::text(format!("{verdict}{planned}")));
        cells
    });
    let mass = |what: &str| Column::figures(format!("{what} {}", units.mass()));
    let mut columns = vec![Column::figures(format!("kingpin to bogie {}", units.side()))];
    columns.extend(["steer", "drive", "trailer", "gross"].map(mass));
    columns.push(Column::words("verdict"));
    Table {
        title: "The holes of the slider, at most".to_owned(),
        columns,
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

fn axle_loads<'a>(axles: &'a [Axle], units: Units) -> Table<'a> {
    let rows = axles.iter().enumerate().map(move |(index, axle)| -> Row<'a> {
        vec![
            Cell::count(index + 1),
            Cell::text(axle.group),
            Cell::Figure(axle.at.figure(units)),
            Cell::Figure(axle.load.figure(units, 0)),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::figures("axle"),
            Column::words("group"),
            Column::figures(format!("behind the steer axle {}", units.side())),
            Column::figures(format!("carries {}", units.mass())),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

/// The bundles of all containers, a figure a cell: what a spreadsheet is given.
fn sheet<'a>(load: &'a OutgoingLoad<'a>, units: Units) -> Table<'a> {
    let is_haulage = load.to == Audience::Haulier;
    let mm = move |mm: i64| Cell::Figure(Length::whole_mm(mm).figure(units));
    let kg = move |mass: Mass| Cell::Figure(mass.figure(units, 1));
    let row = move |one: &'a OutgoingBox<'a>, index: usize, bundle: &'a OutgoingBundle<'a>| {
        let mut row: Row<'a> = vec![
            Cell::text(one.label),
            Cell::text(one.kind),
            Cell::text(one.iso.as_deref().unwrap_or("")),
            Cell::text(one.number.as_deref().unwrap_or("")),
            Cell::text(one.seal.unwrap_or("")),
        ];
        match &one.haulage {
            Some(own) => row.extend([own.gross, own.tare.mass, own.dunnage.mass].map(kg)),
            None => row.extend([
                Cell::text(bundle.block.unwrap_or("")),
                bundle.slabs.map_or(Cell::Empty, Cell::count),
            ]),
        }
        row.extend([Cell::count(index + 1), Cell::text(bundle.id)]);
        row.extend(bundle.size.map(mm));
        row.extend([
            bundle.at.map_or(Cell::Empty, |(x, _)| mm(x)),
            bundle.at.map_or(Cell::Empty, |(_, y)| mm(y)),
            stands(bundle),
            kg(bundle.mass),
            weighed(bundle),
        ]);
        row
    };
    let rows = load.boxes.iter().flat_map(move |one| {
        one.bundles.iter().enumerate().map(move |(index, bundle)| row(one, index, bundle))
    });
    let side = |what: &str| Column::figures(format!("{what} {}", units.side()));
    let mass = |what: &str| Column::figures(format!("{what} {}", units.mass()));
    let mut columns: Vec<Column> =
        ["container", "type", "ISO 6346 type", "number", "seal"].map(Column::words).to_vec();
    if is_haulage {
        columns.extend(["gross", "tare", "dunnage"].map(mass));
    } else {
        columns.extend([Column::words("block"), Column::figures("slabs")]);
    }
    columns.extend([Column::figures("no"), Column::words("bundle")]);
    columns.extend(["length", "width", "height", "from front", "from left"].map(side));
    columns.push(Column::words("stands"));
    columns.extend([Column::figures(expected(units)), Column::words("mass")]);
    let title = "Bundles, a figure a cell".to_owned();
    Table { title, columns, rows: Rows::of(rows), totals: None, is_main: true }
}

/// What every page for others says.
pub(super) fn cautions(load: &OutgoingLoad<'_>) -> Vec<String> {
    let mut all = Vec::new();
    let has_estimates =
        load.boxes.iter().flat_map(|one| &one.bundles).any(|bundle| !bundle.is_weighed);
    if load.is_nominal {
        all.push("Bundles are assumed, as there is no packing list yet.");
    }
    if has_estimates {
        all.push("A mass marked estimate is no verified gross mass (SOLAS VI/2): weigh before declaring.");
    }
    if load.boxes.iter().any(|one| one.haulage.as_ref().is_some_and(|own| !own.rigs.is_empty())) {
        all.push(
            "Axle loads are worked out for a rig with axles where shown, and allow for slabs somewhat \
             thicker than stated. They assume a suspension that equalises: the axles of a group carry alike. \
             In another hole of a slider the empty chassis is taken to weigh where it did. The carrier confirms \
             axle loads, road limits and permits.",
        );
    }
    all.push(
        "A calculation aid. Slabs on edge kill: nobody stands where one could fall, and none is released \
         before it is held. Bracing and securing follow the CTU Code and a competent person on the spot.",
    );
    all.into_iter().map(str::to_owned).collect()
}
