//! The loader: bundles into boxes, with places on the floor, balance and a proof of the cost.
pub mod engine;
