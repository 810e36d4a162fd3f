//! The JSON Schema and the reference of keys of the line file, made from the declarations that read it.

use serde_json::Value;

use super::tables::RawFile;
use crate::text;

/// The JSON Schema (draft 2020-12) of the line file.
pub fn schema() -> Value {
    text::schema::schema::<RawFile>("billet line file")
}

/// The reference of all keys of the line file, in Markdown.
pub fn key_reference() -> String {
    text::reference::reference::<RawFile>("Keys of the line file")
}
