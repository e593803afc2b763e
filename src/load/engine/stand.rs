//! Places for all pieces in one box, without a search for the cheapest load around it.

use super::model::deck::{Deck, Item};
use super::model::effort::{Effort, Purse};
use super::model::misfit::misshapen;
use super::model::problem::{BoxKind, Placed, Problem};
use super::model::validate::validate;
use super::place::{Placement, try_place};

/// Where all pieces stand together in one box of the first kind that takes them, groups and wishes
/// aside; `None` where no places were found, which proves nothing.
pub fn stand(problem: &Problem, effort: &Effort) -> Option<Vec<Placed>> {
    if !validate(problem).is_empty() {
        return None;
    }
    let items: Vec<Item> = problem.pieces.iter().map(Item::of).collect();
    let mass: i64 = items.iter().map(|item| item.mass).sum();
    let takes = |kind: &BoxKind| {
        mass <= kind.payload && problem.pieces.iter().all(|one| misshapen(one, kind).is_empty())
    };
    problem.kinds.iter().enumerate().filter(|(_, kind)| takes(kind)).find_map(|(at, kind)| {
        let deck = Deck::of_kind(problem, at);
        let Placement::Places(found) = try_place(&deck, &items, &mut Purse::new(effort.units))
        else {
            return None;
        };
        Some(found.into_iter().enumerate().map(|(piece, at)| at.placed(piece, kind)).collect())
    })
}
