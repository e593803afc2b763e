//! `plan.toml`: the load as agreed or as done; and its agreement with the packing list.

use std::collections::BTreeMap;
use std::fmt;
use std::fs;
use std::path::Path;

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use super::keys::each;
use super::table::{Table, unknown_reference};
use super::wishes::offers;
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::quantity::{Length, Money};
use crate::trade::{Bundle, ContainerNumber, GivenBox, GivenPlace, GivenPlan, KeptProof};

/// Reads the boxes of a plan: every bundle once, none left out. Without `bundles`, as the packing
/// list could not be read, only the plan's own faults are found.
pub(super) fn plan(
    top: &Table<'_>,
    bundles: Option<&[Bundle]>,
    report: &mut Report,
) -> Result<GivenPlan, Reported> {
    let kept = kept(top, report);
    let by_name: BTreeMap<&str, usize> = bundles
        .unwrap_or(&[])
        .iter()
        .enumerate()
        .map(|(index, bundle)| (bundle.id.as_str(), index))
        .collect();
    let mut boxes = Vec::new();
    let mut sound = Ok(());
    let (mut numbers, mut seals) = (Vec::new(), Vec::new());
    let mut placed: BTreeMap<usize, At<String>> = BTreeMap::new();
    for row in top.rows("container", report)? {
        let read = given(&row, (&mut numbers, &mut seals), report);
        let names = row.texts("bundles", report);
        let places = places(&row, &by_name, report);
        row.finish(report);
        let place = row.place();
        let none_named = names.as_ref().is_ok_and(Vec::is_empty);
        let mut inside = Vec::new();
        for name in names.iter().flatten().cloned() {
            let Some(index) = by_name.get(name.value.as_str()) else {
                if bundles.is_none() {
                    continue;
                }
                let known: Vec<&str> = by_name.keys().copied().collect();
                report.add(unknown_reference("bundle", &name, "the packing list", &known));
                continue;
            };
            if let Some(first) = placed.get(index) {
                report.add(
                    Fault::error(
                        Code::Duplicate,
                        format!("bundle {} is in two places", name.value),
                    )
                    .at(&name.place, "again here")
                    .also(&first.place, "first here"),
                );
            }
            placed.insert(*index, name);
            inside.push(*index);
        }
        if none_named {
            report.add(
                Fault::error(Code::MissingKey, "a container of the plan holds no bundle")
                    .at(&place, "`bundles` is missing or empty")
                    .help("name its bundles, such as bundles = [\"B1\", \"B2\"], or remove it"),
            );
        }
        let (given, places) = match (read, names, places) {
            (Ok(given), Ok(_), Ok(places)) => (given, places),
            (Err(told), ..) | (_, Err(told), _) | (.., Err(told)) => {
                sound = Err(told);
                continue;
            }
        };
        if let Some(first) = boxes.iter().find(|one: &&GivenBox| one.label == given.label) {
            report.add(
                Fault::error(
                    Code::Duplicate,
                    format!("two containers are called \"{}\"", given.label),
                )
                .at(&row.place_of("container"), "again here")
                .also(&first.place, "first here"),
            );
        }
        boxes.push(GivenBox {
            places: if all_have_places(&places, &inside, &place, report) { places } else { vec![] },
            bundles: inside,
            ..given
        });
    }
    none_left_out(top, bundles, &placed, report);
    sound?;
    Ok(GivenPlan { boxes, kept: kept? })
}

/// What a plan says of a container beside its bundles.
fn given(
    row: &Table<'_>,
    (numbers, seals): (&mut Vec<At<ContainerNumber>>, &mut Vec<At<String>>),
    report: &mut Report,
) -> Result<GivenBox, Reported> {
    let label = row.required_text("container", report);
    let kind = row.required_text("type", report);
    let class = row.text("class", report);
    let offers = offers(row, report);
    let number = row.optional::<ContainerNumber>("number", report);
    let seal = row.text("seal", report);
    let tare = row.optional("tare", report);
    let dunnage = row.optional("dunnage", report);
    if let Ok(Some(number)) = &number {
        once("number", number, numbers, report);
    }
    if let Ok(Some(seal)) = &seal {
        once("seal", seal, seals, report);
    }
    Ok(GivenBox {
        kind: Some(kind?),
        class: class?,
        offers: offers?,
        number: number?.map(|at| at.value),
        seal: seal?.map(|at| at.value),
        tare: tare?,
        dunnage: dunnage?,
        ..GivenBox::named(label?.value, row.place())
    })
}

/// How sure a load may have been when it was kept.
const KEPT: [(&str, &str); 3] = [
    ("proven", "proven"),
    ("proven by the limits that are known", "proven by the limits that are known"),
    ("not proven", "not proven"),
];

/// `kept = { proof = "proven", cost = "9047.50 USD" }`.
fn kept(top: &Table<'_>, report: &mut Report) -> Result<Option<KeptProof>, Reported> {
    let Some(inside) = top.inside("kept", report)? else { return Ok(None) };
    let sure = inside.required_word("proof", &KEPT, report);
    let cost = inside.required::<Money>("cost", report);
    let way = inside.text("way", report);
    let with = inside.texts("with", report);
    inside.finish(report);
    let with = with?.into_iter().map(|name| name.value).collect();
    Ok(Some(KeptProof { sure: sure?.value, cost: cost?.value, way: way?, with }))
}

/// Whether a file is a plan: it holds containers, each with its bundles. No other file does.
pub fn is_plan(path: &Path) -> bool {
    // A plan has a few lines a container: what is longer than this is none, and is not read for it.
    const LONGEST: u64 = 16 << 20;
    let is_short = path.metadata().is_ok_and(|there| there.is_file() && there.len() <= LONGEST);
    let text = if is_short { fs::read_to_string(path).ok() } else { None };
    let top = text.and_then(|text| text.parse::<toml::Table>().ok());
    top.is_some_and(|top| {
        let rows = top.get("container").and_then(toml::Value::as_array);
        let has_bundles = |row: &toml::Value| row.get("bundles").is_some();
        rows.is_some_and(|rows| rows.iter().all(has_bundles))
    })
}

/// Every bundle of the packing list must be in a container.
fn none_left_out(
    top: &Table<'_>,
    bundles: Option<&[Bundle]>,
    placed: &BTreeMap<usize, At<String>>,
    report: &mut Report,
) {
    let missing: Vec<&str> = bundles
        .unwrap_or(&[])
        .iter()
        .enumerate()
        .filter(|(index, _)| !placed.contains_key(index))
        .map(|(_, bundle)| bundle.id.as_str())
        .collect();
    if !missing.is_empty() && !report.has_errors() {
        report.add(
            Fault::error(Code::MissingKey, format!("the plan leaves out {}", missing.join(", ")))
                .at(&top.place(), "every bundle of the packing list must be in a container")
                .help(format!(
                    "write them into the bundles of a [[container]]: bundles = [..., {}]",
                    missing.iter().map(|id| format!("\"{id}\"")).collect::<Vec<_>>().join(", ")
                ))
                .help("to have the load planned, delete the plan"),
        );
    }
}

/// A container's number and its seal stand for one box in the world.
fn once<T: Clone + PartialEq + fmt::Display>(
    what: &str,
    one: &At<T>,
    seen: &mut Vec<At<T>>,
    report: &mut Report,
) {
    if let Some(first) = seen.iter().find(|other| other.value == one.value) {
        report.add(
            Fault::error(Code::Duplicate, format!("two containers have the {what} {}", one.value))
                .at(&one.place, "again here")
                .also(&first.place, "first here"),
        );
    }
    seen.push(one.clone());
}

/// Reads `[[container.place]]`: a bundle and where its corner nearest the front and the left stands.
fn places(
    row: &Table<'_>,
    by_name: &BTreeMap<&str, usize>,
    report: &mut Report,
) -> Result<Vec<GivenPlace>, Reported> {
    let named = each(row, "place", report, |inner, report| {
        let name = inner.required_text("bundle", report);
        let sides = ["x", "y"].map(|key| whole_mm(inner, key, report));
        let ways = [(false, "along"), (true, "across")];
        let turned = inner.word("stands", &ways, report);
        let (name, [x, y]) = (name?, sides);
        let (x, y) = (x?, y?);
        let Some(bundle) = by_name.get(name.value.as_str()) else {
            let known: Vec<&str> = by_name.keys().copied().collect();
            return Err(report.error(unknown_reference(
                "bundle",
                &name,
                "the packing list",
                &known,
            )));
        };
        let turned = turned?.is_some_and(|way| way.value);
        Ok((name, GivenPlace { bundle: *bundle, x, y, turned, place: inner.place() }))
    })?;
    let mut all: Vec<GivenPlace> = Vec::new();
    for (name, place) in named {
        if all.iter().any(|one| one.bundle == place.bundle) {
            report.add(
                Fault::error(Code::Duplicate, format!("bundle {} has two places", name.value))
                    .at(&name.place, "again here"),
            );
        }
        all.push(place);
    }
    Ok(all)
}

/// Where a side stands, in whole millimetres. Rounded, two that overlap by less could stand clear, and two that
/// touch overlap.
fn whole_mm(row: &Table<'_>, key: &'static str, report: &mut Report) -> Result<Length, Reported> {
    let side = row.required::<Length>(key, report)?;
    if is_whole_mm(side.value) {
        return Ok(side.value);
    }
    Err(report.error(
        Fault::error(Code::OutOfRange, format!("`{key}` is no whole number of millimetres"))
            .at(&side.place, "places are whole millimetres")
            .help(format!("write \"{} mm\", or the next below", side.value.mm_up())),
    ))
}

fn is_whole_mm(length: Length) -> bool {
    length.mm_up() == length.mm_down()
}

/// Places are given for every bundle of a container and no other, or for none.
fn all_have_places(
    places: &[GivenPlace],
    inside: &[usize],
    at: &Place,
    report: &mut Report,
) -> bool {
    let same =
        places.len() == inside.len() && places.iter().all(|place| inside.contains(&place.bundle));
    if !places.is_empty() && !same {
        report.add(
            Fault::error(
                Code::Contradiction,
                "`place` does not name the same bundles as `bundles`",
            )
            .at(at, "in this container")
            .help("give a place for every bundle of the container, or for none"),
        );
    }
    same
}

/// The box a packing list puts a bundle in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct BoxNote {
    pub(super) label: SmolStr,
    pub(super) kind: Option<SmolStr>,
}

/// The boxes that a packing list names: every bundle in one, or none at all.
pub(super) fn listed_boxes<'a>(
    bundles: &[Bundle],
    notes: impl Iterator<Item = Option<&'a BoxNote>> + Clone,
    report: &mut Report,
) -> Vec<GivenBox> {
    let mut boxes: Vec<GivenBox> = Vec::new();
    let mut by_label: FxHashMap<&str, usize> = FxHashMap::default();
    if notes.clone().all(|note| note.is_none()) {
        return boxes;
    }
    for (index, (bundle, note)) in bundles.iter().zip(notes).enumerate() {
        let Some(note) = note else {
            report.add(
                Fault::error(
                    Code::MissingKey,
                    format!("bundle {} is in no box, others are", bundle.id),
                )
                .at(&bundle.place, "its container is empty")
                .help(format!(
                    "write the box it travels in on each of its rows, such as \"{}\", or leave all boxes out to have the load planned",
                    boxes.first().map_or("1", |one| one.label.as_str())
                )),
            );
            continue;
        };
        let at = *by_label.entry(&note.label).or_insert_with(|| {
            let kind = note.kind.as_ref();
            let kind = kind.map(|kind| At { value: kind.to_string(), place: bundle.place.clone() });
            let named = GivenBox::named(note.label.to_string(), bundle.place.clone());
            boxes.push(GivenBox { kind, ..named });
            boxes.len() - 1
        });
        let Some(given) = boxes.get_mut(at) else {
            continue;
        };
        if given.kind.as_ref().map(|kind| kind.value.as_str()) != note.kind.as_deref() {
            report.add(
                Fault::error(Code::Contradiction, format!("box {} has two types", note.label))
                    .at(&bundle.place, "here")
                    .also(&given.place, "and here")
                    .help("write the same container type on each row of the box"),
            );
        }
        given.bundles.push(index);
    }
    boxes
}

/// What was done beats what was planned only where the two agree: a bundle that the packing list
/// and the plan put in different boxes is a fault.
pub(super) fn agree(
    planned: &[GivenBox],
    listed: &[GivenBox],
    bundles: &[Bundle],
    report: &mut Report,
) {
    if listed.is_empty() {
        return;
    }
    let box_of = |boxes: &[GivenBox], bundle: usize| {
        boxes.iter().position(|one| one.bundles.contains(&bundle))
    };
    for (index, bundle) in bundles.iter().enumerate() {
        let plan = box_of(planned, index).and_then(|at| planned.get(at));
        let list = box_of(listed, index).and_then(|at| listed.get(at));
        if let (Some(plan), Some(list)) = (plan, list) {
            let kinds = plan.kind.as_ref().zip(list.kind.as_ref());
            let same_kind = kinds.is_none_or(|(one, other)| one.value == other.value);
            if plan.label != list.label || !same_kind {
                report.add(
                    Fault::error(
                        Code::Contradiction,
                        format!(
                            "bundle {} is in box {} by the packing list and in box {} by the plan",
                            bundle.id, list.label, plan.label
                        ),
                    )
                    .at(&bundle.place, "the packing list")
                    .also(&plan.place, "the plan")
                    .help("correct the one that is wrong, or empty the list's container column"),
                );
            }
        }
    }
}
