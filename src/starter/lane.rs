//! The port of loading that a delivery term names, and ports by code or name.

use crate::quantity::Written;
use crate::trade::{DeliveryTerm, Incoterm, NamedPort, Port, ports_called};

/// The port of loading that a term names. A term with a slip names none: its fault is told by the reader.
pub(super) fn named_loading(ports: &[NamedPort], term: &str) -> Result<Option<Port>, String> {
    let (rule, place) = match DeliveryTerm::in_words(term) {
        Some((rule, place)) => (rule, place.to_owned()),
        None => match DeliveryTerm::read(term) {
            Ok(term) => (term.rule, term.named_place),
            Err(_) => return Ok(None),
        },
    };
    match rule {
        Incoterm::Fas | Incoterm::Fob => port_called(ports, &place).map(Some),
        Incoterm::Fca => Ok(Port::read(&place).ok()),
        _ => Ok(None),
    }
}

/// The port of loading: the term's, or the one that is named beside it.
pub(super) fn loading(
    ports: &[NamedPort],
    term: &str,
    from: Option<&str>,
) -> Result<Option<Port>, String> {
    match (from, named_loading(ports, term)?) {
        (_, Some(port)) => Ok(Some(port)),
        (Some(text), None) => port_called(ports, text).map(Some),
        (None, None) if DeliveryTerm::read(term).is_err() => Ok(None),
        (None, None) => Err(format!(
            "{term} names no port of loading: say it with --from, such as --from Chennai"
        )),
    }
}

/// The port of a code or a name.
pub(super) fn port_called(ports: &[NamedPort], text: &str) -> Result<Port, String> {
    if let Ok(port) = Port::read(text) {
        return Ok(port);
    }
    match &ports_called(ports, text)[..] {
        [port] => Ok(port.code.clone()),
        [] => Err(format!(
            "no port is called \"{text}\" in rates/ports.toml: write its five characters by UN/LOCODE, such as USSAV"
        )),
        several => {
            let codes: Vec<&str> = several.iter().map(|port| port.code.code()).collect();
            Err(format!("several ports are called \"{text}\": write {}", codes.join(" or ")))
        }
    }
}
