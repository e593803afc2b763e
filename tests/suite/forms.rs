//! The purchaser's pages hold the same in every form: what each says is taken from its JSON and looked for in
//! text, markdown, HTML and CSV.

use std::collections::BTreeSet;

use serde_json::Value;

use crate::common::{demo, run};

/// Offers of the demo: with two lines and boxes that are not full, with a price by quantity in two terms,
/// with two measures of the same slabs, and one that has lapsed beside one over the lift.
const COMPARED: [&[&str]; 4] = [
    &["compare", "white-marble-spring", "white-marble-cif"],
    &["compare", "grey-marble-steps"],
    &["compare", "white-marble-forty-net", "white-marble-forty-gross", "--footing", "gross"],
    &[
        "compare",
        "white-marble-spring",
        "grey-marble-steps",
        "blue-quartzite-exw",
        "--across",
        "stones,finish,thickness,quality,yards",
    ],
];

fn page(args: &[&str], form: &str) -> String {
    let wide = ["--as", form, "--width", "400"];
    let output = run(&demo(), &[args, &wide].concat());
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(!output.stdout.is_empty(), "{args:?} as {form}: {said}");
    String::from_utf8(output.stdout).unwrap()
}

fn json(args: &[&str]) -> Value {
    serde_json::from_str(&page(args, "json")).unwrap()
}

fn word(value: &Value) -> String {
    match value {
        Value::String(text) => text.clone(),
        Value::Null => String::new(),
        other => other.to_string(),
    }
}

/// A plain figure cut or rounded to so many places, half away from zero.
fn places(figure: &str, count: usize) -> String {
    let (whole, part) = figure.split_once('.').unwrap_or((figure, ""));
    let kept: String = part.chars().chain("000000".chars()).take(count).collect();
    let next = part.chars().nth(count).is_some_and(|digit| digit >= '5');
    let units = format!("{whole}{kept}").parse::<i64>().unwrap() + i64::from(next);
    if count == 0 {
        return units.to_string();
    }
    let (sign, size) = (if whole.starts_with('-') { "-" } else { "" }, units.abs());
    let text = format!("{size:0>width$}", width = count + 1);
    let (whole, part) = text.split_at(text.len() - count);
    format!("{sign}{whole}.{part}")
}

/// A plain figure with its thousands marked.
fn grouped(figure: &str) -> String {
    let (sign, size) = figure.strip_prefix('-').map_or(("", figure), |size| ("-", size));
    let (whole, part) = size.split_once('.').map_or((size, None), |(one, two)| (one, Some(two)));
    let mut all = String::new();
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at).is_multiple_of(3) {
            all.push(',');
        }
        all.push(digit);
    }
    format!("{sign}{all}{}", part.map_or_else(String::new, |part| format!(".{part}")))
}

fn shown(value: &Value, count: usize) -> String {
    value.as_str().map_or_else(String::new, |figure| grouped(&places(figure, count)))
}

/// A row that a page must have: its label, and what its cells say in their order.
type Expected = (String, Vec<String>);

fn named<'a>(page: &'a Value, name: &Value) -> &'a Value {
    page["offers"].as_array().unwrap().iter().find(|one| one["shipment"] == *name).unwrap()
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn until(offer: &Value) -> String {
    let until = word(&offer["price_valid_until"]);
    let is_early = offer["price_ends_before_sailing"] == true;
    if is_early { format!("{until} (before it sails)") } else { until }
}

/// The rows of like goods.
fn of_group(page: &Value, group: &Value, rows: &mut Vec<Expected>) {
    let entries = list(&group["offers"]);
    if entries.len() < 2 {
        return;
    }
    let mut row = |label: &str, cell: &dyn Fn(&Value, &Value) -> String| {
        let cells = entries.iter().map(|entry| cell(entry, named(page, &entry["shipment"])));
        rows.push((label.to_owned(), cells.collect()));
    };
    let area = |value: &Value| match value {
        Value::Null => "not known".to_owned(),
        value => shown(value, 2),
    };
    row("rank", &|entry, _| match &entry["rank"] {
        Value::Null => "none".to_owned(),
        rank => rank.to_string(),
    });
    row("supplier", &|_, offer| word(&offer["supplier"]));
    row("term", &|_, offer| word(&offer["term"]));
    row("price", &|entry, _| {
        list(&entry["prices"]).iter().map(word).collect::<Vec<_>>().join(", ")
    });
    row("valid until", &|_, offer| until(offer));
    row("sails", &|_, offer| word(&offer["dates"]["sails"]));
    row("on the rack", &|_, offer| word(&offer["dates"]["delivered"]));
    row("slabs", &|entry, offer| {
        let nominal = if offer["nominal"] == true { " (nominal)" } else { "" };
        format!("{}{nominal}", entry["slabs"])
    });
    row("usable m2", &|entry, _| area(&entry["usable_m2"]));
    row("gross m2", &|entry, _| area(&entry["gross_m2"]));
    row("billed m2", &|entry, _| area(&entry["billed_m2"]));
    row("billed, % of gross", &|entry, _| word(&entry["billed_percent_of_gross"]));
    for (key, label) in [
        ("stone", "stone"),
        ("finish", "finish"),
        ("thickness_mm", "thickness"),
        ("quality", "quality"),
    ] {
        // What differs has a row; what is alike stands above the table.
        let is_across = page["groups"].as_array().unwrap().len() == 1 && key != "quality";
        if group[key].is_null() && is_across {
            row(label, &|entry, _| {
                let unit = if key == "thickness_mm" { " mm" } else { "" };
                let own = list(&entry["goods"]).iter();
                let own: BTreeSet<String> =
                    own.map(|one| format!("{}{unit}", word(&one[key]))).collect();
                own.into_iter().collect::<Vec<_>>().join(", ")
            });
        }
    }
    let costed: Vec<&Value> =
        entries.iter().filter(|entry| !list(&entry["amounts"]).is_empty()).collect();
    for (at, amount) in list(&costed[0]["amounts"]).iter().enumerate() {
        let cells = costed.iter().map(|entry| shown(&entry["amounts"][at]["per_m2"], 4));
        rows.push((word(&amount["what"]), cells.collect()));
    }
    for entry in entries.iter().filter(|entry| !entry["rank"].is_null()) {
        let above = &entry["above_best"];
        let own =
            [shown(&above["per_m2"], 4), shown(&above["on_area"], 2), word(&above["percent"])];
        rows.push((word(&entry["shipment"]), own.to_vec()));
        for cause in list(&entry["because"]) {
            let own = [shown(&cause["per_m2"], 4), shown(&cause["on_area"], 2)];
            rows.push((format!("by {}", word(&cause["charge"])), own.to_vec()));
        }
    }
    let full: Vec<&Value> =
        list(&group["full"]).iter().filter(|entry| !list(&entry["amounts"]).is_empty()).collect();
    if full.is_empty() {
        return;
    }
    let mut row = |label: String, cell: &dyn Fn(&Value, &Value) -> String| {
        let cells = full.iter().map(|entry| cell(entry, &named(page, &entry["shipment"])["full"]));
        rows.push((label, cells.collect()));
    };
    let last = |entry: &Value, what: &str| {
        let of = list(&entry["amounts"]).iter().find(|one| one["what"] == what).unwrap();
        shown(&of["per_m2"], 4)
    };
    row("bundles added".to_owned(), &|_, full| match &full["bundles_added"] {
        Value::Null => "0".to_owned(),
        added => added.to_string(),
    });
    row("slabs".to_owned(), &|entry, _| entry["slabs"].to_string());
    row("landed per m2".to_owned(), &|entry, _| last(entry, "landed"));
    row("with finance per m2".to_owned(), &|entry, _| last(entry, "with finance"));
}

/// The rows of offers as wholes.
fn of_wholes(page: &Value, rows: &mut Vec<Expected>) {
    let currency = word(&page["currency"]);
    // As they are ranked first.
    let mut offers: Vec<&Value> = Vec::new();
    for entry in list(&page["groups"]).iter().flat_map(|group| list(&group["offers"])) {
        let offer = named(page, &entry["shipment"]);
        if offer["landed"].is_string() && !offers.contains(&offer) {
            offers.push(offer);
        }
    }
    let money = |value: &Value| format!("{} {currency}", shown(value, 2));
    let mut row = |label: &str, cell: &dyn Fn(&Value) -> String| {
        rows.push((label.to_owned(), offers.iter().map(|offer| cell(offer)).collect()));
    };
    row("boxes", &|offer| word(&offer["boxes"]));
    row("cheapest load", &|offer| word(&offer["proof"]));
    row("would still fit", &|offer| {
        let fits = &offer["would_still_fit"];
        let like = word(&fits["like"]);
        match fits["bundles"].as_u64() {
            Some(0) => format!("no bundle like {like}"),
            // The mass is rounded from the exact one, not from that of JSON: CSV has the same.
            count => format!(
                "{} bundle{} like {like}: ",
                count.unwrap(),
                if count == Some(1) { "" } else { "s" },
            ),
        }
    });
    row("landed in all", &|offer| money(&offer["landed"]));
    row("most cash out", &|offer| {
        let peak = &offer["cash_peak"];
        format!("{} on {}", money(&peak["amount"]), word(&peak["day"]))
    });
    row("at planning rates", &|offer| money(&offer["at_planning_rates"]));
    row("on assumptions", &|offer| money(&offer["on_assumptions"]));
    row("first to lapse", &|offer| {
        let first = &offer["first_to_lapse"];
        format!("{}, {}", word(&first["what"]), word(&first["until"]))
    });
}

/// A page's tables as rows of cells.
fn rows(form: &str, page: &str) -> Vec<Vec<String>> {
    match form {
        "markdown" => page
            .lines()
            .filter(|line| line.starts_with('|'))
            .map(|line| {
                let cells = line.trim_matches('|').replace("\\|", "\u{1}");
                let plain = |cell: &str| cell.trim().replace('\u{1}', "|").replace(['\\', '*'], "");
                cells.split('|').map(plain).collect()
            })
            .collect(),
        "html" => page
            .split("<tr>")
            .skip(1)
            .map(|row| cells(row).map(|(_, cell)| cell).collect())
            .collect(),
        other => panic!("{other}"),
    }
}

/// The cells of a row of HTML: their tags, and what they say.
fn cells(row: &str) -> impl Iterator<Item = (&str, String)> {
    let row = row.split("</tr>").next().unwrap();
    row.split("<t").filter(|cell| cell.starts_with(['h', 'd'])).filter_map(|cell| {
        let (tag, rest) = cell.split_once('>')?;
        let text = rest.split('<').next()?;
        let plain = text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"");
        Some((tag, plain.replace("&amp;", "&")))
    })
}

/// Whether a page of text has the cells in their order on a line that begins with the label.
fn has_line(page: &str, (label, cells): &Expected) -> bool {
    page.lines().filter_map(|line| line.strip_prefix(label.as_str())).any(|line| {
        let mut rest = line;
        cells.iter().all(|cell| match rest.split_once(cell.as_str()) {
            Some((_, after)) => {
                rest = after;
                true
            }
            None => false,
        })
    })
}

fn has_row(all: &[Vec<String>], (label, cells): &Expected) -> bool {
    all.iter().filter(|row| row.first() == Some(label)).any(|row| {
        let own = row.iter().skip(1).zip(cells);
        row.len() > cells.len() && own.into_iter().all(|(own, cell)| own.starts_with(cell))
    })
}

#[test]
fn every_form_of_compare_holds_each_item_of_the_page() {
    for args in COMPARED {
        let json = json(args);
        let mut expected = Vec::new();
        for group in json["groups"].as_array().unwrap() {
            of_group(&json, group, &mut expected);
        }
        of_wholes(&json, &mut expected);
        assert!(expected.len() > 25, "{args:?}");
        let text = page(args, "text");
        for form in ["markdown", "html"] {
            let rows = rows(form, &page(args, form));
            for one in &expected {
                assert!(has_row(&rows, one), "{args:?} as {form}: {one:?} in {rows:#?}");
            }
        }
        for one in &expected {
            assert!(has_line(&text, one), "{args:?}: {one:?} in {text}");
        }
        in_the_list(args, &json);
        for group in json["groups"].as_array().unwrap() {
            if list(&group["offers"]).len() > 1 {
                for key in ["stone", "finish"] {
                    assert!(
                        text.contains(group[key].as_str().unwrap_or("any ")),
                        "{args:?}: {key}"
                    );
                }
            }
        }
    }
}

/// Every figure of a group stands in a row of its own in CSV, with what it is of.
fn in_the_list(args: &[&str], json: &Value) {
    let text = page(args, "csv");
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let heads = reader.headers().unwrap().clone();
    let all: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let cell = |row: &csv::StringRecord, head: &str| {
        let at = heads.iter().position(|one| one == head).unwrap_or_else(|| panic!("{head}"));
        row[at].to_owned()
    };
    let has = |offer: &Value, what: &str, cells: &[(&str, String)]| {
        let is_so = |row: &&csv::StringRecord| {
            cell(row, "offer") == word(&offer["shipment"])
                && cell(row, "what") == what
                && cells.iter().all(|(head, own)| cell(row, head) == *own)
        };
        assert!(all.iter().any(|row| is_so(&row)), "{args:?}: {what} {cells:?} in {text}");
    };
    for group in json["groups"].as_array().unwrap() {
        for entry in list(&group["offers"]) {
            let offer = named(json, &entry["shipment"]);
            let mut goods: Vec<(&str, String)> = vec![
                ("supplier", word(&offer["supplier"])),
                ("term", word(&offer["term"])),
                ("yard", word(&offer["yard"])),
                ("valid until", word(&offer["price_valid_until"])),
                ("sails", word(&offer["dates"]["sails"])),
                ("on the rack", word(&offer["dates"]["delivered"])),
                ("load", "as offered".to_owned()),
            ];
            if let [own] = list(&entry["goods"]) {
                goods.extend([
                    ("stone", word(&own["stone"])),
                    ("finish", word(&own["finish"])),
                    ("thickness mm", word(&own["thickness_mm"])),
                    ("quality", word(&own["quality"])),
                ]);
            }
            let with = |more: &[(&'static str, String)]| [&goods[..], more].concat();
            has(entry, "slabs", &with(&[("count", entry["slabs"].to_string())]));
            for (what, key) in [
                ("usable area", "usable_m2"),
                ("gross area", "gross_m2"),
                ("billed area", "billed_m2"),
            ] {
                if let Some(figure) = entry[key].as_str() {
                    has(entry, what, &with(&[("m2", places(figure, 3))]));
                }
            }
            for amount in list(&entry["amounts"]) {
                let figures = [
                    ("USD", word(&amount["amount"])),
                    ("per m2", word(&amount["per_m2"])),
                    ("per ft2", word(&amount["per_ft2"])),
                ];
                has(entry, &word(&amount["what"]), &with(&figures));
            }
            if entry["rank"].is_null() {
                continue;
            }
            has(entry, "rank", &with(&[("count", entry["rank"].to_string())]));
            let above = &entry["above_best"];
            let figures = [("USD", word(&above["on_area"])), ("%", word(&above["percent"]))];
            has(entry, "above the lowest", &with(&figures));
            for cause in list(&entry["because"]) {
                let figures = [("of", word(&cause["charge"])), ("USD", word(&cause["on_area"]))];
                has(entry, "of which", &with(&figures));
            }
        }
    }
    for offer in list(&json["offers"]).iter().filter(|offer| offer["landed"].is_string()) {
        let (fits, peak) = (&offer["would_still_fit"], &offer["cash_peak"]);
        has(offer, "boxes", &[("count", offer["containers"].to_string())]);
        has(
            offer,
            "bundles that would still fit",
            &[
                ("of", word(&fits["like"])),
                ("count", fits["bundles"].to_string()),
                ("kg", word(&fits["mass_kg"])),
            ],
        );
        has(offer, "landed in all", &[("USD", word(&offer["landed"]))]);
        has(offer, "cash out, most", &[("of", word(&peak["day"])), ("USD", word(&peak["amount"]))]);
        has(offer, "at planning rates", &[("USD", word(&offer["at_planning_rates"]))]);
        has(offer, "on assumptions", &[("USD", word(&offer["on_assumptions"]))]);
        let first = &offer["first_to_lapse"];
        has(
            offer,
            "first to lapse",
            &[("of", format!("{}, {}", word(&first["what"]), word(&first["until"])))],
        );
    }
}

/// The pages that a purchaser works with, and those that leave the house.
const PAGES: [&[&str]; 10] = [
    &["compare", "white-marble-spring", "white-marble-cif"],
    &["compare", "grey-marble-steps"],
    &["counter", "white-marble-cif", "--against", "white-marble-spring"],
    &["counter", "grey-marble-steps", "--target", "90.00 USD/m2"],
    &[
        "counter",
        "white-marble-cif",
        "--against",
        "white-marble-spring",
        "--over",
        "1 EUR = 1.05..1.20 USD",
    ],
    &[
        "letter",
        "white-marble-spring",
        "--price",
        "A=45.20 EUR/m2",
        "--wish",
        "bundles of at most 3.5 t",
    ],
    &["letter", "grey-marble-steps"],
    &["what-if", "white-marble-cif", "white-marble-spring", "--set", "ocean freight +20 %"],
    &["load", "white-marble-spring", "--for", "supplier"],
    &["load", "heavy-permit", "--for", "haulier"],
];

#[test]
fn html_has_figures_at_the_right_under_their_heads_and_every_table_scrolls_by_itself() {
    const RIGHT: &str = "text-align:right";
    for args in PAGES {
        let page = page(args, "html");
        assert!(page.contains("width=device-width"), "{args:?}");
        for (before, table) in page.split("<table").zip(page.split("<table").skip(1)) {
            let div = before.rsplit("<div").next().unwrap();
            assert!(div.contains("overflow-x:auto") && !div.contains("</div>"), "{args:?}: {div}");
            let table = table.split("</table>").next().unwrap();
            let rows: Vec<Vec<(&str, String)>> =
                table.split("<tr>").skip(1).map(|row| cells(row).collect()).collect();
            if !table.contains("<thead>") {
                continue;
            }
            assert!(rows[0].iter().all(|(tag, _)| tag.contains("text-align")), "{args:?}");
            let heads: Vec<bool> = rows[0].iter().map(|(tag, _)| tag.contains(RIGHT)).collect();
            for row in &rows {
                let own: Vec<bool> = row.iter().map(|(tag, _)| tag.contains(RIGHT)).collect();
                assert_eq!(own, heads, "{args:?}: {row:?}");
                for ((_, cell), is_right) in row.iter().zip(&heads) {
                    let is_figure = cell.contains('.')
                        && cell.chars().all(|c| c.is_ascii_digit() || ",.-".contains(c));
                    assert!(*is_right || !is_figure, "{args:?}: {cell} in {row:?}");
                }
            }
        }
        // A drawing is SVG, and no characters.
        assert!(!page.contains("+-----"), "{args:?}");
        let is_drawn = args[0] == "load";
        assert!(!is_drawn || page.contains("<svg"), "{args:?}");
    }
}

#[test]
fn a_cell_of_csv_has_one_figure_in_the_pages_of_a_purchaser() {
    for args in PAGES {
        let text = page(args, "csv");
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let heads = reader.headers().unwrap().clone();
        let mut count = 0;
        for row in reader.records() {
            count += 1;
            for (head, cell) in heads.iter().zip(&row.unwrap()) {
                let is_figure = |word: &str| {
                    word.trim_start_matches('-').starts_with(|c: char| c.is_ascii_digit())
                        && word.chars().all(|c| c.is_ascii_digit() || "-.,".contains(c))
                };
                // What a row is of may be a sentence or a name.
                let is_free = ["of", "why not"].contains(&head);
                let has_one = !cell.contains(' ') || !cell.split(' ').any(is_figure);
                assert!(is_free || has_one, "{args:?}, {head}: {cell}");
            }
        }
        assert!(count > 0, "{args:?}");
    }
}

#[test]
fn the_json_of_counter_says_what_is_compared_and_on_what() {
    let against = ["counter", "white-marble-cif", "--against", "white-marble-spring"];
    let over = [&against[..], &["--over", "1 EUR = 1.08..1.10 USD"]].concat();
    let compared = json(&["compare", "white-marble-cif", "white-marble-spring"]);
    for args in [&against[..], &over] {
        let page = json(args);
        for key in ["footing", "footing_is_asked", "allowances"] {
            assert_eq!(page[key], compared[key], "{args:?}: {key}");
        }
        assert_eq!(page["stone"], "teapot-white");
        for own in page["quoted"].as_array().unwrap() {
            let offer = named(&compared, &own["shipment"]);
            for key in ["supplier", "term", "yard", "price_valid_until", "dates"] {
                assert_eq!(own[key], offer[key], "{args:?}: {key}");
            }
            let groups = compared["groups"].as_array().unwrap().iter();
            let mut entries = groups.flat_map(|group| list(&group["offers"]));
            let entry = entries.find(|one| one["shipment"] == own["shipment"]).unwrap();
            for key in ["goods", "prices", "slabs", "usable_m2", "gross_m2", "billed_m2"] {
                assert_eq!(own[key], entry[key], "{args:?}: {key}");
            }
            // The page says it, too.
            for form in ["text", "markdown", "html"] {
                let text = self::page(args, form);
                for key in ["supplier", "term", "price_valid_until"] {
                    assert!(text.contains(&word(&own[key])), "{args:?} as {form}: {key}");
                }
                assert!(text.contains(&shown(&own["usable_m2"], 2)), "{args:?} as {form}");
                assert!(text.contains(&word(&own["dates"]["sails"])), "{args:?} as {form}");
            }
        }
        assert_eq!(page["quoted"].as_array().unwrap().len(), 2);
    }
}
