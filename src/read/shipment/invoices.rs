//! Invoices of a shipment, with what their terms leave open.

use super::super::keys::{each, is_starter};
use super::super::payments::{payments, stated as stated_payments};
use super::super::table::{self, Table};
use super::line::line;
use super::nominal::Nominal;
use super::prices::counted_together;
use super::sawn::{Offered, block_lines, blocks};
use super::ways::Way;
use crate::fault::{At, Code, Fault, Report, Reported};
use crate::quantity::{Decimal, Money, Percent};
use crate::trade::{
    Addition, BasisAdjustment, Bearer, Commission, Country, Date, DeliveryTerm, Discount,
    ExchangeUse, Framework, ImportTax, Invoice, Least, Leg, Line, NamedPort, PackingTerms,
    StatedLeg, Tariffs, Window, Yard, ports_called,
};

pub(super) struct Invoices {
    pub(super) invoices: Vec<Invoice>,
    pub(super) lines: Vec<Line>,
    pub(super) nominal: Vec<Option<Nominal>>,
    /// Whether every invoice could be read.
    pub(super) all_invoices: Result<(), Reported>,
    /// Whether every line could be read.
    pub(super) all_lines: Result<(), Reported>,
}

/// Reads the invoices as they are written, or as a way has them.
pub(super) fn invoices<'a>(
    top: &Table<'a>,
    way: Option<&Way<'a>>,
    quoted: Option<Date>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Invoices {
    let mut all = Invoices {
        invoices: Vec::new(),
        lines: Vec::new(),
        nominal: Vec::new(),
        all_invoices: Ok(()),
        all_lines: Ok(()),
    };
    let rows = some_rows(top, "invoice", "the shipment has no [[invoice]]", report);
    let rows = rows.unwrap_or_else(|told| {
        (all.all_invoices, all.all_lines) = (Err(told), Err(told));
        Vec::new()
    });
    let rows: Vec<Table<'_>> = match way {
        Some(way) => rows.into_iter().enumerate().map(|(at, row)| way.invoice(at, row)).collect(),
        None => rows,
    };
    // Before the lines that saw them, wherever they stand.
    let mut bought = Vec::new();
    let mut all_blocks = Ok(());
    for (index, row) in rows.iter().enumerate() {
        match blocks(row, index, tariffs, report) {
            Ok(own) => bought.extend(own),
            Err(told) => all_blocks = Err(told),
        }
    }
    let offered = Offered { blocks: &bought, all_blocks, quoted };
    for (index, row) in rows.iter().enumerate() {
        let origin = row.optional::<Country>("origin", report);
        let producer = row.text("producer", report);
        let line_rows = if row.has("block") {
            only_blocks(row, report)
        } else {
            some_rows(row, "line", "an invoice has no [[invoice.line]]", report)
        };
        let line_rows = line_rows.unwrap_or_else(|told| {
            all.all_lines = Err(told);
            Vec::new()
        });
        let lines = line_rows.into_iter().map(|line_row| match way {
            Some(way) => way.line(index, line_row),
            None => line_row,
        });
        let line_rows: Vec<Table<'_>> = lines.collect();
        for line_row in &line_rows {
            let origin = origin.as_ref().map(Option::as_ref).map_err(|told| *told);
            let read = line(line_row, index, origin, &offered, tariffs, report);
            let read = read.and_then(|(mut line, quantity)| {
                let producer = producer.as_ref().map_err(|told| *told)?;
                line.producer = line.producer.or_else(|| producer.clone().map(|at| at.value));
                if let Some(first) = all.lines.iter().find(|one| one.id == line.id) {
                    let message = format!("two lines are called \"{}\"", line.id);
                    return Err(report.error(
                        Fault::error(Code::Duplicate, message)
                            .at(&line_row.place_of("id"), "again here")
                            .also(&first.place, "first here")
                            .help(format!("call this one id = \"{}\"", free_name(&all.lines))),
                    ));
                }
                Ok((line, quantity))
            });
            match read {
                Ok((line, quantity)) => {
                    all.lines.push(line);
                    all.nominal.push(quantity);
                }
                Err(told) => all.all_lines = Err(told),
            }
        }
        let read = invoice(row, tariffs, report);
        // Now that the keys of both are known, one that stands in the other's table is sent home.
        for line_row in &line_rows {
            line_row.finish(report);
        }
        row.finish(report);
        match read {
            Ok(invoice) => all.invoices.push(invoice),
            Err(told) => all.all_invoices = Err(told),
        }
    }
    let own = block_lines(bought, (&all.lines, all.all_lines.and(all_blocks)), report);
    all.nominal.extend(own.iter().map(|_| None));
    all.lines.extend(own);
    all.all_lines = all.all_lines.and(all_blocks);
    for (index, invoice) in all.invoices.iter().enumerate().filter(|_| all.all_invoices.is_ok()) {
        one_currency(invoice, index, &all.lines, report);
        counted_together(&all.lines, index, report);
    }
    full_containers(&all.invoices, report);
    all
}

/// The lines of an invoice of blocks: none, and nothing that is counted by the slab.
fn only_blocks<'a>(row: &Table<'a>, report: &mut Report) -> Result<Vec<Table<'a>>, Reported> {
    let lines = row.rows("line", report)?;
    let stray = ["line", "least", "free-slabs"].into_iter().find(|key| row.has(key));
    if let Some(key) = stray {
        report.add(
            Fault::error(Code::Contradiction, format!("an invoice of blocks has `{key}`"))
                .at(&row.place_of(key), "it is for slabs")
                .also(&row.place_of("block"), "the blocks")
                .help("bill slabs on an [[invoice]] of their own"),
        );
    }
    Ok(lines)
}

/// A name that no line has yet: the first letter that is free, or a number.
fn free_name(lines: &[Line]) -> String {
    let is_free = |name: &String| lines.iter().all(|line| line.id != *name);
    let mut letters = ('A'..='Z').map(String::from);
    letters.find(is_free).unwrap_or_else(|| format!("A{}", lines.len() + 1))
}

/// The rows of an array of which there is at least one.
fn some_rows<'a>(
    table: &Table<'a>,
    key: &'static str,
    lacks: &str,
    report: &mut Report,
) -> Result<Vec<Table<'a>>, Reported> {
    let rows = table.rows(key, report)?;
    if rows.is_empty() {
        let fault = Fault::error(Code::MissingKey, lacks).at(&table.place(), "add one");
        return Err(table.lacks(&[key], fault, report));
    }
    Ok(rows)
}

/// Full containers are counted of a shipment that one supplier fills.
fn full_containers(invoices: &[Invoice], report: &mut Report) {
    let [_, _, ..] = invoices else { return };
    for least in invoices.iter().filter_map(|invoice| invoice.least.as_ref()) {
        if least.value.containers().is_some() {
            report.add(
                Fault::error(
                    Code::Contradiction,
                    "several invoices fill the containers together: `least` cannot count those of one",
                )
                .at(&least.place, "full containers of one invoice")
                .help("state the least order in m2, t, slabs or bundles"),
            );
        }
    }
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
    let others = std::iter::once(first).chain(own).flat_map(Line::prices);
    let others = others.map(|price| (price.currency, &price.place));
    let paid: Vec<At<Money>> = stated_payments(&invoice.payments).collect();
    let items = amounts.iter().flatten().chain(&paid).map(|at| (at.value.currency(), &at.place));
    for (other, place) in others.chain(items) {
        if other != currency {
            let source = report.source(&place.file);
            let written = source.and_then(|source| source.text.get(place.span.clone()));
            let meant = written.unwrap_or("").replace(other.code(), currency.code());
            report.add(
                Fault::error(
                    Code::Contradiction,
                    format!("invoice {} is in {currency} and in {other}", invoice.number),
                )
                .at(place, "this amount")
                .also(&first.price.place, "its first price")
                .help(format!(
                    "is {meant} meant? goods in {other} stand in an [[invoice]] of their own"
                )),
            );
        }
    }
}

/// The delivery term. Where a port stands by its name, `rates/ports.toml` has its code.
fn term(
    row: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<At<DeliveryTerm>, Reported> {
    let Some((rule, place)) = DeliveryTerm::in_words(row.text_of("term")) else {
        return row.required("term", report);
    };
    let text = row.required_text("term", report)?;
    let letters = rule.letters();
    let message = format!("`term` cannot be read: \"{}\"", text.value);
    let fault = |told: &str| {
        Fault::error(Code::BadQuantity, message.clone()).at(&text.place, told.to_owned())
    };
    let called = ports_called(&tariffs.ports, place);
    let fault = match &called[..] {
        [port] => {
            let named_place = port.code.code().to_owned();
            return Ok(text.map(|_| DeliveryTerm { rule, named_place }));
        }
        [] => {
            report.sound_in("rates/ports.toml")?;
            let names: Vec<&str> = tariffs.ports.iter().flat_map(NamedPort::names).collect();
            let fault = fault("rates/ports.toml has no port of this name");
            let help = match table::nearest(place, &names) {
                Some(near) => format!("did you mean \"{letters} {near}\"?"),
                None => format!(
                    "write the port's five characters by UN/LOCODE, such as \"{letters} TRIZM\", or add its name to rates/ports.toml."
                ),
            };
            fault.help(format!("{help} `quaystone rates --ports` lists the names"))
        }
        several => {
            let codes: Vec<String> =
                several.iter().map(|port| format!("\"{letters} {}\"", port.code)).collect();
            fault("several ports have this name").help(format!("write {}", codes.join(" or ")))
        }
    };
    Err(report.error(fault))
}

pub(super) fn invoice(
    row: &Table<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Invoice, Reported> {
    let supplier = row.required_text("supplier", report);
    let number = row.required_text("number", report);
    let part = row.text("part", report);
    let term = term(row, tariffs, report);
    let price_valid = row.required::<Window>("price-valid", report);
    let starter = is_starter(row, report);
    let includes = row.words("includes", &Leg::ALL, report);
    let import_tax = import_tax(row, (term.as_ref().ok(), includes.as_ref().ok()), report);
    let packing = packing_terms(row, report);
    let least = row.optional::<Least>("least", report);
    let discount = discount(row, report);
    let commission = commission(row, report);
    let free_slabs = row.texts("free-slabs", report);
    let rounding = row.optional::<Money>("rounding", report);
    let total = row.optional::<Money>("total", report);
    let control = row.date("control", report);
    let basis_adjustment = basis_adjustment(row, report);
    let stated = stated(row, report);
    let additions = additions(row, report);
    let uses = [(ExchangeUse::Book, "book"), (ExchangeUse::Contract, "contract")];
    let exchange = row.word("exchange", &uses, report);
    let payments = payments(row, &tariffs.calendars, report);
    let invoice = Invoice {
        supplier: supplier?.value,
        number: number?.value,
        part: part?.map(|at| at.value),
        term: term?,
        price_valid: price_valid?,
        is_starter: starter?,
        includes: includes?,
        import_tax: import_tax?,
        packing: packing?,
        least: least?,
        discount: discount?,
        commission: commission?,
        free_slabs: free_slabs?,
        rounding: rounding?,
        total: total?,
        control: control?,
        basis_adjustment: basis_adjustment?,
        stated: stated?,
        additions: additions?,
        exchange: exchange?.map_or(ExchangeUse::Book, |at| at.value),
        payments: payments?,
        of_blocks: row.has("block"),
        place: row.place(),
    };
    for stated in &invoice.stated {
        is_in_price(&invoice, stated, report);
    }
    Ok(invoice)
}

/// An invoice cannot state apart a leg that its price does not hold.
fn is_in_price(invoice: &Invoice, stated: &StatedLeg, report: &mut Report) {
    let word = stated.leg.word();
    let (message, help) = if stated.leg == Leg::Goods {
        let message = "the goods are the rest of the price: they are not stated".to_owned();
        (message, "remove it; write a reduction of the price as `discount`")
    } else if matches!(invoice.packing, PackingTerms::Invoiced(_))
        && stated.leg == Leg::ExportPacking
    {
        let message = "the packing is billed beside the price, so it is not inside it".to_owned();
        (message, "remove it, or write packing = \"in price\"")
    } else if invoice.leaves(stated.leg) {
        let message =
            format!("{} leaves \"{word}\" to the importer: it is not in the price", *invoice.term);
        (message, "remove it, or name the leg in `includes` if the price holds it")
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

/// `import-tax = "in price"` (the rule) or `"apart"`, under a price that holds the duty.
fn import_tax(
    row: &Table<'_>,
    (term, includes): (Option<&At<DeliveryTerm>>, Option<&Vec<Leg>>),
    report: &mut Report,
) -> Result<ImportTax, Reported> {
    let Some(word) = row.word("import-tax", &ImportTax::ALL, report)? else {
        return Ok(ImportTax::InPrice);
    };
    let holds_duty = |term: &At<DeliveryTerm>| {
        let is_included = includes.is_none_or(|legs| legs.contains(&Leg::DutyAndTax));
        term.bearer(Leg::DutyAndTax) == Bearer::Seller || is_included
    };
    if let Some(term) = term.filter(|term| !holds_duty(term)) {
        let message = "`import-tax` is for a price delivered duty paid";
        report.add(
            Fault::error(Code::Contradiction, message)
                .at(&word.place, "under this term the importer pays duty and tax")
                .also(&term.place, "the term")
                .help("leave `import-tax` out"),
        );
    }
    Ok(word.value)
}

/// `packing = "in price"` (the rule), `"apart"`, or an amount on the invoice.
fn packing_terms(row: &Table<'_>, report: &mut Report) -> Result<PackingTerms, Reported> {
    let Some(text) = row.text("packing", report)? else {
        return Ok(PackingTerms::InPrice);
    };
    match text.value.as_str() {
        "in price" => Ok(PackingTerms::InPrice),
        "apart" => Ok(PackingTerms::Apart(text.place)),
        _ => Ok(PackingTerms::Invoiced(row.required::<Money>("packing", report)?)),
    }
}

fn discount(row: &Table<'_>, report: &mut Report) -> Result<Option<At<Discount>>, Reported> {
    row.no_bare_percentage("discount", ", or an amount with its currency", report)?;
    let Some(text) = row.text("discount", report)? else { return Ok(None) };
    if text.value.trim_end().ends_with('%') {
        let percent = row.required::<Percent>("discount", report)?;
        if percent.fraction() > Decimal::ONE {
            return Err(report.error(
                Fault::error(Code::OutOfRange, "`discount` must be 0 to 100 %")
                    .at(&percent.place, "expected 0 to 100 %"),
            ));
        }
        Ok(Some(percent.map(Discount::Percent)))
    } else {
        Ok(Some(row.required::<Money>("discount", report)?.map(Discount::Amount)))
    }
}

fn commission(row: &Table<'_>, report: &mut Report) -> Result<Option<Commission>, Reported> {
    let Some(inside) = row.inside("commission", report)? else { return Ok(None) };
    let rate = inside.required::<Percent>("rate", report);
    let kinds = [(false, "buying"), (true, "selling")];
    let selling = inside.required_word("agent", &kinds, report);
    inside.finish(report);
    let rate = rate?;
    if rate.fraction().is_sign_negative() {
        return Err(report.error(
            Fault::error(Code::OutOfRange, "a commission must be 0 or more")
                .at(&rate.place, "expected 0 or more")
                .help("what the supplier gives back is a `discount`"),
        ));
    }
    Ok(Some(Commission { rate, selling: selling?.value }))
}

/// `basis-adjustment = { amount = "-100.00 USD", source = "hedge file 7" }`.
fn basis_adjustment(
    row: &Table<'_>,
    report: &mut Report,
) -> Result<Option<BasisAdjustment>, Reported> {
    let Some(inside) = row.inside("basis-adjustment", report)? else { return Ok(None) };
    let amount = inside.required::<Money>("amount", report);
    let source = inside.required_text("source", report);
    inside.finish(report);
    Ok(Some(BasisAdjustment { amount: amount?, source: source?.value }))
}

/// An adjustment of the goods' cost by a hedge is in the books' currency, and none under US GAAP.
pub(super) fn adjusts(invoice: &Invoice, yard: &Yard, report: &mut Report) {
    let Some(BasisAdjustment { amount, .. }) = &invoice.basis_adjustment else { return };
    if yard.framework == Framework::UsGaap {
        report.add(
            Fault::error(Code::Contradiction, "US GAAP adjusts no cost of goods by a hedge")
                .at(&amount.place, "a basis adjustment")
                .also(&yard.place, "framework = \"us-gaap\"")
                .help("remove it: what the hedge came to waits in other comprehensive income until the goods are sold (ASC 815-30-35, from guidance)"),
        );
    } else if amount.currency() != yard.currency {
        report.add(
            Fault::error(Code::Contradiction, "a basis adjustment is not in the books' currency")
                .at(&amount.place, format!("the yard keeps its books in {}", yard.currency))
                .also(&yard.place, "the yard")
                .help("state what the hedge file has in the books' currency"),
        );
    }
}

/// `[[invoice.stated]]`: legs inside the price that the invoice states apart.
pub(super) fn stated(row: &Table<'_>, report: &mut Report) -> Result<Vec<StatedLeg>, Reported> {
    let read = each(row, "stated", report, |one, report| {
        let leg = one.required_word("leg", &Leg::ALL, report);
        let amount = one.required::<Money>("amount", report);
        let evidence = named(one.text("evidence", report), "evidence", report);
        let through = named(one.text("through", report), "through", report);
        let bill = one.text("bill", report);
        let key = one.word("key", &[(true, "value")], report);
        let key = key?;
        let by_price = key.is_some();
        if let Some(key) = key {
            report.add(
                Fault::warning(
                    Code::Notice,
                    "carriage is split by price here, and it is not charged by price",
                )
                .at(&key.place, "asked for here")
                .help("leave `key` out: it is split by boxes, and inside a box by mass"),
            );
        }
        let leg = leg?;
        Ok(StatedLeg {
            leg: leg.value,
            place: leg.place,
            amount: amount?,
            evidence: evidence?,
            through: through?,
            by_price,
            bill: bill?,
        })
    })?;
    let mut all: Vec<StatedLeg> = Vec::new();
    for one in read {
        // A sum for all the goods and one for a bill of them would overlap.
        let overlaps = |stated: &&StatedLeg| {
            stated.leg == one.leg
                && (stated.bill.is_none() || one.bill.is_none() || stated.bill == one.bill)
        };
        if let Some(first) = all.iter().find(overlaps) {
            report.add(
                Fault::error(Code::Duplicate, format!("\"{}\" is stated twice", one.leg.word()))
                    .at(&one.place, "again here")
                    .also(&first.place, "first here")
                    .help("it would come out of the customs value twice: state the sum once"),
            );
            continue;
        }
        all.push(one);
    }
    Ok(all)
}

/// The name of a document, which must say something: blanks are no evidence.
pub(super) fn named(
    text: Result<Option<At<String>>, Reported>,
    key: &str,
    report: &mut Report,
) -> Result<Option<String>, Reported> {
    let Some(text) = text? else { return Ok(None) };
    if text.value.trim().is_empty() {
        return Err(report.error(
            Fault::error(Code::MissingKey, format!("`{key}` names no document"))
                .at(&text.place, "nothing is here")
                .help("name the paper, such as \"freight invoice 4711\", or leave the key out"),
        ));
    }
    Ok(Some(text.value))
}

/// `[[invoice.addition]]`: what the customs value has beside the price.
fn additions(row: &Table<'_>, report: &mut Report) -> Result<Vec<Addition>, Reported> {
    each(row, "addition", report, |one, report| {
        let name = one.required_text("name", report);
        let amount = one.required::<Money>("amount", report);
        Ok(Addition { name: name?.value, amount: amount? })
    })
}
