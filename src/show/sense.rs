//! Which way a limit binds.

use super::view::Side;

/// Which way a limit binds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sense {
    /// At least the value.
    AtLeast,
    /// At most the value.
    AtMost,
}

impl Sense {
    /// The sign before the value.
    pub fn sign(self) -> &'static str {
        match self {
            Sense::AtLeast => "\u{2265}",
            Sense::AtMost => "\u{2264}",
        }
    }

    /// The side to which the limit itself is rounded: a minimum up, a maximum down.
    pub fn side(self) -> Side {
        match self {
            Sense::AtLeast => Side::Up,
            Sense::AtMost => Side::Down,
        }
    }
}
