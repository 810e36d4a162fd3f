//! What is declared of tables, for the schema and the reference.

use super::key::Key;

/// The type of a value.
pub(crate) enum Form {
    /// A number.
    Number,
    /// A whole number.
    Whole,
    /// A text.
    Text,
    /// One of some words.
    Word(Vec<&'static str>),
    /// True or false.
    Flag,
    /// A list.
    List(Box<Form>),
    /// A table.
    Table(fn() -> Described),
    /// Either of some types.
    OneOf(Vec<Form>),
}

/// A table with its keys.
pub(crate) struct Described {
    /// Name in the schema.
    pub name: &'static str,
    /// What it is.
    pub about: &'static str,
    /// Its keys with their types.
    pub keys: Vec<(&'static Key, Form)>,
}
