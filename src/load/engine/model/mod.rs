//! The model: the problem in integers, refused where figures are out of range, and then the task as
//! the search sees it. It knows nothing of bounds or searches.

pub(crate) mod conflicts;
pub(crate) mod deck;
pub(crate) mod effort;
pub(crate) mod entry;
pub(crate) mod misfit;
pub(crate) mod problem;
pub(crate) mod rows;
pub(crate) mod task;
pub(crate) mod validate;
pub(crate) mod watch;
