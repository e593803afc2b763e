//! Whether a load holds, for scripts: the same fields wherever a load is.

use serde::Serialize;

use super::parts::{SourceJson, plain, source_json};
use crate::load::{BrokenWish, LowFigure, Lower, Unknown, Verdict};
use crate::trade::LoadWishes;

#[derive(Serialize)]
pub(super) struct VerdictJson<'a> {
    /// `holds`, or `broken`: a limit, or a rule of the shipment.
    verdict: &'static str,
    /// What it breaks, in sentences: limits, rules, and priced wishes, with which it may hold.
    broken: Vec<String>,
    wishes_broken: Vec<WishJson<'a>>,
    /// How sure it is that no load costs less, and what keeps it from more.
    proof: &'static str,
    proof_note: Option<String>,
    /// Limits known for another container type, but not for one that may be chosen.
    limits_unknown: Vec<UnknownJson<'a>>,
    /// Tares and dunnage below the type's, and bundles weighed below their slabs.
    read_lower: Vec<LowerJson<'a>>,
    /// Stocks that others may draw on, too.
    shared_stocks: Vec<&'a str>,
}

#[derive(Serialize)]
struct WishJson<'a> {
    what: &'a str,
    price: String,
    source: SourceJson<'a>,
}

#[derive(Serialize)]
struct UnknownJson<'a> {
    what: &'a str,
    of: &'a str,
    known_for: &'a [String],
    source: SourceJson<'a>,
}

#[derive(Serialize)]
struct LowerJson<'a> {
    container: &'a str,
    /// `tare`, `dunnage` or `bundle`.
    what: &'static str,
    bundle: Option<&'a str>,
    own_kg: String,
    usual_kg: String,
    source: SourceJson<'a>,
}

/// The verdict on a shipment's load.
pub(super) fn verdict_json<'a>(load: &'a LoadWishes, verdict: &'a Verdict) -> VerdictJson<'a> {
    VerdictJson {
        verdict: if verdict.holds() { "holds" } else { "broken" },
        broken: verdict.broken(),
        wishes_broken: verdict.wishes.iter().map(wish).collect(),
        proof: verdict.sure.word(),
        proof_note: verdict.sure.why(),
        limits_unknown: verdict.unknown.iter().map(unknown).collect(),
        read_lower: verdict.lower.iter().map(lower).collect(),
        shared_stocks: load.stocks().map(|(name, _)| name.value.as_str()).collect(),
    }
}

fn wish(one: &BrokenWish) -> WishJson<'_> {
    WishJson { what: &one.what, price: plain(one.price), source: source_json(&one.place) }
}

fn unknown(one: &Unknown) -> UnknownJson<'_> {
    UnknownJson {
        what: &one.what,
        of: &one.of,
        known_for: &one.known_for,
        source: source_json(&one.place),
    }
}

fn lower(one: &Lower) -> LowerJson<'_> {
    LowerJson {
        container: &one.label,
        what: one.what.word(),
        bundle: match &one.what {
            LowFigure::Bundle(id) => Some(id),
            LowFigure::Tare | LowFigure::Dunnage => None,
        },
        own_kg: one.own.to_kg(1).to_string(),
        usual_kg: one.usual.to_kg(1).to_string(),
        source: source_json(&one.place),
    }
}
