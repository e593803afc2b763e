//! Ports by the names people call them.

use std::fmt;

use unicode_normalization::UnicodeNormalization;
use unicode_normalization::char::is_combining_mark;

use super::code::{Country, Port};
use crate::fault::Place;
use crate::quantity::Written;

/// A port by the names people call it.
#[derive(Debug, Clone)]
pub struct NamedPort {
    /// Its UN/LOCODE.
    pub code: Port,
    /// Its name.
    pub name: String,
    /// Other names of it: an old one, another language's, the terminal's.
    pub also: Vec<String>,
    /// Where the code comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

impl NamedPort {
    /// All its names.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        std::iter::once(&self.name).chain(&self.also).map(String::as_str)
    }
}

/// A port as pages write it: "Izmir (TRIZM)", or its code alone where `rates/ports.toml` has no name for it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalledPort {
    /// Its UN/LOCODE.
    pub code: Port,
    /// Its name.
    pub name: Option<String>,
}

impl CalledPort {
    /// The port of a code, with the first of its names.
    pub fn of(code: &Port, ports: &[NamedPort]) -> Self {
        let named = ports.iter().find(|port| port.code == *code);
        Self { code: code.clone(), name: named.map(|port| port.name.clone()) }
    }
}

impl fmt::Display for CalledPort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.name {
            Some(name) => write!(f, "{name} ({})", self.code),
            None => write!(f, "{}", self.code),
        }
    }
}

/// The ports that people call so: "Izmir", or "Izmir, Turkey" where the country tells two apart.
/// Capitals and accents do not matter. Several ports may bear one name.
pub fn ports_called<'a>(ports: &'a [NamedPort], text: &str) -> Vec<&'a NamedPort> {
    let (name, country) = text.split_once(',').unwrap_or((text, ""));
    let name = plain(name.trim());
    let country = country.trim();
    let is_there = |port: &NamedPort| {
        let meant = Country::read(country).ok().or_else(|| Country::named(country));
        country.is_empty() || meant.is_some_and(|meant| port.code.code().starts_with(meant.code()))
    };
    let is_called = |port: &&NamedPort| port.names().any(|one| plain(one) == name);
    ports.iter().filter(is_called).filter(|port| is_there(port)).collect()
}

/// A name without capitals and accents.
fn plain(name: &str) -> String {
    // The Turkish alphabet has an i without a dot, which is no accent.
    let bare = name.nfkd().filter(|c| !is_combining_mark(*c));
    bare.map(|c| if c == 'ı' { 'i' } else { c }).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;

    fn port(code: &str, name: &str, also: &[&str]) -> NamedPort {
        NamedPort {
            code: Port::read(code).unwrap(),
            name: name.to_owned(),
            also: also.iter().map(|&one| one.to_owned()).collect(),
            source: String::new(),
            place: Source::new("t", String::new()).line(1),
        }
    }

    #[test]
    fn a_port_is_called_by_any_of_its_names() {
        let ports = [
            port("TRIZM", "İzmir", &[]),
            port("TRAMR", "Ambarlı", &["Istanbul"]),
            port("COCTG", "Cartagena", &[]),
            port("ESCAR", "Cartagena", &[]),
        ];
        let called = |text| {
            ports_called(&ports, text).iter().map(|port| port.code.code()).collect::<Vec<_>>()
        };
        for izmir in ["Izmir", "İzmir", "IZMIR", "izmir", "Izmir, Turkey", "Izmir, TR"] {
            assert_eq!(called(izmir), ["TRIZM"], "{izmir}");
        }
        assert_eq!(called("AMBARLI"), ["TRAMR"]);
        assert_eq!(called("istanbul"), ["TRAMR"]);
        assert_eq!(called("Cartagena"), ["COCTG", "ESCAR"]);
        assert_eq!(called("Cartagena, Spain"), ["ESCAR"]);
        assert!(called("Izmir, Spain").is_empty());
        assert!(called("Izmir, Nowhere").is_empty());
        assert!(called("").is_empty());
    }
}
