//! The base of a charge in law, and its key in the books: its own, or area or base as the yard has it.

use crate::bill::{Charge, ChargedOn};
use crate::trade::{ChargeRow, DutyRate, DutyRow, DutyUnit, Key, Per, WhatOf, Yard};

/// The base of a row's charges. A percentage of a charge goes by that charge.
pub(super) fn charged_on(row: &ChargeRow, charges: &[Charge]) -> ChargedOn {
    match (row.rate.value.of(), row.per) {
        (Some(WhatOf::Goods), _) => ChargedOn::Goods,
        (Some(WhatOf::InsuredValue), _) => ChargedOn::Insured,
        (Some(WhatOf::EnteredValue | WhatOf::TaxedValue), _) => ChargedOn::Entered,
        (Some(WhatOf::SingleBond | WhatOf::ContinuousBond | WhatOf::Payments), _) => {
            ChargedOn::Worth
        }
        (Some(WhatOf::Charge(name)), _) => {
            let of = charges.iter().find(|charge| charge.name == *name);
            let on = of.map_or(ChargedOn::Mass, |charge| charge.charged_on);
            if on.is_of_slabs() { ChargedOn::Worth } else { on }
        }
        (None, Per::M2) => ChargedOn::Area,
        (None, Per::Slab) => ChargedOn::Count,
        (Some(WhatOf::Leg(_)) | None, _) => ChargedOn::Mass,
    }
}

/// The key of a row: its own; count where it is by the slab; else area or the base of the charge, as
/// the yard has it.
pub(super) fn key_of(row: &ChargeRow, on: ChargedOn, yard: &Yard) -> Key {
    let usual = if on.is_of_slabs() && yard.by_base { Key::Base } else { Key::Area };
    if row.per == Per::Slab { Key::Count } else { row.key.unwrap_or(usual) }
}

/// The same for a duty: one by quantity goes by that quantity.
pub(super) fn key_of_duty(row: &DutyRow, yard: &Yard) -> (Key, ChargedOn) {
    let usual = if yard.by_base { Key::Base } else { Key::Area };
    let (on, base) = match row.rate.value {
        DutyRate::Percent(_) => (ChargedOn::Entered, Key::Base),
        DutyRate::Specific(rate) if rate.unit == DutyUnit::M2 => (ChargedOn::Area, Key::Area),
        DutyRate::Specific(_) => (ChargedOn::Mass, Key::Mass),
    };
    let key = row.key.unwrap_or(usual);
    (if key == Key::Base { base } else { key }, on)
}
