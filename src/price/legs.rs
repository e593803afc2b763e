//! Which legs of an invoice the importer bears, and when each falls.

use crate::trade::{ChargeRow, Event, ImportTax, Invoice, Leg, Rate, WhatOf};

/// Whether the importer bears a leg under an invoice.
pub fn importer_bears(invoice: &Invoice, leg: Leg) -> bool {
    invoice.leaves(leg)
}

/// Whether the importer bears what a row charges: as its leg goes, but for what is its own whatever
/// the term, and for the import tax on goods delivered duty paid, which the price may leave to it.
pub fn importer_pays(invoice: &Invoice, row: &ChargeRow) -> bool {
    row.by_importer
        || importer_bears(invoice, row.leg)
        || (is_import_tax(row) && invoice.import_tax == ImportTax::Apart)
}

/// Whether a row is an import tax: a percentage of the taxed value.
pub fn is_import_tax(row: &ChargeRow) -> bool {
    matches!(row.rate.value, Rate::Percent(_, WhatOf::TaxedValue))
}

/// The event a leg's cost falls on: its day chooses the exchange rate, and the row where the
/// table does not.
pub fn event_of(leg: Leg) -> Event {
    match leg {
        Leg::Goods
        | Leg::ExportPacking
        | Leg::OriginLoading
        | Leg::PreCarriage
        | Leg::ExportClearance
        | Leg::OriginTerminal
        | Leg::LoadingOnBoard
        | Leg::MainCarriage
        | Leg::Insurance => Event::Sails,
        Leg::DestinationTerminal => Event::Arrives,
        Leg::ImportClearance | Leg::DutyAndTax => Event::Entered,
        Leg::OnCarriage | Leg::Unloading => Event::Delivered,
    }
}

/// Legs without which a landed cost would be plainly too low: no row for one is a fault. The
/// others may really cost nothing of their own (handling inside the freight, say), and no row for
/// one is a warning.
pub fn must_have_row(leg: Leg) -> bool {
    matches!(
        leg,
        Leg::PreCarriage
            | Leg::ExportPacking
            | Leg::ExportClearance
            | Leg::MainCarriage
            | Leg::Insurance
            | Leg::OnCarriage
    )
}
