//! The model: the problem in integers, and one destination of it as the search sees it.

pub(crate) mod conflicts;
pub(crate) mod deck;
pub(crate) mod effort;
pub(crate) mod misfit;
pub(crate) mod problem;
pub(crate) mod rows;
pub(crate) mod task;
pub(crate) mod validate;
