//! A booked estimate as its files: `freeze.toml`, the charges, how they came about, the slabs, and what each bears.

use std::fmt::{self, Write};

use crate::files::digest;
use crate::quantity::{Money, Percent};
use crate::show::load::quoted;
use crate::trade::{CHARGE_COLUMNS, FREEZE_LISTS, Freeze};

/// The files of a freeze, each with its name in the folder of the shipment's books.
pub fn freeze_files(freeze: &Freeze) -> Vec<(String, String)> {
    let mut head = String::new();
    // Writing into a `String` cannot fail.
    let _ = body(freeze, &mut head);
    let lists = [charges_of(freeze), workings_of(freeze), slabs_of(freeze), shares_of(freeze)];
    let [charges, workings, slabs, shares] = &lists;
    let sum = digest(&[&head, charges, workings, slabs, shares]);
    let text = format!("digest = \"sha256 {sum}\"\n{head}");
    let names = FREEZE_LISTS.into_iter().map(str::to_owned).zip(lists);
    std::iter::once(("freeze.toml".to_owned(), text)).chain(names).collect()
}

fn body(freeze: &Freeze, out: &mut String) -> fmt::Result {
    let called = quoted(&freeze.shipment);
    writeln!(
        out,
        "# The estimate of {called} as it was booked. It is not edited: what happens later is an"
    )?;
    writeln!(
        out,
        "# event of events.toml. The digest is of all below it and of the lists beside this file.\n"
    )?;
    writeln!(out, "shipment = {called}")?;
    writeln!(out, "version = {}", quoted(&freeze.version))?;
    writeln!(out, "quoted = {}", freeze.quoted)?;
    writeln!(out, "delivered = {}", freeze.delivered)?;
    writeln!(out, "yard = {}", quoted(&freeze.yard))?;
    writeln!(out, "framework = {}", quoted(freeze.framework.word()))?;
    writeln!(out, "currency = \"{}\"", freeze.currency)?;
    writeln!(out, "proof = {}", quoted(&freeze.proof))?;
    for (table, offer) in &freeze.offers {
        writeln!(out, "\n[[offer]]\ntable = {}\noffer = {}", quoted(table), quoted(offer))?;
    }
    for one in &freeze.boxes {
        writeln!(
            out,
            "\n[[container]]\nlabel = {}\ntype = {}",
            quoted(&one.label),
            quoted(&one.kind)
        )?;
        if let Some(number) = &one.number {
            writeln!(out, "number = {}", quoted(number))?;
        }
        if let Some(bill) = &one.bill {
            writeln!(out, "bill = {}", quoted(bill))?;
        }
    }
    for line in &freeze.lines {
        writeln!(
            out,
            "\n[[line]]\nid = {}\ninvoice = {}",
            quoted(&line.id),
            quoted(&line.invoice)
        )?;
        if let Some(bill) = &line.bill {
            writeln!(out, "bill = {}", quoted(bill))?;
        }
        writeln!(out, "term = {}", quoted(&line.term))?;
        writeln!(out, "supplier = {}\nstone = {}", quoted(&line.supplier), quoted(&line.stone))?;
        writeln!(
            out,
            "finish = {}\nthickness = {}",
            quoted(&line.finish),
            quoted(&line.thickness)
        )?;
        if let Some(loss) = line.normal_loss {
            writeln!(out, "normal-loss = \"{loss}\"")?;
        }
    }
    Ok(())
}

/// A list as a file has it: every cell as it is, as it is read back.
fn list(write: impl FnOnce(&mut csv::Writer<&mut Vec<u8>>) -> csv::Result<()>) -> String {
    let mut out = Vec::new();
    // Writing to memory cannot fail.
    let _ = write(&mut csv::Writer::from_writer(&mut out));
    String::from_utf8(out).unwrap_or_default()
}

fn charges_of(freeze: &Freeze) -> String {
    list(|out| {
        out.write_record(CHARGE_COLUMNS)?;
        for one in &freeze.charges {
            let part = |text: fn(&(Percent, Money)) -> String| one.part.as_ref().map(text);
            let flag = |is: bool, word: &str| if is { word.to_owned() } else { String::new() };
            out.write_record([
                one.key.to_string(),
                one.name.to_string(),
                one.on.clone(),
                one.leg.word().to_owned(),
                one.treatment.word().to_owned(),
                one.reason.clone().unwrap_or_default(),
                one.basis.word().to_owned(),
                one.by.word().to_owned(),
                one.payee.to_string(),
                one.invoice.as_deref().unwrap_or_default().to_owned(),
                flag(one.moves_no_money, "no money moves"),
                one.owed.to_string(),
                part(|(percent, _)| percent.to_string()).unwrap_or_default(),
                part(|(_, base)| base.written()).unwrap_or_default(),
                one.amount.written(),
                one.book.written(),
                one.rate.map(|rate| rate.to_string()).unwrap_or_default(),
                flag(one.is_planned, "planned"),
                one.row.to_string(),
                one.sharing.to_string(),
            ])?;
        }
        Ok(())
    })
}

/// How the amount of each charge came about, and the row of a table that each stands on: line by line.
fn workings_of(freeze: &Freeze) -> String {
    list(|out| {
        out.write_record(["of", "at", "text"])?;
        for (at, row) in freeze.rows.iter().enumerate() {
            let at = at.to_string();
            out.write_record(["source", &at, &row.source])?;
            row.text.lines().try_for_each(|line| out.write_record(["row", &at, line]))?;
        }
        for (at, one) in freeze.charges.iter().enumerate() {
            let at = at.to_string();
            one.worked.iter().try_for_each(|line| out.write_record(["charge", &at, line]))?;
        }
        Ok(())
    })
}

fn slabs_of(freeze: &Freeze) -> String {
    list(|out| {
        out.write_record([
            "slab",
            "line",
            "bundle",
            "container",
            "block",
            "quality",
            "gross_m2",
            "billed_m2",
            "mass_kg",
        ])?;
        for slab in &freeze.slabs {
            let figures = [slab.gross.base(), slab.billed.base(), slab.mass.base()];
            let [gross, billed, mass] = figures.map(|figure| figure.normalize().to_string());
            out.write_record([
                slab.id.as_str(),
                freeze.lines.get(slab.line).map_or("", |line| line.id.as_str()),
                slab.bundle.as_str(),
                freeze.boxes.get(slab.container).map_or("", |one| one.label.as_str()),
                slab.block.as_deref().unwrap_or(""),
                slab.quality.as_deref().unwrap_or(""),
                gross.as_str(),
                &billed,
                &mass,
            ])?;
        }
        Ok(())
    })
}

fn shares_of(freeze: &Freeze) -> String {
    list(|out| {
        out.write_record(["sharing", "slab", "weight", "share"])?;
        for (at, sharing) in freeze.sharings.iter().enumerate() {
            for (position, (slab, share)) in sharing.slabs.iter().zip(&sharing.shares).enumerate() {
                let id = freeze.slabs.get(*slab).map_or("", |slab| slab.id.as_str());
                let share = Money::from_minor(*share, freeze.currency).amount().to_string();
                let weight = sharing.weights.digits(position);
                out.write_record([&at.to_string(), id, &weight, &share])?;
            }
        }
        Ok(())
    })
}
