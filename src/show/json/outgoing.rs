//! What leaves the house, for scripts: made from the types of `outgoing` alone.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, write};
use crate::outgoing::{Audience, Haulage, Letter, OutgoingBox, OutgoingBundle, OutgoingLoad};
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
    haulage: Option<HaulageJson>,
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
struct HaulageJson {
    gross_kg: String,
    gross_at_most_kg: String,
    tare_kg: String,
    tare_read: bool,
    dunnage_kg: String,
    dunnage_weighed: bool,
    rigs: Vec<RigJson>,
    /// Cargo, packing and dunnage, where they are to be certified (49 U.S.C. 5902).
    certified_kg: Option<String>,
    certified_at_most_kg: Option<String>,
}

#[derive(Serialize)]
struct RigJson {
    doors: &'static str,
    axles: Vec<AxleJson>,
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
        haulage: one.haulage.as_ref().map(haulage_json),
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

fn haulage_json(own: &Haulage) -> HaulageJson {
    let rigs = own.rigs.iter().map(|(doors, axles)| RigJson {
        doors,
        axles: axles
            .iter()
            .map(|axle| AxleJson {
                group: axle.group,
                at_mm: Length::to_mm(axle.at, 1).to_string(),
                load_kg: kg(axle.load),
            })
            .collect(),
    });
    HaulageJson {
        gross_kg: kg(own.gross),
        gross_at_most_kg: kg(own.at_most),
        tare_kg: kg(own.tare.mass),
        tare_read: own.tare.is_known,
        dunnage_kg: kg(own.dunnage.mass),
        dunnage_weighed: own.dunnage.is_known,
        rigs: rigs.collect(),
        certified_kg: own.certified.map(|[expected, _]| kg(expected)),
        certified_at_most_kg: own.certified.map(|[_, at_most]| kg(at_most)),
    }
}
