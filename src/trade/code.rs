//! Codes of open standards: countries, ports, lanes.

use std::fmt;

use smol_str::SmolStr;

use crate::quantity::{Malformed, Written};

/// A country by its ISO 3166-1 alpha-2 code, which the standard's list has.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Country(String);

impl Country {
    /// Whether two letters stand for a country.
    fn is_code(text: &str) -> bool {
        // The crate takes no letters at all for a country that is not stated.
        text.len() == 2 && text.parse::<iso_country::Country>().is_ok()
    }

    /// The country of an English name as the standard's list has it, or as it was until 2022.
    pub fn named(name: &str) -> Option<Self> {
        let name = if name == "T\u{fc}rkiye" || name == "Turkiye" { "Turkey" } else { name };
        let country = iso_country::Country::from_name(name)?.to_string();
        Self::is_code(&country).then_some(Self(country))
    }

    /// The two letters.
    pub fn code(&self) -> &str {
        &self.0
    }

    /// Its English name as the standard's list has it.
    pub fn name(&self) -> &str {
        self.0.parse::<iso_country::Country>().map_or(&self.0, |country| country.name())
    }
}

impl fmt::Display for Country {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Written for Country {
    const FORM: &'static str = "an ISO 3166 country code of two capitals, such as \"TR\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = || Malformed::new(0, Self::FORM);
        Self::is_code(text).then(|| Self(text.to_owned())).ok_or_else(fault)
    }

    fn pattern() -> Option<String> {
        Some("^[A-Z]{2}$".to_owned())
    }
}

/// A port or place by its UN/LOCODE: country and three characters, written without a space.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Port(String);

impl Port {
    /// The five characters.
    pub fn code(&self) -> &str {
        &self.0
    }

    /// Whether a text is a UN/LOCODE by its form and its country: IZMIR is a name.
    pub fn is_code(text: &str) -> bool {
        let country = text.get(..2).unwrap_or(text);
        Self::has_form(text) && (Country::is_code(country) || country == AT_SEA)
    }

    fn has_form(text: &str) -> bool {
        let bytes = text.as_bytes();
        bytes.len() == 5
            && bytes.iter().take(2).all(u8::is_ascii_uppercase)
            && bytes.iter().skip(2).all(|b| b.is_ascii_uppercase() || (b'2'..=b'9').contains(b))
    }
}

impl fmt::Display for Port {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Written for Port {
    const FORM: &'static str = "a UN/LOCODE of five characters, such as \"USSAV\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |expected: String| Malformed::new(0, expected);
        if !Self::has_form(text) {
            return Err(fault(Self::FORM.to_owned()));
        }
        if !Self::is_code(text) {
            let country = text.get(..2).unwrap_or(text);
            return Err(fault(format!("{}: {country} is no country of ISO 3166", Self::FORM)));
        }
        Ok(Self(text.to_owned()))
    }

    fn pattern() -> Option<String> {
        Some("^[A-Z]{2}[A-Z2-9]{3}$".to_owned())
    }
}

/// What UN/LOCODE has in the place of a country for installations in international waters
/// (UN/LOCODE manual, from memory).
const AT_SEA: &str = "XZ";

/// A lane: port of loading to port of discharge.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Lane {
    /// The port of loading.
    pub from: Port,
    /// The port of discharge.
    pub to: Port,
}

impl Lane {
    /// The lane as rows are looked up by it.
    pub fn key(&self) -> SmolStr {
        [self.from.code(), "-", self.to.code()].into_iter().collect()
    }
}

impl fmt::Display for Lane {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}-{}", self.from, self.to)
    }
}

impl Written for Lane {
    const FORM: &'static str = "two UN/LOCODEs, such as \"TRIZM-USSAV\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset| Malformed::new(offset, Self::FORM);
        let (from, to) = text.split_once('-').ok_or_else(|| fault(0))?;
        let at = from.len() + 1;
        let from = Port::read(from).map_err(|_| fault(0))?;
        let to = Port::read(to).map_err(|_| fault(at))?;
        Ok(Self { from, to })
    }

    fn pattern() -> Option<String> {
        Some("^[A-Z]{2}[A-Z2-9]{3}-[A-Z]{2}[A-Z2-9]{3}$".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_have_their_form() {
        // UN/LOCODE manual: two letters for the country, three characters of A-Z and 2-9.
        for good in ["TRIZM", "USSAV", "ITMDC", "CNXM2"] {
            assert!(Port::is_code(good), "{good}");
        }
        for bad in ["trizm", "TRIZ", "TR IZM", "TRI01", "works", "IZMIR"] {
            assert!(!Port::is_code(bad), "{bad}");
        }
        assert_eq!(Lane::read("TRIZM-USSAV").unwrap().to_string(), "TRIZM-USSAV");
        assert_eq!(Lane::read("TRIZM-SAV").unwrap_err().offset, 6);
        assert!(Country::read("Tr").is_err());
    }

    #[test]
    fn countries_are_those_of_iso_3166() {
        // ISO 3166-1: AN was withdrawn in 2010 and UK is reserved, not assigned; GB is the code. XK
        // is a user's own.
        for good in ["TR", "IN", "GB", "SS", "CW", "TW"] {
            assert!(Country::read(good).is_ok(), "{good}");
        }
        for bad in ["AN", "UK", "XK", "EU", "XX", "T1", "TUR", ""] {
            assert!(Country::read(bad).is_err(), "{bad}");
        }
        assert_eq!(Country::named("Italy").as_ref().map(Country::code), Some("IT"));
        assert_eq!(Country::named("Unspecified"), None);
        assert!(Port::read("TQIZM").is_err() && Port::read("XZAAA").is_ok());
    }
}
