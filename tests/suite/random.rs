//! Made-up workspaces: tables and a shipment drawn from a seed, in the shape that a test asks for.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::path::{Path, PathBuf};
use std::sync::{LazyLock, Mutex, PoisonError};

use crate::common::run;
use serde_json::Value;

/// A seeded source of small choices: the same seed gives the same workspace on any machine.
/// (The mixing is that of `SplitMix64`: Steele, Lea and Flood 2014.)
pub(crate) struct Dice(u64);

impl Dice {
    pub(crate) fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// A whole number from the first to the last.
    pub(crate) fn from(&mut self, first: u64, last: u64) -> u64 {
        first + self.next() % (last - first + 1)
    }

    pub(crate) fn of<T: Copy>(&mut self, all: &[T]) -> T {
        let last = u64::try_from(all.len() - 1).unwrap();
        all[usize::try_from(self.from(0, last)).unwrap()]
    }

    pub(crate) fn chance(&mut self, percent: u64) -> bool {
        self.from(1, 100) <= percent
    }

    /// A number with two places, as text.
    pub(crate) fn cents(&mut self, first: u64, last: u64) -> String {
        let cents = self.from(first * 100, last * 100);
        format!("{}.{:02}", cents / 100, cents % 100)
    }
}

/// What a made-up workspace has beside freight, haulage, duty, fees and one invoice or more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// One invoice, free on board.
    Plain,
    /// Charges of a box with floors, caps, parts of parts and time.
    Parts,
    /// A charge of a box in another currency, at the rate of its leg's day.
    Foreign,
    /// The same, paid before its leg.
    ForeignPaidEarly,
    /// A surcharge by the gross mass of a box.
    Gross,
    /// A percentage of a surcharge by gross mass.
    PartOfGross,
    /// A deposit by gross mass that comes back.
    GrossDeposit,
    /// Goods free on board and goods with the freight in the price, in boxes of their own.
    TwoTerms,
    /// Goods of two works, each with its own truck to the port, in boxes of their own.
    TwoWorks,
    /// A row for one type of box that counts bundles.
    CountedOtherwise,
    /// Invoices of any term in any currency, loaded together.
    AnyTerms,
    /// Two forwarders and two hauliers.
    Forwarders,
    /// Several entries, on days of their own.
    Entries,
    /// A regime that values at the border: freight bears duty.
    Border,
    /// Policies on what is counted by the box.
    Policies,
    /// Prices by quantity and quality, additions, a least order, and another way to buy.
    Priced,
    /// Delivered duty paid, under duties and fees that are a percentage of the value.
    Delivered,
    /// The same with a duty that tops up to a total.
    DeliveredTopUp,
    /// The same with a layer that switches the base off beside one that tops up.
    DeliveredSwitched,
    /// The same with duties by mass and by area.
    DeliveredByQuantity,
    /// The same with an import tax, inside the price or apart.
    DeliveredTaxed,
}

impl Shape {
    /// Every shape but those of a price delivered duty paid.
    pub(crate) const ALL: [Self; 16] = [
        Self::Plain,
        Self::Parts,
        Self::Foreign,
        Self::ForeignPaidEarly,
        Self::Gross,
        Self::PartOfGross,
        Self::GrossDeposit,
        Self::TwoTerms,
        Self::TwoWorks,
        Self::CountedOtherwise,
        Self::AnyTerms,
        Self::Forwarders,
        Self::Entries,
        Self::Border,
        Self::Policies,
        Self::Priced,
    ];

    /// Those of a price delivered duty paid.
    pub(crate) const DELIVERED: [Self; 5] = [
        Self::Delivered,
        Self::DeliveredTopUp,
        Self::DeliveredSwitched,
        Self::DeliveredByQuantity,
        Self::DeliveredTaxed,
    ];

    fn is_delivered(self) -> bool {
        Self::DELIVERED.contains(&self)
    }
}

const CONTAINERS: &str = r#"[[container]]
id = "20gp"
name = "20' GP"
inside = "5900 x 2350 x 2390 mm"
door = "2340 x 2280 mm"
max-gross = "30480 kg"
tare = "2280 kg"
line-load = "4.5 t/m"
bracing = "100 mm"
end-bracing = "100 mm"
clearance = "50 mm"
securing = "200 kg"
source = "invented"
[[container]]
id = "40gp"
name = "40' GP"
inside = "12000 x 2350 x 2390 mm"
door = "2340 x 2280 mm"
max-gross = "30480 kg"
tare = "3780 kg"
line-load = "3.0 t/m"
bracing = "100 mm"
end-bracing = "100 mm"
clearance = "50 mm"
securing = "200 kg"
source = "invented"
"#;

const CRATING: &str = r#"[timber]
mass = "80 kg"
height = "120 mm"
width = "60 mm"
length = "0 mm"
between = "1 mm"
source = "invented"
[nominal]
size = "300 x 180 cm"
bundle-mass = "2500 kg"
source = "invented"
"#;

const STONES: &str = r#"[[finish]]
id = "polished"
faces = "worked"
edges = "sawn"
source = "invented"
[[stone]]
id = "chalk"
name = "Chalk Marble (invented)"
kind = "marble"
density = "2700 kg/m3"
thickness-margin = "0 %"
origin = "TR"
source = "invented"
[[stone.tariff]]
regime = "land"
line = "6802.91.05"
source = "invented"
[[stone]]
id = "ink"
name = "Ink Granite (invented)"
kind = "granite"
density = "2710 kg/m3"
thickness-margin = "2 %"
origin = "JP"
source = "invented"
[[stone.tariff]]
regime = "land"
line = "6802.93.00"
source = "invented"
"#;

/// What an importer calls the qualities that it buys.
const QUALITIES: &str = r#"[[quality]]
id = "choice"
name = "choice"
source = "invented"
[[quality]]
id = "usual"
name = "usual"
source = "invented"
"#;

/// The other way to buy of [`Shape::Priced`].
pub(crate) const WAY: &str = "\n[[way]]\nid = \"cif\"\ninvoice = \"N-0\"\nterm = \"CIF USSAV\"\n";

const YARDS: &str = r#"[[yard]]
id = "yard"
name = "Dice yard (invented)"
country = "US"
port = "USSAV"
currency = "USD"
regime = "land"
lift = "6 t"
delivery-days = 3
source = "invented"
"#;

/// A workspace drawn from a seed.
pub(crate) struct Made {
    folder: tempfile::TempDir,
    shape: Shape,
    pub(crate) seed: u64,
    /// Names of the rows counted by the box, or a part of one that is.
    pub(crate) boxed: Vec<String>,
    shipment: String,
}

impl Made {
    /// Draws a workspace.
    pub(crate) fn new(shape: Shape, seed: u64) -> Self {
        let mut draft = Draft::new(shape, seed);
        draft.tables();
        draft.more();
        draft.shipment();
        let folder = tempfile::tempdir().unwrap();
        for (name, text) in [
            ("containers", CONTAINERS),
            ("crating", &draft.crating),
            ("stones", &format!("{STONES}{QUALITIES}")),
            ("yards", YARDS),
            ("freight", &draft.freight),
            ("drayage", &draft.drayage),
            ("fees", &draft.fees),
            ("duty", &draft.duty),
            ("exchange", &draft.exchange),
        ] {
            write(folder.path(), &format!("rates/{name}.toml"), text);
        }
        let Draft { boxed, shipment, .. } = draft;
        let made = Self { folder, shape, seed, boxed, shipment };
        made.ship("drawn", "");
        // To look at one that failed: QUAYSTONE_KEEP=FOLDER.
        if let Some(keep) = std::env::var_os("QUAYSTONE_KEEP") {
            let keep = PathBuf::from(keep).join(made.name());
            copy(made.path(), &keep);
        }
        made
    }

    /// What it is called in a failure.
    pub(crate) fn name(&self) -> String {
        format!("{:?}-{}", self.shape, self.seed)
    }

    /// Whether its goods are delivered duty paid.
    pub(crate) fn is_delivered(&self) -> bool {
        self.shape.is_delivered()
    }

    pub(crate) fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Writes the shipment under a name, with keys of its head before the drawn ones.
    pub(crate) fn ship(&self, name: &str, head: &str) {
        let path = format!("shipments/{name}/shipment.toml");
        write(self.path(), &path, &format!("{head}\n{}", self.shipment));
    }

    /// The same with its text changed.
    pub(crate) fn ship_as(&self, name: &str, change: impl FnOnce(&str) -> String) {
        write(self.path(), &format!("shipments/{name}/shipment.toml"), &change(&self.shipment));
    }

    /// The same with more at its end.
    pub(crate) fn ship_more(&self, name: &str, end: &str) {
        let path = format!("shipments/{name}/shipment.toml");
        write(self.path(), &path, &format!("{}\n{end}", self.shipment));
    }

    /// Runs a command with JSON on the shipment as drawn, once for all properties.
    pub(crate) fn drawn(&self, command: &str) -> Result<Value, String> {
        static ANSWERS: LazyLock<Mutex<BTreeMap<String, Result<Value, String>>>> =
            LazyLock::new(Mutex::default);
        let answers = || ANSWERS.lock().unwrap_or_else(PoisonError::into_inner);
        let key = format!("{command} {}", self.name());
        if let Some(known) = answers().get(&key) {
            return known.clone();
        }
        let answer = self.json(&[command, "drawn"]);
        answers().insert(key, answer.clone());
        answer
    }

    /// Runs a command with JSON; what it says on stderr where it does not end well.
    pub(crate) fn json(&self, args: &[&str]) -> Result<Value, String> {
        let output = run(self.path(), &[args, &["--as", "json"]].concat());
        if !output.status.success() {
            return Err(format!("{args:?}: {}", String::from_utf8_lossy(&output.stderr)));
        }
        serde_json::from_slice(&output.stdout).map_err(|error| error.to_string())
    }
}

fn write(folder: &Path, name: &str, text: &str) {
    let path = folder.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// The texts of a workspace in the making.
struct Draft {
    shape: Shape,
    dice: Dice,
    freight: String,
    drayage: String,
    fees: String,
    crating: String,
    duty: String,
    exchange: String,
    shipment: String,
    boxed: Vec<String>,
    tax_is_apart: bool,
}

/// A row of charges that all of 2026 knows.
fn row(table: &mut String, name: &str, leg: &str, rest: &str) {
    writeln!(
        table,
        "[[charge]]\nname = \"{name}\"\nleg = \"{leg}\"\n{rest}\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\""
    )
    .unwrap();
}

impl Draft {
    fn new(shape: Shape, seed: u64) -> Self {
        // The last comes last, so that what the others draw stays as it is.
        let usual = Shape::ALL.iter().filter(|one| **one != Shape::Priced);
        let mut shapes = usual.chain(&Shape::DELIVERED).chain(&[Shape::Priced]);
        let at = shapes.position(|one| *one == shape).unwrap();
        let dice = Dice::new(seed * 100 + u64::try_from(at).unwrap());
        Self {
            shape,
            dice,
            freight: String::new(),
            drayage: String::new(),
            fees: String::new(),
            crating: CRATING.to_owned(),
            duty: String::new(),
            exchange: String::new(),
            shipment: String::new(),
            boxed: Vec::new(),
            tax_is_apart: false,
        }
    }

    fn is(&self, shape: Shape) -> bool {
        self.shape == shape
    }

    /// The rows of every shape.
    fn tables(&mut self) {
        let offers: &[&str] =
            if self.is(Shape::Forwarders) { &["first", "second", "third"] } else { &[""] };
        for offer in offers {
            let of = if offer.is_empty() { String::new() } else { format!("offer = \"{offer}\"") };
            for (kind, from) in [("20gp", 15), ("40gp", 21)] {
                let freight = self.dice.from(from, from + 10) * 100;
                // At the border nearly alike in all: which is the cheaper hangs on the duty.
                let haulage = match self.shape {
                    Shape::Border => 4_000 + self.dice.from(0, 9) * 10 - freight,
                    _ => self.dice.from(5, 12) * 100,
                };
                let body = format!(
                    "lane = \"TRIZM-USSAV\"\ncontainer = \"{kind}\"\namount = \"{freight} USD\"\nper = \"container\"\n{of}"
                );
                row(&mut self.freight, "ocean freight", "main carriage", &body);
                let body = format!(
                    "yard = \"yard\"\ncontainer = \"{kind}\"\namount = \"{haulage} USD\"\nper = \"container\"\n{of}"
                );
                row(&mut self.drayage, "haulage", "on-carriage", &body);
            }
            let price = self.dice.cents(40, 200);
            let body = format!(
                "lane = \"TRIZM-USSAV\"\namount = \"{price} USD\"\nper = \"bill of lading\"\n{of}"
            );
            row(&mut self.freight, "document fee", "main carriage", &body);
            // Without it at the border, where the two types are to be nearly alike.
            let rate = if self.is(Shape::Border) { 0 } else { self.dice.from(5, 30) };
            let body = format!("yard = \"yard\"\nrate = \"{rate} %\"\nof = \"haulage\"\n{of}");
            row(&mut self.drayage, "fuel surcharge", "on-carriage", &body);
        }
        let names = ["ocean freight", "haulage", "fuel surcharge"];
        self.boxed.extend(names.map(str::to_owned));
        let price = self.dice.cents(50, 150);
        let body = format!("port = \"USSAV\"\namount = \"{price} USD\"\nper = \"container\"");
        self.boxed("freight", "terminal handling", "destination terminal", &body);
        writeln!(
            self.drayage,
            "[[limit]]\nyard = \"yard\"\nname = \"road custom\"\ncargo = \"{} kg\"\nkind = \"custom\"\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"",
            self.dice.from(15_000, 21_000)
        )
        .unwrap();
        writeln!(
            self.freight,
            "[[limit]]\nlane = \"TRIZM-USSAV\"\nname = \"carrier's cap\"\ncargo = \"26 t\"\nkind = \"carrier\"\nvalid = \"2026-01-01..2026-12-31\"\nsource = \"invented\"",
        )
        .unwrap();
        self.origin();
        self.customs();
        self.fees();
        for month in 3..=7 {
            for (currency, from, last) in [("EUR", 105, 120), ("GBP", 125, 140)] {
                let rate = self.dice.from(from, last);
                writeln!(
                    self.exchange,
                    "[[exchange]]\nuse = \"plan\"\nquote = \"1 {currency} = {}.{:02} USD\"\nvalid = \"2026-{month:02}-01..2026-{month:02}-28\"\nsource = \"invented\"\n[[exchange]]\nuse = \"plan\"\nquote = \"1 {currency} = {}.{:02} USD\"\nvalid = \"2026-{month:02}-29..2026-{month:02}-{}\"\nsource = \"invented\"",
                    rate / 100,
                    rate % 100,
                    rate / 100,
                    rate % 100,
                    if [4, 6].contains(&month) { 30 } else { 31 },
                )
                .unwrap();
            }
        }
    }

    /// A row counted by the box, or a part of one.
    fn boxed(&mut self, table: &str, name: &str, leg: &str, body: &str) {
        let text = match table {
            "freight" => &mut self.freight,
            "drayage" => &mut self.drayage,
            _ => &mut self.crating,
        };
        row(text, name, leg, body);
        self.boxed.push(name.to_owned());
    }

    /// What the goods need before they are on board.
    fn origin(&mut self) {
        let single = self.is(Shape::TwoWorks);
        let dice = &mut self.dice;
        let packing = format!("amount = \"{} USD\"\nper = \"bundle\"", dice.cents(20, 60));
        row(&mut self.crating, "packing", "export packing", &packing);
        let loading = format!("amount = \"{} USD\"\nper = \"bundle\"", dice.cents(5, 15));
        row(&mut self.crating, "loading at the works", "origin loading", &loading);
        let clearance = format!("amount = \"{} USD\"\nper = \"shipment\"", dice.cents(60, 120));
        row(&mut self.crating, "export clearance", "export clearance", &clearance);
        if !single {
            let truck = format!("amount = \"{} USD\"\nper = \"container\"", dice.cents(100, 400));
            self.boxed("crating", "truck to the port", "pre-carriage", &truck);
        }
        let price = self.dice.cents(60, 140);
        let origin = format!("port = \"TRIZM\"\namount = \"{price} USD\"\nper = \"container\"");
        self.boxed("freight", "origin handling", "origin terminal", &origin);
        let price = self.dice.cents(3, 9);
        let lifting = format!("port = \"TRIZM\"\namount = \"{price} USD\"\nper = \"bundle\"");
        row(&mut self.freight, "lifting on board", "loading on board", &lifting);
    }

    fn customs(&mut self) {
        let border = self.is(Shape::Border);
        writeln!(
            self.duty,
            "[[regime]]\nid = \"land\"\nname = \"Land\"\ncurrency = \"USD\"\nvalue-basis = \"{}\"\nvalid = \"2020-01-01..\"\nsource = \"invented\"",
            if border { "border" } else { "export" },
        )
        .unwrap();
        // One rate for all, so that what a box costs does not hang on what is in it.
        let first = self.dice.from(1, 25);
        let other = if border { first } else { self.dice.from(1, 25) };
        for (line, rate) in [("6802.91.05", first), ("6802.93.00", other)] {
            writeln!(
                self.duty,
                "[[duty]]\nregime = \"land\"\nline = \"{line}\"\nlayer = \"base\"\nname = \"duty\"\nrate = \"{rate} %\"\nvalid = \"2020-01-01..\"\nsource = \"invented\""
            )
            .unwrap();
        }
        self.layers();
    }

    /// Layers of duty beside the base.
    fn layers(&mut self) {
        let dice = &mut self.dice;
        let mut layer = |kind: &str, name: &str, rest: &str| {
            writeln!(
                self.duty,
                "[[duty]]\nregime = \"land\"\nline = \"6802\"\nlayer = \"{kind}\"\nname = \"{name}\"\n{rest}\nvalid = \"2020-01-01..\"\nsource = \"invented\""
            )
            .unwrap();
        };
        if self.shape.is_delivered() {
            let rate = format!("rate = \"{}.5 %\"", dice.from(1, 20));
            layer("additive", "surcharge", &rate);
        }
        match self.shape {
            Shape::DeliveredTopUp => {
                let total = format!("rate = \"{} %\"", dice.from(5, 35));
                layer("top-up", "reciprocal duty", &total);
            }
            Shape::DeliveredSwitched => {
                let total = format!("rate = \"{} %\"", dice.from(5, 35));
                layer("top-up", "reciprocal duty", &total);
                let rate = format!("rate = \"{} %\"\nexcludes = [\"duty\"]", dice.from(1, 10));
                layer("additive", "special duty", &rate);
            }
            Shape::DeliveredByQuantity => {
                layer("additive", "duty by mass", "rate = \"0.0123 USD/kg\"");
                let rate = format!("rate = \"0.{} USD/m2\"", dice.from(10, 99));
                layer("anti-dumping", "duty by area", &rate);
            }
            _ => {}
        }
    }

    fn fees(&mut self) {
        let dice = &mut self.dice;
        let entry = format!("amount = \"{} USD\"\nper = \"entry\"", dice.cents(80, 160));
        row(&mut self.fees, "customs entry", "import clearance", &entry);
        let rate = dice.from(1, 9);
        if ![Shape::Border, Shape::Plain].contains(&self.shape) {
            let fee = format!(
                "rate = \"0.{rate} %\"\nof = \"entered value\"\nper = \"entry\"\nminimum = \"33.58 USD\"\nmaximum = \"{} USD\"",
                dice.cents(40, 200)
            );
            row(&mut self.fees, "processing fee", "duty and tax", &fee);
        }
        let harbour = "rate = \"0.125 %\"\nof = \"entered value\"\nper = \"entry\"";
        row(&mut self.fees, "harbour fee", "duty and tax", harbour);
        if self.is(Shape::DeliveredTaxed) {
            let tax = "rate = \"17 %\"\nof = \"taxed value\"\nper = \"entry\"\ntreatment = \"recoverable\"";
            row(&mut self.fees, "import tax", "duty and tax", tax);
            self.tax_is_apart = self.dice.chance(50);
        }
        let dice = &mut self.dice;
        let insured = format!(
            "rate = \"0.{} %\"\nof = \"insured value\"\ninsured = \"110 %\"\nper = \"shipment\"",
            dice.from(1, 5)
        );
        row(&mut self.fees, "cargo insurance", "insurance", &insured);
        let unloading = format!("amount = \"{} USD\"\nper = \"bundle\"", dice.cents(20, 40));
        row(&mut self.fees, "unloading", "unloading", &unloading);
        let finance =
            "rate = \"0.9 %\"\nof = \"goods\"\nper = \"shipment\"\ntreatment = \"notional\"";
        row(&mut self.fees, "imputed finance", "import clearance", finance);
    }

    /// The rows of the shape.
    fn more(&mut self) {
        match self.shape {
            Shape::Parts => self.parts(),
            Shape::Foreign | Shape::ForeignPaidEarly => {
                for kind in ["20gp", "40gp"] {
                    let due = match self.shape {
                        Shape::Foreign => "",
                        _ => self.dice.of(&["due = \"quoted + 2 days\"", "due = \"sails\""]),
                    };
                    let price = self.dice.cents(200, 600);
                    let body = format!(
                        "yard = \"yard\"\ncontainer = \"{kind}\"\namount = \"{price} EUR\"\nper = \"container\"\n{due}"
                    );
                    self.boxed("drayage", "shuttle", "on-carriage", &body);
                }
            }
            Shape::Gross | Shape::PartOfGross => {
                self.by_gross("heavy box", "");
                if self.is(Shape::PartOfGross) {
                    let body = format!(
                        "yard = \"yard\"\nrate = \"{} %\"\nof = \"heavy box\"",
                        self.dice.from(5, 40)
                    );
                    self.boxed("drayage", "tax on heavy boxes", "on-carriage", &body);
                }
            }
            Shape::GrossDeposit => self.by_gross("heavy deposit", "treatment = \"recoverable\""),
            Shape::TwoWorks => {
                for works in ["Works One", "Works Two"] {
                    let price = self.dice.from(1, 12) * 75;
                    let body = format!(
                        "term-place = \"{works}\"\namount = \"{price} USD\"\nper = \"container\""
                    );
                    self.boxed("crating", "truck from the works", "pre-carriage", &body);
                }
            }
            Shape::CountedOtherwise => {
                let per = self.dice.of(&["bundle", "tonne", "m2", "shipment", "slab"]);
                let kind = self.dice.of(&["20gp", "40gp"]);
                let price = self.dice.cents(5, 90);
                let body = format!(
                    "yard = \"yard\"\ncontainer = \"{kind}\"\namount = \"{price} USD\"\nper = \"{per}\""
                );
                row(&mut self.drayage, "handling of one type", "on-carriage", &body);
            }
            Shape::Policies => {
                for name in ["ocean freight", "haulage", "terminal handling"] {
                    if self.dice.chance(60) {
                        let treatment = self.dice.of(&["treatment = \"period\"", "key = \"mass\""]);
                        writeln!(
                            self.shipment,
                            "[[policy]]\ncharge = \"{name}\"\n{treatment}\nreason = \"made up\""
                        )
                        .unwrap();
                    }
                }
            }
            _ => {}
        }
    }

    fn parts(&mut self) {
        let least = self.dice.cents(60, 100);
        let gate = format!(
            "yard = \"yard\"\nrate = \"10 %\"\nof = \"haulage\"\nminimum = \"{least} USD\""
        );
        self.boxed("drayage", "gate", "on-carriage", &gate);
        let most = self.dice.cents(200, 400);
        let peak =
            format!("yard = \"yard\"\nrate = \"50 %\"\nof = \"haulage\"\nmaximum = \"{most} USD\"");
        self.boxed("drayage", "peak", "on-carriage", &peak);
        let tax = format!("yard = \"yard\"\nrate = \"{} %\"\nof = \"peak\"", self.dice.from(5, 25));
        self.boxed("drayage", "peak tax", "on-carriage", &tax);
        let toll = format!(
            "yard = \"yard\"\namount = \"7 USD\"\neach = \"{} USD\"\nof = \"haulage\"\npart = \"whole\"",
            self.dice.of(&[100, 150, 250])
        );
        self.boxed("drayage", "toll", "on-carriage", &toll);
        let hire = format!(
            "yard = \"yard\"\namount = \"{} USD\"\nper = \"container\"\ndays = \"delivered..returned\"\nfree-days = {}",
            self.dice.cents(5, 20),
            self.dice.from(0, 2)
        );
        self.boxed("drayage", "chassis hire", "on-carriage", &hire);
        let bunker = format!(
            "lane = \"TRIZM-USSAV\"\nrate = \"{}.5 %\"\nof = \"ocean freight\"",
            self.dice.from(1, 9)
        );
        self.boxed("freight", "bunker surcharge", "main carriage", &bunker);
    }

    /// A charge by gross mass; heavier never costs less.
    fn by_gross(&mut self, name: &str, more: &str) {
        let (first, second) = (self.dice.from(0, 3) * 50, self.dice.from(1, 20) * 50);
        let tiers = format!(
            "[{{ gross = \"0 t..{} t\", amount = \"{first} USD\" }}, {{ gross = \"{0} t..\", amount = \"{} USD\" }}]",
            self.dice.from(10, 20),
            first + second
        );
        let body = format!("yard = \"yard\"\ntiers = {tiers}\nper = \"container\"\n{more}");
        self.boxed("drayage", name, "on-carriage", &body);
    }

    fn shipment(&mut self) {
        let mut text = String::from("to = \"yard\"\nlane = \"TRIZM-USSAV\"\n");
        let days = self.dice.from(12, 14);
        writeln!(
            text,
            "dates = {{ quoted = 2026-03-04, sails = 2026-04-11, arrives = 2026-05-09, returned = 2026-05-{} }}",
            days + self.dice.from(0, 5)
        )
        .unwrap();
        let policies = std::mem::take(&mut self.shipment);
        text += &policies;
        let invoices = match self.shape {
            Shape::TwoTerms | Shape::TwoWorks => 2,
            Shape::AnyTerms | Shape::Entries => self.dice.from(2, 4),
            _ => self.dice.from(1, 2),
        };
        if [Shape::TwoTerms, Shape::TwoWorks].contains(&self.shape) {
            text += "[[load.apart]]\nbundles = [\"L0-A-B1\", \"L1-A-B1\"]\n";
        }
        let mut places = String::new();
        for at in 0..invoices {
            self.invoice(&mut text, at);
            if self.is(Shape::Entries) {
                let entered = 9 + self.dice.from(0, 4);
                writeln!(places, "[[bill]]\nnumber = \"B{at}\"\ninvoices = [\"N-{at}\"]").unwrap();
                writeln!(
                    places,
                    "[[entry]]\nid = \"E{at}\"\nbills = [\"B{at}\"]\nentered = 2026-05-{entered:02}"
                )
                .unwrap();
            }
        }
        if self.is(Shape::Priced) {
            places += WAY;
        }
        self.shipment = text + &places;
    }

    fn invoice(&mut self, text: &mut String, at: u64) {
        let dice = &mut self.dice;
        let term = match self.shape {
            Shape::TwoTerms => ["FOB TRIZM", "CFR USSAV"][usize::from(at == 1)],
            Shape::TwoWorks => ["EXW Works One", "EXW Works Two"][usize::from(at == 1)],
            Shape::AnyTerms => dice.of(&[
                "EXW Works One",
                "FCA Works Two",
                "FCA TRIZM",
                "FAS TRIZM",
                "FOB TRIZM",
                "CFR USSAV",
                "CIF USSAV",
                "CPT USSAV",
                "CIP USSAV",
                "DAP Dice yard",
                "DDP Dice yard",
            ]),
            Shape::Entries => dice.of(&["FOB TRIZM", "CIF USSAV", "FCA TRIZM"]),
            shape if shape.is_delivered() => "DDP Dice yard",
            _ => "FOB TRIZM",
        };
        let currency = match self.shape {
            Shape::AnyTerms | Shape::Entries => dice.of(&["EUR", "GBP", "USD"]),
            shape if shape.is_delivered() => dice.of(&["EUR", "USD"]),
            _ => "USD",
        };
        let discount = if dice.chance(30) {
            format!("discount = \"{} %\"\n", dice.from(1, 5))
        } else {
            String::new()
        };
        writeln!(
            text,
            "[[invoice]]\nsupplier = \"Quarry Dice (invented)\"\nnumber = \"N-{at}\"\nterm = \"{term}\"\nprice-valid = \"2026-03-01..2026-12-31\"\n{discount}"
        )
        .unwrap();
        if self.shape.is_delivered() {
            if self.tax_is_apart {
                text.push_str("import-tax = \"apart\"\n");
            }
            for leg in ["main carriage", "insurance", "on-carriage", "import clearance"] {
                if dice.chance(70) {
                    writeln!(
                        text,
                        "[[invoice.stated]]\nleg = \"{leg}\"\namount = \"{} {currency}\"\nevidence = \"invented\"",
                        dice.cents(10, 90)
                    )
                    .unwrap();
                }
            }
        }
        if self.shape == Shape::Priced {
            text.push_str(dice.of(&["least = \"3 m2\"\n", "least = \"1 slab\"\n", ""]));
        }
        let single = [Shape::TwoTerms, Shape::TwoWorks].contains(&self.shape);
        let lines = if single { 1 } else { dice.from(1, 2) };
        for line in 0..lines {
            let name = if line == 0 { "A" } else { "B" };
            let (thick, most) = dice.of(&[("20 mm", 12), ("30 mm", 9)]);
            writeln!(
                text,
                "[[invoice.line]]\nid = \"L{at}-{name}\"\nstone = \"{}\"\nfinish = \"polished\"\nthickness = \"{thick}\"\nprice = \"{} {currency}/m2\"\nbundles = {}\nslabs = {}\nsize = \"{} x {} cm\"",
                dice.of(&["chalk", "ink"]),
                dice.cents(20, 90),
                if single { 1 } else { dice.from(1, 4) },
                dice.from(3, most),
                dice.from(240, 320),
                dice.from(140, 190),
            )
            .unwrap();
            if self.shape == Shape::Priced {
                by_quantity(text, dice);
            }
        }
    }
}

/// Turns the price of the last line into one by quantity or by quality, with an addition in half of the cases.
fn by_quantity(text: &mut String, dice: &mut Dice) {
    let at = text.rfind("price = \"").unwrap();
    let end = at + text[at..].find('\n').unwrap();
    let price = text[at + 9..end - 1].to_owned();
    let (figure, unit) = price.split_once(' ').unwrap();
    let cents: u64 = figure.replace('.', "").parse().unwrap();
    let less = cents * dice.from(80, 99) / 100;
    let less = format!("{}.{:02} {unit}", less / 100, less % 100);
    let from = dice.of(&["20 m2", "70 m2", "2 bundles", "14 slabs", "400 m2"]);
    let mut now = if dice.chance(70) {
        let applies = if from.ends_with("m2") { "part above" } else { "whole" };
        let applies = dice.of(&["whole", applies]);
        let counted = dice.of(&["line", "invoice"]);
        format!(
            "price = [{{ price = \"{price}\" }}, {{ from = \"{from}\", price = \"{less}\" }}]\napplies = \"{applies}\"\ncounted = \"{counted}\""
        )
    } else {
        format!(
            "price = [{{ quality = \"usual\", price = \"{less}\" }}, {{ quality = \"choice\", price = \"{price}\" }}]"
        )
    };
    let quality = dice.of(&["usual", "choice"]);
    write!(now, "\nquality = \"{quality}\"").unwrap();
    if dice.chance(50) {
        let each = dice.cents(1, 3);
        let of = unit.split_once('/').unwrap().0;
        write!(now, "\nextra = [{{ name = \"resin\", price = \"{each} {of}/m2\" }}]").unwrap();
    }
    text.replace_range(at..end, &now);
}
