//! Variants as the engine's kinds of box, limits and roads included.
//!
//! The way that the doors look on each road is chosen first: every combination that differs is a
//! kind of box of its own.
//!
//! Decided on 2026-11-26. Floor, gaps and window are the same from both ends. So a plan and its mirror image
//! with all doors turned are one, where every road lets the doors look either way.

use super::engine::{BoxKind, LineLoad};
use super::limits::Planes;
use super::plan::Variant;
use super::road;
use crate::quantity::{Length, Money};
use crate::trade::{DoorRule, Doors};

/// The engine's kind of box: limits down to the gram and room to the millimetre.
pub(super) fn kind(variant: &Variant) -> BoxKind {
    let container = &variant.container;
    let [inside_length, inside_width, _] = container.inside;
    let (length, width) = (inside_length.mm_down(), inside_width.mm_down());
    let half = |gap: Length| gap.mm_up().saturating_add(1) / 2;
    let payload = variant.limits.binding().cargo.grams_down();
    let opening = container.opening().map_or(0, Length::mm_down);
    let payload = payload.saturating_sub(container.securing.grams_up()).max(0);
    let mut limits = Planes::of_balance(container, variant.balance);
    for road in &variant.roads {
        limits.roads.extend(road::sharpened(road.planes(), payload, length, variant.balance));
    }
    BoxKind {
        length,
        width,
        door_height: opening,
        door_width: container.door[0].mm_down(),
        payload,
        cost: variant.weighed().and_then(Money::minor).unwrap_or(i64::MAX),
        available: None,
        // Kilograms per metre are grams per millimetre.
        line_load: Some(LineLoad {
            mass: container.line_load.grams_per_m_down(),
            per_length: 1_000,
        }),
        gap_end: half(container.end_bracing),
        gap_side: half(container.bracing),
        limits: limits.in_order(),
    }
}

/// Each variant once for every way of its doors on the roads, with the position of the variant that
/// it comes from.
///
/// The engine's floor, gaps and window are the same from both ends. So where the doors may look either
/// way on every road, a plan and its mirror image with all doors turned are one, and the first road
/// keeps the usual way. A combination that has all rules of another and more is left out.
pub(super) fn by_ways(variants: &[Variant]) -> (Vec<Variant>, Vec<usize>) {
    let (mut all, mut of) = (Vec::new(), Vec::new());
    for (index, variant) in variants.iter().enumerate() {
        for way in kept(variant) {
            all.push(way);
            of.push(index);
        }
    }
    (all, of)
}

/// The ways of one variant that differ, the usual one first.
fn kept(variant: &Variant) -> Vec<Variant> {
    let mut combined = combinations(variant);
    if combined.len() < 2 {
        return combined;
    }
    let rules: Vec<_> = combined.iter().map(|way| kind(way).limits).collect();
    let includes = |one: usize, other: usize| -> bool {
        match (rules.get(one), rules.get(other)) {
            (Some(one), Some(other)) => other.iter().all(|rule| one.contains(rule)),
            _ => false,
        }
    };
    let gains_nothing = |one: usize| {
        (0..rules.len()).any(|other| includes(one, other) && (!includes(other, one) || other < one))
    };
    let mut at = 0;
    combined.retain(|_| {
        at += 1;
        !gains_nothing(at - 1)
    });
    combined
}

fn combinations(variant: &Variant) -> Vec<Variant> {
    let turns = variant.roads.iter().all(|road| road.doors == DoorRule::Either);
    let mut all = vec![variant.clone()];
    for index in 0..variant.roads.len() {
        all = all
            .iter()
            .flat_map(|way| {
                let rule = way.roads.get(index).map_or(DoorRule::Rear, |road| road.doors);
                let ways = rule.ways();
                let ways = if turns && index == 0 { ways.get(..1).unwrap_or(ways) } else { ways };
                ways.iter().map(move |doors| with(way, index, *doors))
            })
            .collect();
    }
    all
}

fn with(variant: &Variant, index: usize, doors: Doors) -> Variant {
    let mut one = variant.clone();
    if let Some(road) = one.roads.get_mut(index) {
        road.doors = match doors {
            Doors::Rear => DoorRule::Rear,
            Doors::Front => DoorRule::Front,
        };
    }
    one
}
