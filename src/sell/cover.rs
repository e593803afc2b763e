//! How long a stone lasts, and by when it must be ordered again.
//!
//! Decided on 2026-11-27. Slabs sell in lumps, and no normal curve holds of a few sales a year: so there is no
//! service level here, but a reserve that the row states (common practice). A month has 365/12 days.

use std::collections::BTreeMap;

use chrono::{Days, Months};

use super::classes::classes;
use crate::fault::{Report, Reported};
use crate::ledger::{Ledger, Listed, Where};
use crate::quantity::{Area, Decimal, Fraction, Overflow};
use crate::trade::{Class, CoverRow, Date, Tariffs};

/// How long the slabs of a row last.
#[derive(Debug, Clone)]
pub struct Cover<'l> {
    /// The row.
    pub row: &'l CoverRow,
    /// The gross area in the yards that nobody has set aside.
    pub on_hand: Area,
    /// The gross area on the way that nobody has set aside.
    pub coming: Area,
    /// The gross area that is used in a month; `None`: nothing is used.
    pub used: Option<Area>,
    /// The days since its first slab came, where these are less than the months that issues are counted over: they
    /// are counted over these days then.
    pub days_here: Option<u32>,
    /// What of the quarry's rest nobody has ordered since, where the quarry said by the day what is left.
    pub left: Option<Area>,
    /// The months that what is on hand lasts.
    pub months: Option<Decimal>,
    /// The months that it lasts with what is on the way.
    pub months_with_coming: Option<Decimal>,
    /// The day on which nothing is left above the reserve, with what is on the way.
    pub runs_out: Option<Date>,
    /// The day by which the next order must be placed.
    pub order_by: Option<Date>,
    /// Shipments that come after what is there has run out.
    pub late: Vec<Late<'l>>,
    /// The months that all lasts with what is left at the quarry, where it said.
    pub months_with_left: Option<Decimal>,
    /// The months of use that the reserve is, which is none of the stock to be sold.
    pub months_of_reserve: Option<Decimal>,
}

/// A stone that stands in a yard, is on the way to it or was used of late, and that no row watches there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unwatched {
    /// The stone.
    pub stone: String,
    /// The yard.
    pub yard: String,
    /// The gross area in it.
    pub on_hand: Area,
    /// The gross area on the way to it.
    pub coming: Area,
    /// The gross area issued in the last [`Self::MONTHS`].
    pub issued: Area,
}

impl Unwatched {
    /// The months that issues are counted over.
    pub const MONTHS: u32 = 12;
}

/// A shipment that comes too late.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Late<'l> {
    /// The shipment.
    pub shipment: &'l str,
    /// The day it comes to the yard.
    pub comes: Date,
    /// The day on which nothing is left before it comes.
    pub runs_out: Date,
}

impl Cover<'_> {
    /// So many months are the least for which a material is started with a customer (common practice).
    pub const SHORT: Decimal = Decimal::from_parts(6, 0, 0, false, 0);

    /// Whether the stone ends within [`Self::SHORT`] months, all that the quarry has left among it.
    pub fn is_ending(&self) -> bool {
        self.months_with_left.is_some_and(|months| months < Self::SHORT)
    }
}

/// The most days that a stock is said to last: ten years (a choice of ours).
const MOST_DAYS: u64 = 3_653;

/// What comes on a day.
#[derive(Debug, Clone, Copy)]
struct Coming<'l> {
    shipment: &'l str,
    day: Date,
    area: Area,
}

/// Works out the cover of each row of `[[cover]]` on a day. `listed` has every slab, those that left stock too.
///
/// # Errors
/// Where an area is too large.
pub fn cover<'l>(
    ledger: &'l Ledger<'_>,
    listed: &[Listed<'l>],
    tariffs: &'l Tariffs,
    on: Date,
    report: &mut Report,
) -> Result<Vec<Cover<'l>>, Reported> {
    let classes = classes(listed);
    let mut all = Vec::new();
    for row in &tariffs.cover {
        let own = classes.iter().filter(|(class, _)| serves(row, class, tariffs));
        let own: Vec<&Listed<'l>> = own.flat_map(|(_, slabs)| slabs).collect();
        all.push(report.fits(of_row(ledger, row, &own, on), &row.place)?);
    }
    Ok(all)
}

/// Whether a row is for slabs of a class, and no row that states more of them is.
fn serves(row: &CoverRow, class: &Class, tariffs: &Tariffs) -> bool {
    let states_more =
        |other: &CoverRow| other.goods.hold(class) && other.goods.stated() > row.goods.stated();
    row.goods.hold(class) && !tariffs.cover.iter().any(states_more)
}

/// The stones of which slabs are held by no row of `[[cover]]`, yard by yard.
///
/// # Errors
/// Where an area is too large.
pub fn unwatched(
    ledger: &Ledger<'_>,
    listed: &[Listed<'_>],
    tariffs: &Tariffs,
    on: Date,
) -> Result<Vec<Unwatched>, Overflow> {
    let mut all: BTreeMap<(&str, &str), Unwatched> = BTreeMap::new();
    let classes = classes(listed);
    let is_watched = |class: &Class| tariffs.cover.iter().any(|row| row.goods.hold(class));
    let since = on.checked_sub_months(Months::new(Unwatched::MONTHS));
    for (class, slabs) in classes.iter().filter(|(class, _)| !is_watched(class)) {
        let none = (Area::ZERO, Area::ZERO, Area::ZERO);
        let sums = slabs.iter().try_fold(none, |(here, coming, issued), one| {
            let area = one.gross();
            Ok(match one.state.at {
                Where::Yard(_) => (here.plus(area)?, coming, issued),
                Where::Transit => (here, coming.plus(area)?, issued),
                _ if is_issued_since(ledger, one, since) => (here, coming, issued.plus(area)?),
                _ => (here, coming, issued),
            })
        })?;
        if sums == none {
            continue;
        }
        let own = all.entry((&class.stone, &class.yard)).or_insert_with(|| Unwatched {
            stone: class.stone.clone(),
            yard: class.yard.clone(),
            on_hand: Area::ZERO,
            coming: Area::ZERO,
            issued: Area::ZERO,
        });
        own.on_hand = own.on_hand.plus(sums.0)?;
        own.coming = own.coming.plus(sums.1)?;
        own.issued = own.issued.plus(sums.2)?;
    }
    Ok(all.into_values().collect())
}

/// Whether a slab was issued after a day.
fn is_issued_since(ledger: &Ledger<'_>, one: &Listed<'_>, since: Option<Date>) -> bool {
    let by = one.state.moved_by.and_then(|event| ledger.books.events.get(event));
    matches!(one.state.at, Where::Issued(_))
        && by.is_some_and(|event| since.is_none_or(|since| event.posted > since))
}

fn of_row<'l>(
    ledger: &Ledger<'_>,
    row: &'l CoverRow,
    slabs: &[&Listed<'l>],
    on: Date,
) -> Result<Cover<'l>, Overflow> {
    let free = || slabs.iter().filter(|one| one.reserved.is_none());
    let on_hand = free().filter(|one| one.state.at.is_on_hand());
    let on_hand = Area::total(on_hand.map(|one| one.gross()))?;
    let mut coming: Vec<Coming<'l>> = Vec::new();
    for one in free().filter(|one| one.state.at == Where::Transit) {
        let (shipment, area) = (one.freeze.shipment.as_str(), one.gross());
        match coming.iter_mut().find(|other| other.shipment == shipment) {
            Some(other) => other.area = other.area.plus(area)?,
            None => coming.push(Coming { shipment, day: one.freeze.delivered, area }),
        }
    }
    coming.sort_by_key(|one| (one.day, one.shipment));
    let (used, days_here) = match row.used {
        Some(used) => (used, None),
        None => issued(ledger, row, slabs, on)?,
    };
    let left = left_of(row, slabs, on)?;
    let total = Area::total(coming.iter().map(|one| one.area))?;
    let all = on_hand.plus(total)?;
    let with_left = left.map(|left| all.plus(left)).transpose()?;
    let mut cover = Cover {
        row,
        on_hand,
        coming: total,
        used: None,
        days_here,
        left,
        months: None,
        months_with_coming: None,
        runs_out: None,
        order_by: None,
        late: Vec::new(),
        months_with_left: None,
        months_of_reserve: None,
    };
    if used.is_none() {
        return Ok(cover);
    }
    let months = |area: Area| {
        let months = Fraction::of(area.base()).over(&Fraction::of(used.base()));
        months.round(1, "months").ok()
    };
    (cover.runs_out, cover.late) = run_out((on_hand, row.reserve), &coming, used, on);
    let lead = Days::new(row.lead_days.into());
    cover.used = Some(used);
    cover.order_by = cover.runs_out.and_then(|day| day.checked_sub_days(lead));
    cover.months = months(on_hand);
    cover.months_with_coming = months(all);
    cover.months_of_reserve = months(row.reserve).filter(|months| !months.is_zero());
    cover.months_with_left = with_left.and_then(months);
    Ok(cover)
}

/// The area issued in a month, as a mean of the months that a row counts; or of the days since the first slab came,
/// where these are less. A slab that came back does not count.
fn issued(
    ledger: &Ledger<'_>,
    row: &CoverRow,
    slabs: &[&Listed<'_>],
    on: Date,
) -> Result<(Area, Option<u32>), Overflow> {
    let since = on.checked_sub_months(Months::new(row.months));
    let is_counted = |one: &&&Listed<'_>| is_issued_since(ledger, one, since);
    let all = Area::total(slabs.iter().filter(is_counted).map(|one| one.gross()))?;
    let came = slabs.iter().filter_map(|one| one.state.arrived).min();
    let came = came.filter(|came| since.is_some_and(|since| *came > since));
    let days = came.and_then(|came| u32::try_from((on - came).num_days()).ok());
    let days = days.map(|days| days.max(1));
    let months = match days {
        Some(days) => Fraction::ratio(u128::from(days) * 12, 365),
        None => Fraction::of(row.months.into()),
    };
    let month = Fraction::of(all.base()).over(&months);
    Ok((Area::m2(month.round(6, "an area used in a month")?)?, days))
}

/// What the quarry still has: what it said, less what was bought since. `None`: by the day it had said nothing.
fn left_of(row: &CoverRow, slabs: &[&Listed<'_>], on: Date) -> Result<Option<Area>, Overflow> {
    let Some((left, said)) = row.left.filter(|(_, said)| *said <= on) else { return Ok(None) };
    let since = slabs.iter().filter(|one| one.freeze.quoted > said);
    let bought = Area::total(since.map(|one| one.gross()))?;
    if bought >= left { Ok(Some(Area::ZERO)) } else { left.minus(bought).map(Some) }
}

/// The day on which an area above the reserve is used up, and the shipments that come after it was used up
/// once. What is late is used from the day it comes.
fn run_out<'l>(
    (on_hand, reserve): (Area, Area),
    coming: &[Coming<'l>],
    used: Area,
    on: Date,
) -> (Option<Date>, Vec<Late<'l>>) {
    let per_day = Fraction::of(used.base()).times(&Fraction::ratio(12, 365));
    // Whole days: the floor is the ceiling of the number turned over.
    let days = |stock: &Fraction| {
        let whole = stock.over(&per_day).negated().ceil().negated();
        whole.to_i64().unwrap_or(i64::MAX)
    };
    let at_least_none =
        |stock: Fraction| if stock.is_negative() { Fraction::whole(0) } else { stock };
    // What lasts longer than that has no day that anybody plans by.
    let after = |from: Date, days: i64| {
        let days = u64::try_from(days).ok().filter(|days| *days <= MOST_DAYS);
        days.and_then(|days| from.checked_add_days(Days::new(days)))
    };
    let mut stock =
        at_least_none(Fraction::of(on_hand.base()).minus(&Fraction::of(reserve.base())));
    let (mut from, mut late) = (on, Vec::new());
    for one in coming {
        // What should be there already comes the next day at the soonest: it counts from today.
        let comes = one.day.max(from);
        let gap = (comes - from).num_days();
        let lasts = days(&stock);
        if let Some(runs_out) = after(from, lasts).filter(|_| lasts < gap) {
            late.push(Late { shipment: one.shipment, comes, runs_out });
        }
        let gone = per_day.times(&Fraction::whole(gap.into()));
        stock = at_least_none(stock.minus(&gone)).plus(&Fraction::of(one.area.base()));
        from = comes;
    }
    (after(from, days(&stock)), late)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn m2(figure: i64) -> Area {
        Area::m2(Decimal::from(figure)).unwrap()
    }

    fn day(text: &str) -> Date {
        text.parse().unwrap()
    }

    /// A textbook's figures: 1,000 on hand and 200 used a week last 5 weeks, 500 and 50 last 10 (a textbook of
    /// purchasing, read in a retrieved copy). A week is 7 days; 200 a week are 200 / 7 x 365 / 12 a month.
    #[test]
    fn a_stock_lasts_as_many_weeks_as_the_textbook_has() {
        for (on_hand, weekly, weeks) in [(1_000, 200_i128, 5), (500, 50, 10)] {
            // To six places the month is a little long or short: a day at most.
            let month = Fraction::whole(weekly * 365).over(&Fraction::whole(7 * 12));
            let used = Area::m2(month.round(6, "an area").unwrap()).unwrap();
            let on = day("2026-04-01");
            let (runs_out, _) = run_out((m2(on_hand), m2(0)), &[], used, on);
            let days = (runs_out.unwrap() - on).num_days();
            assert!((weeks * 7 - 1..=weeks * 7).contains(&days), "{days}");
        }
    }

    /// 365 m2 a month are 12 m2 a day. 120 m2 last 10 days. A shipment on day 20 comes 10 days late; its 60 m2
    /// last 5 days more, until day 25.
    #[test]
    fn what_comes_after_the_end_is_named_and_is_used_from_then_on() {
        let on = day("2026-04-01");
        let coming = [Coming { shipment: "late", day: day("2026-04-21"), area: m2(60) }];
        let (runs_out, late) = run_out((m2(120), m2(0)), &coming, m2(365), on);
        let named =
            Late { shipment: "late", comes: day("2026-04-21"), runs_out: day("2026-04-11") };
        assert_eq!(late, [named]);
        assert_eq!(runs_out, Some(day("2026-04-26")));
        // In time, the two are used one after the other: 180 m2 last 15 days.
        let coming = [Coming { day: day("2026-04-06"), ..coming[0] }];
        let (runs_out, late) = run_out((m2(120), m2(0)), &coming, m2(365), on);
        assert_eq!((runs_out, late), (Some(day("2026-04-16")), Vec::new()));
        // A reserve of 24 m2 is two days.
        let (runs_out, _) = run_out((m2(120), m2(24)), &coming, m2(365), on);
        assert_eq!(runs_out, Some(day("2026-04-14")));
    }
}
