//! What leaves the house, for scripts: made from the types of `outgoing` alone.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, write};
use crate::outgoing::{
    Audience, Haulage, Hold, Hole, Letter, Line, OutgoingBox, OutgoingBundle, OutgoingLoad,
};
use crate::quantity::{Length, Mass};

#[derive(Serialize)]
struct DocumentJson<'a> {
    format: u32,
    wishes: &'a [String],
    #[serde(flatten)]
    load: OutgoingJson<'a>,
}

#[derive(Serialize)]
struct OutgoingJson<'a> {
    #[serde(rename = "for")]
    to: &'static str,
    supplier: Option<&'a str>,
    invoices: &'a [&'a str],
    from: Option<&'a str>,
    port: &'a str,
    yard: Option<&'a str>,
    nominal: bool,
    containers: Vec<ContainerJson<'a>>,
}

#[derive(Serialize)]
struct ContainerJson<'a> {
    container: &'a str,
    #[serde(rename = "type")]
    kind: &'a str,
    iso: Option<&'a str>,
    number: Option<&'a str>,
    seal: Option<&'a str>,
    bundles: Vec<BundleJson<'a>>,
    /// Whether goods of others travel in it; sums are then unknown.
    shared: bool,
    bundles_kg: Option<String>,
    cog_x_mm: Option<String>,
    cog_y_mm: Option<String>,
    cog_z_mm: Option<String>,
    securing: Option<HoldJson<'a>>,
    haulage: Option<HaulageJson<'a>>,
}

/// What the works do to hold the cargo; none where goods of others travel in it, or nothing is judged.
#[derive(Serialize)]
struct HoldJson<'a> {
    timber: Vec<StrutsJson<'a>>,
    timber_kg: String,
    /// Bundles that are tied side by side.
    ties: &'a [Vec<&'a str>],
    /// Walls with spreaders before them.
    walls: &'a [&'static str],
    left_gap_mm: Option<String>,
    right_gap_mm: Option<String>,
    not_held: &'a [String],
    /// Whether a part of the way is not judged.
    part: bool,
}

#[derive(Serialize)]
struct StrutsJson<'a> {
    #[serde(rename = "for")]
    what: &'a str,
    holds_kn: String,
    count: i64,
    thick_mm: String,
    high_mm: String,
    long_mm: String,
    above_floor_mm: Option<String>,
}

#[derive(Serialize)]
struct BundleJson<'a> {
    bundle: &'a str,
    block: Option<&'a str>,
    slab_count: Option<usize>,
    length_mm: i64,
    width_mm: i64,
    height_mm: i64,
    x_mm: Option<i64>,
    y_mm: Option<i64>,
    stands: Option<&'static str>,
    mass_kg: String,
    weighed: bool,
}

#[derive(Serialize)]
struct HaulageJson<'a> {
    gross_kg: String,
    gross_at_most_kg: String,
    tare_kg: String,
    tare_read: bool,
    dunnage_kg: String,
    dunnage_weighed: bool,
    rigs: Vec<RigJson<'a>>,
    /// Cargo, packing and dunnage, where they are to be certified (49 U.S.C. 5902).
    certified_kg: Option<String>,
    certified_at_most_kg: Option<String>,
    /// What the goods are, for that.
    contents: Option<&'a str>,
}

#[derive(Serialize)]
struct RigJson<'a> {
    doors: &'static str,
    axles: Vec<AxleJson>,
    /// Steer, drive, trailer, gross, then what else has a limit.
    lines: Vec<LineOfScaleJson<'a>>,
    kingpin_kg: String,
    kingpin_at_most_kg: String,
    /// Each hole of a slider.
    holes: Vec<HoleJson<'a>>,
}

/// A line of a truck scale's ticket.
#[derive(Serialize)]
struct LineOfScaleJson<'a> {
    line: &'a str,
    expected_kg: String,
    at_most_kg: String,
    /// The least of law and ratings, and which of them it is.
    allowed_kg: Option<String>,
    by: Option<&'static str>,
    holds: bool,
}

#[derive(Serialize)]
struct HoleJson<'a> {
    bogie_mm: String,
    planned: bool,
    steer_kg: Option<String>,
    drive_kg: Option<String>,
    trailer_kg: Option<String>,
    gross_kg: Option<String>,
    /// What is over a limit there; nothing where it is legal.
    over: &'a [String],
}

#[derive(Serialize)]
struct AxleJson {
    group: &'static str,
    at_mm: String,
    load_kg: String,
}

#[derive(Serialize)]
struct LetterJson<'a> {
    format: u32,
    supplier: &'a str,
    invoices: &'a [&'a str],
    terms: &'a [String],
    lines: Vec<LineJson<'a>>,
    nominal: bool,
    prices: Vec<PriceJson<'a>>,
    until: Option<String>,
    wishes: &'a [String],
    bundles: Vec<BundleJson<'a>>,
    load: Option<OutgoingJson<'a>>,
}

#[derive(Serialize)]
struct LineJson<'a> {
    line: &'a str,
    stone: &'a str,
    finish: &'a str,
    thickness_mm: String,
    slab_count: usize,
    /// The last day of its price, where he is asked for it anew.
    price_lapsed_on: Option<String>,
}

#[derive(Serialize)]
struct PriceJson<'a> {
    line: &'a str,
    price: String,
}

/// Writes a load for others.
///
/// # Errors
/// Where the output cannot be written.
pub fn outgoing_load(
    load: &OutgoingLoad<'_>,
    wishes: &[String],
    out: &mut dyn Write,
) -> io::Result<()> {
    write(&DocumentJson { format: FORMAT, wishes, load: outgoing_json(load) }, out)
}

/// Writes a letter.
///
/// # Errors
/// Where the output cannot be written.
pub fn letter(letter: &Letter<'_>, out: &mut dyn Write) -> io::Result<()> {
    let Letter { goods, load, asked } = letter;
    let lines = goods.lines.iter().map(|line| LineJson {
        line: line.id,
        stone: line.stone,
        finish: line.finish,
        thickness_mm: line.thickness.to_mm(1).normalize().to_string(),
        slab_count: line.slabs,
        price_lapsed_on: line.lapsed.map(|day| day.to_string()),
    });
    let prices = asked.prices.iter();
    let document = LetterJson {
        format: FORMAT,
        supplier: goods.supplier,
        invoices: &goods.invoices,
        terms: &goods.terms,
        lines: lines.collect(),
        nominal: goods.is_nominal,
        prices: prices.map(|(line, price)| PriceJson { line, price: price.to_string() }).collect(),
        until: asked.until.map(|day| day.to_string()),
        wishes: &asked.wishes,
        bundles: goods.bundles.iter().map(bundle_json).collect(),
        load: load.as_ref().map(outgoing_json),
    };
    write(&document, out)
}

fn kg(mass: Mass) -> String {
    mass.to_kg(1).to_string()
}

fn outgoing_json<'a>(load: &'a OutgoingLoad<'a>) -> OutgoingJson<'a> {
    let word = Audience::ALL.into_iter().find(|(one, _)| *one == load.to);
    let invoice = load.invoice.as_ref();
    OutgoingJson {
        to: word.map_or("", |(_, word)| word),
        supplier: invoice.map(|(supplier, _)| *supplier),
        invoices: invoice.map_or(&[], |(_, numbers)| numbers),
        from: load.from.map(|port| port.code.code()),
        port: load.port.code.code(),
        yard: load.yard,
        nominal: load.is_nominal,
        containers: load.boxes.iter().map(container_json).collect(),
    }
}

fn container_json<'a>(one: &'a OutgoingBox<'a>) -> ContainerJson<'a> {
    let [x, y, z] = one.centre.map_or([None; 3], |centre| centre.map(Some));
    ContainerJson {
        container: one.label,
        kind: one.kind,
        iso: one.iso.as_deref(),
        number: one.number.as_deref(),
        seal: one.seal,
        bundles: one.bundles.iter().map(bundle_json).collect(),
        shared: one.is_shared,
        bundles_kg: one.mass.map(kg),
        cog_x_mm: x.map(|mm| mm.to_string()),
        cog_y_mm: y.map(|mm| mm.to_string()),
        cog_z_mm: z.map(|mm| mm.to_string()),
        securing: one.hold.as_ref().map(hold_json),
        haulage: one.haulage.as_ref().map(haulage_json),
    }
}

fn hold_json<'a>(own: &'a Hold<'a>) -> HoldJson<'a> {
    let mm = |length: Length| length.to_mm(1).normalize().to_string();
    let struts = own.timber.iter().map(|one| StrutsJson {
        what: &one.what,
        holds_kn: one.kn.to_string(),
        count: one.count,
        thick_mm: mm(one.sides[0]),
        high_mm: mm(one.sides[1]),
        long_mm: mm(one.sides[2]),
        above_floor_mm: one.at.map(mm),
    });
    HoldJson {
        timber: struts.collect(),
        timber_kg: kg(own.mass),
        ties: &own.ties,
        walls: &own.walls,
        left_gap_mm: own.gaps.map(|gaps| mm(gaps[0])),
        right_gap_mm: own.gaps.map(|gaps| mm(gaps[1])),
        not_held: &own.not_held,
        part: own.is_part,
    }
}

fn bundle_json<'a>(bundle: &OutgoingBundle<'a>) -> BundleJson<'a> {
    let [length_mm, width_mm, height_mm] = bundle.size;
    BundleJson {
        bundle: bundle.id,
        block: bundle.block,
        slab_count: bundle.slabs,
        length_mm,
        width_mm,
        height_mm,
        x_mm: bundle.at.map(|at| at.0),
        y_mm: bundle.at.map(|at| at.1),
        stands: bundle.at.map(|_| if bundle.turned { "across" } else { "along" }),
        mass_kg: kg(bundle.mass),
        weighed: bundle.is_weighed,
    }
}

fn haulage_json<'a>(own: &'a Haulage<'_>) -> HaulageJson<'a> {
    let rigs = own.rigs.iter().map(|rig| RigJson {
        doors: rig.doors,
        axles: rig
            .axles
            .iter()
            .map(|axle| AxleJson {
                group: axle.group,
                at_mm: Length::to_mm(axle.at, 1).to_string(),
                load_kg: kg(axle.load),
            })
            .collect(),
        lines: rig.lines.iter().map(line_json).collect(),
        kingpin_kg: kg(rig.kingpin[0]),
        kingpin_at_most_kg: kg(rig.kingpin[1]),
        holes: rig.holes.iter().map(hole_json).collect(),
    });
    HaulageJson {
        gross_kg: kg(own.gross),
        gross_at_most_kg: kg(own.at_most),
        tare_kg: kg(own.tare.mass),
        tare_read: own.tare.is_known,
        dunnage_kg: kg(own.dunnage.mass),
        dunnage_weighed: own.dunnage.is_known,
        rigs: rigs.collect(),
        certified_kg: own.certified.map(|([expected, _], _)| kg(expected)),
        certified_at_most_kg: own.certified.map(|([_, at_most], _)| kg(at_most)),
        contents: own.certified.map(|(_, contents)| contents),
    }
}

fn line_json(line: &Line) -> LineOfScaleJson<'_> {
    LineOfScaleJson {
        line: &line.what,
        expected_kg: kg(line.loads[0]),
        at_most_kg: kg(line.loads[1]),
        allowed_kg: line.most.map(|(most, _)| kg(most)),
        by: line.most.map(|(_, by)| by),
        holds: line.holds,
    }
}

fn hole_json(hole: &Hole) -> HoleJson<'_> {
    let of = |at: usize| hole.loads.get(at).map(|mass| kg(*mass));
    HoleJson {
        bogie_mm: Length::to_mm(hole.at, 1).to_string(),
        planned: hole.is_used,
        steer_kg: of(0),
        drive_kg: of(1),
        trailer_kg: of(2),
        gross_kg: of(3),
        over: &hole.broken,
    }
}
