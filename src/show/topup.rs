//! What else to take of a supplier's list, as a page.

use super::compare::footing;
use super::cost::WITH_FINANCE;
use super::page::{Block, Cell, Column, Page, Row, Rows, Table};
use crate::decide::{Aim, Choice, Comparison, PerArea, Purchase, Surface, Topped, Within};
use crate::quantity::{Mass, Units, count_of, grouped};
use crate::trade::{Bundle, Offered, Shipment, Take};

/// What the page is of.
pub struct TopupPage<'a> {
    /// The shipment with every bundle of its list.
    pub shipment: &'a Shipment,
    /// What the list says of each.
    pub offered: &'a [Offered],
    /// The list on the footing.
    pub comparison: &'a Comparison,
    /// What was asked.
    pub aim: Aim,
    /// What the choice kept to.
    pub within: &'a Within,
    /// What was chosen.
    pub topped: &'a Topped,
    /// The units of areas and masses.
    pub units: Units,
}

impl TopupPage<'_> {
    pub(super) fn bundles<'b>(&'b self, all: &[usize]) -> impl Iterator<Item = &'b Bundle> {
        all.iter().filter_map(|at| self.shipment.bundles.get(*at))
    }

    /// The names of some bundles.
    pub(super) fn names(&self, all: &[usize]) -> String {
        self.bundles(all).map(|bundle| bundle.id.as_str()).collect::<Vec<_>>().join(", ")
    }

    /// The blocks of a choice, each once.
    fn blocks(&self, choice: &Choice) -> String {
        let mut all: Vec<&str> =
            self.bundles(&choice.bundles).filter_map(|bundle| bundle.block.as_deref()).collect();
        all.dedup();
        all.join(", ")
    }

    /// The book-matched sets of a choice, each once.
    fn sets(&self, choice: &Choice) -> String {
        let own = choice.bundles.iter().filter_map(|at| self.offered.get(*at));
        let mut all: Vec<&str> =
            own.flat_map(|one| &one.sets).map(smol_str::SmolStr::as_str).collect();
        all.sort_unstable();
        all.dedup();
        all.join(", ")
    }

    /// Bundles that are taken, and that are left, for their set alone.
    fn by_their_sets(&self) -> (String, String) {
        let topped = self.topped;
        let before = topped.before.as_ref().map_or(&[][..], |before| &before.bundles[..]);
        let is_choice = |at: &usize| topped.choices.iter().any(|one| one.bundles.contains(at));
        let open = |at: &usize| self.offered.get(*at).is_some_and(|one| one.take == Take::Open);
        let of_sets = (0..self.offered.len()).filter(|at| open(at) && !is_choice(at));
        let (taken, left): (Vec<usize>, Vec<usize>) = of_sets.partition(|at| before.contains(at));
        (self.names(&taken), self.names(&left))
    }

    /// The mass of a choice, as limits are checked with.
    pub(super) fn mass(&self, choice: &Choice) -> Option<Mass> {
        let mut own = self.bundles(&choice.bundles);
        own.try_fold(Mass::ZERO, |sum, bundle| sum.plus(bundle.limit_mass).ok())
    }

    /// What a choice adds per area, exact.
    pub(super) fn per_area(choice: &Choice) -> Option<PerArea> {
        PerArea::of(&choice.more.into(), &choice.area)
    }

    /// What is chosen, in the order of the list.
    fn chosen(&self) -> Vec<usize> {
        let own = self.topped.choices.iter().filter(|one| one.is_chosen);
        own.flat_map(|one| one.bundles.iter().copied()).collect()
    }

    fn area(&self, area: &Surface) -> String {
        let figure = area.figure(self.units, 2).map_or_else(String::new, grouped);
        format!("{figure} {}", self.units.area())
    }

    /// A purchase in a line.
    fn purchase(&self, one: &Purchase) -> String {
        let boxes: Vec<String> =
            one.boxes.iter().map(|(kind, count)| format!("{count} x {kind}")).collect();
        let per =
            one.cost.per_area.figure(self.units).map_or_else(String::new, |per| per.to_string());
        let (area, unit) = (self.area(&one.area), self.units.area());
        format!(
            "{} in {}, {area}, {} with finance, {per} per {unit}",
            count_of(one.bundles.len(), "bundle"),
            boxes.join(" and "),
            one.cost.decision
        )
    }

    /// How sure it is that no choice is better.
    fn proof(&self) -> String {
        let what = match self.aim {
            Aim::Cost => "costs less per area",
            Aim::Area => "has more area",
        };
        match &self.topped.open {
            None => {
                format!("proven: no other choice {what}, by the same forwarder, haulier and packer")
            }
            Some(why) => {
                let bound = self.topped.bound.as_ref().and_then(|bound| bound.figure(self.units));
                let bound = bound.map_or_else(String::new, |bound| {
                    format!("; none comes below {bound} per {}", self.units.area())
                });
                format!("NOT PROVEN: {why}{bound}")
            }
        }
    }
}

/// The page of what else to take.
pub fn topup<'a>(page: &'a TopupPage<'a>) -> Page<'a> {
    let topped = page.topped;
    let boxes: Vec<String> =
        topped.boxes.iter().map(|(kind, count)| format!("{count} x {kind}")).collect();
    let mut facts = vec![("boxes".to_owned(), format!("at most {}", boxes.join(" and ")))];
    let before = topped.before.as_ref().map(|before| page.purchase(before));
    facts.push(("taken".to_owned(), before.unwrap_or_else(|| "nothing yet".to_owned())));
    facts.extend(topped.missing.clone().map(|missing| ("not enough".to_owned(), missing)));
    let chosen = match page.names(&page.chosen()) {
        none if none.is_empty() => "none: no open bundle makes it better".to_owned(),
        all => all,
    };
    facts.push(("take as well".to_owned(), chosen));
    facts.push(("then".to_owned(), page.purchase(&topped.best)));
    facts.extend(topped.apart.map(|apart| {
        let said = "with finance for the same bundles, those of new invoices in boxes of their own";
        ("bought apart".to_owned(), format!("{apart} {said}"))
    }));
    facts.extend(
        page.within.of_a_block.map(|most| {
            ("of one block".to_owned(), format!("at most {}", count_of(most, "bundle")))
        }),
    );
    facts.extend(
        page.within
            .budget
            .map(|budget| ("budget".to_owned(), format!("{budget} with finance, for all of it"))),
    );
    facts.push(("choice".to_owned(), page.proof()));
    facts.extend(footing(page.comparison, page.units));
    Page {
        blocks: vec![
            Block::Heading(format!("Top-up: {}", page.shipment.called())),
            Block::Facts(facts),
            Block::Table(table(page)),
            Block::Notes(notes(page)),
        ],
    }
}

fn table<'a>(page: &'a TopupPage<'a>) -> Table<'a> {
    let currency = page.comparison.currency;
    let row = move |choice: &'a Choice| -> Row<'a> {
        vec![
            Cell::text(page.names(&choice.bundles)),
            Cell::text(page.blocks(choice)),
            Cell::text(page.sets(choice)),
            Cell::maybe(page.mass(choice).map(|mass| mass.figure(page.units, 0))),
            Cell::maybe(choice.area.figure(page.units, 2)),
            Cell::money(choice.more),
            Cell::money(choice.goods),
            Cell::maybe(TopupPage::per_area(choice).and_then(|per| per.figure(page.units))),
            Cell::text(if choice.is_chosen { "yes" } else { "no" }),
        ]
    };
    let (area, mass) = (page.units.area(), page.units.mass());
    Table {
        title: format!("What each open bundle adds, in {currency} with finance"),
        columns: vec![
            Column::words("bundle"),
            Column::words("block"),
            Column::words("match"),
            Column::figures(mass),
            Column::figures(area),
            Column { in_sheet: Some(format!("adds {currency}")), ..Column::figures("adds") },
            Column { in_sheet: Some(format!("goods {currency}")), ..Column::figures("goods") },
            Column {
                in_sheet: Some(format!("adds {currency}/{area}")),
                ..Column::figures(format!("per {area}"))
            },
            Column::words("take"),
        ],
        rows: Rows::of(page.topped.choices.iter().map(row)),
        totals: None,
        is_main: true,
    }
}

fn notes(page: &TopupPage<'_>) -> Vec<String> {
    let mut notes = vec![format!(
        "A row shows goods, duty and fees. The box is not in it: you pay it either way. For a bundle taken it \
         is the total, less the total without it, in the same boxes. {} purchases were costed whole, their \
         loads planned.",
        grouped(page.topped.costed.into())
    )];
    notes.push(WITH_FINANCE.to_owned());
    let (taken, left) = page.by_their_sets();
    for (names, said) in
        [(taken, "taken with the others"), (left, "left with the one that is not taken")]
    {
        if !names.is_empty() {
            notes.push(format!("Of a book-matched set, and {said}: {names}."));
        }
    }
    if !page.chosen().is_empty() {
        notes.push(
            "No file is changed: mark what you take with keep in the column take, and `cost` and `load` count it."
                .to_owned(),
        );
    }
    notes
}
