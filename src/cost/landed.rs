//! The landed cost: every charge spread over its slabs, to the cent.

use std::collections::BTreeSet;
use std::fmt::Write;

use super::attributed::{Shift, by_area, shift};
use super::boxes::{Desk, bills};
use super::goods::{self, Goods};
use super::groups::{Groups, LEG_GROUPS, group_of};
use super::job::Job;
use super::payments::Paid;
use super::rows::{Builder, OfEntry};
use crate::bill::{Charge, Sets};
use crate::customs::Entry;
use crate::fault::{Code, Fault, Place, Report};
use crate::load::FilledBox;
use crate::price::{
    Order, Quantity, charged, chosen_by, importer_bears, may_fit, must_have_row, order, purposes,
    told, told_all,
};
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Money, ratio};
use crate::spread::{Shares, Spreader};
use crate::trade::{
    Basis, Bearer, ChargeRow, Date, ExemptIf, ImportTax, Leg, Matches, Rate, Shipment, TableName,
    Treatment, WhatOf,
};

/// What every slab of a shipment costs, and why.
#[derive(Debug)]
pub struct Landed {
    /// The book currency.
    pub currency: Currency,
    /// Every charge, in the order they were worked out.
    pub charges: Vec<Charge>,
    /// The sets of slabs that the charges refer to.
    pub sets: Sets,
    /// The customs entries, the seller's own among them.
    pub entries: Vec<Entry>,
    /// What entering everything at once would save.
    pub savings: Vec<Saving>,
    /// How each invoice is paid.
    pub(super) plans: Vec<Vec<Paid>>,
    /// The sum of the charges that are part of the slabs' cost.
    pub total: Money,
    /// The total with what is expensed and what is only weighed: what offers are compared by.
    pub decision: Money,
    /// The figures of the headline.
    pub headline: Headline,
    /// What a reader should know.
    pub notes: Vec<Note>,
    /// Which goods are free of a fee by their origin, and by what; which are not for want of a claim.
    pub claims: Vec<Note>,
    /// Every charge's shares.
    pub shares: Shares,
    /// What each slab bears of each group of legs.
    groups: Groups,
}

/// The figures a landed cost opens with.
#[derive(Debug)]
pub struct Headline {
    /// Billed area.
    pub area: Area,
    /// Mass of the bundles, timber included.
    pub mass: Mass,
    /// The total by how firm it is.
    pub by_basis: Vec<(Basis, Money)>,
    /// How much of the total is converted at a planning rate.
    pub planned: Money,
    /// The first rate to lapse: the day, the charge and where.
    pub first_lapse: Option<(Date, String, Place)>,
}

/// What a fee per entry would come to if everything were entered at once.
#[derive(Debug, Clone)]
pub struct Saving {
    /// The fee.
    pub name: String,
    /// How many entries bear it now.
    pub entries: usize,
    /// What they bear together.
    pub apart: Money,
    /// What one entry would bear.
    pub together: Money,
    /// The difference.
    pub saved: Money,
    /// Its row.
    pub place: Place,
}

/// Something a reader should know about a figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note(pub String);

/// Every charge of a job, not yet spread: enough to know what a choice of offers comes to.
pub(crate) struct Unspread {
    charges: Vec<Charge>,
    entries: Vec<Entry>,
    /// What is missing for memos of a seller's entries.
    missing: Vec<String>,
    savings: Vec<Saving>,
    plans: Vec<Vec<Paid>>,
    sets: Sets,
}

impl Unspread {
    /// The sum of what is stock, expensed and only weighed: what choices are compared by.
    pub(crate) fn decision(&self, currency: Currency) -> Option<Money> {
        sum(&self.charges, currency, &DECIDES)
    }
}

/// Where what a decision counts goes.
const DECIDES: [Treatment; 3] = [Treatment::Stock, Treatment::Period, Treatment::Notional];

fn sum(charges: &[Charge], currency: Currency, treatments: &[Treatment]) -> Option<Money> {
    let chosen = charges.iter().filter(|charge| treatments.contains(&charge.treatment));
    Money::total(currency, chosen.map(Charge::book)).ok()
}

/// Works out every charge of a job, and sees that no leg is without.
pub(crate) fn unspread(job: Job<'_>, sets: Sets, report: &mut Report) -> Option<Unspread> {
    let (unspread, served) = worked_out(job, sets, report)?;
    check_legs(&job, &served, report);
    (!report.has_errors()).then_some(unspread)
}

/// The charges of a job whose legs need not all have a row.
pub(crate) fn unchecked(job: Job<'_>, sets: Sets, report: &mut Report) -> Option<Vec<Charge>> {
    worked_out(job, sets, report).map(|(unspread, _)| unspread.charges)
}

/// What else is wrong with a job whose boxes cannot be had, and which therefore has none in its plan:
/// the faults of all that does not need them.
pub(crate) fn gather(job: Job<'_>, sets: Sets, report: &mut Report) {
    let _ = worked_out(job, sets, report);
}

/// Every charge of a job, and the legs for which there was a row.
fn worked_out(
    job: Job<'_>,
    mut sets: Sets,
    report: &mut Report,
) -> Option<(Unspread, BTreeSet<Leg>)> {
    let mut spreader = Spreader::new(job.shipment);
    let Some(goods) = goods::goods(&job, &mut sets, report) else {
        let purposes = purposes(job.shipment, job.tariffs, job.choice.each());
        let mut builder = Builder::new(job, &mut sets, &mut spreader, Goods::default());
        builder.gather(purposes, report);
        return None;
    };
    spreader.learn_goods(&goods.charges);
    let order = told(
        order(purposes(job.shipment, job.tariffs, job.choice.each()), job.shipment, job.tariffs),
        report,
    )?;
    let desk =
        Desk { shipment: job.shipment, tariffs: job.tariffs, choice: job.choice, order: &order };
    let bills = told_all(bills(desk, job.plan), report)?;
    let mut builder = Builder::new(job, &mut sets, &mut spreader, goods);
    builder.run(&order, &bills, report)?;
    let savings = savings(&job, &builder.by_entry);
    let Builder { charges, entries, missing, plans, served, .. } = builder;
    not_yet(&job, &order, report);
    Some((Unspread { charges, entries, missing, savings, plans, sets }, served))
}

/// Says which charges are left out, as their rows begin after the day that chooses them. No row that
/// serves the same things may be in force: then one has taken the place of another, or will.
fn not_yet(job: &Job<'_>, order: &Order<'_>, report: &mut Report) {
    let Job { shipment, plan, .. } = *job;
    let is_here = |row: &ChargeRow| {
        let of_kind = |filled: &FilledBox| {
            plan.variants.get(filled.variant).is_some_and(|variant| {
                let Matches { container, class, .. } = &row.matches;
                let own = container.as_ref().is_none_or(|id| *id == variant.container.id);
                own && class.as_ref().is_none_or(|one| variant.class.as_ref() == Some(one))
            })
        };
        let mut stones = shipment.lines.iter().map(|line| &line.stone.value);
        let stone = row.matches.stone.as_ref();
        (!row.is_by_kind() || plan.boxes.iter().any(of_kind))
            && stone.is_none_or(|own| stones.any(|stone| stone == own))
    };
    for purpose in &order.purposes {
        for row in purpose.rows.iter().filter(|row| is_here(row)) {
            let event = chosen_by(row.table, row.leg);
            let on = shipment.dates.of(event);
            let serves = |other: &&ChargeRow| {
                other.matches.fit(&row.matches)
                    && other.offer.as_ref().is_none_or(|offer| Some(offer) == row.offer.as_ref())
            };
            let mut others = purpose.rows.iter().copied().filter(serves);
            if row.valid.from <= on || others.any(|other| other.valid.from <= on) {
                continue;
            }
            let message = format!(
                "\"{}\" is not charged: its row begins after {on} ({})",
                row.name,
                event.word()
            );
            report.add(
                Fault::warning(Code::LapsedRate, message)
                    .at(&row.place, format!("in force {}", row.valid))
                    .help("add the row of that day; where there was no such charge, all is well"),
            );
        }
    }
}

/// Spreads a job's charges over its slabs.
pub(crate) fn landed(job: Job<'_>, unspread: Unspread, report: &mut Report) -> Option<Landed> {
    let shipment = job.shipment;
    let Unspread { charges, entries, missing, savings, plans, sets } = unspread;
    let currency = shipment.yard.currency;
    let shares = Shares::new((shipment, job.plan), &charges, &sets, report)?;
    let groups = groups(shipment, &charges, &sets, &shares)?;
    let Sums { total, decision, headline } = sums(shipment, &sets, &charges)?;
    check_policy(shipment, &charges, report);
    let claims = claims(&job, &entries);
    let mut notes = notes(&job, &charges, &entries, &savings);
    notes.extend(shared_by(&job, (&charges, &entries), &sets, &groups));
    notes
        .extend(missing.iter().map(|what| Note(format!("the seller's entry has no memo: {what}"))));
    Some(Landed {
        currency,
        charges,
        sets,
        entries,
        savings,
        plans,
        total,
        decision,
        headline,
        notes,
        claims,
        shares,
        groups,
    })
}

/// What each slab bears of each group of legs, of the charges that are part of its cost. `None` on
/// overflow.
fn groups(shipment: &Shipment, charges: &[Charge], sets: &Sets, shares: &Shares) -> Option<Groups> {
    let mut groups = LEG_GROUPS.map(|_| vec![0i64; shipment.slabs.len()]);
    for (at, charge) in charges.iter().enumerate() {
        if charge.treatment != Treatment::Stock {
            continue;
        }
        let group = groups.get_mut(group_of(charge.leg))?;
        for (slab, share) in sets.members(charge.scope.set).zip(shares.of(at)) {
            let sum = group.get_mut(slab)?;
            *sum = sum.checked_add(share.minor)?;
        }
    }
    Some(groups)
}

/// That charges on a value go by area, and what the other way would move, where that is much.
fn shared_by(
    job: &Job<'_>,
    (charges, entries): (&[Charge], &[Entry]),
    sets: &Sets,
    groups: &Groups,
) -> Option<Note> {
    let (shipment, yard) = (job.shipment, &job.shipment.yard);
    let names: BTreeSet<&str> =
        by_area(charges).into_iter().map(|charge| charge.name.as_str()).collect();
    if names.is_empty() {
        return None;
    }
    let names: Vec<&str> = names.into_iter().collect();
    let mut text = format!("shared by area, a policy: {}", names.join(", "));
    let landed = |slab: usize| {
        let own = groups.iter().filter_map(|group| group.get(slab));
        Money::from_minor(own.sum(), yard.currency)
    };
    let shift = shift(shipment, (charges, entries), sets, landed);
    let is_told = |shift: &Shift| {
        let least = yard.tell_shift.fraction().checked_mul(Decimal::ONE_HUNDRED);
        least.is_some_and(|least| shift.percent.abs() > least)
    };
    if let Some(Shift { slab, amount, percent }) = shift.filter(is_told) {
        let id = shipment.slabs.get(slab).map_or("", |slab| slab.id.as_str());
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "; by each slab's part of what they are charged on, slab {id} would move most, by {amount} \
             ({percent} %): percentages = \"base\" in {} does it",
            yard.place
        );
    }
    Some(Note(text))
}

/// What the charges come to.
struct Sums {
    total: Money,
    decision: Money,
    headline: Headline,
}

fn sums(shipment: &Shipment, sets: &Sets, charges: &[Charge]) -> Option<Sums> {
    let currency = shipment.yard.currency;
    Some(Sums {
        total: sum(charges, currency, &[Treatment::Stock])?,
        decision: sum(charges, currency, &DECIDES)?,
        headline: headline(shipment, sets, charges, currency)?,
    })
}

impl Landed {
    /// What a slab costs: the sum of its shares of every charge that is part of its cost.
    pub fn slab_cost(&self, slab: usize) -> Money {
        Money::from_minor(self.groups_of(slab).iter().sum(), self.currency)
    }

    /// What a slab bears of each group of legs, in minor units of the book currency.
    pub(super) fn groups_of(&self, slab: usize) -> [i64; LEG_GROUPS.len()] {
        self.groups.each_ref().map(|group| group.get(slab).copied().unwrap_or(0))
    }

    /// What percentage of the total an amount is, to one place.
    pub fn percent_of_total(&self, amount: Money) -> Option<Decimal> {
        let hundredfold = amount.amount().checked_mul(Decimal::ONE_HUNDRED)?;
        ratio(hundredfold, self.total.amount(), 1)
    }

    /// What the shipment bears of each group of legs, in minor units of the book currency. `None` on
    /// overflow.
    pub(super) fn group_totals(&self) -> Option<[i64; LEG_GROUPS.len()]> {
        let mut totals = [0i64; LEG_GROUPS.len()];
        for (total, group) in totals.iter_mut().zip(&self.groups) {
            *total = group.iter().try_fold(0i64, |sum, share| sum.checked_add(*share))?;
        }
        Some(totals)
    }
}

/// What one entry over all would save, fee by fee: only for rows that serve every entry alike.
fn savings(job: &Job<'_>, by_entry: &[OfEntry]) -> Vec<Saving> {
    let mut rows: Vec<&Place> = Vec::new();
    for (row, ..) in by_entry {
        if !rows.contains(&row) {
            rows.push(row);
        }
    }
    let terms = job.terms();
    let saving = |place: &Place| {
        let row = job.tariffs.charges.iter().find(|row| row.place == *place)?;
        let own = || by_entry.iter().filter(|(one, ..)| one == place);
        let currency = own().next()?.2.currency();
        let apart = Money::total(currency, own().map(|one| one.2)).ok()?;
        let bases: Option<Vec<Money>> = own().map(|one| one.1).collect();
        let together = match (&row.rate.value, bases) {
            (Rate::Percent(_, WhatOf::EnteredValue), Some(bases)) => {
                let base = Money::total(bases.first()?.currency(), bases).ok()?;
                charged(row, Quantity::Of(&Exact::from(base)), &terms).ok()?.0
            }
            (Rate::Amount(_), None) => charged(row, Quantity::Count(Decimal::ONE), &terms).ok()?.0,
            _ => return None,
        };
        let saved = apart.minus(together).ok()?;
        let is_less = !saved.is_negative() && !saved.is_zero();
        let (name, entries) = (row.name.clone(), own().count());
        let place = place.clone();
        is_less.then_some(Saving { name, entries, apart, together, saved, place })
    };
    rows.into_iter().filter_map(saving).collect()
}

/// Every leg that the importer bears needs a charge: a missing rate would only show as a cost
/// that is pleasantly low.
fn check_legs(job: &Job<'_>, served: &BTreeSet<Leg>, report: &mut Report) {
    let shipment = job.shipment;
    for (leg, _) in Leg::ALL {
        let bearing = shipment.invoices.iter().find(|invoice| importer_bears(invoice, leg));
        let Some(invoice) = bearing.filter(|_| leg != Leg::Goods && !served.contains(&leg)) else {
            continue;
        };
        let table = home(leg).word();
        let date = shipment.dates.of(chosen_by(home(leg), leg));
        let message = format!(
            "rates/{table}.toml: nothing for \"{}\", which {} leaves to the importer (lane {}, yard {}, {date})",
            leg.word(),
            *invoice.term,
            shipment.lane,
            shipment.yard.id
        );
        let mut fault = if must_have_row(leg) {
            Fault::error(Code::NoRate, message)
        } else {
            Fault::warning(Code::NoRate, message)
        };
        fault = fault.at(&invoice.term.place, "the delivery term");
        let near = job.tariffs.charges.iter().filter(|row| row.leg == leg);
        for row in near.take(2) {
            fault = fault.also(&row.place, near_label(row));
        }
        report.add(fault.help(
            "add the row; if there is nothing to pay, add it with amount = \"0 USD\", or name the leg in the invoice's `includes`",
        ));
    }
}

fn near_label(row: &ChargeRow) -> String {
    let keys: Vec<String> =
        row.matches.given().map(|(name, value)| format!("{name} {value}")).collect();
    format!("there is this one: {}, in force {}", keys.join(", "), row.valid)
}

/// The table where a leg's rows belong.
fn home(leg: Leg) -> TableName {
    match leg {
        Leg::ExportPacking | Leg::OriginLoading | Leg::PreCarriage | Leg::ExportClearance => {
            TableName::Crating
        }
        Leg::OriginTerminal
        | Leg::LoadingOnBoard
        | Leg::MainCarriage
        | Leg::DestinationTerminal => TableName::Freight,
        Leg::OnCarriage => TableName::Drayage,
        Leg::Goods | Leg::Insurance | Leg::ImportClearance | Leg::DutyAndTax | Leg::Unloading => {
            TableName::Fees
        }
    }
}

fn check_policy(shipment: &Shipment, charges: &[Charge], report: &mut Report) {
    for rule in &shipment.policy {
        if !charges.iter().any(|charge| charge.name == rule.charge.value) {
            report.add(
                Fault::warning(
                    Code::UnknownReference,
                    format!(
                        "the policy for \"{}\" changes nothing: the shipment has no such charge",
                        rule.charge.value
                    ),
                )
                .at(&rule.charge.place, "no charge of this name"),
            );
        }
    }
}

fn headline(
    shipment: &Shipment,
    sets: &Sets,
    charges: &[Charge],
    currency: Currency,
) -> Option<Headline> {
    let stock = || charges.iter().filter(|charge| charge.treatment == Treatment::Stock);
    let by_basis = Basis::ALL
        .iter()
        .map(|(basis, _)| {
            let chosen = stock().filter(|charge| charge.basis == *basis);
            Money::total(currency, chosen.map(Charge::book)).ok().map(|sum| (*basis, sum))
        })
        .collect::<Option<Vec<_>>>()?;
    let planned = Money::total(currency, stock().flat_map(Charge::planned)).ok()?;
    let first_lapse = first_lapse(charges);
    Some(Headline {
        area: sets.tally(Sets::ALL, shipment).ok()?.billed,
        mass: Mass::total(shipment.bundles.iter().map(|bundle| bundle.mass)).ok()?,
        by_basis,
        planned,
        first_lapse,
    })
}

/// The first rate to lapse: the rate of a charge, or the rate of exchange it was converted at.
fn first_lapse(charges: &[Charge]) -> Option<(Date, String, Place)> {
    let rate = |charge: &&Charge| charge.valid.and_then(|valid| valid.until);
    let exchange = |charge: &&Charge| charge.exchange().and_then(|rate| rate.valid.until);
    let by_rate = charges.iter().filter(|charge| rate(charge).is_some()).min_by_key(rate);
    let by_rate = by_rate.and_then(|charge| {
        Some((rate(&charge)?, charge.name.clone(), charge.sources.first()?.clone()))
    });
    let quoted = charges.iter().filter(|charge| exchange(charge).is_some()).min_by_key(exchange);
    let quoted = quoted.and_then(|charge| {
        let conversion = charge.exchange()?;
        Some((conversion.valid.until?, conversion.quote.to_string(), conversion.place.clone()))
    });
    by_rate.into_iter().chain(quoted).min_by_key(|(until, _, _)| *until)
}

/// Which goods are free of a fee by their origin, and what that hangs on; and which would be with a
/// claim that their lines do not make (19 CFR 24.23(c); 72 FR 52780).
fn claims(job: &Job<'_>, entries: &[Entry]) -> Vec<Note> {
    let shipment = job.shipment;
    let mut notes: Vec<Note> = Vec::new();
    for entry in entries {
        let in_force = |row: &&ChargeRow| {
            let kind = row.matches.entry.as_deref().is_none_or(|kind| kind == entry.kind.word());
            let mode = row.matches.mode.as_deref().is_none_or(|mode| mode == entry.mode.word());
            kind && mode && row.valid.holds(entry.entered_on) && may_fit(shipment, row)
        };
        for row in job.tariffs.charges.iter().filter(in_force) {
            let Some(exempt) = &row.exempt else { continue };
            for line in entry.lines.iter().filter(|line| exempt.origins.contains(&line.origin)) {
                let (of, fee, place) = (&line.origin, &row.name, &row.place);
                let note = Note(match (exempt.on, &line.claims) {
                    (ExemptIf::ProductOf, _) => {
                        format!("goods of {of} are free of the {fee} as products of it ({place})")
                    }
                    (ExemptIf::Claimed, Some(programme)) => format!(
                        "goods of {of} are free of the {fee} by the claim of \"{programme}\" ({place})"
                    ),
                    (ExemptIf::Claimed, None) => format!(
                        "goods of {of} bear the {fee}: only a claim under a trade agreement frees \
                         them, and their lines name no `preference` ({place})"
                    ),
                });
                if !notes.contains(&note) {
                    notes.push(note);
                }
            }
        }
    }
    notes
}

fn notes(job: &Job<'_>, charges: &[Charge], entries: &[Entry], savings: &[Saving]) -> Vec<Note> {
    let shipment = job.shipment;
    let mut notes = Vec::new();
    if shipment.is_nominal() {
        notes.push(Note(
            "nominal: slabs and masses are made up from the offer's quantity, as there is no packing list yet"
                .to_owned(),
        ));
    }
    if charges.iter().any(|charge| !charge.planned().is_empty()) {
        notes.push(Note(format!(
            "amounts of events after {} are converted at planning rates",
            shipment.dates.quoted
        )));
    }
    let delivered =
        shipment.invoices.iter().any(|i| i.term.bearer(Leg::DutyAndTax) == Bearer::Seller);
    if delivered {
        notes.push(Note("duty and fees under DDP are the seller's and no cost here".to_owned()));
    }
    for entry in entries {
        notes.extend(entry.import_tax.map(|tax| {
            Note(match tax {
                ImportTax::InPrice => format!(
                    "the import tax on the seller's entry {} is taken as inside the price delivered duty paid: nothing of it is yours to recover (`import-tax` of the invoice says otherwise)",
                    entry.id
                ),
                ImportTax::Apart => format!(
                    "the price on the seller's entry {} is delivered duty paid without the import tax: you pay it",
                    entry.id
                ),
            })
        }));
    }
    for saving in savings {
        notes.push(Note(format!(
            "on one entry instead of {} the {} would be {}, {} less",
            saving.entries, saving.name, saving.together, saving.saved
        )));
    }
    notes
}
