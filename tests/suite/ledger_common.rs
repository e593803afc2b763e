//! Invented books to post events in: an estimate made up of a few figures, its files, and the ledger of them.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;

use quaystone::fault::{Report, Source, render};
use quaystone::ledger::{Ledger, Reading, apart, fold, identities};
use quaystone::quantity::{Area, Currency, Decimal, Mass, Money, Percent, Quote, Weights, Written};
use quaystone::read::{self, Books, Shelf, Workspace};
use quaystone::show::freeze_files;
use quaystone::trade::{
    Account, Basis, Framework, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow, FrozenSlab,
    Key, Leg, Sharing, Treatment,
};

/// An estimate of equal slabs in boxes, all of one line of invoice "I-1" of "Quarry Inkwell".
pub(crate) struct Estimate {
    pub(crate) freeze: Freeze,
}

impl Estimate {
    /// So many slabs of 5 m2 called "S1" and on, dealt to so many boxes in turn.
    pub(crate) fn new(name: &str, currency: &str, slabs: usize, boxes: usize) -> Self {
        let slab = |at: usize| FrozenSlab {
            id: format!("S{}", at + 1).into(),
            line: 0,
            bundle: format!("B{}", at % boxes + 1).into(),
            container: at % boxes,
            block: None,
            quality: None,
            gross: Area::m2(Decimal::from(5)).unwrap(),
            billed: Area::m2(Decimal::from(5)).unwrap(),
            mass: Mass::kg(Decimal::from(270)).unwrap(),
        };
        let line = FrozenLine {
            id: "A".to_owned(),
            invoice: "I-1".to_owned(),
            bill: None,
            term: "FOB TRIZM".to_owned(),
            supplier: "Quarry Inkwell".to_owned(),
            stone: "chalk".to_owned(),
            finish: "polished".to_owned(),
            thickness: "20 mm".to_owned(),
            normal_loss: None,
        };
        let inside = |at: usize| FrozenBox {
            label: (at + 1).to_string(),
            kind: "20gp".to_owned(),
            number: None,
            bill: None,
        };
        let source = Source::new("invented", String::new());
        let freeze = Freeze {
            shipment: name.to_owned(),
            version: "0".to_owned(),
            quoted: "2026-01-02".parse().unwrap(),
            delivered: "2026-03-02".parse().unwrap(),
            yard: "savannah".to_owned(),
            framework: Framework::Ifrs,
            currency: Currency::from_code(currency).unwrap(),
            offers: Vec::new(),
            proof: "given".to_owned(),
            boxes: (0..boxes).map(inside).collect(),
            lines: vec![line],
            rows: vec![FrozenRow { source: "invented:1".to_owned(), text: "invented".to_owned() }],
            charges: Vec::new(),
            sharings: Vec::new(),
            slabs: (0..slabs).map(slab).collect(),
            place: source.place(0..0),
        };
        Self { freeze }
    }

    pub(crate) fn normal_loss(mut self, rate: &str) -> Self {
        self.freeze.lines[0].normal_loss = Some(Percent::read(rate).unwrap());
        self
    }

    pub(crate) fn us_gaap(mut self) -> Self {
        self.freeze.framework = Framework::UsGaap;
        self
    }

    /// A charge over all slabs by area.
    pub(crate) fn charge(self, key: &str, amount: &str, rate: Option<&str>) -> Self {
        let all = (0..self.freeze.slabs.len()).map(|at| (at, 1)).collect();
        self.shared(key, amount, rate, (Treatment::Stock, all))
    }

    /// A charge of another treatment.
    pub(crate) fn treated(self, key: &str, amount: &str, treatment: Treatment) -> Self {
        let all = (0..self.freeze.slabs.len()).map(|at| (at, 1)).collect();
        self.shared(key, amount, None, (treatment, all))
    }

    /// Says what the last charge is counted by, such as "entry 1".
    pub(crate) fn on(mut self, on: &str) -> Self {
        on.clone_into(&mut self.freeze.charges.last_mut().unwrap().on);
        self
    }

    /// Goods on the invoice.
    pub(crate) fn goods(self, amount: &str, rate: Option<&str>) -> Self {
        self.charge("goods/line A", amount, rate).on_invoice()
    }

    /// Puts the last charge on the invoice.
    pub(crate) fn on_invoice(mut self) -> Self {
        let charge = self.freeze.charges.last_mut().unwrap();
        charge.invoice = Some("I-1".into());
        charge.payee = "Quarry Inkwell".into();
        self
    }

    /// A charge over some slabs by whole weights.
    pub(crate) fn shared(
        mut self,
        key: &str,
        amount: &str,
        rate: Option<&str>,
        (treatment, by): (Treatment, Vec<(usize, u32)>),
    ) -> Self {
        let amount = Money::read(amount).unwrap();
        let currency = self.freeze.currency;
        let rate = rate.map(|rate| Quote::read(rate).unwrap());
        let book = match &rate {
            Some(rate) => {
                quaystone::quantity::Exact::from(amount).converted(rate).unwrap().round().unwrap()
            }
            // Without a rate, one for one of a planning rate that serves nowhere.
            None => Money::from_minor(amount.minor().unwrap(), currency),
        };
        let weights = Weights::of(by.iter().map(|(_, weight)| Decimal::from(*weight))).unwrap();
        let shares = weights.divide(book).unwrap();
        let slabs = by.into_iter().map(|(slab, _)| slab).collect();
        self.freeze.sharings.push(Sharing { slabs, weights, shares });
        self.freeze.charges.push(FrozenCharge {
            key: key.into(),
            name: key.split('/').next().unwrap().into(),
            on: String::new(),
            leg: Leg::MainCarriage,
            treatment,
            reason: None,
            basis: Basis::Quoted,
            by: Key::Area,
            payee: format!("payee of {key}").into(),
            invoice: None,
            moves_no_money: false,
            owed: "2026-02-02".parse().unwrap(),
            worked: Vec::new(),
            part: None,
            amount,
            book,
            rate: rate.filter(|_| amount.currency() != currency),
            is_planned: rate.is_none() && amount.currency() != currency,
            row: 0,
            sharing: self.freeze.sharings.len() - 1,
            place: self.freeze.place.clone(),
        });
        self
    }
}

/// Books in a folder, with the events of each shipment and of the yards.
pub(crate) struct Kept {
    folder: tempfile::TempDir,
    pub(crate) books: Books,
}

impl Kept {
    /// Reads books of some estimates, each with its events; the last text is of the yards.
    pub(crate) fn of(
        estimates: &[&Estimate],
        events: &[&str],
        yards: &str,
    ) -> Result<Self, String> {
        let folder = tempfile::tempdir().unwrap();
        fs::create_dir_all(folder.path().join("rates")).unwrap();
        fs::create_dir_all(folder.path().join("shipments")).unwrap();
        for estimate in estimates {
            let own = folder.path().join("books").join(&estimate.freeze.shipment);
            fs::create_dir_all(&own).unwrap();
            for (name, text) in freeze_files(&estimate.freeze) {
                fs::write(own.join(name), text).unwrap();
            }
        }
        let mut kept = Self { folder, books: Books::default() };
        kept.write(estimates, events, yards)?;
        Ok(kept)
    }

    /// Writes other events, and reads all again.
    pub(crate) fn write(
        &mut self,
        estimates: &[&Estimate],
        events: &[&str],
        yards: &str,
    ) -> Result<(), String> {
        let books = self.folder.path().join("books");
        for (estimate, events) in estimates.iter().zip(events) {
            fs::write(books.join(&estimate.freeze.shipment).join("events.toml"), events).unwrap();
        }
        fs::create_dir_all(books.join("yards")).unwrap();
        fs::write(books.join("yards/2026.toml"), yards).unwrap();
        let mut report = Report::new();
        let workspace = Workspace::at(self.folder.path(), &mut report).unwrap();
        let read = read::books(&workspace, &mut report);
        self.books = read.map_err(|_| render(&report, false))?;
        Ok(())
    }

    /// What is told of the books, sound or not, and whether they are read and folded at once or part by part.
    pub(crate) fn said(&self) -> String {
        let mut report = Report::new();
        let workspace = Workspace::at(self.root(), &mut report).unwrap();
        let mut by_parts = report.clone();
        let books = read::books(&workspace, &mut report).unwrap();
        let sound = fold(&books, (None, Reading::Posted), &mut report).is_ok();
        let shelf = Shelf::of(&workspace, &by_parts);
        let on = (None, Reading::Posted);
        let whole = apart(&shelf, on, &mut by_parts, |_| Ok(()));
        assert_eq!(whole.is_some(), sound);
        // At once, texts are kept of what is told.
        let plain = |report: &Report| -> Vec<String> {
            report.sorted().iter().map(|fault| fault.message.clone()).collect()
        };
        if sound {
            assert_eq!(plain(&by_parts), plain(&report));
        }
        render(&report, false).split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// The folder.
    pub(crate) fn root(&self) -> &std::path::Path {
        self.folder.path()
    }

    /// The ledger up to a day.
    pub(crate) fn ledger(&self, until: Option<&str>) -> Result<Ledger<'_>, String> {
        let mut report = Report::new();
        let until = until.map(|day| day.parse().unwrap());
        let ledger = fold(&self.books, (until, Reading::Posted), &mut report);
        ledger.map_err(|_| render(&report, false))
    }
}

/// The books of one estimate with its events, which must be sound.
pub(crate) fn kept(estimate: &Estimate, events: &str) -> Kept {
    Kept::of(&[estimate], &[events], "").unwrap_or_else(|told| panic!("{told}"))
}

/// What a fault of one estimate's events says.
pub(crate) fn told(estimate: &Estimate, events: &str) -> String {
    match Kept::of(&[estimate], &[events], "") {
        Err(told) => told,
        Ok(kept) => kept.ledger(None).map(|_| ()).expect_err("the events are sound"),
    }
}

/// The sum of an account up to a day, as money is written; every identity must hold on that day.
pub(crate) fn sums(kept: &Kept, until: Option<&str>) -> BTreeMap<Account, String> {
    let ledger = kept.ledger(until).unwrap_or_else(|told| panic!("{told}"));
    assert_eq!(identities(&ledger), []);
    let mut sums: BTreeMap<Account, i64> = BTreeMap::new();
    let mut currency = Currency::from_code("USD").unwrap();
    for entry in &ledger.entries {
        currency = entry.currency;
        for line in &entry.lines {
            *sums.entry(line.account).or_default() += line.book;
        }
    }
    let shown = |minor: i64| Money::from_minor(minor, currency).amount().to_string();
    sums.into_iter().map(|(account, minor)| (account, shown(minor))).collect()
}

/// The sum of one account up to a day.
pub(crate) fn sum(kept: &Kept, account: Account, until: Option<&str>) -> String {
    sums(kept, until).remove(&account).unwrap_or_else(|| "0".to_owned())
}

/// An event as a file has it.
pub(crate) fn event(kind: &str, day: &str, rest: &str) -> String {
    let mut text = String::new();
    writeln!(text, "[[event]]\nkind = \"{kind}\"\noccurred = {day}\n{rest}").unwrap();
    text
}

/// The names of some slabs in a list of TOML.
pub(crate) fn slabs(range: std::ops::RangeInclusive<usize>) -> String {
    let names: Vec<String> = range.map(|at| format!("\"S{at}\"")).collect();
    format!("slabs = [{}]\n", names.join(", "))
}
