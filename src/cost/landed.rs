//! The landed cost: every charge spread over its slabs, to the cent.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use super::aged::aged;
use super::carried::{Carried, carried, is_carried};
use super::groups::{Groups, LEG_GROUPS, group_of};
use super::shift::{Shift, by_area, shift};
use super::starter::{Starters, is_starter, starters};
use crate::bill::{Charge, Sets, together};
use crate::charges::{Charged, Job, Paid, Saving};
use crate::customs::Entry;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::price::may_fit;
use crate::quantity::{Area, Currency, Decimal, Mass, Money, Overflow, Wholes, ratio};
use crate::read;
use crate::spread::Shares;
use crate::trade::{
    Basis, Bearer, ChargeRow, Date, ExemptIf, ImportTax, Leg, PolicyRule, Shipment, Treatment,
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
    /// The decision cost: the total with expensed and notional charges. Offers are compared by it.
    pub decision: Money,
    /// The figures of the headline.
    pub headline: Headline,
    /// What a reader should know.
    pub notes: Vec<Note>,
    /// Goods free of a fee by origin, with the reason; and goods that lack a claim.
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
    /// The names of the charges that are assumed, those that come to most first.
    pub assumed: Vec<String>,
    /// How much of the total is converted at a planning rate.
    pub planned: Money,
    /// What has lapsed and serves on.
    pub carried: Vec<Carried>,
    /// What rests on figures to start with.
    pub starters: Starters,
    /// The first rate to lapse: the day, the charge and where.
    pub first_lapse: Option<(Date, String, Place)>,
}

/// Something a reader should know about a figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note(pub String);

/// Spreads a job's charges over its slabs.
pub(crate) fn landed(
    job: Job<'_>,
    charged: Charged,
    report: &mut Report,
) -> Result<Landed, Reported> {
    let shipment = job.shipment;
    let currency = shipment.yard.currency;
    let place = &shipment.packing_file;
    let total = report.fits(charged.total(currency), place)?;
    let decision = report.fits(charged.decision(currency), place)?;
    let Charged { charges, entries, missing, savings, plans, sets } = charged;
    let shares = Shares::new((shipment, job.plan), &charges, &sets, report)?;
    let groups = report.fits(groups(shipment, &charges, &sets, &shares), place)?;
    let headline = report.fits(headline(&job, &sets, &charges, currency), place)?;
    check_policy(shipment, &charges, report);
    let claims = claims(&job, &entries);
    let mut notes = notes(&job, &charges, &entries, &savings);
    notes.extend(policies(shipment, &charges));
    notes.extend(shared_by(shipment, &charges, &sets, &groups));
    notes
        .extend(missing.iter().map(|what| Note(format!("the seller's entry has no memo: {what}"))));
    Ok(Landed {
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

/// What each slab bears of each group of legs, of the charges that are part of its cost.
fn groups(
    shipment: &Shipment,
    charges: &[Charge],
    sets: &Sets,
    shares: &Shares,
) -> Result<Groups, Overflow> {
    let lists = together(charges);
    let of = |group: usize| {
        let mut sums = vec![0i64; shipment.slabs.len()];
        for (at, list) in lists.iter().enumerate() {
            let first = list.first().and_then(|at| charges.get(*at));
            let is_own = |charge: &&Charge| {
                charge.treatment == Treatment::Stock && group_of(charge.leg) == group
            };
            let Some(charge) = first.filter(is_own) else { continue };
            for (position, slab) in sets.members(charge.scope.set).enumerate() {
                if let Some(sum) = sums.get_mut(slab) {
                    let more = sum.checked_add(shares.of(at, position).minor);
                    *sum = more.ok_or(Overflow { what: "the cost of a slab" })?;
                }
            }
        }
        Ok(Wholes::new(&sums))
    };
    // One after the other, as sums take room while they are added up.
    Ok([of(0)?, of(1)?, of(2)?, of(3)?])
}

/// A note on each policy that a charge follows: what it does, and the reason it states.
fn policies(shipment: &Shipment, charges: &[Charge]) -> Vec<Note> {
    let follows = |rule: &&PolicyRule| charges.iter().any(|one| one.name == rule.charge.value);
    let note = |rule: &PolicyRule| {
        let mut does: Vec<String> = Vec::new();
        does.extend(rule.key.map(|key| format!("shared by {}", key.word())));
        does.extend(rule.scope.as_ref().map(|scope| format!("shared within the {}", scope.word())));
        does.extend(rule.treatment.map(|treatment| match treatment {
            Treatment::Stock => "part of the slabs' cost".to_owned(),
            other => other.shown().to_owned(),
        }));
        let (name, does) = (&rule.charge.value, does.join(", "));
        Note(format!("policy of the shipment: {name} is {does} ({})", rule.reason))
    };
    shipment.policy.iter().filter(follows).map(note).collect()
}

/// The note on charges shared by area, with the shift to sharing by base where it is large.
fn shared_by(
    shipment: &Shipment,
    charges: &[Charge],
    sets: &Sets,
    groups: &Groups,
) -> Option<Note> {
    let yard = &shipment.yard;
    let names: BTreeSet<&str> =
        by_area(charges).into_iter().map(|charge| charge.name.as_str()).collect();
    if names.is_empty() {
        return None;
    }
    let names: Vec<&str> = names.into_iter().collect();
    let mut text =
        format!("percentages of a value, shared over the slabs by area: {}", names.join(", "));
    let landed = |slab: usize| {
        Money::from_minor(groups.iter().map(|group| group.at(slab)).sum(), yard.currency)
    };
    let shift = shift(shipment, charges, sets, landed);
    let is_told = |shift: &Shift| {
        let least = yard.tell_shift.fraction().checked_mul(Decimal::ONE_HUNDRED);
        least.is_some_and(|least| shift.percent.abs() > least)
    };
    if let Some(Shift { slab, amount, percent }) = shift.filter(is_told) {
        let id = shipment.slabs.get(slab).map_or("", |slab| slab.id.as_str());
        // Writing to a string cannot fail.
        let _ = write!(
            text,
            "; sharing by base would move slab {id} most, by {amount} ({percent} %): set percentages = \
             \"base\" on the yard's row"
        );
    }
    Some(Note(text))
}

impl Landed {
    /// What a slab costs: the sum of its shares of every charge that is part of its cost.
    pub fn slab_cost(&self, slab: usize) -> Money {
        Money::from_minor(self.groups_of(slab).iter().sum(), self.currency)
    }

    /// What a slab bears of each group of legs, in minor units of the book currency.
    pub(super) fn groups_of(&self, slab: usize) -> [i64; LEG_GROUPS.len()] {
        self.groups.each_ref().map(|group| group.at(slab))
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
            *total = group.iter().try_fold(0i64, i64::checked_add)?;
        }
        Some(totals)
    }
}

/// The names of charges, each once.
fn names_of(charges: &[Charge]) -> String {
    let names: BTreeSet<&str> = charges.iter().map(|charge| &*charge.name).collect();
    names.into_iter().collect::<Vec<_>>().join(", ")
}

fn check_policy(shipment: &Shipment, charges: &[Charge], report: &mut Report) {
    for rule in &shipment.policy {
        if !charges.iter().any(|charge| charge.name == rule.charge.value) {
            let known: Vec<&str> = charges.iter().map(|charge| &*charge.name).collect();
            let meant = read::nearest(&rule.charge.value, &known);
            let meant =
                meant.map_or_else(String::new, |meant| format!("did you mean \"{meant}\"? "));
            report.add(
                Fault::warning(
                    Code::UnknownReference,
                    format!(
                        "the policy for \"{}\" changes nothing: the shipment has no such charge",
                        rule.charge.value
                    ),
                )
                .at(&rule.charge.place, "no charge of this name")
                .help(format!("{meant}its charges are: {}", names_of(charges))),
            );
        }
    }
}

fn headline(
    job: &Job<'_>,
    sets: &Sets,
    charges: &[Charge],
    currency: Currency,
) -> Result<Headline, Overflow> {
    let shipment = job.shipment;
    let stock = || charges.iter().filter(|charge| charge.treatment == Treatment::Stock);
    let starters = starters((shipment, job.tariffs), charges, currency)?;
    // Of a workspace that has none, nobody asks.
    let is_told = |basis: &Basis| *basis != Basis::Starter || !starters.places.is_empty();
    let by_basis = Basis::ALL
        .iter()
        .filter(|(basis, _)| is_told(basis))
        .map(|(basis, _)| {
            let chosen = stock().filter(|charge| firmness(charge, shipment) == *basis);
            Money::total(currency, chosen.map(Charge::book)).map(|sum| (*basis, sum))
        })
        .collect::<Result<Vec<_>, Overflow>>()?;
    let planned = Money::total(currency, stock().flat_map(Charge::planned))?;
    let first_lapse = first_lapse(charges);
    Ok(Headline {
        area: sets.tally(Sets::ALL, shipment)?.billed,
        mass: Mass::total(shipment.bundles.iter().map(|bundle| bundle.mass))?,
        by_basis,
        assumed: assumed(stock(), shipment)?,
        planned,
        carried: carried(shipment, charges)?,
        starters,
        first_lapse,
    })
}

/// How firm a charge is: no firmer than any figure it rests on, and what has lapsed and serves on is assumed.
fn firmness(charge: &Charge, shipment: &Shipment) -> Basis {
    match is_starter(charge) {
        true => Basis::Starter,
        false if is_carried(charge, shipment) => Basis::Assumed,
        false => charge.basis,
    }
}

/// The names of assumed charges, those that come to most first.
fn assumed<'a>(
    charges: impl Iterator<Item = &'a Charge>,
    shipment: &Shipment,
) -> Result<Vec<String>, Overflow> {
    let currency = shipment.yard.currency;
    let mut sums: BTreeMap<&str, Money> = BTreeMap::new();
    for charge in charges.filter(|charge| firmness(charge, shipment) == Basis::Assumed) {
        // The price of nominal goods is quoted, where it has not lapsed; how much of them comes is assumed.
        let is_quoted = charge.goods_of.is_some() && !is_carried(charge, shipment);
        let name = if is_quoted { "the quantity of goods" } else { &*charge.name };
        let sum = sums.entry(name).or_insert(Money::zero(currency));
        *sum = sum.plus(charge.book())?;
    }
    let mut sums: Vec<(&str, Money)> = sums.into_iter().collect();
    sums.sort_by_key(|(_, sum)| std::cmp::Reverse(sum.amount()));
    Ok(sums.into_iter().map(|(name, _)| name.to_owned()).collect())
}

/// The first rate to lapse: the rate of a charge, or the rate of exchange it was converted at.
fn first_lapse(charges: &[Charge]) -> Option<(Date, String, Place)> {
    let rate = |charge: &&Charge| charge.valid.and_then(|valid| valid.until);
    let exchange = |charge: &&Charge| charge.exchange().and_then(|rate| rate.valid.until);
    let by_rate = charges.iter().filter(|charge| rate(charge).is_some()).min_by_key(rate);
    let by_rate = by_rate
        .and_then(|charge| Some((rate(&charge)?, charge.name.to_string(), charge.source.clone())));
    let quoted = charges.iter().filter(|charge| exchange(charge).is_some()).min_by_key(exchange);
    let quoted = quoted.and_then(|charge| {
        let conversion = charge.exchange()?;
        Some((conversion.valid.until?, conversion.quote.to_string(), conversion.place.clone()))
    });
    by_rate.into_iter().chain(quoted).min_by_key(|(until, _, _)| *until)
}

/// Goods free of a fee by origin, with the condition; and goods that would be with a claim missing on their
/// lines (19 CFR 24.23(c); 72 FR 52780).
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
            for line in &entry.lines {
                let Some(on) = exempt.of(&line.origin) else { continue };
                let (of, fee) = (&line.origin, &row.name);
                let note = Note(match (on, &line.claims) {
                    (ExemptIf::ProductOf, _) => {
                        format!("goods of {of} are free of the {fee} as products of it")
                    }
                    (ExemptIf::Claimed, Some(programme)) => format!(
                        "goods of {of} are free of the {fee} by the claim of \"{programme}\""
                    ),
                    (ExemptIf::Claimed, None) => format!(
                        "goods of {of} bear the {fee}: only a claim under a trade agreement frees \
                         them, and their lines name no `preference`"
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
            "nominal: there is no packing list yet; slabs and masses are made up from the offer's quantity, and the goods count as assumed"
                .to_owned(),
        ));
    }
    if let Some(invoice) = shipment.handed_over_unknown() {
        notes.push(Note(format!(
            "goods under {} count as handed over on the sailing day: `dates` has no `collected`",
            invoice.term.value
        )));
    }
    if charges.iter().any(|charge| !charge.planned().is_empty()) {
        notes.push(Note(format!(
            "amounts of events after {} are converted at planning rates",
            shipment.dates.quoted
        )));
    }
    let old = aged(job.tariffs, charges, shipment.dates.quoted);
    if !old.is_empty() {
        let (quoted, old) = (shipment.dates.quoted, old.join(", "));
        notes.push(Note(format!(
            "published figures read more than a year before {quoted}: {old}; read them again"
        )));
    }
    let delivered =
        shipment.invoices.iter().any(|i| i.term.bearer(Leg::DutyAndTax) == Bearer::Seller);
    if delivered {
        notes.push(Note("under DDP duty and fees are the seller's, no cost here".to_owned()));
    }
    for entry in entries {
        notes.extend(entry.import_tax.map(|tax| {
            Note(match tax {
                ImportTax::InPrice => format!(
                    "the import tax on the seller's entry {} counts as inside the DDP price: you recover nothing (the invoice's `import-tax` can say otherwise)",
                    entry.id
                ),
                ImportTax::Apart => format!(
                    "the DDP price on the seller's entry {} excludes the import tax: you pay it",
                    entry.id
                ),
            })
        }));
    }
    for saving in savings {
        notes.push(Note(format!(
            "one entry instead of {}: {} {}, {} less",
            saving.entries, saving.name, saving.together, saving.saved
        )));
    }
    notes
}
