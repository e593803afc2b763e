//! Prices in tiers: by the day, by the line of an entry, by the gross mass of a box.

use super::calendar::word_of;
use crate::fault::Place;
use crate::quantity::{Currency, Decimal, Mass, UnitRate};

/// What tiers are told apart by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TierBy {
    /// Days that are charged: each day has the price of its own tier.
    Days,
    /// Lines of an entry: each line has the price of its own tier.
    Lines,
    /// The gross mass of a container: the tier it lies in is the price.
    Gross,
}

impl TierBy {
    /// Every kind with the key that a tier states it by.
    pub const ALL: [(Self, &'static str); 3] =
        [(Self::Days, "days"), (Self::Lines, "lines"), (Self::Gross, "gross")];

    /// The key.
    pub fn word(self) -> &'static str {
        word_of(&Self::ALL, self)
    }
}

/// One tier. Counts run from the first to the last, both in; masses lie above the lower bound and
/// up to the upper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tier {
    /// The first day or line; the mass above which it begins, in kg.
    pub from: Decimal,
    /// The last day or line; the mass up to which it goes, in kg. The last tier has none.
    pub to: Option<Decimal>,
    /// Its window, as it is written.
    pub window: String,
    /// Its price.
    pub amount: UnitRate,
    /// Where it stands.
    pub place: Place,
}

/// The tiers of a row: without a hole and without a day, line or mass in two of them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tiers {
    /// What they are told apart by.
    pub by: TierBy,
    /// The tiers, lowest first; never empty.
    pub tiers: Vec<Tier>,
}

impl Tiers {
    /// The currency of their prices.
    pub fn currency(&self) -> Option<Currency> {
        self.tiers.first().map(|tier| tier.amount.currency())
    }

    /// How many of a count fall into each tier, those with any: tier by tier, so that the sixth
    /// day has the sixth day's price.
    pub fn split(&self, count: Decimal) -> Vec<(Decimal, &Tier)> {
        let inside = |tier: &Tier| {
            let last = tier.to.map_or(count, |to| to.min(count));
            last - tier.from + Decimal::ONE
        };
        let all = self.tiers.iter().map(|tier| (inside(tier), tier));
        all.filter(|(inside, _)| *inside > Decimal::ZERO).collect()
    }

    /// The tier a mass lies in. A mass on a bound lies in the lower one.
    pub fn holding(&self, mass: Mass) -> Option<&Tier> {
        self.tiers.iter().find(|tier| tier.to.is_none_or(|to| mass.base() <= to))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::quantity::{Money, Written};

    fn tiers(by: TierBy, bounds: &[(i64, Option<i64>, &str)]) -> Tiers {
        let place = Source::new("rates/drayage.toml", String::new()).place(0..0);
        let tier = |(from, to, amount): &(i64, Option<i64>, &str)| Tier {
            from: Decimal::from(*from),
            to: to.map(Decimal::from),
            window: String::new(),
            amount: Money::read(amount).unwrap().into(),
            place: place.clone(),
        };
        Tiers { by, tiers: bounds.iter().map(tier).collect() }
    }

    #[test]
    fn each_day_has_the_price_of_its_own_tier() {
        let tiers = tiers(
            TierBy::Days,
            &[(1, Some(5), "150 USD"), (6, Some(9), "300 USD"), (10, None, "400 USD")],
        );
        let counts = |days: i64| {
            let split = tiers.split(Decimal::from(days));
            split.into_iter().map(|(count, _)| count.to_string()).collect::<Vec<_>>()
        };
        assert_eq!(counts(0), Vec::<String>::new());
        assert_eq!(counts(5), ["5"]);
        assert_eq!(counts(6), ["5", "1"]);
        assert_eq!(counts(12), ["5", "4", "3"]);
    }

    #[test]
    fn a_mass_on_the_bound_lies_in_the_lower_tier() {
        let tiers = tiers(TierBy::Gross, &[(0, Some(20_000), "0 USD"), (20_000, None, "150 USD")]);
        let price = |mass: &str| {
            let mass = Mass::read(mass).unwrap();
            tiers.holding(mass).unwrap().amount.to_string()
        };
        assert_eq!(price("20 t"), "0.00 USD");
        assert_eq!(price("20000.1 kg"), "150.00 USD");
    }
}
