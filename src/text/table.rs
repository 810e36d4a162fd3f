//! Tables and their keys: declared once, read, listed and changed by it.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeValue;

use super::describe::Form;
use super::key::Key;
use super::read::Reader;

/// A table of a file. Made by [`table!`].
pub(crate) trait Table: Clone {
    /// Name in the schema.
    const NAME: &'static str;
    /// What it is, in sentences.
    const ABOUT: &'static str;

    /// The table with nothing given.
    fn blank() -> Self;

    /// Its keys in the order of their declaration.
    fn slots(&self) -> Vec<&dyn Slot>;

    /// The same, to be read or changed.
    fn slots_mut(&mut self) -> Vec<&mut dyn Slot>;
}

/// A key of a table, whatever its type.
pub(crate) trait Slot {
    /// What is declared of it.
    fn key(&self) -> &'static Key;
    /// Place of its value, where given.
    fn span(&self) -> Option<Range<usize>>;
    /// Takes a value, or tells what is wrong with it.
    fn read(&mut self, value: &Spanned<DeValue<'_>>, reader: &mut Reader);
    /// Sets the number at a path below it (empty: itself); tables that are missing are made.
    fn set(&mut self, path: &[&str], value: f64) -> Option<()>;
    /// Its type.
    fn form(&self) -> Form;
}

/// Declares a table of a file: its name in the schema, then for each key its meaning, name, type, and the rest by
/// the functions of [`super::key`].
macro_rules! table {
    (
        $(#[doc = $about:literal])+
        $vis:vis struct $Table:ident = $name:literal;
        $($(#[doc = $doc:literal])+ $field:ident: $type:ty = $key:expr;)*
    ) => {
        $(#[doc = $about])+
        #[derive(Debug, Clone, PartialEq)]
        $vis struct $Table {
            $($(#[doc = $doc])+ pub $field: $crate::text::Given<$type>,)*
        }

        impl $crate::text::Table for $Table {
            const NAME: &'static str = $name;
            const ABOUT: &'static str = concat!($($about),+);

            fn blank() -> Self {
                Self {
                    $($field: $crate::text::Given::none({
                        static KEY: $crate::text::Key = $key.named(stringify!($field), concat!($($doc),+));
                        &KEY
                    }),)*
                }
            }

            fn slots(&self) -> Vec<&dyn $crate::text::Slot> {
                vec![$(&self.$field),*]
            }

            fn slots_mut(&mut self) -> Vec<&mut dyn $crate::text::Slot> {
                vec![$(&mut self.$field),*]
            }
        }

        impl Default for $Table {
            fn default() -> Self {
                <Self as $crate::text::Table>::blank()
            }
        }
    };
}
pub(crate) use table;
