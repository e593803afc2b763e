//! What was read as bundles: outside sizes, masses, boxes, and that no name is there twice.

use std::collections::BTreeMap;

use smol_str::SmolStr;

use super::super::plan::listed_boxes;
use super::draft::Draft;
use super::ground::overflowed;
use super::layout::Column;
use super::list::{List, Upright};
use super::numbers::{AS_TEXT, date_as_range, uncounted};
use super::reading::{Cause, MOST_FAULTS};
use super::side::{INCHES_MM, SMALL_MM, THICK_MM};
use crate::fault::{Code, Fault, Report, Reported, gathered};
use crate::quantity::{Area, Decimal, Length, Mass, Overflow, Units, Weights, count_of, grouped};
use crate::trade::{Bundle, GivenBox, Line, Marked, MassBasis, Offered, Slab};

/// What a packing list says.
pub(in crate::read) struct Packing {
    pub(in crate::read) slabs: Vec<Slab>,
    pub(in crate::read) bundles: Vec<Bundle>,
    /// What is said of slabs beside their measures, by their names.
    pub(in crate::read) marked: BTreeMap<SmolStr, Marked>,
    /// The boxes that bundles are said to be in.
    pub(in crate::read) boxes: Vec<GivenBox>,
    /// What is said of taking each bundle.
    pub(in crate::read) offered: Vec<Offered>,
}

impl List<'_> {
    pub(super) fn finish(mut self, report: &mut Report) -> Result<Packing, Reported> {
        self.duplicates(report);
        if self.slabs.is_empty() && self.reading.sound.is_ok() {
            let place = self.reading.ground.source.line(self.reading.ground.layout.row);
            self.reading.fault(
                Fault::error(
                    Code::MissingKey,
                    format!("{} lists no slab", self.reading.ground.source.name),
                )
                .at(&place, "only a header")
                .help("add a row for each slab, or delete the file and write quantity = \"420 m2\" under the line"),
                report,
            );
        }
        let listed: Vec<bool> = (0..self.reading.ground.lines.len())
            .map(|line| self.slabs.iter().any(|slab| usize::try_from(slab.line) == Ok(line)))
            .collect();
        for (line, _) in self
            .reading
            .ground
            .lines
            .iter()
            .zip(listed)
            .filter(|(line, listed)| !line.nominal && !listed)
        {
            if self.reading.sound.is_ok() {
                report.add(no_slabs(line));
            }
        }
        if self.reading.faults > MOST_FAULTS {
            let more = self.reading.faults - MOST_FAULTS;
            let place =
                self.reading.unshown.clone().unwrap_or_else(|| self.reading.ground.source.line(1));
            let message = format!(
                "{} more faults of {} are not shown",
                grouped(more.into()),
                self.reading.ground.source.name
            );
            report.add(
                Fault::error(Code::OutOfRange, message)
                    .at(&place, "the first of them")
                    .help("they may all come from one column: correct that, and run this again"),
            );
        }
        self.reading.sound?;
        self.reading.tell_rounded(report);
        self.very_small(report);
        let odd = self.odd_sizes(report);
        self.higher_than_long(&odd, report);
        self.told_damage(report);
        self.uncounted(report);
        self.dated(report);
        self.told_areas(report);
        let drafts = std::mem::take(&mut self.drafts.all);
        let units = report.units();
        let made: Vec<_> = drafts.iter().map(|draft| self.made(draft, units)).collect();
        let bundles = gathered(made.into_iter().map(|made| {
            made.map_err(|(cause, fault)| match cause {
                Some(cause) => self.reading.first(cause, |_| *fault, report),
                None => self.reading.fault(*fault, report),
            })
        }))?;
        self.share_weighed(&drafts, report);
        self.reading.sound?;
        let boxes = listed_boxes(&bundles, drafts.iter().map(|draft| draft.note.as_ref()), report);
        self.slabs.shrink_to_fit();
        let offered = drafts.into_iter().map(|draft| draft.offered).collect();
        Ok(Packing { slabs: self.slabs, marked: self.marked, bundles, boxes, offered })
    }

    /// Where every slab of a list is too small to be one, the list is most likely in another unit.
    fn very_small(&self, report: &mut Report) {
        let in_cm = self
            .reading
            .ground
            .layout
            .of(Column::Length)
            .is_some_and(|(_, unit)| unit == Some("cm"));
        let most = if in_cm { INCHES_MM } else { SMALL_MM };
        if !self.drafts.all.iter().all(|draft| draft.length.mm_up() < most) {
            return;
        }
        let small = Length::whole_mm(most).show(report.units());
        let index = self.reading.ground.layout.of(Column::Length).map_or(0, |(index, _)| index);
        let place = self.reading.cell_place(self.reading.ground.layout.row, index);
        report.add(
            Fault::warning(
                Code::OutOfRange,
                format!("every slab of the list is shorter than {small}"),
            )
            .at(&place, "are the figures in this unit?")
            .help(if in_cm {
                "is the column in inches? head it \"length (in)\", and the height so as well"
            } else {
                "head the column with the unit of its figures"
            }),
        );
    }

    /// Slabs stand on their long side: where many are higher than long, two columns are swapped.
    fn higher_than_long(&self, odd: &[u32], report: &mut Report) {
        let Some(Upright { count, row, sides: [length, height] }) = &self.upright else { return };
        // A side that is asked about is the cause.
        if *count <= odd.len() && odd.iter().any(|one| usize::try_from(*one) == Ok(*row)) {
            return;
        }
        let all = self.slabs.len();
        let help = if count * 2 > all {
            "exchange the headers of length and height, if the sides are swapped".to_owned()
        } else {
            format!("in line {row} write length {height} and height {length}, if they are swapped")
        };
        report.add(
            Fault::warning(
                Code::OutOfRange,
                format!(
                    "{} of {} slabs are higher than long",
                    grouped((*count).into()),
                    grouped(all.into())
                ),
            )
            .at(&self.reading.ground.source.line(*row), "are the sides swapped?")
            .help(format!("a slab stands on its long side: {help}")),
        );
    }

    /// A remark of damage changes no figure.
    fn told_damage(&self, report: &mut Report) {
        let Some((count, place)) = &self.damaged else { return };
        let message = if *count == 1 {
            "a remark of damage changes no figure".to_owned()
        } else {
            format!("{} remarks of damage change no figure", grouped((*count).into()))
        };
        report.add(
            Fault::warning(Code::Notice, message)
                .at(place, "the slab is counted and priced as sound")
                .help("delete the row of a slab that does not come")
                .help(self.cheaper()),
        );
    }

    /// What to write for a slab that comes cheaper.
    fn cheaper(&self) -> String {
        match self.reading.ground.lines {
            [line] => format!(
                "for one that comes cheaper, copy [[invoice.line]] \"{id}\" as \"{id}2\" with its price, add a column \"line\" here, and write {id}2 in this row and {id} in the others",
                id = line.id
            ),
            _ => "for one that comes cheaper, copy its [[invoice.line]] under another `id` with its price, and name that in the column \"line\" of this row".to_owned(),
        }
    }

    /// Numbers that are ranges in a list without a count: most likely each such row is several slabs.
    fn uncounted(&self, report: &mut Report) {
        if self.reading.ground.layout.of(Column::Count).is_some() {
            return;
        }
        let rows = uncounted(self.slabs.iter().map(|slab| slab.id.as_str()));
        let first = rows.first().and_then(|(at, slabs)| Some((self.slabs.get(*at)?, slabs)));
        let Some((slab, slabs)) = first else { return };
        let place = self.reading.ground.source.line(usize::try_from(slab.row).unwrap_or(0));
        let lines: Vec<String> =
            rows.iter().filter_map(|(at, _)| Some(self.slabs.get(*at)?.row.to_string())).collect();
        let message = match &lines[..] {
            [one, other] => format!(
                "2 rows look like ranges, but each counts as one slab (lines {one} and {other})"
            ),
            [first, .., last] => format!(
                "{} rows look like ranges, but each counts as one slab (lines {first} to {last})",
                grouped(lines.len().into())
            ),
            _ => format!("the row \"{}\" counts as one slab", slab.id),
        };
        report.add(
            Fault::warning(Code::OutOfRange, message)
            .at(&place, format!("its number looks like a range of {}", count_of(*slabs, "slab")))
            .help(format!(
                "add a column \"pcs\" with the slabs of each row, here {slabs}, or give each slab a row"
            )),
        );
    }

    /// Numbers that a spreadsheet turned into dates.
    fn dated(&self, report: &mut Report) {
        let mut dates =
            self.slabs.iter().filter_map(|slab| Some((slab, date_as_range(&slab.id, None)?)));
        let Some((slab, meant)) = dates.next() else { return };
        let message = match dates.count() {
            0 => format!("slab number \"{}\" is a date", slab.id),
            more => format!(
                "{} slab numbers are dates, \"{}\" the first",
                grouped((more + 1).into()),
                slab.id
            ),
        };
        let place = self.reading.ground.source.line(usize::try_from(slab.row).unwrap_or(0));
        report.add(
            Fault::warning(Code::OutOfRange, message)
                .at(&place, format!("the spreadsheet turned it into a date: is {meant} meant?"))
                .help(AS_TEXT),
        );
    }

    /// The supplier's areas change nothing: their sum is told beside the one that is worked out.
    fn told_areas(&self, report: &mut Report) {
        let row = self.reading.ground.layout.row;
        for (column, sum) in self.reading.ground.layout.areas.iter().zip(&self.areas) {
            let place = self.reading.cell_place(row, column.index);
            let message = format!("column \"{}\" is not read", column.cell);
            let fault = Fault::warning(Code::UnknownKey, message);
            let computed =
                self.slabs.iter().try_fold(Area::ZERO, |sum, slab| sum.plus(slab.gross_area()));
            let unit = if column.in_feet { "ft2" } else { "m2" };
            let computed = computed
                .ok()
                .map(|area| area.figure(if column.in_feet { Units::Us } else { Units::Metric }, 3));
            let Some((sum, computed)) = sum.zip(computed) else {
                report.add(fault.at(&place, "areas are worked out from length and height"));
                continue;
            };
            let (sum, computed) = (sum.normalize(), computed.normalize());
            let label = format!(
                "the list's areas make {sum} {unit}, length x height make {computed} {unit}"
            );
            let fault = fault.at(&place, label);
            // Each slab's area is rounded to two places on most lists.
            let slabs = Decimal::from(self.slabs.len());
            let off = sum.checked_sub(computed).map(|off| off.abs());
            let agrees = slabs
                .checked_mul(Decimal::new(5, 3))
                .zip(off)
                .is_some_and(|(most, off)| off <= most);
            report.add(if agrees {
                fault.help("they agree: nothing is to be done")
            } else {
                let help = match self.reading.ground.lines {
                    [line] => format!("to hold the supplier's area against the invoice, write billed = {{ quantity = \"{sum} {unit}\" }} under line {}", line.id),
                    _ => format!("to hold the supplier's areas against the invoice, write billed = {{ quantity = \"... {unit}\" }} under each line"),
                };
                fault.help(help).help("where it bills other sides, add the columns \"billed length (cm)\" and \"billed height (cm)\"")
            });
        }
    }

    fn duplicates(&mut self, report: &mut Report) {
        let slabs = std::mem::take(&mut self.slabs);
        // Sorted, as a table of a million names takes more room than the names.
        let mut by_id: Vec<u32> = (0..).take(slabs.len()).collect();
        let slab = |at: u32| usize::try_from(at).ok().and_then(|at| slabs.get(at));
        by_id.sort_by_key(|at| slab(*at).map(|slab| &slab.id));
        let mut twice: Vec<(u32, u32)> = Vec::new();
        for pair in by_id.windows(2) {
            if let [first, again] = *pair
                && slab(first).map(|slab| &slab.id) == slab(again).map(|slab| &slab.id)
            {
                twice.push((again, first));
            }
        }
        twice.sort_unstable();
        for (again, first) in twice {
            if let Some((slab, first)) = slab(again).zip(slab(first)) {
                let source = self.reading.ground.source;
                let place = |row: u32| source.line(usize::try_from(row).unwrap_or(0));
                let fault =
                    Fault::error(Code::Duplicate, format!("slab {} is listed twice", slab.id))
                        .at(&place(slab.row), "again here")
                        .also(&place(first.row), "first here");
                let bundle = usize::try_from(slab.bundle).ok();
                let bundle = bundle.and_then(|at| self.drafts.all.get(at));
                match bundle.filter(|_| first.bundle != slab.bundle) {
                    Some(bundle) => {
                        let help = format!(
                            "if numbers begin again in each bundle, write the bundle in front: \"{}-{}\"",
                            bundle.id, slab.id
                        );
                        self.reading.first(Cause::NumbersAgain, |_| fault.help(help), report)
                    }
                    None => {
                        let help = "delete one of the rows, or correct its number";
                        self.reading.fault(fault.help(help), report)
                    }
                };
            }
        }
        self.slabs = slabs;
    }

    /// A bundle; or its fault, with the cause where many bundles may share it.
    fn made(&self, draft: &Draft, units: Units) -> Result<Bundle, (Option<Cause>, Box<Fault>)> {
        let place = self.reading.ground.source.line_at(draft.row, draft.start);
        let computed = self.outside(draft);
        let mut bundle =
            computed.map_err(|overflow| (None, Box::new(overflowed(overflow, &place))))?;
        bundle.place = place;
        if let Some((weighed, row)) = draft.weighed {
            if !self.is_likely(draft, weighed, bundle.mass) {
                let thick = self.thick(draft, row, units).map(|fault| (Some(Cause::Thick), fault));
                let (cause, fault) = thick.unwrap_or_else(|| {
                    (None, self.unlikely(draft, weighed, bundle.mass, row, units))
                });
                return Err((cause, Box::new(fault)));
            }
            bundle.weighing = MassBasis::Weighed { computed: bundle.mass };
            bundle.mass = weighed;
            bundle.limit_mass = weighed.up_to_gram();
        }
        Ok(bundle)
    }

    /// Whether a weighed mass lies as near the estimate as its stones may be off.
    fn is_likely(&self, draft: &Draft, weighed: Mass, estimate: Mass) -> bool {
        let off = weighed.base().checked_sub(estimate.base()).map(|off| off.abs());
        let runs = draft.runs.iter().chain([&draft.run]);
        let mut most = runs.filter_map(|run| {
            let facts = self.reading.ground.facts(run.line)?;
            run.mass.base().checked_mul(facts.stone.weighed_within.fraction())
        });
        let most = most.try_fold(Decimal::ZERO, Decimal::checked_add);
        off.zip(most).is_some_and(|(off, most)| off <= most)
    }

    /// The fault for a doubtful thickness that a weighed mass proves wrong.
    fn thick(&self, draft: &Draft, row: usize, units: Units) -> Option<Fault> {
        let line = self.reading.ground.lines.get(draft.run.line)?;
        let mm = line.thickness.mm_up();
        let thick = line.thickness.show(units);
        let message = format!("the slabs of line {} would weigh too much at {thick}", line.id);
        let fault = Fault::error(Code::OutOfRange, message)
            .at(&line.place, "is its `thickness` right?")
            .also(&self.reading.ground.source.line(row), "a bundle was weighed here")
            .help(format!("write thickness = \"{} mm\", if that is meant", mm / 10));
        (mm > THICK_MM).then_some(fault)
    }

    fn unlikely(
        &self,
        draft: &Draft,
        weighed: Mass,
        estimate: Mass,
        row: usize,
        units: Units,
    ) -> Fault {
        let (is, should) = (weighed.show(units), estimate.show(units));
        let message =
            format!("bundle {} is weighed at {is}, and its slabs make {should}", draft.id);
        let fault = Fault::error(Code::OutOfRange, message);
        let place = self.reading.ground.source.line(row);
        let label = if weighed < estimate {
            "is this a slab's weight?"
        } else {
            "is this the weight of more than the bundle?"
        };
        fault
            .at(&place, label)
            .help(format!("write the whole bundle's mass, timber included, about {should}, on each of its rows, or leave the column out"))
            .help("where the stone is so much heavier or lighter, correct its `density`, or say `weighed-within` in rates/stones.toml")
    }

    /// A bundle's outside size and mass, timber included.
    fn outside(&self, draft: &Draft) -> Result<Bundle, Overflow> {
        let timber = self.reading.ground.timber;
        let films = draft.slabs.saturating_sub(1);
        let films = timber.between.times(Decimal::from(films))?;
        let (mut mass, mut limit_mass) = (timber.mass, timber.mass);
        let mut width = timber.width.plus(films)?;
        for run in draft.runs.iter().chain([&draft.run]) {
            let (Some(facts), Some(line)) =
                (self.reading.ground.facts(run.line), self.reading.ground.lines.get(run.line))
            else {
                continue;
            };
            mass = mass.plus(run.mass)?;
            limit_mass = limit_mass.plus(facts.stone.at_most(run.mass)?)?;
            width = width.plus(line.thickness.times(Decimal::from(run.slabs))?)?;
        }
        Ok(Bundle {
            id: draft.id.clone(),
            block: draft.block.clone().filter(|_| !draft.mixed_blocks),
            slabs: draft.slabs,
            mass,
            limit_mass: limit_mass.up_to_gram(),
            weighing: MassBasis::Computed,
            may_turn: false,
            is_a_frame: false,
            bearers: None,
            length: draft.length.plus(timber.length)?,
            width,
            height: draft.height.plus(timber.height)?,
            place: timber.place.clone(),
        })
    }

    /// Divides the weighed stone of a bundle over its slabs in proportion to their computed masses, to the
    /// gram.
    fn share_weighed(&mut self, drafts: &[Draft], report: &mut Report) {
        if drafts.iter().all(|draft| draft.weighed.is_none()) {
            return;
        }
        let bundle_of = |slab: &Slab| usize::try_from(slab.bundle).unwrap_or(usize::MAX);
        let mut members: Vec<Vec<usize>> = drafts.iter().map(|_| Vec::new()).collect();
        for (index, slab) in self.slabs.iter().enumerate() {
            if let Some(list) = members.get_mut(bundle_of(slab)) {
                list.push(index);
            }
        }
        for (draft, members) in drafts.iter().zip(members) {
            let Some((weighed, row)) = draft.weighed else { continue };
            match self.grams_of(draft, weighed, row, &members) {
                Ok(grams) => {
                    for (index, grams) in members.into_iter().zip(grams) {
                        if let Some(slab) = self.slabs.get_mut(index) {
                            slab.mass = Mass::grams(grams);
                        }
                    }
                }
                Err(fault) => {
                    self.reading.first(Cause::WeighedLittle, |_| *fault, report);
                }
            }
        }
    }

    /// The grams of stone of each slab of a weighed bundle.
    fn grams_of(
        &self,
        draft: &Draft,
        weighed: Mass,
        row: usize,
        members: &[usize],
    ) -> Result<Vec<i64>, Box<Fault>> {
        let fault = |message: String| {
            let place = self.reading.ground.source.line(row);
            Fault::error(Code::OutOfRange, message).at(&place, "weighed here")
        };
        let overflow =
            |_| Box::new(fault("a mass is too large or too fine to be held exactly".to_owned()));
        let stone = weighed.minus(self.reading.ground.timber.mass).map_err(overflow)?;
        if stone.is_none() {
            let message = format!("bundle {} is weighed at less than its timber", draft.id);
            let spot = self.reading.ground.layout.of(Column::WeighedMass);
            let cell = spot.map(|(index, _)| self.reading.cell_place(row, index));
            let cell = cell.and_then(|place| self.reading.ground.source.text.get(place.span));
            let cell = cell.unwrap_or("").trim().trim_matches('"');
            let is_thousand =
                cell.rsplit_once([',', '.']).is_some_and(|(_, digits)| digits.len() == 3);
            let plain = cell.replace([',', '.'], "");
            let help = if is_thousand && !plain.starts_with('0') {
                format!("write {plain}, if that is a thousands mark; figures have none here")
            } else {
                "is the column in tonnes? then head it \"weighed mass (t)\"; a weighed mass is the whole bundle's, timber included".to_owned()
            };
            return Err(fault(message).help(help).into());
        }
        let masses = members.iter().filter_map(|index| self.slabs.get(*index));
        let weights = Weights::of(masses.map(|slab| slab.mass.base()));
        weights.and_then(|weights| weights.divide_units(stone.grams_down())).map_err(|_| {
            Box::new(fault(format!(
                "the mass of bundle {} cannot be divided over its slabs",
                draft.id
            )))
        })
    }
}

fn no_slabs(line: &Line) -> Fault {
    Fault::error(
        Code::MissingKey,
        format!("line {} has neither slabs nor a nominal quantity", line.id),
    )
    .at(&line.place, "this line")
    .help(
        "list its slabs in packing.csv, or state quantity = \"420 m2\", or bundles, slabs and size",
    )
}
