//! What a shipment's policies may change: the key, the scope, and between stock and period.
//!
//! Books change no choice: a policy moves a charge from stock to the period or back, both of which a
//! decision counts. It takes no part of the price out of the goods' cost (IAS 2, paragraph 11), and
//! makes no bill into nothing.

use crate::fault::{Code, Fault, Report, Reported};
use crate::price::may_apply;
use crate::trade::charge_name::{BASIS_ADJUSTMENT, DISCOUNT, GOODS, ROUNDING};
use crate::trade::{Key, Per, PolicyRule, Shipment, Tariffs, Treatment};

/// Sees that every policy is allowed.
pub(crate) fn check_policies(
    shipment: &Shipment,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(), Reported> {
    let rules = shipment.policy.iter();
    let faults = rules.flat_map(|rule| [of_the_goods(rule), of_a_row(rule, shipment, tariffs)]);
    faults.flatten().map(|fault| report.error(fault)).last().map_or(Ok(()), Err)
}

/// A policy on the price of the goods.
fn of_the_goods(rule: &PolicyRule) -> Option<Fault> {
    let name = rule.charge.value.as_str();
    let (message, help) = match name {
        GOODS | BASIS_ADJUSTMENT => (
            "no policy moves the price of goods: each slab bears its own, as stock".to_owned(),
            "remove the policy; `price` and `measure` of a line say what its slabs cost",
        ),
        DISCOUNT | ROUNDING if rule.treatment == Some(Treatment::Period) => (
            format!("a {name} is part of the price of the goods, and so is stock"),
            "remove `treatment` from the policy",
        ),
        _ => return None,
    };
    Some(
        Fault::error(Code::Contradiction, message)
            .at(&rule.charge.place, format!("a policy for the {name}"))
            .help(help),
    )
}

/// A policy that no row could state itself, or that changes more than the books.
fn of_a_row(rule: &PolicyRule, shipment: &Shipment, tariffs: &Tariffs) -> Option<Fault> {
    let name = &rule.charge.value;
    let own = tariffs.charges.iter().filter(|row| row.name == *name);
    let mut own = own.filter(|row| may_apply(shipment, row));
    let is_moved = rule.treatment.is_some();
    let is_keyed = rule.key.is_some_and(|key| key != Key::Count);
    own.find_map(|row| {
        let moves = matches!(row.treatment, Treatment::Stock | Treatment::Period);
        let (message, label, help) = if is_moved && !moves {
            let word = row.treatment.word();
            (
                format!("\"{name}\" is {word}: a policy moves only stock and period charges"),
                format!("treatment = \"{word}\""),
                "remove `treatment` from the policy, or correct it in the row",
            )
        } else if is_keyed && row.per == Per::Slab {
            (
                format!("\"{name}\": a charge per slab is the same on every slab"),
                "per = \"slab\"".to_owned(),
                "remove `key` from the policy, or charge it per shipment",
            )
        } else {
            return None;
        };
        Some(
            Fault::error(Code::Contradiction, message)
                .at(&rule.charge.place, "this policy")
                .also(&row.place, label)
                .help(help),
        )
    })
}
