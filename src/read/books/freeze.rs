//! A booked estimate from its files. A file that is not as it was written is a fault: figures of the books stand
//! on it.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use crate::fault::{At, Code, Fault, Report, Reported, Source};
use crate::files;
use crate::quantity::{Area, Currency, Decimal, Mass, Money, Percent, Quote, Weights};
use crate::read::keys::each;
use crate::read::rows::{Row, each_row};
use crate::read::table::{self, Table};
use crate::read::workspace::Workspace;
use crate::trade::{
    Basis, Framework, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow, FrozenSlab, Key, Leg,
    Sharing, Treatment,
};

/// The folder of a shipment's books.
pub fn freeze_folder(workspace: &Workspace, shipment: &str) -> PathBuf {
    workspace.root().join("books").join(shipment)
}

/// The booked estimate of a shipment; `None`: it is not booked.
///
/// # Errors
/// Where its files cannot be read, or are not as they were written.
pub fn booked(
    workspace: &Workspace,
    shipment: &str,
    report: &mut Report,
) -> Result<Option<Freeze>, Reported> {
    let folder = freeze_folder(workspace, shipment);
    if !folder.join("freeze.toml").exists() {
        return Ok(None);
    }
    let mut source = |name: &str| {
        let path = folder.join(name);
        files::read(&path, &workspace.name_of(&path), report)
    };
    let sources = [source("freeze.toml"), source("slabs.csv"), source("shares.csv")];
    let [head, slabs, shares] = sources;
    let (head, slabs, shares) = (head?, slabs?, shares?);
    is_whole(&head, [&slabs, &shares], report)?;
    let mut freeze = table::parse(&head, report, freeze)?;
    freeze.slabs = read_slabs(&slabs, &freeze, report)?;
    freeze.sharings = read_shares(&shares, &freeze, report)?;
    let last = freeze.sharings.len();
    let is_off = |charge: &FrozenCharge| charge.sharing >= last || charge.row >= freeze.rows.len();
    if freeze.charges.iter().any(is_off) {
        return Err(broken(&head, report));
    }
    Ok(Some(freeze))
}

fn broken(source: &Source, report: &mut Report) -> Reported {
    report.error(
        Fault::error(Code::Contradiction, format!("{} is not as it was booked", source.name))
            .at(&source.line(1), "the digest is not that of the files")
            .help("take the files of this folder back from version control: what happens after the booking is an event of events.toml"),
    )
}

/// Whether the files are as they were written.
fn is_whole(
    head: &Source,
    [slabs, shares]: [&Arc<Source>; 2],
    report: &mut Report,
) -> Result<(), Reported> {
    let (first, rest) = head.text.split_once('\n').unwrap_or((&head.text, ""));
    let stated = first.strip_prefix("digest = \"sha256 ").and_then(|one| one.strip_suffix('"'));
    match stated {
        Some(stated) if stated == files::digest(&[rest, &slabs.text, &shares.text]) => Ok(()),
        _ => Err(broken(head, report)),
    }
}

fn freeze(top: &Table<'_>, report: &mut Report) -> Result<Freeze, Reported> {
    let digest = top.required_text("digest", report);
    let shipment = top.required_text("shipment", report);
    let version = top.required_text("version", report);
    let quoted = top.required_date("quoted", report);
    let delivered = top.required_date("delivered", report);
    let yard = top.required_text("yard", report);
    let framework = top.required_word("framework", &Framework::ALL, report);
    let currency = top.required::<Currency>("currency", report);
    let proof = top.required_text("proof", report);
    let offers = each(top, "offer", report, |row, report| {
        let (table, offer) =
            (row.required_text("table", report), row.required_text("offer", report));
        Ok((table?.value, offer?.value))
    });
    let boxes = each(top, "container", report, |row, report| {
        let (label, kind) = (row.required_text("label", report), row.required_text("type", report));
        let mut text = |key| row.text(key, report).map(|at| at.map(|at| at.value));
        let (number, bill) = (text("number"), text("bill"));
        Ok(FrozenBox { label: label?.value, kind: kind?.value, number: number?, bill: bill? })
    });
    let lines = each(top, "line", report, line);
    let rows = each(top, "row", report, |row, report| {
        let (source, text) = (row.required_text("source", report), row.texts("text", report));
        let text: Vec<String> = text?.into_iter().map(|line| line.value).collect();
        Ok(FrozenRow { source: source?.value, text: text.join("\n") })
    });
    let charges = each(top, "charge", report, charge);
    digest?;
    Ok(Freeze {
        shipment: shipment?.value,
        version: version?.value,
        quoted: quoted?.value,
        delivered: delivered?.value,
        yard: yard?.value,
        framework: framework?.value,
        currency: currency?.value,
        offers: offers?,
        proof: proof?.value,
        boxes: boxes?,
        lines: lines?,
        rows: rows?,
        charges: charges?,
        sharings: Vec::new(),
        slabs: Vec::new(),
        place: top.place(),
    })
}

fn line(row: &Table<'_>, report: &mut Report) -> Result<FrozenLine, Reported> {
    let mut text = |key| row.required_text(key, report).map(|at| at.value);
    let (id, invoice, supplier) = (text("id"), text("invoice"), text("supplier"));
    let (stone, finish, thickness) = (text("stone"), text("finish"), text("thickness"));
    let normal_loss = row.optional::<Percent>("normal-loss", report);
    let mut maybe = |key| row.text(key, report).map(|at| at.map(|at| at.value));
    // A booking of an earlier version has neither.
    let (bill, term) = (maybe("bill"), maybe("term"));
    Ok(FrozenLine {
        id: id?,
        invoice: invoice?,
        bill: bill?,
        term: term?.unwrap_or_default(),
        supplier: supplier?,
        stone: stone?,
        finish: finish?,
        thickness: thickness?,
        normal_loss: normal_loss?.map(|at| at.value),
    })
}

fn charge(row: &Table<'_>, report: &mut Report) -> Result<FrozenCharge, Reported> {
    let mut text = |key| row.text(key, report).map(|at| at.map(|at| at.value));
    let (reason, invoice, on) = (text("reason"), text("invoice"), text("on"));
    let mut needed = |key| row.required_text(key, report).map(|at| at.value);
    let (key, name, payee) = (needed("key"), needed("name"), needed("payee"));
    let leg = row.required_word("leg", &Leg::ALL, report);
    let treatment = row.required_word("treatment", &Treatment::ALL, report);
    let basis = row.required_word("basis", &Basis::ALL, report);
    let by = row.required_word("by", &Key::ALL, report);
    let no_money = row.flag("moves-no-money", report);
    let owed = row.required_date("owed", report);
    let worked = row.texts("worked", report);
    let (amount, book) =
        (row.required::<Money>("amount", report), row.required::<Money>("book", report));
    let percent = row.optional::<Percent>("percent", report);
    let base = row.optional::<Money>("base", report);
    let rate = row.optional::<Quote>("rate", report);
    let planned = row.flag("planned", report);
    let (of_row, sharing) =
        (row.required_count("row", report), row.required_count("sharing", report));
    let whole = |count: At<u32>| usize::try_from(count.value).unwrap_or(usize::MAX);
    let is_set = |flag: Option<At<bool>>| flag.is_some_and(|at| at.value);
    Ok(FrozenCharge {
        key: key?,
        name: name?,
        on: on?.unwrap_or_default(),
        leg: leg?.value,
        treatment: treatment?.value,
        reason: reason?,
        basis: basis?.value,
        by: by?.value,
        payee: payee?,
        invoice: invoice?,
        moves_no_money: is_set(no_money?),
        owed: owed?.value,
        worked: worked?.into_iter().map(|line| line.value).collect(),
        part: percent?.zip(base?).map(|(percent, base)| (percent.value, base.value)),
        amount: amount?.value,
        book: book?.value,
        rate: rate?.map(|at| at.value),
        is_planned: is_set(planned?),
        row: whole(of_row?),
        sharing: whole(sharing?),
    })
}

/// Reads the rows after the first, which names their cells.
fn read_rows(
    source: &Source,
    report: &mut Report,
    mut read: impl FnMut(&Row<'_>) -> Option<()>,
) -> Result<(), Reported> {
    let mut is_sound = true;
    let mut is_first = true;
    let told = each_row(&source.text, b',', |row| {
        is_sound &= std::mem::take(&mut is_first) || read(row).is_some();
    });
    if told.is_err() || !is_sound { Err(broken(source, report)) } else { Ok(()) }
}

fn read_slabs(
    source: &Source,
    freeze: &Freeze,
    report: &mut Report,
) -> Result<Vec<FrozenSlab>, Reported> {
    let lines: BTreeMap<&str, usize> =
        freeze.lines.iter().enumerate().map(|(at, line)| (line.id.as_str(), at)).collect();
    let boxes: BTreeMap<&str, usize> =
        freeze.boxes.iter().enumerate().map(|(at, one)| (one.label.as_str(), at)).collect();
    let mut all = Vec::new();
    read_rows(source, report, |row| {
        let maybe = |text: &str| Some(SmolStr::from(text)).filter(|text| !text.is_empty());
        let figure = |text: &str| Decimal::from_str_exact(text).ok();
        all.push(FrozenSlab {
            id: row.get(0)?.into(),
            line: *lines.get(row.get(1)?)?,
            bundle: row.get(2)?.into(),
            container: *boxes.get(row.get(3)?)?,
            block: maybe(row.get(4)?),
            quality: maybe(row.get(5)?),
            gross: Area::m2(figure(row.get(6)?)?).ok()?,
            billed: Area::m2(figure(row.get(7)?)?).ok()?,
            mass: Mass::kg(figure(row.get(8)?)?).ok()?,
        });
        Some(())
    })?;
    Ok(all)
}

fn read_shares(
    source: &Source,
    freeze: &Freeze,
    report: &mut Report,
) -> Result<Vec<Sharing>, Reported> {
    let known: FxHashMap<&str, usize> =
        freeze.slabs.iter().enumerate().map(|(at, slab)| (slab.id.as_str(), at)).collect();
    let digits = usize::try_from(freeze.currency.minor_digits()).unwrap_or(0);
    let mut rows = Vec::new();
    // Slabs follow each other as they are packed.
    let mut next = 0;
    read_rows(source, report, |row| {
        let slab = row.get(1)?;
        let at = match freeze.slabs.get(next) {
            Some(one) if one.id == slab => next,
            _ => *known.get(slab)?,
        };
        next = at + 1;
        let share = minor(row.get(3)?, digits)?;
        rows.push((row.get(0)?.parse::<usize>().ok()?, at, SmolStr::from(row.get(2)?), share));
        Some(())
    })?;
    let mut all = Vec::new();
    for own in rows.chunk_by(|one, other| one.0 == other.0) {
        let weights = Weights::of_digits(own.iter().map(|(.., weight, _)| weight.as_str()));
        let is_next = own.first().is_some_and(|first| first.0 == all.len());
        let Some(weights) = weights.filter(|_| is_next) else { return Err(broken(source, report)) };
        let slabs = own.iter().map(|(_, slab, ..)| *slab).collect();
        all.push(Sharing {
            slabs,
            weights,
            shares: own.iter().map(|(.., share)| *share).collect(),
        });
    }
    Ok(all)
}

/// An amount with all its decimals, in minor units.
fn minor(text: &str, digits: usize) -> Option<i64> {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    let sign = if whole.starts_with('-') { -1 } else { 1 };
    let (whole, rest) = (
        whole.parse::<i64>().ok()?,
        if digits == 0 { 0 } else { decimals.parse::<u32>().ok()?.into() },
    );
    let unit = 10_i64.checked_pow(u32::try_from(digits).ok()?)?;
    whole.checked_mul(unit)?.checked_add(sign * rest).filter(|_| decimals.len() == digits)
}
