//! A value of a table as it was given, with its place and its key.

use std::fmt;
use std::marker::PhantomData;
use std::ops::Range;

use toml::Spanned;

use super::key::Key;

/// A key of a table with its value, where the text gives one.
#[derive(Clone)]
pub(crate) struct Given<T> {
    /// What is declared of it.
    pub key: &'static Key,
    /// Value and place.
    pub at: Option<Spanned<T>>,
}

impl<T> Given<T> {
    /// Not given.
    pub const fn none(key: &'static Key) -> Given<T> {
        Given { key, at: None }
    }

    /// Value and place, where given.
    pub fn as_ref(&self) -> Option<&Spanned<T>> {
        self.at.as_ref()
    }

    /// The value, where given.
    pub fn value(&self) -> Option<&T> {
        self.at.as_ref().map(Spanned::get_ref)
    }

    /// Its place, where given.
    pub fn span(&self) -> Option<Range<usize>> {
        self.at.as_ref().map(Spanned::span)
    }

    /// Whether it is given.
    pub fn is_some(&self) -> bool {
        self.at.is_some()
    }

    /// Whether it is left out.
    pub fn is_none(&self) -> bool {
        self.at.is_none()
    }
}

impl<T> Given<Vec<Spanned<T>>> {
    /// The items of a list; none where it is not given.
    pub fn items(&self) -> &[Spanned<T>] {
        self.value().map_or(&[], Vec::as_slice)
    }
}

/// Equal when the values are; the place does not count.
impl<T: PartialEq> PartialEq for Given<T> {
    fn eq(&self, other: &Given<T>) -> bool {
        self.value() == other.value()
    }
}

impl<T: fmt::Debug> fmt::Debug for Given<T> {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        self.value().fmt(out)
    }
}

/// A type whose values stand as words in a file.
pub(crate) trait Words: Copy + PartialEq + 'static {
    /// Words with their values.
    const WORDS: &'static [(&'static str, Self)];
}

/// A word that stands for a value of a type; which words there are is the type's business.
#[derive(Clone)]
pub(crate) struct Choice<T> {
    /// The word as written.
    pub word: String,
    of: PhantomData<T>,
}

impl<T: Words> Choice<T> {
    /// A word as written.
    pub fn new(word: String) -> Choice<T> {
        Choice { word, of: PhantomData }
    }

    /// What it stands for.
    pub fn parse(&self) -> Option<T> {
        T::WORDS.iter().find(|(word, _)| *word == self.word).map(|w| w.1)
    }
}

impl<T> PartialEq for Choice<T> {
    fn eq(&self, other: &Choice<T>) -> bool {
        self.word == other.word
    }
}

impl<T> fmt::Debug for Choice<T> {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        self.word.fmt(out)
    }
}
