//! Which row of a table serves for slabs that are alike.

use super::classes::Lot;
use crate::fault::{Code, Fault, Place, Report, Reported};
use crate::trade::{Class, Date, ExceptionRow, Lookup, MarketRow, SellingRow, Window, in_force};

/// What rules and exceptions have in common.
pub(super) trait Rule {
    /// Whether it is for a class, and how much it states of it.
    fn fits(&self, class: &Class, lots: &[Lot<'_>]) -> Option<usize>;
    fn valid(&self) -> Window;
    fn place(&self) -> &Place;
}

/// A row that has the fields of a rule.
macro_rules! rule {
    ($($row:ident),+) => {$(
        impl Rule for $row {
            fn fits(&self, class: &Class, lots: &[Lot<'_>]) -> Option<usize> {
                let thickness = lots.first().and_then(Lot::thickness);
                self.goods.hold(class, thickness).then(|| self.goods.stated())
            }

            fn valid(&self) -> Window {
                self.valid
            }

            fn place(&self) -> &Place {
                &self.place
            }
        }
    )+};
}

rule!(SellingRow, ExceptionRow, MarketRow);

/// The row in force for a class: of those that fit, the one that states most.
pub(super) fn serving<'r, T: Rule>(
    rows: impl Iterator<Item = &'r T>,
    class: &Class,
    lots: &[Lot<'_>],
    on: Date,
    report: &mut Report,
) -> Result<Option<&'r T>, Reported> {
    let fitting: Vec<(usize, &T)> = rows
        .filter(|row| row.valid().holds(on))
        .filter_map(|row| Some((row.fits(class, lots)?, row)))
        .collect();
    let most = fitting.iter().map(|(stated, _)| *stated).max();
    let best = fitting.into_iter().filter(|(stated, _)| Some(*stated) == most).map(|(_, row)| row);
    match in_force(best, T::valid, on) {
        Lookup::Found(row) => Ok(Some(row)),
        Lookup::Several(rows) => {
            let mut places = rows.iter().map(|row| row.place());
            let message = format!(
                "two rows price {} {} {} in {}",
                class.stone, class.finish, class.thickness, class.yard
            );
            let mut fault = Fault::error(Code::AmbiguousRate, message);
            if let Some(first) = places.next() {
                fault = fault.at(first, "this row");
            }
            for other in places {
                fault = fault.also(other, "and this one");
            }
            Err(report.error(fault.help(
                "the row that states most of the slabs serves: state more in one of them, or remove it",
            )))
        }
        Lookup::Lapsed(_) | Lookup::Missing => Ok(None),
    }
}
