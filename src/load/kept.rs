//! Whether a load keeps the shipment's requests, and the price of its broken wishes. Worked out from the
//! boxes alone, without the search or its checker.

use std::collections::{BTreeMap, BTreeSet};

use super::plan::{FilledBox, Plan};
use crate::fault::Place;
use crate::quantity::{Currency, Money, Overflow};
use crate::trade::{Bond, Bundle, GivenBox, LoadWishes};

/// Something asked that a load does not keep.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unkept {
    /// What, in a sentence without its final stop.
    pub what: String,
    /// Where it is asked.
    pub place: Place,
}

/// The rules of a shipment's `[load]` that a load breaks, in file order by kind.
pub(super) fn unkept(plan: &Plan, bundles: &[Bundle], wishes: &LoadWishes) -> Vec<Unkept> {
    let home = Home::of(&plan.boxes);
    let mut all = Vec::new();
    let names = |set: &[usize]| named(set, bundles);
    for bound in bound(bundles, wishes).iter().filter(|bound| bound.bond == Bond::Rule) {
        let what = bound.split(&home, bundles);
        all.extend(what.map(|what| Unkept { what, place: bound.place.clone() }));
    }
    for set in &wishes.apart {
        for filled in &plan.boxes {
            let mut inside = set.value.clone();
            inside.retain(|bundle| filled.bundles.contains(bundle));
            if inside.len() > 1 {
                let (names, label) = (names(&inside), &filled.label);
                let what = format!("bundles {names} are to stay apart and share container {label}");
                all.push(Unkept { what, place: set.place.clone() });
            }
        }
    }
    let mut taken = BTreeSet::new();
    for given in &wishes.fixed {
        let boxes = home.touched(&given.bundles);
        let only = boxes.first().filter(|_| boxes.len() == 1);
        let what = match only.and_then(|at| plan.boxes.get(*at)) {
            None => Some(format!(
                "bundles {} are fixed in one container and are in containers {}",
                names(&given.bundles),
                home.labels(&given.bundles)
            )),
            Some(filled) if !is_of(given, filled, plan) => Some(format!(
                "bundles {} are fixed in another kind of container, or by other offers, than container {}",
                names(&given.bundles),
                filled.label
            )),
            Some(filled) if !boxes.iter().all(|at| taken.insert(*at)) => {
                Some(format!("two fixed containers are joined in container {}", filled.label))
            }
            Some(_) => None,
        };
        all.extend(what.map(|what| Unkept { what, place: given.place.clone() }));
    }
    let count = plan.boxes.len();
    let most = wishes.most.as_ref();
    if let Some(most) =
        most.filter(|most| usize::try_from(most.value).is_ok_and(|most| count > most))
    {
        let what = format!("the load has {count} containers, of at most {}", most.value);
        all.push(Unkept { what, place: most.place.clone() });
    }
    for had in &wishes.available {
        let count = plan.drawn(had);
        if usize::try_from(had.count).is_ok_and(|most| count > most) {
            let what =
                format!("the load has {count} x {}, of {} available", had.label(), had.count);
            all.push(Unkept { what, place: had.kind.place.clone() });
        }
    }
    all
}

/// A wish that a load breaks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BrokenWish {
    /// What, in a sentence without its final stop.
    pub what: String,
    /// Its price, for every container beyond the first.
    pub price: Money,
    /// Where it is asked.
    pub place: Place,
}

/// The wishes that boxes break, each with its price for every container that its block or set touches
/// beyond the first.
///
/// # Errors
/// On overflow.
pub(super) fn broken_wishes(
    boxes: &[FilledBox],
    bundles: &[Bundle],
    wishes: &LoadWishes,
) -> Result<Vec<BrokenWish>, Overflow> {
    let home = Home::of(boxes);
    let mut all = Vec::new();
    for bound in bound(bundles, wishes) {
        let Bond::Wish(each) = bound.bond else { continue };
        let Some(what) = bound.split(&home, bundles) else { continue };
        let beyond = i64::try_from(home.touched(&bound.set).len().saturating_sub(1));
        let price = beyond.ok().and_then(|beyond| each.minor().ok()?.checked_mul(beyond));
        let price = price.ok_or(Overflow { what: "the price of broken wishes" })?;
        let price = Money::from_minor(price, each.currency());
        all.push(BrokenWish { what, price, place: bound.place.clone() });
    }
    Ok(all)
}

/// What the wishes come to that boxes break.
///
/// # Errors
/// On overflow.
pub(super) fn price(
    boxes: &[FilledBox],
    bundles: &[Bundle],
    wishes: &LoadWishes,
    currency: Currency,
) -> Result<Money, Overflow> {
    let broken = broken_wishes(boxes, bundles, wishes)?;
    Money::total(currency, broken.iter().map(|wish| wish.price))
}

/// Bundles that belong together.
struct Bound<'a> {
    /// The block, where it is one.
    block: Option<&'a str>,
    set: Vec<usize>,
    bond: Bond,
    place: &'a Place,
}

/// Every block and set that belongs together, in file order by kind.
fn bound<'a>(bundles: &'a [Bundle], wishes: &'a LoadWishes) -> Vec<Bound<'a>> {
    let mut all = Vec::new();
    if let Some(asked) = &wishes.blocks {
        let blocks = blocks(bundles).into_iter();
        all.extend(blocks.map(|(block, set)| Bound {
            block: Some(block),
            set,
            bond: asked.value,
            place: &asked.place,
        }));
    }
    all.extend(wishes.together.iter().map(|(set, bond)| Bound {
        block: None,
        set: set.value.clone(),
        bond: *bond,
        place: &set.place,
    }));
    all
}

impl Bound<'_> {
    /// How they are split, where they are.
    fn split(&self, home: &Home<'_>, bundles: &[Bundle]) -> Option<String> {
        if home.touched(&self.set).len() < 2 {
            return None;
        }
        let labels = home.labels(&self.set);
        Some(match self.block {
            Some(block) => format!("block {block} is split over containers {labels}"),
            None => {
                let names = named(&self.set, bundles);
                format!("bundles {names} belong together and are in containers {labels}")
            }
        })
    }
}

/// In which box each bundle is.
struct Home<'a> {
    boxes: &'a [FilledBox],
    of: BTreeMap<usize, usize>,
}

impl<'a> Home<'a> {
    fn of(boxes: &'a [FilledBox]) -> Self {
        let all = boxes.iter().enumerate();
        let of = all.flat_map(|(at, filled)| filled.bundles.iter().map(move |one| (*one, at)));
        Self { boxes, of: of.collect() }
    }

    fn touched(&self, set: &[usize]) -> BTreeSet<usize> {
        set.iter().filter_map(|bundle| self.of.get(bundle)).copied().collect()
    }

    fn labels(&self, set: &[usize]) -> String {
        let touched = self.touched(set);
        let boxes = touched.iter().filter_map(|at| self.boxes.get(*at));
        listed(&boxes.map(|filled| filled.label.as_str()).collect::<Vec<_>>())
    }
}

/// The bundles of each block.
pub(super) fn blocks(bundles: &[Bundle]) -> BTreeMap<&str, Vec<usize>> {
    let mut blocks: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (at, bundle) in bundles.iter().enumerate() {
        if let Some(block) = &bundle.block {
            blocks.entry(block).or_default().push(at);
        }
    }
    blocks
}

/// Whether a box is of the type and class that were fixed.
fn is_of(given: &GivenBox, filled: &FilledBox, plan: &Plan) -> bool {
    plan.variant(filled).is_some_and(|variant| variant.is_of(given))
}

fn named(set: &[usize], bundles: &[Bundle]) -> String {
    let names = set.iter().filter_map(|at| bundles.get(*at)).map(|bundle| bundle.id.as_str());
    listed(&names.collect::<Vec<_>>())
}

/// A list in words: commas, and "and" before the last.
pub(super) fn listed(all: &[&str]) -> String {
    match all {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
