//! `rates/securing.toml`: what cargo is held against, and the friction under it.

use super::super::keys::{Names, readable};
use super::super::table::Table;
use super::charges::one;
use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::quantity::{Decimal, Percent, Written};
use crate::trade::{Carriage, Friction, Lane, Push, SecuringSet, Tariffs};

/// No push that cargo is held against is more than twice its weight: wagons that are shunted push with four, and
/// nobody sends stone in them (a choice of ours).
const HARDEST: i64 = 200;

pub(super) fn securing(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    tariffs.securing = readable(top, "set", report, set);
    tariffs.friction = one(top, "friction", report, friction);
    // Who has the file means to be told: half of it would be silent.
    for (key, form) in [
        (
            "friction",
            "[friction], with of = \"30 %\" of the weakest pair of faces and its `source`",
        ),
        (
            "set",
            "[[set]], a row for each voyage or road and one by = \"sea\" and by = \"road\" for all others",
        ),
    ] {
        let is_there = Ok(top.has(key).then_some(()));
        let _ = top.needed(key, is_there, || form.to_owned(), report);
    }
}

fn set(row: &Table<'_>, report: &mut Report) -> Result<SecuringSet, Reported> {
    let id = row.required_text("id", report);
    let name = row.required_text("name", report);
    let by = row.required_word("by", &Carriage::ALL, report);
    let lanes = row.texts("lanes", report).and_then(|lanes| {
        gathered(lanes.iter().map(|lane| {
            let read = Lane::read(&lane.value).map_err(|_| {
                let fault = Fault::error(Code::BadQuantity, "this is no lane");
                report.error(fault.at(&lane.place, format!("expected {}", Lane::FORM)))
            });
            read.map(|value| At { value, place: lane.place.clone() })
        }))
    });
    let roads = row.texts("roads", report);
    let [forward, aft, sideways] =
        ["forward", "aft", "sideways"].map(|key| pushed(row, key, report));
    let is_rule = row.word("securing", &[(false, "judgement"), (true, "rule")], report);
    row.required_text("source", report)?;
    let (by, lanes, roads) = (by?.value, lanes?, roads?);
    let other = match by {
        Carriage::Sea => (!roads.is_empty()).then_some("roads"),
        Carriage::Road => (!lanes.is_empty()).then_some("lanes"),
    };
    if let Some(key) = other {
        let message = format!("`{key}` does not go with by = \"{}\"", by.word());
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&row.place_of(key), "these are of the other carriage")
                .help("take it out, or make two rows of it"),
        ));
    }
    Ok(SecuringSet {
        id: id?.value,
        name: name?.value,
        by,
        lanes,
        roads,
        forward: forward?,
        aft: aft?,
        sideways: sideways?,
        is_rule: is_rule?.is_some_and(|at| at.value),
        place: row.place(),
    })
}

/// The push of one direction.
fn pushed(row: &Table<'_>, key: &'static str, report: &mut Report) -> Result<Push, Reported> {
    let form = || "{ push = \"80 %\", weight = \"100 %\" }".to_owned();
    let table = row.needed(key, row.inside(key, report), form, report)?;
    let push = table.required("push", report);
    let weight = table.required("weight", report);
    let tipping = table.optional("tipping", report);
    table.finish(report);
    let tipping = tipping?.map(|at| within(&at, HARDEST, report)).transpose();
    let (push, weight) = (push?, weight?);
    Ok(Push {
        push: within(&push, HARDEST, report)?,
        weight: within(&weight, 100, report)?,
        tipping: tipping?,
    })
}

fn friction(row: &Table<'_>, report: &mut Report) -> Result<Friction, Reported> {
    let of = row.required("of", report);
    row.required_text("source", report)?;
    Ok(Friction { of: within(&of?, 100, report)?, place: row.place() })
}

/// A percentage that is above nothing and at most so much.
fn within(at: &At<Percent>, most: i64, report: &mut Report) -> Result<Percent, Reported> {
    let hundredths = at.value.hundredths();
    if hundredths > Decimal::ZERO && hundredths <= Decimal::from(most) {
        return Ok(at.value);
    }
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("{} of the weight is out of range", at.value))
            .at(&at.place, format!("expected more than 0 % and at most {most} %"))
            .help("a push of 0.8 g is \"80 %\" of the weight"),
    ))
}
