//! The ports that a term may name, for scripts.

use std::io::{self, Write};

use serde::Serialize;

use super::parts::{FORMAT, write};
use crate::trade::NamedPort;

#[derive(Serialize)]
struct PortsJson<'a> {
    format: u32,
    ports: Vec<PortJson<'a>>,
}

#[derive(Serialize)]
struct PortJson<'a> {
    port: &'a str,
    name: &'a str,
    also_called: &'a [String],
    source: &'a str,
}

/// Writes them as JSON, in file order.
///
/// # Errors
///
/// If they cannot be written.
pub fn ports(ports: &[NamedPort], out: &mut dyn Write) -> io::Result<()> {
    let each = ports.iter().map(|port| PortJson {
        port: port.code.code(),
        name: &port.name,
        also_called: &port.also,
        source: &port.source,
    });
    write(&PortsJson { format: FORMAT, ports: each.collect() }, out)
}
