//! The numbers of slabs, each once in the list: as they are, or with their bundle before them where they begin
//! again.

use std::collections::{BTreeMap, BTreeSet};

use super::grid::Grid;
use super::role::Role;
use super::slabs::Slab;
use super::tables::Table;
use crate::fault::{Code, Fault, Place, Report, Reported};

/// What became of the numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Numbers {
    /// As the list has them.
    Kept,
    /// They begin again in each bundle: "7-S12".
    WithBundle,
    /// The list has none: counted in each bundle.
    Made,
}

/// Gives each slab its number; the slabs' numbers row by row, and what became of them.
pub(super) fn numbered(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Slab],
    report: &mut Report,
) -> Result<(Vec<Vec<String>>, Numbers), Reported> {
    bundled(tables, grids, slabs, report)?;
    let lacks = slabs.iter().filter(|slab| slab.names.is_empty()).count();
    // Rows of several slabs without a number are counted beside others that have one.
    let is_made = |slab: &&Slab| slab.names.is_empty() && slab.count == 1;
    if lacks > 0
        && lacks < slabs.len()
        && let Some(slab) = slabs.iter().find(is_made)
    {
        let (called, place) = place(tables, grids, slab);
        let fault = Fault::error(Code::MissingKey, format!("{called}: a slab has no number"));
        return Err(report.error(
            fault
                .at(&place, "others have one")
                .help("write its number, or delete the row if it is no slab"),
        ));
    }
    let bundle = |slab: &Slab| slab.bundle.clone().unwrap_or_default();
    let once = |key: &dyn Fn(&Slab, &str) -> String| {
        let mut seen = BTreeSet::new();
        let mut all =
            slabs.iter().flat_map(|slab| slab.names.iter().map(move |name| key(slab, name)));
        all.all(|name| seen.insert(name))
    };
    let (alone, in_bundle) = (
        once(&|_, name| name.to_owned()),
        once(&|slab, name| format!("{}\u{0}{name}", bundle(slab))),
    );
    if !alone && !in_bundle {
        return Err(twice(tables, grids, slabs, report));
    }
    let mut counted: BTreeMap<String, usize> = BTreeMap::new();
    let names = slabs.iter().map(|slab| {
        if slab.names.is_empty() {
            let next = counted.entry(bundle(slab)).or_default();
            let made = (0..slab.count).map(|_| {
                *next += 1;
                format!("{}-S{next}", bundle(slab))
            });
            return made.collect();
        }
        let name =
            |name: &String| if alone { name.clone() } else { format!("{}-S{name}", bundle(slab)) };
        slab.names.iter().map(name).collect()
    });
    let names: Vec<Vec<String>> = names.collect();
    // A bundle's name with an S in it may meet another's number.
    let mut seen = BTreeSet::new();
    for (slab, name) in
        slabs.iter().zip(&names).flat_map(|(slab, own)| own.iter().map(move |name| (slab, name)))
    {
        if !seen.insert(name) {
            let (called, place) = place(tables, grids, slab);
            let fault = Fault::error(
                Code::Duplicate,
                format!("{called}: two slabs would be called {name}"),
            );
            return Err(
                report.error(fault.at(&place, "the second").help("give this slab another number"))
            );
        }
    }
    let became = match (lacks > 0, alone) {
        (true, _) => Numbers::Made,
        (false, true) => Numbers::Kept,
        (false, false) => Numbers::WithBundle,
    };
    Ok((names, became))
}

fn place(tables: &[Table], grids: &[Grid], slab: &Slab) -> (String, Place) {
    let at = tables.get(slab.table).and_then(|table| {
        let column =
            table.of(Role::Slab).or_else(|| table.columns.first()).map_or(0, |column| column.at);
        let grid = grids.get(table.grid)?;
        Some((grid.called(slab.row, column), grid.place(slab.row, column)))
    });
    at.unwrap_or_else(|| (String::new(), Place { file: "".into(), line: 1, column: 1, span: 0..0 }))
}

/// Every slab is in a bundle.
fn bundled(
    tables: &[Table],
    grids: &[Grid],
    slabs: &[Slab],
    report: &mut Report,
) -> Result<(), Reported> {
    let mut without = slabs.iter().filter(|slab| slab.bundle.is_none());
    let Some(first) = without.next() else { return Ok(()) };
    let more = without.count();
    let (called, place) = place(tables, grids, first);
    let more = if more > 0 { format!(", nor {more} others") } else { String::new() };
    let fault = Fault::error(Code::MissingKey, format!("{called}: the slab is in no bundle{more}"))
        .at(&place, "no bundle on this row or above it")
        .help("say which column has the bundles, --column bundle=..., or put all into one: --bundle B1");
    Err(report.error(fault))
}

/// Slabs of one bundle that have one number.
fn twice(tables: &[Table], grids: &[Grid], slabs: &[Slab], report: &mut Report) -> Reported {
    let mut seen: BTreeMap<(String, &str), &Slab> = BTreeMap::new();
    let mut told = None;
    for slab in slabs {
        for name in &slab.names {
            let key = (slab.bundle.clone().unwrap_or_default(), name.as_str());
            let Some(first) = seen.insert(key, slab) else { continue };
            let (called, own) = place(tables, grids, slab);
            let (other, before) = place(tables, grids, first);
            let bundle = slab.bundle.clone().unwrap_or_default();
            let message = format!("{called}: slab {name} of bundle {bundle} is in the list twice");
            told = Some(
                report.error(
                    Fault::error(Code::Duplicate, message)
                        .at(&own, "the second")
                        .also(&before, format!("the first, {other}"))
                        .help("correct one of the numbers, or delete the row that is too many"),
                ),
            );
        }
    }
    told.unwrap_or_else(|| report.error(Fault::error(Code::Duplicate, "slabs have one number")))
}
