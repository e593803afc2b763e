//! The figures of a filled box for foreman, trucker and carrier: masses, limits, balance.
//!
//! Decided on 2026-11-25. The limit that binds is the one that leaves least cargo at the box's own centre of
//! gravity. Where the mass leaves room for the lightest bundle and the engine finds no place for it, the
//! floor, the line load or the balance is named instead.

use super::beams::{Beams, beams};
use super::contents::contents;
use super::engine::Preference;
use super::held::{Held, held};
use super::limits::{BALANCE_ACROSS, Limit};
use super::mass::cargo;
use super::order::{Order, order};
use super::plan::{FilledBox, Plan, Variant};
use super::preference::preference;
use super::road::{self, RoadReport};
use super::room::{Room, room};
use super::standing::{Standing, moment, standing};
use super::station::{Station, worst};
use crate::fault::Place;
use crate::quantity::{Decimal, Mass, Overflow, ratio};
use crate::trade::{Bundle, LimitKind, LimitOn, Shipment, Tariffs};

/// A filled box, summed up. Masses are those that limits are checked with.
#[derive(Debug, Clone)]
pub struct BoxSummary<'a> {
    /// The box.
    pub filled: &'a FilledBox,
    /// Its variant.
    pub variant: &'a Variant,
    /// Its bundles in the order of loading.
    pub standing: Vec<Standing<'a>>,
    /// How they come in and out, where their places are known.
    pub order: Option<Order>,
    /// Bundles, dunnage and lashing.
    pub cargo: Mass,
    /// Cargo and tare.
    pub gross: Mass,
    /// The binding limit: the one that leaves least cargo, with axles at this centre of gravity.
    pub binding: Limit,
    /// What binds: that limit; or the floor, its line load or the balance, where the mass leaves
    /// room for one more bundle and these do not.
    pub binds: Binds,
    /// What stops one more bundle like the lightest of the shipment, which is named.
    pub room: Option<(Room, &'a str)>,
    /// How it stands on its rigs, where they and its places are known.
    pub roads: Vec<RoadReport<'a>>,
    /// What holds its cargo on the way, once the tables are asked.
    pub held: Option<Held>,
    /// What is in it as it is traded, once the tables are asked.
    pub contents: String,
    /// The station of the floor that bears most, where its places are known.
    pub station: Option<Station>,
    /// How its cross beams are strained, where its places are known.
    pub beams: Option<Beams>,
    /// What the preference says of its places, where they are known.
    pub preference: Option<Preference>,
    /// How much cargo is left under it; less than nothing where it is broken.
    pub left: Mass,
    /// Centre of gravity of the bundles from the front end, in mm to one place.
    pub cog_x: Option<Decimal>,
    /// The same from the left wall.
    pub cog_y: Option<Decimal>,
    /// The same above the floor, each bundle's at half its height.
    pub cog_z: Option<Decimal>,
    /// How much of the bundles' mass stands in the front half, in percent to one place.
    pub front_half: Option<Decimal>,
}

/// What stops more from being loaded.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Binds {
    /// Its name.
    pub name: String,
    /// Of which kind it is.
    pub kind: LimitKind,
    /// Where it is stated.
    pub place: Place,
}

/// Sums up a box.
///
/// # Errors
/// On overflow.
pub fn summary<'a>(
    plan: &'a Plan,
    filled: &'a FilledBox,
    bundles: &'a [Bundle],
) -> Result<BoxSummary<'a>, Overflow> {
    let broken = Overflow { what: "a load" };
    let variant = plan.variant(filled).ok_or(broken)?;
    let cargo = cargo(&filled.bundles, bundles, variant)?;
    let mut standing = standing(filled, bundles)?;
    let order = order(&variant.container, &mut standing)?;
    let roads = on_roads(variant, &standing)?;
    let mut binding = variant.limits.binding().clone();
    let mut left = binding.cargo.minus(cargo)?;
    for check in roads.iter().flat_map(|report: &RoadReport<'_>| &report.checks) {
        if let Some(spare) = check.left.filter(|spare| *spare < left) {
            left = spare;
            binding = Limit {
                name: check.name.to_string(),
                kind: check.by.kind(),
                on: LimitOn::Cargo,
                cargo: cargo.plus(spare)?,
                place: check.place.clone(),
            };
        }
    }
    let length = variant.container.inside[0].mm_down();
    let room = room(filled, bundles, variant, left);
    let binds = match room.and_then(|(room, _)| room.binding()) {
        Some(name) => Binds {
            name: name.to_owned(),
            kind: LimitKind::Equipment,
            place: variant.container.place.clone(),
        },
        None => {
            Binds { name: binding.name.clone(), kind: binding.kind, place: binding.place.clone() }
        }
    };
    Ok(BoxSummary {
        filled,
        variant,
        cargo,
        gross: cargo.plus(variant.container.tare)?,
        room: room.map(|(room, like)| (room, like.id.as_str())),
        binds,
        left,
        binding,
        roads,
        station: worst(&standing),
        beams: beams(&variant.container, &standing),
        preference: preference(filled, bundles, variant),
        cog_x: centre(&standing, |one, at| 2 * at.0 + one.length_along()),
        cog_y: centre(&standing, |one, at| 2 * at.1 + one.width_across()),
        cog_z: centre(&standing, |one, _| one.bundle.height.mm_up()),
        front_half: front_half(&standing, length),
        order,
        held: None,
        contents: String::new(),
        standing,
    })
}

/// How a box stands on the rigs of its roads; nothing where a bundle has no place.
///
/// # Errors
/// Where a figure cannot be held.
pub(super) fn on_roads<'a>(
    variant: &'a Variant,
    standing: &[Standing<'_>],
) -> Result<Vec<RoadReport<'a>>, Overflow> {
    let Some((mass, twice)) = moment(standing) else { return Ok(Vec::new()) };
    let on = |road| road::report(road, mass, twice);
    variant.roads.iter().map(on).collect()
}

impl BoxSummary<'_> {
    /// Asks the tables what holds its cargo and what its goods are.
    pub fn consult(&mut self, shipment: &Shipment, tariffs: &Tariffs) {
        self.contents = contents(&self.standing, shipment, tariffs);
        let container = &self.variant.container;
        self.held = held(container, &self.standing, &self.roads, (shipment, tariffs));
    }

    /// Between which mm from the front end the centre of gravity must lie.
    pub fn window_along(&self) -> [i64; 2] {
        window(self.variant.container.inside[0].mm_down(), self.variant.balance)
    }

    /// Whether the centre of gravity lies above half the box's height, which the CTU Code asks to
    /// avoid where possible.
    pub fn is_top_heavy(&self) -> bool {
        let height = Decimal::from(self.variant.container.inside[2].mm_down());
        self.cog_z.is_some_and(|z| z + z > height)
    }

    /// Between which mm from the left wall it must lie.
    pub fn window_across(&self) -> [i64; 2] {
        window(self.variant.container.inside[1].mm_down(), BALANCE_ACROSS)
    }
}

fn window(extent: i64, permille: i64) -> [i64; 2] {
    [extent * (500 - permille) / 1_000, extent * (500 + permille) / 1_000]
}

/// The mass-weighted mean of the bundles' middles (CTU Code, annex 7, appendix 4: the sum of
/// masses times distances over the sum of masses), in mm to one place.
fn centre(
    standing: &[Standing<'_>],
    twice_middle: impl Fn(&Standing<'_>, (i64, i64)) -> i64,
) -> Option<Decimal> {
    let (mut moment, mut mass) = (0i128, 0i128);
    for one in standing {
        let grams = i128::from(one.bundle.limit_mass.grams_up());
        // An odd side has its middle on half a millimetre: doubled, everything is whole.
        moment += grams * i128::from(twice_middle(one, one.at?));
        mass += 2 * grams;
    }
    let decimal = |value: i128| Decimal::try_from_i128_with_scale(value, 0).ok();
    ratio(decimal(moment)?, decimal(mass)?, 1)
}

/// How much of the mass stands in the front half, each bundle's spread evenly over its length.
fn front_half(standing: &[Standing<'_>], length: i64) -> Option<Decimal> {
    let (mut front, mut mass) = (Decimal::ZERO, Decimal::ZERO);
    for one in standing {
        let (x, _) = one.at?;
        let own = one.length_along();
        // Doubled lengths, as half of an odd inside length is no whole millimetre.
        let inside = (length - 2 * x).clamp(0, 2 * own);
        let grams = Decimal::from(one.bundle.limit_mass.grams_up());
        let share = ratio(grams.checked_mul(Decimal::from(inside))?, Decimal::from(2 * own), 3)?;
        front = front.checked_add(share)?;
        mass = mass.checked_add(grams)?;
    }
    ratio(front.checked_mul(Decimal::ONE_HUNDRED)?, mass, 1)
}

#[cfg(test)]
mod tests {
    use super::super::limits::Limits;
    use super::super::plan::{Chosen, Proof, Spot};
    use super::super::testing::{bundle, twenty};
    use super::*;
    use crate::quantity::{Currency, Money, Written};
    use crate::trade::Offers;

    /// A 20' box that its plate alone limits, at no cost.
    fn variant() -> Variant {
        Variant {
            container: twenty(),
            class: None,
            offers: Offers::default(),
            limits: Limits::of_plate(&twenty()).unwrap(),
            roads: Vec::new(),
            balance: 50,
            cost: Money::zero(Currency::from_code("USD").unwrap()),
            parts: Vec::new(),
            caused: Money::zero(crate::quantity::Currency::from_code("USD").unwrap()),
        }
    }

    #[test]
    fn centre_of_gravity_of_eight_bundles() {
        // Worked example (computed by the formula of the CTU Code, annex 7, appendix 4): a 20'
        // box of 5.895 m, four bundles of 3,363 kg with their middles at 1.45 m; three of
        // 3,120 kg and one of 2,400 kg at 4.35 m. Centre at 2.8027 m; 53.36 % in the front half.
        let masses = ["3363 kg"; 4].into_iter().chain(["3120 kg"; 3]).chain(["2400 kg"]);
        let bundles: Vec<Bundle> = masses.map(|kg| bundle(kg, 2_800)).collect();
        let spots = (0..8i64).map(|at| Spot {
            bundle: usize::try_from(at).unwrap(),
            x: if at < 4 { 50 } else { 2_950 },
            y: 400 * (at % 4),
            turned: false,
        });
        let usd = Currency::from_code("USD").unwrap();
        let filled = FilledBox {
            label: "1".to_owned(),
            variant: 0,
            bundles: (0..8).collect(),
            spots: Some(spots.collect()),
            chosen: Chosen::Given,
            settled: true,
            number: None,
            seal: None,
            tare: None,
            dunnage: None,
            timber: None,
            measured: None,
        };
        let (cost, lower_bound) = (Money::zero(usd), None);
        let plan = Plan {
            variants: vec![variant()],
            boxes: vec![filled],
            gathered: None,
            cost,
            caused: cost,
            wishes: cost,
            lower_bound,
            proof: Proof::Given,
        };
        let box_summary = summary(&plan, &plan.boxes[0], &bundles).unwrap();
        assert_eq!(box_summary.cog_x.unwrap().to_string(), "2802.7");
        assert_eq!(box_summary.cog_z.unwrap().to_string(), "1000.0", "each is 2 m high");
        assert_eq!(box_summary.front_half.unwrap().to_string(), "53.4");
        assert_eq!(
            box_summary.cargo,
            Mass::read("25562 kg").unwrap(),
            "25,212 kg and 350 kg dunnage"
        );
        assert_eq!(box_summary.gross, Mass::read("27812 kg").unwrap());
        assert_eq!(box_summary.left, Mass::read("2668 kg").unwrap());
    }

    #[test]
    fn gross_mass_by_adding_up() {
        // Method 2 (computed): bundles 26,904 + dunnage 350 + tare 2,250 = 29,504 kg; with all of
        // them known it is no estimate.
        let bundles: Vec<Bundle> = ["3363 kg"; 8].map(|kg| bundle(kg, 2_800)).into();
        let usd = Money::zero(Currency::from_code("USD").unwrap());
        let filled = FilledBox {
            label: "1".to_owned(),
            variant: 0,
            bundles: (0..8).collect(),
            spots: None,
            chosen: Chosen::Given,
            settled: true,
            number: None,
            seal: None,
            tare: Some(Mass::read("2250 kg").unwrap()),
            dunnage: None,
            timber: None,
            measured: None,
        };
        let mut plan = Plan {
            variants: vec![variant()],
            boxes: vec![filled],
            gathered: None,
            cost: usd,
            caused: usd,
            wishes: usd,
            lower_bound: None,
            proof: Proof::Given,
        };
        let one = summary(&plan, &plan.boxes[0], &bundles).unwrap();
        let sheet = super::super::sheet::mass_sheet(&one).unwrap();
        assert_eq!(sheet.total, Mass::read("29504 kg").unwrap());
        assert!(sheet.is_estimate(), "the dunnage was not weighed");
        plan.boxes[0].dunnage = Some(Mass::read("350 kg").unwrap());
        let one = summary(&plan, &plan.boxes[0], &bundles).unwrap();
        assert!(!super::super::sheet::mass_sheet(&one).unwrap().is_estimate());
    }
}
