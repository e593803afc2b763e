//! A booked estimate from its files. A file that is not as it was written is a fault: figures of the books stand
//! on it.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::sync::Arc;

use rustc_hash::FxHashMap;
use smol_str::SmolStr;

use crate::fault::{Code, Fault, Report, Reported, Source};
use crate::files;
use crate::quantity::{
    Area, Currency, Decimal, Mass, Money, Percent, Quote, Weights, Written, WrittenWeights,
};
use crate::read::keys::each;
use crate::read::rows::{Row, each_row};
use crate::read::table::{self, Table};
use crate::read::workspace::Workspace;
use crate::trade::{
    Basis, FREEZE_LISTS, Framework, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow,
    FrozenSlab, Key, Leg, Sharing, Treatment,
};

/// The folder of a shipment's books.
pub fn freeze_folder(workspace: &Workspace, shipment: &str) -> PathBuf {
    workspace.root().join("books").join(shipment)
}

/// Whether what only explains an estimate is read: the text of rows, and how amounts came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Workings {
    /// It is.
    Read,
    /// It is left out: figures need none of it, and it is half of an estimate.
    LeftOut,
}

/// The booked estimate of a shipment; `None`: it is not booked.
///
/// # Errors
/// Where its files cannot be read, or are not as they were written.
pub fn booked(
    workspace: &Workspace,
    shipment: &str,
    workings: Workings,
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
    let (head, lists) = (source("freeze.toml"), FREEZE_LISTS.map(source));
    let (head, [charges, texts, slabs, shares]) = (head?, lists);
    let lists = [charges?, texts?, slabs?, shares?];
    is_whole(&head, lists.each_ref(), report)?;
    let [charges, texts, slabs, shares] = lists;
    let mut freeze = table::parse(&head, report, freeze)?;
    freeze.charges = read_charges(&charges, report)?;
    freeze.slabs = read_slabs(&slabs, &freeze, report)?;
    freeze.sharings = read_shares(&shares, &freeze, report)?;
    if workings == Workings::Read {
        read_workings(&texts, &mut freeze, report)?;
    }
    let last = freeze.sharings.len();
    if freeze.charges.iter().any(|charge| charge.sharing >= last) {
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
fn is_whole(head: &Source, lists: [&Arc<Source>; 4], report: &mut Report) -> Result<(), Reported> {
    let (first, rest) = head.text.split_once('\n').unwrap_or((&head.text, ""));
    let stated = first.strip_prefix("digest = \"sha256 ").and_then(|one| one.strip_suffix('"'));
    let [charges, texts, slabs, shares] = lists.map(|list| &*list.text);
    match stated {
        Some(stated) if stated == files::digest(&[rest, charges, texts, slabs, shares]) => Ok(()),
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
        rows: Vec::new(),
        charges: Vec::new(),
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

fn read_charges(source: &Source, report: &mut Report) -> Result<Vec<FrozenCharge>, Reported> {
    let mut all = Vec::new();
    read_rows(source, report, |row| {
        all.push(charge(row, source)?);
        Some(())
    })?;
    Ok(all)
}

/// A quantity that may be left out.
fn quantity<T: Written>(text: &str) -> Result<Option<T>, ()> {
    if text.is_empty() { Ok(None) } else { T::read(text).map(Some).map_err(drop) }
}

/// One of a list of words.
fn word<T: Copy>(words: &[(T, &str)], text: &str) -> Option<T> {
    words.iter().find(|(_, word)| *word == text).map(|(value, _)| *value)
}

/// A row of [`CHARGE_COLUMNS`]; `None` where a cell does not hold what was written there.
fn charge(row: &Row<'_>, source: &Source) -> Option<FrozenCharge> {
    let mut next = 0;
    let mut cell = || {
        next += 1;
        row.exact(next - 1)
    };
    let text = |text: &str| Some(text.to_owned()).filter(|text| !text.is_empty());
    let maybe = |text: &str| Some(SmolStr::from(text)).filter(|text| !text.is_empty());
    Some(FrozenCharge {
        key: cell()?.into(),
        name: cell()?.into(),
        on: cell()?.to_owned(),
        leg: word(&Leg::ALL, cell()?)?,
        treatment: word(&Treatment::ALL, cell()?)?,
        reason: text(cell()?),
        basis: word(&Basis::ALL, cell()?)?,
        by: word(&Key::ALL, cell()?)?,
        payee: cell()?.into(),
        invoice: maybe(cell()?),
        moves_no_money: !cell()?.is_empty(),
        owed: cell()?.parse().ok()?,
        worked: Vec::new(),
        part: {
            let percent = quantity::<Percent>(cell()?).ok()?;
            percent.zip(quantity::<Money>(cell()?).ok()?)
        },
        amount: Money::read(cell()?).ok()?,
        book: Money::read(cell()?).ok()?,
        rate: quantity::<Quote>(cell()?).ok()?,
        is_planned: !cell()?.is_empty(),
        row: cell()?.parse().ok()?,
        sharing: cell()?.parse().ok()?,
        place: source.line_at(row.line, row.start),
    })
}

/// Reads the text of rows, and how amounts came about.
fn read_workings(
    source: &Source,
    freeze: &mut Freeze,
    report: &mut Report,
) -> Result<(), Reported> {
    let Freeze { rows, charges, .. } = freeze;
    read_rows(source, report, |row| {
        let (of, text) = (row.get(0)?, row.exact(2)?);
        let at: usize = row.get(1)?.parse().ok()?;
        match of {
            "source" => {
                rows.push(FrozenRow { source: text.to_owned(), text: String::new() });
            }
            "row" => {
                let own = &mut rows.get_mut(at)?.text;
                if !own.is_empty() {
                    own.push('\n');
                }
                own.push_str(text);
            }
            _ => charges.get_mut(at)?.worked.push(text.to_owned()),
        }
        Some(())
    })?;
    let last = freeze.rows.len();
    if freeze.charges.iter().any(|charge| charge.row >= last) {
        return Err(broken(source, report));
    }
    Ok(())
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
    let mut all: Vec<Sharing> = Vec::new();
    let mut weights = WrittenWeights::default();
    // Slabs follow each other as they are packed.
    let mut next = 0;
    let weigh = |all: &mut Vec<Sharing>, weights: &mut WrittenWeights| {
        if let Some(last) = all.last_mut() {
            last.weights = weights.take();
        }
    };
    let room = |last: &Sharing| {
        (Vec::with_capacity(last.slabs.len()), Vec::with_capacity(last.shares.len()))
    };
    read_rows(source, report, |row| {
        let (sharing, slab) = (row.exact(0)?.parse::<usize>().ok()?, row.exact(1)?);
        let at = match freeze.slabs.get(next) {
            Some(one) if one.id == slab => next,
            _ => *known.get(slab)?,
        };
        next = at + 1;
        if sharing == all.len() {
            weigh(&mut all, &mut weights);
            // Most lists have as many slabs as the one before.
            let (slabs, shares) = all.last().map_or_else(Default::default, room);
            all.push(Sharing { slabs, weights: Weights::equal(0), shares });
        }
        weights.push(row.exact(2)?)?;
        let is_last = sharing + 1 == all.len();
        let last = all.last_mut().filter(|_| is_last)?;
        last.slabs.push(at);
        last.shares.push(minor(row.exact(3)?, digits)?);
        Some(())
    })?;
    weigh(&mut all, &mut weights);
    Ok(all)
}

/// An amount with all its decimals, in minor units.
fn minor(text: &str, digits: usize) -> Option<i64> {
    let (figures, is_below) = match text.strip_prefix('-') {
        Some(figures) => (figures, true),
        None => (text, false),
    };
    let mut units = 0_i64;
    let mut decimals = None;
    for byte in figures.bytes() {
        if byte == b'.' && decimals.is_none() {
            decimals = Some(0);
            continue;
        }
        let figure = byte.checked_sub(b'0').filter(|figure| *figure < 10)?;
        units = units.checked_mul(10)?.checked_add(figure.into())?;
        decimals = decimals.map(|count| count + 1);
    }
    let is_whole = !figures.is_empty() && decimals.unwrap_or(0) == digits;
    is_whole.then_some(if is_below { -units } else { units })
}
