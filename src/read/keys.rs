//! Keys that several tables have: rows of arrays, names of other tables' rows, countries, what a row
//! fits.

use smol_str::SmolStr;

use std::cell::RefCell;

use super::table::{Laid, Table, add_other_name, add_unknown};
use crate::fault::{At, Code, Fault, Report, Reported, gathered};
use crate::quantity::Written;
use crate::trade::{Country, EntryKind, Lane, Matches, Mode, Port, STARTER, Stone, Tariffs};

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
) -> Result<Option<String>, Reported> {
    Ok(row.text(key, report)?.map(|name| kept(name, what, names)))
}

/// The same for a name that must be there.
pub(super) fn required_name(
    row: &Table<'_>,
    key: &'static str,
    what: Named,
    names: &Names,
    report: &mut Report,
) -> Result<String, Reported> {
    row.required_text(key, report).map(|name| kept(name, what, names))
}

/// The name, kept to be looked up.
pub(super) fn kept(name: At<String>, what: Named, names: &Names) -> String {
    names.borrow_mut().push((what, name.clone()));
    name.value
}

/// Reads every row of an array with `read`, and reports its unknown keys.
pub(super) fn each<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Result<Vec<T>, Reported> {
    gathered(each_alone(top, key, report, read)?)
}

/// What came of each row.
fn each_alone<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Result<Vec<Result<T, Reported>>, Reported> {
    let rows = top.rows(key, report)?;
    let each = rows.iter().map(|row| {
        let value = read(row, report);
        row.finish(report);
        value
    });
    Ok(each.collect())
}

/// The rows that could be read, to be looked at further. The others are told, and the caller's caller ends with
/// `report.sound()?`.
pub(super) fn readable<T>(
    top: &Table<'_>,
    key: &'static str,
    report: &mut Report,
    read: impl Fn(&Table<'_>, &mut Report) -> Result<T, Reported>,
) -> Vec<T> {
    each_alone(top, key, report, read).into_iter().flatten().flatten().collect()
}

/// A file's rows that may stand alone or under a `[[quote]]`, whose head states once what they share: a
/// forwarder's quote, a bank's list, a page of the tariff.
pub(super) struct Quotes<'t, 'a> {
    top: &'t Table<'a>,
    heads: Vec<Table<'a>>,
    laid: &'static Laid,
}

impl<'t, 'a> Quotes<'t, 'a> {
    /// `laid` names the kinds of rows that stand under a head, as the keys that it hides.
    pub(super) fn of(top: &'t Table<'a>, laid: &'static Laid, report: &mut Report) -> Self {
        let heads = top.rows("quote", report).unwrap_or_default();
        Self { top, heads, laid }
    }

    /// The rows of a kind that could be read, alone or under a head, as they follow each other in the file.
    pub(super) fn rows<T>(
        &self,
        key: &'static str,
        report: &mut Report,
        read: impl Fn(&Table<'_>, &mut Report) -> Result<T, Reported>,
    ) -> Vec<T> {
        let mut all = Vec::new();
        for row in self.top.rows(key, report).unwrap_or_default() {
            all.push((row.start(), read(&row, report)));
            row.finish(report);
        }
        for head in &self.heads {
            for row in head.rows(key, report).unwrap_or_default() {
                let row = head.heads(&row, self.laid);
                all.push((row.start(), read(&row, report)));
                head.finish_row(&row, report);
            }
        }
        all.sort_by_key(|(start, _)| *start);
        all.into_iter().filter_map(|(_, row)| row.ok()).collect()
    }

    /// Reports the heads without rows, and the unknown keys of the others.
    pub(super) fn finish(&self, report: &mut Report) {
        let kinds = self.laid.hides;
        let named = |word: &str, form: fn(&str) -> String| {
            kinds.iter().map(|kind| form(kind)).collect::<Vec<_>>().join(word)
        };
        for head in &self.heads {
            if kinds.iter().any(|kind| head.has(kind)) {
                let rows = named(" and ", |kind| format!("[[quote.{kind}]]"));
                let hint = format!("the head has every key of its {rows} as well");
                head.finish_head(kinds, &hint, report);
            } else {
                let rows = named(" or ", |kind| format!("[[quote.{kind}]]"));
                report.add(
                    Fault::error(Code::MissingKey, "this [[quote]] has no rows")
                        .at(&head.place(), "nothing stands under this head")
                        .help(format!("write each row under it as {rows}")),
                );
            }
        }
    }
}

/// Whether a row says that its figure is one to start with.
pub(super) fn is_starter(row: &Table<'_>, report: &mut Report) -> Result<bool, Reported> {
    let word = row.word("basis", &[(true, STARTER)], report)?;
    Ok(word.is_some_and(|at| at.value))
}

/// Reads a list of country codes.
pub(super) fn countries(
    row: &Table<'_>,
    key: &'static str,
    report: &mut Report,
) -> Result<Vec<Country>, Reported> {
    let texts = row.texts(key, report)?;
    gathered(texts.into_iter().map(|text| {
        Country::read(&text).map_err(|fault| {
            report.error(
                Fault::error(Code::BadQuantity, format!("`{key}` holds \"{}\"", text.value))
                    .at(&text.place, format!("expected {}", fault.expected)),
            )
        })
    }))
}

/// The stone that a name is of.
pub(super) fn known_stone<'t>(
    name: &At<String>,
    tariffs: &'t Tariffs,
    report: &mut Report,
) -> Result<&'t Stone, Reported> {
    tariffs.stone(name).ok_or_else(|| {
        if let Some(stone) = tariffs.stones.iter().find(|one| one.name == name.value) {
            return add_other_name("stone", name, (&stone.id, "the `name`"), report);
        }
        let known: Vec<&str> = tariffs.stones.iter().map(|one| one.id.as_str()).collect();
        add_unknown("stone", name, "rates/stones.toml", &known, report)
    })
}

/// Reads what a row of charges, a limit or a rig fits.
pub(super) fn matches(
    row: &Table<'_>,
    names: &Names,
    report: &mut Report,
) -> Result<Matches, Reported> {
    let lane = row.optional::<Lane>("lane", report);
    let port = row.optional::<Port>("port", report);
    let term_place = row.text("term-place", report);
    let container = name(row, "container", Named::Container, names, report);
    let class = row.text("class", report);
    let yard = name(row, "yard", Named::Yard, names, report);
    let regime = name(row, "regime", Named::Regime, names, report);
    let stone = name(row, "stone", Named::Stone, names, report);
    let entry = row.word("entry", &EntryKind::ALL, report);
    let mode = row.word("mode", &Mode::ALL, report);
    Ok(Matches {
        lane: lane?.map(|at| at.value.key()),
        port: port?.map(|at| at.value.code().into()),
        term_place: term_place?.map(|at| at.value.into()),
        container: container?.map(SmolStr::from),
        class: class?.map(|at| at.value.into()),
        yard: yard?.map(SmolStr::from),
        regime: regime?.map(SmolStr::from),
        stone: stone?.map(SmolStr::from),
        entry: entry?.map(|at| at.value.word().into()),
        mode: mode?.map(|at| at.value.word().into()),
    })
}

/// Other ports of a yard or a line, by their UN/LOCODEs.
pub(super) fn ports(row: &Table<'_>, report: &mut Report) -> Result<Vec<Port>, Reported> {
    let texts = row.texts("ports", report)?;
    gathered(texts.iter().map(|text| {
        Port::read(&text.value).map_err(|malformed| {
            let message = format!("\"{}\" is no port", text.value);
            report.error(
                Fault::error(Code::BadQuantity, message)
                    .at(&text.place, format!("expected {}", malformed.expected)),
            )
        })
    }))
}
