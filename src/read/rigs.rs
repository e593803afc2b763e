//! `rates/rigs.toml` and `rates/roads.toml`: what carries a box, and what the road lets it weigh.

use super::keys::{Names, Quotes, each, matches};
use super::table::{Laid, Table, add_unknown, rounded, unknown_word};
use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::quantity::{Length, Mass, Percent, Written};
use crate::trade::{
    AxleGroup, AxleRule, Bridge, Chassis, DoorRule, FootRule, GrossRule, Ratings, Rig, RoadLaw,
    SpreadRange, Tariffs, Ties, Tractor,
};

/// The rows that stand under the head of a quote.
const RIG_HEAD: Laid = Laid::under_quote(&["rig"]);
const ROAD_HEAD: Laid = Laid::under_quote(&["road"]);

pub(super) fn rigs(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &RIG_HEAD, report);
    tariffs.rigs = quotes.rows("rig", report, |row, report| {
        let matches = matches(row, names, report);
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let road = row.required_text("road", report);
        let tractor = part(row, "tractor", report).and_then(|table| tractor(&table, report));
        let chassis = part(row, "chassis", report).and_then(|table| chassis(&table, report));
        let doors = row.word("doors", &DoorRule::ALL, report);
        let offer = row.text("offer", report);
        let valid = row.required("valid", report);
        row.required_text("source", report)?;
        let rig = Rig {
            id: id?.value,
            name: name?.value,
            matches: matches?,
            road: road?,
            tractor: tractor?,
            chassis: chassis?,
            doors: doors?.map_or(DoorRule::Rear, |at| at.value),
            offer: offer?.map(|at| at.value),
            valid: valid?.value,
            place: row.place(),
        };
        adds_up(&rig, report);
        Ok(rig)
    });
    quotes.finish(report);
}

/// A part of a rig, which must be there.
fn part<'a>(
    row: &Table<'a>,
    key: &'static str,
    report: &mut Report,
) -> Result<Table<'a>, Reported> {
    row.inside(key, report)?.ok_or_else(|| {
        report.error(
            Fault::error(Code::MissingKey, format!("this [[rig]] lacks `{key}`"))
                .at(&row.place(), "in this row"),
        )
    })
}

fn tractor(row: &Table<'_>, report: &mut Report) -> Result<Tractor, Reported> {
    let wheelbase = row.required("wheelbase", report);
    let fifth_wheel = row.required("fifth-wheel", report);
    let steer_tare = row.required("steer-tare", report);
    let drive_tare = row.required("drive-tare", report);
    let steer_spacing = lengths(row, "steer-spacing", report);
    let drive_spacing = lengths(row, "drive-spacing", report);
    let steer_ratings = ratings(row, ["steer-tyres", "steer-axles"], report);
    let drive_ratings = ratings(row, ["drive-tyres", "drive-axles"], report);
    row.finish(report);
    Ok(Tractor {
        wheelbase: wheelbase?.value,
        fifth_wheel: fifth_wheel?.value,
        steer_tare: steer_tare?.value,
        drive_tare: drive_tare?.value,
        steer_spacing: steer_spacing?,
        drive_spacing: drive_spacing?,
        steer_ratings: steer_ratings?,
        drive_ratings: drive_ratings?,
    })
}

/// What the tyres of a group are built for, and its axles.
fn ratings(
    row: &Table<'_>,
    [tyres, axles]: [&'static str; 2],
    report: &mut Report,
) -> Result<Ratings, Reported> {
    let [tyres, axles] = [tyres, axles].map(|key| row.optional::<Mass>(key, report));
    Ok(Ratings { tyres: tyres?.map(|at| at.value), axles: axles?.map(|at| at.value) })
}

fn chassis(row: &Table<'_>, report: &mut Report) -> Result<Chassis, Reported> {
    let bogie = row.required("bogie", report);
    let spacing = lengths(row, "spacing", report);
    let tare = row.required("tare", report);
    let tare_centre = row.required("tare-centre", report);
    let box_middle = row.required("box-middle", report);
    let ratings = ratings(row, ["tyres", "axles"], report);
    let most_box = row.optional("most-box", report);
    let holes = lengths(row, "holes", report);
    row.finish(report);
    Ok(Chassis {
        bogie: bogie?.value,
        spacing: spacing?,
        tare: tare?.value,
        tare_centre: tare_centre?.value,
        box_middle: box_middle?.value,
        ratings: ratings?,
        most_box: most_box?.map(|at| at.value),
        holes: holes?,
    })
}

/// A list of lengths, such as gaps between axles `["52 in"]`; an absent one has none.
fn lengths(
    row: &Table<'_>,
    key: &'static str,
    report: &mut Report,
) -> Result<Vec<Length>, Reported> {
    let texts = row.texts(key, report)?;
    gathered(texts.into_iter().map(|text| match Length::read(&text) {
        Ok(length) if !length.is_none() => {
            if Length::is_rounded(&text) {
                report.add(rounded(&format!("`{key}` is"), &text.place, report.units()));
            }
            Ok(length)
        }
        read => {
            let is_long = read.is_err_and(|fault| fault.is_range);
            let most = Length::most(report.units()).filter(|_| is_long);
            let most = most.map(|most| format!("at most {most}"));
            let expected = most.unwrap_or_else(|| Length::FORM.to_owned());
            Err(report.error(
                Fault::error(Code::BadQuantity, format!("`{key}` holds \"{}\"", text.value))
                    .at(&text.place, format!("expected {expected}")),
            ))
        }
    }))
}

/// A rig whose axles stand out of order, or whose supports lie on one spot, carries nothing.
fn adds_up(rig: &Rig, report: &mut Report) {
    let fault = |message: &str, label: &str| {
        Fault::error(Code::Contradiction, format!("rig {}: {message}", rig.id))
            .at(&rig.place, label)
            .help("measure again: wheelbase and fifth-wheel from the drive axles' middle, all of the chassis from the kingpin")
    };
    let Ok(axles) = rig.axles() else {
        report.add(fault("its axles are too far apart to be held", "in this row"));
        return;
    };
    let in_order = axles.windows(2).all(|pair| match pair {
        [(_, one), (_, next)] => one < next,
        _ => true,
    });
    if !in_order {
        report.add(fault(
            "its axles do not add up: one stands ahead of the one before it",
            "wheelbase, fifth-wheel, bogie and spacings",
        ));
    }
    if rig.chassis.bogie.is_none() || rig.tractor.wheelbase.is_none() {
        report.add(fault("`bogie` and `wheelbase` must be above nothing", "in this row"));
    }
    let holes = &rig.chassis.holes;
    if !holes.is_empty() && !holes.contains(&rig.chassis.bogie) {
        report.add(fault("`bogie` is none of its `holes`", "the bogie is pinned in one of them"));
    }
    if rig.kingpin().is_ok_and(Length::is_none) {
        report.add(fault("the fifth wheel lies ahead of the steer axle", "`fifth-wheel`"));
    }
}

pub(super) fn roads(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &ROAD_HEAD, report);
    tariffs.roads = quotes.rows("road", report, |row, report| {
        let gross = each(row, "gross", report, |row, report| {
            let axles = row.count("axles", report);
            let tractor = row.count("tractor-axles", report);
            let most = row.required("most", report);
            Ok(GrossRule {
                axles: axles?.map_or(0, |at| at.value),
                tractor: tractor?.map_or(0, |at| at.value),
                most: most?.value,
                place: row.place(),
            })
        });
        let axles = each(row, "axles", report, axle_rule);
        let bridge = row.inside("bridge", report);
        let bridge = bridge.and_then(|table| table.map(|one| bridge_of(&one, report)).transpose());
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let least_drive = row.optional::<Percent>("least-drive", report);
        let certify_over = row.optional::<Mass>("certify-over", report);
        let permit = row.text("permit", report);
        let valid = row.required("valid", report);
        let source = row.required_text("source", report);
        Ok(RoadLaw {
            id: id?.value,
            name: name?.value,
            gross: gross?,
            axles: axles?,
            bridge: bridge?,
            least_drive: least_drive?.map(|at| at.value),
            certify_over: certify_over?.map(|at| at.value),
            permit: permit?.map(|at| at.value),
            valid: valid?.value,
            source: source?.value,
            place: row.place(),
        })
    });
    quotes.finish(report);
}

fn axle_rule(row: &Table<'_>, report: &mut Report) -> Result<AxleRule, Reported> {
    let name = row.required_text("name", report);
    let on = row.word("on", &AxleGroup::ALL, report);
    let axles = row.count("axles", report);
    let spread = spread(row, report);
    let most = row.required::<Mass>("most", report);
    Ok(AxleRule {
        name: name?.value,
        on: on?.map(|at| at.value),
        axles: axles?.map(|at| at.value),
        spread: spread?,
        most: most?.value,
        place: row.place(),
    })
}

fn spread(row: &Table<'_>, report: &mut Report) -> Result<SpreadRange, Reported> {
    let mut end = |key| Ok(row.optional::<Length>(key, report)?.map(|at| at.value));
    let (over, from, to, below) = (end("over"), end("from"), end("to"), end("below"));
    Ok(SpreadRange { over: over?, from: from?, to: to?, below: below? })
}

fn bridge_of(row: &Table<'_>, report: &mut Report) -> Result<Bridge, Reported> {
    let beyond = row.required("beyond", report);
    let ties = row.required_word("ties", &Ties::ALL, report);
    let foot = row.required_word("foot", &FootRule::ALL, report);
    let exception = row.inside("two-tandems", report);
    let exception = exception.and_then(|one| one.map(|one| two_tandems(&one, report)).transpose());
    let cells = each(row, "cell", report, |row, report| {
        let feet = row.required_count("feet", report);
        let axles = row.required_count("axles", report);
        let most = row.required::<Mass>("most", report);
        Ok((feet?.value, axles?.value, most?.value))
    });
    row.finish(report);
    let (two_tandems, tandem) =
        exception?.map_or((None, SpreadRange::default()), |(pair, tandem)| (Some(pair), tandem));
    Ok(Bridge {
        beyond: beyond?.value,
        ties: ties?.value,
        foot: foot?.value,
        two_tandems,
        tandem,
        cells: cells?,
        place: row.place(),
    })
}

/// What two tandems may weigh together, and which tandems are meant.
fn two_tandems(
    table: &Table<'_>,
    report: &mut Report,
) -> Result<((Length, Mass), SpreadRange), Reported> {
    let from = table.required::<Length>("from", report);
    let most = table.required::<Mass>("most", report);
    let tandem = table.inside("tandem", report).and_then(|inner| {
        let Some(inner) = inner else { return Ok(SpreadRange::default()) };
        let range = spread(&inner, report);
        inner.finish(report);
        range
    });
    table.finish(report);
    Ok(((from?.value, most?.value), tandem?))
}

/// A rig must run on a road that is described.
pub(super) fn check_rigs(tariffs: &Tariffs, report: &mut Report) {
    let known: Vec<&str> = tariffs.roads.iter().map(|road| road.id.as_str()).collect();
    let classes: Vec<&str> = known_classes(tariffs);
    for rig in &tariffs.rigs {
        if !known.contains(&rig.road.value.as_str()) {
            add_unknown("road", &rig.road, "rates/roads.toml", &known, report);
        }
        if let Some(class) = rig.matches.class.as_ref().filter(|c| !classes.contains(&c.as_str())) {
            let text = At { value: class.to_string(), place: rig.place.clone() };
            let mut fault = unknown_word("class", &text, &classes);
            fault.help.push("a road class is known by a row of drayage.toml that names it".into());
            report.add(fault);
        }
    }
}

/// The road classes that rows of charges and limits name.
fn known_classes(tariffs: &Tariffs) -> Vec<&str> {
    let charges = tariffs.charges.iter().filter_map(|row| row.matches.class.as_deref());
    let limits = tariffs.limits.iter().filter_map(|row| row.matches.class.as_deref());
    let mut all: Vec<&str> = charges.chain(limits).collect();
    all.sort_unstable();
    all.dedup();
    all
}
