//! Packing lists as suppliers send them into `packing.csv`, and the lines of proformas.
//!
//! [`import`] makes its calls in the order of the work: `file` gives cells, `tables` finds the lists among them,
//! `columns` says what each column is, `rows` what each row is, `units` in which unit it stands, `slabs` reads the
//! cells, `totals` holds sums against them, `numbering` gives each slab its number, `clean` writes the list.
//! [`proforma`] reads goods with prices and amounts.

mod archive;
mod areas;
mod clean;
mod columns;
mod figure;
mod file;
mod grid;
mod numbering;
mod ods;
mod proforma;
mod role;
mod rows;
mod seen;
mod slabs;
mod tables;
mod text;
mod totals;
mod units;
mod xls;
mod xlsx;
mod xml;

use std::collections::{BTreeMap, BTreeSet};

pub use clean::{Clean, Field};
pub use proforma::{Proforma, ProformaLine, proforma};
pub use role::{Answers, Role};
pub use seen::SeenColumn;

use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::grouped;

/// What was read of a file.
#[derive(Debug)]
pub struct Imported {
    /// The list as `packing.csv` has it.
    pub clean: Clean,
    /// How many bundles it has.
    pub bundles: usize,
    /// Each column of the supplier's, and how it was read.
    pub columns: Vec<SeenColumn>,
    /// What else is to be known, in sentences.
    pub notes: Vec<String>,
}

/// Reads a supplier's list.
///
/// # Errors
/// If it cannot be read as a whole, or leaves anything open that changes a slab.
pub fn import(
    name: &str,
    bytes: &[u8],
    answers: &Answers,
    report: &mut Report,
) -> Result<Imported, Reported> {
    let grids = file::read(name, bytes, report)?;
    let found = grids.iter().enumerate().flat_map(|(at, grid)| tables::find(grid, at, answers));
    let mut found: Vec<tables::Table> = found.filter(|one| !proforma::is_priced(one)).collect();
    for column in found.iter_mut().flat_map(|table| &mut table.columns) {
        if matches!(column.role, Role::Price | Role::Amount) {
            column.role = Role::Unused;
        }
    }
    let tables = columns::settled(found, &grids, report)?;
    if tables.is_empty() {
        return Err(report.error(no_list(name)));
    }
    let rows = rows::read(&tables, &grids, answers, report)?;
    if rows.slabs.is_empty() {
        return Err(report.error(no_list(name)));
    }
    let units = units::settle(&tables, &grids, &rows.slabs, answers, report)?;
    let mut slabs = slabs::read(&tables, &grids, &rows.slabs, &units, report)?;
    for slab in slabs.iter_mut().filter(|slab| slab.bundle.is_none()) {
        slab.bundle.clone_from(&answers.bundle);
    }
    // Each tells what it finds before the first ends it.
    let areas = slabs::areas(&tables, &grids, &slabs, report);
    let held = totals::check(&tables, &grids, &rows.totals, &slabs, report);
    let numbered = numbering::numbered(&tables, &grids, &slabs, report);
    let (areas, held, (names, became)) = (areas?, held?, numbered?);
    let (masses, unweighed) = weighed(&slabs);
    let bundles: BTreeSet<&Option<String>> = slabs.iter().map(|slab| &slab.bundle).collect();
    let mut notes = Vec::new();
    if held > 0 {
        let (many, agree) = if held == 1 { ("", "agrees") } else { ("s", "agree") };
        notes.push(format!("{} total{many} {agree} with the rows above", grouped(held.into())));
    }
    notes.extend(match became {
        numbering::Numbers::Kept => None,
        numbering::Numbers::WithBundle => {
            Some("slab numbers begin again in each bundle: the bundle and an S stand before them".to_owned())
        }
        numbering::Numbers::Made => {
            Some("slabs without a number are counted in their bundle: the bundle and an S stand before it".to_owned())
        }
    });
    notes.extend(unweighed.then(|| {
        "masses that differ within a bundle are those of slabs: they were left out".to_owned()
    }));
    notes.extend(rows.hidden);
    notes.extend(other_sheets(&grids, &tables));
    let passed: Vec<&str> = rows.passed.iter().take(5).map(String::as_str).collect();
    if !passed.is_empty() {
        let more = rows.passed.len() - passed.len();
        let more =
            if more > 0 { format!(" and {} more", grouped(more.into())) } else { String::new() };
        notes.push(format!("rows that are no slabs were passed over: {}{more}", passed.join(", ")));
    }
    let columns = seen::columns(&tables, &grids, &slabs, &units, &areas);
    Ok(Imported {
        clean: clean::written(&slabs, &names, &masses),
        bundles: bundles.len(),
        columns,
        notes,
    })
}

fn no_list(name: &str) -> Fault {
    Fault::error(Code::MissingKey, format!("{name} holds no packing list"))
        .in_file(name)
        .help("a list has a header with the slabs' length and height, or their size; if its words are not known, say which columns they are: --column slab=A --column bundle=B --column length=C --column height=D")
}

/// The sheets that hold something and no list.
fn other_sheets(grids: &[grid::Grid], tables: &[tables::Table]) -> Option<String> {
    let has_list = |at: usize| tables.iter().any(|table| table.grid == at);
    let others = grids
        .iter()
        .enumerate()
        .filter(|(at, grid)| !has_list(*at) && grid.rows().next().is_some());
    let names: Vec<String> = others
        .map(|(_, grid)| {
            format!("{}{}", grid.name(), if grid.is_hidden { " (hidden)" } else { "" })
        })
        .collect();
    (!names.is_empty())
        .then(|| format!("sheets without a list were passed over: {}", names.join(", ")))
}

/// The mass of each row's bundle: where one figure stands in a bundle, or the same on each of its rows. Whether
/// others were found.
fn weighed(slabs: &[slabs::Slab]) -> (Vec<Option<areas::Side>>, bool) {
    let mut by_bundle: BTreeMap<&Option<String>, BTreeSet<areas::Side>> = BTreeMap::new();
    for slab in slabs {
        by_bundle.entry(&slab.bundle).or_default().extend(slab.mass);
    }
    let is_weighed = by_bundle.values().all(|all| all.len() == 1);
    let of = |slab: &slabs::Slab| {
        let own = by_bundle.get(&slab.bundle)?;
        own.first().copied().filter(|_| own.len() == 1 && is_weighed)
    };
    let has_any = slabs.iter().any(|slab| slab.mass.is_some());
    (slabs.iter().map(of).collect(), has_any && !is_weighed)
}
