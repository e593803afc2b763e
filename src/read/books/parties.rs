//! Parties that bill, credit or owe something or leave slabs with us, held against each other by their names.
//!
//! Decided on 2026-11-27. No table lists parties, and a new one may truly have nearly the name of another: so a name
//! that looks misspelt is a warning with both places, and no fault. Names that differ in a digit are of two. The
//! estimate says who bills each of its charges, so another party that bills one is told. A charge that was never
//! estimated, a claim and a consigned slab bring new parties as a rule: they are not told.

use rustc_hash::FxHashMap;

use crate::fault::{Code, Fault, Place, Report};
use crate::trade::{Answer, BillLine, Billed, BookEvent, BookKind, Freeze};

/// Names are nearly the same that differ by so many letters.
const SLIPS: usize = 2;

/// The parties that an estimate is billed by, each with its place.
pub(super) fn payees(freeze: &Freeze) -> impl Iterator<Item = (&str, &Place)> {
    freeze.charges.iter().map(|charge| (charge.payee.as_str(), &charge.place))
}

/// The parties that events bring which are asked about, or those of others, each with its event, by position, and its
/// place.
pub(super) fn opened(
    events: &[BookEvent],
    asked: bool,
) -> impl Iterator<Item = (usize, (&str, &Place))> {
    let is_so = move |event: &BookEvent| brings(event) && event.is_asked() == asked;
    let events = events.iter().enumerate().filter(move |(_, event)| is_so(event));
    events.filter_map(|(at, event)| Some((at, (event.party.as_deref()?, &event.place))))
}

/// Warns of a party that an event brings, where a known one has nearly its name, or where it is new and bills what was
/// estimated. Both are in the order of the books.
pub(super) fn parties<'b>(
    payees: impl Iterator<Item = (&'b str, &'b Place)>,
    opened: impl Iterator<Item = (&'b str, &'b Place, (bool, Answer))>,
    report: &mut Report,
) {
    let mut known: FxHashMap<&str, &Place> = FxHashMap::default();
    for (payee, place) in payees {
        known.entry(payee).or_insert(place);
    }
    for (party, place, (bills_estimate, answer)) in opened {
        if known.contains_key(party) {
            continue;
        }
        let alike = known.iter().filter(|(name, _)| is_slip(name, party));
        if let Some((name, first)) = alike.min_by_key(|(name, _)| **name) {
            let message = format!("\"{party}\" is a party of its own, and \"{name}\" is known");
            report.add(
                Fault::warning(Code::UnknownReference, message)
                    .at(place, "on a paper of this event")
                    .also(first, "known from here")
                    .help(format!("if they are one, write party = \"{name}\""))
                    .help(answer.to_string()),
            );
        } else if bills_estimate {
            let message =
                format!("\"{party}\" is a new party: no estimate and no event before named it");
            report.add(
                Fault::warning(Code::Notice, message)
                    .at(place, "it bills what was estimated of another")
                    .help("if it is called otherwise elsewhere, write that name")
                    .help(answer.to_string()),
            );
        }
        known.insert(party, place);
    }
}

/// Whether an event bills a charge of an estimate.
pub(super) fn bills_estimate(event: &BookEvent) -> bool {
    let is_estimated = |line: &BillLine| !matches!(line.of, Billed::New { .. });
    matches!(&event.what, BookKind::Billed { lines, .. } if lines.iter().any(is_estimated))
}

/// Whether an event opens an account of its party, or lists slabs of it.
fn brings(event: &BookEvent) -> bool {
    matches!(
        event.what,
        BookKind::Billed { .. }
            | BookKind::Credit { .. }
            | BookKind::DutyChanged { .. }
            | BookKind::Claim { .. }
            | BookKind::ReturnOut { .. }
            | BookKind::ConsignIn { .. }
    )
}

/// Whether one name is the other with a slip of a letter or two.
fn is_slip(one: &str, other: &str) -> bool {
    let digits = |text: &str| text.chars().filter(char::is_ascii_digit).collect::<String>();
    let (one, other) = (one.to_lowercase(), other.to_lowercase());
    let distance = strsim::damerau_levenshtein(&one, &other);
    let longest = one.chars().count().max(other.chars().count());
    distance <= SLIPS && distance * 4 <= longest && digits(&one) == digits(&other)
}
