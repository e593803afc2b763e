//! What waits until starter figures are replaced: what goes out, and what is asked of a supplier.

use super::job::{Exit, Options};
use crate::choose::Costed;
use crate::show::on_starters;
use crate::trade::Shipment;

/// The option of commands that wait for figures of one's own.
#[derive(Debug, clap::Args)]
pub(super) struct Starters {
    /// Do it although the cost rests on starter figures, which nobody quoted
    #[arg(long)]
    starter: bool,
}

impl Starters {
    /// An end where a cost rests on starter figures, and they were not let stand.
    pub(super) fn allow(&self, shipment: &Shipment, costed: &Costed) -> Result<(), Exit> {
        match on_starters(&costed.landed.headline.starters) {
            Some(what) if !self.starter => Err(Exit::No(Options::say(&format!(
                "{}: {what}; put your own in their place first, or say that they will do: --starter",
                shipment.called()
            )))),
            _ => Ok(()),
        }
    }
}
