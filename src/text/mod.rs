//! Texts that people write for the program, and all that can be wrong with them.
//!
//! One grammar reads every TOML file: a table is declared once with [`table!`], key by key, and from that come the
//! typed values with their places, unknown and misplaced keys, the JSON Schema, the reference of keys, and changing a
//! number by its path. Problems of all files are told in one form, with place, range and near word.

#[cfg(feature = "command")]
mod clean;
mod describe;
mod follow_on;
mod found;
mod given;
mod key;
#[cfg(feature = "command")]
pub mod number;
mod parse;
mod problem;
mod read;
pub(crate) mod reference;
pub(crate) mod schema;
mod source;
mod table;
mod value;
mod words;

#[cfg(feature = "command")]
pub(crate) use clean::{clean, file_word};
pub(crate) use describe::Form;
pub(crate) use follow_on::together;
pub(crate) use found::{Found, is_unfit, keys_of};
pub(crate) use given::{Choice, Given, Words};
pub use key::Allowed;
pub(crate) use key::{Key, Usual, Without, above, any, flag, number, text, whole};
pub(crate) use parse::parse;
pub use problem::{FileError, Problem, ProblemKind, Problems, SIZE_LIMIT};
pub(crate) use read::Reader;
pub(crate) use source::{Source, from_bytes, load, load_bytes, load_data, load_results};
pub(crate) use table::{Slot, Table, table};
pub(crate) use value::{OneOrMany, Value, read_into};
pub(crate) use words::nearest;

#[cfg(test)]
mod tests;
