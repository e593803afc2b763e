//! The ports that a term may name.

use super::page::{Block, Cell, Column, Page, Rows, Table};
use crate::trade::NamedPort;

/// The page of the ports that are known by name, by code.
pub fn ports(ports: &[NamedPort]) -> Page<'_> {
    let mut all: Vec<&NamedPort> = ports.iter().collect();
    all.sort_by_key(|port| port.code.code());
    let row = |port: &&'_ NamedPort| {
        vec![
            Cell::text(port.code.to_string()),
            Cell::text(port.name.clone()),
            Cell::text(port.also.join(", ")),
            Cell::text(port.source.clone()),
        ]
    };
    let table = Table {
        title: String::new(),
        columns: ["port", "name", "also called", "source"].map(Column::words).to_vec(),
        rows: Rows::of(all.iter().map(row).collect::<Vec<_>>()),
        totals: None,
        is_main: true,
    };
    let heading = "Ports that a term may name".to_owned();
    Page { blocks: vec![Block::Heading(heading), Block::Table(table)] }
}
