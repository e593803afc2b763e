//! An arrival list held against the packing list: the events it makes.

use std::collections::{BTreeMap, BTreeSet};

use super::state::Ledger;
use crate::fault::{At, Code, Fault, Place, Report, Reported};
use crate::read::nearest;
use crate::trade::{
    ArrivalRow, ArrivalState, BookEvent, BookKind, Date, Found, FoundState, Freeze, Piece,
};

/// The events of an arrival list: the boxes that came, and each slab that was cut. Every slab of these boxes has to
/// be on the list.
///
/// # Errors
/// Where the list is not of these boxes.
pub fn arriving(
    ledger: &Ledger<'_>,
    shipment: usize,
    rows: &[ArrivalRow],
    (yard, on): (Option<&str>, Date),
    report: &mut Report,
) -> Result<Vec<BookEvent>, Reported> {
    let freeze = report.found(ledger.freeze(shipment), "a booked estimate")?;
    let Some(first) = rows.first() else {
        return Err(report.error(
            Fault::error(Code::MissingKey, "the list has no slab")
                .help("write a row for each slab of the boxes that came"),
        ));
    };
    let boxes = boxes_of(freeze, rows, report)?;
    all_listed(freeze, rows, (&boxes, &first.place), report)?;
    let of = |text: &str, place: &Place| At { value: text.to_owned(), place: place.clone() };
    let labels = boxes.iter().filter_map(|at| freeze.boxes.get(*at));
    let found = rows.iter().filter_map(|row| {
        let ArrivalState::Found(state) = row.state else { return None };
        Some(Found {
            slab: row.slab.clone(),
            state,
            area: row.area,
            quality: row.quality.clone(),
            remark: row.remark.clone(),
        })
    });
    let arrive = BookKind::Arrive {
        boxes: labels.map(|one| of(&one.label, &first.place)).collect(),
        yard: of(yard.unwrap_or(&freeze.yard), &first.place),
        found: found.collect(),
    };
    let mut cuts: BTreeMap<&str, (&ArrivalRow, Vec<Piece>)> = BTreeMap::new();
    for row in rows.iter().filter(|row| row.state == ArrivalState::Cut) {
        if let (Some(piece), Some(area)) = (&row.piece, row.area) {
            let cut = cuts.entry(&row.slab.value).or_insert_with(|| (row, Vec::new()));
            cut.1.push(Piece { slab: piece.clone(), area, quality: row.quality.clone() });
        }
    }
    let cuts = cuts.into_values().map(|(row, pieces)| {
        let cut = BookKind::Cut { slab: row.slab.clone(), pieces, abnormal: None };
        (cut, &row.place)
    });
    let own = Some(&freeze.shipment);
    let before = ledger.books.events.iter().filter(|event| event.shipment.as_ref() == own).count();
    let all = std::iter::once((arrive, &first.place)).chain(cuts).enumerate();
    let event = |(at, (what, place)): (usize, (BookKind, &Place))| BookEvent {
        // As the reader names it where it stands.
        id: format!("books/{}/events#{}", freeze.shipment, before + at + 1),
        kind: if at == 0 { "arrive" } else { "cut" },
        what,
        occurred: on,
        posted: on,
        party: None,
        number: None,
        dated: None,
        reason: None,
        shipment: own.cloned(),
        place: place.clone(),
    };
    Ok(all.map(event).collect())
}

/// The boxes that the slabs of a list were packed in, by position. Each slab is held against the packing list.
fn boxes_of(
    freeze: &Freeze,
    rows: &[ArrivalRow],
    report: &mut Report,
) -> Result<BTreeSet<usize>, Reported> {
    let known: BTreeMap<&str, usize> =
        freeze.slabs.iter().map(|slab| (slab.id.as_str(), slab.container)).collect();
    let mut boxes = BTreeSet::new();
    let mut seen: BTreeMap<&str, &ArrivalRow> = BTreeMap::new();
    let mut sound = Ok(());
    for row in rows {
        let id = row.slab.value.as_str();
        let is_cut = row.state == ArrivalState::Cut;
        if let Some(first) =
            seen.insert(id, row).filter(|first| !(is_cut && first.state == row.state))
        {
            sound = Err(report.error(
                Fault::error(Code::Duplicate, format!("slab {id} is on the list twice"))
                    .at(&row.slab.place, "again here")
                    .also(&first.slab.place, "first here")
                    .help("one row a slab; of a slab that is cut, one a piece"),
            ));
        }
        if row.state == ArrivalState::Found(FoundState::Over) {
            continue;
        }
        let Some(container) = known.get(id) else {
            let all: Vec<&str> = known.keys().copied().collect();
            let fault = Fault::error(Code::UnknownReference, format!("slab {id} was never packed"))
                .at(&row.slab.place, "not on the packing list");
            let fault = match nearest(id, &all) {
                Some(near) => fault.help(format!("did you mean \"{near}\"?")),
                None => fault,
            };
            sound = Err(report.error(fault.help("one that came and was never packed is `over`")));
            continue;
        };
        boxes.insert(*container);
        let own = freeze.boxes.get(*container);
        let label = own.map_or("?", |own| own.label.as_str());
        let number = own.and_then(|own| own.number.as_deref());
        if let Some(stated) = &row.container
            && stated.value != label
            && Some(stated.value.as_str()) != number
        {
            sound = Err(report.error(
                Fault::error(
                    Code::Contradiction,
                    format!("slab {id} was packed in box {label}, and came out of {}", stated.value),
                )
                .at(&stated.place, "this box")
                .help("write the box that the packing list has; if the list is wrong, it is `short` there and `over` here, under a number of its own"),
            ));
        }
    }
    sound.map(|()| boxes)
}

/// Whether every slab of the boxes that came is on the list.
fn all_listed(
    freeze: &Freeze,
    rows: &[ArrivalRow],
    (boxes, place): (&BTreeSet<usize>, &Place),
    report: &mut Report,
) -> Result<(), Reported> {
    let listed: BTreeSet<&str> = rows.iter().map(|row| row.slab.value.as_str()).collect();
    let mut sound = Ok(());
    for container in boxes {
        let own = freeze.slabs.iter().filter(|slab| slab.container == *container);
        let lacking = own.map(|slab| slab.id.as_str()).filter(|id| !listed.contains(id));
        let lacking: Vec<&str> = lacking.collect();
        let label = freeze.boxes.get(*container).map_or("?", |one| one.label.as_str());
        if let [first, rest @ ..] = &lacking[..] {
            let lacks = match rest.len() {
                0 => format!("slab {first} of box {label} is not on the list"),
                count => {
                    format!("slab {first} and {count} more of box {label} are not on the list")
                }
            };
            sound = Err(report.error(
                Fault::error(Code::MissingKey, lacks)
                    .at(place, "the list begins here")
                    .help(format!("write a row for each, sound or short: {}", lacking.join(", "))),
            ));
        }
    }
    sound
}
