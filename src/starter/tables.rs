//! Which rows of our own tables serve a customs regime, and for how long.

use toml_edit::{Item, Table, Value};

use super::cut::{Cut, set, text_of};
use super::days::Days;
use crate::quantity::Written;
use crate::trade::{Date, Port, STARTER, Window};

const CALENDARS: &str = include_str!("../../rates/calendars.toml");
const CONTAINERS: &str = include_str!("../../rates/containers.toml");
const CRATING: &str = include_str!("../../rates/crating.toml");
const DUTY: &str = include_str!("../../rates/duty.toml");
const EXCHANGE: &str = include_str!("../../rates/exchange.toml");
const FEES: &str = include_str!("../../rates/fees.toml");
pub(super) const PORTS: &str = include_str!("../../rates/ports.toml");
const RIGS: &str = include_str!("../../rates/rigs.toml");
const ROADS: &str = include_str!("../../rates/roads.toml");
const SECURING: &str = include_str!("../../rates/securing.toml");
const STONES: &str = include_str!("../../rates/stones.toml");
const YARDS: &str = include_str!("../../rates/yards.toml");

/// Where the demo's own import tax is that of one country of the union.
const TAXED_IN: &str = "NL";

/// What our tables say of a regime, with the demo's yard under it.
pub(super) struct Tables {
    regime: &'static str,
    /// The demo's yard, whose rigs are the usual ones.
    own_yard: String,
    pub(super) currency: String,
    pub(super) port: String,
    pub(super) delivery_days: u64,
    pub(super) delivery_words: String,
    pub(super) certify_over: String,
}

/// A stone to begin with.
pub(super) struct NewStone {
    /// Its name in the tables.
    pub(super) id: String,
    /// Its trade name, where one was typed.
    name: Option<String>,
    /// Its group.
    group: String,
}

impl Tables {
    pub(super) fn of(regime: &'static str) -> Self {
        let of_regime = |row: &&Table, key: &str| text_of(row, key) == regime;
        let (duty, yards) = (Cut::of(DUTY), Cut::of(YARDS));
        let law = duty.rows("regime").find(|row| of_regime(row, "id"));
        let yard = yards.rows("yard").find(|row| of_regime(row, "regime"));
        let text = |row: Option<&Table>, key: &str| {
            row.map_or_else(String::new, |row| text_of(row, key).to_owned())
        };
        let days = yard.and_then(|row| row.get("delivery-days")).and_then(Item::as_integer);
        let days = days.and_then(|days| u64::try_from(days).ok()).unwrap_or(0);
        Self {
            regime,
            currency: text(law, "currency"),
            port: text(yard, "port"),
            delivery_days: days,
            delivery_words: days.to_string(),
            certify_over: text(yard, "certify-over"),
            own_yard: text(yard, "id"),
        }
    }

    fn is_of(&self, row: &Table) -> bool {
        text_of(row, "regime") == self.regime
    }

    /// Whether a customs line is one under the regime.
    fn is_under(&self, tariff: &Value) -> bool {
        let regime = tariff.as_inline_table().and_then(|row| row.get("regime"));
        regime.and_then(Value::as_str) == Some(self.regime)
    }

    /// Whether working days can be counted as long as the shipment needs them.
    fn counts_days(&self, days: &Days) -> bool {
        let duty = Cut::of(DUTY);
        let law = duty.rows("regime").find(|row| text_of(row, "id") == self.regime);
        let named = law.map(|row| text_of(row, "calendar")).unwrap_or_default().to_owned();
        // Ten working days and the holidays among them.
        let last = days.delivered.checked_add_days(chrono::Days::new(21));
        let calendars = Cut::of(CALENDARS);
        let is_long = |row: &&Table| {
            let holds = |day: Date| window(row).is_some_and(|valid| valid.holds(day));
            text_of(row, "id") == named && holds(days.arrives) && last.is_some_and(holds)
        };
        calendars.rows("calendar").any(|row| is_long(&row))
    }

    pub(super) fn calendars(&self, days: &Days) -> String {
        if self.counts_days(days) { Cut::of(CALENDARS).text() } else { String::new() }
    }

    #[expect(
        clippy::unused_self,
        reason = "stands with the other tables, and may come to hang on the regime"
    )]
    pub(super) fn containers(&self) -> String {
        Cut::of(CONTAINERS).text()
    }

    #[expect(
        clippy::unused_self,
        reason = "stands with the other tables, and may come to hang on the regime"
    )]
    pub(super) fn crating(&self) -> String {
        let head = "# What a bundle has beside its stone, and what is paid before the port.";
        Cut::of(CRATING).under(head).keep("charge", |_| false).text()
    }

    pub(super) fn duty(&self, days: &Days) -> String {
        let counts = self.counts_days(days);
        let own = Cut::of(DUTY).keep("regime", |row| {
            if !counts {
                row.remove("duty-due");
                row.remove("calendar");
            }
            text_of(row, "id") == self.regime
        });
        let own = own.keep("duty", |row| self.is_of(row));
        let kind = |row: &Table| format!("{} {}", text_of(row, "line"), text_of(row, "layer"));
        let is_base = |row: &Table| text_of(row, "layer") == "base";
        // What is on top of a base rate ends when it ends, and what comes after it is not in our tables.
        let on_top = own.rows("duty").filter(|row| !is_base(row));
        let ended = on_top.filter_map(|row| window(row)?.until).max();
        let own = serving(own, "duty", days.arrives, kind, is_base);
        own.keep("duty", |row| {
            if let Some(ended) = ended.filter(|ended| *ended < days.arrives && is_base(row)) {
                mark(
                    row,
                    &format!(
                        "what is on top of it has changed since {ended}: read the current tariff"
                    ),
                );
            }
            true
        })
        .text()
    }

    pub(super) fn fees(&self, days: &Days, country: &str) -> String {
        let head = "# Fees of customs, published ones; behind them what your broker, your insurer and your yard take.";
        let own = Cut::of(FEES).under(head).keep("charge", |row| {
            let is_own = self.is_of(row) && text_of(row, "leg") == "duty and tax";
            if is_own && self.regime == "eu" && country != TAXED_IN {
                mark(row, &format!("the rate is that of {TAXED_IN}: put that of {country} here"));
            }
            is_own
        });
        // What a bond stands for is every importer's own.
        let own = own.keep("bond", |_| false);
        let kind = |row: &Table| format!("{} {}", text_of(row, "name"), text_of(row, "entry"));
        serving(own, "charge", days.arrives, kind, |_| true).text()
    }

    pub(super) fn roads(&self) -> String {
        let roads = Cut::of(ROADS).keep("road", |row| self.has_road(text_of(row, "id")));
        if roads.rows("road").next().is_none() { String::new() } else { roads.text() }
    }

    /// Whether a law of the road is of the regime.
    fn has_road(&self, id: &str) -> bool {
        id == self.regime || id.starts_with(&format!("{}-", self.regime))
    }

    /// What cargo is held against: on any lane, and on the roads of the regime.
    pub(super) fn securing(&self) -> String {
        let own = Cut::of(SECURING).keep("set", |row| {
            let Some(roads) = row.get_mut("roads").and_then(Item::as_array_mut) else {
                return !row.contains_key("lanes");
            };
            roads.retain(|road| road.as_str().is_some_and(|id| self.has_road(id)));
            !roads.is_empty()
        });
        own.text()
    }

    /// The usual rigs, under the yard's name.
    pub(super) fn rigs(&self, yard: &str, days: &Days) -> String {
        let rigs = Cut::of(RIGS).keep("rig", |row| {
            let is_own = text_of(row, "yard") == self.own_yard;
            if is_own {
                let id = text_of(row, "id").replacen(&self.own_yard, yard, 1);
                set(row, "id", &id);
                set(row, "yard", yard);
                set(row, "valid", &format!("{}..", days.quoted));
            }
            is_own
        });
        if rigs.rows("rig").next().is_none() { String::new() } else { rigs.text() }
    }

    /// The stone to begin with.
    pub(super) fn stone(
        &self,
        group: Option<&str>,
        name: Option<&str>,
    ) -> Result<NewStone, String> {
        let known = self.groups();
        let group = match (group, &known[..]) {
            (None, [first, ..]) => first.clone(),
            (Some(group), _) if known.iter().any(|one| one == group) => group.to_owned(),
            (group, _) => {
                let group = group.unwrap_or_default();
                return Err(format!(
                    "our tables have no tariff line for \"{group}\" under {}: --group takes {}; for another stone, take the nearest and correct rates/stones.toml and rates/duty.toml",
                    self.regime,
                    known.join(", ")
                ));
            }
        };
        let id = name.map_or_else(|| group.clone(), slug);
        Ok(NewStone { id, name: name.map(str::to_owned), group })
    }

    /// The groups of stone that have a tariff line under the regime.
    fn groups(&self) -> Vec<String> {
        let stones = Cut::of(STONES);
        let mut all: Vec<String> = Vec::new();
        for row in stones.rows("stone") {
            let tariffs = row.get("tariff").and_then(Item::as_array);
            let is_on = tariffs.into_iter().flatten().any(|tariff| self.is_under(tariff));
            let kind = text_of(row, "kind").to_owned();
            if is_on && !all.contains(&kind) {
                all.push(kind);
            }
        }
        all
    }

    /// The finishes, and a stone of each group.
    pub(super) fn stones(&self, stone: &NewStone, loading: Option<&Port>) -> String {
        let groups = self.groups();
        let origin = loading.and_then(|port| port.code().get(..2));
        let mut told: Vec<String> = Vec::new();
        let cut = Cut::of(STONES).keep("stone", |row| {
            let kind = text_of(row, "kind").to_owned();
            if !groups.contains(&kind) || told.contains(&kind) {
                return false;
            }
            set(row, "id", &kind);
            set(row, "name", &kind);
            if let Some(origin) = origin {
                set(row, "origin", origin);
            }
            row.remove("usual-price");
            row.remove("weighed-within");
            if let Some(tariffs) = row.get_mut("tariff").and_then(Item::as_array_mut) {
                tariffs.retain(|tariff| self.is_under(tariff));
            }
            told.push(kind);
            true
        });
        let mut cut = cut.keep("quality", |_| false).keep("usable", |_| false).under(STONES_HEAD);
        if let Some(name) = &stone.name {
            let like = cut.rows("stone").find(|row| text_of(row, "kind") == stone.group).cloned();
            if let Some(mut row) = like {
                set(&mut row, "id", &stone.id);
                set(&mut row, "name", name);
                row.decor_mut().set_prefix("\n");
                row.set_position(None);
                cut.add("stone", row);
            }
        }
        cut.text()
    }

    /// The demo's planning rates between two currencies, as rates to start with; `None`: it has none.
    #[expect(
        clippy::unused_self,
        reason = "stands with the other tables, and may come to hang on the regime"
    )]
    pub(super) fn planning(&self, joins: impl Fn(&str) -> bool, year: &Window) -> Option<String> {
        let rates = Cut::of(EXCHANGE).keep("exchange", |row| {
            let is_one = text_of(row, "use") == "plan" && joins(text_of(row, "quote"));
            set(row, "valid", &year.to_string());
            set(row, "source", "starter figure (invented): put your planning rate here");
            set(row, "basis", STARTER);
            row.decor_mut().set_prefix("\n");
            is_one
        });
        let has_one = rates.rows("exchange").next().is_some();
        has_one.then(|| rates.bare())
    }
}

/// What stones.toml of a new workspace opens with.
const STONES_HEAD: &str = "\
# Your stones, with their densities and tariff lines. A row for each stone that you buy: copy the row of its
# group, and give it an `id` and a `name` of its own.";

fn window(row: &Table) -> Option<Window> {
    Window::read(text_of(row, "valid")).ok()
}

/// Marks a row's figure as one to start with, and says why.
fn mark(row: &mut Table, why: &str) {
    set(row, "basis", STARTER);
    if let Some(basis) = row.get_mut("basis").and_then(Item::as_value_mut) {
        basis.decor_mut().set_suffix(format!("  # {why}, then delete this line"));
    }
}

/// Lets the last row of each kind serve on where none is in force on a day: then its figure is one to start
/// with, until the current one is read.
fn serving(
    cut: Cut,
    name: &str,
    day: Date,
    kind: impl Fn(&Table) -> String,
    may: impl Fn(&Table) -> bool,
) -> Cut {
    let windows = cut.rows(name).filter_map(|row| Some((kind(row), window(row)?)));
    let windows: Vec<(String, Window)> = windows.collect();
    cut.keep(name, |row| {
        let (own, Some(valid)) = (kind(row), window(row)) else { return true };
        let alike = || windows.iter().filter(|(other, _)| *other == own);
        let last = alike().map(|(_, window)| window.from).max();
        let is_served = alike().any(|(_, window)| window.holds(day));
        if may(row) && !is_served && last == Some(valid.from) {
            let until = valid.until.map_or_else(String::new, |until| format!(" until {until}"));
            set(row, "valid", &format!("{}..", valid.from.min(day)));
            mark(row, &format!("published{until}: read the current figure"));
        }
        true
    })
}

/// A name as an `id`: small letters, digits and hyphens.
pub(super) fn slug(name: &str) -> String {
    use unicode_normalization::UnicodeNormalization;
    let plain = name.nfkd().map(|c| if c == 'ı' { 'i' } else { c });
    let letters = plain.filter(|c| c.is_ascii_alphanumeric() || c.is_whitespace() || *c == '-');
    let words: String = letters.flat_map(char::to_lowercase).collect();
    let words: Vec<&str> = words.split([' ', '-', '\t']).filter(|word| !word.is_empty()).collect();
    if words.is_empty() { "own".to_owned() } else { words.join("-") }
}
