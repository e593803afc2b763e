//! Tags of slabs: each code read back by a decoder, what stands on them, and what does not.

use crate::common::{Tiny, demo, run, stdout};

const LIST: &str = "shipments/plain/packing.csv";

fn page(tiny: &Tiny, more: &[&str]) -> String {
    stdout(tiny.path(), &[&["tags", "plain", "--as", "html"], more].concat())
}

/// What the codes of a page say, in their order, read from their squares.
fn decoded(page: &str) -> Vec<String> {
    let codes = page.split("class=\"code\"").skip(1).map(|svg| {
        let whole = svg.split_once("viewBox=\"0 0 ").unwrap().1.split_once(' ').unwrap().0;
        let side: usize = whole.parse().unwrap();
        let path = svg.split_once(" d=\"").unwrap().1.split_once('"').unwrap().0;
        let mut dark = vec![false; side * side];
        for square in path.split('M').skip(1) {
            let (x, rest) = square.split_once(' ').unwrap();
            let (y, drawn) = rest.split_once('h').unwrap();
            assert_eq!(drawn, "1v1h-1z");
            dark[y.parse::<usize>().unwrap() * side + x.parse::<usize>().unwrap()] = true;
        }
        let shade = |x: usize, y: usize| if dark[y / 4 * side + x / 4] { 0 } else { 255 };
        let mut image = rqrr::PreparedImage::prepare_from_greyscale(side * 4, side * 4, shade);
        let grids = image.detect_grids();
        assert_eq!(grids.len(), 1);
        grids[0].decode().unwrap().1
    });
    codes.collect()
}

#[test]
fn the_code_of_each_tag_says_the_number_that_is_printed() {
    let tiny = Tiny::new();
    let long = "Ka\u{11f}\u{131}t <1>/2-&\"3\" \u{5927}\u{677f} 0001-0002-0003-0004";
    tiny.replace(LIST, "A3,", &format!("\"{}\",", long.replace('"', "\"\"")));
    assert_eq!(decoded(&page(&tiny, &[])), ["A1", "A1", "A2", "A2", long, long]);
    assert_eq!(decoded(&page(&tiny, &["--one"])), ["A1", "A2", long]);
    // A supplier's text never becomes markup.
    assert!(!page(&tiny, &[]).contains("<1>"));
}

#[test]
fn a_tag_says_what_the_slab_is_and_nothing_of_its_price() {
    let tiny = Tiny::new();
    let list = "slab,bundle,block,order,match,length (cm),height (cm)\n\
                A1,B1,K7,1,M,300,180\nA2,B1,K7,2,M,300,180\nA3,B2,K7,,,250,160\n";
    tiny.write(LIST, list);
    let first = page(&tiny, &["--one"]);
    for said in [
        ">A1<",
        "3000 x 1800 mm",
        "K7",
        "B1",
        "place in the block",
        "M, with A2",
        "M, with A1",
        "kills",
    ] {
        assert!(first.contains(said), "{said} in {first}");
    }
    assert_eq!(first.matches("book-matched").count(), 2);
    // Another supplier, price and rate of exchange give the same tags.
    let file = "shipments/plain/shipment.toml";
    let text = std::fs::read_to_string(tiny.path().join(file)).unwrap();
    let line = text.lines().find(|line| line.starts_with("supplier = ")).unwrap().to_owned();
    tiny.replace(file, &line, "supplier = \"zzq (invented)\"").replace(
        file,
        "40.00 EUR/m2",
        "41.30 EUR/m2",
    );
    assert_eq!(page(&tiny, &["--one"]), first);
    assert!(!first.contains("EUR") && !first.contains("USD"));
}

#[test]
fn whoever_lifts_is_told_the_mass_with_the_margin_that_limits_are_checked_with() {
    let tiny = Tiny::new();
    let bundle = |name: &str| {
        let text = stdout(tiny.path(), &["load", "plain", "--as", "csv"]);
        let mut rows = csv::Reader::from_reader(text.as_bytes());
        let heads = rows.headers().unwrap().clone();
        let at = |head: &str| heads.iter().position(|one| one == head).unwrap();
        let own = rows.records().map(Result::unwrap).find(|row| &row[at("bundle")] == name);
        own.unwrap()[at("at most kg")].to_owned()
    };
    // 3.00 m x 1.80 m x 2 cm of 2,500 kg/m3 are 270 kg.
    let before = bundle("B2");
    assert!(page(&tiny, &["--one"]).contains(">at most 270 kg<"));
    tiny.replace(
        "rates/stones.toml",
        "density = \"2500 kg/m3\"",
        "density = \"2500 kg/m3\"\nthickness-margin = \"3.5 %\"",
    );
    // A started kilogram counts whole: 279.45 kg.
    assert!(page(&tiny, &["--one"]).contains(">at most 280 kg<"));
    // 2.50 m x 1.60 m of it are 200 kg, and 7 kg more in its bundle.
    let more: Vec<quaystone::quantity::Decimal> =
        [before, bundle("B2")].iter().map(|mass| mass.parse().unwrap()).collect();
    assert_eq!((more[1] - more[0]).to_string(), "7.0");
}

#[test]
fn a_number_stays_on_one_line_or_is_parted_where_it_has_parts() {
    let tiny = Tiny::new();
    tiny.replace(LIST, "A2,", "410-01,").replace(LIST, "A3,", "TW410-2026-000123,");
    let label = page(&tiny, &["--size", "100 x 250 mm", "--one"]);
    let lines = label
        .split("<text ")
        .skip(1)
        .map(|text| text.split_once('>').unwrap().1.split_once('<').unwrap().0);
    assert_eq!(lines.collect::<Vec<_>>(), ["A1", "410-01", "TW410-", "2026-", "000123"]);
    // Both ends of a slab are cut from one sheet.
    let sheets = page(&tiny, &[]);
    assert_eq!(["class=\"slab\"", "class=\"tag\""].map(|one| sheets.matches(one).count()), [3, 6]);
    assert!(sheets.contains("<h1>Tags of 3 slabs, one for each end</h1>"));
}

#[test]
fn tags_are_a_page_of_slabs_that_are_there() {
    let tiny = Tiny::new();
    let said = |args: &[&str]| {
        let output = run(tiny.path(), &[&["tags", "plain"], args].concat());
        assert!(output.stdout.is_empty(), "{args:?}");
        (output.status.code().unwrap(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, text) = said(&[]);
    assert!(code == 2 && text.contains("--out tags.html"), "{text}");
    let (code, text) = said(&["--as", "html", "--size", "60 x 40 mm"]);
    assert!(code == 2 && text.contains("\"80 x 140 mm\""), "{text}");
    assert!(page(&tiny, &["--size", "80 x 140 mm"]).contains("@page{size:80mm 140mm;margin:0mm}"));
    let (code, text) = said(&["--as", "html", "--size", "1000 x 2000 mm"]);
    assert!(code == 2 && text.contains("at most \"300 x 450 mm\""), "{text}");
    let (code, text) = said(&["--as", "html", "--size", "100 x 150"]);
    assert!(code == 2 && text.contains("of a label with their unit"), "{text}");
    let kept = stdout(tiny.path(), &["tags", "plain", "--as", "page"]);
    assert_eq!(kept, page(&tiny, &[]));
    assert!(page(&tiny, &["--paper", "letter"]).contains("@page{size:letter;"));
    let nominal = run(&demo(), &["tags", "white-marble-forty-net", "--as", "html"]);
    assert_eq!(nominal.status.code(), Some(3));
    tiny.replace(LIST, "A2,", &format!("{},", "\u{5927}".repeat(60)));
    let (code, text) = said(&["--as", "html"]);
    assert!(code == 1 && text.contains("packing.csv:3: the number of slab"), "{text}");
}
