//! `rates/ports.toml`: ports by name.

use super::super::keys::{Names, each, readable};
use super::super::table::Table;
use crate::fault::Report;
use crate::trade::{NamedPort, Port, Tariffs};

pub(super) fn ports(top: &Table<'_>, tariffs: &mut Tariffs, _: &Names, report: &mut Report) {
    let lists = readable(top, "list", report, |list, report| {
        let source = list.required_text("source", report);
        let ports = each(list, "ports", report, |row, report| {
            let code = row.required::<Port>("id", report);
            let name = row.required_text("name", report);
            let also = row.texts("also", report);
            Ok((code?.value, name?.value, also?, row.place()))
        });
        let source = source?.value;
        let ports = ports?.into_iter().map(|(code, name, also, place)| NamedPort {
            code,
            name,
            also: also.into_iter().map(|at| at.value).collect(),
            source: source.clone(),
            place,
        });
        Ok(ports.collect::<Vec<_>>())
    });
    tariffs.ports = lists.into_iter().flatten().collect();
}
