//! `quaystone load` of several shipments: those that share boxes are planned together.

use std::io::Write;

use super::job::{Exit, Options};
use super::loaded::{self, Wanted};
use super::progress::Progress;
use crate::choose::{Refused, Short, Together, together};
use crate::fault::Report;
use crate::load;
use crate::show::{self, Load};
use crate::trade::{Shipment, Tariffs};

pub(super) fn run(names: &[String], wanted: &Wanted<'_>, options: &Options) -> Exit {
    let mut report = options.report();
    let (workspace, tariffs) = match options.open(&mut report) {
        Ok(opened) => opened,
        Err(exit) => return exit,
    };
    if let Err(exit) = Options::refuse_one_shipment_twice(names, &workspace) {
        return exit;
    }
    if let Err(exit) = wanted.refuse_one_path_twice(options) {
        return exit;
    }
    let shipments = Options::read_each(&workspace, names, &tariffs, &mut report);
    let planned = shipments.and_then(|shipments| {
        let each: Vec<&Shipment> = shipments.iter().collect();
        let _shown = Progress::show();
        let planned = together(&each, &tariffs, options.effort(), &mut report)?;
        Ok((shipments, planned))
    });
    match Options::told(&report, planned) {
        Ok((shipments, Ok(mut planned))) => {
            for (shipment, costed) in shipments.iter().zip(&mut planned.loads) {
                load::prefer(
                    &mut costed.plan,
                    &costed.verdict,
                    shipment,
                    &tariffs,
                    options.units(),
                );
            }
            put(wanted, options, (&shipments, &planned), &tariffs, &report)
        }
        Ok((shipments, Err(refused))) => {
            refuse(&shipments.iter().collect::<Vec<_>>(), &refused, &report)
        }
        Err(exit) => exit,
    }
}

fn put(
    wanted: &Wanted<'_>,
    options: &Options,
    (shipments, planned): (&[Shipment], &Together),
    tariffs: &Tariffs,
    report: &Report,
) -> Exit {
    let each = shipments.iter().zip(&planned.loads);
    let summed = each.map(|(own, costed)| Options::summed_up(own, costed, tariffs));
    let summed = match summed.collect::<Result<Vec<_>, Exit>>() {
        Ok(summed) => summed,
        Err(exit) => return exit,
    };
    let each = shipments.iter().zip(&planned.loads).zip(&summed);
    let loads = each.map(|((shipment, costed), summaries)| Load { shipment, costed, summaries });
    let loads: Vec<Load<'_>> = loads.collect();
    let page =
        show::loaded_together(&loads, planned, options.units(), wanted.sheets.ground(options));
    let json = |out: &mut dyn Write| show::json::together(&loads, planned, out);
    let exit = loaded::put(wanted, options, (&loads, Some(planned)), report, (page, &json));
    loads
        .iter()
        .fold(exit, |exit, load| Options::unless_under_least(exit, load.shipment, load.costed))
}

/// Says why shipments are not loaded together.
pub(super) fn refuse(shipments: &[&Shipment], refused: &Refused, report: &Report) -> Exit {
    let names: Vec<&str> = shipments.iter().map(|one| one.name.as_str()).collect();
    let head = format!("{}: they cannot be loaded together", names.join(", "));
    match refused {
        Refused::Alone(all) => {
            let own = all.iter().filter_map(|(at, misfits)| Some((shipments.get(*at)?, misfits)));
            let said = own.fold(None, |_, (shipment, misfits)| {
                Some(Options::no_box(shipment, misfits, report))
            });
            said.unwrap_or_else(|| Exit::No(Options::say(&head)))
        }
        Refused::Short(all) => {
            Options::say(&head);
            for short in all {
                Options::say(&format!("  {}", words(short, shipments)));
            }
            Exit::No(Options::say(
                "have more of them, allow another container type, or let one of the shipments wait",
            ))
        }
    }
}

fn words(short: &Short, shipments: &[&Shipment]) -> String {
    let stock = &short.stock;
    let place = stock.named_by.first().map_or_else(String::new, |(_, at)| format!(" ({at})"));
    let how = if short.proven { "at least" } else { "as far as was found" };
    let needs = stock.named_by.iter().zip(&short.least).filter_map(|((at, _), least)| {
        let shipment = shipments.get(*at)?;
        Some(if shipment.boxes.is_empty() {
            format!("{} needs {least} {how}", shipment.name)
        } else {
            format!("{} has {least}, as it is given", shipment.name)
        })
    });
    let needs = needs.collect::<Vec<_>>().join(", ");
    let holds = stock.holds().words();
    let rest = if short.is_enough() { "; it would do, were it the only one" } else { "" };
    format!("\"{}\"{place} holds {holds}: {needs}{rest}", stock.name)
}
