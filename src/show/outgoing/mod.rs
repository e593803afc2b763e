//! What leaves the house, as pages, drawings and files: made from the types of `outgoing` alone.

mod drawing;
mod hold;
mod letter;
mod load;
mod plan;
mod tags;

pub use drawing::outgoing_drawing;
pub use letter::letter;
pub use load::outgoing_load;
pub use plan::outgoing_plan;
pub use tags::{NoTags, TagPaper, tags};
