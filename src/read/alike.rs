//! Names so alike that a reader confuses them: most likely one was meant.

use std::collections::BTreeMap;

use crate::fault::{Code, Fault, Place, Report, looks};
use crate::trade::{Shipment, Tariffs};

/// Warns of names of one kind that differ by nothing a reader sees, or in capitals alone.
fn doubt_alike<'a>(
    kinds: &str,
    names: impl Iterator<Item = &'a str> + Clone,
    place: impl Fn(usize) -> Place,
    report: &mut Report,
) {
    if !ascend(names.clone()) {
        doubt_alike_by(|name| looks(name).to_lowercase(), kinds, names, place, report);
    }
}

/// A name as it is said: capitals, blanks, a stroke between letters and figures, and zeros in front of a figure
/// are not heard. "W 1", "w-1" and "W01" are one; "1-11" and "11-1" are two.
pub fn as_said(name: &str) -> String {
    let mut said = String::with_capacity(name.len());
    let mut apart = false;
    let plain = looks(name).to_lowercase();
    let mut rest = plain.chars().peekable();
    while let Some(c) = rest.next() {
        if !c.is_alphanumeric() {
            apart = !said.is_empty();
            continue;
        }
        let last = said.chars().last();
        let is_same = last.is_some_and(|last| last.is_ascii_digit() == c.is_ascii_digit());
        if std::mem::take(&mut apart) && is_same {
            said.push('-');
        }
        let begins = said.chars().last().is_none_or(|last| !last.is_ascii_digit());
        let goes_on = rest.peek().is_some_and(char::is_ascii_digit);
        if !(c == '0' && begins && goes_on) {
            said.push(c);
        }
    }
    said
}

/// Warns of names of one kind that are one in a form of them.
fn doubt_alike_by<'a>(
    form: impl Fn(&str) -> String,
    kinds: &str,
    names: impl Iterator<Item = &'a str> + Clone,
    place: impl Fn(usize) -> Place,
    report: &mut Report,
) {
    let mut seen: BTreeMap<String, (usize, &str)> = BTreeMap::new();
    for (at, name) in names.enumerate() {
        let folded = form(name);
        let Some((first_at, first)) = seen.get(&folded) else {
            seen.insert(folded, (at, name));
            continue;
        };
        if *first == name {
            continue;
        }
        let message = if first.to_lowercase() == name.to_lowercase() {
            format!("{kinds} \"{first}\" and \"{name}\" differ in capitals alone")
        } else if looks(first) != looks(name) {
            format!("{kinds} \"{first}\" and \"{name}\" sound like one name")
        } else {
            // What makes them two is shown.
            let [one, other] = [*first, name].map(str::escape_default);
            format!("{kinds} \"{one}\" and \"{other}\" look alike")
        };
        report.add(
            Fault::warning(Code::Notice, message)
                .at(&place(at), "counted as one of its own")
                .also(&place(*first_at), "the other")
                .help(format!("if they are one, write \"{}\" here, too", first.escape_default())),
        );
    }
}

/// Whether each name comes after the one before in the alphabet: then no two are alike. Most lists are in
/// order.
fn ascend<'a>(names: impl Iterator<Item = &'a str>) -> bool {
    let mut last = "";
    for name in names {
        let folded = |byte: u8| byte.to_ascii_lowercase();
        let is_plain = name.bytes().all(|byte| (b' '..=b'~').contains(&byte));
        if !is_plain || last.bytes().map(folded).ge(name.bytes().map(folded)) {
            return false;
        }
        last = name;
    }
    true
}

/// Warns of names in the tables that are taken for one another.
pub(super) fn doubt_tables(tariffs: &Tariffs, report: &mut Report) {
    let mut doubt = |kinds: &str, rows: Vec<(&str, &Place)>| {
        let Some((_, first)) = rows.first() else { return };
        let place = |at: usize| rows.get(at).map_or(*first, |(_, place)| place).clone();
        doubt_alike(kinds, rows.iter().map(|(name, _)| *name), place, report);
    };
    doubt("stones", tariffs.stones.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("finishes", tariffs.finishes.iter().map(|row| (&*row.id, &row.place)).collect());
    let types = tariffs.containers.iter();
    doubt("container types", types.map(|row| (&*row.id, &row.place)).collect());
    doubt("yards", tariffs.yards.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("calendars", tariffs.calendars.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("regimes", tariffs.regimes.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("rigs", tariffs.rigs.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("roads", tariffs.roads.iter().map(|row| (&*row.id, &row.place)).collect());
    doubt("charges", tariffs.charges.iter().map(|row| (&*row.name, &row.place)).collect());
    let offers = tariffs.charges.iter().filter_map(|row| Some((row.offer.as_deref()?, &row.place)));
    doubt("offers", offers.collect());
}

/// Warns of lines, bundles and slabs that are taken for one another.
pub(super) fn doubt_shipment(shipment: &Shipment, report: &mut Report) {
    let list = report.source(&shipment.packing_file.file).cloned();
    let head = &shipment.packing_file;
    let (lines, bundles, slabs) = (&shipment.lines, &shipment.bundles, &shipment.slabs);
    let own = |place: Option<&Place>| place.unwrap_or(head).clone();
    let line = |at: usize| own(lines.get(at).map(|line| &line.place));
    doubt_alike("lines", lines.iter().map(|line| &*line.id), line, report);
    let bundle = |at: usize| own(bundles.get(at).map(|bundle| &bundle.place));
    doubt_alike_by(as_said, "bundles", bundles.iter().map(|bundle| &*bundle.id), bundle, report);
    let slab = |at: usize| {
        // A slab of a line without a list has no row.
        let row = slabs.get(at).and_then(|slab| usize::try_from(slab.row).ok());
        let listed = list.as_ref().zip(row.filter(|row| *row > 0));
        listed.map_or_else(|| head.clone(), |(list, row)| list.line(row))
    };
    doubt_alike("slabs", slabs.iter().map(|slab| &*slab.id), slab, report);
}
