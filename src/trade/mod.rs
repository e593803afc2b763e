//! What the trade talks about: plain types, no files, no output.
//!
//! ```text
//! Shipment ─ Yard, Route, Dates, Policy
//!   ├─ Invoice ─ DeliveryTerm, Line ─ Stone, Measure, Price
//!   ├─ Bundle ─ block, mass, outside size
//!   ├─ Slab ─ line, bundle, gross and billed area, mass
//!   └─ GivenBox ─ which bundles are in which box, where that is known
//! Tariffs ─ Stone, ContainerType, Yard, ChargeRow, LimitRow, Rig, RoadLaw, DutyRow, Regime, ExchangeRow, Timber
//! ```

pub mod account;
pub mod arrival;
pub mod bond;
pub mod book_event;
pub mod calendar;
pub mod charge;
pub mod charge_name;
mod clock;
pub mod code;
pub mod container;
pub mod control;
pub mod duty;
pub mod filing;
pub mod freeze;
pub mod given;
mod marked;
pub mod measure;
pub mod offer;
pub mod paper;
pub mod payment;
pub mod port;
pub mod pricing;
pub mod rig;
pub mod road;
mod sailing;
pub mod sawing;
pub mod scope;
mod securing;
pub mod selling;
pub mod sharing;
pub mod shipment;
pub mod stock;
pub mod stone;
pub mod sweep;
mod taking;
mod tariffs;
pub mod term;
pub mod tier;
pub mod twice;
pub mod wishes;
pub mod workday;
pub mod yard;

pub use account::{Account, AccountRow, Exported, numbered};
pub use arrival::{ArrivalRow, ArrivalState};
pub use bond::{BondStep, ContinuousBond};
pub use book_event::{
    Answer, BillBy, BillLine, Billed, BookEvent, BookKind, ClaimState, Found, FoundState, Piece,
    Use,
};
pub use calendar::{Date, Dates, Event, Window};
pub use charge::{
    Basis, ChargeRow, Exempt, ExemptIf, Interest, Key, Matches, Per, Rate, STARTER, TableName,
    Treatment, WhatOf,
};
pub use clock::Clock;
pub use code::{Country, Lane, Port};
pub use container::{ContainerNumber, ContainerType, SizeType, WayIn};
pub use control::{Control, Handover};
pub use duty::{
    DutyRate, DutyRounding, DutyRow, DutyUnit, EntryFee, LayerKind, Regime, SpecificRate,
    TariffLine, ValueBasis,
};
pub use filing::{BillOfLading, Covers, EntryKind, Filing, Mode};
pub use freeze::{
    CHARGE_COLUMNS, FREEZE_LISTS, Freeze, FrozenBox, FrozenCharge, FrozenLine, FrozenRow,
    FrozenSlab, Sharing,
};
pub use given::{GivenBox, GivenPlace, GivenPlan, KeptProof};
pub use marked::Marked;
pub use measure::{BilledUnit, Measure, MoneyRounding, SideRounding};
pub use offer::{AskedOffers, Offers};
pub use paper::{Paper, StatedLine};
pub use payment::{Payment, PaymentDay, PaymentPart};
pub use port::{CalledPort, NamedPort, ports_called};
pub use pricing::{Applies, Counting, Extra, Least, Pricing, QualityPrice, Step};
pub use rig::{AxleGroup, Chassis, DoorRule, Doors, Ratings, Rig, Tractor};
pub use road::{AxleRule, Bridge, FootRule, GrossRule, RoadLaw, SpreadRange, Ties};
pub use sailing::{Sailing, SailingDays, SailingRow};
pub use sawing::{
    Block, BlockBill, CannotSaw, Cut, QuarryAllowance, SawMethod, Sawing, StepDone, Through,
    WorkStep,
};
pub use scope::ScopeKind;
pub use securing::{Carriage, Friction, Push, SecuringSet};
pub use selling::{
    Aim, Class, CoverRow, Ending, ExceptionRow, Goods, MarketRow, Remnant, SellingRow, SoldBy,
};
pub use sharing::{scopes, wrong_scope};
pub use shipment::{
    Addition, BasisAdjustment, Bearers, BilledBlock, Bundle, Commission, Discount, ImportTax,
    Invoice, Line, MassBasis, PackingTerms, PolicyRule, Ready, Sawn, Shipment, Slab, StatedLeg,
};
pub use stock::Counted;
pub use stone::{Allowance, Finish, Quality, QualityId, Stone, TariffRow, Timber, UsableRow, Work};
pub use sweep::SweepRange;
pub use taking::{Offered, Take};
pub use tariffs::{
    ExchangeRow, ExchangeUse, LimitKind, LimitOn, LimitRow, Lookup, NominalSlab, Tariffs, in_force,
};
pub use term::{Bearer, DeliveryTerm, Incoterm, Leg};
pub use tier::{Tier, TierBy, Tiers};
pub use twice::{Marks, Seen};
pub use wishes::{Available, Balance, Bond, LoadWishes, SharedStock};
pub use workday::{DayCount, DayCountWord, Due, DueRule, NotCovered, WEEKDAYS, WorkCalendar};
pub use yard::{Framework, Yard};
