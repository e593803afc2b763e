//! Whether the suppliers' prices hold on the day of the calculation, and until the goods sail.

use crate::fault::{Code, Fault, Report, Reported};
use crate::quantity::count_of;
use crate::trade::{Invoice, Shipment};

/// Sees that every price holds on the day of the calculation, and asks about those that end before the goods
/// sail.
pub(crate) fn check_prices(shipment: &Shipment, report: &mut Report) -> Result<(), Reported> {
    let mut hold = Ok(());
    for invoice in &shipment.invoices {
        match lapsed(invoice, shipment) {
            Some(fault) => hold = Err(report.error(fault)),
            None => {
                if let Some(fault) = ends_early(invoice, shipment) {
                    report.add(fault);
                }
            }
        }
    }
    hold
}

fn lapsed(invoice: &Invoice, shipment: &Shipment) -> Option<Fault> {
    let (valid, quoted) = (invoice.price_valid.value, shipment.dates.quoted);
    if valid.holds(quoted) {
        return None;
    }
    let message =
        format!("the prices of {} hold {valid}, and `quoted` is {quoted}", invoice.number);
    // The year is the slip where the day of another holds.
    let years = [12, 24].map(chrono::Months::new);
    let others = years.iter().flat_map(|by| {
        [quoted.checked_add_months(*by), quoted.checked_sub_months(*by)].into_iter().flatten()
    });
    let meant = others.into_iter().find(|day| valid.holds(*day));
    let later = quoted.checked_add_months(chrono::Months::new(1)).unwrap_or(quoted);
    Some(
        Fault::error(Code::LapsedRate, message)
            .at(&invoice.price_valid.place, "the dates on which they hold")
            .help(match meant {
                Some(meant) => format!("is quoted = {meant} meant, under `dates`?"),
                None => format!(
                    "ask the supplier for a fresh price and write its dates here, such as price-valid = \"{quoted}..{later}\", or correct `quoted`"
                ),
            }),
    )
}

fn ends_early(invoice: &Invoice, shipment: &Shipment) -> Option<Fault> {
    let (valid, sails) = (invoice.price_valid.value, shipment.dates.sails);
    let until = invoice.ends_before_sailing(shipment.dates)?;
    if valid.lapsed_for(shipment.dates.quoted).is_some() {
        // It serves on as asked, and the page says since when.
        return None;
    }
    let message = format!(
        "the prices of {} end on {until}, {} before the goods sail",
        invoice.number,
        count_of(valid.days_off(sails), "day")
    );
    Some(
        Fault::warning(Code::LapsedRate, message)
            .at(&invoice.price_valid.place, format!("the goods sail on {sails}"))
            .help(format!("order by {until}, or ask for a later `price-valid`")),
    )
}
