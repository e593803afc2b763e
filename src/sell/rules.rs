//! Which row of a table serves for slabs that are alike, or for one slab.

use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::trade::{Class, Date, ExceptionRow, Goods, MarketRow, SellingRow, Window};

/// What the rows have in common.
pub(super) trait Rule {
    /// What it is for.
    fn goods(&self) -> &Goods;
    /// The single slabs it is for; none: all that are alike.
    fn slabs(&self) -> &[String];
    fn valid(&self) -> Window;
    fn place(&self) -> &Place;
}

macro_rules! rule {
    ($row:ty, |$own:ident| $slabs:expr) => {
        impl Rule for $row {
            fn goods(&self) -> &Goods {
                &self.goods
            }

            fn slabs(&self) -> &[String] {
                let $own = self;
                $slabs
            }

            fn valid(&self) -> Window {
                self.valid
            }

            fn place(&self) -> &Place {
                &self.place
            }
        }
    };
}

rule!(SellingRow, |_own| &[]);
rule!(ExceptionRow, |own| &own.slabs);
rule!(MarketRow, |own| &own.slabs);

/// The row in force for a class: of those that fit, the one that states most.
pub(super) fn serving<'r, T: Rule + 'r>(
    rows: impl Iterator<Item = &'r T>,
    class: &Class,
    on: Date,
    report: &mut Report,
) -> Result<Option<&'r T>, Reported> {
    let mut best: Vec<&T> =
        in_force(rows, class, on).filter(|row| row.slabs().is_empty()).collect();
    let most = best.iter().map(|row| row.goods().stated()).max();
    best.retain(|row| Some(row.goods().stated()) == most);
    let (first, others) = match best[..] {
        [] => return Ok(None),
        [row] => return Ok(Some(row)),
        [first, ref others @ ..] => (first, others),
    };
    let fault = Fault::error(Code::AmbiguousRate, format!("two rows price {class}"))
        .at(first.place(), "this row");
    let fault = others.iter().fold(fault, |fault, row| fault.also(row.place(), "and this one"));
    Err(report.error(fault.help(
        "the row that states most of the slabs serves: state more in one of them, or remove it",
    )))
}

/// The rows in force that name single slabs of a class.
pub(super) fn naming<'r, T: Rule + 'r>(
    rows: impl Iterator<Item = &'r T>,
    class: &Class,
    on: Date,
) -> Vec<&'r T> {
    in_force(rows, class, on).filter(|row| !row.slabs().is_empty()).collect()
}

/// The first of some rows that names a slab.
pub(super) fn of_slab<'r, T: Rule>(rows: &[&'r T], slab: &str) -> Option<&'r T> {
    rows.iter().copied().find(|row| row.slabs().iter().any(|one| one == slab))
}

fn in_force<'r, T: Rule + 'r>(
    rows: impl Iterator<Item = &'r T>,
    class: &Class,
    on: Date,
) -> impl Iterator<Item = &'r T> {
    rows.filter(move |row| row.valid().holds(on) && row.goods().hold(class))
}
