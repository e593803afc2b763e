//! The limits of every box of the demo against a second reading of the tables, `tests/oracle/limits.py`.

use std::fs;

use crate::common::{demo, stdout};
use serde_json::Value;

/// The limits of a box: name and kg.
fn limits(of: &Value, kg: &str) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    let all = of["limits"].as_array().unwrap().iter();
    all.map(|limit| (text(&limit["name"]), text(&limit[kg]))).collect()
}

#[test]
fn every_box_of_the_demo_has_the_limits_of_the_second_reading() {
    let text = fs::read_to_string(demo().join("tests/oracle/limits.json")).unwrap();
    let read: Value = serde_json::from_str(&text).unwrap();
    let mut boxes = 0;
    for (name, read) in read.as_object().unwrap() {
        let own = stdout(&demo(), &["load", name, "--as", "json"]);
        let own: Value = serde_json::from_str(&own).unwrap();
        let (own, read) = (own["containers"].as_array().unwrap(), read.as_array().unwrap());
        assert_eq!(own.len(), read.len(), "{name}");
        for (own, read) in own.iter().zip(read) {
            assert_eq!((&own["type"], &own["class"]), (&read["type"], &read["class"]), "{name}");
            assert_eq!(limits(own, "cargo_kg"), limits(read, "kg"), "{name} {}", own["container"]);
            boxes += 1;
        }
    }
    assert!(boxes > 15, "{boxes}");
}
