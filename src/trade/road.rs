//! What a road lets a rig weigh: gross, axles by number and spread, the bridge formula.

use super::calendar::Window;
use super::rig::AxleGroup;
use crate::fault::Place;
use crate::quantity::{Decimal, Length, Mass, Overflow, Percent};

/// What the law, or a permit under it, lets a rig weigh.
#[derive(Debug, Clone)]
pub struct RoadLaw {
    /// The name rigs refer to.
    pub id: String,
    /// Its name in full.
    pub name: String,
    /// The greatest mass of the whole rig, by its number of axles.
    pub gross: Vec<GrossRule>,
    /// The greatest load of axles by their number and spread.
    pub axles: Vec<AxleRule>,
    /// The bridge formula, where there is one.
    pub bridge: Option<Bridge>,
    /// The least share of the whole mass on the drive axles, where there is one.
    pub least_drive: Option<Percent>,
    /// Cargo, packing and dunnage above which it must be certified to the haulier.
    pub certify_over: Option<Mass>,
    /// What must be in hand for it to hold, such as a permit; the law itself asks for nothing.
    pub permit: Option<String>,
    /// When it is in force.
    pub valid: Window,
    /// Where it comes from.
    pub source: String,
    /// Its row.
    pub place: Place,
}

/// The greatest mass of a whole rig.
#[derive(Debug, Clone)]
pub struct GrossRule {
    /// With at least so many axles.
    pub axles: u32,
    /// Of which at least so many are the tractor's.
    pub tractor: u32,
    /// The most.
    pub most: Mass,
    /// Its row.
    pub place: Place,
}

/// The greatest load of some axles. Without a group it is for every set of consecutive axles of
/// the rig; with one, for that group as a whole.
#[derive(Debug, Clone)]
pub struct AxleRule {
    /// Its name, such as "tandem".
    pub name: String,
    /// The group it is for.
    pub on: Option<AxleGroup>,
    /// How many axles; any number where it is not given.
    pub axles: Option<u32>,
    /// Between which spreads, first axle to last.
    pub spread: SpreadRange,
    /// The most.
    pub most: Mass,
    /// Its row.
    pub place: Place,
}

/// A range of spreads, first axle to last; an end not given is open.
#[derive(Debug, Clone, Copy, Default)]
pub struct SpreadRange {
    /// More than this.
    pub over: Option<Length>,
    /// At least this.
    pub from: Option<Length>,
    /// At most this.
    pub to: Option<Length>,
    /// Less than this.
    pub below: Option<Length>,
}

impl SpreadRange {
    /// Whether a spread lies in the range.
    pub fn holds(&self, spread: Length) -> bool {
        self.over.is_none_or(|end| spread > end)
            && self.from.is_none_or(|end| spread >= end)
            && self.to.is_none_or(|end| spread <= end)
            && self.below.is_none_or(|end| spread < end)
    }
}

/// How a bridge table rounds what lies in the middle between two of its steps.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ties {
    /// To the lower step.
    Down,
    /// To the higher.
    Up,
}

impl Ties {
    /// Both with their written form.
    pub const ALL: [(Self, &'static str); 2] = [(Self::Down, "down"), (Self::Up, "up")];
}

/// How a measured spread becomes the whole feet of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FootRule {
    /// To the nearest foot, half a foot up.
    NearestHalfUp,
    /// To the nearest foot, half a foot down.
    NearestHalfDown,
    /// Any fraction up.
    Up,
    /// Any fraction down.
    Down,
}

impl FootRule {
    /// Every rule with its written form.
    pub const ALL: [(Self, &'static str); 4] = [
        (Self::NearestHalfUp, "nearest, half up"),
        (Self::NearestHalfDown, "nearest, half down"),
        (Self::Up, "up"),
        (Self::Down, "down"),
    ];

    /// The whole feet of a spread; `None` where it is beyond counting.
    pub fn feet(self, spread: Length) -> Option<u32> {
        // A foot is 3,048 tenths of a millimetre; a finer fraction only decides which way it lies.
        let tenths = spread.times(Decimal::TEN).ok()?.to_mm(4);
        let foot = Decimal::from(3_048);
        let whole = tenths.checked_div(foot)?.floor();
        let rest = tenths.checked_sub(whole.checked_mul(foot)?)?;
        let half = Decimal::from(1_524);
        let up = match self {
            Self::NearestHalfUp => rest >= half,
            Self::NearestHalfDown => rest > half,
            Self::Up => rest > Decimal::ZERO,
            Self::Down => false,
        };
        u32::try_from(whole.mantissa()).ok()?.checked_add(u32::from(up))
    }
}

/// A bridge formula: the load of any set of consecutive axles by their number and spread.
#[derive(Debug, Clone)]
pub struct Bridge {
    /// It is for sets that spread over more than this.
    pub beyond: Length,
    /// How its table rounds ties.
    pub ties: Ties,
    /// How a spread becomes whole feet.
    pub foot: FootRule,
    /// Two consecutive tandems that spread over at least this may carry so much.
    pub two_tandems: Option<(Length, Mass)>,
    /// A tandem, for that exception: two axles of such a spread.
    pub tandem: SpreadRange,
    /// Cells that the table prints otherwise than its formula: feet, axles, mass.
    pub cells: Vec<(u32, u32, Mass)>,
    /// Its row.
    pub place: Place,
}

impl Bridge {
    /// The most that `axles` axles over so many feet may carry: W = 500 (L N / (N - 1) + 12 N + 36)
    /// pounds, to the nearest 500 (23 U.S.C. 127(a)(2)), or the table's own cell.
    ///
    /// # Errors
    /// Where the figure cannot be held.
    pub fn most(&self, feet: u32, axles: u32) -> Result<Mass, Overflow> {
        let own = self.cells.iter().find(|(f, n, _)| (*f, *n) == (feet, axles));
        if let Some((_, _, most)) = own {
            return Ok(*most);
        }
        let overflow = Overflow { what: "a bridge formula" };
        let (l, n) = (u64::from(feet), u64::from(axles));
        let gaps = n.checked_sub(1).filter(|gaps| *gaps > 0).ok_or(overflow)?;
        // In steps of 500 lb, over the common denominator N - 1.
        let over = l
            .checked_mul(n)
            .and_then(|ln| ln.checked_add((12 * n + 36).checked_mul(gaps)?))
            .ok_or(overflow)?;
        let (whole, rest) = (over / gaps, over % gaps);
        let up = match self.ties {
            Ties::Down => 2 * rest > gaps,
            Ties::Up => 2 * rest >= gaps,
        };
        let steps = whole + u64::from(up);
        Mass::lb(Decimal::from(steps).checked_mul(Decimal::from(500)).ok_or(overflow)?)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fault::Source;
    use crate::quantity::Written;

    fn bridge(ties: Ties) -> Bridge {
        Bridge {
            beyond: Length::read("96 in").unwrap(),
            ties,
            foot: FootRule::NearestHalfDown,
            two_tandems: None,
            tandem: SpreadRange::default(),
            cells: Vec::new(),
            place: Source::new("t", String::new()).line(1),
        }
    }

    fn pounds(bridge: &Bridge, feet: u32, axles: u32) -> String {
        bridge.most(feet, axles).unwrap().to_lb(0).to_string()
    }

    #[test]
    fn cells_of_the_printed_table() {
        // Virginia Code 46.2-1126, table by feet for two to seven axles; ties go down. 13 ft on
        // three axles is left out here: the formula gives 45,500 and Virginia prints 45,000.
        let rows: [(u32, [Option<u32>; 6]); 12] = [
            (9, [Some(39_000), Some(42_500), None, None, None, None]),
            (10, [Some(40_000), Some(43_500), None, None, None, None]),
            (12, [None, Some(45_000), Some(50_000), None, None, None]),
            (14, [None, Some(46_500), Some(51_500), None, None, None]),
            (16, [None, Some(48_000), Some(52_500), Some(58_000), None, None]),
            (18, [None, Some(49_500), Some(54_000), Some(59_000), None, None]),
            (20, [None, Some(51_000), Some(55_500), Some(60_500), Some(66_000), None]),
            (22, [None, Some(52_500), Some(56_500), Some(61_500), Some(67_000), None]),
            (24, [None, Some(54_000), Some(58_000), Some(63_000), Some(68_500), Some(74_000)]),
            (28, [None, Some(57_000), Some(60_500), Some(65_500), Some(71_000), Some(76_500)]),
            (32, [None, Some(60_000), Some(63_500), Some(68_000), Some(73_000), Some(78_500)]),
            (34, [None, None, Some(64_500), Some(69_000), Some(74_500), None]),
        ];
        let table = bridge(Ties::Down);
        for (feet, cells) in rows {
            for (axles, cell) in (2..).zip(cells) {
                if let Some(cell) = cell {
                    assert_eq!(pounds(&table, feet, axles), cell.to_string(), "{feet} ft {axles}");
                }
            }
        }
    }

    #[test]
    fn cells_of_the_federal_examples() {
        // FHWA, Bridge Formula Weights (from memory; the arithmetic is the statute's): axles 1-3
        // over 20 ft 51,000; axles 1-5 over 51 ft 80,000 (79,875 rounded); axles 2-5 over 35 ft
        // 65,500. The statute's formula at 8 ft: 38,000 and 42,000.
        let table = bridge(Ties::Down);
        for (feet, axles, cell) in
            [(20, 3, 51_000), (51, 5, 80_000), (35, 4, 65_500), (8, 2, 38_000), (8, 3, 42_000)]
        {
            assert_eq!(pounds(&table, feet, axles), cell.to_string(), "{feet} ft {axles}");
        }
    }

    #[test]
    fn ties_go_up_where_the_state_prints_them_up() {
        // Pennsylvania, 67 Pa. Code 185.3: the raw figures end in 250 or 750.
        let table = bridge(Ties::Up);
        for (feet, axles, cell) in [
            (9, 3, 43_000),
            (11, 3, 44_500),
            (13, 3, 46_000),
            (15, 3, 47_500),
            (18, 5, 59_500),
            (22, 5, 62_000),
            (38, 5, 72_000),
            (46, 5, 77_000),
            (27, 7, 76_000),
            (33, 7, 79_500),
        ] {
            assert_eq!(pounds(&table, feet, axles), cell.to_string(), "{feet} ft {axles}");
        }
    }

    #[test]
    fn a_printed_cell_beats_the_formula() {
        // Virginia prints 45,000 for three axles over 13 ft, where the formula gives 45,500.
        let mut table = bridge(Ties::Down);
        assert_eq!(pounds(&table, 13, 3), "45500");
        table.cells.push((13, 3, Mass::read("45000 lb").unwrap()));
        assert_eq!(pounds(&table, 13, 3), "45000");
    }

    #[test]
    fn feet_are_counted_as_each_state_counts_them() {
        // California: to the nearest foot, exactly six inches up. North Carolina's training sheet:
        // 21 ft 4 in is 21; 21 ft 6 1/16 in is 22. Virginia: any fraction up.
        let inches = |text: &str| Length::read(text).unwrap();
        let half = inches("258 in");
        assert_eq!(FootRule::NearestHalfUp.feet(half), Some(22));
        assert_eq!(FootRule::NearestHalfDown.feet(half), Some(21));
        assert_eq!(FootRule::NearestHalfDown.feet(inches("256 in")), Some(21));
        assert_eq!(FootRule::NearestHalfDown.feet(inches("258.0625 in")), Some(22));
        assert_eq!(FootRule::Up.feet(inches("252.01 in")), Some(22));
        assert_eq!(FootRule::Up.feet(inches("252 in")), Some(21));
        assert_eq!(FootRule::Down.feet(inches("263.9 in")), Some(21));
    }
}
