//! Every test of the whole program, in one binary: it is linked once.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::float_arithmetic,
    clippy::as_conversions,
    reason = "a test fails by panicking, and may measure in floats"
)]

mod arrival;
mod asked;
mod book;
mod books;
mod books_month;
mod books_slips;
mod books_year;
mod bounded;
mod box_price;
mod carried;
mod cases;
mod charges;
mod commands;
mod common;
mod counter;
mod customs;
mod edges;
mod entries;
mod every;
mod exports;
mod faults;
mod figures;
mod footing;
mod forms;
mod full;
mod import;
mod imports;
mod init;
mod invariants;
mod kept_page;
mod labels;
mod ledger;
mod ledger_apart;
mod ledger_back;
mod ledger_common;
mod ledger_divided;
mod ledger_yard;
mod ledger_years;
mod limits_oracle;
mod loading_bounds;
mod loading_brute;
mod loading_law;
mod loading_oracle;
mod loading_road;
mod mistakes;
mod mutants;
mod offers;
mod oracle;
mod outgoing;

mod overload;
mod pages;
mod papers;
mod ports;
mod price;
mod proforma;
mod published;
mod published_customs;
mod quotes;
mod random;
mod reference;
mod regressions;
mod reports;
mod rounding;
mod routes;
mod saw;
mod scan;
mod schema;
mod scopes;
mod selling;
mod shells;
mod silent;
mod slips;
mod soundness;
mod steps;
mod strangers;
mod tags;
mod tidy;
mod together;
mod topup;
mod verdict;
mod ways;
mod what_if;
mod workbooks;
mod workspaces;
mod writing;
