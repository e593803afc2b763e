//! Stones, containers and yards.

use std::sync::Arc;

use super::super::keys::{
    Named, Names, Quotes, each, is_starter, name, ports, readable, required_name,
};
use super::super::slips;
use super::super::table::{Laid, Table};
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{
    Decimal, Density, Length, Malformed, Mass, Percent, Price, Units, Written, read_sides,
    sides_pattern,
};
use crate::trade::{
    Allowance, ContainerType, Finish, Framework, Quality, Stone, TariffLine, TariffRow, Tariffs,
    UsableRow, WayIn, Work, Yard,
};

/// More days than any delivery takes.
const MOST_DAYS: u32 = 366;

/// More than a fork or a gantry of a stone yard lifts, in kg (common practice: 3 to 16 t).
const MOST_LIFT: Decimal = Decimal::from_parts(20_000, 0, 0, false, 0);

/// The least and the most that a stone usually costs.
struct PriceRange(Price, Price);

impl Written for PriceRange {
    const FORM: &'static str = "two prices per the same, such as \"20 USD/m2..120 USD/m2\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        let (least, most) = text.split_once("..").ok_or_else(|| fault(0))?;
        let at = least.len() + 2;
        let least = Price::read(least)?;
        let most = Price::read(most)
            .map_err(|malformed| Malformed { offset: malformed.offset + at, ..malformed })?;
        let same = (least.currency, least.by) == (most.currency, most.by);
        (same && least.amount <= most.amount).then_some(Self(least, most)).ok_or_else(|| fault(at))
    }

    fn pattern() -> Option<String> {
        let price = Price::pattern()?;
        let price = price.trim_start_matches('^').trim_end_matches('$');
        Some(format!(r"^{price}\.\.{price}$"))
    }
}

fn finish(row: &Table<'_>, report: &mut Report) -> Result<Finish, Reported> {
    let id = row.required_text("id", report);
    let faces = row.required_word("faces", &Work::ALL, report);
    let edges = row.required_word("edges", &Work::ALL, report);
    row.required_text("source", report)?;
    Ok(Finish { id: id?.value, faces: faces?.value, edges: edges?.value, place: row.place() })
}

fn quality(row: &Table<'_>, report: &mut Report) -> Result<Quality, Reported> {
    let id = row.required_text("id", report);
    let name = row.required_text("name", report);
    row.required_text("source", report)?;
    Ok(Quality { id: Arc::new(id?.value.into()), name: name?.value, place: row.place() })
}

fn usable(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<UsableRow, Reported> {
    let stone = required_name(row, "stone", Named::Stone, names, report);
    let quality = name(row, "quality", Named::Quality, names, report);
    let allowance = row.required::<Allowance>("allowance", report);
    row.required_text("source", report)?;
    Ok(UsableRow {
        stone: stone?,
        quality: quality?,
        allowance: allowance?.value,
        place: row.place(),
    })
}

/// The rows of stones.toml that stand under the head of a quote.
const STONES_HEAD: Laid = Laid::under_quote(&["stone", "finish", "quality", "usable"]);

pub(super) fn stones(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &STONES_HEAD, report);
    tariffs.finishes = quotes.rows("finish", report, finish);
    tariffs.qualities = quotes.rows("quality", report, quality);
    tariffs.usable = quotes.rows("usable", report, |row, report| usable(row, names, report));
    tariffs.stones = quotes.rows("stone", report, |row, report| {
        let tariff = each(row, "tariff", report, |row, report| tariff_row(row, names, report));
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let kind = row.required_text("kind", report);
        let density = row.required::<Density>("density", report);
        let margin = row.optional::<Percent>("thickness-margin", report);
        let within = row.optional::<Percent>("weighed-within", report);
        let usual_price = row.optional::<PriceRange>("usual-price", report);
        let normal_loss = row.optional::<Percent>("normal-loss", report);
        let origin = row.required("origin", report);
        let source = row.required_text("source", report);
        if let Ok(Some(margin)) = &margin {
            is_margin(row, ("thickness-margin", margin.value), report)?;
        }
        source?;
        let figure = density.as_ref().ok().map(|density| density.value.to_kg_per_m3(0));
        if let Some(density) =
            density.as_ref().ok().filter(|_| figure.is_some_and(|kg| !Stone::is_density(kg)))
        {
            let [lightest, heaviest] = Stone::DENSITIES;
            return Err(report.error(
                Fault::error(Code::OutOfRange, "`density` is out of range for a stone")
                    .at(&density.place, format!("expected {lightest} to {heaviest} kg/m3"))
                    .help(match density.value.to_kg_per_m3(6).checked_mul(Decimal::ONE_THOUSAND) {
                        Some(kg) if Stone::is_density(kg) => {
                            format!("is \"{} kg/m3\" meant?", kg.normalize())
                        }
                        _ => "write the kilograms of a cubic metre, such as \"2700 kg/m3\""
                            .to_owned(),
                    }),
            ));
        }
        Ok(Stone {
            id: id?.value,
            name: name?.value,
            kind: kind?.value,
            density: density?.value,
            thickness_margin: margin?.map_or(Percent::ZERO, |at| at.value),
            weighed_within: within?
                .map_or_else(|| Percent::new(Stone::WEIGHED_WITHIN.into()), |at| at.value),
            usual_price: usual_price?.map(|at| (at.value.0, at.value.1)),
            normal_loss: normal_loss?.map(|at| at.value),
            origin: origin?.value,
            tariff: tariff?,
            place: row.place(),
        })
    });
    quotes.finish(report);
}

/// A mass with a margin on it is held exactly where the margin has two places, and is at most the mass.
fn is_margin(
    row: &Table<'_>,
    (key, share): (&'static str, Percent),
    report: &mut Report,
) -> Result<(), Reported> {
    let figure = share.hundredths();
    if figure <= Decimal::ONE_HUNDRED && figure.scale() <= 2 {
        return Ok(());
    }
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("`{key}` is out of range: {share}"))
            .at(&row.place_of(key), "expected at most 100 %, with at most 2 decimals"),
    ))
}

fn tariff_row(row: &Table<'_>, names: &Names, report: &mut Report) -> Result<TariffRow, Reported> {
    let regime = required_name(row, "regime", Named::Regime, names, report);
    let finish = name(row, "finish", Named::Finish, names, report);
    let faces = row.word("faces", &Work::ALL, report);
    let edges = row.word("edges", &Work::ALL, report);
    let form = row.text("form", report);
    let line = row.required::<TariffLine>("line", report);
    let restricted = row.text("restricted", report);
    let source = row.required_text("source", report);
    source?;
    Ok(TariffRow {
        regime: regime?,
        finish: finish?,
        faces: faces?.map(|at| at.value),
        edges: edges?.map(|at| at.value),
        form: form?.map(|at| at.value),
        line: line?.value.0,
        restricted: restricted?.map(|at| at.value),
        place: row.place(),
    })
}

/// Inside and door measures: sides that share a unit.
struct Sides<const N: usize>([Length; N]);

impl Written for Sides<3> {
    const FORM: &'static str = "length, width and height, such as \"5896 x 2350 x 2393 mm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        read_sides(text, Self::FORM).map(|(sides, _)| Self(sides))
    }

    fn most(units: Units) -> Option<String> {
        Length::most(units)
    }

    fn is_rounded(text: &str) -> bool {
        read_sides::<3>(text, Self::FORM).is_ok_and(|(_, is_rounded)| is_rounded)
    }

    fn pattern() -> Option<String> {
        Some(format!("^{}$", sides_pattern(3)))
    }
}

impl Written for Sides<2> {
    const FORM: &'static str = "width and height, such as \"2340 x 2274 mm\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        read_sides(text, Self::FORM).map(|(sides, _)| Self(sides))
    }

    fn most(units: Units) -> Option<String> {
        Length::most(units)
    }

    fn is_rounded(text: &str) -> bool {
        read_sides::<2>(text, Self::FORM).is_ok_and(|(_, is_rounded)| is_rounded)
    }

    fn pattern() -> Option<String> {
        Some(format!("^{}$", sides_pattern(2)))
    }
}

/// Longer than any container: the longest in use has 53 feet (ISO 668 ends at 45).
const LONGEST_BOX_MM: i64 = 20_000;

/// Heavier than any container with what is in it: the most in use is 36 t (ISO 668).
const HEAVIEST_BOX_GRAMS: i64 = 100_000_000;

/// What a tare is of the greatest gross mass, in percent: 7 for a 20' GP, 13 for a 40' GP, 18 for a
/// box of 53 feet (from memory); the bounds are a choice of ours.
const TARE_PERCENT: [i128; 2] = [4, 35];

pub(super) fn containers(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.containers = readable(top, "container", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let iso = row.optional("iso", report);
        let inside = row.required::<Sides<3>>("inside", report);
        let door = row.required::<Sides<2>>("door", report);
        let max_gross = row.required("max-gross", report);
        let tare = row.required("tare", report);
        let line_load = row.required("line-load", report);
        let bracing = row.required("bracing", report);
        let end_bracing = row.required("end-bracing", report);
        let clearance = row.required("clearance", report);
        let way_in = way_in(row, report);
        let securing = row.required("securing", report);
        row.required_text("source", report)?;
        let sides = [("inside", inside.as_ref().map(|at| &at.value.0[..]))];
        let doors = [("door", door.as_ref().map(|at| &at.value.0[..]))];
        let most = Length::whole_mm(LONGEST_BOX_MM).show(report.units());
        for (key, measures) in sides.into_iter().chain(doors) {
            let mut measures = measures.into_iter().flatten();
            if measures.any(|side| side.is_none() || side.mm_up() > LONGEST_BOX_MM) {
                return Err(report.error(
                    Fault::error(
                        Code::OutOfRange,
                        format!("`{key}` is out of range for a container"),
                    )
                    .at(&row.place_of(key), format!("expected more than 0 and at most {most}")),
                ));
            }
        }
        let heaviest = Mass::grams(HEAVIEST_BOX_GRAMS);
        for (key, mass) in [("max-gross", &max_gross), ("tare", &tare)] {
            let mass: &Result<At<Mass>, Reported> = mass;
            if mass.as_ref().is_ok_and(|mass| mass.value > heaviest) {
                let message = format!("`{key}` is out of range for a container");
                let label = format!("expected at most {}", heaviest.show(report.units()));
                let fault = Fault::error(Code::OutOfRange, message).at(&row.place_of(key), label);
                return Err(report.error(fault));
            }
        }
        let container = ContainerType {
            id: id?.value,
            name: name?.value,
            iso: iso?.map(|at| at.value),
            inside: inside?.value.0,
            door: door?.value.0,
            max_gross: max_gross?.value,
            tare: tare?.value,
            line_load: line_load?.value,
            bracing: bracing?.value,
            end_bracing: end_bracing?.value,
            clearance: clearance?.value,
            way_in: way_in?,
            securing: securing?.value,
            place: row.place(),
        };
        let [tare, gross] =
            [container.tare, container.max_gross].map(|mass| i128::from(mass.grams_up()));
        let share = TARE_PERCENT.map(|percent| gross * percent);
        if tare < gross && !(share[0]..=share[1]).contains(&(tare * 100)) {
            let [least, most] = TARE_PERCENT;
            report.add(
                Fault::error(Code::OutOfRange, "`tare` does not fit `max-gross`")
                    .at(
                        &row.place_of("tare"),
                        format!("expected {least} to {most} % of `max-gross`"),
                    )
                    .also(&row.place_of("max-gross"), "the most it may weigh")
                    .help("read both off the plate again: is the unit right?"),
            );
        }
        let [_, width, height] = container.inside;
        let own = [("width", container.door[0], width), ("height", container.door[1], height)];
        for (side, door, inside) in own.into_iter().filter(|(_, door, inside)| door > inside) {
            report.add(
                Fault::error(Code::Contradiction, format!("the door is larger than the inside: its {side} is {}, and the inside has {}", door.show(report.units()), inside.show(report.units())))
                    .at(&row.place_of("door"), "the opening")
                    .also(&row.place_of("inside"), "what is behind it")
                    .help("measure both again: the frame of a door stands inside the walls and below the roof"),
            );
        }
        for (key, what) in no_room(&container) {
            report.add(
                Fault::error(Code::OutOfRange, format!("`{key}` leaves nothing: {what}"))
                    .at(&row.place_of(key), "out of range for this container")
                    .help("is the unit right?"),
            );
        }
        if container.payload().is_ok_and(crate::quantity::Mass::is_none) {
            report.add(
                Fault::error(Code::OutOfRange, "`tare` is not below `max-gross`")
                    .at(&row.place_of("tare"), "this container could carry nothing")
                    .also(&row.place_of("max-gross"), "all that it may weigh"),
            );
        }
        Ok(container)
    });
}

/// How bundles come in, by the doors unless the row says otherwise. A key of the other way is a mistake.
fn way_in(row: &Table<'_>, report: &mut Report) -> Result<WayIn, Reported> {
    let by_roof = row.word("loaded", &[(false, "doors"), (true, "roof")], report);
    let lengths = ["side-clearance", "roof-length", "shove", "sling-clearance"]
        .map(|key| (key, row.optional::<Length>(key, report)));
    let by_roof = by_roof?.is_some_and(|at| at.value);
    for (key, length) in &lengths {
        let is_of_roof = *key != "side-clearance";
        if let Ok(Some(at)) = length
            && is_of_roof != by_roof
        {
            let (own, other) = if by_roof { ("roof", "doors") } else { ("doors", "roof") };
            let message = format!("`{key}` goes with `loaded = \"{other}\"`");
            return Err(report.error(
                Fault::error(Code::Contradiction, message)
                    .at(&at.place, format!("this container is loaded by its {own}"))
                    .help(format!("take it out, or write loaded = \"{other}\"")),
            ));
        }
    }
    let [side, length, shove, sling] = lengths.map(|(_, length)| length);
    let or_usual = |length: Result<Option<At<Length>>, Reported>| {
        length.map(|length| length.map_or(WayIn::usual_room(), |at| at.value))
    };
    if !by_roof {
        return Ok(WayIn::Doors { side: or_usual(side)? });
    }
    let length = length?.ok_or_else(|| row.missing("roof-length", Length::FORM, report))?;
    Ok(WayIn::Roof { length: length.value, shove: or_usual(shove)?, sling: or_usual(sling)? })
}

/// The keys that leave no container to load, and what each does.
fn no_room(container: &ContainerType) -> Vec<(&'static str, &'static str)> {
    let [length, width, _] = container.inside;
    // A started millimetre of bracing counts whole at each end.
    let is_filled = |inside: Length, gap: Length| gap.mm_up() + 2 > inside.mm_down();
    [
        ("line-load", "the floor bears no gram", container.line_load.grams_per_m_down() == 0),
        ("bracing", "it is as wide as the floor", is_filled(width, container.bracing)),
        ("end-bracing", "it is as long as the floor", is_filled(length, container.end_bracing)),
        (
            "clearance",
            "it is as high as the door",
            container.opening().is_ok_and(|opening| opening.mm_down() < 1),
        ),
    ]
    .into_iter()
    .filter(|(.., is_so)| *is_so)
    .map(|(key, what, _)| (key, what))
    .collect()
}

/// A lift that no yard has would pass every bundle.
fn doubt_lift((key, text): (&str, &str), lift: &At<Mass>, report: &mut Report) {
    if lift.to_kg(0) <= MOST_LIFT {
        return;
    }
    let units = report.units();
    let tonnes = |tonnes: i64| Mass::grams(tonnes * 1_000_000).show(units);
    let is_likely = |one: &str| Mass::read(one).is_ok_and(|mass| mass.to_kg(0) <= MOST_LIFT);
    let meant = slips::with_point_moved(text, is_likely).unwrap_or_else(|| "5 t".to_owned());
    let message = format!("the yard's {key} is {}", lift.show(units));
    report.add(
        Fault::warning(Code::OutOfRange, message)
            .at(&lift.place, format!("is \"{meant}\" meant?"))
            .help(format!(
                "the plate of the forklift or gantry says what it bears: {} to {} in a stone yard, where a bundle weighs {} to {}",
                tonnes(3),
                tonnes(16),
                tonnes(2),
                tonnes(5)
            )),
    );
}

/// The rows of yards.toml that stand under the head of a quote.
const YARDS_HEAD: Laid = Laid::under_quote(&["yard"]);

pub(super) fn yards(top: &Table<'_>, tariffs: &mut Tariffs, names: &Names, report: &mut Report) {
    let quotes = Quotes::of(top, &YARDS_HEAD, report);
    tariffs.yards = quotes.rows("yard", report, |row, report| {
        let id = row.required_text("id", report);
        let name = row.required_text("name", report);
        let country = row.required("country", report);
        let port = row.required("port", report);
        let ports = ports(row, report);
        let currency = row.required("currency", report);
        let regime = required_name(row, "regime", Named::Regime, names, report);
        let lift = row.required("lift", report);
        let crane = row.optional("crane", report);
        let starter = is_starter(row, report);
        let crane_read = crane.as_ref().ok().and_then(Option::as_ref);
        for (key, lift) in [("lift", lift.as_ref().ok()), ("crane", crane_read)] {
            if let Some(lift) = lift {
                doubt_lift((key, row.text_of(key)), lift, report);
            }
        }
        let certify_over = row.optional("certify-over", report);
        let delivery_days = row.count("delivery-days", report);
        let by_base = row.word("percentages", &[(false, "area"), (true, "base")], report);
        let tell_shift = row.optional::<Percent>("tell-shift", report);
        let framework = row.word("framework", &Framework::ALL, report);
        row.required_text("source", report)?;
        let delivery_days = delivery_days?;
        if let Some(days) = delivery_days.as_ref().filter(|days| days.value > MOST_DAYS) {
            return Err(report.error(
                Fault::error(Code::OutOfRange, "`delivery-days` is more than a year")
                    .at(&days.place, format!("expected at most {MOST_DAYS}")),
            ));
        }
        Ok(Yard {
            id: id?.value,
            name: name?.value,
            country: country?.value,
            port: port?.value,
            ports: ports?,
            currency: currency?.value,
            regime: regime?,
            lift: lift?.value,
            crane: crane?.map(|at| at.value),
            is_starter: starter?,
            certify_over: certify_over?.map(|at| at.value),
            by_base: by_base?.is_some_and(|at| at.value),
            tell_shift: tell_shift?.map_or(Percent::new(Decimal::ONE), |at| at.value),
            framework: framework?.map_or(Framework::default(), |at| at.value),
            delivery_days: delivery_days.map_or(0, |at| at.value),
            place: row.place(),
        })
    });
    quotes.finish(report);
}
