//! A load as the text of a `plan.toml`, so that it stays as it was agreed.

use std::fmt::Write;

use super::Load;
use crate::fault::{is_unseen, plain};
use crate::load::{BoxSummary, Sure};
use crate::quantity::Mass;

/// The text of a plan file that gives back this very load, places included. `with` are the shipments that it
/// shared boxes with when it was planned.
pub fn frozen(load: Load<'_>, with: &[&str]) -> String {
    let Load { shipment, costed, summaries } = load;
    let plan = &costed.plan;
    let mut text = format!(
        "# The load of {} as planned: box charges {}, {}.\n\
         # Add number, seal, tare and dunnage as they become known; x from the front, y from the left.\n",
        plain(&shipment.name),
        plan.cost,
        costed.verdict.sure.word()
    );
    // A given load was not looked at again: what was proven of it before stays.
    let kept = match (&costed.verdict.sure, &shipment.kept) {
        (Sure::Given, kept) => kept
            .as_ref()
            .map(|kept| (kept.sure, kept.cost, kept.with.iter().map(String::as_str).collect())),
        (sure, _) => Some((sure.word(), plan.cost, with.to_vec())),
    };
    if let Some((sure, cost, with)) = kept {
        let cost = cost.written();
        // Writing into a `String` cannot fail.
        let _ = write!(text, "\n[kept]\nproof = {}\ncost = {}\n", quoted(sure), quoted(&cost));
        if let Some(way) = &shipment.way {
            let _ = writeln!(text, "way = {}", quoted(way));
        }
        if !with.is_empty() {
            let _ = writeln!(text, "with = [{}]", all_quoted(with));
        }
    }
    let own = |one: &BoxSummary<'_>| -> Vec<(&'static str, String)> {
        let own = one.variant.offers.iter().filter(|(table, _)| costed.choice.mixes(*table));
        own.map(|(table, offer)| (table.word(), offer.to_owned())).collect()
    };
    let boxes = summaries.iter().map(|one| Kept {
        label: &one.filled.label,
        kind: &one.variant.container.id,
        class: one.variant.class.as_deref(),
        offers: own(one),
        number: one.filled.number.as_ref().map(ToString::to_string),
        seal: one.filled.seal.as_deref(),
        weighed: [("tare", one.filled.tare), ("dunnage", one.filled.dunnage)],
        bundles: one
            .standing
            .iter()
            .map(|standing| (standing.bundle.id.as_str(), standing.at, standing.turned))
            .collect(),
    });
    text + &plan_text(boxes)
}

/// A bundle's name, its place where it is known, and whether it stands across.
type KeptBundle<'a> = (&'a str, Option<(i64, i64)>, bool);

/// A container as a plan keeps it.
pub(in crate::show) struct Kept<'a> {
    pub(in crate::show) label: &'a str,
    pub(in crate::show) kind: &'a str,
    pub(in crate::show) class: Option<&'a str>,
    /// The offers it goes by, each with the word of its table.
    pub(in crate::show) offers: Vec<(&'static str, String)>,
    pub(in crate::show) number: Option<String>,
    pub(in crate::show) seal: Option<&'a str>,
    /// What was weighed of it, by its key.
    pub(in crate::show) weighed: [(&'static str, Option<Mass>); 2],
    /// Its bundles in loading order.
    pub(in crate::show) bundles: Vec<KeptBundle<'a>>,
}

/// The containers of a plan, as its file has them.
pub(in crate::show) fn plan_text<'a>(boxes: impl Iterator<Item = Kept<'a>>) -> String {
    let mut text = String::new();
    for one in boxes {
        // Writing into a `String` cannot fail.
        let _ = container(&one, &mut text);
    }
    text
}

fn container(one: &Kept<'_>, text: &mut String) -> std::fmt::Result {
    writeln!(text, "\n[[container]]")?;
    writeln!(text, "container = {}", quoted(one.label))?;
    writeln!(text, "type = {}", quoted(one.kind))?;
    if let Some(class) = one.class {
        writeln!(text, "class = {}", quoted(class))?;
    }
    let own = one.offers.iter().map(|(table, offer)| format!("{table} = {}", quoted(offer)));
    let own: Vec<String> = own.collect();
    if !own.is_empty() {
        writeln!(text, "offers = {{ {} }}", own.join(", "))?;
    }
    if let Some(number) = &one.number {
        writeln!(text, "number = {}", quoted(number))?;
    }
    if let Some(seal) = one.seal {
        writeln!(text, "seal = {}", quoted(seal))?;
    }
    for (key, mass) in one.weighed {
        if let Some(mass) = mass {
            writeln!(text, "{key} = \"{} kg\"", mass.to_kg(3).normalize())?;
        }
    }
    writeln!(text, "bundles = [{}]", all_quoted(one.bundles.iter().map(|(name, ..)| *name)))?;
    for (name, at, turned) in &one.bundles {
        let Some((x, y)) = at else { continue };
        writeln!(text, "[[container.place]]")?;
        writeln!(text, "bundle = {}", quoted(name))?;
        writeln!(text, "x = \"{x} mm\"\ny = \"{y} mm\"")?;
        if *turned {
            writeln!(text, "stands = \"across\"")?;
        }
    }
    Ok(())
}

/// The texts of a list.
fn all_quoted<'a>(texts: impl IntoIterator<Item = &'a str>) -> String {
    texts.into_iter().map(quoted).collect::<Vec<_>>().join(", ")
}

/// A text as TOML writes it, with what is not seen as an escape.
pub(in crate::show) fn quoted(text: &str) -> String {
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
