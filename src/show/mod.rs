//! Results as pages of facts and tables, and pages as text, markdown, HTML, CSV or a workbook; JSON from
//! structs of its own. Formats, never computes.

mod bars;
mod books;
mod cash;
mod chart;
mod check;
mod compare;
mod compare_list;
mod cost;
mod cost_book;
mod counter;
mod csv;
mod explain;
mod fit;
mod html;
mod import;
pub mod json;
mod load;
mod markdown;
mod outgoing;
mod over;
mod page;
mod paper;
mod ports;
mod rates;
mod report;
mod routes;
mod saw;
mod starter;
mod sweep;
mod text;
mod topup;
mod verdict;
mod what_if;
mod worksheet;
mod write;
mod xlsx;

pub use books::{
    Lines, Proposed, arrive, audit, booked, consigned, cover, events_text, explained_booked,
    freeze_files, journal, prices, settle, showroom, stock, stock_by, worth,
};
pub use cash::paid;
pub use chart::{over, over_chart};
pub use check::{Checked, checked};
pub use compare::{compared, goods_in_words, reason};
pub use cost::{costed, on_starters};
pub use cost_book::{CostBook, cost_book};
pub use counter::{Against, CounterPage, counter};
pub use explain::{Told, explained, working};
pub use import::{imported, packing_csv, proforma};
pub use load::{Load, drawing, frozen, loaded, loaded_together};
pub use outgoing::{
    NoTags, TagPaper, letter, outgoing_drawing, outgoing_load, outgoing_plan, tags,
};
pub use over::OverPage;
pub use page::{Align, Block, Cell, Column, Page, Row, Table};
pub use paper::{Ground, Paper};
pub use ports::ports;
pub use rates::rates;
pub use report::{Report, report};
pub use routes::{RoutesPage, routes};
pub use saw::{SawPage, saw};
pub use starter::{Begun, StarterFigure, begun, starter_figures, starters};
pub use sweep::{SweepPage, sweep};
pub use topup::{TopupPage, topup};
pub use what_if::{WhatIfPage, what_if};
pub use worksheet::{worksheet, worksheet_json};
pub use write::Format;
