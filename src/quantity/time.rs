//! Hours, as bills for waiting and cranes count them.

use std::fmt;

use rust_decimal::Decimal;

use super::bounds;
use super::number;
use super::{Malformed, Written};

/// A number of hours, exact.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hours(Decimal);

impl Hours {
    /// None.
    pub const ZERO: Self = Self(Decimal::ZERO);

    /// What is left after free hours; never less than nothing.
    #[must_use]
    pub fn beyond(self, free: Self) -> Self {
        Self((self.0 - free.0).max(Decimal::ZERO))
    }

    /// The same with a part of an hour counted as a whole one.
    #[must_use]
    pub fn begun(self) -> Self {
        Self(self.0.ceil())
    }

    /// The figure.
    pub fn figure(self) -> Decimal {
        self.0
    }
}

impl fmt::Display for Hours {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} h", self.0.normalize())
    }
}

impl Written for Hours {
    const FORM: &'static str = "hours, such as \"2.5 h\"";

    fn read(text: &str) -> Result<Self, Malformed> {
        let (value, unit, unit_at) = number::split_number(text, Self::FORM)?;
        if unit != "h" {
            return Err(Malformed::new(unit_at, Self::FORM));
        }
        bounds::HOURS.held(value).map(Self)
    }

    fn pattern() -> Option<String> {
        Some(number::pattern("h"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn free_hours_come_off_and_a_part_may_count_whole() {
        let hours = |text: &str| Hours::read(text).unwrap();
        assert_eq!(hours("2.5 h").beyond(hours("1 h")).to_string(), "1.5 h");
        assert_eq!(hours("2.5 h").beyond(hours("1 h")).begun().to_string(), "2 h");
        assert_eq!(hours("0.5 h").beyond(hours("1 h")), Hours::ZERO);
        assert!(Hours::read("2.5").is_err() && Hours::read("90 min").is_err());
    }
}
