//! Whether a load keeps what its shipment asks of it, and what its broken wishes come to. Worked out
//! from the boxes alone: the search and its checker have no part in it.

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
pub fn unkept(plan: &Plan, bundles: &[Bundle], wishes: &LoadWishes) -> Vec<Unkept> {
    let home = Home::of(&plan.boxes);
    let mut all = Vec::new();
    let names = |set: &[usize]| named(set, bundles);
    if let Some(asked) = wishes.blocks.as_ref().filter(|asked| asked.value == Bond::Rule) {
        for (block, set) in blocks(bundles) {
            if home.touched(&set).len() > 1 {
                let what = format!("block {block} is split over containers {}", home.labels(&set));
                all.push(Unkept { what, place: asked.place.clone() });
            }
        }
    }
    for (set, _) in wishes.together.iter().filter(|(_, bond)| *bond == Bond::Rule) {
        if home.touched(&set.value).len() > 1 {
            let (names, labels) = (names(&set.value), home.labels(&set.value));
            let what = format!("bundles {names} belong together and are in containers {labels}");
            all.push(Unkept { what, place: set.place.clone() });
        }
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
                Some(format!("two fixed containers are one in container {}", filled.label))
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
        let what = format!("there are {count} containers and at most {} are allowed", most.value);
        all.push(Unkept { what, place: most.place.clone() });
    }
    for had in &wishes.available {
        let count = plan.drawn(had);
        if usize::try_from(had.count).is_ok_and(|most| count > most) {
            let what = format!("there are {count} x {} and {} to be had", had.label(), had.count);
            all.push(Unkept { what, place: had.kind.place.clone() });
        }
    }
    all
}

/// What the wishes come to that boxes break: of each block or set its price for every container it
/// touches beyond the first.
///
/// # Errors
/// On overflow.
pub(super) fn price(
    boxes: &[FilledBox],
    bundles: &[Bundle],
    wishes: &LoadWishes,
    currency: Currency,
) -> Result<Money, Overflow> {
    let home = Home::of(boxes);
    let mut sets = Vec::new();
    if let Some(Bond::Wish(each)) = wishes.blocks.as_ref().map(|asked| asked.value) {
        sets.extend(blocks(bundles).into_values().map(|set| (set, each)));
    }
    for (set, bond) in &wishes.together {
        if let Bond::Wish(each) = bond {
            sets.push((set.value.clone(), *each));
        }
    }
    let too_large = Overflow { what: "the price of broken wishes" };
    let mut total = 0i64;
    for (set, each) in sets {
        let beyond = i64::try_from(home.touched(&set).len().saturating_sub(1));
        let own = beyond.ok().and_then(|beyond| each.minor().ok()?.checked_mul(beyond));
        total = own.and_then(|own| total.checked_add(own)).ok_or(too_large)?;
    }
    Ok(Money::from_minor(total, currency))
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

/// A list as it is said: commas, and "and" before the last.
pub(super) fn listed(all: &[&str]) -> String {
    match all {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}
