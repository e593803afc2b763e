//! Keys that several tables have: rows of arrays, names of other tables' rows, countries, what a row
//! fits.

use std::cell::RefCell;

use super::table::Table;
use crate::fault::{At, Code, Fault, Report};
use crate::quantity::Written;
use crate::trade::{Country, EntryKind, Lane, Matches, Mode, Port};

/// Names in a table that refer to rows of another, with their places, to be looked up once all
/// tables are read.
pub(super) type Names = RefCell<Vec<(Named, At<String>)>>;

/// What a name refers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Named {
    Container,
    Yard,
    Stone,
    Finish,
    Quality,
    Regime,
}

/// Reads a name that refers to a row of another table, and keeps it to be looked up.
pub(super) fn name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    row.text(key, report).map(|name| kept(name, what, names))
}

/// The same for a name that must be there.
pub(super) fn required_name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Option<String> {
    row.required_text(key, report).map(|name| kept(name, what, names))
}

/// The name, kept to be looked up.
fn kept(name: At<String>, what: Named, names: &Names) -> String {
    names.borrow_mut().push((what, name.clone()));
    name.value
}

/// Reads every row of an array with `read`, reports its unknown keys, and gives what could be read.
pub(super) fn each<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Option<T>,
) -> Vec<T> {
    let mut all = Vec::new();
    for row in top.rows(key, report) {
        let value = read(&row, report);
        row.finish(report);
        all.extend(value);
    }
    all
}

/// Reads a list of country codes.
pub(super) fn countries(row: &Table<'_>, key: &'static str, report: &mut Report) -> Vec<Country> {
    let mut all = Vec::new();
    for text in row.texts(key, report) {
        match Country::read(&text) {
            Ok(country) => all.push(country),
            Err(fault) => report.add(
                Fault::error(Code::BadQuantity, format!("`{key}` holds \"{}\"", text.value))
                    .at(&text.place, format!("expected {}", fault.expected)),
            ),
        }
    }
    all
}

/// Reads what a row of charges, a limit or a rig fits.
pub(super) fn matches(row: &Table<'_>, names: &Names, report: &mut Report) -> Matches {
    let lane = row.optional::<Lane>("lane", report).map(|at| at.value.to_string());
    let port = row.optional::<Port>("port", report).map(|at| at.value.to_string());
    Matches {
        lane,
        port,
        term_place: row.text("term-place", report).map(|at| at.value),
        container: name(row, "container", Named::Container, names, report),
        class: row.text("class", report).map(|at| at.value),
        yard: name(row, "yard", Named::Yard, names, report),
        regime: name(row, "regime", Named::Regime, names, report),
        stone: name(row, "stone", Named::Stone, names, report),
        entry: row.word("entry", &EntryKind::ALL, report).map(|at| at.value.word().to_owned()),
        mode: row.word("mode", &Mode::ALL, report).map(|at| at.value.word().to_owned()),
    }
}
