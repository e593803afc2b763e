//! When a charge is paid.

use crate::trade::Date;

/// When a charge is paid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Payable {
    /// On a day; and the day it comes back, where it does.
    On(Date, Option<Date>),
    /// As the plan of an invoice has it, by the invoice's position.
    ByPlan(usize),
}
