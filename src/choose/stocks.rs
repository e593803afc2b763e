//! The stocks of boxes that shipments loaded together share, and the faults in them.

use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::load::Plan;
use crate::quantity::Currency;
use crate::trade::{Available, Counted, SharedStock, Shipment};

/// A stock of boxes, and who draws on it.
#[derive(Debug, Clone)]
pub struct StockPool {
    /// Its name.
    pub name: String,
    /// The kind of its boxes, as the first has it; `None`: any.
    pub of: Option<Available>,
    /// How many there are.
    pub count: u32,
    /// The shipments that name it, by position, in their order, each with where it does.
    pub named_by: Vec<(usize, Place)>,
}

/// The stocks that shipments share, in the order they are first named. A shipment that may use no box
/// of a stock it names is warned of.
///
/// # Errors
///
/// If two shipments describe one stock differently, or their costs have no sum because their books are in
/// different currencies.
pub(super) fn stocks(
    shipments: &[&Shipment],
    report: &mut Report,
) -> Result<Vec<StockPool>, Reported> {
    let mut all: Vec<StockPool> = Vec::new();
    let mut sound = Ok(());
    for (at, shipment) in shipments.iter().enumerate() {
        for shared in &shipment.load.shared {
            let Some(counted) = shipment.load.counted(shared) else { continue };
            warn_of_unused(shipment, shared, counted, report);
            let named = (at, shared.name.place.clone());
            match all.iter_mut().find(|stock| stock.name == shared.name.value) {
                Some(stock) => {
                    let fault = differs(stock, shared, counted)
                        .or_else(|| other_books(stock, shared, shipments, shipment));
                    if let Some(fault) = fault {
                        sound = Err(report.error(fault));
                    }
                    stock.named_by.push(named);
                }
                None => all.push(StockPool {
                    name: shared.name.value.clone(),
                    of: counted.of.cloned(),
                    count: counted.count,
                    named_by: vec![named],
                }),
            }
        }
    }
    sound.map(|()| all)
}

/// The boxes of a plan that a stock counts.
pub(super) fn taken(plan: &Plan, of: Option<&Available>) -> u32 {
    let count = of.map_or(plan.boxes.len(), |of| plan.drawn(of));
    u32::try_from(count).unwrap_or(u32::MAX)
}

impl StockPool {
    /// What it holds.
    pub fn holds(&self) -> Counted<'_> {
        Counted { of: self.of.as_ref(), count: self.count }
    }
}

fn differs(stock: &StockPool, shared: &SharedStock, counted: Counted<'_>) -> Option<Fault> {
    let (_, first) = stock.named_by.first()?;
    (!counted.is_same(stock.holds())).then(|| {
        Fault::error(
            Code::Contradiction,
            format!("two shipments say different things of the shared stock \"{}\"", stock.name),
        )
        .at(&shared.name.place, format!("{} here", counted.words()))
        .also(first, format!("{} here", stock.holds().words()))
        .help("a stock has one kind and one count: write the same in each shipment that shares it, or another name")
    })
}

/// Shares are weighed by the sum of the shipments' costs.
fn other_books(
    stock: &StockPool,
    shared: &SharedStock,
    shipments: &[&Shipment],
    own: &Shipment,
) -> Option<Fault> {
    let (first, place) = stock.named_by.first()?;
    let books: Currency = shipments.get(*first)?.yard.currency;
    (own.yard.currency != books).then(|| {
        Fault::error(
            Code::Contradiction,
            format!("the yards that share \"{}\" keep their books in two currencies", stock.name),
        )
        .at(&shared.name.place, format!("this yard in {}", own.yard.currency))
        .also(place, format!("this one in {books}"))
        .help("their costs cannot be added up: give each shipment a count of its own, without `shared`")
    })
}

fn warn_of_unused(
    shipment: &Shipment,
    shared: &SharedStock,
    counted: Counted<'_>,
    report: &mut Report,
) {
    let Some(kind) = counted.of.map(|of| of.kind.value.as_str()) else { return };
    if !shipment.containers.is_empty() && !shipment.containers.iter().any(|own| own.value == kind) {
        let message = format!("{} takes nothing of \"{}\"", shipment.name, shared.name.value);
        report.add(
            Fault::warning(Code::Notice, message)
                .at(&shared.name.place, format!("{kind} is not among its `containers`"))
                .help("add the type to `containers`, or leave the row out"),
        );
    }
}
