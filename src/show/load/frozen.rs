//! A load as the text of a `plan.toml`, so that it stays as it was agreed.

use std::fmt::Write;

use crate::charges::Choice;
use crate::choose::Costed;
use crate::fault::{is_unseen, plain};
use crate::load::{BoxSummary, Sure};
use crate::trade::Shipment;

/// The text of a plan file that gives back this very load, places included.
pub fn frozen(shipment: &Shipment, costed: &Costed, summaries: &[BoxSummary<'_>]) -> String {
    let plan = &costed.plan;
    let mut text = format!(
        "# The load of {} as planned: box charges {}, {}.\n\
         # Add number, seal, tare and dunnage as they become known; x from the front, y from the left.\n",
        plain(&shipment.name),
        plan.cost,
        costed.verdict.sure.word()
    );
    // A given load was not looked at again: what was proven of it before stays.
    let sure = match (&costed.verdict.sure, &shipment.kept) {
        (Sure::Given, kept) => kept.as_ref().map(|kept| (kept.sure, kept.cost)),
        (sure, _) => Some((sure.word(), plan.cost)),
    };
    if let Some((sure, cost)) = sure {
        let cost = format!("{} {}", cost.amount(), cost.currency().code());
        // Writing into a `String` cannot fail.
        let _ = write!(text, "\n[kept]\nproof = {}\ncost = {}\n", quoted(sure), quoted(&cost));
    }
    for one in summaries {
        // Writing into a `String` cannot fail.
        let _ = container(one, &costed.choice, &mut text);
    }
    text
}

fn container(one: &BoxSummary<'_>, choice: &Choice, text: &mut String) -> std::fmt::Result {
    writeln!(text, "\n[[container]]")?;
    writeln!(text, "container = {}", quoted(&one.filled.label))?;
    writeln!(text, "type = {}", quoted(&one.variant.container.id))?;
    if let Some(class) = &one.variant.class {
        writeln!(text, "class = {}", quoted(class))?;
    }
    let own = one.variant.offers.iter().filter(|(table, _)| choice.mixes(*table));
    let own: Vec<String> =
        own.map(|(table, offer)| format!("{} = {}", table.word(), quoted(offer))).collect();
    if !own.is_empty() {
        writeln!(text, "offers = {{ {} }}", own.join(", "))?;
    }
    if let Some(number) = &one.filled.number {
        writeln!(text, "number = {}", quoted(&number.to_string()))?;
    }
    if let Some(seal) = &one.filled.seal {
        writeln!(text, "seal = {}", quoted(seal))?;
    }
    for (key, mass) in [("tare", one.filled.tare), ("dunnage", one.filled.dunnage)] {
        if let Some(mass) = mass {
            writeln!(text, "{key} = \"{} kg\"", mass.to_kg(3).normalize())?;
        }
    }
    let names: Vec<String> =
        one.standing.iter().map(|standing| quoted(&standing.bundle.id)).collect();
    writeln!(text, "bundles = [{}]", names.join(", "))?;
    for standing in &one.standing {
        let Some((x, y)) = standing.at else { continue };
        writeln!(text, "[[container.place]]")?;
        writeln!(text, "bundle = {}", quoted(&standing.bundle.id))?;
        writeln!(text, "x = \"{x} mm\"\ny = \"{y} mm\"")?;
        if standing.turned {
            writeln!(text, "stands = \"across\"")?;
        }
    }
    Ok(())
}

/// A text as TOML writes it, with what is not seen as an escape.
fn quoted(text: &str) -> String {
    if !text.contains(is_unseen) {
        return toml::Value::String(text.to_owned()).to_string();
    }
    let escaped = |c: char| match c {
        '"' | '\\' => format!("\\{c}"),
        c if is_unseen(c) => format!("\\U{:08X}", u32::from(c)),
        c => c.to_string(),
    };
    format!("\"{}\"", text.chars().map(escaped).collect::<String>())
}
