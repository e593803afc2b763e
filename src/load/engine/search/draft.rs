//! A plan by pieces, so that plans of differently joined tasks compare.

use super::bins::{Bin, cost};
use crate::load::engine::model::deck::Position;
use crate::load::engine::model::problem::{Grouping, Problem};
use crate::load::engine::model::task::Task;
use crate::load::engine::place::oracle::Oracle;

/// A kind of box and the places of the pieces in one such box.
pub(crate) type Stowed = (usize, Vec<(usize, Position)>);

/// Boxes by kind; what is in them, by piece.
#[derive(Clone, Debug)]
pub(crate) struct DraftPlan {
    pub(crate) boxes: Vec<(usize, Vec<usize>)>,
    /// Boxes and broken wishes.
    pub(crate) cost: i64,
}

impl DraftPlan {
    pub(crate) fn of(problem: &Problem, task: &Task, bins: &[Bin]) -> Self {
        let boxes: Vec<(usize, Vec<usize>)> = bins
            .iter()
            .filter(|bin| !bin.units.is_empty())
            .map(|bin| (bin.kind, task.pieces(&bin.units)))
            .collect();
        let empty: i64 = bins
            .iter()
            .filter(|bin| bin.units.is_empty())
            .map(|bin| task.kinds[bin.kind].cost)
            .sum();
        DraftPlan { cost: cost(task, bins) - empty + broken_wishes(problem, &boxes), boxes }
    }

    /// Places for every box.
    pub(crate) fn places(&self, task: &Task) -> Option<Vec<Stowed>> {
        self.boxes
            .iter()
            .map(|(kind, pieces)| {
                let places = Oracle::places(task, *kind, pieces)?;
                Some((*kind, places))
            })
            .collect()
    }
}

/// The price of the wishes that these boxes break.
fn broken_wishes(problem: &Problem, boxes: &[(usize, Vec<usize>)]) -> i64 {
    let mut touched = vec![0_i64; problem.groups.len()];
    for (_, pieces) in boxes {
        let mut groups: Vec<usize> =
            pieces.iter().filter_map(|&piece| problem.pieces[piece].group).collect();
        groups.sort_unstable();
        groups.dedup();
        for group in groups {
            touched[group] += 1;
        }
    }
    let price = |(group, count): (usize, i64)| match problem.groups[group] {
        Grouping::Wish { price } => price * (count - 1).max(0),
        _ => 0,
    };
    touched.into_iter().enumerate().map(price).sum()
}
