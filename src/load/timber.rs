//! The timber that holds cargo: battens of one size, how many, whether they have room, and what they weigh.

use super::forces::{self, Force};
use crate::quantity::{Length, Mass};

/// The timber of a strut: thick and high, mm (common practice).
const TIMBER: [i64; 2] = [100, 100];
/// Sawn softwood, kg/m3 (common practice).
const DENSITY: i128 = 500;

/// Struts of one kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timber {
    /// How many.
    pub count: i64,
    /// Thick, high and long.
    pub sides: [Length; 3],
    /// How many have room, where that is known.
    pub room: Option<i64>,
}

impl Timber {
    /// The battens for a force, so long between what they stand against; none for no force. So many millimetres are
    /// there for them, one beside or above the other, where that is known.
    pub(super) fn holding(force: &Force, long: Length, space: Option<i64>) -> Option<Self> {
        let [thick, high] = TIMBER;
        force.is_any().then(|| Self {
            count: force.over(&forces::batten([thick, high, long.mm_up()])),
            sides: [Length::whole_mm(thick), Length::whole_mm(high), long],
            room: space.map(|space| space / high),
        })
    }

    /// Whether there is no room for all of it.
    pub fn is_too_much(&self) -> bool {
        self.room.is_some_and(|room| self.count > room)
    }

    /// What it weighs, up to the gram.
    pub fn mass(&self) -> Mass {
        let [thick, high, long] = self.sides.map(|side| i128::from(side.mm_up()));
        // Cubic millimetres times kg/m3 are millionths of a gram.
        let grams = i128::from(self.count) * thick * high * long * DENSITY;
        let grams = grams.div_euclid(1_000_000) + i128::from(grams.rem_euclid(1_000_000) > 0);
        Mass::grams(i64::try_from(grams).unwrap_or(i64::MAX))
    }

    /// The size and mass of the timber that is counted with, for who must be told what is assumed.
    pub fn assumed() -> ([Length; 2], i64) {
        (TIMBER.map(Length::whole_mm), i64::try_from(DENSITY).unwrap_or(0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::load::forces::{Asked, to_hold};

    #[test]
    fn battens_of_a_force_their_room_and_their_mass() {
        // 10 t at 0.8 and friction 0.30: 49.05 kN. One batten of 100 x 100 mm, 2.35 m free, holds 1,000 / 65.8 = 15.2 kN:
        // four of them, each of 0.0235 m3 and 11.75 kg.
        let decimal = |text: &str| text.parse().unwrap();
        let asked = Asked { push: decimal("0.8"), weight: decimal("1"), friction: decimal("0.3") };
        let force = to_hold(10_000_000, &asked);
        let long = Length::whole_mm(2_350);
        let own = Timber::holding(&force, long, Some(399)).unwrap();
        assert_eq!((own.count, own.room), (4, Some(3)));
        assert!(own.is_too_much());
        assert!(!Timber::holding(&force, long, Some(400)).unwrap().is_too_much());
        assert_eq!(own.mass(), Mass::grams(47_000));
        assert!(Timber::holding(&Force::none(), long, None).is_none());
    }
}
