//! The supplier's invoice and the carrier's documents against the packing list: stated figures, and figures
//! computed by the supplier's own take-off and rounding.
//!
//! A broker's sums that must agree: bundles, packages on the invoice and on the bill of lading; their
//! gross masses; the area of the list and of the invoice; lines and total (common practice; 19 CFR
//! 141.86 asks for quantities, marks and prices on the invoice).

use super::landed::Landed;
use crate::bill::{Charge, Payable, Working};
use crate::fault::{At, Code, Fault, Place, Report};
use crate::quantity::{
    Area, Decimal, Mass, Money, Percent, Price, PricedBy, Units, count_of, grouped, nearest_whole,
};
use crate::trade::{Line, Paper, Shipment};

/// One figure of a paper, against what comes out.
#[derive(Debug)]
pub struct Proven {
    /// The paper.
    pub paper: String,
    /// Which figure.
    pub what: String,
    /// The unit of its figures: a currency, a unit of measure, or nothing for a count.
    pub unit: &'static str,
    /// What it states.
    pub stated: Decimal,
    /// What comes out.
    pub computed: Decimal,
    /// What is stated too much; less than nothing is too little.
    pub off: Decimal,
    /// Whether the two agree.
    pub agrees: bool,
    /// Where an invoice states it; `None` for other papers.
    pub place: Option<Place>,
    /// Whether what comes out is an estimate: masses from density, where no bundle was weighed.
    pub is_estimate: bool,
    /// How far the two may be apart and agree.
    pub within: Percent,
}

/// The largest gap between a computed and a weighed mass that is no difference (a choice of ours; quarries'
/// densities differ by a few percent).
fn tolerance() -> Percent {
    Percent::new(Decimal::from(5))
}

/// Warns of every figure on a supplier's invoice that differs from the computed one. Where the price that it
/// comes of has been asked about, that is the cause.
pub fn doubt_invoices(shipment: &Shipment, all: &[Proven], report: &mut Report) {
    doubt_papers(shipment, report);
    for one in all.iter().filter(|one| !one.agrees) {
        let Some(place) = &one.place else { continue };
        let comes_of = |line: &&Line| {
            let invoice = shipment.invoices.get(line.invoice);
            let total = invoice.and_then(|invoice| invoice.total.as_ref()).map(|at| &at.place);
            let stated = line.billed.as_ref();
            let amount = stated.and_then(|stated| stated.amount.as_ref()).map(|at| &at.place);
            [total, amount].contains(&Some(place))
        };
        let mut lines = shipment.lines.iter().filter(comes_of);
        if lines.any(|line| report.tells_at(&line.price.place)) {
            continue;
        }
        let shown = |figure: Decimal| format!("{} {}", grouped(figure), one.unit);
        let message = format!(
            "the {} of {} is {} {} the {} worked out here",
            one.what,
            one.paper,
            shown(one.off.abs()),
            if one.off < Decimal::ZERO { "below" } else { "above" },
            shown(one.computed)
        );
        let mut lines = shipment.lines.iter().filter(comes_of);
        let help = match lines.find_map(|line| Some((line, other_unit(one, line)?))) {
            Some((line, meant)) => {
                format!("is the price of line {} meant as \"{meant}\"?", line.id)
            }
            None => slip(one, shipment).unwrap_or_else(|| {
                "ask the supplier how it measures and rounds, and say so in `measure`".to_owned()
            }),
        };
        report.add(
            Fault::warning(Code::Contradiction, message)
                .at(place, "as the supplier states it")
                .help(help),
        );
    }
}

/// A slip that makes a stated sum of the computed one: two digits exchanged, or a discount left out.
fn slip(one: &Proven, shipment: &Shipment) -> Option<String> {
    let unit = one.unit;
    let [stated, computed] = [one.stated, one.computed].map(|figure| figure.to_string());
    let digits = |text: &str| {
        let mut digits: Vec<char> = text.chars().collect();
        digits.sort_unstable();
        digits
    };
    let differ = stated.chars().zip(computed.chars()).filter(|(one, other)| one != other).count();
    if differ == 2 && digits(&stated) == digits(&computed) {
        return Some(format!("is \"{computed} {unit}\" meant? two digits are exchanged"));
    }
    let invoice = shipment
        .invoices
        .iter()
        .find(|invoice| invoice.total.as_ref().map(|at| &at.place) == one.place.as_ref())?;
    if invoice.discount.is_none() {
        // In half percents, as discounts are.
        let halves = Decimal::from(200);
        let share = one.off.checked_mul(-halves)?.checked_div(one.computed)?;
        let share = Decimal::from(nearest_whole(share)?);
        let less = one.computed.checked_mul(share)?.checked_div(halves)?;
        let is_it = less.checked_add(one.off)?.abs() <= Decimal::new(2, 2);
        let percent = share.checked_div(Decimal::TWO)?.normalize();
        if is_it && percent > Decimal::ZERO && percent <= Decimal::from(20) {
            return Some(format!(
                "the total is {percent} % lower: is discount = \"{percent} %\" missing?"
            ));
        }
    }
    let in_mm = |line: &&Line| {
        line.measure.take_off.is_some_and(|size| size.length.mm_up() < LEAST_TAKE_OFF_MM)
    };
    let own = |line: &&Line| {
        shipment.invoices.get(line.invoice).is_some_and(|own| std::ptr::eq(own, invoice))
    };
    let line = shipment.lines.iter().filter(own).find(in_mm).filter(|_| one.off < Decimal::ZERO)?;
    let size = line.measure.take_off?;
    let [length, height] = [size.length, size.height].map(|side| side.figure(Units::Metric));
    Some(format!(
        "line {} takes off {length} x {height} mm: is take-off = {{ length = \"{length} cm\", height = \"{height} cm\" }} meant?",
        line.id
    ))
}

/// A take-off is a few centimetres (common practice): a smaller one may be one in another unit.
const LEAST_TAKE_OFF_MM: i64 = 10;

/// Asks about papers that count slabs for packages, or give pounds for kilograms.
fn doubt_papers(shipment: &Shipment, report: &mut Report) {
    let (slabs, bundles) = (shipment.slabs.len(), shipment.bundles.len());
    let gross = Mass::total(shipment.bundles.iter().map(|bundle| bundle.mass)).ok();
    for paper in &shipment.papers {
        let name = &paper.name.value;
        if let Some(packages) = &paper.packages
            && usize::try_from(packages.value) == Ok(slabs)
            && slabs != bundles
        {
            let message =
                format!("{name} counts {}, and the slabs are as many", count_of(slabs, "package"));
            report.add(
                Fault::warning(Code::Contradiction, message)
                    .at(&packages.place, "a package is a bundle")
                    .help(format!("write packages = {bundles}, if bundles are meant")),
            );
        }
        let Some((stated, load)) = paper.gross.as_ref().zip(gross) else { continue };
        let (figure, gross) = (stated.value.to_kg(6), load.to_kg(0));
        let is_near = |kg: Decimal| {
            let most = gross.checked_mul(tolerance().fraction());
            kg.checked_sub(gross).zip(most).is_some_and(|(off, most)| off.abs() <= most)
        };
        let pounds = Mass::lb(figure).ok().filter(|meant| is_near(meant.to_kg(6)));
        if pounds.is_some() && !is_near(figure) {
            let figure = figure.normalize();
            let [own, made] = [stated.value, load].map(|mass| mass.show(report.units()));
            let message = format!("{name} states {own}, and the load is {made}");
            report.add(
                Fault::warning(Code::Contradiction, message)
                    .at(&stated.place, format!("is gross = \"{figure} lb\" meant?"))
                    .help("write the unit that the paper has"),
            );
        }
    }
}

/// The price of a line per square foot instead of per square metre, or the reverse, where a sum that is stated
/// is so many times the computed one, within 2 % (a choice of ours).
fn other_unit(one: &Proven, line: &Line) -> Option<Price> {
    let feet_in_metre = Decimal::new(10764, 3);
    let (by, times) = match line.price.by {
        PricedBy::M2 => (PricedBy::Ft2, one.stated.checked_div(one.computed)?),
        PricedBy::Ft2 => (PricedBy::M2, one.computed.checked_div(one.stated)?),
        _ => return None,
    };
    let off = times.checked_div(feet_in_metre)?.checked_sub(Decimal::ONE)?;
    (off.abs() <= Decimal::new(2, 2)).then_some(Price { by, ..line.price.value })
}

/// Holds every figure that papers state against the shipment. `None` on overflow.
pub fn prove(shipment: &Shipment, landed: &Landed) -> Option<Vec<Proven>> {
    let mut all = Vec::new();
    for (at, invoice) in shipment.invoices.iter().enumerate() {
        let paper = format!("invoice {}", invoice.number);
        for (index, line) in shipment.lines.iter().enumerate().filter(|(_, one)| one.invoice == at)
        {
            let Some(stated) = &line.billed else { continue };
            let own = || landed.charges.iter().filter(|charge| charge.goods_of == Some(index));
            if let Some(quantity) = &stated.quantity {
                let computed = own().try_fold(Decimal::ZERO, |sum, charge| {
                    sum.checked_add(match &charge.booked.working {
                        Working::Priced { quantity, .. } => *quantity,
                        _ => Decimal::ZERO,
                    })
                })?;
                let off = quantity.value.checked_sub(computed)?;
                let figures = [quantity.value, computed, off].map(|figure| figure.normalize());
                let what = format!("quantity of line {}", line.id);
                let line = proven(&paper, what, (figures, line.price.by.word()), off.is_zero());
                all.push(Proven { place: Some(quantity.place.clone()), ..line });
            }
            if let Some(amount) = &stated.amount {
                let currency = amount.currency();
                let computed = Money::total(currency, own().map(Charge::amount)).ok()?;
                all.push(money(&paper, format!("amount of line {}", line.id), amount, computed)?);
            }
        }
        if let Some(total) = &invoice.total {
            let own = landed.charges.iter().filter(|one| one.payable == Payable::ByPlan(at));
            let computed = Money::total(total.currency(), own.map(Charge::amount)).ok()?;
            all.push(money(&paper, "total".to_owned(), total, computed)?);
        }
    }
    papers(shipment, &mut all)?;
    each_other(&shipment.papers, &mut all)?;
    Some(all)
}

fn papers(shipment: &Shipment, all: &mut Vec<Proven>) -> Option<()> {
    let bundles = shipment.bundles.len();
    let gross = Mass::total(shipment.bundles.iter().map(|bundle| bundle.mass)).ok()?;
    let area = Area::total(shipment.slabs.iter().map(|slab| slab.billed_area)).ok()?;
    let is_estimate = shipment.bundles.iter().any(|bundle| !bundle.weighing.is_weighed());
    for paper in &shipment.papers {
        let name = &paper.name.value;
        if let Some(packages) = &paper.packages {
            let stated = usize::try_from(packages.value).ok()?;
            let off = i64::from(packages.value) - i64::try_from(bundles).ok()?;
            let figures = [Decimal::from(stated), Decimal::from(bundles), Decimal::from(off)];
            all.push(proven(name, "packages".to_owned(), (figures, ""), off == 0));
        }
        if let Some(stated) = &paper.gross {
            let off = stated.value.to_kg(0) - gross.to_kg(0);
            let most = gross.to_kg(0).checked_mul(tolerance().fraction())?;
            let agrees = if is_estimate { off.abs() <= most } else { off.is_zero() };
            let figures = [stated.value.to_kg(0), gross.to_kg(0), off];
            let line = proven(name, "gross mass".to_owned(), (figures, "kg"), agrees);
            let within = if is_estimate { tolerance() } else { line.within };
            all.push(Proven { is_estimate, within, ..line });
        }
        if let Some(stated) = &paper.area {
            let off = stated.value.to_m2(3) - area.to_m2(3);
            let figures = [stated.value.to_m2(3), area.to_m2(3), off];
            all.push(proven(name, "billed area".to_owned(), (figures, "m2"), off.is_zero()));
        }
    }
    Some(())
}

/// Holds papers against each other: each against the first that states the same figure. What two
/// documents state of one load is the same to the package and to the kilogram, whatever comes out.
fn each_other(papers: &[Paper], all: &mut Vec<Proven>) -> Option<()> {
    type Figure = (&'static str, fn(&Paper) -> Option<Decimal>);
    const FIGURES: [Figure; 2] = [
        ("packages", |paper| paper.packages.as_ref().map(|stated| Decimal::from(stated.value))),
        ("gross mass", |paper| paper.gross.as_ref().map(|stated| stated.value.to_kg(0))),
    ];
    for (what, figure) in FIGURES {
        let mut stating =
            papers.iter().filter_map(|paper| Some((&paper.name.value, figure(paper)?)));
        let Some((first, expected)) = stating.next() else { continue };
        for (name, stated) in stating {
            let unit = if what == "packages" { "" } else { "kg" };
            let off = stated.checked_sub(expected)?;
            let figures = [stated, expected, off];
            let against = format!("{name} against {first}");
            all.push(proven(&against, what.to_owned(), (figures, unit), off.is_zero()));
        }
    }
    Some(())
}

/// What is stated, what comes out, how far they are apart; and their unit.
type Figures = ([Decimal; 3], &'static str);

fn proven(paper: &str, what: String, figures: Figures, agrees: bool) -> Proven {
    let ([stated, computed, off], unit) = figures;
    Proven {
        paper: paper.to_owned(),
        what,
        unit,
        stated,
        computed,
        off,
        agrees,
        place: None,
        is_estimate: false,
        within: Percent::new(Decimal::ZERO),
    }
}

fn money(paper: &str, what: String, stated: &At<Money>, computed: Money) -> Option<Proven> {
    let off = stated.minus(computed).ok()?;
    let figures = [stated.value, computed, off].map(Money::amount);
    let line = proven(paper, what, (figures, stated.currency().code()), off.is_zero());
    Some(Proven { place: Some(stated.place.clone()), ..line })
}
