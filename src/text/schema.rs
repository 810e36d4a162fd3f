//! The JSON Schema (draft 2020-12) of a file, made from the declarations of its tables.

use serde_json::{Map, Value, json};

use super::describe::{Described, Form};
use super::key::{Key, Without};
use super::table::Table;
use super::value::described;

/// The schema of a file whose top table is `T`.
pub(crate) fn schema<T: Table>(title: &str) -> Value {
    let mut definitions = Map::new();
    let top = described::<T>();
    let mut schema = object(&top, &mut definitions);
    if let Some(fields) = schema.as_object_mut() {
        fields.insert(
            "$schema".to_owned(),
            json!("https://json-schema.org/draft/2020-12/schema"),
        );
        fields.insert("title".to_owned(), json!(title));
        fields.insert("$defs".to_owned(), Value::Object(definitions));
    }
    schema
}

/// A table; those inside it become definitions.
fn object(table: &Described, definitions: &mut Map<String, Value>) -> Value {
    let mut properties = Map::new();
    let mut required: Vec<&str> = Vec::new();
    for (key, form) in &table.keys {
        if key.without == Without::Required && key.kinds.is_empty() {
            required.push(key.name);
        }
        properties.insert(key.name.to_owned(), property(key, form, definitions));
    }
    let mut object = json!({
        "description": sentences(table.about),
        "type": "object",
        "properties": properties,
        "additionalProperties": false,
    });
    if !required.is_empty() {
        object["required"] = json!(required);
    }
    object
}

fn property(key: &Key, form: &Form, definitions: &mut Map<String, Value>) -> Value {
    let mut property = value(key, form, definitions);
    let Some(fields) = property.as_object_mut() else {
        return property;
    };
    fields.insert("description".to_owned(), json!(meaning(key, form)));
    if let (Form::Number | Form::Whole, Without::Default(value, _)) = (form, key.without) {
        fields.insert("default".to_owned(), json!(value));
    }
    property
}

fn value(key: &Key, form: &Form, definitions: &mut Map<String, Value>) -> Value {
    match form {
        Form::Number => numeric(key, "number"),
        Form::Whole => numeric(key, "integer"),
        Form::Flag => json!({ "type": "boolean" }),
        Form::Text if !key.words.is_empty() => json!({ "type": "string", "enum": key.words }),
        Form::Text if key.allowed.high.is_finite() => {
            json!({ "type": "string", "minLength": 1, "maxLength": key.allowed.high as u64 })
        }
        Form::Text => json!({ "type": "string" }),
        Form::Word(words) => json!({ "type": "string", "enum": words }),
        Form::List(inner) => json!({ "type": "array", "items": value(key, inner, definitions) }),
        Form::OneOf(forms) => {
            let variants: Vec<Value> = forms.iter().map(|form| value(key, form, definitions)).collect();
            json!({ "anyOf": variants })
        }
        Form::Table(described) => {
            let table = described();
            if !definitions.contains_key(table.name) {
                // A table may stand inside itself, so its name is taken first.
                definitions.insert(table.name.to_owned(), Value::Null);
                let made = object(&table, definitions);
                definitions.insert(table.name.to_owned(), made);
            }
            json!({ "$ref": format!("#/$defs/{}", table.name) })
        }
    }
}

fn numeric(key: &Key, kind: &str) -> Value {
    let mut number = json!({ "type": kind });
    if key.allowed.low.is_finite() {
        let low = if key.allowed.low_open {
            "exclusiveMinimum"
        } else {
            "minimum"
        };
        number[low] = json!(key.allowed.low);
    }
    if key.allowed.high.is_finite() {
        number["maximum"] = json!(key.allowed.high);
    }
    number
}

/// Meaning, unit, range, default and kinds of a key, in sentences.
pub(super) fn meaning(key: &Key, form: &Form) -> String {
    let mut text = sentences(key.doc);
    let numeric = match form {
        Form::Number | Form::Whole => true,
        Form::List(inner) => matches!(**inner, Form::Number),
        _ => false,
    };
    if !key.unit.is_empty() {
        text.push_str(&format!(" Unit: {}.", key.unit));
    }
    if numeric && key.allowed.high.is_finite() {
        text.push_str(&format!(" Allowed: {}.", key.allowed));
    }
    if let Some(usual) = key.usual {
        text.push_str(&format!(" Usual: {} to {} ({}).", usual.low, usual.high, usual.of));
    }
    match key.without {
        Without::Default(value, reason) => text.push_str(&format!(" Default: {value} ({reason}).")),
        Without::Follows(reason) => text.push_str(&format!(" Default: {reason}.")),
        Without::ByKind(list) => {
            for (kind, value, reason) in list {
                text.push_str(&format!(" Default for {kind}: {value} ({reason})."));
            }
        }
        Without::Required | Without::Nothing => {}
    }
    if !key.kinds.is_empty() {
        text.push_str(&format!(" Only for {}.", key.kinds.join(", ")));
    }
    text
}

/// Lines of a comment as one text.
pub(super) fn sentences(doc: &str) -> String {
    doc.trim().to_owned()
}
