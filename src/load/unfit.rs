//! Why a shipment cannot be loaded: the bundle or set that stops it, and the request.

use super::engine::Flaw;
use super::engine::{self, BoxKind, Cause, Effort, Grouping, Problem};
use super::kept::{blocks, listed};
use super::plan::{Misfit, Variant};
use super::room::{Room, stopped_by};
use super::wait::{choose, restricted, sets};
use crate::fault::Place;
use crate::quantity::{Length, Mass, Units, count_of, grouped};
use crate::trade::{Bond, Bundle, LoadWishes};

/// The work of counting how many boxes a load needs.
const COUNTING: Effort = Effort::of(2_000_000_000);

/// A load that was asked for and found impossible.
pub(super) struct Case<'a> {
    pub(super) bundles: &'a [Bundle],
    pub(super) variants: &'a [Variant],
    pub(super) wishes: &'a LoadWishes,
    /// The units of its sentences.
    pub(super) units: Units,
    /// What each bundle is worth, where some must wait.
    pub(super) worth: &'a dyn Fn() -> Vec<i64>,
}

impl Case<'_> {
    /// What the engine found, in words.
    pub(super) fn misfits(&self, all: &[engine::Infeasible], problem: &Problem) -> Vec<Misfit> {
        let mut found = Vec::new();
        for misfit in all {
            let boxes = misfit.refusals.iter().find_map(|refusal| match refusal.reason {
                Cause::NotEnoughBoxes(proven) => Some(proven),
                _ => None,
            });
            match boxes {
                Some(proven) => {
                    let mut own = self.too_few(&misfit.pieces, proven, problem);
                    for one in &mut own {
                        one.proven |= proven;
                    }
                    found.extend(own);
                }
                None => found.push(self.refused(misfit)),
            }
        }
        found
    }

    fn refused(&self, misfit: &engine::Infeasible) -> Misfit {
        let mut bundles = misfit.pieces.clone();
        let mut reasons: Vec<String> = misfit
            .refusals
            .iter()
            .map(|refusal| {
                if let Cause::Flawed(Flaw::Piece { piece, .. }) = refusal.reason {
                    bundles.push(piece);
                }
                let of = refusal.kind.and_then(|kind| self.variants.get(kind));
                in_kind(of, &why(&refusal.reason, of, self.variants, self.units))
            })
            .collect();
        each_once(&mut reasons);
        Misfit { asked: self.asked(&bundles), bundles, reason: reasons.join("; "), proven: true }
    }

    /// Too few boxes: a bundle or set fits in none, or too few are allowed.
    fn too_few(&self, pieces: &[usize], proven: bool, problem: &Problem) -> Vec<Misfit> {
        if let Some(most) = problem.max_boxes
            && let Some(needed) = needed(problem)
        {
            let proven = needed.0 > most;
            let needed = match needed {
                (least, _) if proven => format!("{} at least", count_of(least, "container")),
                (_, found) => format!("{}, the least found", count_of(found, "container")),
            };
            let bundles = count_of(pieces.len(), "bundle");
            let reason =
                format!("{bundles} need {needed}, and {} may be had", grouped(most.into()));
            let mut all = vec![Misfit { asked: self.counts(), proven, ..Misfit::whole(reason) }];
            all.extend(self.waiting(problem, most));
            return all;
        }
        let alone = pieces.iter().filter_map(|piece| self.stopped(&[*piece], problem));
        let alone: Vec<Misfit> = alone.collect();
        if !alone.is_empty() {
            return alone;
        }
        let bound: Vec<Misfit> =
            sets(problem).iter().filter_map(|set| self.stopped(set, problem)).collect();
        if !bound.is_empty() {
            return bound;
        }
        let proven = if proven { "there is no load" } else { "no load was found" };
        let reason = format!("{proven} that keeps every limit and request");
        let all: Vec<usize> = (0..self.bundles.len()).collect();
        let mut asked = self.asked(&all);
        asked.extend(self.counts());
        vec![Misfit { asked, ..Misfit::whole(reason) }]
    }

    /// The lines that say how many containers there may be.
    fn counts(&self) -> Vec<Place> {
        let most = self.wishes.most.iter().map(|most| most.place.clone());
        most.chain(self.wishes.available.iter().map(|had| had.kind.place.clone())).collect()
    }

    /// Why pieces that share one box fit in none; `None` where they do.
    fn stopped(&self, set: &[usize], problem: &Problem) -> Option<Misfit> {
        let mut reasons = Vec::new();
        for (at, kind) in problem.kinds.iter().enumerate() {
            let mut one = restricted(problem, set);
            one.kinds = vec![BoxKind { available: None, ..kind.clone() }];
            one.entries = problem.entries.get(at).copied().into_iter().collect();
            one.pins.clear();
            one.max_boxes = Some(1);
            let why = match engine::solve(&one, &super::room::EFFORT) {
                Ok(solved) if solved.boxes.len() == 1 => return None,
                Ok(_) => stop(stopped_by(one), self.variants.get(at)),
                Err(all) => {
                    let reason = all.first()?.refusals.first()?.reason.clone();
                    match reason {
                        Cause::NotEnoughBoxes(_) => stop(stopped_by(one), self.variants.get(at)),
                        reason => why(&reason, self.variants.get(at), self.variants, self.units),
                    }
                }
            };
            reasons.push(in_kind(self.variants.get(at), &why));
        }
        each_once(&mut reasons);
        let bundles = set.to_vec();
        Some(Misfit { bundles, asked: self.asked(set), ..Misfit::whole(reasons.join("; ")) })
    }

    /// Which bundles fill the boxes that may be had, and which wait for others.
    fn waiting(&self, problem: &Problem, most: u32) -> Option<Misfit> {
        let (go, wait) = choose(problem, &(self.worth)(), most)?;
        let names = |set: &[usize]| {
            let names = set.iter().filter_map(|at| self.bundles.get(*at));
            listed(&names.map(|bundle| bundle.id.as_str()).collect::<Vec<_>>())
        };
        let verb = if wait.len() == 1 { "waits" } else { "wait" };
        let reason = format!(
            "for the largest net area found to fit, {} go and {} {verb}",
            names(&go),
            names(&wait)
        );
        Some(Misfit::whole(reason))
    }

    /// The lines of `[load]` that bind these bundles to one another or to a box.
    fn asked(&self, set: &[usize]) -> Vec<Place> {
        let wishes = self.wishes;
        let shared = |of: &[usize]| of.iter().filter(|at| set.contains(at)).count();
        let mut all = Vec::new();
        if let Some(rule) = wishes.blocks.as_ref().filter(|asked| asked.value == Bond::Rule)
            && blocks(self.bundles).values().any(|block| shared(block) > 1)
        {
            all.push(rule.place.clone());
        }
        let together = wishes.together.iter().filter(|(_, bond)| *bond == Bond::Rule);
        let together = together.map(|(set, _)| set).filter(|set| shared(&set.value) > 1);
        all.extend(together.map(|set| set.place.clone()));
        let apart = wishes.apart.iter().filter(|set| shared(&set.value) > 1);
        all.extend(apart.map(|set| set.place.clone()));
        let fixed = wishes.fixed.iter().filter(|given| shared(&given.bundles) > 0);
        all.extend(fixed.map(|given| given.place.clone()));
        all
    }
}

/// Kinds of one label, such as ways of the doors, tiers or offers, often refuse for one reason.
fn each_once(reasons: &mut Vec<String>) {
    let mut told: Vec<String> = Vec::new();
    reasons.retain(|reason| {
        let is_new = !told.contains(reason);
        if is_new {
            told.push(reason.clone());
        }
        is_new
    });
}

/// A reason of one kind of box, which is named.
fn in_kind(variant: Option<&Variant>, why: &str) -> String {
    variant.map_or_else(|| why.to_owned(), |variant| format!("{}: {why}", variant.label()))
}

/// The proven least number of boxes for everything, and the least found.
fn needed(problem: &Problem) -> Option<(u32, u32)> {
    let mut counted = problem.clone();
    counted.max_boxes = None;
    // Kinds of which none is to be had stay so, unless that is all there are.
    counted.stocks.retain(|stock| stock.count == 0);
    let none = |kind: usize| counted.stocks.iter().any(|stock| stock.kinds.contains(&kind));
    if (0..counted.kinds.len()).all(none) {
        counted.stocks.clear();
    }
    counted.groups.fill(Grouping::Free);
    for kind in &mut counted.kinds {
        kind.cost = 1;
        kind.available = None;
    }
    let solved = engine::solve(&counted, &COUNTING).ok()?;
    Some((u32::try_from(solved.lower_bound).ok()?, u32::try_from(solved.boxes.len()).ok()?))
}

/// What stops a box that the masses allow.
pub(super) fn stop(room: Room, variant: Option<&Variant>) -> String {
    let has_roads = variant.is_some_and(|variant| !variant.roads.is_empty());
    match room {
        Room::LineLoad => "too heavy for its length: over the floor load".to_owned(),
        Room::Balance if has_roads => {
            "no place found so that the box balances and its axles bear it".to_owned()
        }
        Room::Balance => "no place found so that the box balances".to_owned(),
        Room::WayIn => "no place found to which every bundle has a way in".to_owned(),
        Room::Floor | Room::Fits | Room::Mass => "no room found on the floor".to_owned(),
    }
}

/// A reason of the engine in words, for one kind of box.
pub(super) fn why(
    reason: &Cause,
    variant: Option<&Variant>,
    variants: &[Variant],
    units: Units,
) -> String {
    let shown = |mm: &i64| Length::whole_mm(*mm).show(units);
    match reason {
        Cause::Flawed(Flaw::Piece { what, .. }) => {
            let most = match *what {
                "mass" => Mass::grams(engine::MASS_LIMIT).show(units),
                _ => Length::whole_mm(engine::LENGTH_LIMIT).show(units),
            };
            format!("its {what} is above {most}, the most that is loaded")
        }
        Cause::Flawed(Flaw::Kind { kind, what }) => {
            let label = variants.get(*kind).map_or_else(String::new, Variant::label);
            format!("the {what} of {label} is out of range")
        }
        Cause::Flawed(Flaw::TooMany) => {
            format!("more than {} bundles", engine::COUNT_LIMIT)
        }
        Cause::Flawed(flaw) => format!("what is asked is out of range ({flaw:?})"),
        Cause::NoKind => "there is no kind of box".to_owned(),
        Cause::TooTall(mm) => format!("{} too tall for the door less its clearance", shown(mm)),
        Cause::TooWideForDoor(mm) => format!("{} too wide for the door", shown(mm)),
        Cause::TooLong(mm) => format!("{} too long for the floor less bracing", shown(mm)),
        Cause::TooWide(mm) => format!("{} too wide for the floor less bracing", shown(mm)),
        Cause::TooHeavy(grams) => {
            let limit = variant.map(|variant| variant.limits.binding());
            let limit = limit.map_or_else(String::new, |limit| {
                format!(" under {} ({}), dunnage counted", limit.name, limit.kind.shown())
            });
            format!("{} too heavy{limit}", Mass::grams(*grams).show_closely(units))
        }
        Cause::LineLoad => stop(Room::LineLoad, variant),
        Cause::Balance => stop(Room::Balance, variant),
        Cause::NoWay => "no way in".to_owned(),
        Cause::Floor => "together they find no room on the floor".to_owned(),
        Cause::Pinned => "fixed to another kind of box".to_owned(),
        Cause::Contradiction => "they must and must not travel together".to_owned(),
        Cause::NotEnoughBoxes(_) => "the boxes do not suffice".to_owned(),
    }
}
