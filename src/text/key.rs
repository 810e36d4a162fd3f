//! What is declared of a key: name, unit, range, default, kinds, meaning.

use std::fmt;

/// The range a number must be in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Allowed {
    /// Lower bound.
    pub low: f64,
    /// Upper bound.
    pub high: f64,
    /// Whether the lower bound itself is refused.
    pub low_open: bool,
}

impl Allowed {
    /// Whether `value` is inside; a value that is not a number never is.
    pub fn contains(&self, value: f64) -> bool {
        let low = if self.low_open {
            value > self.low
        } else {
            value >= self.low
        };
        low && value <= self.high
    }
}

impl fmt::Display for Allowed {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        if self.low_open {
            write!(out, "above {} to {}", self.low, self.high)
        } else {
            write!(out, "{} to {}", self.low, self.high)
        }
    }
}

/// What happens when a key is not given.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Without {
    /// It must be given (where its kind calls for it).
    Required,
    /// It is left out.
    Nothing,
    /// This number, for this reason.
    Default(f64, &'static str),
    /// This number for this reason, by kind of the table.
    ByKind(&'static [(&'static str, f64, &'static str)]),
    /// It follows from others, as said.
    Follows(&'static str),
}

/// A range outside of which a number is taken with a warning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Usual {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
    /// What the range is: `the published spread`, say.
    pub of: &'static str,
    /// Code of the warning.
    pub code: &'static str,
}

/// A key of a table: all that is known of it but its type.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Key {
    /// Name with its unit suffix.
    pub name: &'static str,
    /// Meaning, in sentences.
    pub doc: &'static str,
    /// Unit; empty for a plain number and for what is none.
    pub unit: &'static str,
    /// Range of a number; length of a text.
    pub allowed: Allowed,
    /// Range outside of which a number is warned of.
    pub usual: Option<Usual>,
    /// Words that a text may be; empty where any will do or where its type says them.
    pub words: &'static [&'static str],
    /// Kinds of the table that have the key; empty where all do.
    pub kinds: &'static [&'static str],
    /// What stands in for it.
    pub without: Without,
}

const ANY: Allowed = Allowed {
    low: f64::NEG_INFINITY,
    high: f64::INFINITY,
    low_open: false,
};

/// A key that may be left out: a table, a list, a word.
pub(crate) const fn any() -> Key {
    Key {
        name: "",
        doc: "",
        unit: "",
        allowed: ANY,
        usual: None,
        words: &[],
        kinds: &[],
        without: Without::Nothing,
    }
}

/// A number from `low` to `high`, both allowed.
pub(crate) const fn number(unit: &'static str, (low, high): (f64, f64)) -> Key {
    Key {
        unit,
        allowed: Allowed {
            low,
            high,
            low_open: false,
        },
        ..any()
    }
}

/// A number above `low` up to `high`: the lower bound itself is refused.
pub(crate) const fn above(unit: &'static str, (low, high): (f64, f64)) -> Key {
    Key {
        unit,
        allowed: Allowed {
            low,
            high,
            low_open: true,
        },
        ..any()
    }
}

/// A whole number.
pub(crate) const fn whole(range: (f64, f64)) -> Key {
    number("", range)
}

/// A text of 1 to `most` characters.
pub(crate) const fn text(most: f64) -> Key {
    number("", (1.0, most))
}

/// True or false.
pub(crate) const fn flag() -> Key {
    any()
}

impl Key {
    /// Name and meaning; the name that was set before stays.
    pub const fn named(self, name: &'static str, doc: &'static str) -> Key {
        let name = if self.name.is_empty() { name } else { self.name };
        Key { name, doc, ..self }
    }

    /// A name that is no word of the language.
    pub const fn called(self, name: &'static str) -> Key {
        Key { name, ..self }
    }

    /// Must be given.
    pub const fn required(self) -> Key {
        Key {
            without: Without::Required,
            ..self
        }
    }

    /// The default and its reason.
    pub const fn or(self, value: f64, reason: &'static str) -> Key {
        Key {
            without: Without::Default(value, reason),
            ..self
        }
    }

    /// Defaults by kind of the table.
    pub const fn or_by_kind(self, defaults: &'static [(&'static str, f64, &'static str)]) -> Key {
        Key {
            without: Without::ByKind(defaults),
            ..self
        }
    }

    /// What it follows from where it is not given.
    pub const fn follows(self, from: &'static str) -> Key {
        Key {
            without: Without::Follows(from),
            ..self
        }
    }

    /// The kinds of the table that have it.
    pub const fn of(self, kinds: &'static [&'static str]) -> Key {
        Key { kinds, ..self }
    }

    /// The words that it may be.
    pub const fn words(self, words: &'static [&'static str]) -> Key {
        Key { words, ..self }
    }

    /// The range outside of which it is warned of.
    pub const fn usual(self, range: Usual) -> Key {
        Key {
            usual: Some(range),
            ..self
        }
    }

    /// Whether a kind of the table has it.
    pub fn is_of(&self, kind: &str) -> bool {
        self.kinds.is_empty() || self.kinds.contains(&kind)
    }

    /// Its default for a kind of the table, with the reason.
    pub fn default_for(&self, kind: &str) -> Option<(f64, &'static str)> {
        match self.without {
            Without::Default(value, reason) => Some((value, reason)),
            Without::ByKind(list) => list.iter().find(|d| d.0 == kind).map(|d| (d.1, d.2)),
            _ => None,
        }
    }
}
