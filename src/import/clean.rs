//! The clean list: the columns of `packing.csv`, by the reader's own words for them.

use std::collections::BTreeSet;

use super::areas::Side;
use super::role::Role;
use super::slabs::Slab;
use crate::quantity::Decimal;

/// A cell of the clean list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Field {
    /// Nothing.
    Empty,
    /// Words.
    Text(String),
    /// A figure.
    Figure(Decimal),
}

/// The clean list.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Clean {
    /// Its header.
    pub headers: Vec<String>,
    /// Its rows, a slab each.
    pub rows: Vec<Vec<Field>>,
}

/// A column of the clean list: its word, and what each row has in it.
struct Column<'a> {
    name: &'static str,
    get: Box<dyn Fn(&Slab) -> Got + 'a>,
}

/// What a row has in a column.
enum Got {
    Text(Option<String>),
    Measure(Option<Side>),
}

/// Writes the slabs, each on a row of its own; `masses` are those of whole bundles, row by row.
pub(super) fn written(slabs: &[Slab], names: &[Vec<String>], masses: &[Option<Side>]) -> Clean {
    let text = |name: &'static str, roles: &'static [Role]| Column {
        name,
        get: Box::new(move |slab: &Slab| {
            let all: Vec<String> =
                roles.iter().filter_map(|role| slab.texts.get(role).cloned()).collect();
            Got::Text((!all.is_empty()).then(|| all.join(", ")))
        }),
    };
    let measure = |name: &'static str, get: fn(&Slab) -> Option<Side>| Column {
        name,
        get: Box::new(move |slab| Got::Measure(get(slab))),
    };
    let varies = |role: Role| {
        let all: BTreeSet<Option<&String>> =
            slabs.iter().map(|slab| slab.texts.get(&role)).collect();
        all.len() > 1
    };
    let mut columns = vec![text("block", &[Role::Block]), text("container", &[Role::Container])];
    columns.push(measure("length", |slab| Some(slab.sides[0])));
    columns.push(measure("height", |slab| Some(slab.sides[1])));
    columns.push(measure("billed length", |slab| slab.billed.map(|sides| sides[0])));
    columns.push(measure("billed height", |slab| slab.billed.map(|sides| sides[1])));
    columns.push(measure("thickness", |slab| slab.thickness));
    // A word that all slabs share tells no line from another, and the supplier's is seldom ours.
    columns.extend(varies(Role::Stone).then(|| text("stone", &[Role::Stone])));
    columns.extend(varies(Role::Finish).then(|| text("finish", &[Role::Finish])));
    columns.push(text("order", &[Role::Order]));
    columns.push(text("match", &[Role::Match]));
    columns.push(text("remarks", &[Role::Quality, Role::Remark]));
    let mut clean =
        Clean { headers: vec!["slab".to_owned(), "bundle".to_owned()], rows: Vec::new() };
    let own = |slab: &Slab, name: &str| {
        vec![Field::Text(name.to_owned()), Field::Text(slab.bundle.clone().unwrap_or_default())]
    };
    clean.rows = slabs
        .iter()
        .zip(names)
        .flat_map(|(slab, names)| names.iter().map(move |name| own(slab, name)))
        .collect();
    let got =
        |column: &Column<'_>| -> Vec<Got> { slabs.iter().map(|slab| (column.get)(slab)).collect() };
    let mut filled: Vec<(&'static str, Vec<Got>)> =
        columns.iter().map(|column| (column.name, got(column))).collect();
    filled.push(("weighed mass", masses.iter().map(|mass| Got::Measure(*mass)).collect()));
    for (name, all) in filled {
        let is_empty = all.iter().all(|one| matches!(one, Got::Text(None) | Got::Measure(None)));
        if is_empty {
            continue;
        }
        let units: BTreeSet<&str> = all
            .iter()
            .filter_map(|one| match one {
                Got::Measure(Some((_, unit))) => Some(*unit),
                _ => None,
            })
            .collect();
        let mut units = units.iter();
        // Where lists have several units, each cell has its own.
        let unit = units.next().filter(|_| units.next().is_none());
        clean.headers.push(unit.map_or_else(|| name.to_owned(), |unit| format!("{name} ({unit})")));
        let fields = all.into_iter().zip(names).flat_map(|(one, names)| {
            let field = match one {
                Got::Text(None) | Got::Measure(None) => Field::Empty,
                Got::Text(Some(text)) => Field::Text(text),
                Got::Measure(Some((figure, _))) if unit.is_some() => Field::Figure(figure),
                Got::Measure(Some((figure, unit))) => Field::Text(format!("{figure} {unit}")),
            };
            std::iter::repeat_n(field, names.len())
        });
        for (row, field) in clean.rows.iter_mut().zip(fields) {
            row.push(field);
        }
    }
    clean
}
