//! Values that may be written in two ways, read without losing their place.
//!
//! Serde's untagged enums buffer their input and so lose positions; a visitor does not.

use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::value::{MapAccessDeserializer, SeqAccessDeserializer};
use serde::de::{Deserialize, Deserializer, MapAccess, SeqAccess, Visitor};

use crate::steel::SteelInput;

/// A metal: by name or path, or written out as a table.
#[derive(Debug, Clone)]
pub(crate) enum SteelRef {
    /// A grade of the library, or a path ending in `.toml`.
    Named(String),
    /// The table of a steel file, inline.
    Inline(Box<SteelInput>),
}

impl<'de> Deserialize<'de> for SteelRef {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl<'de> Visitor<'de> for Either {
            type Value = SteelRef;

            fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
                out.write_str("a grade name, the path of a steel file, or a table of properties")
            }

            fn visit_str<E: serde::de::Error>(self, name: &str) -> Result<SteelRef, E> {
                Ok(SteelRef::Named(name.to_owned()))
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<SteelRef, A::Error> {
                let input = SteelInput::deserialize(MapAccessDeserializer::new(map))?;
                Ok(SteelRef::Inline(Box::new(input)))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

impl JsonSchema for SteelRef {
    fn schema_name() -> Cow<'static, str> {
        "Steel".into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let table = generator.subschema_for::<SteelInput>();
        json_schema!({ "anyOf": [{ "type": "string" }, table] })
    }
}

/// One value, or a list of them.
#[derive(Debug, Clone)]
pub(crate) struct OneOrMany<T> {
    /// The values.
    pub items: Vec<T>,
    /// Whether they stood in a list.
    pub many: bool,
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for OneOrMany<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Either<T> {
            type Value = OneOrMany<T>;

            fn expecting(&self, out: &mut fmt::Formatter) -> fmt::Result {
                out.write_str("a table, or a list of tables")
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<OneOrMany<T>, A::Error> {
                let item = T::deserialize(MapAccessDeserializer::new(map))?;
                Ok(OneOrMany {
                    items: vec![item],
                    many: false,
                })
            }

            fn visit_seq<A: SeqAccess<'de>>(self, seq: A) -> Result<OneOrMany<T>, A::Error> {
                let items = Vec::deserialize(SeqAccessDeserializer::new(seq))?;
                Ok(OneOrMany { items, many: true })
            }
        }
        deserializer.deserialize_any(Either(PhantomData))
    }
}

impl<T: JsonSchema> JsonSchema for OneOrMany<T> {
    fn schema_name() -> Cow<'static, str> {
        format!("{}_or_list", T::schema_name()).into()
    }

    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let one = generator.subschema_for::<T>();
        let many = generator.subschema_for::<Vec<T>>();
        json_schema!({ "anyOf": [one, many] })
    }
}
