//! By what a charge is shared: its own key, or by area or what it is charged on as the yard has it.

use crate::bill::ChargedOn;
use crate::trade::{ChargeRow, DutyRate, DutyRow, DutyUnit, Key, Per, Rate, WhatOf, Yard};

/// What a row's charges are on by law, where its key is not chosen otherwise.
pub(super) fn charged_on(row: &ChargeRow) -> Option<ChargedOn> {
    let is_open = row.key.is_none_or(|key| key == Key::Base);
    match &row.rate.value {
        Rate::Percent(_, of) | Rate::Each { of, .. } if is_open => match of {
            WhatOf::Goods => Some(ChargedOn::Goods),
            WhatOf::InsuredValue => Some(ChargedOn::Insured),
            WhatOf::EnteredValue | WhatOf::TaxedValue => Some(ChargedOn::Entered),
            WhatOf::Leg(_)
            | WhatOf::SingleBond
            | WhatOf::ContinuousBond
            | WhatOf::Payments
            | WhatOf::Charge(_) => None,
        },
        _ => None,
    }
}

/// The key of a row: its own, by the slab by count, and by area or what it is charged on as the yard
/// has it.
pub(super) fn key_of(row: &ChargeRow, yard: &Yard) -> Key {
    let usual = match charged_on(row) {
        Some(_) if yard.by_base => Key::Base,
        _ => Key::Area,
    };
    if row.per == Some(Per::Slab) { Key::Count } else { row.key.unwrap_or(usual) }
}

/// The same for a duty: one by quantity goes by that quantity.
pub(super) fn key_of_duty(row: &DutyRow, yard: &Yard) -> (Key, Option<ChargedOn>) {
    let usual = if yard.by_base { Key::Base } else { Key::Area };
    let key = row.key.unwrap_or(usual);
    let is_open = row.key.is_none_or(|key| key == Key::Base);
    match row.rate.value {
        DutyRate::Percent(_) => (key, is_open.then_some(ChargedOn::Entered)),
        DutyRate::Specific(rate) => match (key, rate.unit) {
            (Key::Base, DutyUnit::Kg | DutyUnit::Tonne) => (Key::Mass, None),
            (Key::Base, DutyUnit::M2) => (Key::Area, None),
            _ => (key, None),
        },
    }
}
