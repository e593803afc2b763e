//! The continuous customs bond that a year's entries share.

use super::calendar::Window;
use crate::fault::Place;
use crate::quantity::{Exact, Money, Overflow, Percent};

/// What a continuous bond is for and how its amount is set: the larger of a least amount and a
/// share of the duties, taxes and fees of the twelve months before, rounded up by steps.
///
/// In the United States the least is 50,000 dollars, the share 10 %, and the steps 10,000 up to
/// 100,000 and 100,000 above (19 CFR 113.13; monetary guidelines of the customs service, reported
/// at second hand).
#[derive(Debug, Clone)]
pub struct ContinuousBond {
    /// The regime.
    pub regime: String,
    /// Duties, taxes and fees of the twelve months before.
    pub annual: Money,
    /// Entries of a year, which share its premium.
    pub entries: u32,
    /// The least amount.
    pub least: Money,
    /// The share of the annual sum.
    pub share: Percent,
    /// Steps to round up by, each with the amount up to which it serves; the last serves for all
    /// above and has none.
    pub steps: Vec<BondStep>,
    /// When it is in force, by the day of entry.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// A step that a bond's amount is rounded up by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BondStep {
    /// Up to which amount it serves.
    pub to: Option<Money>,
    /// The step.
    pub by: Money,
}

impl ContinuousBond {
    /// The amount of the bond.
    ///
    /// # Errors
    /// Where the figure cannot be held.
    pub fn amount(&self) -> Result<Money, Overflow> {
        let share = Exact::from(self.annual).percent(self.share);
        let exact = match share.compare(self.least) {
            Some(std::cmp::Ordering::Greater) => share,
            _ => Exact::from(self.least),
        };
        let serves = |step: &&BondStep| {
            step.to.is_none_or(|to| exact.compare(to) != Some(std::cmp::Ordering::Greater))
        };
        let step = self.steps.iter().find(serves).map_or(Money::zero(exact.currency()), |s| s.by);
        exact.round_up_to(step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::quantity::Written;

    fn bond(annual: &str) -> String {
        let money = |text: &str| Money::read(text).unwrap();
        let bond = ContinuousBond {
            regime: "us".to_owned(),
            annual: money(annual),
            entries: 12,
            least: money("50000 USD"),
            share: Percent::read("10 %").unwrap(),
            steps: vec![
                BondStep { to: Some(money("100000 USD")), by: money("10000 USD") },
                BondStep { to: None, by: money("100000 USD") },
            ],
            valid: Window::read("2026-01-01..").unwrap(),
            source: "19 CFR 113.13".to_owned(),
            place: Source::new("rates/fees.toml", String::new()).place(0..0),
        };
        bond.amount().unwrap().to_string()
    }

    #[test]
    fn amounts_of_the_published_guideline() {
        // The customs service's guideline for continuous importer bonds, examples as reported
        // (second-hand text): up to 500,000 of annual duties, taxes and fees, 50,000; 500,000 to
        // 600,000, 60,000; 1 to 2 million, 200,000; 4 to 5 million, 500,000.
        for (annual, amount) in [
            ("12000 USD", "50,000.00 USD"),
            ("500000 USD", "50,000.00 USD"),
            ("500000.10 USD", "60,000.00 USD"),
            ("600000 USD", "60,000.00 USD"),
            ("1000000.10 USD", "200,000.00 USD"),
            ("2000000 USD", "200,000.00 USD"),
            ("4000001 USD", "500,000.00 USD"),
            ("5000000 USD", "500,000.00 USD"),
        ] {
            assert_eq!(bond(annual), amount, "{annual}");
        }
    }
}
