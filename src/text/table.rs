//! Tables and their keys: declared once, read, listed and changed by it.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::describe::{Described, Form};
use super::given::Given;
use super::key::Key;
use super::read::Reader;
use super::value::Value;

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

impl<T: Value> Slot for Given<T> {
    fn key(&self) -> &'static Key {
        self.key
    }

    fn span(&self) -> Option<Range<usize>> {
        Given::span(self)
    }

    fn read(&mut self, value: &Spanned<DeValue<'_>>, reader: &mut Reader) {
        self.at = T::read(value, self.key, reader).map(|read| Spanned::new(value.span(), read));
    }

    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        match &mut self.at {
            Some(old) => old.get_mut().set(path, value),
            None => {
                let mut new = T::made()?;
                new.set(path, value)?;
                self.at = Some(Spanned::new(0..0, new));
                Some(())
            }
        }
    }

    fn form(&self) -> Form {
        T::form()
    }
}

/// Reads the entries of a table into its keys; `here` is the place of the table. A key that is refused is left out.
pub(crate) fn read_into<T: Table>(entries: &DeTable<'_>, here: Range<usize>, reader: &mut Reader) -> T {
    let mut table = T::blank();
    let mut slots = table.slots_mut();
    // By place, so that what is told is told in the order of the text.
    let mut entries: Vec<_> = entries.iter().collect();
    entries.sort_by_key(|(key, _)| key.span().start);
    for (key, value) in entries {
        let before = reader.refused.len();
        match slots.iter_mut().find(|slot| slot.key().name == key.get_ref()) {
            Some(slot) => {
                slot.read(value, reader);
                if slot.span().is_some() {
                    continue;
                }
            }
            None => {
                let allowed = slots.iter().map(|slot| slot.key().name);
                reader.unknown_key(key.get_ref(), key.span(), allowed);
            }
        }
        if reader.refused.len() > before || reader.is_full() {
            reader.touched.push(here.clone());
        }
    }
    table
}

/// Sets the number at a path in a table.
pub(crate) fn set_in<T: Table>(table: &mut T, path: &[&str], value: f64) -> Option<()> {
    let (first, rest) = path.split_first()?;
    let mut slots = table.slots_mut();
    slots
        .iter_mut()
        .find(|slot| slot.key().name == *first)?
        .set(rest, value)
}

/// What is declared of a table.
pub(crate) fn described<T: Table>() -> Described {
    let blank = T::blank();
    Described {
        name: T::NAME,
        about: T::ABOUT,
        keys: blank.slots().iter().map(|slot| (slot.key(), slot.form())).collect(),
    }
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
