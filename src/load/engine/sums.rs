//! What no box holds more of: sums over pieces, for who chooses among them.

use super::bounds::measure::conditions;
use super::model::problem::Problem;

/// A sum over pieces that no box of a kind exceeds, wherever they stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sum {
    /// What each piece adds.
    pub weights: Vec<i128>,
    /// The most, by kind; `None` where this sum says nothing of that kind.
    pub most: Vec<Option<i128>>,
}

/// The sums of a problem; that of the masses is the first.
pub fn sums(problem: &Problem) -> Vec<Sum> {
    let mut all: Vec<Sum> = Vec::new();
    let conditions = conditions(problem);
    for (kind, of_kind) in conditions.iter().enumerate() {
        for condition in of_kind {
            if condition.weights.iter().any(|weight| *weight < 0) {
                continue;
            }
            let known = all.iter().position(|sum| sum.weights == condition.weights);
            let at = known.unwrap_or_else(|| {
                let most = vec![None; conditions.len()];
                all.push(Sum { weights: condition.weights.clone(), most });
                all.len() - 1
            });
            let most = &mut all[at].most[kind];
            *most = Some(most.map_or(condition.capacity, |most| most.min(condition.capacity)));
        }
    }
    all
}
