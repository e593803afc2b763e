//! What holds the cargo of a box on its way, and the timber for it.

use super::super::page::{Block, Cell, Column, Row, Rows, Table};
use crate::load::{BoxSummary, Force, Held, Timber, Tipping};
use crate::quantity::{Units, count_of};
use crate::trade::Push;

/// The blocks of one box; none where nothing is known to hold it against.
pub(super) fn blocks<'a>(one: &'a BoxSummary<'a>, units: Units) -> Vec<Block<'a>> {
    let Some(held) = &one.held else { return Vec::new() };
    let unjudged: Vec<_> = not_judged(held).map(|words| ("NOT JUDGED".to_owned(), words)).collect();
    let mut blocks = Vec::new();
    if !unjudged.is_empty() {
        blocks.push(Block::Facts(unjudged));
    }
    if !held.pushes.is_empty() {
        let (label, friction) = (&one.filled.label, held.friction);
        let title = format!("Container {label} held fast, with friction {friction}: forces in kN");
        blocks.push(Block::Table(Table { title, ..pushes(held) }));
        blocks.push(Block::Facts(facts(one, held, units)));
    }
    blocks
}

/// What is not judged, as no set serves it, a sentence each.
pub(in crate::show) fn not_judged(held: &Held) -> impl Iterator<Item = String> {
    let unnamed = held.not_judged.iter();
    unnamed.map(|what| format!("held fast: {what}: no set of securing.toml names it; not judged"))
}

/// What is not held, box by box: said before all else.
pub(super) fn not_held(summaries: &[BoxSummary<'_>]) -> Vec<(String, String)> {
    let all = summaries.iter().flat_map(|one| {
        let own = one.held.iter().flat_map(Held::unheld);
        own.map(|push| {
            ("NOT HELD FAST".to_owned(), format!("box {}: {}", one.filled.label, push.not_held()))
        })
    });
    all.collect()
}

/// What the page says of everything that is held fast; none where nothing is judged.
pub(super) fn note(summaries: &[BoxSummary<'_>], units: Units) -> Option<String> {
    let ([thick, high], density) = Timber::assumed();
    let [thick, high] = [thick, high].map(|side| side.figure(units));
    summaries.iter().any(|one| one.held.is_some()).then(|| {
        format!(
            "Held fast is worked out, not approved: pushes and friction by rates/securing.toml, walls by the CTU \
             Code, struts as battens of {thick} x {high} {} that weigh {density} kg/m3 (common practice). A wall \
             holds its share only through spreaders as large as the bundles that look at it. The door end has a \
             gate that stands when both leaves are open; its last brace is set after the first leaf is shut.",
            units.side()
        )
    })
}

fn kn(force: &Force) -> String {
    format!("{} kN", force.kn())
}

/// Narrow enough for a telephone: what pushes, and the struts, are said below.
fn pushes(held: &Held) -> Table<'_> {
    let rows = held.pushes.iter().map(|one| -> Row<'_> {
        vec![
            Cell::text(one.against.word()),
            Cell::Figure(one.force.kn()),
            Cell::Figure(one.wall.kn()),
            Cell::Figure(one.left.kn()),
        ]
    });
    Table {
        title: String::new(),
        columns: vec![
            Column::words("against"),
            Column::figures("to hold"),
            Column::figures("the wall"),
            Column::figures("left"),
        ],
        rows: Rows::of(rows),
        totals: None,
        is_main: false,
    }
}

fn facts(one: &BoxSummary<'_>, held: &Held, units: Units) -> Vec<(String, String)> {
    let fact = |label: &str, value: String| (label.to_owned(), value);
    let mut facts: Vec<_> = held
        .pushes
        .iter()
        .map(|one| {
            let Push { push, weight, .. } = one.push;
            let struts = one.timber.as_ref().map(|own| format!("; struts: {}", struts(own, units)));
            let struts = struts.unwrap_or_default();
            let words =
                format!("{}: {push} of the weight, {weight} left on the floor{struts}", one.set);
            fact(one.against.word(), words)
        })
        .collect();
    if let Some([left, right]) = held.pushes.iter().find_map(|one| one.gaps) {
        let gap = if left == right {
            format!("gap of {} to each side wall", left.show(units))
        } else {
            format!(
                "gap of {} to the left wall and {} to the right",
                left.show(units),
                right.show(units)
            )
        };
        let words =
            format!("they must reach from the bundles to the wall; {gap}: fill it, or strut");
        facts.push(fact("spreaders", words));
    }
    let tipping: Vec<_> =
        held.tipping.iter().map(|body| fact("tips unbraced", tips(one, body, units))).collect();
    if tipping.is_empty() {
        facts.push(fact("tips unbraced", "nothing, tied side by side as it stands".to_owned()));
    }
    facts.extend(tipping);
    if let Some(own) = held.lashings {
        let words = format!(
            "in the worst direction {} over the top, upright, each with a pretension of {} kN and a factor of \
             {}; or {} direct at 45 degrees, from points of {} kN: not instead of timber",
            count_of(usize::try_from(own.over_the_top).unwrap_or(usize::MAX), "lashing"),
            own.tension,
            own.factor,
            own.direct,
            own.point
        );
        facts.push(fact("lashings alone", words));
    }
    let mass = held.timber_mass().show(units);
    let counted = if one.filled.timber.is_some() { ", counted as its dunnage" } else { "" };
    let words = format!("{mass} by this list{counted}; [ ] all marked under ISPM 15, dunnage too");
    facts.push(fact("timber", words));
    facts
}

/// How many battens of which sides.
fn struts(own: &Timber, units: Units) -> String {
    let [thick, high, long] = own.sides.map(|side| side.figure(units));
    format!("{} of {thick} x {high} x {long} {}", own.count, units.side())
}

/// A body that tips, and what its braces hold.
fn tips(one: &BoxSummary<'_>, body: &Tipping, units: Units) -> String {
    let names = body.bundles.iter().filter_map(|at| one.standing.get(*at));
    let names: Vec<&str> = names.map(|standing| standing.bundle.id.as_str()).collect();
    let forces = [
        ("sideways", &body.sideways, &body.sideways_timber),
        ("lengthwise", &body.lengthwise, &body.lengthwise_timber),
    ];
    let forces = forces.into_iter().filter_map(|(way, force, timber)| {
        Some(format!("{} {way}, {}", kn(force), struts(timber.as_ref()?, units)))
    });
    let forces: Vec<String> = forces.collect();
    let tied = if names.len() > 1 { " tied" } else { "" };
    let (names, forces) = (names.join(", "), forces.join(" and "));
    format!("{names}{tied}: braces at {} hold {forces}", body.brace.show(units))
}
