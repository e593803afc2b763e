//! Legs taken together, as the columns of a breakdown are.

use crate::quantity::Wholes;
use crate::trade::Leg;

/// Stages of the way to the rack, each named for what it holds: the goods; packing, carriage, insurance and
/// terminals up to the port of arrival; customs; haulage and unloading. Every leg is in one of them.
pub const LEG_GROUPS: [(&str, Leg, Leg); 4] = [
    ("goods", Leg::Goods, Leg::Goods),
    ("shipping", Leg::ExportPacking, Leg::DestinationTerminal),
    ("customs", Leg::ImportClearance, Leg::DutyAndTax),
    ("delivery", Leg::OnCarriage, Leg::Unloading),
];

/// For each group of legs what each slab bears, in minor units of the book currency.
pub(super) type Groups = [Wholes; LEG_GROUPS.len()];

/// The group of a leg, by position.
pub(super) fn group_of(leg: Leg) -> usize {
    let is_in = |(_, from, to): &(_, Leg, Leg)| (*from..=*to).contains(&leg);
    LEG_GROUPS.iter().position(is_in).unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_leg_is_in_one_group() {
        for (leg, word) in Leg::ALL {
            let groups = LEG_GROUPS.iter().filter(|(_, from, to)| (*from..=*to).contains(&leg));
            assert_eq!(groups.count(), 1, "{word}");
        }
    }
}
