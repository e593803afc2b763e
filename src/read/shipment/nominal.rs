//! Nominal quantities: an offer without a packing list, as slabs that are made up.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::super::packing;
use super::super::table::Table;
use crate::fault::{At, Code, Fault, Place, Report, Reported, gathered};
use crate::quantity::{Area, Decimal, Mass, Overflow, PricedBy, Sides, Size, ratio};
use crate::trade::{
    Bundle, Line, MassBasis, Measure, NominalSlab, Sawn, Shipment, Slab, Stone, Tariffs, Timber,
};

/// A line's quantity before there is a packing list.
pub(super) enum Nominal {
    /// So many bundles of so many slabs of one size.
    Bundles { bundles: u32, slabs: u32, size: Size, is_billed: bool, place: Place },
    /// So many slabs of one gross size that come of a block, in bundles of the mass that `rates/crating.toml`
    /// assumes.
    Slabs { slabs: u32, size: Size, place: Place },
    /// A billed area, in slabs and bundles of the size that `rates/crating.toml` assumes.
    Area { area: Area, place: Place },
}

impl Nominal {
    /// Where it stands.
    pub(super) fn place(&self) -> &Place {
        match self {
            Self::Bundles { place, .. } | Self::Slabs { place, .. } | Self::Area { place, .. } => {
                place
            }
        }
    }
}

/// The keys of a nominal quantity.
const NOMINAL: [&str; 5] = ["quantity", "bundles", "slabs", "size", "size-is"];

/// The thinnest and thickest slab that is sawn (a choice of ours).
pub(super) const THINNEST_MM: i64 = 2;

pub(super) const THICKEST_MM: i64 = 500;

/// More slabs than any line has (a choice of ours): a slip of the unit or the point.
const MOST_SLABS: u32 = 100_000;

/// Places of a square millimetre in square metres.
const MM2: u32 = 6;

/// The same, as a length of a list.
const MOST_LISTED: usize = 100_000;

/// More slabs than any bundle has (a choice of ours).
const MOST_IN_BUNDLE: u32 = 1_000;

pub(super) fn nominal_quantity(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<Option<Nominal>, Reported> {
    let quantity = row.optional::<Area>("quantity", report);
    let bundles = row.count("bundles", report);
    let slabs = row.count("slabs", report);
    let size = row.optional::<Size>("size", report);
    let is_billed = row.word("size-is", &[(false, "gross"), (true, "billed")], report);
    let (quantity, bundles, slabs, size) = (quantity?, bundles?, slabs?, size?);
    let is_billed = is_billed?;
    let Some(first) = NOMINAL.iter().find(|key| row.has(key)) else { return Ok(None) };
    let is_side = |size: &At<Size>| !size.length.is_none() && !size.height.is_none();
    let are_above = [
        ("quantity", quantity.as_ref().is_none_or(|at| !at.is_none())),
        ("bundles", bundles.as_ref().is_none_or(|at| at.value > 0)),
        ("slabs", slabs.as_ref().is_none_or(|at| at.value > 0)),
        ("size", size.as_ref().is_none_or(is_side)),
    ];
    let nothing = are_above.into_iter().filter(|(_, is_above)| !is_above);
    gathered::<()>(nothing.map(|(key, _)| {
        Err(report.error(
            Fault::error(
                Code::OutOfRange,
                format!("`{key}` of a nominal quantity must be above 0"),
            )
            .at(&row.place_of(key), "expected more than 0")
            .help("state what is to be bought, or leave the line out"),
        ))
    }))?;
    let fault = |message: &str, label: String| {
        Fault::error(Code::OutOfRange, message).at(&row.place_of(first), label)
    };
    let stray = is_billed.as_ref().filter(|_| size.is_none());
    if let Some(stray) = stray {
        return Err(report.error(
            Fault::error(Code::Contradiction, "`size-is` stands without a `size`")
                .at(&stray.place, "of which size?")
                .help("state bundles, slabs and size; a `quantity` is the billed area"),
        ));
    }
    let is_billed = is_billed.is_some_and(|at| at.value);
    match (quantity, bundles, slabs, size) {
        (Some(quantity), None, None, None) => {
            Ok(Some(Nominal::Area { area: quantity.value, place: quantity.place }))
        }
        (None, Some(bundles), Some(slabs), Some(size)) => {
            let (bundles, slabs) = (bundles.value, slabs.value);
            if !packing::is_side(size.length) || !packing::is_side(size.height) {
                let label = format!("expected sides of {}", packing::sides(report.units()));
                return Err(report.error(
                    Fault::error(Code::OutOfRange, "`size` is out of range for a slab")
                        .at(&size.place, label),
                ));
            }
            if bundles.checked_mul(slabs).is_none_or(|all| all > MOST_SLABS) {
                let label = format!("expected at most {MOST_SLABS} slabs in all");
                return Err(report.error(fault("a nominal quantity is too large", label)));
            }
            let (size, place) = (size.value, size.place);
            Ok(Some(Nominal::Bundles { bundles, slabs, size, is_billed, place }))
        }
        _ => Err(report.error(
            Fault::error(Code::Contradiction, "the nominal quantity is incomplete")
                .at(&row.place_of(first), "this alone does not say how much")
                .help("state quantity = \"420 m2\", or all of bundles, slabs and size"),
        )),
    }
}

/// Makes up the slabs and bundles of nominal lines.
pub(super) fn nominal(
    quantities: &[Option<Nominal>],
    shipment: &mut Shipment,
    tariffs: &Tariffs,
    timber: &Timber,
    report: &mut Report,
) {
    for (index, quantity) in quantities.iter().enumerate() {
        let (Some(quantity), Some(line)) = (quantity, shipment.lines.get(index)) else {
            continue;
        };
        let Some(stone) = tariffs.stone(&line.stone) else {
            continue;
        };
        let place = quantity.place().clone();
        let made = match quantity {
            Nominal::Bundles { bundles, slabs, size, is_billed, .. } => {
                let count = bundles.saturating_mul(*slabs).min(MOST_SLABS);
                let one = if *is_billed {
                    of_billed(*size, &line.measure)
                } else {
                    of_gross(*size, &line.measure)
                };
                if *is_billed && line.measure.take_off.is_none() {
                    report.add(gross_unknown(line, &place));
                }
                one.map(|one| {
                    let all = vec![one; usize::try_from(count).unwrap_or(0)];
                    (all, usize::try_from(*slabs).unwrap_or(1))
                })
            }
            Nominal::Slabs { slabs, size, .. } => {
                let Some(assumed) = assumed(tariffs, &place, report) else { continue };
                of_gross(*size, &line.measure).and_then(|one| {
                    let count = usize::try_from(*slabs).unwrap_or(0);
                    Ok((
                        vec![one; count],
                        in_a_bundle(one.gross, line, stone, assumed.bundle_mass)?,
                    ))
                })
            }
            Nominal::Area { area, .. } => {
                let Some(assumed) = assumed(tariffs, &place, report) else { continue };
                let most = assumed.size.area().and_then(|one| one.times(Decimal::from(MOST_SLABS)));
                if most.is_ok_and(|most| *area > most) {
                    report.add(
                        Fault::error(Code::OutOfRange, "a nominal quantity is too large").at(
                            &place,
                            format!("expected at most {MOST_SLABS} slabs of the assumed size"),
                        ),
                    );
                    continue;
                }
                if let PricedBy::Slab | PricedBy::Bundle = line.price.by {
                    report.add(made_up_count(line, &place, &assumed.place));
                }
                slabs_of_area(*area, assumed.size, line, stone, assumed.bundle_mass)
            }
        };
        if let Ok((slabs, _)) = &made
            && slabs.iter().any(|made| made.billed.is_none())
        {
            let message = format!("the slabs of line {} have no billed area left", line.id);
            report.add(
                Fault::error(Code::OutOfRange, message)
                    .at(&place, "the take-off is larger than the slab")
                    .help("correct the size, or the take-off in `measure`"),
            );
            continue;
        }
        let added = made.and_then(|(slabs, per_bundle)| {
            add_nominal(&slabs, per_bundle, index, shipment, stone, timber, &place)
        });
        if let Err(overflow) = added {
            report.add(
                Fault::error(Code::Overflow, overflow.to_string())
                    .at(&place, "from the figures here"),
            );
        }
    }
}

/// The slab and bundle that `rates/crating.toml` assumes; where there is none, that is told.
fn assumed<'t>(
    tariffs: &'t Tariffs,
    place: &Place,
    report: &mut Report,
) -> Option<&'t NominalSlab> {
    if tariffs.nominal.is_none() && report.sound_in("rates/crating.toml").is_ok() {
        report.add(
            Fault::error(Code::MissingKey, "rates/crating.toml has no [nominal]")
                .at(place, "a quantity without slabs needs a slab to assume")
                .help("add [nominal] with size, bundle-mass and source, or state bundles, slabs and size here"),
        );
    }
    tariffs.nominal.as_ref()
}

/// A price by the piece on a quantity by area: how many pieces there are is an assumption.
fn made_up_count(line: &Line, quantity: &Place, assumed: &Place) -> Fault {
    let by = line.price.by.word();
    let message = format!(
        "line {} is priced per {by}, and its quantity is an area: the number is worked out from the assumed slab",
        line.id
    );
    Fault::warning(Code::Notice, message)
        .at(quantity, "a quantity by area")
        .also(assumed, "the assumed slab")
        .help("state bundles, slabs and size instead, as the supplier offers them")
}

/// A nominal slab: the size it stands in its bundle with, and its areas.
#[derive(Clone, Copy)]
struct Made {
    size: Size,
    /// Whether that is its size as sawn.
    is_gross: bool,
    gross: Area,
    billed: Area,
}

/// A slab of a gross size, billed as the supplier measures.
fn of_gross(size: Size, measure: &Measure) -> Result<Made, Overflow> {
    let billed = match billed_sides(size, measure)? {
        Some(sides) => measure.billed(sides)?,
        None => Area::ZERO,
    };
    Ok(Made { size, is_gross: true, gross: size.area()?, billed })
}

/// The billed sides of a gross size; `None` where the take-off leaves no slab.
fn billed_sides(gross: Size, measure: &Measure) -> Result<Option<Size>, Overflow> {
    let sides = measure.sides(gross)?;
    Ok((!sides.length.is_none() && !sides.height.is_none()).then_some(sides))
}

/// A slab of a billed size: as sawn it is larger by the take-off that the line states. Where it states
/// none, the gross size is not guessed.
fn of_billed(size: Size, measure: &Measure) -> Result<Made, Overflow> {
    let billed = measure.billed(size)?;
    let Some(off) = measure.take_off else {
        return Ok(Made { size, is_gross: false, gross: size.area()?, billed });
    };
    let length = size.length.plus(off.length)?;
    let size = Size { length, height: size.height.plus(off.height)? };
    Ok(Made { size, is_gross: true, gross: size.area()?, billed })
}

/// A nominal size that is billed: the slabs are larger, and nobody says by how much.
fn gross_unknown(line: &Line, place: &Place) -> Fault {
    let message =
        format!("the gross size of line {} is not known: its masses are too low", line.id);
    Fault::warning(Code::Notice, message)
        .at(place, "the size that is billed")
        .help("write what the supplier takes off, 0 if nothing: measure = { take-off = { length = \"5 cm\", height = \"4 cm\" } }")
}

/// Full slabs of the assumed size, and a last one with the area that remains. Where the line states its
/// take-off, the assumed size is gross; else nothing but the billed area is known.
fn slabs_of_area(
    area: Area,
    size: Size,
    line: &Line,
    stone: &Stone,
    bundle_mass: Mass,
) -> Result<(Vec<Made>, usize), Overflow> {
    let measure = &line.measure;
    let full = match measure.take_off {
        Some(_) => of_gross(size, measure)?,
        None => Made { is_gross: false, ..of_billed(size, measure)? },
    };
    // What a slab takes of the quantity, before its own area is rounded.
    let each = match billed_sides(size, measure)? {
        Some(sides) if full.is_gross => sides.area()?,
        Some(_) => full.gross,
        None => return Ok((vec![full], 1)),
    };
    let mut rest = area;
    let mut slabs = Vec::new();
    while rest > each {
        if slabs.len() > MOST_LISTED {
            return Err(Overflow { what: "a nominal quantity" });
        }
        slabs.push(full);
        rest = rest.minus(each)?;
    }
    let gross = if full.is_gross { part_of(full.gross, rest, each)? } else { rest };
    slabs.push(Made { gross, billed: measure.billed_area(rest)?, ..full });
    Ok((slabs, in_a_bundle(full.gross, line, stone, bundle_mass)?))
}

/// How many slabs of a gross area stand in a bundle of at most so much stone.
fn in_a_bundle(
    gross: Area,
    line: &Line,
    stone: &Stone,
    bundle_mass: Mass,
) -> Result<usize, Overflow> {
    let slab_mass = Mass::of_area(gross, stone.kg_per_m2(line.thickness)?)?;
    let mut per_bundle = 1;
    while per_bundle < MOST_IN_BUNDLE
        && slab_mass.times(Decimal::from(per_bundle + 1))? <= bundle_mass
    {
        per_bundle += 1;
    }
    Ok(usize::try_from(per_bundle).unwrap_or(1))
}

/// The part of a slab, to the square millimetre: the slab is made up.
fn part_of(full: Area, part: Area, whole: Area) -> Result<Area, Overflow> {
    let overflow = Overflow { what: "a nominal quantity" };
    let square = full.to_m2(MM2).checked_mul(part.to_m2(MM2)).ok_or(overflow)?;
    Area::m2(ratio(square, whole.to_m2(MM2), MM2).ok_or(overflow)?)
}

fn add_nominal(
    slabs: &[Made],
    per_bundle: usize,
    line_index: usize,
    shipment: &mut Shipment,
    stone: &Stone,
    timber: &Timber,
    place: &Place,
) -> Result<(), Overflow> {
    let overflow = Overflow { what: "a nominal quantity" };
    let line = shipment.lines.get(line_index).ok_or(overflow)?;
    let (id, thickness, quality) = (line.id.clone(), line.thickness, line.quality.clone());
    let per_m2 = stone.kg_per_m2(thickness)?;
    for (number, chunk) in slabs.chunks(per_bundle.max(1)).enumerate() {
        // With a letter in it: a spreadsheet that opens the list makes a date of "1-10".
        let name = format!("{id}-B{}", number + 1);
        let bundle_index = u32::try_from(shipment.bundles.len()).map_err(|_| overflow)?;
        let mut stone_mass = Mass::ZERO;
        for (position, made) in chunk.iter().enumerate() {
            let mass = Mass::of_area(made.gross, per_m2)?;
            stone_mass = stone_mass.plus(mass)?;
            Arc::make_mut(&mut shipment.slabs).push(Slab {
                id: format!("{name}-{}", position + 1).into(),
                line: u32::try_from(line_index).map_err(|_| overflow)?,
                bundle: bundle_index,
                row: 0,
                quality: quality.clone(),
                sawn: Sawn::MadeUp(Box::new((
                    made.gross,
                    Sides::of(made.size).filter(|_| made.is_gross),
                ))),
                billed_area: made.billed,
                mass,
            });
        }
        let size = chunk.first().ok_or(overflow)?.size;
        let count = Decimal::from(chunk.len());
        let films = timber.between.times(count - Decimal::ONE)?;
        shipment.bundles.push(Bundle {
            id: name.into(),
            block: None,
            slabs: chunk.len(),
            mass: stone_mass.plus(timber.mass)?,
            limit_mass: stone.at_most(stone_mass)?.plus(timber.mass)?.up_to_gram(),
            weighing: MassBasis::Computed,
            may_turn: false,
            is_a_frame: false,
            bearers: None,
            length: size.length.plus(timber.length)?,
            width: thickness.times(count)?.plus(films)?.plus(timber.width)?,
            height: size.height.plus(timber.height)?,
            place: place.clone(),
        });
    }
    Ok(())
}

/// Slabs of nominal lines have names of our making, and a packing list may have them as well.
pub(super) fn check_made_up_slabs(shipment: &Shipment, report: &mut Report) {
    // Those of the list come first.
    if !shipment.is_nominal() || shipment.slabs.first().is_none_or(|slab| slab.row == 0) {
        return;
    }
    let is_made_up = |slab: &&Slab| slab.row == 0;
    let made_up: BTreeMap<&str, &Slab> =
        shipment.slabs.iter().filter(is_made_up).map(|slab| (&*slab.id, slab)).collect();
    for listed in shipment.slabs.iter().filter(|slab| slab.row > 0) {
        let Some(slab) = made_up.get(&*listed.id) else { continue };
        let place = |slab: &Slab| {
            let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?);
            bundle.map(|bundle| &bundle.place)
        };
        if let (Some(own), Some(first)) = (place(slab), place(listed)) {
            report.add(made_up_twice("slab", &slab.id, own, first));
        }
    }
}

pub(super) fn made_up_twice(what: &str, name: &str, place: &Place, first: &Place) -> Fault {
    let message =
        format!("the {what} \"{name}\" is made up for a nominal line, and another is called so");
    Fault::error(Code::Duplicate, message)
        .at(place, "made up for this quantity")
        .also(first, "the one of that name")
        .help("made-up names are the line's `id`, -B and a number: give the line another `id`")
}
