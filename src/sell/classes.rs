//! The slabs of a stock list by class: alike in all that a buyer asks for.

use std::collections::BTreeMap;

use crate::ledger::{Listed, Where};
use crate::trade::Class;

/// The slabs of a stock list by class, classes and slabs in order. One on the way is counted to the yard it goes
/// to.
pub fn classes<'l>(listed: &[Listed<'l>]) -> BTreeMap<Class, Vec<Listed<'l>>> {
    let mut all: BTreeMap<Class, Vec<Listed<'l>>> = BTreeMap::new();
    for one in listed {
        all.entry(class_of(one)).or_default().push(*one);
    }
    all
}

fn class_of(one: &Listed<'_>) -> Class {
    let yard = match &one.state.at {
        Where::Yard(yard) => yard.to_string(),
        _ => one.freeze.yard.clone(),
    };
    Class {
        stone: one.line.stone.clone(),
        finish: one.line.finish.clone(),
        thickness: one.line.thickness.clone(),
        quality: one.quality().unwrap_or_default().to_owned(),
        yard,
    }
}
