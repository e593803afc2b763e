//! A booked estimate as its files: `freeze.toml`, the slabs, and what each of them bears.

use std::fmt::{self, Write};

use crate::files::digest;
use crate::quantity::Money;
use crate::show::load::quoted;
use crate::trade::{Freeze, FrozenCharge};

/// The files of a freeze, each with its name in the folder of the shipment's books.
pub fn freeze_files(freeze: &Freeze) -> Vec<(String, String)> {
    let (mut head, mut slabs, mut shares) = (String::new(), String::new(), String::new());
    // Writing into a `String` cannot fail.
    let _ = body(freeze, &mut head);
    let _ = slabs_of(freeze, &mut slabs);
    let _ = shares_of(freeze, &mut shares);
    let sum = digest(&[&head, &slabs, &shares]);
    let text = format!("digest = \"sha256 {sum}\"\n{head}");
    [("freeze.toml", text), ("slabs.csv", slabs), ("shares.csv", shares)]
        .map(|(name, text)| (name.to_owned(), text))
        .to_vec()
}

fn money(money: Money) -> String {
    format!("\"{} {}\"", money.amount(), money.currency())
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
    }
    for line in &freeze.lines {
        writeln!(
            out,
            "\n[[line]]\nid = {}\ninvoice = {}",
            quoted(&line.id),
            quoted(&line.invoice)
        )?;
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
    writeln!(out, "amount = {}\nbook = {}", money(one.amount), money(one.book))?;
    if let Some(rate) = &one.rate {
        writeln!(out, "rate = \"{rate}\"")?;
    }
    if one.is_planned {
        writeln!(out, "planned = true")?;
    }
    writeln!(out, "row = {}\nsharing = {}", one.row, one.sharing)
}

/// A cell, in quotes where it has to be.
fn cell(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        return format!("\"{}\"", text.replace('"', "\"\""));
    }
    text.to_owned()
}

fn slabs_of(freeze: &Freeze, out: &mut String) -> fmt::Result {
    writeln!(out, "slab,line,bundle,container,block,quality,gross_m2,billed_m2,mass_kg")?;
    for slab in &freeze.slabs {
        let line = freeze.lines.get(slab.line).map_or("", |line| &line.id);
        let inside = freeze.boxes.get(slab.container).map_or("", |one| &one.label);
        let words = [
            &slab.id,
            line,
            &slab.bundle,
            inside,
            slab.block.as_deref().unwrap_or(""),
            slab.quality.as_deref().unwrap_or(""),
        ];
        write!(out, "{}", words.map(cell).join(","))?;
        let figures = [slab.gross.base(), slab.billed.base(), slab.mass.base()];
        for figure in figures {
            write!(out, ",{}", figure.normalize())?;
        }
        writeln!(out)?;
    }
    Ok(())
}

fn shares_of(freeze: &Freeze, out: &mut String) -> fmt::Result {
    writeln!(out, "sharing,slab,weight,share")?;
    for (at, sharing) in freeze.sharings.iter().enumerate() {
        for (position, (slab, share)) in sharing.slabs.iter().zip(&sharing.shares).enumerate() {
            let id = freeze.slabs.get(*slab).map_or("", |slab| slab.id.as_str());
            let share = Money::from_minor(*share, freeze.currency).amount();
            writeln!(out, "{at},{},{},{share}", cell(id), sharing.weights.digits(position))?;
        }
    }
    Ok(())
}
