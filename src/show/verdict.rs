//! What every page that shows a load says of it: whether it holds, and what is in doubt.

use crate::choose::Costed;
use crate::fault::At;
use crate::load::{Lower, Proof, Unknown, Verdict};
use crate::quantity::Units;
use crate::trade::{Counted, LoadWishes};

/// How many broken limits a headline names.
const NAMED: usize = 3;

/// A line of a headline.
type Fact = (String, String);

/// Whether a load holds; `named`: with what it breaks, where the page does not list it.
pub(super) fn fact(verdict: &Verdict, named: bool) -> Fact {
    ("verdict".to_owned(), if named { named_words(verdict) } else { words(verdict) })
}

/// The same in a sentence. Broken wishes are named wherever the load is.
pub(super) fn words(verdict: &Verdict) -> String {
    let breaks = verdict.broken().len() - verdict.wishes.len();
    let wishes = wishes(verdict);
    match (breaks, wishes) {
        (0, None) => "keeps every limit that is known and all that is asked".to_owned(),
        (0, Some(wishes)) => {
            format!("keeps every limit that is known, and breaks wishes: {wishes}")
        }
        (1, _) => "NOT to be loaded so: it breaks what is said here".to_owned(),
        (many, _) => format!("NOT to be loaded so: it breaks {many} things"),
    }
}

fn named_words(verdict: &Verdict) -> String {
    if verdict.holds() {
        return words(verdict);
    }
    let all = verdict.broken();
    let more = all.len().saturating_sub(NAMED);
    let more = if more == 0 { String::new() } else { format!("; and {more} more") };
    let first: Vec<String> = all.into_iter().take(NAMED).collect();
    format!("NOT to be loaded so: {}{more}", first.join("; "))
}

fn wishes(verdict: &Verdict) -> Option<String> {
    let all = verdict.wishes.iter().map(|wish| format!("{} ({})", wish.what, wish.price));
    let all: Vec<String> = all.collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// What is in doubt: limits that are not known for a type that may be chosen, and figures read at a
/// box that let more be loaded.
pub(super) fn doubts(verdict: &Verdict, units: Units) -> Vec<Fact> {
    let mut all = Vec::new();
    if !verdict.unknown.is_empty() {
        let unknown: Vec<String> = verdict.unknown.iter().map(unknown).collect();
        all.push(("limits NOT KNOWN".to_owned(), unknown.join("; ")));
    }
    if !verdict.lower.is_empty() {
        let lower: Vec<String> = verdict.lower.iter().map(|one| lower(one, units)).collect();
        all.push(("read below its type".to_owned(), lower.join("; ")));
    }
    all
}

/// A limit that is known for other types alone.
pub(super) fn unknown(one: &Unknown) -> String {
    let known = one.known_for.join(", ");
    format!("{} for {}: known for {known} alone ({})", one.what, one.of, one.place)
}

/// A figure below that of the type.
pub(super) fn lower(one: &Lower, units: Units) -> String {
    format!(
        "box {}: {} {} where its type has {}, so {} more is loaded ({})",
        one.label,
        one.what,
        one.own.show(units),
        one.usual.show(units),
        one.gain().show(units),
        one.place
    )
}

/// What a shipment that is looked at by itself says of the stocks it shares.
pub(super) fn stocks(load: &LoadWishes) -> Vec<Fact> {
    let line = |(name, holds): (&At<String>, Counted<'_>)| {
        let value = format!(
            "all of \"{}\", {}: who else draws on it was not looked at ({})",
            name.value,
            holds.words(),
            name.place
        );
        ("shared stock".to_owned(), value)
    };
    load.stocks().map(line).collect()
}

/// How sure it is that no cheaper load exists, in a word; no more than the limits allow that are known.
pub(super) fn proof(costed: &Costed) -> String {
    let word = costed.plan.proof.word();
    if costed.plan.proof == Proof::Proven && !costed.verdict.unknown.is_empty() {
        format!("{word} by the limits that are known")
    } else {
        word.to_owned()
    }
}
