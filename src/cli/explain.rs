//! `quaystone explain`: where each cent of one slab came from.

use super::job::{Exit, Options};
use crate::cost;
use crate::show;

/// Arguments of `explain`.
#[derive(Debug, clap::Args)]
pub(super) struct Args {
    /// The shipment, by name or path
    shipment: String,
    /// The slab, by its number on the packing list
    slab: String,
}

pub(super) fn run(args: &Args, options: &Options) -> Exit {
    options.with_costed(&args.shipment, |shipment, costed, _| {
        let Some(slab) = shipment.slabs.iter().position(|slab| *slab.id == *args.slab) else {
            let near: Vec<&str> = shipment.slabs.iter().take(5).map(|slab| &*slab.id).collect();
            Options::say(&format!(
                "error: {} has no slab \"{}\"; its first are {}",
                shipment.name,
                args.slab,
                near.join(", ")
            ));
            return Exit::BadCommand;
        };
        let explanation = cost::explain(shipment, &costed.landed, slab);
        let Some(explanation) = explanation else {
            Options::say("error: the figures of this slab are too large to explain");
            return Exit::BadData;
        };
        let Some(page) = show::explained(shipment, &costed.landed, &explanation, options.units())
        else {
            return Exit::BadData;
        };
        options.put(page, &|out| show::json::explain(shipment, &costed.landed, &explanation, out))
    })
}
