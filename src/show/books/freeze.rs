//! A booked estimate as its files: `freeze.toml`, the slabs, and what each of them bears.

use std::fmt::{self, Write};

use crate::files::digest;
use crate::quantity::Money;
use crate::show::load::quoted;
use crate::trade::{Freeze, FrozenCharge};

/// The files of a freeze, each with its name in the folder of the shipment's books.
pub fn freeze_files(freeze: &Freeze) -> Vec<(String, String)> {
    let mut head = String::new();
    // Writing into a `String` cannot fail.
    let _ = body(freeze, &mut head);
    let (slabs, shares) = (slabs_of(freeze), shares_of(freeze));
    let sum = digest(&[&head, &slabs, &shares]);
    let text = format!("digest = \"sha256 {sum}\"\n{head}");
    [("freeze.toml", text), ("slabs.csv", slabs), ("shares.csv", shares)]
        .map(|(name, text)| (name.to_owned(), text))
        .to_vec()
}

fn body(freeze: &Freeze, out: &mut String) -> fmt::Result {
    let called = quoted(&freeze.shipment);
    writeln!(
        out,
        "# The estimate of {called} as it was booked. It is not edited: what happens later is an"
    )?;
    writeln!(
        out,
        "# event of events.toml. The digest is of all below it, of slabs.csv and of shares.csv.\n"
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
    for row in &freeze.rows {
        writeln!(out, "\n[[row]]\nsource = {}\ntext = [", quoted(&row.source))?;
        for line in row.text.lines() {
            writeln!(out, "    {},", quoted(line))?;
        }
        writeln!(out, "]")?;
    }
    freeze.charges.iter().try_for_each(|one| charge(one, out))
}

fn charge(one: &FrozenCharge, out: &mut String) -> fmt::Result {
    writeln!(out, "\n[[charge]]\nkey = {}\nname = {}", quoted(&one.key), quoted(&one.name))?;
    writeln!(out, "on = {}\nleg = {}", quoted(&one.on), quoted(one.leg.word()))?;
    writeln!(out, "treatment = {}", quoted(one.treatment.word()))?;
    if let Some(reason) = &one.reason {
        writeln!(out, "reason = {}", quoted(reason))?;
    }
    writeln!(out, "basis = {}\nby = {}", quoted(one.basis.word()), quoted(one.by.word()))?;
    writeln!(out, "payee = {}", quoted(&one.payee))?;
    if let Some(invoice) = &one.invoice {
        writeln!(out, "invoice = {}", quoted(invoice))?;
    }
    if one.moves_no_money {
        writeln!(out, "moves-no-money = true")?;
    }
    writeln!(out, "owed = {}", one.owed)?;
    let worked: Vec<String> = one.worked.iter().map(|line| quoted(line)).collect();
    writeln!(out, "worked = [{}]", worked.join(", "))?;
    if let Some((percent, base)) = &one.part {
        writeln!(out, "percent = \"{percent}\"\nbase = \"{}\"", base.written())?;
    }
    writeln!(out, "amount = \"{}\"\nbook = \"{}\"", one.amount.written(), one.book.written())?;
    if let Some(rate) = &one.rate {
        writeln!(out, "rate = \"{rate}\"")?;
    }
    if one.is_planned {
        writeln!(out, "planned = true")?;
    }
    writeln!(out, "row = {}\nsharing = {}", one.row, one.sharing)
}

/// A list as a file has it: every cell as it is, as it is read back.
fn list(write: impl FnOnce(&mut csv::Writer<&mut Vec<u8>>) -> csv::Result<()>) -> String {
    let mut out = Vec::new();
    // Writing to memory cannot fail.
    let _ = write(&mut csv::Writer::from_writer(&mut out));
    String::from_utf8(out).unwrap_or_default()
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
