//! The JSON Schema of the line file, made from the types that read it.

use serde_json::{Map, Value, json};

use super::keys::{self, Key, Without};
use super::raw::RawFile;

/// Names of the schema's definitions with the tables of [`keys`].
const TABLES: [(&str, &str); 19] = [
    ("RawScale", "scale"),
    ("RawSection", "section"),
    ("RawZone", "zone"),
    ("RawStep", "step"),
    ("RawTarget", "target"),
    ("RawBillet", "billet"),
    ("RawShop", "shop"),
    ("RawHeater", "heater"),
    ("RawPoint", "point"),
    ("RawDie", "die"),
    ("RawStage", "stage"),
    ("RawGrip", "grip"),
    ("RawSupport", "support"),
    ("RawConveyor", "conveyor"),
    ("RawPile", "pile"),
    ("RawFan", "fan"),
    ("RawRing", "ring"),
    ("RawLimit", "limit"),
    ("RawFile", "file"),
];

/// The JSON Schema (draft 2020-12) of the line file.
pub fn schema() -> Value {
    let mut schema = schemars::schema_for!(RawFile).to_value();
    if let Some(definitions) = schema.get_mut("$defs").and_then(Value::as_object_mut) {
        for (name, definition) in definitions.iter_mut() {
            let table = TABLES.iter().find(|(raw, _)| raw == name);
            if let Some((_, table)) = table {
                numbers(definition, table);
            }
        }
    }
    require(&mut schema, &["title", "billet", "heater", "stage"]);
    let tables = [
        ("RawBillet", &["steel"][..]),
        ("RawHeater", &["kind"]),
        ("RawStage", &["kind"]),
        ("RawZone", &["kind"]),
        ("RawStep", &["seconds"]),
        ("RawTarget", &["temperature_c"]),
        ("RawLimit", &["moment", "node"]),
        ("RawSection", &["name", "mass_percent", "length_mm"]),
        ("RawPoint", &["at", "temperature_c"]),
    ];
    for (name, keys) in tables {
        if let Some(definition) = schema.pointer_mut(&format!("/$defs/{name}")) {
            require(definition, keys);
        }
    }
    if let Some(Value::Object(definitions)) = schema.get_mut("$defs") {
        let named = std::mem::take(definitions).into_iter();
        definitions.extend(named.map(|(name, definition)| (public(&name).to_owned(), definition)));
    }
    tidy(&mut schema);
    schema
}

/// Name of a definition without the mark of the raw tables.
fn public(name: &str) -> &str {
    name.strip_prefix("Raw").unwrap_or(name)
}

fn require(schema: &mut Value, keys: &[&str]) {
    if let Some(object) = schema.as_object_mut() {
        object.insert("required".to_owned(), json!(keys));
    }
}

/// Writes unit, range and default of each number of a table.
fn numbers(definition: &mut Value, table: &str) {
    let Some(properties) = definition.get_mut("properties").and_then(Value::as_object_mut) else {
        return;
    };
    for (name, property) in properties.iter_mut() {
        let key = keys::every().find(|key| key.table == table && key.name == name);
        if let (Some(key), Some(property)) = (key, property.as_object_mut()) {
            number(property, key);
        }
    }
}

fn number(property: &mut Map<String, Value>, key: &Key) {
    let low = if key.allowed.low_open {
        "exclusiveMinimum"
    } else {
        "minimum"
    };
    property.insert(low.to_owned(), json!(key.allowed.low));
    property.insert("maximum".to_owned(), json!(key.allowed.high));
    let unit = if key.unit.is_empty() {
        String::new()
    } else {
        format!(" Unit: {}.", key.unit)
    };
    let without = match key.without {
        Without::Default(value, reason) => {
            property.insert("default".to_owned(), json!(value));
            format!(" Default: {value} ({reason}).")
        }
        Without::Follows(reason) => format!(" Default: {reason}."),
        Without::Required | Without::Nothing => String::new(),
    };
    let meaning = property.get("description").and_then(Value::as_str).unwrap_or("");
    let text = format!("{meaning}{unit} Allowed: {}.{without}", key.allowed);
    property.insert("description".to_owned(), json!(text));
}

/// Takes out what optional Rust fields bring but TOML does not have: null as a type or a variant.
fn tidy(value: &mut Value) {
    match value {
        Value::Object(object) => {
            if let Some(Value::Array(types)) = object.get_mut("type") {
                types.retain(|kind| kind != "null");
                if let [only] = types.as_slice() {
                    let only = only.clone();
                    object.insert("type".to_owned(), only);
                }
            }
            let alone = match object.get_mut("anyOf") {
                Some(Value::Array(variants)) => {
                    variants.retain(|variant| variant != &json!({ "type": "null" }));
                    match variants.as_slice() {
                        [only] => Some(only.clone()),
                        _ => None,
                    }
                }
                _ => None,
            };
            if let Some(Value::Object(only)) = alone {
                object.remove("anyOf");
                object.extend(only);
            }
            if let Some(Value::String(target)) = object.get_mut("$ref") {
                *target = target.replace("#/$defs/Raw", "#/$defs/");
            }
            for inner in object.values_mut() {
                tidy(inner);
            }
        }
        Value::Array(items) => items.iter_mut().for_each(tidy),
        _ => {}
    }
}
