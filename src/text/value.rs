//! The types that a value of a file may have.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::describe::{Described, Form};
use super::given::{Choice, Given, Words};
use super::key::Key;
use super::read::Reader;
use super::table::{Slot, Table};

/// A type that a key may have.
pub(crate) trait Value: Sized {
    /// Takes a value; tells what is wrong with one that is none of this type.
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<Self>;

    /// What is set where nothing was given: zero, or a table with nothing in it. Lists are not made.
    fn made() -> Option<Self> {
        None
    }

    /// Sets the number at a path below it.
    fn set(&mut self, _path: &[&str], _value: f64) -> Option<()> {
        None
    }

    /// The type in words of the schema.
    fn form() -> Form;
}

impl Value for f64 {
    fn read(value: &Spanned<DeValue<'_>>, _: &'static Key, reader: &mut Reader) -> Option<f64> {
        let read = match value.get_ref() {
            DeValue::Float(float) => float.as_str().parse().ok(),
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix())
                .ok()
                .map(|whole| whole as f64),
            _ => None,
        };
        reader.or_wrong(read, value, "a number")
    }

    fn made() -> Option<f64> {
        Some(0.0)
    }

    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        path.is_empty().then(|| *self = value)
    }

    fn form() -> Form {
        Form::Number
    }
}

impl Value for i64 {
    fn read(value: &Spanned<DeValue<'_>>, _: &'static Key, reader: &mut Reader) -> Option<i64> {
        let read = match value.get_ref() {
            DeValue::Integer(integer) => i64::from_str_radix(integer.as_str(), integer.radix()).ok(),
            _ => None,
        };
        reader.or_wrong(read, value, "a whole number")
    }

    fn made() -> Option<i64> {
        Some(0)
    }

    /// Whole numbers only; the range is checked with all others.
    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        (path.is_empty() && value.fract() == 0.0 && value.abs() < 1e9).then(|| *self = value as i64)
    }

    fn form() -> Form {
        Form::Whole
    }
}

impl Value for bool {
    fn read(value: &Spanned<DeValue<'_>>, _: &'static Key, reader: &mut Reader) -> Option<bool> {
        let read = value.get_ref().as_bool();
        reader.or_wrong(read, value, "true or false")
    }

    fn form() -> Form {
        Form::Flag
    }
}

impl Value for String {
    fn read(value: &Spanned<DeValue<'_>>, _: &'static Key, reader: &mut Reader) -> Option<String> {
        let read = value.get_ref().as_str().map(str::to_owned);
        reader.or_wrong(read, value, "a text in quotes")
    }

    fn form() -> Form {
        Form::Text
    }
}

impl<T: Words> Value for Choice<T> {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<Choice<T>> {
        String::read(value, key, reader).map(Choice::new)
    }

    fn form() -> Form {
        Form::Word(T::WORDS.iter().map(|(word, _)| *word).collect())
    }
}

impl<T: Value> Value for Vec<Spanned<T>> {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<Self> {
        let DeValue::Array(items) = value.get_ref() else {
            let table = matches!(T::form(), Form::Table(_));
            return reader.wrong_brackets(value, key, "a list", table.then_some(false));
        };
        // An item that was refused is told; the others are judged by themselves.
        let read = items.iter().filter_map(|item| {
            let read = T::read(item, key, reader);
            if read.is_none() {
                reader.touched.push(0..0);
            }
            Some(Spanned::new(item.span(), read?))
        });
        Some(read.collect())
    }

    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        let (number, rest) = path.split_first()?;
        let index = number.parse::<usize>().ok()?.checked_sub(1)?;
        self.get_mut(index)?.get_mut().set(rest, value)
    }

    fn form() -> Form {
        Form::List(Box::new(T::form()))
    }
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

impl<T: Table> Value for T {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<T> {
        match value.get_ref() {
            DeValue::Table(entries) => Some(reader.inside(|inner| read_into(entries, value.span(), inner))),
            _ => reader.wrong_brackets(value, key, "a table", Some(true)),
        }
    }

    fn made() -> Option<T> {
        Some(T::blank())
    }

    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        set_in(self, path, value)
    }

    fn form() -> Form {
        Form::Table(described::<T>)
    }
}

/// One value, or a list of them.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct OneOrMany<T> {
    /// The values.
    pub items: Vec<T>,
    /// Whether they stood in a list.
    pub many: bool,
}

impl<T: Value> Value for OneOrMany<T> {
    fn read(value: &Spanned<DeValue<'_>>, key: &'static Key, reader: &mut Reader) -> Option<Self> {
        match value.get_ref() {
            DeValue::Table(_) => T::read(value, key, reader).map(|item| OneOrMany {
                items: vec![item],
                many: false,
            }),
            DeValue::Array(_) => Vec::<Spanned<T>>::read(value, key, reader).map(|list| OneOrMany {
                items: list.into_iter().map(Spanned::into_inner).collect(),
                many: true,
            }),
            _ => reader.or_wrong(None, value, "a table, or a list of tables"),
        }
    }

    fn set(&mut self, path: &[&str], value: f64) -> Option<()> {
        if !self.many {
            return self.items.first_mut()?.set(path, value);
        }
        let (number, rest) = path.split_first()?;
        let index = number.parse::<usize>().ok()?.checked_sub(1)?;
        self.items.get_mut(index)?.set(rest, value)
    }

    fn form() -> Form {
        Form::OneOf(vec![T::form(), Form::List(Box::new(T::form()))])
    }
}
