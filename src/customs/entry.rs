//! A customs entry: its lines, their values, the layers of duty on each.

use std::sync::Arc;

use crate::bill::{SetId, ValuePart};
use crate::fault::Place;
use crate::quantity::{Area, Currency, Decimal, Exact, Mass, Money, Overflow};
use crate::trade::{ChargeRow, Country, Date, DutyRow, EntryKind, ImportTax, LayerKind, Leg, Mode};

/// A customs entry as it would be estimated. It is not a declaration: a licensed broker's is.
#[derive(Debug, Clone)]
pub struct Entry {
    /// The importer's name for it, or the shipment's.
    pub id: String,
    /// The currency of the entry.
    pub currency: Currency,
    /// The day of entry.
    pub entered_on: Date,
    /// Formal or informal.
    pub kind: EntryKind,
    /// How the goods come to the country.
    pub mode: Mode,
    /// Whether the seller makes it, at its own cost: its price is delivered duty paid.
    pub by_seller: bool,
    /// Where the import tax on goods that the seller enters lies, if any is levied.
    pub import_tax: Option<ImportTax>,
    /// The regime's row.
    pub regime: Place,
    /// The name of the regime.
    pub regime_name: String,
    /// Its slabs.
    pub set: SetId,
    /// Its lines.
    pub lines: Vec<EntryLine>,
    /// The seller's fees, for a memo; the importer's own are charges.
    pub memo_fees: Vec<MemoFee>,
    /// How many times its entered value a bond for it alone must cover, and for which agency.
    pub(crate) restricted_bond: Option<(u32, String)>,
    /// Which filing it is, by its lots.
    pub(crate) filed: usize,
    /// Legs that the base of an import tax has beside value and duty.
    pub(crate) tax_adds: Vec<Leg>,
}

/// A fee of a seller's entry: inside its price, and no cost of the importer's.
#[derive(Debug, Clone)]
pub struct MemoFee {
    /// Its name.
    pub name: String,
    /// What it comes to.
    pub amount: Money,
    /// Its row.
    pub place: Place,
}

impl Entry {
    /// Whether rows per entry are charged on it: on the importer's own all are, on a seller's only the
    /// import tax that its price leaves out.
    pub(crate) fn is_charged(&self, by_import_tax: bool) -> bool {
        !self.by_seller || (by_import_tax && self.import_tax == Some(ImportTax::Apart))
    }

    /// The sum of the entered values of its lines.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn entered(&self) -> Result<Money, Overflow> {
        Money::total(self.currency, self.lines.iter().map(|line| line.entered))
    }

    /// The sum of the duties of its lines.
    ///
    /// # Errors
    /// Where it cannot be held.
    pub fn duty(&self) -> Result<Money, Overflow> {
        let layers = self.lines.iter().flat_map(|line| &line.layers);
        Money::total(self.currency, layers.map(|layer| layer.amount))
    }
}

/// One line of an entry.
#[derive(Debug, Clone)]
pub struct EntryLine {
    /// What tells it apart from the other lines of the shipment's entries.
    pub label: String,
    /// The tariff number.
    pub number: String,
    /// The country of origin.
    pub origin: Country,
    /// The trade programme that its goods claim, if they do.
    pub claims: Option<String>,
    /// The lines of the invoices in it, by position.
    pub lines: Vec<usize>,
    /// Its slabs.
    pub set: SetId,
    /// How many of them the seller gives without charge.
    pub free: usize,
    /// What its value is made of, in the currencies of the documents.
    pub parts: Vec<ValuePart>,
    /// The unrounded value.
    pub exact: Exact,
    /// The entered value.
    pub entered: Money,
    /// Net mass of its slabs.
    pub mass: Mass,
    /// Gross area of its slabs.
    pub area: Area,
    /// Its layers of duty.
    pub layers: Vec<Layer>,
    /// The other agency that restricts its goods.
    pub restricted: Option<String>,
    /// Where the tariff number comes from.
    pub place: Place,
}

impl EntryLine {
    /// Whether its goods are free of a fee: by their origin, and by a claim where it hangs on one.
    pub(crate) fn is_free_of(&self, row: &ChargeRow) -> bool {
        row.exempt.as_ref().is_some_and(|one| one.holds(&self.origin, self.claims.is_some()))
    }
}

/// A layer of duty on a line of an entry.
#[derive(Debug, Clone)]
pub struct Layer {
    /// Its row.
    pub row: Arc<DutyRow>,
    /// The quantity that a specific duty is on, in its unit.
    pub quantity: Option<Decimal>,
    /// What it comes to, unrounded.
    pub exact: Exact,
    /// What it comes to.
    pub amount: Money,
}

impl Layer {
    /// What its percentage is of, in words.
    pub(crate) fn of_words(&self, line: &EntryLine) -> String {
        let value = format!("entered value of {}", line.label);
        match self.row.kind {
            LayerKind::TopUp => format!("{value}, less its base duty"),
            _ => value,
        }
    }
}
