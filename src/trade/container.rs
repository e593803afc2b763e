//! Containers: types with their sizes and ratings, and the codes of ISO 6346.

use std::fmt;

use crate::fault::Place;
use crate::quantity::{Length, LineLoad, Malformed, Mass, Overflow, Written};

/// A container type, by its own plate and measures.
#[derive(Debug, Clone)]
pub struct ContainerType {
    /// The name rows and shipments refer to.
    pub id: String,
    /// Its name as the trade writes it, such as 20' GP: what pages show.
    pub name: String,
    /// Its size and type code, where the row states it.
    pub iso: Option<SizeType>,
    /// Inside length, width and height.
    pub inside: [Length; 3],
    /// Door opening: width and height.
    pub door: [Length; 2],
    /// Greatest gross mass on the plate.
    pub max_gross: Mass,
    /// Mass of the empty container.
    pub tare: Mass,
    /// Mass per metre of loaded length that the floor carries.
    pub line_load: LineLoad,
    /// Room across the width that bracing needs.
    pub bracing: Length,
    /// Room along the length that bracing at the ends needs.
    pub end_bracing: Length,
    /// Room under the door's lintel that handling needs.
    pub clearance: Length,
    /// How bundles come in.
    pub way_in: WayIn,
    /// Mass of dunnage, blocking and lashing in one container.
    pub securing: Mass,
    /// Its row.
    pub place: Place,
}

/// How bundles come into a container, and the room beside them that it takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WayIn {
    /// Through the doors, on a forklift's boom or pushed.
    Doors {
        /// How much wider than the bundle its lane from the doors is.
        side: Length,
    },
    /// Through the roof, hanging in slings.
    Roof {
        /// Length of the opening, which is as wide as the door.
        length: Length,
        /// How far a bundle may be shoved from where it is let down.
        shove: Length,
        /// Room to draw the slings, at both ends of the bundle or along one long side.
        sling: Length,
    },
}

/// The room beside a bundle where a row does not say it: common practice.
const BESIDE_MM: i64 = 100;

impl WayIn {
    /// Room beside a bundle where no row says it.
    pub fn usual_room() -> Length {
        Length::whole_mm(BESIDE_MM)
    }
}

impl ContainerType {
    /// The type and its road class, as pages and faults name it.
    pub fn in_class(&self, class: Option<&str>) -> String {
        match class {
            Some(class) => format!("{} {class}", self.name),
            None => self.name.clone(),
        }
    }

    /// Payload: greatest gross mass less tare (ISO 668: P = R - T).
    ///
    /// # Errors
    /// On overflow.
    pub fn payload(&self) -> Result<Mass, Overflow> {
        self.max_gross.minus(self.tare)
    }

    /// The floor a load may use: inside length and width less bracing.
    ///
    /// # Errors
    /// On overflow.
    pub fn floor(&self) -> Result<[Length; 2], Overflow> {
        let [length, width, _] = self.inside;
        Ok([length.minus(self.end_bracing)?, width.minus(self.bracing)?])
    }

    /// The height a bundle may have: that of the door less clearance, or of the inside where that is
    /// less.
    ///
    /// # Errors
    /// On overflow.
    pub fn opening(&self) -> Result<Length, Overflow> {
        Ok(self.door[1].minus(self.clearance)?.min(self.inside[2]))
    }
}

/// The size and type code of a container (ISO 6346): its length, its height and width, and two characters
/// for what it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SizeType(String);

impl fmt::Display for SizeType {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Written for SizeType {
    const FORM: &'static str = "an ISO 6346 size and type code: four capital letters and digits, the third a letter, such as \"22G1\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let is_part = |byte: &u8| byte.is_ascii_uppercase() || byte.is_ascii_digit();
        let bytes = text.as_bytes();
        let is_code = bytes.len() == 4
            && bytes.iter().all(is_part)
            && bytes.get(2).is_some_and(u8::is_ascii_uppercase);
        if is_code { Ok(Self(text.to_owned())) } else { Err(Malformed::new(0, Self::FORM)) }
    }

    fn pattern() -> Option<String> {
        Some("^[A-Z0-9]{2}[A-Z][A-Z0-9]$".to_owned())
    }
}

/// A container number by ISO 6346: owner code, category, serial number, check digit.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct ContainerNumber(String);

impl ContainerNumber {
    /// The check digit of the first ten characters (ISO 6346:2022, annex A): letters count from
    /// 10 upward leaving out the multiples of 11, position weights are the powers of two, and the
    /// sum is taken modulo 11, a remainder of 10 counting as 0.
    fn check_digit(characters: &[u8]) -> Option<u32> {
        let mut sum = 0;
        for (position, byte) in characters.iter().take(10).enumerate() {
            let value = match byte {
                b'0'..=b'9' => u32::from(byte - b'0'),
                b'A'..=b'Z' => {
                    let letter = u32::from(byte - b'A');
                    // 11, 22 and 33 are left out of the count.
                    10 + letter + letter.div_ceil(10)
                }
                _ => return None,
            };
            sum += value << position;
        }
        Some(sum % 11 % 10)
    }
}

impl fmt::Display for ContainerNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl Written for ContainerNumber {
    const FORM: &'static str = "an ISO 6346 container number: four letters, six digits and the check digit, such as \
         \"CSQU3054383\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let fault = |offset, expected: String| Malformed::new(offset, expected);
        // People write it spaced as it is painted on the box, and in small letters.
        let written = text.chars().filter(|c| !matches!(c, ' ' | '-'));
        let compact: String = written.map(|c| c.to_ascii_uppercase()).collect();
        let bytes = compact.as_bytes();
        let form = bytes.len() == 11
            && bytes.iter().take(4).all(u8::is_ascii_uppercase)
            && bytes.iter().skip(4).all(u8::is_ascii_digit)
            && matches!(bytes.get(3), Some(b'U' | b'J' | b'Z'));
        if !form {
            return Err(fault(0, Self::FORM.to_owned()));
        }
        let computed = Self::check_digit(bytes);
        let printed = bytes.get(10).map(|byte| u32::from(byte - b'0'));
        if computed == printed {
            return Ok(Self(compact));
        }
        let digit = computed.unwrap_or(0);
        let expected =
            format!("check digit {digit} for this number: one of its characters is wrong");
        Err(fault(text.len().saturating_sub(1), expected))
    }

    fn pattern() -> Option<String> {
        Some("^[ -]*([A-Za-z][ -]*){4}([0-9][ -]*){7}$".to_owned())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn letter_values_leave_out_multiples_of_eleven() {
        // ISO 6346 letter values: A10 B12 ... K21 L23 ... U32 V34 ... Z38. One letter alone in the
        // first position has weight one, so the digit shows its value modulo 11.
        for (letter, value) in
            [(b'A', 10), (b'B', 12), (b'K', 21), (b'L', 23), (b'U', 32), (b'V', 34), (b'Z', 38)]
        {
            let digit = ContainerNumber::check_digit(&[letter]).unwrap();
            assert_eq!(digit, value % 11 % 10, "{}", char::from(letter));
        }
    }

    #[test]
    fn a_size_and_type_code_has_four_characters() {
        // Codes as the Bureau International des Containers publishes them for ISO 6346: 20' and 40' general
        // purpose, 40' high cube, 20' open top, 45' high cube; a letter last is a box of less strength
        // (amendment 3).
        for good in ["22G1", "42G1", "45G1", "22U1", "LEG1", "22GB"] {
            assert_eq!(SizeType::read(good).map(|code| code.to_string()).as_deref(), Ok(good));
        }
        for bad in ["", "22G", "22G10", "22g1", "2211", "20GP1", "22 1", "22\u{c9}1"] {
            assert!(SizeType::read(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn published_numbers_have_their_digit() {
        // CSQU 305438 -> 3 (the usual published example), ZEPU 003725 -> 5 (annex of ISO 6346),
        // BICU 123456 -> 5; CSQU 305407 has remainder 10 and so digit 0 (computed).
        for good in ["CSQU3054383", "ZEPU 003725 5", "BICU123456-5", "CSQU3054070", "csqu 305438 3"]
        {
            assert!(ContainerNumber::read(good).is_ok(), "{good}");
        }
        let wrong = ContainerNumber::read("CSQU3054384").unwrap_err();
        assert!(wrong.expected.contains("check digit 3"), "{}", wrong.expected);
        for bad in ["CSQX3054383", "CSQU305438", "CSQU30543833"] {
            assert!(ContainerNumber::read(bad).is_err(), "{bad}");
        }
    }
}
