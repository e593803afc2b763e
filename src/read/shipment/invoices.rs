//! Invoices of a shipment, with what their terms leave open.

use super::super::payments::{payments, stated as stated_payments};
use super::super::table::{self, Table};
use super::line::line;
use super::nominal::Nominal;
use super::ways::Way;
use crate::fault::{At, Code, Fault, Report};
use crate::quantity::{Decimal, Money, Percent};
use crate::trade::{
    Addition, BasisAdjustment, Bearer, Commission, Country, DeliveryTerm, Discount, ExchangeUse,
    Framework, ImportTax, Invoice, Leg, Line, PackingTerms, StatedLeg, Tariffs, Window, Yard,
};

pub(super) struct Invoices {
    pub(super) invoices: Vec<Invoice>,
    pub(super) lines: Vec<Line>,
    pub(super) nominal: Vec<Option<Nominal>>,
    pub(super) all_lines: bool,
}

/// Reads the invoices as they are written, or as a way has them.
pub(super) fn invoices<'a>(
    top: &Table<'a>,
    way: Option<&Way<'a>>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Invoices {
    let mut all =
        Invoices { invoices: Vec::new(), lines: Vec::new(), nominal: Vec::new(), all_lines: true };
    let rows = top.rows("invoice", report);
    if rows.is_empty() {
        all.all_lines = false;
        if !top.has("invoice") {
            top.lacks(
                &["invoice"],
                Fault::error(Code::MissingKey, "the shipment has no [[invoice]]")
                    .at(&top.place(), "add one"),
                report,
            );
        }
    }
    for (index, row) in rows.into_iter().enumerate() {
        let row = match way {
            Some(way) => way.invoice(index, row),
            None => row,
        };
        let origin = row.optional::<Country>("origin", report);
        let producer = row.text("producer", report);
        let line_rows = row.rows("line", report);
        if line_rows.is_empty() {
            all.all_lines = false;
            if !row.has("line") {
                row.lacks(
                    &["line"],
                    Fault::error(Code::MissingKey, "an invoice has no [[invoice.line]]")
                        .at(&row.place(), "add one"),
                    report,
                );
            }
        }
        for line_row in line_rows {
            let line_row = match way {
                Some(way) => way.line(index, line_row),
                None => line_row,
            };
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
        let read = invoice(&row, tariffs, report);
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

pub(super) fn invoice(row: &Table<'_>, tariffs: &Tariffs, report: &mut Report) -> Option<Invoice> {
    let supplier = row.required_text("supplier", report);
    let number = row.required_text("number", report);
    let part = row.text("part", report);
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
        part: part.map(|at| at.value),
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
        control,
        basis_adjustment,
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
        let message = "the goods cannot be stated: they are the rest of the price".to_owned();
        (message, "remove it; what is taken off the price is a `discount`")
    } else if matches!(invoice.packing, PackingTerms::Invoiced(_))
        && stated.leg == Leg::ExportPacking
    {
        let message = "the packing is billed beside the price, so it is not inside it".to_owned();
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
        let message = "`import-tax` is for a price delivered duty paid";
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
                Fault::error(Code::OutOfRange, "`discount` must be 0 to 100 %")
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
            Fault::error(Code::OutOfRange, "a commission must be 0 or more")
                .at(&rate.place, "expected 0 or more")
                .help("what the supplier gives back is a `discount`"),
        );
        return None;
    }
    Some(Commission { rate, selling: selling?.value })
}

/// `basis-adjustment = { amount = "-100.00 USD", source = "hedge file 7" }`.
fn basis_adjustment(row: &Table<'_>, report: &mut Report) -> Option<BasisAdjustment> {
    let inside = row.inside("basis-adjustment", report)?;
    let amount = inside.required::<Money>("amount", report);
    let source = inside.required_text("source", report);
    inside.finish(report);
    Some(BasisAdjustment { amount: amount?, source: source?.value })
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
pub(super) fn stated(row: &Table<'_>, report: &mut Report) -> Vec<StatedLeg> {
    let mut all: Vec<StatedLeg> = Vec::new();
    for one in row.rows("stated", report) {
        let leg = one.required_word("leg", &Leg::ALL, report);
        let amount = one.required::<Money>("amount", report);
        let evidence = named(one.text("evidence", report), "evidence", report);
        let through = named(one.text("through", report), "through", report);
        let bill = one.text("bill", report);
        let key = one.word("key", &[(true, "value")], report);
        one.finish(report);
        let (Some(leg), Some(amount)) = (leg, amount) else { continue };
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
        // A sum for all the goods and one for a bill of them would overlap.
        let overlaps = |stated: &&StatedLeg| {
            stated.leg == leg.value
                && (stated.bill.is_none() || bill.is_none() || stated.bill == bill)
        };
        if let Some(first) = all.iter().find(overlaps) {
            report.add(
                Fault::error(Code::Duplicate, format!("\"{}\" is stated twice", leg.value.word()))
                    .at(&leg.place, "again here")
                    .also(&first.place, "first here")
                    .help("it would come out of the customs value twice: state the sum once"),
            );
            continue;
        }
        all.push(StatedLeg {
            leg: leg.value,
            place: leg.place,
            amount,
            evidence,
            through,
            by_price,
            bill,
        });
    }
    all
}

/// The name of a document, which must say something: blanks are no evidence.
pub(super) fn named(text: Option<At<String>>, key: &str, report: &mut Report) -> Option<String> {
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
