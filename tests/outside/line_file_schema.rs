//! The JSON Schema of the line file against the examples, the steel files and the reader itself.

use std::collections::BTreeSet;

use billet_thermal::inside::line::file::{Document, schema};
use serde_json::Value;

/// What a small validator finds wrong: the parts of draft 2020-12 that the schema uses.
fn faults(value: &Value, rule: &Value, root: &Value, at: &str, found: &mut Vec<String>) {
    if let Some(target) = rule.get("$ref").and_then(Value::as_str) {
        let pointer = target.strip_prefix('#').unwrap();
        return faults(value, root.pointer(pointer).unwrap(), root, at, found);
    }
    if let Some(variants) = rule.get("anyOf").and_then(Value::as_array) {
        let fits = |variant: &Value| {
            let mut inner = Vec::new();
            faults(value, variant, root, at, &mut inner);
            inner.is_empty()
        };
        if !variants.iter().any(fits) {
            found.push(format!("{at}: fits no variant"));
        }
        return;
    }
    if let Some(kind) = rule.get("type") {
        let kinds: Vec<&str> = kind.as_str().map_or_else(
            || kind.as_array().unwrap().iter().filter_map(Value::as_str).collect(),
            |one| vec![one],
        );
        let is = |kind: &&str| match *kind {
            "object" => value.is_object(),
            "array" => value.is_array(),
            "string" => value.is_string(),
            "boolean" => value.is_boolean(),
            "integer" => value.is_i64() || value.is_u64(),
            "number" => value.is_number(),
            other => panic!("type {other} is not known to this test"),
        };
        if !kinds.iter().any(is) {
            found.push(format!("{at}: is not {kinds:?}"));
        }
    }
    if let (Some(words), true) = (rule.get("enum").and_then(Value::as_array), value.is_string())
        && !words.contains(value)
    {
        found.push(format!("{at}: {value} is not in {words:?}"));
    }
    if let Some(number) = value.as_f64() {
        let bound = |key: &str| rule.get(key).and_then(Value::as_f64);
        let low = bound("minimum").is_none_or(|low| number >= low);
        let above = bound("exclusiveMinimum").is_none_or(|low| number > low);
        let high = bound("maximum").is_none_or(|high| number <= high);
        if !(low && above && high) {
            found.push(format!("{at}: {number} is out of range"));
        }
    }
    if let Some(object) = value.as_object() {
        let properties = rule.get("properties").and_then(Value::as_object);
        for key in rule.get("required").and_then(Value::as_array).into_iter().flatten() {
            if !object.contains_key(key.as_str().unwrap()) {
                found.push(format!("{at}: {key} is missing"));
            }
        }
        for (key, inner) in object {
            match properties.and_then(|properties| properties.get(key)) {
                Some(rule) => faults(inner, rule, root, &format!("{at}/{key}"), found),
                None if rule.get("additionalProperties") == Some(&Value::Bool(false)) => {
                    found.push(format!("{at}: key {key} is unknown"))
                }
                None => {}
            }
        }
    }
    if let (Some(items), Some(rule)) = (value.as_array(), rule.get("items")) {
        for (index, item) in items.iter().enumerate() {
            faults(item, rule, root, &format!("{at}/{index}"), found);
        }
    }
}

fn check(text: &str) -> Vec<String> {
    let value: Value = serde_json::to_value(toml::from_str::<toml::Table>(text).unwrap()).unwrap();
    let schema = schema();
    let mut found = Vec::new();
    faults(&value, &schema, &schema, "", &mut found);
    found
}

#[test]
fn the_examples_fit_the_schema() {
    let mut count = 0;
    for file in std::fs::read_dir("examples").unwrap() {
        let path = file.unwrap().path();
        if path.extension().is_some_and(|end| end == "toml") {
            let text = std::fs::read_to_string(&path).unwrap();
            assert_eq!(check(&text), Vec::<String>::new(), "{}", path.display());
            let complete = Document::load(&path).unwrap().complete().unwrap();
            assert_eq!(check(complete.text()), Vec::<String>::new(), "{}", path.display());
            count += 1;
        }
    }
    assert!(count >= 5, "{count} examples");
}

#[test]
fn the_schema_refuses_what_the_reader_refuses() {
    let good = std::fs::read_to_string("examples/hub.toml").unwrap();
    for (old, new, word) in [
        ("diameter_mm = 60", "diamter_mm = 60", "diamter_mm is unknown"),
        ("diameter_mm = 60", "diameter_mm = -60", "out of range"),
        ("section = \"round\"", "section = \"oval\"", "is not in"),
        ("kind = \"measured\"", "", "\"kind\" is missing"),
        ("diameter_mm = 60", "diameter_mm = \"60\"", "is not [\"number\"]"),
        ("steel = \"42CrMo4\"", "steel = { conductivity = 3 }", "fits no variant"),
    ] {
        let text = good.replacen(old, new, 1);
        assert_ne!(text, good, "{old}");
        let found = check(&text).join("\n");
        assert!(found.contains(word), "{new}: {found}");
        assert!(Document::parse(text, "x.toml").is_err(), "{new}");
    }
}

#[test]
fn every_number_of_the_schema_says_its_unit_range_and_default() {
    let schema = schema();
    let mut units = BTreeSet::new();
    let definitions = schema["$defs"].as_object().unwrap();
    for table in [
        "Billet", "Shop", "Heater", "Point", "Die", "Stage", "Grip", "Support", "Ring", "Limit",
    ] {
        assert!(definitions.contains_key(table), "{table} is not in the schema");
    }
    // Steel files have their own ranges, checked where they are read.
    let steel = ["Steel", "Property", "Scalar"];
    for (table, definition) in definitions.iter().filter(|(name, _)| !steel.contains(&name.as_str())) {
        let Some(properties) = definition.get("properties").and_then(Value::as_object) else {
            continue;
        };
        for (key, property) in properties {
            let text = property["description"]
                .as_str()
                .unwrap_or_else(|| panic!("{table}.{key} has no description"));
            if property["type"] == "number" || property["type"] == "integer" {
                assert!(text.contains("Allowed: "), "{table}.{key}: {text}");
                assert!(property.get("maximum").is_some(), "{table}.{key} has no maximum");
                let suffix = [("_mm", "mm"), ("_c", "degC"), ("_m2k", "W/m2K"), ("_ms", "ms")];
                for (_, unit) in suffix.iter().filter(|(end, _)| key.ends_with(end)) {
                    assert!(text.contains(&format!("Unit: {unit}.")), "{table}.{key}: {text}");
                    units.insert(*unit);
                }
            }
        }
    }
    assert_eq!(units.len(), 4);
}
