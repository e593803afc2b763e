//! The verdict on a load, and its doubts, as every page words them.

use crate::fault::At;
use crate::load::{LowFigure, Lower, Unknown, Verdict};
use crate::quantity::{Units, grouped};
use crate::trade::{Counted, KeptProof, LoadWishes};

/// How many of a kind a headline names.
const NAMED: usize = 3;

/// A line of a headline.
type Fact = (String, String);

/// Whether a load holds; `named`: with what it breaks, where the page does not list it.
pub(super) fn fact(verdict: &Verdict, named: bool) -> Fact {
    ("verdict".to_owned(), if named { named_words(verdict) } else { words(verdict) })
}

/// The same in a sentence. Broken wishes are named wherever the load is.
pub(super) fn words(verdict: &Verdict) -> String {
    let breaks = verdict.told().len() - verdict.wishes.len();
    let wishes = wishes(verdict);
    match (breaks, wishes) {
        (0, None) if !verdict.stuck.is_empty() => {
            "keeps every known limit and every request, but bundles have no way in".to_owned()
        }
        (0, None) => "keeps every known limit and every request".to_owned(),
        (0, Some(wishes)) => {
            format!("keeps every known limit, but breaks wishes: {wishes}")
        }
        (1, _) => "NOT to be loaded so: it breaks the limit or request below".to_owned(),
        (many, _) => {
            format!("NOT to be loaded so: it breaks {} limits or requests", grouped(many.into()))
        }
    }
}

fn named_words(verdict: &Verdict) -> String {
    if verdict.holds() {
        return words(verdict);
    }
    let all = verdict.told();
    let more = all.len().saturating_sub(NAMED);
    let more =
        if more == 0 { String::new() } else { format!("; and {} more", grouped(more.into())) };
    let first: Vec<String> = all.into_iter().take(NAMED).collect();
    format!("NOT to be loaded so: {}{more}", first.join("; "))
}

fn wishes(verdict: &Verdict) -> Option<String> {
    let all = verdict.wishes.iter().map(|wish| format!("{} ({})", wish.what, wish.price));
    let all: Vec<String> = all.collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// What is in doubt: limits not known for some type, and readings below the estimate, which let more be
/// loaded.
pub(super) fn doubts(verdict: &Verdict, units: Units) -> Vec<Fact> {
    let mut all = Vec::new();
    if !verdict.unknown.is_empty() {
        let unknown: Vec<String> = verdict.unknown.iter().map(unknown).collect();
        all.push(("limits NOT KNOWN".to_owned(), unknown.join("; ")));
    }
    let is_bundle = |one: &&Lower| matches!(one.what, LowFigure::Bundle(_));
    let (bundles, boxes): (Vec<&Lower>, Vec<&Lower>) = verdict.lower.iter().partition(is_bundle);
    if !boxes.is_empty() {
        let boxes: Vec<String> = boxes.into_iter().map(|one| lower(one, units)).collect();
        all.push(("lighter than its type".to_owned(), boxes.join("; ")));
    }
    if !bundles.is_empty() {
        let named = bundles.iter().take(NAMED).map(|one| light(one, units));
        let more = bundles.len().saturating_sub(NAMED);
        let more =
            if more == 0 { String::new() } else { format!("; and {} more", grouped(more.into())) };
        let named = named.collect::<Vec<_>>().join("; ");
        all.push(("lighter than its slabs".to_owned(), format!("{named}{more}")));
    }
    all
}

/// A bundle that was weighed below its estimate.
fn light(one: &Lower, units: Units) -> String {
    let name = if let LowFigure::Bundle(id) = &one.what { id.as_str() } else { one.what.word() };
    format!(
        "bundle {name}: weighed {}, computed {}, so {} more is loaded",
        one.own.show(units),
        one.usual.show(units),
        one.gain().show(units)
    )
}

/// A limit that is known for other types alone.
pub(super) fn unknown(one: &Unknown) -> String {
    let known = one.known_for.join(", ");
    format!("{} for {}: known for {known} only", one.what, one.of)
}

/// A figure below that of the type.
pub(super) fn lower(one: &Lower, units: Units) -> String {
    format!(
        "box {}: {} {}, its type has {}, so {} more is loaded ({})",
        one.label,
        one.what.word(),
        one.own.show(units),
        one.usual.show(units),
        one.gain().show(units),
        one.place
    )
}

/// The shared stocks of a shipment that is planned alone, or whose load was planned with others and kept.
pub(super) fn stocks(load: &LoadWishes, kept: Option<&KeptProof>) -> Vec<Fact> {
    let others = match kept.map(|kept| &kept.with[..]) {
        None | Some([]) => "other shipments that draw on it were not checked".to_owned(),
        Some(with) => format!("planned with {} when the load was kept", with.join(", ")),
    };
    let line = |(name, holds): (&At<String>, Counted<'_>)| {
        let value = format!("all of \"{}\", {}: {others}", name.value, holds.words());
        ("shared stock".to_owned(), value)
    };
    load.stocks().map(line).collect()
}
