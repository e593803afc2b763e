//! The accounts that lines are posted to, and what they are called in the ledger they are exported to.

use std::collections::BTreeMap;

use crate::fault::{At, Place};
use crate::quantity::Decimal;

/// An account. What it is kept by (a shipment, a yard, a party) stands in the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Account {
    /// Money in the bank.
    Bank,
    /// Paid before goods pass, and owed in goods.
    Advances,
    /// Paid before goods pass, and owed in money if none come.
    Deposits,
    /// Owed by a party in money.
    Receivables,
    /// Claims that were admitted.
    Claims,
    /// Goods in transit, by shipment.
    Transit,
    /// Goods on hand, by yard.
    Yard,
    /// What stock is written down by.
    Allowance,
    /// Import tax and the like that come back.
    Recoverable,
    /// Paid for racks and containers, and owed when they go back.
    Equipment,
    /// Owed to parties for bills that have come.
    Payables,
    /// Owed to parties whose bills have not come.
    Accrued,
    /// What a hedge adds to the goods.
    Hedge,
    /// The cost of goods sold, with write-downs.
    CostOfSales,
    /// The cost of goods that were used or given away.
    Used,
    /// The cost of goods lost beyond what is normal.
    Loss,
    /// The cost of goods sent back.
    SentBack,
    /// What others make good: claims, and credits for goods sent back.
    Recovered,
    /// Expenses of the period.
    Period,
    /// Interest on what customs ask for later on, or give back.
    Finance,
    /// Exchange differences.
    Exchange,
}

impl Account {
    /// Every account with its name.
    pub const ALL: [(Self, &'static str); 21] = [
        (Self::Bank, "bank"),
        (Self::Advances, "advances"),
        (Self::Deposits, "deposits"),
        (Self::Receivables, "receivables"),
        (Self::Claims, "claims"),
        (Self::Transit, "stock in transit"),
        (Self::Yard, "stock on hand"),
        (Self::Allowance, "allowance on stock"),
        (Self::Recoverable, "recoverable charges"),
        (Self::Equipment, "deposits on equipment"),
        (Self::Payables, "payables"),
        (Self::Accrued, "accrued charges"),
        (Self::Hedge, "hedge reserve"),
        (Self::CostOfSales, "cost of sales"),
        (Self::Used, "own use and samples"),
        (Self::Loss, "abnormal loss"),
        (Self::SentBack, "goods sent back"),
        (Self::Recovered, "recovered losses"),
        (Self::Period, "expenses of the period"),
        (Self::Finance, "finance cost"),
        (Self::Exchange, "exchange differences"),
    ];

    /// Its name.
    pub fn word(self) -> &'static str {
        Self::ALL.iter().find(|(one, _)| *one == self).map_or("", |(_, word)| word)
    }

    /// Whether it holds the cost of slabs, wherever they are.
    pub fn is_of_slabs(self) -> bool {
        matches!(
            self,
            Self::Transit
                | Self::Yard
                | Self::Allowance
                | Self::CostOfSales
                | Self::Used
                | Self::Loss
                | Self::SentBack
        )
    }

    /// Whether it holds money owed or owned in a currency, which a close takes to the closing rate (IAS 21,
    /// paragraph 23). Advances on goods and stock are not among them.
    pub fn is_monetary(self) -> bool {
        matches!(
            self,
            Self::Deposits | Self::Receivables | Self::Claims | Self::Payables | Self::Accrued
        )
    }

    /// What it is kept by, in a word; `None`: there is one of it.
    pub fn kept_by(self) -> Option<&'static str> {
        match self {
            Self::Yard => Some("yard"),
            Self::Bank | Self::Exchange | Self::Finance | Self::Period | Self::Hedge => None,
            own if own.is_monetary() || own == Self::Advances => Some("party"),
            _ => Some("shipment"),
        }
    }

    /// What it is in a balance sheet or an income statement. Accounts that are the same may share a number;
    /// nothing owned is set off against what is owed, and no income against an expense (IAS 1, paragraph 32).
    pub fn sort(self) -> &'static str {
        match self {
            Self::Transit | Self::Yard | Self::Allowance => "stock",
            Self::Bank => "money in the bank",
            Self::Advances => "paid for goods to come",
            Self::Deposits | Self::Receivables | Self::Claims | Self::Equipment => {
                "owed to the house"
            }
            Self::Recoverable => "tax that comes back",
            Self::Payables | Self::Accrued => "owed by the house",
            Self::Hedge => "a reserve",
            Self::CostOfSales | Self::Used | Self::Loss | Self::SentBack | Self::Period => {
                "an expense"
            }
            Self::Recovered => "an income",
            Self::Finance => "finance",
            Self::Exchange => "exchange",
        }
    }
}

/// A row of `rates/accounts.toml`: an account as the importer's own ledger has it.
#[derive(Debug, Clone)]
pub struct AccountRow {
    /// The account.
    pub account: Account,
    /// The yard, party or shipment it is for; `None`: for each that has no row of its own.
    pub of: Option<String>,
    /// Its number in the ledger.
    pub number: At<String>,
    /// Its name in the ledger.
    pub name: Option<String>,
}

/// The row of an account, kept by a yard, party or shipment: that of its own before that of all.
pub fn numbered<'r>(rows: &'r [AccountRow], account: Account, of: &str) -> Option<&'r AccountRow> {
    let own = |row: &&AccountRow| row.account == account && row.of.as_deref() == Some(of);
    let all = |row: &&AccountRow| row.account == account && row.of.is_none();
    rows.iter().find(own).or_else(|| rows.iter().find(all))
}

/// The entries of an earlier export by their names: the first row of each, and of each line the account and its
/// amount in the books, a debit above nothing.
pub type Exported = BTreeMap<String, (Place, Vec<(String, Decimal)>)>;
