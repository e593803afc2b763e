//! `shipments/NAME/`: the shipment, its invoices, its slabs and the boxes they are in.

use std::collections::BTreeMap;
use std::path::Path;

use super::cells;
use super::filing::{NamedFilings, filings};
use super::packing::{self, Packing, mass_per_m2};
use super::papers::{billed, papers};
use super::payments::{payments, stated as stated_payments};
use super::plan;
use super::table::{self, Table};
use super::wishes::{NamedWishes, check_class, check_offers, wishes};
use super::workspace::Workspace;
use crate::fault::{At, Code, Fault, Place, Report};
use crate::files;
use crate::quantity::{
    Area, Decimal, Hours, Length, Mass, Money, Overflow, Percent, Price, PricedBy, Rounding, Size,
};
use crate::trade::{
    Addition, Bearer, BilledUnit, Bundle, Commission, Country, Dates, DeliveryTerm, Discount,
    ExchangeUse, GivenBox, ImportTax, Incoterm, Invoice, Key, Lane, Leg, Line, LoadWishes, Measure,
    MoneyRounding, PackingTerms, PolicyRule, Port, ScopeKind, Shipment, SideRounding, Slab,
    StatedLeg, Stone, TableName, Tariffs, Timber, Treatment, Window,
};

/// Reads a shipment's folder. `None`: the faults are in the report.
pub fn shipment(
    workspace: &Workspace,
    given: &str,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Option<Shipment> {
    let folder = workspace.shipment_folder(given, report)?;
    let name_of = |file: &str| workspace.name_of(&folder.join(file));
    let source = files::read(&folder.join("shipment.toml"), &name_of("shipment.toml"), report)?;
    let draft = table::parse(&source, report, |top, report| Some(head(top, tariffs, report)));
    // With faults in it, the packing list and the plan are read all the same, for theirs.
    let mut draft = draft.unwrap_or_default();
    let timber = timber(tariffs, &source.line(1), report);
    let list_name = name_of("packing.csv");
    let listed = list(&folder.join("packing.csv"), &list_name, &draft, tariffs, &timber, report);
    let complete = listed.is_some() && draft.all_lines;
    let lines = std::mem::take(&mut draft.lines);
    let mut shipment = draft.shipment.map(|shipment| Shipment { lines, ..shipment });
    if let Some(shipment) = &mut shipment {
        shipment.name = folder
            .file_name()
            .map_or_else(|| given.to_owned(), |name| name.to_string_lossy().into_owned());
        if let Some(List::Listed(packing, place)) = listed {
            shipment.packing_file = place;
            shipment.boxes = packing.boxes;
            shipment.slabs = packing.slabs;
            shipment.bundles = packing.bundles;
        }
        nominal(&draft.nominal, shipment, tariffs, &timber, report);
        if complete {
            shipment.load = std::mem::take(&mut draft.load).resolve(&mut shipment.bundles, report);
        }
    }
    let bundles = shipment.as_ref().filter(|_| complete).map(|shipment| &shipment.bundles[..]);
    let planned = planned(&folder.join("plan.toml"), &name_of("plan.toml"), bundles, report);
    let mut shipment = shipment?;
    if let Some(planned) = planned {
        plan::agree(&planned, &shipment.boxes, &shipment.bundles, report);
        shipment.boxes = planned;
    }
    check_boxes(&shipment, tariffs, report);
    check_names(&shipment, report);
    check_made_up_slabs(&shipment, report);
    draft.filings.resolve(&mut shipment, report);
    if complete {
        check_free_slabs(&shipment, report);
    }
    (complete && !report.has_errors()).then_some(shipment)
}

/// Puts a shipment's bundles into the boxes of a plan that someone else made: a file in the form
/// of `plan.toml`, wherever it lies. What its folder says of boxes is set aside.
pub fn other_plan(
    workspace: &Workspace,
    path: &Path,
    shipment: &mut Shipment,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Option<()> {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let source = files::read(path, &workspace.name_of(&absolute), report)?;
    let boxes = table::parse(&source, report, |top, report| {
        plan::plan(top, Some(&shipment.bundles), report)
    })?;
    shipment.boxes = boxes;
    check_boxes(shipment, tariffs, report);
    (!report.has_errors()).then_some(())
}

/// Reads the plan, where there is one; without `bundles`, only for its faults.
fn planned(
    path: &Path,
    name: &str,
    bundles: Option<&[Bundle]>,
    report: &mut Report,
) -> Option<Vec<GivenBox>> {
    if !path.exists() {
        return None;
    }
    let source = files::read(path, name, report)?;
    table::parse(&source, report, |top, report| plan::plan(top, bundles, report))
}

/// A shipment without its slabs, its lines, and their nominal quantities.
#[derive(Default)]
struct Draft {
    /// `None`: its own faults are in the report.
    shipment: Option<Shipment>,
    lines: Vec<Line>,
    nominal: Vec<Option<Nominal>>,
    load: NamedWishes,
    filings: NamedFilings,
    /// Whether every line could be read: where not, a slab of no line is no fault of the list's.
    all_lines: bool,
}

/// What there is in the way of a packing list.
enum List {
    Listed(Packing, Place),
    NotNeeded,
}

/// A line's quantity before there is a packing list.
enum Nominal {
    /// So many bundles of so many slabs of one size.
    Bundles { bundles: u32, slabs: u32, size: Size, place: Place },
    /// A billed area, in slabs and bundles of the size that `rates/crating.toml` assumes.
    Area { area: Area, place: Place },
}

/// The timber of bundles; where it is missing, none at all, so as to read on.
fn timber(tariffs: &Tariffs, place: &Place, report: &mut Report) -> Timber {
    if let Some(timber) = &tariffs.timber {
        return timber.clone();
    }
    let home = "rates/crating.toml";
    if !report.has_errors_in(home) {
        report.add(
            Fault::error(Code::MissingKey, format!("{home} has no [timber]")).in_file(home).help(
                "say what a bundle's timber weighs and adds: mass, height, width, length, between",
            ),
        );
    }
    Timber {
        mass: Mass::ZERO,
        height: Length::ZERO,
        width: Length::ZERO,
        length: Length::ZERO,
        between: Length::ZERO,
        place: place.clone(),
    }
}

fn head(top: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Draft {
    let title = top.text("title", report);
    let to = top.required_text("to", report);
    let yard = to.and_then(|to| {
        let known: Vec<&str> = tariffs.yards.iter().map(|yard| yard.id.as_str()).collect();
        let yard = tariffs.yard(&to);
        if yard.is_none() {
            table::add_unknown("yard", &to, "rates/yards.toml", &known, report);
        }
        yard.cloned()
    });
    let lane = top.optional::<Lane>("lane", report);
    let dates = dates(top, yard.as_ref().map_or(0, |yard| yard.delivery_days), report);
    let hours = hours(top, tariffs, report);
    let containers = top.texts("containers", report);
    let class = top.text("class", report);
    if let Some(class) = &class {
        check_class(class, tariffs, report);
    }
    let filings = filings(top, report);
    let load = wishes(top, yard.as_ref().map(|yard| yard.currency), report);
    load.check_kinds(tariffs, report);
    let pins = pins(top, report);
    let papers = papers(top, report);
    let rows = top.rows("policy", report);
    let policy: Vec<PolicyRule> = rows.iter().filter_map(|row| policy(row, report)).collect();
    for (index, rule) in policy.iter().enumerate() {
        let same = policy.iter().take(index).find(|one| one.charge.value == rule.charge.value);
        if let Some(first) = same {
            let message = format!("two policies for the charge \"{}\"", rule.charge.value);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&rule.charge.place, "again here")
                    .also(&first.charge.place, "first here")
                    .help("say all of it in one [[policy]]"),
            );
        }
    }
    let Invoices { invoices, lines, nominal, all_lines } = invoices(top, tariffs, report);
    if let Some(dates) = dates {
        for invoice in &invoices {
            price_holds(invoice, dates, report);
        }
    }
    let lane = yard.as_ref().and_then(|yard| route(top, lane, &invoices, &yard.port, report));
    let known = dates.zip(yard).zip(lane);
    let shipment = known.map(|((dates, yard), lane)| Shipment {
        name: String::new(),
        title: title.map_or_else(String::new, |at| at.value),
        yard,
        lane,
        dates,
        hours,
        containers,
        class,
        pins,
        policy,
        papers,
        invoices,
        lines: Vec::new(),
        bills: Vec::new(),
        filings: Vec::new(),
        bundles: Vec::new(),
        slabs: Vec::new(),
        boxes: Vec::new(),
        load: LoadWishes::default(),
        packing_file: top.place(),
    });
    Draft { shipment, lines, nominal, load, filings, all_lines }
}

/// A road class that no row names would change nothing, without a word.
/// The lane: as stated, or from the port a term names to the yard's port.
fn route(
    top: &Table<'_>,
    lane: Option<At<Lane>>,
    invoices: &[Invoice],
    to: &Port,
    report: &mut Report,
) -> Option<Lane> {
    if let Some(lane) = lane {
        for invoice in invoices {
            on_lane(&invoice.term, &lane, report);
        }
        return Some(lane.value);
    }
    let ports = invoices.iter().filter(|invoice| {
        matches!(invoice.term.rule, Incoterm::Fca | Incoterm::Fas | Incoterm::Fob)
            && invoice.term.names_port()
    });
    let mut ports: Vec<&str> = ports.map(|invoice| invoice.term.named_place.as_str()).collect();
    ports.dedup();
    if let [port] = ports[..] {
        let from = <Port as crate::quantity::Written>::read(port).ok()?;
        return Some(Lane { from, to: to.clone() });
    }
    if let Some(first) = invoices.first().filter(|_| !top.has("lane")) {
        let label = if ports.len() > 1 { "another names another port" } else { "it names no port" };
        report.add(
            Fault::error(Code::MissingKey, "the port of loading is not known")
                .at(&first.term.place, label)
                .help(format!("add the lane, such as lane = \"TRIZM-{to}\"")),
        );
    }
    None
}

/// A term that names a port names one of the lane's: of loading under the F rules, of destination
/// under the C and D rules.
fn on_lane(term: &At<DeliveryTerm>, lane: &At<Lane>, report: &mut Report) {
    use Incoterm::{Cfr, Cif, Cip, Cpt, Dap, Ddp, Dpu, Exw, Fas, Fca, Fob};
    let (port, of) = match term.rule {
        Fca | Fas | Fob => (&lane.from, "loading"),
        Cfr | Cif | Cpt | Cip | Dap | Dpu | Ddp => (&lane.to, "destination"),
        Exw => return,
    };
    if term.names_port() && term.named_place != port.to_string() {
        let message = format!(
            "{} names {} as the port of {of}, and the lane {} says {port}",
            **term, term.named_place, **lane
        );
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&term.place, "the term's port")
                .also(&lane.place, "the lane's")
                .help("correct the one that is wrong; goods by way of two ports are two shipments"),
        );
    }
}

fn price_holds(invoice: &Invoice, dates: Dates, report: &mut Report) {
    if !invoice.price_valid.holds(dates.quoted) {
        report.add(
            Fault::error(
                Code::LapsedRate,
                format!("the prices of {} do not hold on {}", invoice.number, dates.quoted),
            )
            .at(&invoice.price_valid.place, "when they hold")
            .help("ask the supplier for a fresh price, or correct `quoted`"),
        );
    }
}

fn dates(top: &Table<'_>, delivery_days: u32, report: &mut Report) -> Option<Dates> {
    let Some(row) = top.inside("dates", report) else {
        if !top.has("dates") {
            report.add(
                Fault::error(Code::MissingKey, "the shipment has no `dates`")
                    .at(&top.place(), "`dates` is needed here")
                    .help("add dates = { quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09 }"),
            );
        }
        return None;
    };
    let quoted = row.required_date("quoted", report);
    let sails = row.required_date("sails", report);
    let arrives = row.required_date("arrives", report);
    let entered = row.date("entered", report);
    let delivered = row.date("delivered", report);
    let returned = row.date("returned", report);
    row.finish(report);
    let (sails, arrives) = (sails?, arrives?);
    let days = |count: u32| chrono::Days::new(u64::from(count));
    let delivered_on = match &delivered {
        Some(at) => at.value,
        None => arrives.checked_add_days(days(delivery_days))?,
    };
    let returned_on = match &returned {
        Some(at) => at.value,
        None => delivered_on.checked_add_days(days(1))?,
    };
    let mut order = |late: &At<crate::trade::Date>, early, what: &str| {
        if late.value < early {
            report.add(
                Fault::error(Code::OutOfRange, format!("{what} ({early})"))
                    .at(&late.place, "this date is too early"),
            );
        }
    };
    order(&arrives, sails.value, "it arrives before it sails");
    if let Some(delivered) = &delivered {
        order(delivered, arrives.value, "it is delivered before it arrives");
    }
    if let Some(returned) = &returned {
        order(returned, delivered_on, "the box goes back before it is delivered");
    }
    if let Some(entered) = &entered {
        order(entered, sails.value, "it is entered at customs before it sails");
    }
    Some(Dates {
        quoted: quoted?.value,
        sails: sails.value,
        arrives: arrives.value,
        entered: entered.map_or(arrives.value, |at| at.value),
        delivered: delivered_on,
        returned: returned_on,
    })
}

/// `[[hours]]`: hours that bills count, by the name the rows have for them.
fn hours(top: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Vec<(At<String>, Hours)> {
    let counted = tariffs.charges.iter().filter_map(|row| row.hours.as_ref());
    let known: Vec<&str> = counted.map(|name| name.value.as_str()).collect();
    let rows = top.rows("hours", report);
    let mut all: Vec<(At<String>, Hours)> = Vec::new();
    for row in rows {
        let name = row.required_text("of", report);
        let count = row.required::<Hours>("count", report);
        row.finish(report);
        let (Some(name), Some(count)) = (name, count) else { continue };
        if let Some((first, _)) = all.iter().find(|(one, _)| one.value == name.value) {
            report.add(
                Fault::error(Code::Duplicate, format!("two counts of hours \"{}\"", name.value))
                    .at(&name.place, "again here")
                    .also(&first.place, "first here"),
            );
            continue;
        }
        // Hours that no bill counts would cost nothing, without a word.
        if !known.contains(&name.value.as_str()) {
            table::add_unknown("count of hours", &name, "rates/", &known, report);
        }
        all.push((name, count.value));
    }
    all
}

fn pins(top: &Table<'_>, report: &mut Report) -> Vec<(TableName, Vec<At<String>>)> {
    let Some(row) = top.inside("offers", report) else {
        return Vec::new();
    };
    let mut pins = Vec::new();
    for (table, word) in TableName::ALL {
        let offers = row.text_or_texts(word, report);
        if !offers.is_empty() {
            pins.push((table, offers));
        }
    }
    row.finish(report);
    pins
}

fn policy(row: &Table<'_>, report: &mut Report) -> Option<PolicyRule> {
    let charge = row.required_text("charge", report);
    let key = row.word("key", &Key::ALL, report);
    let scope = row.word("scope", &ScopeKind::ALL, report);
    let treatment = row.word("treatment", &Treatment::ALL, report);
    let reason = row.required_text("reason", report);
    row.finish(report);
    Some(PolicyRule {
        charge: charge?,
        key: key.map(|at| at.value),
        scope,
        treatment: treatment.map(|at| at.value),
        reason: reason?.value,
        place: row.place(),
    })
}

struct Invoices {
    invoices: Vec<Invoice>,
    lines: Vec<Line>,
    nominal: Vec<Option<Nominal>>,
    all_lines: bool,
}

fn invoices(top: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Invoices {
    let mut all =
        Invoices { invoices: Vec::new(), lines: Vec::new(), nominal: Vec::new(), all_lines: true };
    let rows = top.rows("invoice", report);
    if rows.is_empty() {
        all.all_lines = false;
        if !top.has("invoice") {
            report.add(
                Fault::error(Code::MissingKey, "the shipment has no [[invoice]]")
                    .at(&top.place(), "add one"),
            );
        }
    }
    for (index, row) in rows.iter().enumerate() {
        let origin = row.optional::<Country>("origin", report);
        let producer = row.text("producer", report);
        let line_rows = row.rows("line", report);
        if line_rows.is_empty() {
            all.all_lines = false;
            if !row.has("line") {
                report.add(
                    Fault::error(Code::MissingKey, "an invoice has no [[invoice.line]]")
                        .at(&row.place(), "add one"),
                );
            }
        }
        for line_row in line_rows {
            let read = line(&line_row, index, origin.as_ref(), tariffs, report);
            let read = read.map(|(mut line, quantity)| {
                line.producer = line.producer.or_else(|| producer.clone().map(|at| at.value));
                (line, quantity)
            });
            line_row.finish(report);
            let Some((line, quantity)) = read else {
                all.all_lines = false;
                continue;
            };
            if let Some(first) = all.lines.iter().find(|one| one.id == line.id) {
                report.add(
                    Fault::error(Code::Duplicate, format!("two lines are called \"{}\"", line.id))
                        .at(&line_row.place_of("id"), "again here")
                        .also(&first.place, "first here"),
                );
                all.all_lines = false;
                continue;
            }
            all.lines.push(line);
            all.nominal.push(quantity);
        }
        let read = invoice(row, tariffs, report);
        row.finish(report);
        let Some(invoice) = read else { continue };
        one_currency(&invoice, index, &all.lines, report);
        all.invoices.push(invoice);
    }
    all
}

/// All prices and items of one invoice are in one currency.
fn one_currency(invoice: &Invoice, index: usize, lines: &[Line], report: &mut Report) {
    let mut own = lines.iter().filter(|line| line.invoice == index);
    let Some(first) = own.next() else { return };
    let currency = first.price.currency;
    let amounts = [
        match &invoice.packing {
            PackingTerms::Invoiced(amount) => Some(amount.clone()),
            _ => None,
        },
        invoice.rounding.clone(),
        invoice.total.clone(),
        invoice.discount.clone().and_then(|discount| match discount.value {
            Discount::Amount(value) => Some(At { value, place: discount.place }),
            Discount::Percent(_) => None,
        }),
    ];
    let others = own.map(|line| (line.price.currency, &line.price.place));
    let paid: Vec<At<Money>> = stated_payments(&invoice.payments).collect();
    let items = amounts.iter().flatten().chain(&paid).map(|at| (at.value.currency(), &at.place));
    for (other, place) in others.chain(items) {
        if other != currency {
            report.add(
                Fault::error(
                    Code::Contradiction,
                    format!("invoice {} is in {currency} and in {other}", invoice.number),
                )
                .at(place, "this amount")
                .also(&first.price.place, "its first price")
                .help("an invoice has one currency: split it into two [[invoice]] tables"),
            );
        }
    }
}

fn invoice(row: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Option<Invoice> {
    let supplier = row.required_text("supplier", report);
    let number = row.required_text("number", report);
    let term = row.required::<DeliveryTerm>("term", report);
    let price_valid = row.required::<Window>("price-valid", report);
    let includes = legs(row, report);
    let import_tax = import_tax(row, term.as_ref(), &includes, report);
    let packing = packing_terms(row, report);
    let discount = discount(row, report);
    let commission = commission(row, report);
    let free_slabs = row.texts("free-slabs", report);
    let rounding = row.optional::<Money>("rounding", report);
    let total = row.optional::<Money>("total", report);
    let stated = stated(row, report);
    let additions = additions(row, report);
    let uses = [(ExchangeUse::Book, "book"), (ExchangeUse::Contract, "contract")];
    let exchange = row.word("exchange", &uses, report);
    let payments = payments(row, &tariffs.calendars, report);
    let invoice = Invoice {
        supplier: supplier?.value,
        number: number?.value,
        term: term?,
        price_valid: price_valid?,
        includes,
        import_tax,
        packing: packing?,
        discount,
        commission,
        free_slabs,
        rounding,
        total,
        stated,
        additions,
        exchange: exchange.map_or(ExchangeUse::Book, |at| at.value),
        payments,
        place: row.place(),
    };
    for stated in &invoice.stated {
        is_in_price(&invoice, stated, report);
    }
    Some(invoice)
}

/// What an invoice states of a leg that its price does not hold would come out of nothing.
fn is_in_price(invoice: &Invoice, stated: &StatedLeg, report: &mut Report) {
    let word = stated.leg.word();
    let (message, help) = if stated.leg == Leg::Goods {
        let message = "goods are what is left of the price, and are not stated apart".to_owned();
        (message, "remove it; what is taken off the price is a `discount`")
    } else if matches!(invoice.packing, PackingTerms::Invoiced(_))
        && stated.leg == Leg::ExportPacking
    {
        let message = "the packing is billed beside the price, and is not inside it".to_owned();
        (message, "remove it, or write packing = \"in price\"")
    } else if invoice.leaves(stated.leg) {
        let message =
            format!("{} leaves \"{word}\" to the importer: it is not in the price", *invoice.term);
        (message, "remove it, or name the leg in `includes` where the price holds it all the same")
    } else {
        return;
    };
    report.add(
        Fault::error(Code::Contradiction, message)
            .at(&stated.place, "stated as inside the price")
            .also(&invoice.term.place, "the term")
            .help(help),
    );
}

fn legs(row: &Table<'_>, report: &mut Report) -> Vec<Leg> {
    let mut legs = Vec::new();
    for text in row.texts("includes", report) {
        match Leg::ALL.iter().find(|(_, word)| *word == text.value) {
            Some((leg, _)) => legs.push(*leg),
            None => {
                let names: Vec<&str> = Leg::ALL.iter().map(|(_, word)| *word).collect();
                report.add(table::unknown_word("includes", &text, &names));
            }
        }
    }
    legs
}

/// `import-tax = "in price"` (the rule) or `"apart"`, under a price that holds the duty.
fn import_tax(
    row: &Table<'_>,
    term: Option<&At<DeliveryTerm>>,
    includes: &[Leg],
    report: &mut Report,
) -> ImportTax {
    let Some(word) = row.word("import-tax", &ImportTax::ALL, report) else {
        return ImportTax::InPrice;
    };
    let holds_duty = |term: &At<DeliveryTerm>| {
        term.bearer(Leg::DutyAndTax) == Bearer::Seller || includes.contains(&Leg::DutyAndTax)
    };
    if let Some(term) = term.filter(|term| !holds_duty(term)) {
        let message = "`import-tax` is about a price that holds the duty: delivered duty paid";
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&word.place, "under this term the importer pays duty and tax")
                .also(&term.place, "the term")
                .help("leave `import-tax` out"),
        );
    }
    word.value
}

/// `packing = "in price"` (the rule), `"apart"`, or an amount on the invoice.
fn packing_terms(row: &Table<'_>, report: &mut Report) -> Option<PackingTerms> {
    let Some(text) = row.text("packing", report) else {
        return (!row.has("packing")).then_some(PackingTerms::InPrice);
    };
    match text.value.as_str() {
        "in price" => Some(PackingTerms::InPrice),
        "apart" => Some(PackingTerms::Apart(text.place)),
        _ => {
            let amount = row.optional::<Money>("packing", report)?;
            Some(PackingTerms::Invoiced(amount))
        }
    }
}

fn discount(row: &Table<'_>, report: &mut Report) -> Option<At<Discount>> {
    let text = row.text("discount", report)?;
    if text.value.trim_end().ends_with('%') {
        let percent = row.optional::<Percent>("discount", report)?;
        if percent.fraction() > Decimal::ONE {
            report.add(
                Fault::error(Code::OutOfRange, "`discount` is more than the whole")
                    .at(&percent.place, "expected 0 to 100 %"),
            );
            return None;
        }
        Some(percent.map(Discount::Percent))
    } else {
        row.optional::<Money>("discount", report).map(|at| at.map(Discount::Amount))
    }
}

fn commission(row: &Table<'_>, report: &mut Report) -> Option<Commission> {
    let inside = row.inside("commission", report)?;
    let rate = inside.required::<Percent>("rate", report);
    let kinds = [(false, "buying"), (true, "selling")];
    let selling = inside.required_word("agent", &kinds, report);
    inside.finish(report);
    let rate = rate?;
    if rate.fraction().is_sign_negative() {
        report.add(
            Fault::error(Code::OutOfRange, "a commission is below nothing")
                .at(&rate.place, "expected nothing or more")
                .help("what the supplier gives back is a `discount`"),
        );
        return None;
    }
    Some(Commission { rate, selling: selling?.value })
}

/// `[[invoice.stated]]`: legs inside the price that the invoice states apart.
fn stated(row: &Table<'_>, report: &mut Report) -> Vec<StatedLeg> {
    let mut all: Vec<StatedLeg> = Vec::new();
    for one in row.rows("stated", report) {
        let leg = one.required_word("leg", &Leg::ALL, report);
        let amount = one.required::<Money>("amount", report);
        let evidence = named(one.text("evidence", report), "evidence", report);
        let through = named(one.text("through", report), "through", report);
        one.finish(report);
        let (Some(leg), Some(amount)) = (leg, amount) else { continue };
        if let Some(first) = all.iter().find(|stated| stated.leg == leg.value) {
            report.add(
                Fault::error(Code::Duplicate, format!("\"{}\" is stated twice", leg.value.word()))
                    .at(&leg.place, "again here")
                    .also(&first.place, "first here")
                    .help("it would come out of the customs value twice: state the sum once"),
            );
            continue;
        }
        all.push(StatedLeg { leg: leg.value, place: leg.place, amount, evidence, through });
    }
    all
}

/// The name of a document, which must say something: blanks are no evidence.
fn named(text: Option<At<String>>, key: &str, report: &mut Report) -> Option<String> {
    let text = text?;
    if text.value.trim().is_empty() {
        report.add(
            Fault::error(Code::MissingKey, format!("`{key}` names no document"))
                .at(&text.place, "nothing is here")
                .help("name the paper, such as \"freight invoice 4711\", or leave the key out"),
        );
        return None;
    }
    Some(text.value)
}

/// `[[invoice.addition]]`: what the customs value has beside the price.
fn additions(row: &Table<'_>, report: &mut Report) -> Vec<Addition> {
    let mut all = Vec::new();
    for one in row.rows("addition", report) {
        let name = one.required_text("name", report);
        let amount = one.required::<Money>("amount", report);
        one.finish(report);
        if let (Some(name), Some(amount)) = (name, amount) {
            all.push(Addition { name: name.value, amount });
        }
    }
    all
}

fn line(
    row: &Table<'_>,
    invoice: usize,
    invoice_origin: Option<&At<Country>>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Option<(Line, Option<Nominal>)> {
    let id = row.required_text("id", report);
    let stone = row.required_text("stone", report);
    let finish = row.required_text("finish", report);
    let thickness = row.required::<Length>("thickness", report);
    let price = row.required::<Price>("price", report);
    let measure = match row.inside("measure", report) {
        Some(inside) => measure(&inside, price.as_ref(), report),
        None => Some(Measure { unit: usual_unit(price.as_ref()), ..Measure::default() }),
    };
    let billed = billed(row, price.as_ref(), report);
    let origin = row.optional::<Country>("origin", report);
    let form = row.text("form", report);
    let producer = row.text("producer", report);
    let preference = row.text("preference", report);
    let nominal = nominal_quantity(row, report);
    let unclear = nominal.is_none() && NOMINAL.iter().any(|key| row.has(key));
    let stone = stone?;
    let known = tariffs.stone(&stone);
    if known.is_none() {
        let names: Vec<&str> = tariffs.stones.iter().map(|one| one.id.as_str()).collect();
        table::add_unknown("stone", &stone, "rates/stones.toml", &names, report);
    }
    let thickness = thickness?;
    if thickness.mm_down() < THINNEST_MM || thickness.mm_up() > THICKEST_MM {
        report.add(
            Fault::error(Code::OutOfRange, "`thickness` is no thickness of a slab")
                .at(&thickness.place, format!("expected {THINNEST_MM} to {THICKEST_MM} mm")),
        );
        return None;
    }
    let origin = origin.or(invoice_origin.cloned()).map(|at| at.value);
    let origin = origin.or_else(|| known.map(|stone| stone.origin.clone()))?;
    let line = Line {
        invoice,
        id: id?.value,
        stone,
        finish: finish?.value,
        thickness: thickness.value,
        price: price?,
        measure: measure?,
        origin,
        form: form.map(|at| at.value),
        producer: producer.map(|at| at.value),
        preference: preference.map(|at| at.value),
        billed,
        nominal: nominal.is_some(),
        place: row.place(),
    };
    unit_fits_measure(&line, report);
    if line.price.amount.is_zero() {
        report.add(
            Fault::warning(Code::Notice, format!("line {} is priced at nothing", line.id))
                .at(&line.price.place, "its goods cost nothing")
                .help(
                    "slabs given without charge are named in `free-slabs`, at the line's own price",
                ),
        );
    }
    (!unclear).then_some((line, nominal))
}

/// A price per square metre needs an area billed in square metres, and feet need feet.
fn unit_fits_measure(line: &Line, report: &mut Report) {
    let feet = matches!(line.measure.unit, BilledUnit::Ft2(_));
    let wrong = match line.price.by {
        PricedBy::M2 | PricedBy::M3 => feet,
        PricedBy::Ft2 => !feet,
        _ => false,
    };
    if wrong {
        report.add(
            Fault::error(
                Code::Contradiction,
                format!(
                    "line {} is priced per {} and measured otherwise",
                    line.id,
                    line.price.by.word()
                ),
            )
            .at(&line.price.place, "the price")
            .help(match line.price.by {
                PricedBy::M3 => "a volume is an area in m2 times the thickness: leave `unit` out",
                _ => "leave `unit` of the measure out, and it is the price's",
            }),
        );
    }
}

/// The keys of a nominal quantity.
const NOMINAL: [&str; 4] = ["quantity", "bundles", "slabs", "size"];

/// The thinnest and thickest slab that is sawn (a choice of ours).
const THINNEST_MM: i64 = 2;
const THICKEST_MM: i64 = 500;

/// More slabs than any line has (a choice of ours): a slip of the unit or the point.
const MOST_SLABS: u32 = 100_000;

/// More slabs than any bundle has (a choice of ours).
const MOST_IN_BUNDLE: u32 = 1_000;

fn nominal_quantity(row: &Table<'_>, report: &mut Report) -> Option<Nominal> {
    let quantity = row.optional::<Area>("quantity", report);
    let bundles = row.count("bundles", report);
    let slabs = row.count("slabs", report);
    let size = row.optional::<Size>("size", report);
    let read = [quantity.is_some(), bundles.is_some(), slabs.is_some(), size.is_some()];
    if NOMINAL.iter().zip(read).any(|(key, read)| row.has(key) && !read) {
        return None;
    }
    let first = NOMINAL.iter().find(|key| row.has(key))?;
    let mut is_something = true;
    let mut above_nothing = |key: &str, is_above: bool| {
        if !is_above {
            report.add(
                Fault::error(
                    Code::OutOfRange,
                    format!("`{key}` of a nominal quantity is nothing or less"),
                )
                .at(&row.place_of(key), "expected more than nothing")
                .help("state what is to be bought, or leave the line out"),
            );
            is_something = false;
        }
    };
    above_nothing("quantity", quantity.as_ref().is_none_or(|at| !at.is_none()));
    above_nothing("bundles", bundles.as_ref().is_none_or(|at| at.value > 0));
    above_nothing("slabs", slabs.as_ref().is_none_or(|at| at.value > 0));
    let is_side = |size: &At<Size>| !size.length.is_none() && !size.height.is_none();
    above_nothing("size", size.as_ref().is_none_or(is_side));
    if !is_something {
        return None;
    }
    let fault = |message: &str, label: String| {
        Fault::error(Code::OutOfRange, message).at(&row.place_of(first), label)
    };
    match (quantity, bundles, slabs, size) {
        (Some(quantity), None, None, None) => {
            Some(Nominal::Area { area: quantity.value, place: quantity.place })
        }
        (None, Some(bundles), Some(slabs), Some(size)) => {
            let (bundles, slabs) = (bundles.value, slabs.value);
            if !packing::is_side(size.length) || !packing::is_side(size.height) {
                let label = "expected sides of 0.1 m to 6 m";
                report.add(
                    Fault::error(Code::OutOfRange, "`size` is no size of a slab")
                        .at(&size.place, label),
                );
                return None;
            }
            if bundles.checked_mul(slabs).is_none_or(|all| all > MOST_SLABS) {
                let label = format!("expected at most {MOST_SLABS} slabs in all");
                report.add(fault("a nominal quantity is too large", label));
                return None;
            }
            Some(Nominal::Bundles { bundles, slabs, size: size.value, place: size.place })
        }
        _ => {
            report.add(
                Fault::error(Code::Contradiction, "a nominal quantity is not complete")
                    .at(&row.place_of(first), "this alone does not say how much")
                    .help("state quantity = \"420 m2\", or all of bundles, slabs and size"),
            );
            None
        }
    }
}

/// The unit an area is billed in where the measure does not say: the price's.
fn usual_unit(price: Option<&At<Price>>) -> BilledUnit {
    match price.map(|price| price.by) {
        Some(PricedBy::Ft2) => BilledUnit::Ft2(None),
        _ => BilledUnit::M2,
    }
}

fn measure(row: &Table<'_>, price: Option<&At<Price>>, report: &mut Report) -> Option<Measure> {
    let take_off = row.inside("take-off", report).map(|inside| {
        let length = inside.required::<Length>("length", report);
        let height = inside.required::<Length>("height", report);
        inside.finish(report);
        length
            .zip(height)
            .map(|(length, height)| Size { length: length.value, height: height.value })
    });
    let step = row.optional::<Length>("side", report);
    let modes = [(Rounding::Down, "down"), (Rounding::Nearest, "nearest")];
    let side_rounding = row.word("side-rounding", &modes, report);
    let order =
        row.word("side-order", &[(true, "before take-off"), (false, "after take-off")], report);
    let factor = row.text("factor", report);
    let unit = row.word("unit", &[(false, "m2"), (true, "ft2")], report);
    let places = row.count("places", report);
    let modes = [(Rounding::Nearest, "nearest"), (Rounding::Down, "down"), (Rounding::Up, "up")];
    let rounding = row.word("rounding", &modes, report);
    let money = [
        (MoneyRounding::Slab, "slab"),
        (MoneyRounding::Line, "line"),
        (MoneyRounding::Invoice, "invoice"),
    ];
    let money = row.word("money", &money, report);
    row.finish(report);
    if step.is_none() && (side_rounding.is_some() || order.is_some()) {
        report.add(
            Fault::error(Code::MissingKey, "sides are rounded, but to no step")
                .at(&row.place(), "`side` is needed here")
                .help("add side = \"1 cm\""),
        );
    }
    let factor = match &factor {
        None => None,
        Some(text) if text.value == "exact" => None,
        Some(text) => match cells::number(&text.value) {
            Some(factor) if factor > Decimal::TEN && factor < Decimal::from(12) => Some(factor),
            _ => {
                report.add(
                    Fault::error(
                        Code::BadQuantity,
                        "`factor` is no number of square feet in a square metre",
                    )
                    .at(&text.place, "expected \"exact\" or a number such as \"10.764\""),
                );
                return None;
            }
        },
    };
    let feet = unit.map_or(usual_unit(price) != BilledUnit::M2, |unit| unit.value);
    if places.as_ref().is_some_and(|places| places.value > 6) {
        report.add(
            Fault::error(Code::OutOfRange, "`places` is more than 6")
                .at(&row.place(), "in this measure"),
        );
        return None;
    }
    Some(Measure {
        take_off: match take_off {
            Some(read) => Some(read?),
            None => None,
        },
        side: step.map(|step| SideRounding {
            step: step.value,
            rounding: side_rounding.map_or(Rounding::Down, |at| at.value),
            before_take_off: order.is_none_or(|at| at.value),
        }),
        unit: if feet { BilledUnit::Ft2(factor) } else { BilledUnit::M2 },
        places: places.map(|at| at.value),
        rounding: rounding.map_or(Rounding::Nearest, |at| at.value),
        money: money.map_or(MoneyRounding::Line, |at| at.value),
    })
}

/// Reads the packing list, where a line needs one. `None`: the faults are in the report.
fn list(
    path: &Path,
    name: &str,
    draft: &Draft,
    tariffs: &Tariffs,
    timber: &Timber,
    report: &mut Report,
) -> Option<List> {
    if path.exists() {
        let source = files::read(path, name, report)?;
        let packing =
            packing::packing(&source, &draft.lines, tariffs, timber, draft.all_lines, report)?;
        return Some(List::Listed(packing, source.line(1)));
    }
    let listed: Vec<&Line> = draft.lines.iter().filter(|line| !line.nominal).collect();
    for line in &listed {
        report.add(
            Fault::error(
                Code::MissingKey,
                format!("line {} has neither slabs nor a nominal quantity", line.id),
            )
            .at(&line.place, format!("and there is no {name}"))
            .help("list its slabs in packing.csv, or state quantity = \"420 m2\", or bundles, slabs and size"),
        );
    }
    listed.is_empty().then_some(List::NotNeeded)
}

/// Makes up the slabs and bundles of nominal lines.
fn nominal(
    quantities: &[Option<Nominal>],
    shipment: &mut Shipment,
    tariffs: &Tariffs,
    timber: &Timber,
    report: &mut Report,
) {
    for (index, quantity) in quantities.iter().enumerate() {
        let (Some(quantity), Some(line)) = (quantity, shipment.lines.get(index)) else {
            continue;
        };
        let Some(stone) = tariffs.stone(&line.stone) else {
            continue;
        };
        let place = match quantity {
            Nominal::Bundles { place, .. } | Nominal::Area { place, .. } => place.clone(),
        };
        let made = match quantity {
            Nominal::Bundles { bundles, slabs, size, .. } => {
                let count = bundles.saturating_mul(*slabs).min(MOST_SLABS);
                Ok(vec![(*size, None); usize::try_from(count).unwrap_or(0)])
                    .map(|all| (all, usize::try_from(*slabs).unwrap_or(1)))
            }
            Nominal::Area { area, .. } => {
                let Some(assumed) = &tariffs.nominal else {
                    if report.has_errors_in("rates/crating.toml") {
                        continue;
                    }
                    report.add(
                        Fault::error(Code::MissingKey, "rates/crating.toml has no [nominal]")
                            .at(&place, "a quantity without slabs needs a slab to assume")
                            .help("add [nominal] with size, bundle-mass and source, or state bundles, slabs and size here"),
                    );
                    continue;
                };
                let most = assumed.size.area().and_then(|one| one.times(Decimal::from(MOST_SLABS)));
                if most.is_ok_and(|most| *area > most) {
                    report.add(
                        Fault::error(Code::OutOfRange, "a nominal quantity is too large").at(
                            &place,
                            format!("expected at most {MOST_SLABS} slabs of the assumed size"),
                        ),
                    );
                    continue;
                }
                if let PricedBy::Slab | PricedBy::Bundle = line.price.by {
                    report.add(made_up_count(line, &place, &assumed.place));
                }
                slabs_of_area(*area, assumed.size, line, stone, assumed.bundle_mass)
            }
        };
        let added = made.and_then(|(sizes, per_bundle)| {
            add_nominal(&sizes, per_bundle, index, shipment, stone, timber, &place)
        });
        if let Err(overflow) = added {
            report.add(
                Fault::error(Code::Overflow, overflow.to_string())
                    .at(&place, "from the figures here"),
            );
        }
    }
}

/// A price by the piece on a quantity by area: how many pieces there are is an assumption.
fn made_up_count(line: &Line, quantity: &Place, assumed: &Place) -> Fault {
    let by = line.price.by.word();
    let message = format!(
        "line {} is priced per {by}, and how many there are rests on the slab that is assumed",
        line.id
    );
    Fault::warning(Code::Notice, message)
        .at(quantity, "a quantity by area")
        .also(assumed, "the slab that is assumed")
        .help("state bundles, slabs and size instead, as the supplier offers them")
}

/// A nominal slab: its size, and its billed area where that is not the size's.
type NominalSize = (Size, Option<Area>);

/// Full slabs of the assumed size, and a last one with the area that remains.
fn slabs_of_area(
    area: Area,
    size: Size,
    line: &Line,
    stone: &Stone,
    bundle_mass: Mass,
) -> Result<(Vec<NominalSize>, usize), Overflow> {
    let full = size.area()?;
    let mut rest = area;
    let mut slabs = Vec::new();
    while rest > full {
        slabs.push((size, Some(full)));
        rest = rest.minus(full)?;
    }
    slabs.push((size, Some(rest)));
    let slab_mass = Mass::of_area(full, mass_per_m2(stone, line.thickness)?)?;
    let mut per_bundle = 1;
    while per_bundle < MOST_IN_BUNDLE
        && slab_mass.times(Decimal::from(per_bundle + 1))? <= bundle_mass
    {
        per_bundle += 1;
    }
    Ok((slabs, usize::try_from(per_bundle).unwrap_or(1)))
}

fn add_nominal(
    sizes: &[NominalSize],
    per_bundle: usize,
    line_index: usize,
    shipment: &mut Shipment,
    stone: &Stone,
    timber: &Timber,
    place: &Place,
) -> Result<(), Overflow> {
    let overflow = Overflow { what: "a nominal quantity" };
    let line = shipment.lines.get(line_index).ok_or(overflow)?;
    let (id, thickness, measure) = (line.id.clone(), line.thickness, line.measure);
    let per_m2 = mass_per_m2(stone, thickness)?;
    for (number, chunk) in sizes.chunks(per_bundle.max(1)).enumerate() {
        let bundle_index = u32::try_from(shipment.bundles.len()).map_err(|_| overflow)?;
        let mut stone_mass = Mass::ZERO;
        for (position, (size, area)) in chunk.iter().enumerate() {
            let (gross_area, billed) = match area {
                Some(area) => (*area, measure.billed_area(*area)?),
                None => (size.area()?, measure.billed(measure.sides(*size)?)?),
            };
            let mass = Mass::of_area(gross_area, per_m2)?;
            stone_mass = stone_mass.plus(mass)?;
            shipment.slabs.push(Slab {
                id: format!("{id}{}-{}", number + 1, position + 1).into(),
                line: u32::try_from(line_index).map_err(|_| overflow)?,
                bundle: bundle_index,
                row: 0,
                gross_area,
                billed_area: billed,
                mass,
            });
        }
        let size = chunk.first().ok_or(overflow)?.0;
        let count = Decimal::from(chunk.len());
        let films = timber.between.times(count - Decimal::ONE)?;
        let margin = Decimal::ONE + stone.thickness_margin.fraction();
        shipment.bundles.push(Bundle {
            id: format!("{id}{}", number + 1).into(),
            block: None,
            slabs: chunk.len(),
            mass: stone_mass.plus(timber.mass)?,
            limit_mass: stone_mass.times(margin)?.plus(timber.mass)?,
            weighed: false,
            may_turn: false,
            length: size.length.plus(timber.length)?,
            width: thickness.times(count)?.plus(films)?.plus(timber.width)?,
            height: size.height.plus(timber.height)?,
            place: place.clone(),
        });
    }
    Ok(())
}

/// Types named by the shipment, the list or the plan must be in the table of containers.
fn check_boxes(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) {
    let known: Vec<&str> = tariffs.containers.iter().map(|kind| kind.id.as_str()).collect();
    let boxes = || shipment.boxes.iter().chain(&shipment.load.fixed);
    let given = boxes().filter_map(|one: &GivenBox| one.kind.as_ref());
    for name in shipment.containers.iter().chain(given) {
        if !known.contains(&name.value.as_str()) {
            table::add_unknown("container type", name, "rates/containers.toml", &known, report);
        }
    }
    for one in boxes() {
        check_offers(&one.offers, tariffs, report);
    }
}

/// Bundles whose names differ in capital letters alone: two they are, but somebody meant one.
fn check_names(shipment: &Shipment, report: &mut Report) {
    let ascends = |pair: &[Bundle]| match pair {
        [one, next] => {
            let folded = |byte: u8| byte.to_ascii_lowercase();
            let is_plain = one.id.is_ascii() && next.id.is_ascii();
            is_plain && one.id.bytes().map(folded).lt(next.id.bytes().map(folded))
        }
        _ => true,
    };
    // Most lists have their bundles in order, and then no two are alike.
    if shipment.bundles.windows(2).all(ascends) {
        return;
    }
    let mut seen: BTreeMap<String, &Bundle> = BTreeMap::new();
    for bundle in &shipment.bundles {
        let Some(first) = seen.insert(bundle.id.to_lowercase(), bundle) else { continue };
        if first.id == bundle.id {
            // Names on a list are told apart when it is read: this one is made up.
            report.add(made_up_twice("bundle", &bundle.id, &bundle.place, &first.place));
            continue;
        }
        report.add(
            Fault::warning(
                Code::Notice,
                format!("bundles \"{}\" and \"{}\" differ in capitals alone", first.id, bundle.id),
            )
            .at(&bundle.place, "taken for a bundle of its own")
            .also(&first.place, "the other")
            .help("if they are one bundle, write its name alike"),
        );
    }
}

/// Slabs of nominal lines have names of our making, and a packing list may have them as well.
fn check_made_up_slabs(shipment: &Shipment, report: &mut Report) {
    // Those of the list come first.
    if !shipment.is_nominal() || shipment.slabs.first().is_none_or(|slab| slab.row == 0) {
        return;
    }
    let is_made_up = |slab: &&Slab| slab.row == 0;
    let made_up: BTreeMap<&str, &Slab> =
        shipment.slabs.iter().filter(is_made_up).map(|slab| (&*slab.id, slab)).collect();
    for listed in shipment.slabs.iter().filter(|slab| slab.row > 0) {
        let Some(slab) = made_up.get(&*listed.id) else { continue };
        let place = |slab: &Slab| {
            let bundle = shipment.bundles.get(usize::try_from(slab.bundle).ok()?);
            bundle.map(|bundle| &bundle.place)
        };
        if let (Some(own), Some(first)) = (place(slab), place(listed)) {
            report.add(made_up_twice("slab", &slab.id, own, first));
        }
    }
}

fn made_up_twice(what: &str, name: &str, place: &Place, first: &Place) -> Fault {
    let message =
        format!("the {what} \"{name}\" is made up for a nominal line, and another is called so");
    Fault::error(Code::Duplicate, message)
        .at(place, "made up for this quantity")
        .also(first, "the one of that name")
        .help("made-up names are the line's `id` and a number: give the line another `id`")
}

/// Free slabs must be slabs of the invoice that gives them.
fn check_free_slabs(shipment: &Shipment, report: &mut Report) {
    for (index, invoice) in shipment.invoices.iter().enumerate() {
        for name in &invoice.free_slabs {
            let slab = shipment.slabs.iter().find(|slab| *slab.id == *name.value);
            let line = slab.and_then(|slab| shipment.lines.get(usize::try_from(slab.line).ok()?));
            if line.is_none_or(|line| line.invoice != index) && !shipment.slabs.is_empty() {
                report.add(
                    Fault::error(
                        Code::UnknownReference,
                        format!("no slab is called \"{}\"", name.value),
                    )
                    .at(&name.place, format!("none of invoice {}", invoice.number))
                    .help("a free slab is named by its number on the packing list, and billed by this invoice"),
                );
            }
        }
    }
}
