//! `shipment.toml`, and the shipment as a whole with its packing list and plan.

mod doubts;
mod head;
mod invoices;
mod line;
mod nominal;
mod prices;
mod quality;
mod sawn;
mod ways;

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use super::alike::doubt_shipment;
use super::filing::{NamedFilings, filings};
use super::keys::readable;
use super::packing::{self, Packing};
use super::papers::papers;
use super::plan;
use super::table::{self, Table};
use super::wishes::{NamedWishes, check_class, check_offers, wishes};
use super::workspace::Workspace;
use crate::fault::{At, Code, Fault, Place, Report, Reported, gathered, tried};
use crate::files;
use crate::quantity::{Mass, count_of};
use crate::trade::{
    Bundle, CalledPort, Date, GivenBox, GivenPlan, KeptProof, Lane, Line, LoadWishes, Offered,
    PolicyRule, Shipment, Take, Tariffs, Timber,
};
use doubts::{doubt_counted_prices, doubt_days, doubt_entries, doubt_payments};
use head::{dates, hours, pins, policy, route, timber};
use invoices::{Invoices, adjusts, invoices};
use nominal::{Nominal, check_made_up_slabs, made_up_twice, nominal};
use prices::every_quality_has_a_price;
use ways::Way;

/// A shipment, and the way in which it is bought.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'a> {
    /// Its name or path.
    pub name: &'a str,
    /// The `id` of a `[[way]]`; `None`: as it is written.
    pub way: Option<&'a str>,
}

impl<'a> From<&'a str> for Asked<'a> {
    fn from(name: &'a str) -> Self {
        Self { name, way: None }
    }
}

impl<'a> From<&'a String> for Asked<'a> {
    fn from(name: &'a String) -> Self {
        Self::from(name.as_str())
    }
}

/// The ways in which a shipment may be bought beside the one that is written, by their names. What is
/// wrong with the file is told where it is read whole.
pub fn ways_of(workspace: &Workspace, given: &str) -> Vec<String> {
    let known = tried(|report| {
        let folder = workspace.shipment_folder(given, report)?;
        let source = files::read(&folder.join("shipment.toml"), "shipment.toml", report)?;
        table::parse(&source, report, |top, report| {
            Ok(ways::ways(top, report).into_iter().map(|way| way.id).collect())
        })
    });
    known.unwrap_or_default()
}

/// Reads a shipment's folder.
///
/// # Errors
///
/// If there is an error in the report, of the shipment's or of the tables'.
pub fn shipment<'a>(
    workspace: &Workspace,
    asked: impl Into<Asked<'a>>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<Shipment, Reported> {
    read_whole(workspace, asked.into(), Goods::Taken, tariffs, report).map(|(shipment, _)| shipment)
}

/// Reads a shipment's folder with every bundle of its list, those that are open or not taken as well, and what
/// the list says of taking each. No load is given then: `plan.toml` and the list's containers are left aside.
///
/// # Errors
///
/// If there is an error in the report, of the shipment's or of the tables'.
pub fn on_offer(
    workspace: &Workspace,
    asked: Asked<'_>,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(Shipment, Vec<Offered>), Reported> {
    read_whole(workspace, asked, Goods::OnOffer, tariffs, report)
}

/// Which bundles of a list are read.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Goods {
    Taken,
    OnOffer,
}

fn read_whole(
    workspace: &Workspace,
    Asked { name: given, way }: Asked<'_>,
    goods: Goods,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(Shipment, Vec<Offered>), Reported> {
    let folder = workspace.shipment_folder(given, report)?;
    let name_of = |file: &str| workspace.name_of(&folder.join(file));
    let source = files::read(&folder.join("shipment.toml"), &name_of("shipment.toml"), report)?;
    let draft = table::parse(&source, report, |top, report| Ok(head(top, way, tariffs, report)));
    // With faults in it, the packing list and the plan are read all the same, for theirs.
    let mut draft = draft.unwrap_or_else(Draft::unread);
    let timber = timber(tariffs, &source.line(1), report);
    let list_name = name_of("packing.csv");
    if folder.join("packing.csv").exists() {
        draft.pass_over_nominal(&list_name, report);
    }
    let listed = list(&folder.join("packing.csv"), &list_name, &draft, tariffs, &timber, report);
    let all_read = draft.all_lines.and(listed.as_ref().map(|_| ()).map_err(|told| *told));
    let complete = all_read.is_ok();
    let mut lines = std::mem::take(&mut draft.lines);
    blocks_as_their_slabs(&mut lines);
    let mut shipment = draft.shipment.map(|shipment| Shipment { lines, ..shipment });
    let mut offered = Vec::new();
    if let Ok(shipment) = &mut shipment {
        shipment.name = folder
            .file_name()
            .map_or_else(|| given.to_owned(), |name| name.to_string_lossy().into_owned());
        if let Ok(List::Listed(packing, place)) = listed {
            shipment.packing_file = place;
            shipment.boxes = packing.boxes;
            shipment.slabs = Arc::new(packing.slabs);
            shipment.marked = Arc::new(packing.marked);
            shipment.bundles = packing.bundles;
            offered = packing.offered;
        }
        nominal(&draft.nominal, shipment, tariffs, &timber, report);
        if complete {
            shipment.load = std::mem::take(&mut draft.load).resolve(&mut shipment.bundles, report);
        }
        // Bundles beside the list are meant: they are taken.
        offered.resize(shipment.bundles.len(), Offered::default());
        match goods {
            Goods::OnOffer => shipment.boxes.clear(),
            Goods::Taken if complete && offered.iter().any(|one| !one.take.is_taken()) => {
                std::mem::take(&mut draft.filings).resolve(shipment, report);
                *shipment = taken(shipment, &offered, report)?;
            }
            Goods::Taken => {}
        }
    }
    let bundles = shipment.as_ref().ok().filter(|_| complete);
    let bundles = bundles.map(|shipment| &shipment.bundles[..]);
    let planned = match goods {
        Goods::Taken => planned(&folder.join("plan.toml"), &name_of("plan.toml"), bundles, report),
        Goods::OnOffer => Ok(None),
    };
    let mut shipment = shipment?;
    if let Ok(Some(planned)) = planned {
        match other_way(&planned, &shipment, report) {
            Ok(None) => {
                plan::agree(&planned.boxes, &shipment.boxes, &shipment.bundles, report);
                // What a load cost was by the terms that it was kept for.
                let own = |kept: &KeptProof| kept.way.as_ref().map(|named| named.value.clone());
                shipment.kept = planned.kept.filter(|kept| own(kept).as_deref() == way);
                shipment.boxes = planned.boxes;
            }
            Ok(Some(other)) => report.add(left_aside(other, &shipment)),
            // It is told.
            Err(Reported { .. }) => {}
        }
    }
    check_boxes(&shipment, tariffs, report);
    doubt_shipment(&shipment, report);
    check_made_up_bundles(&shipment, report);
    check_made_up_slabs(&shipment, report);
    if shipment.bills.is_empty() {
        draft.filings.resolve(&mut shipment, report);
    }
    doubt_entries(&shipment, tariffs, report);
    doubt_payments(&shipment, report);
    doubt_days(&shipment, report);
    doubt_counted_prices(&shipment, tariffs, report);
    if complete {
        check_free_slabs(&shipment, report);
        every_quality_has_a_price(&shipment, report);
    }
    all_read?;
    report.sound()?;
    Ok((shipment, offered))
}

/// The shipment with what its list says is taken.
fn taken(
    shipment: &Shipment,
    offered: &[Offered],
    report: &mut Report,
) -> Result<Shipment, Reported> {
    let all = offered.iter().enumerate();
    let taken: Vec<usize> = all.filter(|(_, one)| one.take.is_taken()).map(|(at, _)| at).collect();
    if taken.is_empty() {
        return Err(report.error(
            Fault::error(Code::MissingKey, "the list has no bundle that is taken")
                .at(&shipment.packing_file, "every bundle is marked open or no")
                .help(format!("mark those that are taken with keep, or have them chosen: quaystone topup {} --boxes \"1x20gp\"", shipment.name)),
        ));
    }
    let marked = [Take::Open, Take::No].into_iter().filter_map(|take| {
        let count = offered.iter().filter(|one| one.take == take).count();
        let word = Take::ALL.iter().find(|(known, _)| *known == take)?.1;
        (count > 0).then(|| format!("{} marked {word}", count_of(count, "bundle")))
    });
    let marked: Vec<String> = marked.collect();
    let notice =
        Fault::warning(Code::Notice, format!("left out of the list: {}", marked.join(", ")))
            .at(&shipment.packing_file, "by the column take");
    let is_open = offered.iter().any(|one| one.take == Take::Open);
    report.add(if is_open { notice.help("topup chooses among open ones") } else { notice });
    Ok(shipment.only(&taken))
}

/// A block's line is nominal as long as its slabs are.
fn blocks_as_their_slabs(lines: &mut [Line]) {
    let nominal: Vec<bool> = lines.iter().map(|line| line.nominal).collect();
    for line in lines {
        if let Some(block) = line.block {
            line.nominal = nominal.get(block.sawn_by).is_some_and(|own| *own);
        }
    }
}

/// Puts a shipment's bundles into the boxes of a plan that someone else made: a file in the form
/// of `plan.toml`, wherever it lies. What its folder says of boxes is set aside.
///
/// # Errors
///
/// If the plan is at fault.
pub fn other_plan(
    workspace: &Workspace,
    path: &Path,
    shipment: &mut Shipment,
    tariffs: &Tariffs,
    report: &mut Report,
) -> Result<(), Reported> {
    let absolute = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    if !path.exists() {
        let (name, called) = (path.display(), &shipment.name);
        return Err(report.error(
            Fault::error(Code::UnreadableFile, format!("there is no plan {name}")).help(format!(
                "correct its name, or write one: quaystone load {called} --freeze {name}"
            )),
        ));
    }
    let source = files::read(path, &workspace.name_of(&absolute), report)?;
    let given = table::parse(&source, report, |top, report| {
        plan::plan(top, Some(&shipment.bundles), report)
    })?;
    if let Some(other) = other_way(&given, shipment, report)? {
        let message = format!("the plan is for way {}, not for {}", other.value, shipment.called());
        return Err(report.error(
            Fault::error(Code::Contradiction, message)
                .at(&other.place, "the way it was kept for")
                .help("name that way by --way, or take `way` out where the plan serves all"),
        ));
    }
    shipment.boxes = given.boxes;
    shipment.kept = given.kept;
    check_boxes(shipment, tariffs, report);
    report.sound()
}

/// A plan's way, where the shipment is bought in another. A plan without a way serves every way.
fn other_way<'p>(
    plan: &'p GivenPlan,
    shipment: &Shipment,
    report: &mut Report,
) -> Result<Option<&'p At<String>>, Reported> {
    let kept = plan.kept.as_ref();
    let Some(named) = kept.and_then(|kept| kept.way.as_ref()) else { return Ok(None) };
    if !shipment.ways.contains(&named.value) {
        let known: Vec<&str> = shipment.ways.iter().map(String::as_str).collect();
        return Err(report.error(table::unknown_reference("way", named, "this shipment", &known)));
    }
    Ok(Some(named).filter(|named| shipment.way.as_ref() != Some(&named.value)))
}

/// What is said of a plan that is for another way.
fn left_aside(other: &At<String>, shipment: &Shipment) -> Fault {
    let message = format!("the plan is for way {}, and is left aside", other.value);
    Fault::warning(Code::Notice, message)
        .at(&other.place, format!("not for {}", shipment.called()))
        .help("the load is planned anew; take `way` out where the plan serves every way")
}

/// Reads the plan, where there is one; without `bundles`, only for its faults.
fn planned(
    path: &Path,
    name: &str,
    bundles: Option<&[Bundle]>,
    report: &mut Report,
) -> Result<Option<GivenPlan>, Reported> {
    if !path.exists() {
        return Ok(None);
    }
    let source = files::read(path, name, report)?;
    table::parse(&source, report, |top, report| plan::plan(top, bundles, report)).map(Some)
}

/// Asks of a file all that is asked of a shipment: as it is written, and in a way.
pub(super) fn ask(top: &Table<'_>, way: &str, report: &mut Report) {
    for way in [None, Some(way)] {
        drop(head(top, way, &Tariffs::default(), report));
    }
}

/// A shipment without its slabs, its lines, and their nominal quantities.
struct Draft {
    shipment: Result<Shipment, Reported>,
    lines: Vec<Line>,
    nominal: Vec<Option<Nominal>>,
    load: NamedWishes,
    filings: NamedFilings,
    /// Whether every line could be read: where not, a slab of no line is no fault of the list's.
    all_lines: Result<(), Reported>,
}

impl Draft {
    /// Of a file that cannot be read.
    fn unread(told: Reported) -> Self {
        Self {
            shipment: Err(told),
            lines: Vec::new(),
            nominal: Vec::new(),
            load: NamedWishes::default(),
            filings: NamedFilings::default(),
            all_lines: Err(told),
        }
    }

    /// Passes over the quantities of an offer without a list, once there is one: it has the slabs of all
    /// lines. Where some lines are listed already, the others stay nominal beside it.
    fn pass_over_nominal(&mut self, list: &str, report: &mut Report) {
        if self.all_lines.is_err() || self.lines.iter().any(|line| !line.nominal) {
            return;
        }
        for (line, nominal) in self.lines.iter_mut().zip(&mut self.nominal) {
            // A block has no slabs in the list: those are of the line that saws it.
            line.nominal = line.block.is_some();
            // What comes of a saw is an estimate by itself, and its works are paid by it still.
            if let Some(nominal) = nominal.take().filter(|_| line.sawing.is_none()) {
                let message = format!(
                    "{list} has the slabs: the quantity of line {} is passed over",
                    line.id
                );
                report.add(
                    Fault::warning(Code::Notice, message)
                        .at(nominal.place(), "not used any more")
                        .help("delete `quantity`, or `bundles`, `slabs` and `size`, of the line"),
                );
            }
        }
    }
}

/// What there is in the way of a packing list.
enum List {
    Listed(Packing, Place),
    NotNeeded,
}

fn head(top: &Table<'_>, asked: Option<&str>, tariffs: &Tariffs, report: &mut Report) -> Draft {
    let ways = ways::ways(top, report);
    let asked = ways::find(&ways, asked, top, report);
    // Where there is no such way, the shipment is read as written: its faults are told all the same.
    let way = asked.ok().flatten();
    let title = top.text("title", report);
    let to = top.required_text("to", report);
    let yard = to.and_then(|to| {
        tariffs.yard(&to).cloned().ok_or_else(|| {
            let by_port = tariffs.yards.iter().find(|one| one.port.to_string() == to.value);
            let by_name = tariffs.yards.iter().find(|one| one.name == to.value);
            let called =
                by_port.map(|one| (one, "the port")).or(by_name.map(|one| (one, "the `name`")));
            if let Some((yard, label)) = called {
                return table::add_other_name("yard", &to, (&yard.id, label), report);
            }
            let known: Vec<&str> = tariffs.yards.iter().map(|yard| yard.id.as_str()).collect();
            table::add_unknown("yard", &to, "rates/yards.toml", &known, report)
        })
    });
    let lane = top.optional::<Lane>("lane", report);
    let dates = dates(top, yard.as_ref().map_or(0, |yard| yard.delivery_days), report);
    let hours = hours(top, tariffs, report);
    let containers = top.texts("containers", report);
    let class = top.text("class", report);
    if let Ok(Some(class)) = &class {
        check_class(class, tariffs, report);
    }
    let filings = filings(top, report);
    let mut load = wishes(top, yard.as_ref().ok().map(|yard| yard.currency), report);
    load.check_kinds(tariffs, report);
    let pins = pins(top, report);
    let papers = match way {
        // What a paper states of one way is not for another. It is read all the same, for its faults.
        Some(way) => {
            papers(top, report);
            way.rows().flat_map(|row| papers(row, report)).collect()
        }
        None => papers(top, report),
    };
    let policy: Vec<PolicyRule> = readable(top, "policy", report, policy);
    for (index, rule) in policy.iter().enumerate() {
        let same = policy.iter().take(index).find(|one| one.charge.value == rule.charge.value);
        if let Some(first) = same {
            let message = format!("two policies for the charge \"{}\"", rule.charge.value);
            report.add(
                Fault::error(Code::Duplicate, message)
                    .at(&rule.charge.place, "again here")
                    .also(&first.charge.place, "first here")
                    .help("write one [[policy]] for both"),
            );
        }
    }
    let quoted = dates.as_ref().ok().map(|dates| dates.quoted);
    let Invoices { invoices, lines, nominal, all_invoices, all_lines } =
        invoices(top, way, quoted, tariffs, report);
    look_at_others(top, (&ways, way), quoted, tariffs, report);
    if let Ok(yard) = &yard {
        for invoice in &invoices {
            adjusts(invoice, yard, report);
        }
    }
    let lane = yard
        .as_ref()
        .map_err(|told| *told)
        .and_then(|yard| route(lane, (&invoices, all_invoices), &yard.port, tariffs, report));
    let known = || Ok((asked?, title?, yard?, lane?, dates?, containers?, class?));
    let shipment = known().map(|(way, title, yard, lane, dates, containers, class)| Shipment {
        name: String::new(),
        title: title.map_or_else(String::new, |at| at.value),
        yard,
        from: CalledPort::of(&lane.from, &tariffs.ports),
        to: CalledPort::of(&lane.to, &tariffs.ports),
        lane,
        dates,
        hours,
        containers,
        class,
        pins,
        policy,
        papers,
        invoices,
        way: way.map(|way| way.id.clone()),
        ways: ways.iter().map(|way| way.id.clone()).collect(),
        lines: Vec::new(),
        bills: Vec::new(),
        filings: Vec::new(),
        bundles: Vec::new(),
        slabs: Arc::default(),
        marked: Arc::default(),
        boxes: Vec::new(),
        kept: None,
        load: LoadWishes::default(),
        packing_file: top.place(),
    });
    Draft { shipment, lines, nominal, load, filings, all_lines }
}

/// Reads the ways that were not asked for, for what is wrong in them however the goods are bought. What
/// hangs on the day, such as a price that has lapsed, is told of the way that is asked for.
fn look_at_others<'a>(
    top: &Table<'a>,
    (ways, taken): (&[Way<'a>], Option<&Way<'a>>),
    quoted: Option<Date>,
    tariffs: &Tariffs,
    report: &mut Report,
) {
    let written = (!ways.is_empty() && taken.is_some()).then_some(None);
    for other in written.into_iter().chain(ways.iter().map(Some)) {
        if other.map(|way| &way.id) != taken.map(|way| &way.id) {
            let mut own = report.clone();
            invoices(top, other, quoted, tariffs, &mut own);
            for row in other.into_iter().flat_map(Way::rows) {
                papers(row, &mut own);
            }
            report.absorb_errors(own);
        }
    }
}

/// Reads the packing list, where a line needs one.
fn list(
    path: &Path,
    name: &str,
    draft: &Draft,
    tariffs: &Tariffs,
    timber: &Timber,
    report: &mut Report,
) -> Result<List, Reported> {
    if path.exists() {
        let source = files::read(path, name, report)?;
        let packing =
            packing::packing(&source, &draft.lines, tariffs, timber, draft.all_lines, report)?;
        return Ok(List::Listed(packing, source.line(1)));
    }
    let lacking = draft.lines.iter().filter(|line| !line.nominal).map(|line| {
        Err(report.error(
            Fault::error(
                Code::MissingKey,
                "there is no packing list".to_owned(),
            )
            .at(&line.place, "this line has no slabs")
            .help(format!("save the list as {name}; not there yet? under line {} write quantity = \"420 m2\", or bundles, slabs and size", line.id)),
        ))
    });
    gathered::<()>(lacking)?;
    Ok(List::NotNeeded)
}

/// Types named by the shipment, the list or the plan must be in the table of containers.
fn check_boxes(shipment: &Shipment, tariffs: &Tariffs, report: &mut Report) {
    let known: Vec<&str> = tariffs.containers.iter().map(|kind| kind.id.as_str()).collect();
    let boxes = || shipment.boxes.iter().chain(&shipment.load.fixed);
    let given = boxes().filter_map(|one: &GivenBox| one.kind.as_ref());
    for name in shipment.containers.iter().chain(given) {
        if !known.contains(&name.value.as_str()) {
            table::add_unknown("container type", name, "rates/containers.toml", &known, report);
        }
    }
    for one in boxes() {
        check_offers(&one.offers, tariffs, report);
        check_masses(one, tariffs, report);
    }
}

/// How far a tare may be off its type's, in percent: boxes of one type are built within a few percent
/// of each other (a choice of ours).
const TARE_WITHIN: i64 = 15;

/// How many times less or more than its type's a box's dunnage may weigh (a choice of ours).
const DUNNAGE_TIMES: i64 = 4;

/// Checks a tare that was read and dunnage that was weighed against those of the type: far from them stands a
/// slip of the pen or of the unit, near them a box that is built otherwise.
fn check_masses(one: &GivenBox, tariffs: &Tariffs, report: &mut Report) {
    let Some(kind) = one.kind.as_ref().and_then(|kind| tariffs.container(&kind.value)) else {
        return;
    };
    let mut odd = |what: &str, at: &At<Mass>, usual: Mass, [least, most]: [i64; 2], help: &str| {
        let percent = |percent: i64| i128::from(usual.grams_up()) * i128::from(percent);
        let fits =
            |grams: i64| (percent(least)..=percent(most)).contains(&(i128::from(grams) * 100));
        if fits(at.value.grams_up()) {
            return;
        }
        let pounds = Mass::lb(at.value.to_kg(6)).ok().filter(|meant| fits(meant.grams_up()));
        let help = match pounds {
            Some(_) => format!("is \"{} lb\" meant? {help}", at.value.to_kg(6).normalize()),
            None => help.to_owned(),
        };
        let [own, type_has] = [at.value, usual].map(|mass| mass.show_closely(report.units()));
        let message = format!("box {}: {what} of {own} for a {}", one.label, kind.name);
        report.add(
            Fault::error(Code::OutOfRange, message)
                .at(&at.place, format!("its type's is {type_has}: is the unit right?"))
                .also(&kind.place, "this type")
                .help(help),
        );
    };
    if let Some(tare) = &one.tare {
        let within = [100 - TARE_WITHIN, 100 + TARE_WITHIN];
        let help = "read the tare off the door again; a box that is built otherwise is a type of its own in rates/containers.toml";
        odd("a tare", tare, kind.tare, within, help);
    }
    if let Some(dunnage) = &one.dunnage {
        let within = [100 / DUNNAGE_TIMES, 100 * DUNNAGE_TIMES];
        let help = "weigh all timber, blocking and lashing of this box, or leave `dunnage` out: the type's is an estimate";
        odd("dunnage", dunnage, kind.securing, within, help);
    }
}

/// A bundle made up for a nominal line must not be called as another is; on a list, names are told apart
/// when it is read.
fn check_made_up_bundles(shipment: &Shipment, report: &mut Report) {
    if shipment.lines.iter().all(|line| !line.nominal) {
        return;
    }
    let mut seen: BTreeMap<&str, &Bundle> = BTreeMap::new();
    for bundle in &shipment.bundles {
        if let Some(first) = seen.insert(&bundle.id, bundle) {
            report.add(made_up_twice("bundle", &bundle.id, &bundle.place, &first.place));
        }
    }
}

/// Free slabs must be slabs of the invoice that gives them.
fn check_free_slabs(shipment: &Shipment, report: &mut Report) {
    for (index, invoice) in shipment.invoices.iter().enumerate() {
        for name in &invoice.free_slabs {
            let slab = shipment.slabs.iter().find(|slab| *slab.id == *name.value);
            let line = slab.and_then(|slab| shipment.lines.get(usize::try_from(slab.line).ok()?));
            if line.is_none_or(|line| line.invoice != index) && !shipment.slabs.is_empty() {
                report.add(
                    Fault::error(
                        Code::UnknownReference,
                        format!("no slab is called \"{}\"", name.value),
                    )
                    .at(&name.place, format!("none of invoice {}", invoice.number))
                    .help("a free slab is named by its number on the packing list, and billed by this invoice"),
                );
            }
        }
    }
}
